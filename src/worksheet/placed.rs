//! Where the magnets of a traced sheet lie: the student put them on plain paper, so that each page has its own places.

use super::{Kind, Panel, Source};
use crate::geometry::{Point, Rect};
use serde::{Deserialize, Serialize};

/// How a worksheet's sources come onto the paper.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Placement {
    /// Printed on the sheet, with a code in the corner.
    #[default]
    Printed,
    /// Laid on plain paper by the student, who drew round them.
    Traced,
}

/// Where the sources of one traced page were found. Millimetres on the page, degrees anticlockwise as seen.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Placed {
    /// Left, top, width, height: the paper.
    pub frame_mm: [f64; 4],
    /// In the worksheet's order.
    pub sources: Vec<PlacedSource>,
}

/// Where one source was found.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlacedSource {
    pub id: String,
    pub centre_mm: [f64; 2],
    pub north_deg: f64,
    /// A horseshoe's N limb: `left` or `right`, as one looks out of its open side.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub north_limb: Option<String>,
    /// How far the drawn outline lies off the magnet's, root mean square, mm.
    pub residual_mm: f64,
    /// Share of the outline along which a stroke was found, 0 to 1.
    pub outline_seen: f64,
    /// `read`: which pole lies where was read off the letters; `guessed`: it was taken from worksheet.yaml.
    pub poles: String,
}

impl Panel {
    /// The panel as it stands on a page: the sources of the same ids moved and turned, the paper as the frame.
    pub fn placed(&self, placed: &Placed) -> Panel {
        let [left, top, width, height] = placed.frame_mm;
        let moved = |source: &Source| match placed.sources.iter().find(|p| p.id == source.id) {
            Some(place) => source.placed(place),
            None => source.clone(),
        };
        Panel {
            frame: Rect::new(left, top, left + width, top + height),
            sources: self.sources.iter().map(moved).collect(),
            ..self.clone()
        }
    }
}

impl Source {
    fn placed(&self, place: &PlacedSource) -> Source {
        let [x, y] = place.centre_mm;
        let mut moved = Source { centre: Point::new(x, y), north_deg: place.north_deg, ..self.clone() };
        if let (Kind::Horseshoe { north_left, .. }, Some(limb)) = (&mut moved.kind, &place.north_limb) {
            *north_left = limb == "left";
        }
        moved
    }
}

impl Kind {
    /// Whether it can be laid on paper and drawn round: a magnet with an outline of its own.
    pub fn is_traceable(&self) -> bool {
        matches!(
            self,
            Kind::Bar { .. }
                | Kind::Rod { .. }
                | Kind::Disc { .. }
                | Kind::DiscThrough { .. }
                | Kind::Horseshoe { .. }
        )
    }
}

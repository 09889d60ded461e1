//! The views of a computed field, each alone or over one another: lines, filings, compass needles, shades of strength,
//! neutral points and the lines through them.
//!
//! [`layers`] works out what is asked for, [`picture`] draws it.

mod contours;
mod draw;
mod filings;
mod lattice;
mod needles;
mod palette;
mod scale;
mod strength;
mod words;

pub use draw::picture;
pub use filings::Grains;
pub use needles::Needle;
pub use strength::{Label, Region};

use super::answer::Answer;
use super::lettering::bounds;
use super::poles;
use crate::geometry::Point;
use crate::worksheet::{End, Panel, PanelField, Worksheet};
use std::collections::BTreeSet;

/// A way to show a field.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum View {
    Lines,
    Neutral,
    Separatrices,
    Filings,
    Needles,
    Strength,
}

impl View {
    /// All, as a person chooses among them.
    pub const ALL: [View; 6] =
        [View::Lines, View::Neutral, View::Separatrices, View::Filings, View::Needles, View::Strength];
    /// What is shown where nothing is asked for.
    pub const USUAL: [View; 2] = [View::Lines, View::Neutral];

    /// Its name as an option.
    pub fn name(self) -> &'static str {
        match self {
            View::Lines => "lines",
            View::Neutral => "neutral",
            View::Separatrices => "separatrices",
            View::Filings => "filings",
            View::Needles => "needles",
            View::Strength => "strength",
        }
    }
}

/// What is asked for.
#[derive(Clone, Debug)]
pub struct Wish {
    pub views: BTreeSet<View>,
    /// How the filings lie.
    pub seed: u64,
    /// Dots an inch of the filings; of a PNG's too, so that dots fall on dots.
    pub dpi: f64,
}

/// What is drawn of a panel, worked out.
#[derive(Clone, Debug, Default)]
pub struct Layers {
    pub answer: Answer,
    /// The lines through neutral points.
    pub separatrices: Vec<Vec<Point>>,
    pub filings: Option<Grains>,
    pub needles: Vec<Needle>,
    /// The regions at least as strong as each level of the sheet, and the numbers on their borders. Where strength is
    /// shown and the field is even, there is no region.
    pub strength: Option<(Vec<Region>, Vec<Label>)>,
}

/// Why a view cannot be shown of a sheet: what is wrong, and what to do.
pub fn refused(worksheet: &Worksheet, views: &BTreeSet<View>) -> Option<(String, &'static str)> {
    let electric: Vec<&str> =
        worksheet.panels.iter().filter(|p| p.is_electric()).map(|p| p.id.as_str()).collect();
    (views.contains(&View::Needles) && !electric.is_empty()).then(|| {
        let of = if electric.len() == 1 { "panel" } else { "panels" };
        (
            format!("needles: no compass needle follows the electric field of {of} {}", electric.join(", ")),
            "leave needles out; filings show an electric field too, as semolina in oil does",
        )
    })
}

/// The layers of every panel. `lines` are the computed lines of each panel, left out where they are not asked for.
pub fn layers(
    worksheet: &Worksheet,
    fields: &[PanelField],
    lines: Vec<Vec<Vec<Point>>>,
    wish: &Wish,
) -> Vec<Layers> {
    let shows = |view: View| wish.views.contains(&view);
    let origin = draw::origin(worksheet);
    let mut all: Vec<Layers> = fields
        .iter()
        .zip(lines)
        .map(|(field, lines)| Layers {
            answer: Answer {
                lines: if shows(View::Lines) { lines } else { Vec::new() },
                neutral: if shows(View::Neutral) { field.neutral_points().to_vec() } else { Vec::new() },
            },
            separatrices: if shows(View::Separatrices) { separatrices(field) } else { Vec::new() },
            filings: shows(View::Filings).then(|| filings::grains(field, origin, wish.dpi, wish.seed)),
            needles: if shows(View::Needles) { needles::needles(field) } else { Vec::new() },
            strength: None,
        })
        .collect();
    if shows(View::Strength) {
        for electric in [false, true] {
            shade(&worksheet.panels, fields, electric, &mut all);
        }
    }
    all
}

/// Those that run into a neutral point from another, or back into their own, are found from both ends: one is left out.
fn separatrices(field: &PanelField) -> Vec<Vec<Point>> {
    let all = field.separatrices(field.neutral_points()).into_iter();
    all.filter(|s| s.outwards || !matches!(s.trace.end, End::Neutral | End::Closed))
        .map(|s| s.trace.points)
        .collect()
}

/// Works out the strength of the panels of one unit.
fn shade(panels: &[Panel], fields: &[PanelField], electric: bool, all: &mut [Layers]) {
    let chosen: Vec<usize> = (0..panels.len()).filter(|n| panels[*n].is_electric() == electric).collect();
    let strengths: Vec<_> = chosen.iter().map(|n| strength::Strength::of(&fields[*n])).collect();
    let levels = strength::levels(&strengths.iter().collect::<Vec<_>>());
    for (n, of) in chosen.into_iter().zip(&strengths) {
        let regions = of.regions(&levels);
        let beside = panels[n].sources.iter().filter(|source| poles::stand_beside(source));
        let letters: Vec<Point> = beside
            .flat_map(poles::letters)
            .filter_map(|letter| bounds(&letter))
            .map(|b| b.center())
            .collect();
        let labels = strength::labels(&fields[n], &letters, &regions, &all[n].answer.lines, &all[n].needles);
        all[n].strength = Some((regions, labels));
    }
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crate::geometry::Rect;
    use crate::worksheet::{Kind, Placement, Source};

    pub(crate) fn panel(sources: Vec<Source>) -> Panel {
        let frame = Rect::new(20., 45., 277., 185.);
        Panel { id: "A".into(), prompt: String::new(), frame, plane_mm: 0.0, sources, earth: None }
    }

    fn source(kind: Kind, x: f64, y: f64, north_deg: f64) -> Source {
        Source { id: format!("s{x}"), kind, centre: Point::new(x, y), north_deg }
    }

    pub(crate) fn bar(x: f64, y: f64, north_deg: f64) -> Source {
        let kind = Kind::Bar { length: 50., width: 15., thickness: 10., remanence_mt: 400., pole_inset: 0.0 };
        source(kind, x, y, north_deg)
    }

    pub(crate) fn wire(x: f64, y: f64) -> Source {
        source(Kind::Wire { current_a: 5.0, out: true }, x, y, 0.0)
    }

    pub(crate) fn coil(x: f64, y: f64) -> Source {
        source(Kind::Coil { length: 80., diameter: 30., turns: 200., current_a: 1. }, x, y, 0.0)
    }

    pub(crate) fn charge(x: f64, charge_nc: f64) -> Source {
        source(Kind::Charge { charge_nc }, x, 115., 0.0)
    }

    pub(crate) fn sheet(panels: Vec<Panel>) -> Worksheet {
        Worksheet {
            id: "sheet".into(),
            title: "A sheet".into(),
            page_mm: (297., 210.),
            placement: Placement::Printed,
            panels,
        }
    }

    /// Everything of a sheet that can be shown.
    pub(crate) fn everything(worksheet: &Worksheet, views: &[View]) -> Vec<Layers> {
        let fields: Vec<PanelField> = worksheet.panels.iter().map(Panel::field).collect();
        let wish = Wish { views: views.iter().copied().collect(), seed: 1, dpi: 100.0 };
        let lines =
            worksheet.panels.iter().map(|_| vec![vec![Point::new(30., 60.), Point::new(90., 60.)]]).collect();
        layers(worksheet, &fields, lines, &wish)
    }

    #[test]
    fn only_what_is_asked_for_is_worked_out() {
        let worksheet = sheet(vec![panel(vec![bar(88.5, 115., 0.), bar(208.5, 115., 180.)])]);
        for view in View::ALL {
            let [layers] = everything(&worksheet, &[view]).try_into().unwrap();
            assert_eq!(!layers.answer.lines.is_empty(), view == View::Lines);
            assert_eq!(!layers.answer.neutral.is_empty(), view == View::Neutral);
            assert_eq!(layers.separatrices.len(), if view == View::Separatrices { 4 } else { 0 });
            assert_eq!(layers.filings.is_some(), view == View::Filings);
            assert_eq!(!layers.needles.is_empty(), view == View::Needles);
            assert_eq!(layers.strength.is_some(), view == View::Strength);
        }
    }

    /// Two wires alike: the figure of eight through the point between them, each of its loops once.
    #[test]
    fn a_separatrix_that_comes_back_is_drawn_once() {
        let worksheet = sheet(vec![panel(vec![wire(115., 115.), wire(182., 115.)])]);
        let [layers] = everything(&worksheet, &[View::Separatrices]).try_into().unwrap();
        assert_eq!(layers.separatrices.len(), 2);
    }

    #[test]
    fn no_compass_is_shown_in_an_electric_field() {
        let worksheet = sheet(vec![panel(vec![charge(100., 5.), charge(200., -5.)])]);
        let (what, fix) = refused(&worksheet, &BTreeSet::from([View::Needles])).unwrap();
        assert!(what.contains("panel A") && fix.contains("leave needles out"));
        assert_eq!(refused(&worksheet, &BTreeSet::from([View::Filings, View::Strength])), None);
        let magnets = sheet(vec![panel(vec![bar(100., 115., 0.)])]);
        assert_eq!(refused(&magnets, &View::ALL.into_iter().collect()), None);
    }

    /// Panels of one unit share their scale, those of the other have their own.
    #[test]
    fn panels_of_one_unit_share_their_levels() {
        let mut worksheet = sheet(vec![
            panel(vec![bar(100., 115., 0.)]),
            panel(vec![charge(100., 5.)]),
            panel(vec![wire(150., 115.)]),
        ]);
        worksheet.panels[1].id = "B".into();
        let all = everything(&worksheet, &[View::Strength]);
        let levels =
            |n: usize| -> Vec<f64> { all[n].strength.as_ref().unwrap().0.iter().map(|r| r.level).collect() };
        assert_eq!(levels(0), levels(2));
        assert_ne!(levels(0), levels(1));
    }
}

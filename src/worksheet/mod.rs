//! worksheet.yaml, checked: the printed page's panels and their sources.
//!
//! Millimetres on the page, degrees anticlockwise as seen (0 = to the right).

mod check;
mod earth;
mod kinds;
mod parse;

pub use check::FRAME_SIDE_MM;

pub mod answer;
pub mod bodies;
pub mod density;
pub mod outline;
pub mod placed;
mod ring;
mod starts;
pub mod trace;
mod wires;

use crate::geometry::{Point, Rect, Vec2};

pub use bodies::PanelField;
pub use outline::Outline;
pub use placed::{Placed, PlacedSource, Placement};
pub use trace::{End, Trace};

/// A checked worksheet.
#[derive(Clone, Debug)]
pub struct Worksheet {
    pub id: String,
    pub title: String,
    /// Width and height of the page as printed (orientation applied), mm.
    pub page_mm: (f64, f64),
    pub placement: Placement,
    pub panels: Vec<Panel>,
}

/// One frame to draw in.
#[derive(Clone, Debug)]
pub struct Panel {
    pub id: String,
    pub prompt: String,
    pub frame: Rect,
    /// Height of the paper above the sources' mid-plane, mm.
    pub plane_mm: f64,
    pub sources: Vec<Source>,
    pub earth: Option<Earth>,
}

/// A uniform background.
#[derive(Clone, Copy, Debug)]
pub struct Earth {
    /// Horizontal flux density, microtesla.
    pub horizontal_ut: f64,
    /// Where a compass needle's N end points.
    pub north_deg: f64,
}

/// A magnet, wire, coil, charge or plate on the sheet.
#[derive(Clone, Debug)]
pub struct Source {
    pub id: String,
    pub kind: Kind,
    /// Middle of the box round the outline.
    pub centre: Point,
    /// From the S pole to the N pole (horseshoe: the way the open side faces; coil: the way the field points inside;
    /// plate: the way its length lies; 0 for a wire or a charge).
    pub north_deg: f64,
}

/// Kinds of source and their sizes, mm; `remanence_mt` in millitesla, currents in amperes, charges in nanocoulombs.
///
/// `pole_inset`: how far the poles lie inside the ends, as a share of the length, 0 to 0.25.
#[derive(Clone, Debug, PartialEq)]
pub enum Kind {
    Bar {
        length: f64,
        width: f64,
        thickness: f64,
        remanence_mt: f64,
        pole_inset: f64,
    },
    Rod {
        length: f64,
        diameter: f64,
        remanence_mt: f64,
        pole_inset: f64,
    },
    /// Lies flat, magnetised across.
    Disc {
        diameter: f64,
        thickness: f64,
        remanence_mt: f64,
    },
    /// Lies flat, magnetised through its thickness; `up`: N face towards the reader.
    DiscThrough {
        diameter: f64,
        thickness: f64,
        remanence_mt: f64,
        up: bool,
    },
    /// `north_left`: the N limb is the left one, seen looking out of the open side.
    Horseshoe {
        width: f64,
        depth: f64,
        thickness: f64,
        limb: f64,
        remanence_mt: f64,
        north_left: bool,
    },
    Globe {
        diameter: f64,
        remanence_mt: f64,
    },
    /// Printed as a 4 mm ring.
    Dipole {
        moment_am2: f64,
    },
    /// Straight, at right angles to the page, infinitely long. Printed as a 4 mm ring. `out`: towards the reader.
    Wire {
        current_a: f64,
        out: bool,
    },
    /// A close-wound solenoid that lies in the page. Field lines run through it.
    Coil {
        length: f64,
        diameter: f64,
        turns: f64,
        current_a: f64,
    },
    /// Printed as a 4 mm ring.
    Charge {
        charge_nc: f64,
    },
    /// Evenly charged, seen from its edge; `depth` at right angles to the page.
    Plate {
        length: f64,
        depth: f64,
        charge_nc: f64,
    },
}

/// What makes a panel's field, as one speaks of it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum MadeBy {
    #[default]
    Magnets,
    /// A globe: its printed poles are the geographic ones.
    Earth,
    Currents,
    Charges,
}

impl Panel {
    /// What makes its field; of several kinds that which needs words of its own most.
    pub fn made_by(&self) -> MadeBy {
        let any = |of: fn(&Kind) -> bool| self.sources.iter().any(|s| of(&s.kind));
        if any(Kind::is_electric) {
            MadeBy::Charges
        } else if any(Kind::is_current) {
            MadeBy::Currents
        } else if any(|kind| matches!(kind, Kind::Globe { .. })) {
            MadeBy::Earth
        } else {
            MadeBy::Magnets
        }
    }
}

impl Kind {
    /// Whether its field is electric, in kV/m; else magnetic, in mT.
    pub fn is_electric(&self) -> bool {
        matches!(self, Kind::Charge { .. } | Kind::Plate { .. })
    }

    /// Whether a current makes its field.
    pub fn is_current(&self) -> bool {
        matches!(self, Kind::Wire { .. } | Kind::Coil { .. })
    }

    /// Whether it is a magnet, or is taken for one, as the globe is.
    pub fn is_magnet(&self) -> bool {
        !self.is_electric() && !self.is_current()
    }
}

/// The half of a source that a place lies on, or its sign.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Half {
    N,
    S,
    /// Within 15 % of the length from the middle: fits either.
    Mid,
    /// A positive or a negative charge or plate: no halves, but lines lead from the one to the other.
    Plus,
    Minus,
    /// A source without halves.
    None,
}

impl Half {
    /// What follows a source's id in the name of an end on it.
    pub fn suffix(self) -> &'static str {
        match self {
            Half::N => ".N",
            Half::S => ".S",
            Half::Mid => ".mid",
            Half::Plus | Half::Minus | Half::None => "",
        }
    }

    /// 1 where field lines come out of a source, -1 where they go in, 0 where either may be.
    pub fn sense(self) -> i32 {
        match self {
            Half::N | Half::Plus => 1,
            Half::S | Half::Minus => -1,
            Half::Mid | Half::None => 0,
        }
    }
}

impl Panel {
    /// Whether its field is electric, in kV/m; else magnetic, in mT. No panel mixes the two.
    pub fn is_electric(&self) -> bool {
        self.sources.iter().any(|s| s.kind.is_electric())
    }
}

impl Source {
    /// (along north_deg, to its left) of a place, mm from the centre.
    pub fn local(&self, p: Point) -> Vec2 {
        let t = self.north_deg.to_radians();
        let (x, y) = (p.x - self.centre.x, -(p.y - self.centre.y));
        Vec2::new(x * t.cos() + y * t.sin(), -x * t.sin() + y * t.cos())
    }

    /// The place `u` mm along north_deg and `v` mm to its left.
    pub fn place(&self, u: f64, v: f64) -> Point {
        let t = self.north_deg.to_radians();
        Point::new(self.centre.x + u * t.cos() - v * t.sin(), self.centre.y - (u * t.sin() + v * t.cos()))
    }

    /// The half that a place lies on (contract: either side of the middle; horseshoe: of its axis).
    pub fn half(&self, p: Point) -> Half {
        let q = self.local(p);
        let (along, length) = match &self.kind {
            Kind::Bar { length, .. } | Kind::Rod { length, .. } | Kind::Coil { length, .. } => (q.x, *length),
            Kind::Disc { diameter, .. } | Kind::Globe { diameter, .. } => (q.x, *diameter),
            Kind::Horseshoe { width, north_left, .. } => (if *north_left { q.y } else { -q.y }, *width),
            Kind::Dipole { .. } => (q.x, RING_MM),
            Kind::Charge { charge_nc } | Kind::Plate { charge_nc, .. } => {
                return if *charge_nc > 0.0 { Half::Plus } else { Half::Minus };
            }
            Kind::DiscThrough { .. } | Kind::Wire { .. } => return Half::None,
        };
        if along.abs() < MID_SHARE * length {
            Half::Mid
        } else if along > 0.0 {
            Half::N
        } else {
            Half::S
        }
    }
}

/// Diameter of the ring that stands for a dipole, a wire or a charge, mm (contract).
pub const RING_MM: f64 = 4.0;
/// Thickness at which a plate is printed, mm: two strokes of the outline.
pub const PLATE_MM: f64 = 1.0;
/// Share of the length from the middle within which an end fits either half (contract).
pub const MID_SHARE: f64 = 0.15;

//! What is pointed out on a drawing: each place, or several close together, has a number, each kind of place a sentence.

use crate::drawing::THERE;
use crate::geometry::Point;
use crate::measure::findings::{LineRecord, PanelRecord};

use super::Sheet;
use super::gather::{self, Spot};
use crate::worksheet::MadeBy;

/// Below this sureness a place is said to be doubtful.
const DOUBTFUL_BELOW: f64 = 0.8;

/// Kinds of place, in the order in which they are numbered.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Kind {
    WrongArrow,
    Cross,
    Touch,
    LikePoles,
    OpenEnd,
    TooClose,
    TooWide,
    FarOff,
}

impl Kind {
    /// All kinds.
    pub(super) const ALL: [Self; 8] = [
        Self::WrongArrow,
        Self::Cross,
        Self::Touch,
        Self::LikePoles,
        Self::OpenEnd,
        Self::TooClose,
        Self::TooWide,
        Self::FarOff,
    ];

    /// What to call one of them.
    pub(super) fn name(self) -> &'static str {
        match self {
            Self::WrongArrow => "arrow the wrong way",
            Self::Cross => "lines cross",
            Self::Touch => "lines touch",
            Self::LikePoles => "line between like poles",
            Self::OpenEnd => "line ends in white space",
            Self::TooClose => "lines too close for the rest of their way",
            Self::TooWide => "lines too far apart for the rest of their way",
            Self::FarOff => "line leads another way than the field",
        }
    }

    /// What to say of one or several, where the field is made by such sources.
    pub(super) fn sentence(self, many: bool, made_by: MadeBy) -> String {
        let (opening, rest) = match self {
            Self::WrongArrow => (
                ["This arrow points against the field.", "These arrows point against the field."],
                match made_by {
                    MadeBy::Magnets => "Outside a magnet, field lines lead away from N and towards S.",
                    MadeBy::Earth => "Which way would the N end of a compass needle point there?",
                    MadeBy::Currents => "Go through the right-hand rule once more, thumb and fingers.",
                    MadeBy::Charges => {
                        "Electric field lines lead away from positive charges and towards negative ones."
                    }
                },
            ),
            Self::Cross => (
                ["Lines cross here.", "Lines cross at these places."],
                "The field has one direction at each place, so its lines never cross.",
            ),
            Self::Touch => (
                ["Lines touch here.", "Lines touch at these places."],
                "Leave white paper between any two field lines.",
            ),
            Self::LikePoles => (
                ["This line joins two like poles.", "These lines join two like poles."],
                "A field line leads from an N to an S pole, or out of the frame.",
            ),
            Self::OpenEnd => (
                ["This line ends in white space.", "These lines end in white space."],
                match (made_by, many) {
                    (MadeBy::Magnets | MadeBy::Earth, false) => "Carry it on to a pole or to the frame.",
                    (MadeBy::Magnets | MadeBy::Earth, true) => "Carry each on to a pole or to the frame.",
                    (MadeBy::Currents, false) => "Carry it on until it closes or leaves the frame.",
                    (MadeBy::Currents, true) => "Carry each on until it closes or leaves the frame.",
                    (MadeBy::Charges, false) => "Carry it on to a charge or to the frame.",
                    (MadeBy::Charges, true) => "Carry each on to a charge or to the frame.",
                },
            ),
            Self::TooClose => (
                ["Lines come too close here for the rest of their way:"; 2],
                "is the field stronger here than further along?",
            ),
            Self::TooWide => (
                ["Lines lie too far apart here for the rest of their way:"; 2],
                "is the field weaker here than further along?",
            ),
            Self::FarOff => (
                [
                    "This line leads another way than the field.",
                    "These lines lead another way than the field.",
                ],
                match made_by {
                    MadeBy::Charges => {
                        "Which way would a small positive charge be pushed at points along the way?"
                    }
                    _ => "Imagine a compass at points along the way.",
                },
            ),
        };
        format!("{} {rest}", opening[usize::from(many)])
    }
}

/// A line whose median angle to the field is greater is pointed out, degrees. Empirical: twice what the basic rubric
/// gives half marks for.
const FAR_OFF_DEG: f64 = 30.0;
/// Most lines pointed out for it, the worst first.
const MOST_FAR_OFF: usize = 3;

/// Places that are pointed out by one number.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Note {
    /// From 1, over all panels.
    pub number: usize,
    pub kind: Kind,
    /// One, or several that lie close together, from left to right.
    pub places: Vec<Point>,
    /// Where on the sheet, in words.
    pub whereabouts: String,
    /// The id of its panel, where the sheet has several.
    pub panel: Option<String>,
    /// What makes the field of its panel.
    pub made_by: MadeBy,
    /// How many of the places were read, but not surely.
    pub doubtful: usize,
}

/// The lines that the words name, each with its number, counted through all panels, and its points.
pub(super) fn named_lines(panels: &[Sheet]) -> Vec<(usize, &[[f64; 2]])> {
    let mut before = 0;
    let mut named = Vec::new();
    for panel in panels {
        let lines = &panel.record.lines;
        let line = panel.named_line.and_then(|number| Some((number, lines.get(number.checked_sub(1)?)?)));
        named.extend(line.map(|(number, line)| (before + number, line.points_mm.as_slice())));
        before += lines.len();
    }
    named
}

/// All places of all panels, numbered kind by kind within a panel, from left to right.
pub(super) fn of(panels: &[Sheet]) -> Vec<Note> {
    let mut notes = Vec::new();
    for panel in panels {
        let several = (panels.len() > 1).then_some(panel.record.id.as_str());
        let spots = of_panel(&panel.record);
        for cluster in gather::gathered(&spots, panel.frame) {
            let place = gather::whereabouts(gather::middle(&cluster), panel.frame, several);
            notes.push(Note {
                number: notes.len() + 1,
                kind: cluster[0].kind,
                doubtful: cluster.iter().filter(|spot| spot.sure < DOUBTFUL_BELOW).count(),
                places: cluster.into_iter().map(|spot| spot.at).collect(),
                whereabouts: place,
                panel: several.map(str::to_string),
                made_by: panel.made_by,
            });
        }
    }
    notes
}

fn of_panel(panel: &PanelRecord) -> Vec<Spot> {
    let spot = |kind, at: [f64; 2], sure: f64| Spot { kind, at: Point::new(at[0], at[1]), sure };
    let mut spots = Vec::new();
    for line in panel.lines.iter().filter(|line| line.sure >= THERE) {
        for arrow in line.arrows.iter().filter(|a| !a.agrees && a.sure >= THERE) {
            spots.push(spot(Kind::WrongArrow, arrow.at_mm, arrow.sure));
        }
        for end in line.ends.iter().filter(|end| end.on == "open") {
            spots.push(spot(Kind::OpenEnd, end.at_mm, line.sure));
        }
        if joins_like_poles(line)
            && let Some(middle) = line.points_mm.get(line.points_mm.len() / 2)
        {
            spots.push(spot(Kind::LikePoles, *middle, line.sure));
        }
    }
    for gap in &panel.gaps {
        let kind = if gap.ratio < 1.0 { Kind::TooClose } else { Kind::TooWide };
        spots.push(spot(kind, gap.at_mm, 1.0));
    }
    let angle = |line: &LineRecord| line.angle_deg.median.filter(|a| *a > FAR_OFF_DEG);
    let mut far: Vec<(&LineRecord, f64)> = panel.lines.iter().filter_map(|l| Some((l, angle(l)?))).collect();
    far.sort_by(|a, b| b.1.total_cmp(&a.1));
    for (line, _) in far.into_iter().filter(|(l, _)| l.sure >= THERE).take(MOST_FAR_OFF) {
        if let Some(at) = line.points_mm.get(line.points_mm.len() / 3) {
            spots.push(spot(Kind::FarOff, *at, line.sure));
        }
    }
    for meeting in panel.meets.iter().filter(|m| m.sure >= THERE) {
        let kind = if meeting.kind == "touch" { Kind::Touch } else { Kind::Cross };
        spots.push(spot(kind, meeting.at_mm, meeting.sure));
    }
    spots
}

/// Both ends on N halves, or both on S halves.
pub(super) fn joins_like_poles(line: &LineRecord) -> bool {
    let pole = |i: usize| line.ends.get(i).and_then(|end| end.on.rsplit_once('.')).map(|(_, half)| half);
    match (pole(0), pole(1)) {
        (Some(a), Some(b)) => a == b && matches!(a, "N" | "S"),
        _ => false,
    }
}

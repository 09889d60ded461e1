//! What is pointed out on a drawing: each place has a number, each kind of place a sentence.

use crate::drawing::THERE;
use crate::geometry::Point;
use crate::measure::findings::{LineRecord, PanelRecord};

use super::Sheet;
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

/// A place that is pointed out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Note {
    /// From 1, over all panels.
    pub number: usize,
    pub kind: Kind,
    pub at: Point,
    /// What makes the field of its panel.
    pub made_by: MadeBy,
    /// Read, but not surely.
    pub doubtful: bool,
}

/// Places of which one sentence is said.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Group {
    pub kind: Kind,
    pub numbers: Vec<usize>,
    pub sentence: String,
    /// Of the numbers, those not read with certainty.
    pub doubtful: Vec<usize>,
}

impl Group {
    /// The numbers as they are listed.
    pub(super) fn listed(numbers: &[usize]) -> String {
        numbers.iter().map(usize::to_string).collect::<Vec<_>>().join(", ")
    }

    /// Which of the numbers were not read with certainty, in a sentence.
    pub(super) fn doubt(&self) -> Option<String> {
        let which = || format!("Not read with certainty: {}.", Self::listed(&self.doubtful));
        (!self.doubtful.is_empty()).then(which)
    }
}

/// The places kind by kind. Those of one kind in panels whose fields are made by other things are told apart where
/// other words are said of them.
pub(super) fn groups(notes: &[Note]) -> Vec<Group> {
    let mut groups = Vec::new();
    for kind in Kind::ALL {
        let mut these: Vec<&Note> = notes.iter().filter(|n| n.kind == kind).collect();
        while let Some(first) = these.first() {
            let words = kind.sentence(true, first.made_by);
            let (same, others): (Vec<&Note>, Vec<&Note>) =
                these.iter().partition(|n| kind.sentence(true, n.made_by) == words);
            groups.push(Group {
                kind,
                sentence: kind.sentence(same.len() > 1, first.made_by),
                doubtful: same.iter().filter(|n| n.doubtful).map(|n| n.number).collect(),
                numbers: same.iter().map(|n| n.number).collect(),
            });
            these = others;
        }
    }
    groups
}

/// The lines that the words name, each with its number, counted through all panels, and a place beside which that is written:
/// a third of the way along, where few lines meet.
pub(super) fn named_lines(panels: &[Sheet]) -> Vec<(usize, Point)> {
    let of = |(n, panel): (usize, &Sheet)| {
        let number = panel.named_line?;
        let before: usize = panels[..n].iter().map(|p| p.record.lines.len()).sum();
        let points = &panel.record.lines.get(number.checked_sub(1)?)?.points_mm;
        points.get(points.len() / 3).map(|p| (before + number, Point::new(p[0], p[1])))
    };
    panels.iter().enumerate().filter_map(of).collect()
}

/// All places of all panels, numbered kind by kind within a panel, from left to right.
pub(super) fn of(panels: &[Sheet]) -> Vec<Note> {
    let mut notes = Vec::new();
    for panel in panels {
        let mut here = of_panel(&panel.record, panel.made_by);
        here.sort_by(|a, b| {
            a.kind.cmp(&b.kind).then(a.at.x.total_cmp(&b.at.x)).then(a.at.y.total_cmp(&b.at.y))
        });
        notes.extend(here);
    }
    for (i, note) in notes.iter_mut().enumerate() {
        note.number = i + 1;
    }
    notes
}

fn of_panel(panel: &PanelRecord, made_by: MadeBy) -> Vec<Note> {
    let note = |kind, at: [f64; 2], sure: f64| Note {
        number: 0,
        kind,
        at: Point::new(at[0], at[1]),
        made_by,
        doubtful: sure < DOUBTFUL_BELOW,
    };
    let mut notes = Vec::new();
    for line in panel.lines.iter().filter(|line| line.sure >= THERE) {
        for arrow in line.arrows.iter().filter(|a| !a.agrees && a.sure >= THERE) {
            notes.push(note(Kind::WrongArrow, arrow.at_mm, arrow.sure));
        }
        for end in line.ends.iter().filter(|end| end.on == "open") {
            notes.push(note(Kind::OpenEnd, end.at_mm, line.sure));
        }
        if joins_like_poles(line)
            && let Some(middle) = line.points_mm.get(line.points_mm.len() / 2)
        {
            notes.push(note(Kind::LikePoles, *middle, line.sure));
        }
    }
    for gap in &panel.gaps {
        let kind = if gap.ratio < 1.0 { Kind::TooClose } else { Kind::TooWide };
        notes.push(note(kind, gap.at_mm, 1.0));
    }
    let angle = |line: &LineRecord| line.angle_deg.median.filter(|a| *a > FAR_OFF_DEG);
    let mut far: Vec<(&LineRecord, f64)> = panel.lines.iter().filter_map(|l| Some((l, angle(l)?))).collect();
    far.sort_by(|a, b| b.1.total_cmp(&a.1));
    for (line, _) in far.into_iter().filter(|(l, _)| l.sure >= THERE).take(MOST_FAR_OFF) {
        if let Some(at) = line.points_mm.get(line.points_mm.len() / 3) {
            notes.push(note(Kind::FarOff, *at, line.sure));
        }
    }
    for meeting in panel.meets.iter().filter(|m| m.sure >= THERE) {
        let kind = if meeting.kind == "touch" { Kind::Touch } else { Kind::Cross };
        notes.push(note(kind, meeting.at_mm, meeting.sure));
    }
    notes
}

/// Both ends on N halves, or both on S halves.
pub(super) fn joins_like_poles(line: &LineRecord) -> bool {
    let pole = |i: usize| line.ends.get(i).and_then(|end| end.on.rsplit_once('.')).map(|(_, half)| half);
    match (pole(0), pole(1)) {
        (Some(a), Some(b)) => a == b && matches!(a, "N" | "S"),
        _ => false,
    }
}

//! The one table of measures: what a rubric may name, what it means, and what values it can take.
//!
//! Rubric checks, the help text and docs/measures.md are made from [`ALL`]; a measure's place in it is its
//! place in every list of measures in the program. The method of each is told at its family's file.

mod rows;

pub use rows::ALL;

/// What a measure counts in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// A whole number of things.
    Count,
    /// A share of a whole, 0 to 1.
    Share,
    /// A rank correlation or balance of votes, -1 to 1.
    Rank,
    /// A ratio of two lengths, 1 or more.
    Ratio,
    /// Degrees.
    Degrees,
    /// Millimetres on the paper.
    Millimetres,
}

impl Unit {
    /// The unit in words.
    pub fn words(self) -> &'static str {
        match self {
            Unit::Count => "a whole number",
            Unit::Share => "a share",
            Unit::Rank => "an order",
            Unit::Ratio => "a ratio",
            Unit::Degrees => "degrees",
            Unit::Millimetres => "millimetres",
        }
    }
}

/// One measure: its name in rubric.yaml and what it means.
#[derive(Clone, Copy, Debug)]
pub struct Measure {
    /// As in rubric.yaml and findings.
    pub name: &'static str,
    pub unit: Unit,
    /// Least and greatest value it can take, both included.
    pub range: (f64, f64),
    /// What it means, in a sentence.
    pub sentence: &'static str,
    /// What else its definition says, and an example; may be empty.
    pub how: &'static str,
    /// When it has no value; empty where it always has one.
    pub empty: &'static str,
    /// Where it is unsure.
    pub unsure: &'static str,
}

/// A measure's place in [`ALL`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Id {
    LinesCount,
    LinesOff,
    ArrowsShown,
    ArrowsWrong,
    ArrowsAgree,
    MeetsCount,
    AngleMedian,
    AngleCloseShare,
    EndsOpen,
    EndsPlaced,
    JoinsWrong,
    SpacingWiden,
    SpacingOutward,
    CoverShare,
    BalanceShare,
    NeutralThrough,
    DotsCount,
    DotsOff,
    DotsStep,
    DotsShift,
    LinesKinks,
    SpacingEven,
    NeutralMarked,
}

impl Id {
    /// In the order of [`ALL`].
    pub const ALL: [Id; COUNT] = [
        Id::LinesCount,
        Id::LinesOff,
        Id::ArrowsShown,
        Id::ArrowsWrong,
        Id::ArrowsAgree,
        Id::MeetsCount,
        Id::AngleMedian,
        Id::AngleCloseShare,
        Id::EndsOpen,
        Id::EndsPlaced,
        Id::JoinsWrong,
        Id::SpacingWiden,
        Id::SpacingOutward,
        Id::CoverShare,
        Id::BalanceShare,
        Id::NeutralThrough,
        Id::DotsCount,
        Id::DotsOff,
        Id::DotsStep,
        Id::DotsShift,
        Id::LinesKinks,
        Id::SpacingEven,
        Id::NeutralMarked,
    ];
}

/// How many measures there are.
pub const COUNT: usize = 23;

/// A measure by its name.
pub fn find(name: &str) -> Option<&'static Measure> {
    ALL.iter().find(|m| m.name == name)
}

/// docs/measures.md: every measure with its meaning, unit and range, and what leaves it empty or unsure.
pub fn markdown() -> String {
    let mut text = String::from(HEADER);
    for m in &ALL {
        let most = if m.range.1.is_finite() {
            format!("{} to {}", m.range.0, m.range.1)
        } else {
            "0 or more".into()
        };
        text += &format!("\n## {}\n\n{}\n", m.name, m.sentence);
        if !m.how.is_empty() {
            text += &format!("\n{}\n", m.how);
        }
        text += &format!("\n- Unit: {}, {most}.\n", m.unit.words());
        if !m.empty.is_empty() {
            text += &format!("- Empty when {}.\n", m.empty);
        }
        text += &format!("- Unsure: {}.\n", m.unsure);
    }
    text
}

const HEADER: &str = "\
# Measures

What a rubric may name. All are taken inside the frame and outside the sources' outlines grown by 3 mm, on lines
of which at least 10 mm lie there. Lengths are millimetres on the paper.

Each has a value, that of the likeliest reading of the ink, and a low and a high: 200 readings are drawn from how
sure the reader is of each line, arrowhead, end, meeting and dot, and nine in ten of them lie between. An empty
measure is not 0: a rubric says with `if_empty` what it gives, else a person looks.

This page is made from the program's own table.
";

#[cfg(test)]
mod tests {
    use super::*;

    /// Set this variable to write docs/measures.md anew.
    const REWRITE: &str = "LODEMARK_REWRITE";

    #[test]
    fn the_page_of_measures_says_what_the_table_says() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/docs/measures.md");
        if std::env::var_os(REWRITE).is_some() {
            std::fs::write(path, markdown()).unwrap();
        }
        let page = std::fs::read_to_string(path).unwrap();
        assert!(page == markdown(), "docs/measures.md is not what the table says; run with {REWRITE}=1");
    }

    #[test]
    fn each_place_in_the_table_is_that_of_its_id() {
        let names = [
            (Id::LinesCount, "lines.count"),
            (Id::LinesOff, "lines.off_mm"),
            (Id::ArrowsShown, "arrows.shown"),
            (Id::ArrowsWrong, "arrows.wrong"),
            (Id::ArrowsAgree, "arrows.agree"),
            (Id::MeetsCount, "meets.count"),
            (Id::AngleMedian, "angle.median_deg"),
            (Id::AngleCloseShare, "angle.close_share"),
            (Id::EndsOpen, "ends.open"),
            (Id::EndsPlaced, "ends.placed"),
            (Id::JoinsWrong, "joins.wrong"),
            (Id::SpacingWiden, "spacing.widen"),
            (Id::SpacingOutward, "spacing.outward"),
            (Id::CoverShare, "cover.share"),
            (Id::BalanceShare, "balance.share"),
            (Id::NeutralThrough, "neutral.through"),
            (Id::DotsCount, "dots.count"),
            (Id::DotsOff, "dots.off_mm"),
            (Id::DotsStep, "dots.step_mm"),
            (Id::DotsShift, "dots.shift_mm"),
            (Id::LinesKinks, "lines.kinks"),
            (Id::SpacingEven, "spacing.even"),
            (Id::NeutralMarked, "neutral.marked"),
        ];
        assert_eq!(names.len(), ALL.len());
        for (i, (id, name)) in names.iter().enumerate() {
            assert_eq!((*id as usize, ALL[i].name, Id::ALL[i]), (i, *name, *id));
            assert_eq!(find(name).map(|m| m.name), Some(*name));
        }
    }
}

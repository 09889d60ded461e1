//! The one table of measures: what a rubric may name, what it means, and what values it can take.
//!
//! Rubric checks, the help text and docs/measures.md are made from [`ALL`]; a measure's place in it is its
//! place in every list of measures in the program. The method of each is told at its family's file.

/// What a measure counts in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// A whole number of things.
    Count,
    /// A share of a whole, 0 to 1.
    Share,
    /// A rank correlation or balance of votes, -1 to 1.
    Rank,
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
    ];
}

/// How many measures there are.
pub const COUNT: usize = 18;

/// A measure by its name.
pub fn find(name: &str) -> Option<&'static Measure> {
    ALL.iter().find(|m| m.name == name)
}

const MANY: f64 = f64::INFINITY;
const NO_LINE: &str = "no line was drawn";

/// Every measure, in the order of [`Id`].
pub const ALL: [Measure; COUNT] = [
    Measure {
        name: "lines.count",
        unit: Unit::Count,
        range: (0.0, MANY),
        sentence: "Separate field lines drawn.",
        how: "Pen lifts are bridged: a line that runs through a magnet's outline, out of the frame and \
              back, or over a gap is one line. One that runs through a charge or a plate is two.",
        empty: "",
        unsure: "ink that may be a line or none; a line of about 10 mm",
    },
    Measure {
        name: "lines.off_mm",
        unit: Unit::Millimetres,
        range: (0.0, MANY),
        sentence: "Median over the lines of the 90th percentile of a line's distance from the computed line through \
                   its middle.",
        how: "The computed line is followed both ways from the middle of what counts of the drawn line, \
              to the frame or to a magnet. One slip of the hand on a line, and one wild line, leave it \
              as it is. 0 for a line of the field.",
        empty: NO_LINE,
        unsure: "lines that may be none",
    },
    Measure {
        name: "arrows.shown",
        unit: Unit::Share,
        range: (0.0, 1.0),
        sentence: "Share of lines that carry at least one readable arrow.",
        how: "8 of 10 lines with an arrow give 0.8, however many each carries.",
        empty: NO_LINE,
        unsure: "arrowheads that may be none",
    },
    Measure {
        name: "arrows.wrong",
        unit: Unit::Count,
        range: (0.0, MANY),
        sentence: "Number of lines with an arrow that does not agree with the field.",
        how: "On a line whose ends lie on an N and an S half an arrow agrees when it points along the \
              line from N to S; on other lines when it is within 90 degrees of the computed field at its \
              tip. A tip more than 1 mm inside a magnet's outline is not judged.",
        empty: "",
        unsure: "arrowheads whose way is unsure; a line whose ends are",
    },
    Measure {
        name: "arrows.agree",
        unit: Unit::Share,
        range: (0.0, 1.0),
        sentence: "Share of the arrowed lines whose every arrow agrees with the field.",
        how: "As arrows.wrong, as a share: 10 arrowed lines with 2 wrong give 0.8.",
        empty: "no line carries an arrow",
        unsure: "arrowheads whose way is unsure; a line whose ends are",
    },
    Measure {
        name: "meets.count",
        unit: Unit::Count,
        range: (0.0, MANY),
        sentence: "Places where two lines cross or touch (no white between the strokes), or one meets itself; places \
                   of the same two lines within 4 mm are one; a touch that holds a crossing is that crossing.",
        how: "The joint of a closed line is no meeting.",
        empty: "",
        unsure: "strokes that nearly touch",
    },
    Measure {
        name: "angle.median_deg",
        unit: Unit::Degrees,
        range: (0.0, 90.0),
        sentence: "Median, over drawn length, of the angle between the drawn tangent (the chord over 4 mm) and the \
                   computed field in the plane, folded to 0-90.",
        how: "Taken every half millimetre. Folded: a line drawn against the field is at 0, its arrow \
              tells the way. 0 for lines of the field, about 45 for lines drawn anyhow.",
        empty: "no line is longer than 4 mm at a stretch",
        unsure: "lines that may be none",
    },
    Measure {
        name: "angle.close_share",
        unit: Unit::Share,
        range: (0.0, 1.0),
        sentence: "Share of drawn length within 15 degrees of the computed field.",
        how: "As angle.median_deg, as the share of the half-millimetres within 15 degrees.",
        empty: "no line is longer than 4 mm at a stretch",
        unsure: "lines that may be none",
    },
    Measure {
        name: "ends.open",
        unit: Unit::Count,
        range: (0.0, MANY),
        sentence: "Number of ends that stop where the line should have gone on to a pole inside the frame.",
        how: "An end is on a source within 4 mm of its outline, on the frame within 4 mm of it or \
              outside; in free space it leaves when the computed line, followed on from it the way its \
              last 4 mm point, goes out of the frame or into a neutral point before it meets a source, \
              else it is open. A closed line (longer than 24 mm, its ends within 4 mm or 8 % of its \
              length of each other, none on a source) has no ends.",
        empty: "",
        unsure: "ends about 4 mm from a magnet or the frame",
    },
    Measure {
        name: "ends.placed",
        unit: Unit::Share,
        range: (0.0, 1.0),
        sentence: "Share of the ends that are not open.",
        how: "As ends.open, as a share: 20 ends with 2 open give 0.9.",
        empty: "no line has ends",
        unsure: "ends about 4 mm from a magnet or the frame",
    },
    Measure {
        name: "joins.wrong",
        unit: Unit::Count,
        range: (0.0, MANY),
        sentence: "Lines whose two ends are on like poles.",
        how: "Both ends on N halves, or both on S halves, of one source or two. Within 15 % of the \
              length from a source's middle an end fits either half and is never wrong.",
        empty: "",
        unsure: "ends about 4 mm from a magnet, or near its middle",
    },
    Measure {
        name: "spacing.widen",
        unit: Unit::Rank,
        range: (-1.0, 1.0),
        sentence: "Whether neighbouring lines open out as the computed field asks: 1 always, 0 no order, -1 they \
                   close where they should open.",
        how: "Along each line, every 2 mm and to both sides, the gap to the next line is taken along the \
              drawn normal, up to 40 mm, unless a magnet lies between. For each neighbour with at least \
              6 gaps over which the computed gap varies 1.3-fold it is Spearman's rank correlation of \
              these gaps with the integral along the line of the divergence of the in-plane unit field; \
              the measure is their mean, weighted by the number of gaps. Two near field lines keep gap x \
              exp(-integral) constant; in a flat cut of a three-dimensional field this, and not 1/B, is \
              the law.",
        empty: "fewer than 12 gaps between neighbours, or none along which the computed gap varies 1.3-fold",
        unsure: "lines that may be none; narrow gaps",
    },
    Measure {
        name: "spacing.outward",
        unit: Unit::Rank,
        range: (-1.0, 1.0),
        sentence: "Where a line has a neighbour on both sides: places whose wider gap lies in the weaker field, less \
                   the others, over all.",
        how: "With one source only. Places count whose two gaps differ by 15 % and whose in-plane flux \
              densities, in the middle of the gaps, differ by 10 %. 15 of 20 such places right give (15 \
              - 5)/20 = 0.5.",
        empty: "more than one source, or fewer than 12 such places",
        unsure: "lines that may be none; narrow gaps",
    },
    Measure {
        name: "cover.share",
        unit: Unit::Share,
        range: (0.0, 1.0),
        sentence: "Of the 45-degree sectors round each source that have room, the share in which a line passes 3 to \
                   30 mm from its outline.",
        how: "The first sector is centred on the way from S to N. It has room when a point 15 mm off the \
              outline, straight out from the source's centre, lies in the frame and off the other \
              sources.",
        empty: "no line was drawn, or no sector has room",
        unsure: "a line that only just enters a sector",
    },
    Measure {
        name: "balance.share",
        unit: Unit::Share,
        range: (0.0, 1.0),
        sentence: "Where the pattern has a level or upright mirror line: drawn length on the emptier side over that \
                   on the fuller; the least over the mirror lines.",
        how: "Mirror lines go through the mean of the sources' centres, and the sense of the field is \
              left out. 300 mm drawn above and 240 mm below give 0.8.",
        empty: "no line was drawn, or the pattern has no mirror line",
        unsure: "lines that may be none",
    },
    Measure {
        name: "neutral.through",
        unit: Unit::Count,
        range: (0.0, MANY),
        sentence: "Lines that run straight on through a neutral point: nearer than 2.5 mm, and turning by less than \
                   40 degrees from 8 mm before to 8 mm after.",
        how: "A neutral point is a place at least 5 mm inside the frame where the field in the paper's \
              plane vanishes. The line's way from 10 to 6 mm before it is set against that from 6 to 10 \
              mm after.",
        empty: "the panel has no neutral point at least 5 mm inside the frame",
        unsure: "a line that passes about 2.5 mm off",
    },
    Measure {
        name: "dots.count",
        unit: Unit::Count,
        range: (0.0, MANY),
        sentence: "Plotted compass dots; dots that make up a line by themselves are a line.",
        how: "",
        empty: "",
        unsure: "dots that may be specks",
    },
    Measure {
        name: "dots.off_mm",
        unit: Unit::Millimetres,
        range: (0.0, MANY),
        sentence: "Root-mean-square distance of the plotted dots from the nearest drawn line.",
        how: "Two dots 1 mm and 2 mm off give 1.58.",
        empty: "no dots or no lines were drawn",
        unsure: "lines or dots that may be none",
    },
];

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
        ];
        assert_eq!(names.len(), ALL.len());
        for (i, (id, name)) in names.iter().enumerate() {
            assert_eq!((*id as usize, ALL[i].name, Id::ALL[i]), (i, *name, *id));
            assert_eq!(find(name).map(|m| m.name), Some(*name));
        }
    }
}

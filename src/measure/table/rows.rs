//! The rows of the table.

use super::{COUNT, Measure, Unit};

const MANY: f64 = f64::INFINITY;
const NO_LINE: &str = "no line was drawn";

/// Every measure, in the order of [`super::Id`].
pub const ALL: [Measure; COUNT] = [
    Measure {
        name: "lines.count",
        unit: Unit::Count,
        range: (0.0, MANY),
        sentence: "Separate field lines drawn.",
        how: "Pen lifts are bridged: a line that runs through a magnet's outline, out of the frame and \
              back, or over a gap is one line; so are pieces that meet at a coil's windings, where the field has a corner. \
              One that runs through a charge or a plate is two.",
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
        sentence: "Number of ends that stop where the line should have gone on to a source inside the frame.",
        how: "An end is on a source within 4 mm of its outline, on the frame within 4 mm of it or \
              outside; in free space it leaves when the computed line, followed on from it the way its \
              last 4 mm point, goes out of the frame or into a neutral point before it meets a source, \
              else it is open. A closed line (longer than 24 mm, its ends within 4 mm or 8 % of its \
              length of each other, none on a magnet or a charge) has no ends.",
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
        unsure: "lines that may be none; narrow gaps. Where computed lines through the middles of the drawn ones \
                 would have less than 0.5 themselves (round a wire, among four magnets) it tells nothing: its \
                 readings are then 1 and -1 by turns, and a person looks",
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
    Measure {
        name: "dots.step_mm",
        unit: Unit::Millimetres,
        range: (0.0, MANY),
        sentence: "Median step from one plotted dot to the next, along the line that they lie beside.",
        how: "Each dot belongs to the nearest drawn line. Dots at 10, 20, 30 and 50 mm along a line give 10.",
        empty: "no line has two dots",
        unsure: "lines or dots that may be none",
    },
    Measure {
        name: "dots.shift_mm",
        unit: Unit::Millimetres,
        range: (0.0, MANY),
        sentence: "Steady sideways shift of the plotted dots: the length of the one step on the paper by which they all stand off \
                   from where the field leads, less what the whole class has in common.",
        how: "As where a compass is looked at from the side (parallax): each dot then stands beside the needle's tip, and the \
              needle's tail beside the last dot, by the same step, and the whole pattern is moved by it, the lines through the \
              dots with it. From each dot the computed line is followed to abreast of the next (4 to 45 mm on along the same drawn \
              line, both at least 8 mm off an outline); how far the next lies beside it, and how that changes when both are \
              moved, gives the step by least squares, slips left out. By chance alone a fitted step is too long: the trace of its \
              covariance is taken off its square, so that scatter without a shift gives about 0, and the spread holds its standard \
              error. In a class of at least 5 the median of the students' steps is taken off each: the Earth's field or a \
              stronger magnet shows in all their patterns. But so it does if most looked from the same side; so every third \
              reading leaves it in, and a person looks where it decides the mark. On plain paper, in `check`, and in smaller \
              classes it is the computed field alone. Where the field is the same all over, or the dots lead across it, a \
              shift shows nowhere: it may then be anything (3 mm, one standard deviation), and a person looks.",
        empty: "fewer than 6 steps from dot to dot",
        unsure: "scattered dots; a field that tells nothing of a shift; lines or dots that may be none",
    },
    Measure {
        name: "lines.kinks",
        unit: Unit::Count,
        range: (0.0, MANY),
        sentence: "Corners on the lines, as where dots were joined by ruled pieces instead of a smooth curve.",
        how: "Two straight pieces of 6 mm that meet in a corner of 12 degrees or more, and fit the drawn line better than an \
              arc does. Nine dots of a circle, joined by a ruler, have 7.",
        empty: "",
        unsure: "turns of about 12 degrees; lines that may be none",
    },
    Measure {
        name: "spacing.even",
        unit: Unit::Ratio,
        range: (1.0, MANY),
        sentence: "Inside a coil, and between plates of opposite charge: the largest gap between neighbouring lines over the \
                   smallest.",
        how: "On three cuts across the field: through a coil in its middle and a quarter of its length to either side; \
              along plates, a quarter, a half and three quarters of the way over, leaving out a quarter of that way at both \
              ends, where the field bulges. The median of the cuts with at least 3 lines. Gaps of 5, 10 and 15 mm give 3.",
        empty: "there is no coil and no such pair of plates, or no cut has 3 lines",
        unsure: "narrow gaps; lines that may be none",
    },
    Measure {
        name: "neutral.marked",
        unit: Unit::Share,
        range: (0.0, 1.0),
        sentence: "Share of the neutral points inside the frame that are marked: by a small cross, dot or ring within 6 mm.",
        how: "Two short strokes (about 3 to 8 mm) that cross, a dot or a ring, by itself and away from the lines. It is no line and \
              no meeting.",
        empty: "the panel has no neutral point at least 5 mm inside the frame",
        unsure: "marks that may be specks or writing; ink beside a neutral point that was read as nothing, as a head, \
                 a meeting, a dot or a short line",
    },
];

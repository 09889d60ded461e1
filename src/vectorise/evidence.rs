//! How sure it is that a candidate is an arrowhead, and which way it points: what speaks for it, and the weighing of it.

use super::heads::{Head, Ruler};
use super::strokes::Stroke;
use crate::drawing::THERE;
use crate::geometry::{Point, Vec2};

/// The quarters reach this far along the line and beside it, mm.
const ROUND_MM: (f64, f64) = (4.5, 3.5);
/// Things further away than this do not matter to a head, mm.
pub const ALONE_MM: f64 = 6.0;
/// Nothing is told more surely than the sample behind it allows.
pub(super) const MOST_SURE: f64 = 0.998;
pub(super) const MOST_UNSURE: f64 = 0.01;
/// Heads on one line whose tips are this near to each other, mm, are seldom both heads.
const CROWDED_MM: f64 = 12.0;

/// Whose a head may be whose strokes would make one on several lines.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Whose {
    /// Its strokes lean on one line alone.
    #[default]
    Its,
    /// This line's first, by how they lean on it.
    First,
    /// Another line's first.
    Other,
}

/// What speaks for a head; the sureness is computed from it alone.
#[derive(Clone, Copy, Debug, Default)]
pub struct Evidence {
    /// Ink that swells the line rather than strokes that stand clear of it.
    pub swelling: bool,
    /// Barbs, or patches beside the line.
    pub barbs: usize,
    /// Mean angle to the line, degrees.
    pub angle_deg: f64,
    /// Mean barb length, or length of the swelling, mm.
    pub length_mm: f64,
    /// Mean distance of the near ends from the line, mm.
    pub beside_mm: f64,
    /// Barbs that touch the line.
    pub attached: usize,
    /// Barbs that end beside print.
    pub at_print: usize,
    /// Patches: their area, mm2, and how steadily they widen one way, -1 to 1 (the way's sign left out).
    pub area_mm2: f64,
    pub lean: f64,
    /// Distance of the tip from the next other line, mm, at most [`ALONE_MM`].
    pub other_line_mm: f64,
    /// Distance of the tip from its line's nearer end, mm, at most [`ALONE_MM`]; below 0 beyond the end.
    pub end_mm: f64,
    /// Ink that no line explains round the tip.
    pub round: Round,
    pub whose: Whose,
}

/// Ink that no line explains in the four quarters round a tip, mm2: behind it and ahead of it, on the side with more of it
/// behind and on the other.
#[derive(Clone, Copy, Debug, Default)]
pub struct Round {
    pub behind: [f64; 2],
    pub ahead: [f64; 2],
}

impl Round {
    /// `rest`: whether there is ink that no line explains; looked up every `step_mm`.
    fn of(ruler: &Ruler, tip_mm: f64, way: f64, rest: &impl Fn(Point) -> bool, step_mm: f64) -> Self {
        // Behind left, behind right, ahead left, ahead right.
        let mut quarters = [0.0; 4];
        let (along, beside) = ((ROUND_MM.0 / step_mm) as i32, (ROUND_MM.1 / step_mm) as i32);
        for k in -along..=along {
            let (at, on) = ruler.place(tip_mm + way * f64::from(k) * step_mm);
            let left = Vec2::new(on.y, -on.x);
            for d in -beside..=beside {
                if d != 0 && rest(at + f64::from(d) * step_mm * left) {
                    quarters[usize::from(k > 0) * 2 + usize::from(d < 0)] += step_mm * step_mm;
                }
            }
        }
        let [bl, br, al, ar] = quarters;
        if bl >= br {
            Self { behind: [bl, br], ahead: [al, ar] }
        } else {
            Self { behind: [br, bl], ahead: [ar, al] }
        }
    }
}

/// Looks round each head for ink that no line explains, and judges how sure it is.
pub fn judge(heads: &mut [Head], lines: &[Stroke], rest: impl Fn(Point) -> bool, step_mm: f64) {
    for head in heads {
        let ruler = Ruler::of(&lines[head.line].points);
        let Some((tip_mm, way)) = ruler.tip(&head.arrow) else { continue };
        head.evidence.round = Round::of(&ruler, tip_mm, way, &rest, step_mm);
        (head.arrow.sure, head.arrow.way_sure) = sureness(&head.evidence);
    }
}

/// That it is a head, and that it points this way.
///
/// Logistic regressions on candidates in generated drawings of five arrangements: 1160 single barbs (956 of them heads), 249
/// swellings (201), and for pairs of barbs an earlier 2300 candidates of all kinds (1556). Empirical, and to be held against
/// students' own drawings when there are some.
fn sureness(e: &Evidence) -> (f64, f64) {
    let print = e.at_print.min(1) as f64;
    let other = e.other_line_mm.min(3.0);
    let end = e.end_mm.clamp(-3.0, 3.0);
    // A head's own ink grows with the square of its size.
    let root = |areas: [f64; 2]| areas.map(|a| a.min(4.0).sqrt());
    let (behind, ahead) = (root(e.round.behind), root(e.round.ahead));
    let (sure, way) = match (e.swelling, e.barbs) {
        (false, 2) => {
            let steep = (e.angle_deg - 55.0).max(0.0) / 10.0;
            let z = -0.04 - 0.33 * print - 0.38 * e.beside_mm - 0.91 * steep
                + 0.77 * e.length_mm.min(4.0)
                + 1.1 * other
                - 0.13 * end;
            (z, 6.2 - steep)
        }
        (false, _) => {
            let steep = (e.angle_deg - 45.0).max(0.0) / 10.0;
            let slim = (18.0 - e.angle_deg).max(0.0) / 10.0;
            let z = -3.82 - 1.46 * print + 0.09 * e.length_mm.min(4.0)
                - 1.07 * e.beside_mm
                - 0.09 * steep
                - 2.64 * slim
                + 0.7 * other
                + 0.24 * end
                - 0.39 * e.end_mm.min(0.0)
                + 0.52 * e.attached as f64
                + 1.57 * (behind[0] + behind[1])
                + 0.22 * ahead[0]
                - 0.59 * ahead[1];
            let way = 0.33
                + 0.155 * e.length_mm.min(4.0)
                + 1.15 * e.beside_mm
                + 0.82 * e.attached as f64
                + 0.22 * end
                - 1.7 * print
                + 0.46 * other
                + 0.21 * z;
            (z, way)
        }
        (true, 2) => {
            let steep = (e.angle_deg - 45.0).max(0.0) / 10.0;
            let slim = (18.0 - e.angle_deg).max(0.0) / 10.0;
            let z = 0.06 - 2.45 * print - 0.34 * e.length_mm.min(4.0) - 0.66 * steep - 0.96 * slim
                + 0.79 * other
                - 0.06 * end
                + 0.9 * e.lean
                + 0.62 * e.area_mm2.min(4.0)
                + 1.13 * behind[0]
                + 0.9 * behind[1]
                - 2.04 * ahead[0]
                - 0.24 * ahead[1];
            (z, 2.2 + 3.0 * e.lean)
        }
        // Ink that swells a line on one side only is an uneven stroke 49 times in 50.
        (true, _) => (-3.9, 0.0),
    };
    (logistic(sure).clamp(MOST_UNSURE, MOST_SURE), logistic(way).clamp(0.5, MOST_SURE))
}

/// Weighs each head against the others on its line: one that has a line to itself is likelier a head than one beside a
/// sure head, and one close to a sure head hardly ever is.
///
/// Logistic regressions on the odds that the head has by itself (3876 candidates on generated drawings of five
/// arrangements, 3614 of them heads): empirical.
pub fn weigh_together(heads: &mut [Head]) {
    let alone: Vec<(usize, Point, f64)> = heads.iter().map(|h| (h.line, h.arrow.at, h.arrow.sure)).collect();
    for (i, head) in heads.iter_mut().enumerate() {
        let others = || alone.iter().enumerate().filter(|(j, o)| *j != i && o.0 == head.line).map(|(_, o)| o);
        let rival = others().map(|o| o.2).fold(0.0, f64::max);
        let sure = others().filter(|o| o.2 > THERE);
        let near = sure.map(|o| o.1.distance(head.arrow.at)).fold(CROWDED_MM, f64::min);
        let crowded = 1.0 - near / CROWDED_MM;
        let z = (head.arrow.sure / (1.0 - head.arrow.sure)).ln();
        let z = match (head.evidence.swelling, head.evidence.barbs) {
            (false, 2) => 2.83 + 0.9 * z - 1.46 * rival - 4.85 * crowded,
            (false, _) => 0.89 + 1.2 * z - 1.78 * rival - 4.33 * crowded,
            (true, 2) => 1.04 + 1.27 * z - 1.93 * rival - 4.25 * crowded,
            (true, _) => z,
        };
        head.arrow.sure = logistic(z).clamp(MOST_UNSURE, MOST_SURE);
    }
}

/// The probability whose odds have this logarithm.
pub fn logistic(z: f64) -> f64 {
    1.0 / (1.0 + (-z).exp())
}

/// Of heads on several lines that the same strokes would make at most one is there.
pub fn weigh_shared(heads: &mut [Head]) {
    let alone: Vec<f64> = heads.iter().map(|h| h.arrow.sure).collect();
    let odds = |i: usize| alone[i] / (1.0 - alone[i]);
    let contested: Vec<usize> = (0..heads.len()).filter(|&i| heads[i].evidence.whose != Whose::Its).collect();
    for &i in &contested {
        let rivals = contested.iter().copied().filter(|&j| j != i && heads[j].shares_strokes(&heads[i]));
        let against: f64 = rivals.map(odds).sum();
        heads[i].arrow.sure = (odds(i) / (1.0 + odds(i) + against)).clamp(MOST_UNSURE, MOST_SURE);
    }
}

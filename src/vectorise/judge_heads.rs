//! Candidates for arrowheads, judged by what they look like: no head, a head that points as the candidate does, one that
//! points the other way; and where its tip is.

use super::evidence::{Evidence, MOST_SURE, MOST_UNSURE, Whose, logistic};
use super::heads::{Head, Ruler};
use super::network::{Network, Shape, Told, odds};
use super::views::{ALONG, BESIDE, LAYERS, View};
use std::sync::LazyLock;

const SHAPE: Shape = Shape {
    layers: LAYERS,
    rows: BESIDE,
    columns: ALONG,
    evidence: EVIDENCE,
    convolutions: [(5, 2, 16), (3, 1, 24), (3, 2, 32), (3, 2, 48)],
    full: [48, 32],
    places: true,
};
static NETWORK: LazyLock<Network> = LazyLock::new(|| Network::read(&SHAPE, include_bytes!("heads.weights")));

/// Numbers of the evidence that the network is given.
const EVIDENCE: usize = 18;
/// Of a head that swells its line the odds of its way are trusted by this share of their logarithm: few of its training
/// drawings' heads point another way than the candidate, and a sure wrong way costs a mark. Empirical: of 371 such heads of
/// classes that were held out the network told 4 the wrong way; the log loss of their way is 0.049 with half the logarithm,
/// 0.031 with 0.7 of it, 0.026 with all: little is lost by doubting more.
const SWELLING_WAY: f64 = 0.8;

/// A tip is taken to be no further from its candidate's than this, mm: a long head's length.
const MOST_AHEAD_MM: f64 = 8.0;

/// Judges a candidate by its view and its evidence: how sure it is, which way it points, how sure that is, and where on its
/// line's ruler its tip is. Its sureness so far is that by its evidence alone, and
/// stays so where it stands too far from the line.
pub(super) fn judge(view: &View, ruler: &Ruler, head: &mut Head) {
    let arrow = &mut head.arrow;
    let Some((tip_mm, way)) = ruler.tip(arrow) else { return };
    let Told { chances: [none, this, other], ahead_mm } =
        NETWORK.tell(view, &told(&head.evidence, arrow.sure, arrow.way_sure));
    let (at, along) = ruler.arrow(tip_mm + way * ahead_mm.clamp(-MOST_AHEAD_MM, MOST_AHEAD_MM));
    arrow.at = at;
    arrow.towards = if other > this { -way } else { way } * along;
    arrow.sure = (1.0 - none).clamp(MOST_UNSURE, MOST_SURE);
    let odds = (this.max(other) / this.min(other).max(f64::MIN_POSITIVE)).ln();
    let trusted = if head.evidence.swelling { SWELLING_WAY } else { 1.0 };
    arrow.way_sure = logistic(trusted * odds).clamp(0.5, MOST_SURE);
}

/// The evidence as the network takes it, each number of a size about 1.
fn told(e: &Evidence, sure: f64, way_sure: f64) -> [f32; EVIDENCE] {
    let root = |area: f64| area.min(4.0).sqrt();
    [
        f64::from(u8::from(e.swelling)),
        e.barbs as f64 - 1.0,
        e.angle_deg / 45.0,
        e.length_mm.min(6.0) / 4.0,
        e.beside_mm,
        e.attached as f64 / 2.0,
        e.at_print.min(1) as f64,
        e.area_mm2.min(4.0) / 2.0,
        e.lean,
        e.other_line_mm / 3.0,
        e.end_mm / 3.0,
        root(e.round.behind[0]),
        root(e.round.behind[1]),
        root(e.round.ahead[0]),
        root(e.round.ahead[1]),
        odds(sure),
        odds(way_sure),
        match e.whose {
            Whose::Its => 0.0,
            Whose::First => 1.0,
            Whose::Other => -1.0,
        },
    ]
    .map(|v| v as f32)
}

#[cfg(test)]
mod tests {
    use super::super::views::CELL_MM;
    use super::*;

    fn chances(view: &View, evidence: [f32; EVIDENCE]) -> [f64; 3] {
        NETWORK.tell(view, &evidence).chances
    }

    /// Against PyTorch 2.15 with the same weights: benches/training/heads.py prints these four.
    #[test]
    fn chances_are_those_of_another_library() {
        let view: View = std::array::from_fn(|i| if i * 37 % 101 < 9 { 1.0 } else { 0.0 });
        let evidence: [f32; EVIDENCE] = std::array::from_fn(|k| k as f32 / 10.0 - 0.5);
        let Told { chances, ahead_mm } = NETWORK.tell(&view, &evidence);
        let expected = [0.976_710_62, 0.008_977_31, 0.014_312_00];
        assert!(chances.iter().zip(expected).all(|(f, e)| (f - e).abs() < 2e-6), "{chances:?}");
        assert!((ahead_mm - 0.752_440_81).abs() < 2e-6, "{ahead_mm}");
    }

    /// A level line, and strokes from its tip that run back by so many mm and aside by so many.
    fn drawn(strokes: &[(f64, f64)]) -> View {
        drawn_at(0.0, strokes)
    }

    /// The same, the tip so many mm ahead of the candidate's.
    fn drawn_at(ahead_mm: f64, strokes: &[(f64, f64)]) -> View {
        let (layer, tip) = (BESIDE * ALONG, 25.0 + ahead_mm / CELL_MM);
        let mut view = [0.0; LAYERS * BESIDE * ALONG];
        let middle = BESIDE / 2;
        (0..2 * ALONG).for_each(|i| view[(middle - 1 + i / ALONG) * ALONG + i % ALONG] = 1.0);
        for (back, aside) in strokes {
            for k in 0..=40 {
                let share = f64::from(k) / 40.0;
                let column = (tip - share * back / CELL_MM).round() as usize;
                let row = (middle as f64 + share * aside / CELL_MM).round() as usize;
                for i in [row * ALONG + column, (row - 1) * ALONG + column] {
                    view[i] = 1.0;
                    if row + 1 < middle || row > middle + 1 {
                        view[layer + i] = 1.0;
                    }
                }
            }
        }
        // As dark as the page's usual ink.
        (0..layer).for_each(|i| view[(LAYERS - 1) * layer + i] = 0.5 * view[i]);
        view
    }

    fn two_barbs_in_the_clear() -> Evidence {
        Evidence {
            barbs: 2,
            angle_deg: 33.0,
            length_mm: 3.6,
            attached: 2,
            other_line_mm: 6.0,
            end_mm: 6.0,
            ..Evidence::default()
        }
    }

    #[test]
    fn a_tip_is_where_its_strokes_meet() {
        let evidence = two_barbs_in_the_clear();
        // The candidate's tip, at 20 mm, is seen in column 25; the strokes' meet so far ahead of it, or behind.
        let line: Vec<_> = (0..=80).map(|k| crate::geometry::Point::new(0.5 * f64::from(k), 0.0)).collect();
        let ruler = Ruler::of(&line);
        let tip = |ahead: f64| {
            let towards = crate::geometry::Vec2::new(-1.0, 0.0);
            let arrow = crate::drawing::Arrow { at: line[40], towards, sure: 0.95, way_sure: 0.9 };
            let mut head = Head { line: 0, arrow, strokes: Vec::new(), evidence };
            judge(&drawn_at(ahead, &[(3.0, 2.0), (3.0, -2.0)]), &ruler, &mut head);
            (20.0 - head.arrow.at.x, head.arrow.towards.x)
        };
        for ahead in [-0.6, 0.6, 1.5] {
            let (found, towards) = tip(ahead);
            assert!((found - ahead).abs() < 0.45 && towards < -0.99, "{ahead}: {found} {towards}");
        }
    }

    #[test]
    fn the_way_of_a_swelling_is_told_less_surely() {
        let way = |swelling: bool| {
            let evidence =
                Evidence { swelling, barbs: 2, length_mm: 3.6, attached: 2, ..Evidence::default() };
            let towards = crate::geometry::Vec2::new(1.0, 0.0);
            let at = crate::geometry::Point::ZERO;
            let arrow = crate::drawing::Arrow { at, towards, sure: 0.95, way_sure: 0.9 };
            let mut head = Head { line: 0, arrow, strokes: Vec::new(), evidence };
            let line = [-20.0, 0.0, 20.0].map(|x| crate::geometry::Point::new(x, 0.0));
            let view = drawn(&[(3.0, 2.0), (3.0, -2.0)]);
            let [_, this, other] = chances(&view, told(&evidence, 0.95, 0.9));
            judge(&view, &Ruler::of(&line), &mut head);
            (head.arrow.way_sure, this.max(other) / (this + other))
        };
        let ((plain, as_told), (swelling, told_surer)) = (way(false), way(true));
        assert!((plain - as_told.min(MOST_SURE)).abs() < 1e-9, "{plain} {as_told}");
        assert!(swelling < told_surer && told_surer < 1.0, "{swelling} {told_surer}");
    }

    #[test]
    fn a_head_is_told_from_a_cross() {
        let evidence = two_barbs_in_the_clear();
        let seen = |strokes: &[(f64, f64)]| chances(&drawn(strokes), told(&evidence, 0.95, 0.9));
        let [none, this, _] = seen(&[(3.0, 2.0), (3.0, -2.0)]);
        assert!(none < 0.1 && this > 0.9, "an open head: {none} {this}");
        let [cross, ..] = seen(&[(3.0, 2.0), (3.0, -2.0), (-3.0, 2.0), (-3.0, -2.0)]);
        assert!(cross > none, "a cross is less likely a head: {cross} {none}");
    }
}

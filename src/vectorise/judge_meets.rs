//! Places where lines may meet, judged by what they look like: no meeting, a near touch that the drawing leaves open, one that
//! anybody would call a meeting.

use super::evidence::{MOST_SURE, MOST_UNSURE};
use super::meets::Candidate;
use super::network::{Network, Shape, odds};
use super::views::{PLACE_LAYERS, PLACE_SIDE, PlaceView};
use crate::drawing::MeetKind;
use std::sync::LazyLock;

const SHAPE: Shape = Shape {
    layers: PLACE_LAYERS,
    rows: PLACE_SIDE,
    columns: PLACE_SIDE,
    evidence: EVIDENCE,
    convolutions: [(5, 2, 8), (3, 2, 16), (3, 2, 24), (3, 1, 24)],
    full: [24, 24],
    places: false,
};
static NETWORK: LazyLock<Network> = LazyLock::new(|| Network::read(&SHAPE, include_bytes!("meets.weights")));

/// Numbers of the evidence that the network is given.
const EVIDENCE: usize = 17;

/// The chance that a meeting is one to anybody, below which it is told as none.
const HARDLY: f64 = 0.1;

/// Judges a place by its view and its evidence: how surely lines meet there. Its sureness so far is that by its evidence
/// alone.
///
/// Of what the drawing leaves open neither answer is wrong. It is told as no meeting where hardly anybody would call it one;
/// else, where the likelier of the two others is that they meet, all that speaks against it is that they do not.
pub(super) fn judge(view: &PlaceView, candidate: &mut Candidate) {
    let [none, _, meets] = NETWORK.tell(view, &told(candidate)).chances;
    let sure = if meets >= none.max(HARDLY) { 1.0 - none } else { meets };
    candidate.meeting.sure = sure.clamp(MOST_UNSURE, MOST_SURE);
}

/// The evidence as the network takes it, each number of a size about 1.
fn told(Candidate { meeting: m, evidence: e, .. }: &Candidate) -> [f32; EVIDENCE] {
    let is = |what: bool| f64::from(u8::from(what));
    [
        e.nearer_mm.clamp(-0.5, 1.0),
        is(e.swelling == 1),
        is(e.swelling == 2),
        e.apart_mm.min(20.0) / 10.0,
        e.run_mm.min(20.0) / 10.0,
        e.near as f64,
        e.head_mm / 5.0,
        e.end_mm / 5.0,
        e.shorter_mm / 12.0,
        e.width_mm,
        e.wider.min(3.0) - 1.0,
        e.traced[0],
        e.traced[1],
        e.angle_deg / 45.0,
        is(m.kind == MeetKind::Touch),
        is(m.lines.0 == m.lines.1),
        odds(m.sure),
    ]
    .map(|v| v as f32)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::vectorise::views::PLACE_CELL_MM;

    /// Against PyTorch 2.15 with the same weights: benches/training/meets.py prints these three.
    #[test]
    fn chances_are_those_of_another_library() {
        let view: PlaceView = std::array::from_fn(|i| if i * 37 % 101 < 9 { 1.0 } else { 0.0 });
        let evidence: [f32; EVIDENCE] = std::array::from_fn(|k| k as f32 / 10.0 - 0.5);
        let found = NETWORK.tell(&view, &evidence).chances;
        let expected = [0.400_433_63, 0.424_544_84, 0.175_021_48];
        assert!(found.iter().zip(expected).all(|(f, e)| (f - e).abs() < 2e-6), "{found:?}");
    }

    /// Two straight lines half a millimetre wide through the middle of the view, with these slopes, and the second so far
    /// below it, mm.
    fn drawn(slopes: [f64; 2], below_mm: f64) -> PlaceView {
        let mut view = [0.0; PLACE_LAYERS * PLACE_SIDE * PLACE_SIDE];
        let (layer, middle) = (PLACE_SIDE * PLACE_SIDE, 0.5 * PLACE_SIDE as f64);
        for (line, slope, off) in [(2, slopes[0], 0.0), (3, slopes[1], below_mm / PLACE_CELL_MM)] {
            for column in 0..PLACE_SIDE {
                let row = slope * (column as f64 + 0.5 - middle) + middle + off;
                if !(1.0..PLACE_SIDE as f64 - 1.0).contains(&row) {
                    continue;
                }
                view[line * layer + row as usize * PLACE_SIDE + column] = 1.0;
                for at in [(row - 0.5) as usize, (row + 0.5) as usize] {
                    view[at * PLACE_SIDE + column] = 1.0;
                    view[(PLACE_LAYERS - 1) * layer + at * PLACE_SIDE + column] = 0.5;
                }
            }
        }
        view
    }

    #[test]
    fn lines_with_white_between_do_not_meet_as_lines_that_cross_do() {
        let sure = |kind: MeetKind, slopes: [f64; 2], below_mm: f64| {
            let at = crate::geometry::Point::ZERO;
            let meeting = crate::drawing::Meeting { at, run: [at, at], kind, lines: (0, 1), sure: 0.9 };
            let evidence = crate::vectorise::meets::Evidence {
                nearer_mm: 0.5 - below_mm,
                head_mm: 10.0,
                end_mm: 10.0,
                shorter_mm: 25.0,
                width_mm: 0.5,
                wider: 1.1,
                traced: [0.97, 0.99],
                angle_deg: (slopes[1] - slopes[0]).atan().to_degrees(),
                ..Default::default()
            };
            let way = crate::geometry::Vec2::new(1.0, 0.0);
            let mut candidate = Candidate { meeting, evidence, way };
            judge(&drawn(slopes, below_mm), &mut candidate);
            candidate.meeting.sure
        };
        let (cross, apart) =
            (sure(MeetKind::Cross, [-0.2, 0.2], 0.0), sure(MeetKind::Touch, [0.0, 0.0], 1.1));
        assert!(cross > 0.9 && apart < 0.1, "{cross} {apart}");
    }
}

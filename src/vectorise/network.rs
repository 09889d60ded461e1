//! A small convolutional network that tells arrowheads from what only looks like one, by their [`View`] and [`Evidence`].
//!
//! LeCun Y et al. (1998) Proc. IEEE 86, 2278-2324: four convolutions with rectifiers, then three full layers; the
//! evidence that is measured comes in before the last two. Trained on generated drawings by
//! benches/training/heads.py, which also writes the weights. What is told: no head, a head that points as the
//! candidate does, one that points the other way.

use super::evidence::{Evidence, MOST_SURE, MOST_UNSURE, logistic};
use super::heads::Head;
use super::views::{ALONG, BESIDE, LAYERS, View};
use std::sync::LazyLock;

/// Little-endian f32: each layer's weights, then its biases, in the order of [`Network`]'s fields. A convolution's
/// weights: rows of the kernel, its columns, layers in, layers out. A full layer's: numbers in, numbers out.
static WEIGHTS: &[u8] = include_bytes!("heads.weights");
static NETWORK: LazyLock<Network> = LazyLock::new(|| Network::read(WEIGHTS));

/// Numbers of the evidence that the network is given.
const EVIDENCE: usize = 17;
/// Layers out of each convolution, and numbers out of the full layers.
const OUT: [usize; 4] = [8, 12, 16, 24];
const FULL: [usize; 3] = [24, 24, 3];
/// The logarithm of odds is given no further from 0 than this: that of 999 to 1.
const MOST_ODDS: f64 = 6.906_754_778_648_554;
/// Of a head that swells its line the odds of its way are trusted by this share of their logarithm. Empirical: of
/// 1200 heads of classes that were held out all 6 that the network told the wrong way were among 106 such; so
/// tempered they are right as often as told.
const SWELLING_WAY: f64 = 0.5;

struct Network {
    convolutions: [Convolution; 4],
    full: [Full; 3],
}

struct Convolution {
    side: usize,
    step: usize,
    weights: Vec<f32>,
    biases: Vec<f32>,
}

struct Full {
    weights: Vec<f32>,
    biases: Vec<f32>,
}

/// Rows of cells, each with its layers side by side.
struct Picture {
    rows: usize,
    columns: usize,
    layers: usize,
    cells: Vec<f32>,
}

impl Network {
    fn read(bytes: &[u8]) -> Self {
        let mut numbers =
            bytes.as_chunks::<4>().0.iter().map(|b| f32::from_le_bytes(*b)).collect::<Vec<_>>().into_iter();
        let mut take = |n: usize| numbers.by_ref().take(n).collect::<Vec<f32>>();
        let mut ins = LAYERS;
        let convolutions =
            [(5, 2), (3, 1), (3, 2), (3, 2)].into_iter().zip(OUT).map(|((side, step), out)| {
                let weights = take(side * side * ins * out);
                let read = Convolution { side, step, weights, biases: take(out) };
                ins = out;
                read
            });
        let convolutions: Vec<Convolution> = convolutions.collect();
        let seen = OUT[3] * BESIDE.div_ceil(8) * ALONG.div_ceil(8);
        let full = [seen, FULL[0] + EVIDENCE, FULL[1]].into_iter().zip(FULL);
        let full: Vec<Full> =
            full.map(|(ins, out)| Full { weights: take(ins * out), biases: take(out) }).collect();
        match (convolutions.try_into(), full.try_into()) {
            (Ok(convolutions), Ok(full)) => Self { convolutions, full },
            _ => unreachable!("as many layers as were asked for"),
        }
    }
}

impl Convolution {
    /// Cells beyond the picture are 0; what comes out below 0 is 0.
    fn of(&self, picture: &Picture) -> Picture {
        let (ins, out, half) = (picture.layers, self.biases.len(), self.side / 2);
        let (rows, columns) = (picture.rows.div_ceil(self.step), picture.columns.div_ceil(self.step));
        let mut cells = Vec::with_capacity(rows * columns * out);
        for r in 0..rows {
            for c in 0..columns {
                let from = cells.len();
                cells.extend_from_slice(&self.biases);
                let sums: &mut [f32] = &mut cells[from..];
                for a in 0..self.side {
                    let Some(y) = (r * self.step + a).checked_sub(half).filter(|y| *y < picture.rows) else {
                        continue;
                    };
                    for b in 0..self.side {
                        let Some(x) = (c * self.step + b).checked_sub(half).filter(|x| *x < picture.columns)
                        else {
                            continue;
                        };
                        let at = (y * picture.columns + x) * ins;
                        let tap = (a * self.side + b) * ins * out;
                        add(&picture.cells[at..at + ins], &self.weights[tap..], sums);
                    }
                }
                sums.iter_mut().for_each(|v| *v = v.max(0.0));
            }
        }
        Picture { rows, columns, layers: out, cells }
    }
}

impl Full {
    fn of(&self, numbers: &[f32]) -> Vec<f32> {
        let mut sums = self.biases.clone();
        add(numbers, &self.weights, &mut sums);
        sums
    }
}

/// Adds each number times its weights to the sums. Most numbers are 0: white paper.
fn add(numbers: &[f32], weights: &[f32], sums: &mut [f32]) {
    for (number, weights) in numbers.iter().zip(weights.chunks_exact(sums.len())) {
        if *number != 0.0 {
            sums.iter_mut().zip(weights).for_each(|(s, w)| *s += number * w);
        }
    }
}

/// Judges a candidate by its view and its evidence: how sure it is, which way it points, and how sure that is. Its
/// sureness so far is that by its evidence alone.
pub(super) fn judge(view: &View, head: &mut Head) {
    let arrow = &mut head.arrow;
    let [none, this, other] = chances(view, told(&head.evidence, arrow.sure, arrow.way_sure));
    if other > this {
        arrow.towards = -arrow.towards;
    }
    arrow.sure = (1.0 - none).clamp(MOST_UNSURE, MOST_SURE);
    let odds = (this.max(other) / this.min(other).max(f64::MIN_POSITIVE)).ln();
    let trusted = if head.evidence.swelling { SWELLING_WAY } else { 1.0 };
    arrow.way_sure = logistic(trusted * odds).clamp(0.5, MOST_SURE);
}

/// The chances of no head, of one that points as the candidate does, of one that points the other way.
fn chances(view: &View, evidence: [f32; EVIDENCE]) -> [f64; 3] {
    let network = &*NETWORK;
    let layer = BESIDE * ALONG;
    let cells = (0..layer).flat_map(|i| (0..LAYERS).map(move |l| view[l * layer + i])).collect();
    let seen = Picture { rows: BESIDE, columns: ALONG, layers: LAYERS, cells };
    let seen = network.convolutions.iter().fold(seen, |picture, layer| layer.of(&picture));
    let rectified = |mut numbers: Vec<f32>| {
        numbers.iter_mut().for_each(|v| *v = v.max(0.0));
        numbers
    };
    let mut numbers = rectified(network.full[0].of(&seen.cells));
    numbers.extend(evidence);
    let last = network.full[2].of(&rectified(network.full[1].of(&numbers)));
    let odds: [f64; 3] = std::array::from_fn(|i| f64::from(last[i]));
    let most = odds.iter().copied().fold(f64::MIN, f64::max);
    let shares = odds.map(|z| (z - most).exp());
    let sum: f64 = shares.iter().sum();
    shares.map(|s| s / sum)
}

/// The evidence as the network takes it, each number of a size about 1.
fn told(e: &Evidence, sure: f64, way_sure: f64) -> [f32; EVIDENCE] {
    let root = |area: f64| area.min(4.0).sqrt();
    let odds = |p: f64| (p / (1.0 - p)).ln().clamp(-MOST_ODDS, MOST_ODDS) / 3.0;
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
    ]
    .map(|v| v as f32)
}

#[cfg(test)]
mod tests {
    use super::super::views::CELL_MM;
    use super::*;

    /// Against PyTorch 2.15 with the same weights: benches/training/heads.py prints these three.
    #[test]
    fn chances_are_those_of_another_library() {
        let view: View = std::array::from_fn(|i| if i * 37 % 101 < 9 { 1.0 } else { 0.0 });
        let evidence = std::array::from_fn(|k| k as f32 / 10.0 - 0.5);
        let found = chances(&view, evidence);
        let expected = [0.360_355_26, 0.193_389_64, 0.446_255_12];
        assert!(found.iter().zip(expected).all(|(f, e)| (f - e).abs() < 2e-6), "{found:?}");
    }

    /// A level line, and strokes from its tip that run back by so many mm and aside by so many.
    fn drawn(strokes: &[(f64, f64)]) -> View {
        let (layer, tip) = (BESIDE * ALONG, 25.0);
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
        view
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
            let view = drawn(&[(3.0, 2.0), (3.0, -2.0)]);
            let [_, this, other] = chances(&view, told(&evidence, 0.95, 0.9));
            judge(&view, &mut head);
            (head.arrow.way_sure, this.max(other) / (this + other))
        };
        let ((plain, as_told), (swelling, told_surer)) = (way(false), way(true));
        assert!((plain - as_told.min(MOST_SURE)).abs() < 1e-9, "{plain} {as_told}");
        assert!(swelling < told_surer && told_surer < 1.0, "{swelling} {told_surer}");
    }

    #[test]
    fn a_head_is_told_from_a_cross() {
        let evidence = Evidence {
            barbs: 2,
            angle_deg: 33.0,
            length_mm: 3.6,
            attached: 2,
            other_line_mm: 6.0,
            end_mm: 6.0,
            ..Evidence::default()
        };
        let seen = |strokes: &[(f64, f64)]| chances(&drawn(strokes), told(&evidence, 0.95, 0.9));
        let [none, this, _] = seen(&[(3.0, 2.0), (3.0, -2.0)]);
        assert!(none < 0.1 && this > 0.9, "an open head: {none} {this}");
        let [cross, ..] = seen(&[(3.0, 2.0), (3.0, -2.0), (-3.0, 2.0), (-3.0, -2.0)]);
        assert!(cross > none, "a cross is less likely a head: {cross} {none}");
    }
}

//! Small convolutional networks that tell things on paper from what only looks like them, by a picture of the place and what
//! is measured there.
//!
//! LeCun Y et al. (1998) Proc. IEEE 86, 2278-2324: four convolutions with rectifiers, then three full layers; the
//! evidence that is measured comes in before the last two. Trained on generated drawings by
//! benches/training/, which also writes the weights. What is told are the chances of three things that exclude each other, and
//! where on its line the thing lies, if the network was trained for that.

/// What a network is given and how it is built.
pub(super) struct Shape {
    /// Of the picture.
    pub layers: usize,
    pub rows: usize,
    pub columns: usize,
    /// How many numbers of evidence.
    pub evidence: usize,
    /// Of each convolution: the side of its kernel, its step, its layers out.
    pub convolutions: [(usize, usize, usize); 4],
    /// Numbers out of the full layers but the last.
    pub full: [usize; 2],
    /// It tells, too, how far along its line the thing lies from where it was looked for.
    pub places: bool,
}

/// Things that the last layer tells the chances of.
const TOLD: usize = 3;

/// What a network tells.
pub(super) struct Told {
    pub chances: [f64; TOLD],
    /// mm; 0 from a network that does not tell it.
    pub ahead_mm: f64,
}

pub(super) struct Network {
    shape: &'static Shape,
    convolutions: Vec<Convolution>,
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
    /// From little-endian f32: each layer's weights, then its biases. A convolution's weights: rows of the kernel, its
    /// columns, layers in, layers out. A full layer's: numbers in, numbers out.
    pub fn read(shape: &'static Shape, bytes: &[u8]) -> Self {
        let mut numbers =
            bytes.as_chunks::<4>().0.iter().map(|b| f32::from_le_bytes(*b)).collect::<Vec<_>>().into_iter();
        let mut take = |n: usize| numbers.by_ref().take(n).collect::<Vec<f32>>();
        let (mut layers, mut rows, mut columns) = (shape.layers, shape.rows, shape.columns);
        let mut convolution = |(side, step, out): (usize, usize, usize)| {
            let weights = take(side * side * layers * out);
            (layers, rows, columns) = (out, rows.div_ceil(step), columns.div_ceil(step));
            Convolution { side, step, weights, biases: take(out) }
        };
        let convolutions = shape.convolutions.iter().map(|c| convolution(*c)).collect();
        let [first, second] = shape.full;
        let told = TOLD + usize::from(shape.places);
        let full = [(layers * rows * columns, first), (first + shape.evidence, second), (second, told)];
        let full = full.map(|(ins, out)| Full { weights: take(ins * out), biases: take(out) });
        Self { shape, convolutions, full }
    }

    /// `view`: layers of rows of cells, as many as the shape says; `evidence` likewise.
    pub fn tell(&self, view: &[f32], evidence: &[f32]) -> Told {
        let &Shape { layers, rows, columns, .. } = self.shape;
        let layer = rows * columns;
        let cells = (0..layer).flat_map(|i| (0..layers).map(move |l| view[l * layer + i])).collect();
        let seen = Picture { rows, columns, layers, cells };
        let seen = self.convolutions.iter().fold(seen, |picture, layer| layer.of(&picture));
        let rectified = |mut numbers: Vec<f32>| {
            numbers.iter_mut().for_each(|v| *v = v.max(0.0));
            numbers
        };
        let mut numbers = rectified(self.full[0].of(&seen.cells));
        numbers.extend(evidence);
        let last = self.full[2].of(&rectified(self.full[1].of(&numbers)));
        let odds: [f64; TOLD] = std::array::from_fn(|i| f64::from(last[i]));
        let most = odds.iter().copied().fold(f64::MIN, f64::max);
        let shares = odds.map(|z| (z - most).exp());
        let sum: f64 = shares.iter().sum();
        let ahead_mm = last.get(TOLD).map_or(0.0, |mm| f64::from(*mm));
        Told { chances: shares.map(|s| s / sum), ahead_mm }
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

/// The logarithm of odds is given to a network no further from 0 than this: that of 999 to 1.
const MOST_ODDS: f64 = 6.906_754_778_648_554;

/// A chance as a network takes it: the logarithm of its odds, of a size about 1.
pub(super) fn odds(p: f64) -> f64 {
    (p / (1.0 - p)).ln().clamp(-MOST_ODDS, MOST_ODDS) / 3.0
}

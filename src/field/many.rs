//! The fast form at many places: the same arithmetic in chunks that the compiler turns into vector code.
//!
//! Compiled twice, for the machine at hand and for wide (AVX2) registers, chosen when it runs. Since nothing
//! is fused or reordered, both give the same bits, and a place's answer does not depend on its neighbours.

use super::{Body, Field, Shape, Triple};

/// Places worked together: small enough for the first cache, large enough to pay for the loop.
const CHUNK: usize = 64;

/// Places or flux densities, a list a component.
#[derive(Clone, Copy)]
struct Chunk {
    x: [f64; CHUNK],
    y: [f64; CHUNK],
    z: [f64; CHUNK],
}

impl Chunk {
    fn all(v: Triple) -> Self {
        Self { x: [v[0]; CHUNK], y: [v[1]; CHUNK], z: [v[2]; CHUNK] }
    }
}

/// Flux density at one place.
pub(super) fn one(field: &Field, p: Triple) -> Triple {
    let mut sum = field.background;
    for body in &field.bodies {
        let q = body.inwards(p);
        let b = match &body.shape {
            Shape::Cuboid(s) => s.b_fast(q),
            Shape::ChargedRectangle(s) => s.b_fast(q),
            Shape::CylinderAxial(s) => s.b_fast(q),
            Shape::CylinderDiametral(s) if s.is_near_axis(q) => s.near_axis(q),
            Shape::CylinderDiametral(s) => s.b_fast(q),
            Shape::Sphere(s) => s.b_fast(q),
            Shape::Dipole(s) => s.b_fast(q),
        };
        sum = super::add(sum, body.outwards(b));
    }
    sum
}

/// Flux density at many places.
pub(super) fn many(field: &Field, places: &[Triple], out: &mut [Triple]) {
    assert_eq!(places.len(), out.len(), "a place for every answer");
    for (places, out) in places.chunks(CHUNK).zip(out.chunks_mut(CHUNK)) {
        if places.len() < 4 {
            for (p, o) in places.iter().zip(out) {
                *o = one(field, *p);
            }
            continue;
        }
        // Unused lanes repeat the last place.
        let mut chunk = Chunk::all(places[places.len() - 1]);
        for (i, p) in places.iter().enumerate() {
            (chunk.x[i], chunk.y[i], chunk.z[i]) = (p[0], p[1], p[2]);
        }
        let used = places.len().next_multiple_of(8);
        let mut sum = Chunk::all(field.background);
        run(field, &chunk, &mut sum, used);
        for (i, o) in out.iter_mut().enumerate() {
            *o = [sum.x[i], sum.y[i], sum.z[i]];
        }
    }
}

fn run(field: &Field, p: &Chunk, sum: &mut Chunk, used: usize) {
    #[cfg(target_arch = "x86_64")]
    if std::arch::is_x86_feature_detected!("avx2") {
        // SAFETY: the processor has just said that it knows these instructions.
        unsafe { run_wide(field, p, sum, used) };
        return;
    }
    run_plainly(field, p, sum, used);
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2")]
fn run_wide(field: &Field, p: &Chunk, sum: &mut Chunk, used: usize) {
    run_plainly(field, p, sum, used);
}

#[inline(always)]
fn run_plainly(field: &Field, p: &Chunk, sum: &mut Chunk, used: usize) {
    for body in &field.bodies {
        match body.shape {
            Shape::Cuboid(s) => each(body, p, sum, used, |q| s.b_fast(q)),
            Shape::ChargedRectangle(s) => each(body, p, sum, used, |q| s.b_fast(q)),
            Shape::CylinderAxial(s) => each(body, p, sum, used, |q| s.b_fast(q)),
            Shape::CylinderDiametral(s) => {
                let before = *sum;
                each(body, p, sum, used, |q| s.b_fast(q));
                for i in 0..used {
                    let q = body.inwards([p.x[i], p.y[i], p.z[i]]);
                    if s.is_near_axis(q) {
                        let b = body.outwards(s.near_axis(q));
                        (sum.x[i], sum.y[i], sum.z[i]) =
                            (before.x[i] + b[0], before.y[i] + b[1], before.z[i] + b[2]);
                    }
                }
            }
            Shape::Sphere(s) => each(body, p, sum, used, |q| s.b_fast(q)),
            Shape::Dipole(s) => each(body, p, sum, used, |q| s.b_fast(q)),
        }
    }
}

/// Adds one body's part. The loop has no branch and no call: it becomes vector code.
#[inline(always)]
fn each(body: &Body, p: &Chunk, sum: &mut Chunk, used: usize, b_fast: impl Fn(Triple) -> Triple) {
    let body = *body;
    for i in 0..used.min(CHUNK) {
        let b = body.outwards(b_fast(body.inwards([p.x[i], p.y[i], p.z[i]])));
        sum.x[i] += b[0];
        sum.y[i] += b[1];
        sum.z[i] += b[2];
    }
}

#[cfg(test)]
mod tests {
    use super::super::*;
    use super::*;
    use proptest::prelude::*;

    fn bodies() -> Vec<Body> {
        let shapes = [
            Shape::Cuboid(Cuboid { size: [50., 15., 10.], polarisation: 400. }),
            Shape::ChargedRectangle(ChargedRectangle { width: 16., height: 10., charge: -400. }),
            Shape::CylinderAxial(CylinderAxial { diameter: 8., length: 50., polarisation: 1000. }),
            Shape::CylinderDiametral(CylinderDiametral { diameter: 30., length: 6., polarisation: 1200. }),
            Shape::Sphere(Sphere { diameter: 60., polarisation: 90. }),
            Shape::Dipole(Dipole { strength: 1e5 }),
        ];
        shapes
            .into_iter()
            .enumerate()
            .map(|(i, s)| {
                let centre = [i as f64 * 7.0, -3.0 * i as f64, 0.0];
                if i == 2 { Body::lying(s, centre, 70.0) } else { Body::turned(s, centre, 35.0 * i as f64) }
            })
            .collect()
    }

    fn size(b: Triple) -> f64 {
        b.iter().map(|v| v * v).sum::<f64>().sqrt()
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(400))]

        #[test]
        fn fast_equals_plain(
            p in prop::array::uniform3(-160.0..160.0f64), near in prop::array::uniform3(-30.0..30.0f64)
        ) {
            for body in bodies() {
                let field = Field { bodies: vec![body], background: [0.0; 3] };
                for p in [p, near, [near[0], near[1], 0.0]] {
                    let (a, b) = (field.b_plain(p), field.b(p));
                    let far = size([a[0] - b[0], a[1] - b[1], a[2] - b[2]]);
                    prop_assert!(far < 1e-10 * size(a) + 1e-12, "{:?} {:?}: {:?} {:?}", body.shape, p, a, b);
                }
            }
        }

        #[test]
        fn many_equal_one_bit_for_bit(seed in 0..1000u32, n in 0..150usize) {
            let field = Field { bodies: bodies(), background: [0.01, -0.018, 0.0] };
            let places: Vec<Triple> = (0..n)
                .map(|i| {
                    let t = (i as u32 * 37 + seed) as f64;
                    [70.0 * (t * 0.7).sin(), 60.0 * (t * 0.31).cos(), 3.0 * (t * 0.11).sin()]
                })
                .collect();
            let mut out = vec![[0.0; 3]; n];
            field.b_many(&places, &mut out);
            for (p, o) in places.iter().zip(&out) {
                prop_assert_eq!(*o, field.b(*p));
            }
        }
    }

    /// Level with a face or an edge, on an axis, in a plane of symmetry: where branches would be taken. On an
    /// edge itself (infinite, so told by size) the two may differ.
    #[test]
    fn fast_equals_plain_in_special_places() {
        for body in bodies() {
            let straight =
                Body { axes: [[1., 0., 0.], [0., 1., 0.], [0., 0., 1.]], centre: [0.0; 3], ..body };
            let field = Field { bodies: vec![straight], background: [0.0; 3] };
            for x in [0.0, 25.0, 15.0, 40.0, -8.0, -25.0] {
                for y in [0.0, 7.5, 8.0, -40.0] {
                    for z in [0.0, 5.0, 3.0, 25.0, -33.0] {
                        let (a, b) = (field.b_plain([x, y, z]), field.b([x, y, z]));
                        if size(a) < 1500.0 {
                            let far = size([a[0] - b[0], a[1] - b[1], a[2] - b[2]]);
                            assert!(
                                far < 1e-9 * size(a) + 1e-11,
                                "{:?} {x} {y} {z}: {a:?} {b:?}",
                                body.shape
                            );
                        }
                    }
                }
            }
        }
    }

    #[test]
    fn wide_and_plain_registers_give_the_same_bits() {
        let field = Field { bodies: bodies(), background: [0.01, -0.018, 0.0] };
        let mut p = Chunk::all([0.0; 3]);
        for i in 0..CHUNK {
            (p.x[i], p.y[i]) = (3.3 * i as f64 - 90.0, 41.0 - 1.7 * i as f64);
        }
        let (mut a, mut b) = (Chunk::all(field.background), Chunk::all(field.background));
        run(&field, &p, &mut a, CHUNK);
        run_plainly(&field, &p, &mut b, CHUNK);
        assert_eq!((a.x, a.y, a.z), (b.x, b.y, b.z));
    }
}

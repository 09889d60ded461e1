//! The fast form at one place and at many.
//!
//! Many places are worked eight side by side where the processor has AVX-512, four where it has AVX2, which is found out
//! when the program runs; else one after the other. All give the same bits, and a place's answer does not depend on its
//! neighbours.

use super::lane::Lane;
#[cfg(target_arch = "x86_64")]
use super::wide::{MOST, Wide};
use super::{Body, Field, Shape, Triple};

/// Flux density at one place.
#[inline(always)]
pub(super) fn one(field: &Field, p: Triple) -> Triple {
    let mut sum = field.background;
    for body in &field.bodies {
        let q = body.inwards(p);
        sum = super::add(sum, body.outwards(fast(body, q)));
    }
    sum
}

/// A body's fast form in its own axes.
#[inline(always)]
fn fast<L: Lane>(body: &Body, q: [L; 3]) -> [L; 3] {
    match &body.shape {
        Shape::Cuboid(s) => s.b_fast(q),
        Shape::ChargedRectangle(s) => s.b_fast(q),
        Shape::CylinderAxial(s) => s.b_fast(q),
        Shape::CylinderDiametral(s) => s.b_fast(q),
        Shape::Sphere(s) => s.b_fast(q),
        Shape::Dipole(s) => s.b_fast(q),
        Shape::Wire(s) => s.b_fast(q),
        Shape::PointCharge(s) => s.b_fast(q),
    }
}

/// Flux density at many places.
pub(super) fn many(field: &Field, places: &[Triple], out: &mut [Triple]) {
    assert_eq!(places.len(), out.len(), "a place for every answer");
    #[cfg(target_arch = "x86_64")]
    {
        if std::arch::is_x86_feature_detected!("avx512f") {
            // SAFETY: the processor has just said that it knows these instructions.
            return unsafe { eight_by_eight(field, places, out) };
        }
        if std::arch::is_x86_feature_detected!("avx2") {
            // SAFETY: the same.
            return unsafe { four_by_four(field, places, out) };
        }
    }
    one_by_one(field, places, out);
}

fn one_by_one(field: &Field, places: &[Triple], out: &mut [Triple]) {
    for (p, o) in places.iter().zip(out) {
        *o = one(field, *p);
    }
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2")]
fn four_by_four(field: &Field, places: &[Triple], out: &mut [Triple]) {
    side_by_side::<super::wide::Four>(field, places, out);
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx512f")]
fn eight_by_eight(field: &Field, places: &[Triple], out: &mut [Triple]) {
    side_by_side::<super::wide::Eight>(field, places, out);
}

// No closure here: one that is not inlined would be compiled without the wide registers.

#[cfg(target_arch = "x86_64")]
#[inline(always)]
fn side_by_side<W: Wide>(field: &Field, places: &[Triple], out: &mut [Triple]) {
    let whole = places.len() - places.len() % W::COUNT;
    let (places, rest) = places.split_at(whole);
    let (out, out_rest) = out.split_at_mut(whole);
    let of = field.background;
    for (p, o) in places.chunks_exact(W::COUNT).zip(out.chunks_exact_mut(W::COUNT)) {
        let [mut x, mut y, mut z] = [[0.0; MOST]; 3];
        for i in 0..W::COUNT {
            [x[i], y[i], z[i]] = p[i];
        }
        let q = [W::load(&x), W::load(&y), W::load(&z)];
        let mut sum = [W::of(of[0]), W::of(of[1]), W::of(of[2])];
        for body in &field.bodies {
            let b = body.outwards(fast(body, body.inwards(q)));
            sum = [sum[0] + b[0], sum[1] + b[1], sum[2] + b[2]];
        }
        sum[0].store(&mut x);
        sum[1].store(&mut y);
        sum[2].store(&mut z);
        for i in 0..W::COUNT {
            o[i] = [x[i], y[i], z[i]];
        }
    }
    one_by_one(field, rest, out_rest);
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
            Shape::Wire(Wire { strength: 1.0 }),
            Shape::PointCharge(PointCharge { strength: -9e4 }),
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

    /// Side by side or one after the other, off a rim or not.
    #[test]
    fn wide_and_narrow_registers_give_the_same_bits() {
        let field = Field { bodies: bodies(), background: [0.01, -0.018, 0.0] };
        let places: Vec<Triple> = (0..403)
            .map(|i| [3.3 * (i % 60) as f64 - 90.0, 41.0 - 0.37 * i as f64, (i % 7) as f64])
            .collect();
        let (mut wide, mut narrow) = (vec![[0.0; 3]; 403], vec![[0.0; 3]; 403]);
        many(&field, &places, &mut wide);
        one_by_one(&field, &places, &mut narrow);
        assert_eq!(wide, narrow);
        #[cfg(target_arch = "x86_64")]
        if std::arch::is_x86_feature_detected!("avx2") {
            // SAFETY: the processor has just said that it knows these instructions.
            unsafe { four_by_four(&field, &places, &mut wide) };
            assert_eq!(wide, narrow);
        }
    }
}

//! A cuboid magnetised evenly along its first axis: two charged rectangles, and the polarisation inside.
//!
//! Centre at the origin. Sources as for [`super::charged_rectangle`]. On a face the answer is that of one of
//! the two sides; on an edge it is finite and large.

use super::Triple;
use super::charged_rectangle::{Face, FarFace, corner_sums};
use super::elementary::{ln, ln_of_nearly_alike};
use super::lane::{Lane, NearAndFar};
use std::f64::consts::PI;

/// Beyond the cube root of so many of its volumes, and twice as far from its middle as its corners, the sums over
/// corners have lost about four digits; there [`FarFace`] serves.
const FAR_VOLUMES: f64 = 600.0;

/// Full sizes along the three axes; `polarisation` along the first.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cuboid {
    pub size: Triple,
    pub polarisation: f64,
}

impl Cuboid {
    /// The plain form.
    pub fn b(&self, p @ [u, v, w]: Triple) -> Triple {
        if self.is_far(p) {
            return self.far(p);
        }
        let [a, b, c] = self.size.map(|s| s / 2.0);
        let q = self.polarisation / (4.0 * PI);
        let north = corner_sums(u - a, v, w, b, c);
        let south = corner_sums(u + a, v, w, b, c);
        let within = if u.abs() < a && v.abs() < b && w.abs() < c { self.polarisation } else { 0.0 };
        [q * (north[0] - south[0]) + within, q * (north[1] - south[1]), q * (north[2] - south[2])]
    }

    /// The fast form: two arctangents and two logarithms in all.
    #[inline(always)]
    pub(crate) fn b_fast<L: Lane>(&self, p: [L; 3]) -> [L; 3] {
        self.either(p)
    }
}

impl NearAndFar for Cuboid {
    #[inline(always)]
    fn is_far<L: Lane>(&self, [u, v, w]: [L; 3]) -> L::Mask {
        let [a, b, c] = self.size;
        let volumes = FAR_VOLUMES * a * b * c;
        let rr = u * u + v * v + w * w;
        L::of(volumes * volumes).below(rr * rr * rr) & L::of(a * a + b * b + c * c).below(rr)
    }

    #[inline(always)]
    fn far<L: Lane>(&self, [u, v, w]: [L; 3]) -> [L; 3] {
        let [a, b, c] = self.size.map(|s| 0.5 * s);
        let (a, q) = (L::of(a), L::of(self.polarisation / (4.0 * PI)));
        let (n, s) = (FarFace::at(u - a, v, w, b, c), FarFace::at(u + a, v, w, b, c));
        let along_v = ln_of_two(n.v, s.v);
        let along_w = ln_of_two(n.w, s.w);
        [q * (n.angle - s.angle), q * v.sign() * along_v, q * w.sign() * along_w]
    }

    #[inline(always)]
    fn near<L: Lane>(&self, [u, v, w]: [L; 3]) -> [L; 3] {
        let [a, b, c] = self.size.map(|s| 0.5 * s);
        let (a, q) = (L::of(a), L::of(self.polarisation / (4.0 * PI)));
        let north = Face::at(u - a, v, w, b, c);
        let south = Face::at(u + a, v, w, b, c);
        let inside = u.abs().below(a) & v.abs().below(L::of(b)) & w.abs().below(L::of(c));
        let within = L::choose(inside, L::of(self.polarisation), L::of(0.0));
        let along_v = ln(north.v.0 * south.v.1 / (north.v.1 * south.v.0));
        let along_w = ln(north.w.0 * south.w.1 / (north.w.1 * south.w.0));
        [q * (north.angle - south.angle) + within, q * v.sign() * along_v, q * w.sign() * along_w]
    }
}

/// The logarithm of one ratio less that of another, each given as (over, under, over - under).
#[inline(always)]
fn ln_of_two<L: Lane>(a: (L, L, L), b: (L, L, L)) -> L {
    ln_of_nearly_alike(a.0 * b.1, a.1 * b.0, a.2 * b.1 - a.1 * b.2)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// On the axis, z beyond the N face: J/pi (atan(WT/(2 z s)) - atan(WT/(2 (L+z) s'))), s = sqrt(4 z² + W² + T²).
    #[test]
    fn on_the_axis_of_a_bar() {
        let bar = Cuboid { size: [50., 15., 10.], polarisation: 400. };
        for z in [0.5f64, 5.0, 20.0, 300.0] {
            let s = |z: f64| (4.0 * z * z + 325.0).sqrt();
            let part = |z: f64| (150.0 / (2.0 * z * s(z))).atan();
            let want = 400.0 / PI * (part(z) - part(50.0 + z));
            for b in [bar.b([25.0 + z, 0., 0.]), bar.b_fast([25.0 + z, 0., 0.])] {
                assert!((b[0] - want).abs() < 1e-11 * want, "{z}: {b:?} {want}");
                assert_eq!((b[1], b[2]), (0.0, 0.0));
            }
        }
    }

    /// Far off, the dipole of moment J V: the next term falls two powers faster.
    #[test]
    fn far_away_it_is_a_dipole() {
        let bar = Cuboid { size: [50., 15., 10.], polarisation: 400. };
        let dipole = super::super::Dipole { strength: 400. * 7500. / (4.0 * PI) };
        for p in [[3000., 100., 50.], [200., -3000., 700.], [0., 20., 3000.]] {
            let (b, d) = (bar.b(p), dipole.b(p));
            let size = d.iter().map(|x| x * x).sum::<f64>().sqrt();
            assert!((0..3).all(|i| (b[i] - d[i]).abs() < 1e-3 * size), "{b:?} {d:?}");
        }
    }

    /// Cut in two along its length, or across, the halves add up to the whole.
    #[test]
    fn the_parts_make_the_whole() {
        let bar = Cuboid { size: [50., 16., 10.], polarisation: 400. };
        let half = Cuboid { size: [25., 16., 10.], polarisation: 400. };
        let slice = Cuboid { size: [50., 8., 10.], polarisation: 400. };
        for p in [[31.0, 4.0, 2.0], [3.0, -12.0, 1.0], [-40.0, 9.0, 0.0], [7.0, 3.0, 1.0]] {
            let whole = bar.b(p);
            let ends =
                super::super::add(half.b([p[0] - 12.5, p[1], p[2]]), half.b([p[0] + 12.5, p[1], p[2]]));
            let sides = super::super::add(slice.b([p[0], p[1] - 4., p[2]]), slice.b([p[0], p[1] + 4., p[2]]));
            for i in 0..3 {
                assert!((whole[i] - ends[i]).abs() < 1e-11 && (whole[i] - sides[i]).abs() < 1e-11);
            }
        }
    }

    #[test]
    fn faces_and_edges_give_finite_numbers() {
        let bar = Cuboid { size: [50., 15., 10.], polarisation: 400. };
        for u in [0.0, 25.0, -25.0, 40.0] {
            for v in [0.0, 7.5, -7.5, 9.0] {
                for w in [0.0, 5.0, -5.0, 6.0] {
                    let (b, f) = (bar.b([u, v, w]), bar.b_fast([u, v, w]));
                    assert!(b.iter().chain(&f).all(|x| x.is_finite()), "{u} {v} {w}: {b:?} {f:?}");
                }
            }
        }
    }
}

//! A rectangle that carries an even surface charge: the pole face of a magnet.
//!
//! Centre at the origin, at right angles to the first axis (letter u), `width` along the second (v) and
//! `height` along the third (w). A surface charge equal to the polarisation gives the flux density that
//! the face adds outside the magnet: Z. J. Yang et al., Supercond. Sci. Technol. 3 (1990) 591;
//! R. Engel-Herbert and T. Hesjedal, J. Appl. Phys. 97 (2005) 074504; E. P. Furlani, Permanent Magnet and
//! Electromechanical Devices (2001), ch. 4.
//!
//! On the face itself the normal component jumps; the answer there is that of the side to which u = 0 rounds.

use super::elementary::{atan2, ln, ln_of_nearly_alike};
use super::lane::{Lane, NearAndFar};
use super::{TINY, Triple};
use std::f64::consts::{PI, TAU};

/// Beyond the square root of so many of its areas the sums over corners have lost about four digits; there [`FarFace`]
/// serves.
const FAR_AREAS: f64 = 400.0;

/// The rectangle; `charge` in the unit of polarisation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ChargedRectangle {
    pub width: f64,
    pub height: f64,
    pub charge: f64,
}

impl ChargedRectangle {
    /// The plain form: an arctangent a corner and a logarithm a side.
    pub fn b(&self, p @ [u, v, w]: Triple) -> Triple {
        if self.is_far(p) {
            return self.far(p);
        }
        let q = self.charge / (4.0 * PI);
        corner_sums(u, v, w, self.width / 2.0, self.height / 2.0).map(|sum| q * sum)
    }

    /// The fast form: one arctangent and two logarithms in all.
    #[inline(always)]
    pub(crate) fn b_fast<L: Lane>(&self, p: [L; 3]) -> [L; 3] {
        self.either(p)
    }
}

impl NearAndFar for ChargedRectangle {
    #[inline(always)]
    fn is_far<L: Lane>(&self, [u, v, w]: [L; 3]) -> L::Mask {
        let (bb, cc) = (self.width * self.width, self.height * self.height);
        let areas = FAR_AREAS * self.width * self.height;
        L::of(areas.max(bb + cc)).below(u * u + v * v + w * w)
    }

    #[inline(always)]
    fn far<L: Lane>(&self, [u, v, w]: [L; 3]) -> [L; 3] {
        let face = FarFace::at(u, v, w, self.width / 2.0, self.height / 2.0);
        let q = L::of(self.charge / (4.0 * PI));
        let along_v = ln_of_nearly_alike(face.v.0, face.v.1, face.v.2);
        let along_w = ln_of_nearly_alike(face.w.0, face.w.1, face.w.2);
        [q * face.angle, q * v.sign() * along_v, q * w.sign() * along_w]
    }

    #[inline(always)]
    fn near<L: Lane>(&self, [u, v, w]: [L; 3]) -> [L; 3] {
        let face = Face::at(u, v, w, self.width / 2.0, self.height / 2.0);
        let q = L::of(self.charge / (4.0 * PI));
        [q * face.angle, q * v.sign() * ln(face.v.0 / face.v.1), q * w.sign() * ln(face.w.0 / face.w.1)]
    }
}

/// The three components times 4 pi over the charge, summed over the corners (v ± b, w ± c). The two logarithms of a side's
/// ends are taken as that of a ratio, which far away is nearly 1.
pub(super) fn corner_sums(u: f64, v: f64, w: f64, b: f64, c: f64) -> Triple {
    let mut sum = [0.0; 3];
    for (s, y) in [(1.0, v + b), (-1.0, v - b)] {
        for (t, z) in [(1.0, w + c), (-1.0, w - c)] {
            let r = (u * u + y * y + z * z).sqrt();
            // The one-argument arctangent: the two-argument one adds a false half turn in the face's shadow.
            let over = u * r;
            sum[0] += s * t * if over == 0.0 { edge_angle(y * z) } else { (y * z / over).atan() };
        }
        sum[1] -= s * ln_of_ratio(w, c, u * u + y * y);
    }
    for (t, z) in [(1.0, w + c), (-1.0, w - c)] {
        sum[2] -= t * ln_of_ratio(v, b, u * u + z * z);
    }
    sum
}

/// The limit of the arctangent in the face's plane, from the side of positive u.
fn edge_angle(product: f64) -> f64 {
    if product == 0.0 { 0.0 } else { f64::copysign(PI / 2.0, product) }
}

/// ln((x1 + r1) / (x0 + r0)) for x1, x0 = middle ± half and r² = x² + rest².
fn ln_of_ratio(middle: f64, half: f64, rest_squared: f64) -> f64 {
    // (x + r)(r - x) is rest² at either end, so that mirroring changes nothing.
    let middle = middle.abs();
    let (x1, x0) = (middle + half, middle - half);
    let (r1, r0) = ((x1 * x1 + rest_squared).sqrt(), (x0 * x0 + rest_squared).sqrt());
    if x0 < 0.0 {
        // For x < 0 without the loss of digits of the sum.
        return ((x1 + r1).max(TINY) * (r0 - x0) / rest_squared.max(TINY)).ln();
    }
    // The ratio less 1, of which nothing is lost.
    let more = 2.0 * half * (1.0 + (x1 + x0) / (r1 + r0).max(TINY));
    (more / (x0 + r0).max(TINY)).ln_1p()
}

/// Where the far (1) and the near (0) corners of a face lie from a place in the octant v, w > 0: there the far corners' sums
/// lose no digits, and the others are its mirror images.
struct Corners<L> {
    y: [L; 2],
    z: [L; 2],
    /// Squares of u, of u and y, of z.
    uu: L,
    yy: [L; 2],
    zz: [L; 2],
    /// Distances, y first.
    r: [L; 4],
}

impl<L: Lane> Corners<L> {
    #[inline(always)]
    fn of(a: L, v: L, w: L, b: L, c: L) -> Self {
        let (y1, y0, z1, z0) = (v + b, v - b, w + c, w - c);
        let uu = a * a;
        let (yy1, yy0, zz1, zz0) = (uu + y1 * y1, uu + y0 * y0, z1 * z1, z0 * z0);
        let r11 = (yy1 + zz1).sqrt();
        let r10 = (yy1 + zz0).sqrt();
        let r01 = (yy0 + zz1).sqrt();
        let r00 = (yy0 + zz0).sqrt();
        Self { y: [y1, y0], z: [z1, z0], uu, yy: [yy1, yy0], zz: [zz1, zz0], r: [r11, r10, r01, r00] }
    }
}

/// What a face adds, before logarithms: so that a cuboid's two faces share theirs.
///
/// The sums over corners are folded into products: four arctangents into the argument of a product of four
/// complex numbers, four logarithms into that of a ratio. `v` and `w` hold (over, under) of the ratio for
/// |v| and |w|: the components for the true signs are odd in them.
#[derive(Clone, Copy)]
pub(super) struct Face<L> {
    /// Solid angle of the face, with the sign of u.
    pub angle: L,
    pub v: (L, L),
    pub w: (L, L),
}

impl<L: Lane> Face<L> {
    #[inline(always)]
    pub fn at(u: L, v: L, w: L, half_width: f64, half_height: f64) -> Self {
        let (b, c, zero) = (L::of(half_width), L::of(half_height), L::of(0.0));
        let a = u.abs();
        let Corners { y: [y1, y0], z: [z1, z0], uu, yy: [yy1, yy0], zz: [zz1, zz0], r: [r11, r10, r01, r00] } =
            Corners::of(a, v.abs(), w.abs(), b, c);
        let alike = times((a * r11, y1 * z1), (a * r00, y0 * z0));
        let unlike = times((a * r10, -(y1 * z0)), (a * r01, -(y0 * z1)));
        let (re, im) = times(alike, unlike);
        let angle = atan2(im, re);
        // A face is seen under less than a half turn unless one looks straight at it from nearby: only
        // there has the product lost a whole turn.
        let before_it = y0.below(zero) & z0.below(zero) & a.below(b + c);
        let lost = before_it & angle.below(L::of(TINY));
        let angle = L::choose(lost, angle + L::of(TAU), angle);
        let (n1, d1) = log_ratio(z1, z0, r11, r10, yy1);
        let (n0, d0) = log_ratio(z1, z0, r01, r00, yy0);
        let (m1, e1) = log_ratio(y1, y0, r11, r01, uu + zz1);
        let (m0, e0) = log_ratio(y1, y0, r10, r00, uu + zz0);
        Self { angle: u.sign() * angle, v: (n1 * d0, d1 * n0), w: (m1 * e0, e1 * m0) }
    }
}

/// [`Face`] for places far off, where its sums over corners nearly cancel. Here nothing cancels but what two corners
/// differ by along one side, so that a place `d` off loses no more than d over that side's length.
#[derive(Clone, Copy)]
pub(super) struct FarFace<L> {
    /// Solid angle of the face, with the sign of u.
    pub angle: L,
    /// As [`Face::v`] and [`Face::w`], and what the first has more than the second.
    pub v: (L, L, L),
    pub w: (L, L, L),
}

impl<L: Lane> FarFace<L> {
    /// For places at least twice as far from the middle of the body as its corners.
    #[inline(always)]
    pub fn at(u: L, v: L, w: L, half_width: f64, half_height: f64) -> Self {
        let (b, c, four) = (L::of(half_width), L::of(half_height), L::of(4.0));
        let (a, v, w) = (u.abs(), v.abs(), w.abs());
        let Corners { y: [y1, y0], z: [z1, z0], uu, yy: [yy1, yy0], zz: [zz1, zz0], r: [r11, r10, r01, r00] } =
            Corners::of(a, v, w, b, c);
        // y1² - y0² and z1² - z0².
        let (yy, zz) = (four * v * b, four * w * c);
        // Corners that differ along the side that points away first: seen from there their angles are nearly alike.
        let away = w.below(v);
        let row1 = side_angle(
            a,
            L::choose(away, z1, y1),
            (L::choose(away, y1, z1), L::choose(away, y0, z0)),
            (r11, L::choose(away, r01, r10)),
            (L::choose(away, uu + zz1, yy1), L::choose(away, yy, zz)),
        );
        let row0 = side_angle(
            a,
            L::choose(away, z0, y0),
            (L::choose(away, y1, z1), L::choose(away, y0, z0)),
            (L::choose(away, r10, r01), r00),
            (L::choose(away, uu + zz0, yy0), L::choose(away, yy, zz)),
        );
        let (re, im) = times(row1, (row0.0, -row0.1));
        let both = L::of(1.0) / (r11 * r00 + r10 * r01);
        let more_v = yy * (z1 / (r10 + r00) - z0 / (r11 + r01) + zz * both);
        let more_w = zz * (y1 / (r01 + r00) - y0 / (r11 + r10) + yy * both);
        let under = (r11 + z1) * (r00 + z0);
        let below = (r11 + y1) * (r00 + y0);
        Self {
            angle: u.sign() * atan2(im, re),
            v: ((r10 + z0) * (r01 + z1), under, more_v),
            w: ((r01 + y0) * (r10 + y1), below, more_w),
        }
    }
}

/// atan(y z1 / (a r1)) - atan(y z0 / (a r0)) as the argument of a complex number. z1 r0 - z0 r1, of two nearly alike where both
/// are positive, is rest (z1² - z0²) / (z1 r0 + z0 r1), with `rest` = r² - z² for both and `zz` = z1² - z0².
#[inline(always)]
fn side_angle<L: Lane>(a: L, y: L, (z1, z0): (L, L), (r1, r0): (L, L), (rest, zz): (L, L)) -> (L, L) {
    let (re, im) = (a * a * r1 * r0 + y * y * z1 * z0, a * y);
    let alike = L::of(0.0).below(z0);
    let sum = L::choose(alike, z1 * r0 + z0 * r1, L::of(1.0));
    (re * sum, im * L::choose(alike, rest * zz, z1 * r0 - z0 * r1))
}

/// (x0 + r0) / (x1 + r1) as (over, under), where `rest` = r² - x² for both and x0 may be negative.
#[inline(always)]
fn log_ratio<L: Lane>(x1: L, x0: L, r1: L, r0: L, rest: L) -> (L, L) {
    let behind = x0.below(L::of(0.0));
    let over = L::choose(behind, rest.at_least(L::of(TINY)), r0 + x0);
    let under = (r1 + x1) * L::choose(behind, r0 - x0, L::of(1.0));
    (over, under)
}

#[inline(always)]
fn times<L: Lane>(a: (L, L), b: (L, L)) -> (L, L) {
    (a.0 * b.0 - a.1 * b.1, a.0 * b.1 + a.1 * b.0)
}

//! The letters that say which end of a source is which, as outlines on the page.

use super::lettering::{Face, bounds};
use crate::geometry::{Point, towards};
use crate::worksheet::{Kind, Source};

/// Height of a pole letter, mm.
const LETTER_MM: f64 = 5.0;
/// Largest share of a source's width that a letter may take.
const LETTER_SHARE: f64 = 0.55;
/// Height of the letters beside a dipole's ring, mm.
const RING_LETTER_MM: f64 = 2.2;
/// Distance of those letters' middles from the ring's, mm.
const RING_LETTER_AWAY_MM: f64 = 4.4;
/// Height of the letters beside a coil's ends, mm, and distance of their middles from the ends.
const COIL_LETTER_MM: f64 = 4.0;
const COIL_LETTER_AWAY_MM: f64 = 3.4;
/// Width of the dot and length of the cross's strokes in a wire's ring, mm.
const WIRE_DOT_MM: f64 = 1.2;
const WIRE_CROSS_MM: f64 = 2.8;
/// Size of the sign in a charge's ring and beside a plate's ends, mm; distance of the latter from the ends.
const CHARGE_SIGN_MM: f64 = 2.4;
const PLATE_SIGN_MM: f64 = 3.2;
const PLATE_SIGN_AWAY_MM: f64 = 3.6;
/// Width of the strokes of crosses and signs, mm.
const SIGN_STROKE_MM: f64 = 0.45;
/// Height of capitals in the labels of a globe's poles, mm.
const GLOBE_CAP_MM: f64 = 2.6;
/// Distance of a globe's labels from its middle, in radii: far enough in for the label to clear the rim.
const GLOBE_LABEL_SHARE: f64 = 0.72;
/// Middle of a letter on a horseshoe's limb, from the limb's end, in limb widths.
const LIMB_LETTER_SHARE: f64 = 0.65;

/// The letters of a source, each a set of closed polygons, upright on the page.
///
/// A globe shows its geographic poles: the Earth's magnetic S pole lies under its geographic north.
pub(super) fn letters(source: &Source) -> Vec<Vec<Vec<Point>>> {
    let pair = |u: f64, v: f64, cap_mm: f64| {
        vec![upright("N", cap_mm, source.place(u, v)), upright("S", cap_mm, source.place(-u, -v))]
    };
    match source.kind {
        Kind::Bar { length, width: across, .. } | Kind::Rod { length, diameter: across, .. } => {
            pair(length / 4.0, 0.0, letter_mm(across.min(length / 2.0)))
        }
        Kind::Disc { diameter, .. } => pair(diameter / 4.0, 0.0, letter_mm(diameter / 2.0)),
        Kind::DiscThrough { diameter, up, .. } => {
            vec![upright(if up { "N" } else { "S" }, letter_mm(diameter), source.centre)]
        }
        Kind::Horseshoe { width, depth, limb, north_left, .. } => {
            let u = depth / 2.0 - LIMB_LETTER_SHARE * limb;
            let v = (width - limb) / 2.0 * if north_left { 1.0 } else { -1.0 };
            let cap_mm = letter_mm(limb);
            vec![upright("N", cap_mm, source.place(u, v)), upright("S", cap_mm, source.place(u, -v))]
        }
        Kind::Globe { diameter, .. } => {
            let (u, cap_mm) = (GLOBE_LABEL_SHARE * diameter / 2.0, GLOBE_CAP_MM.min(diameter / 24.0));
            let label = |text, u| upright(text, cap_mm, source.place(u, 0.0));
            vec![label("geographic north", -u), label("geographic south", u)]
        }
        Kind::Dipole { .. } => pair(RING_LETTER_AWAY_MM, 0.0, RING_LETTER_MM),
        // The windings' inside is drawn in: the letters stand outside, beside the ends.
        Kind::Coil { length, .. } => pair(length / 2.0 + COIL_LETTER_AWAY_MM, 0.0, COIL_LETTER_MM),
        // The tip of an arrow towards the reader, or its feathers.
        Kind::Wire { out: true, .. } => vec![vec![disc(source.centre, WIRE_DOT_MM)]],
        Kind::Wire { out: false, .. } => vec![bars(source.centre, WIRE_CROSS_MM, &[45.0, -45.0])],
        Kind::Charge { charge_nc } => vec![sign(source.centre, CHARGE_SIGN_MM, charge_nc)],
        Kind::Plate { length, charge_nc, .. } => {
            let beside = length / 2.0 + PLATE_SIGN_AWAY_MM;
            [beside, -beside].map(|u| sign(source.place(u, 0.0), PLATE_SIGN_MM, charge_nc)).to_vec()
        }
    }
}

/// Whether a source's letters stand beside it, where field lines run.
pub(super) fn stand_beside(source: &Source) -> bool {
    matches!(source.kind, Kind::Coil { .. } | Kind::Dipole { .. } | Kind::Plate { .. })
}

/// A plus or a minus of a charge's sign.
fn sign(middle: Point, size_mm: f64, charge_nc: f64) -> Vec<Vec<Point>> {
    bars(middle, size_mm, if charge_nc > 0.0 { &[0.0, 90.0] } else { &[0.0] })
}

/// Strokes of one length through a place.
fn bars(middle: Point, length_mm: f64, angles_deg: &[f64]) -> Vec<Vec<Point>> {
    let bar = |deg: &f64| {
        let (along, across) =
            (towards(*deg) * (length_mm / 2.0), towards(deg + 90.0) * (SIGN_STROKE_MM / 2.0));
        [along + across, along - across, -along - across, -along + across].map(|v| middle + v).to_vec()
    };
    angles_deg.iter().map(bar).collect()
}

/// A filled disc.
fn disc(middle: Point, diameter_mm: f64) -> Vec<Point> {
    const SIDES: usize = 24;
    (0..SIDES).map(|i| middle + towards(360.0 * i as f64 / SIDES as f64) * (diameter_mm / 2.0)).collect()
}

/// Height of a letter in a half `across` mm wide.
fn letter_mm(across: f64) -> f64 {
    LETTER_MM.min(LETTER_SHARE * across)
}

/// A text with capitals of `cap_mm`, its ink's box centred on `middle`.
fn upright(text: &str, cap_mm: f64, middle: Point) -> Vec<Vec<Point>> {
    let em = Face::Bold.em_for_cap(cap_mm);
    let mut polygons = Face::Bold.polygons(text, em, Point::ZERO);
    let Some(size) = bounds(&polygons) else { return polygons };
    let step = middle - size.center();
    for point in polygons.iter_mut().flatten() {
        *point += step;
    }
    polygons
}

#[cfg(test)]
mod tests {
    use super::*;

    fn source(kind: Kind, north_deg: f64) -> Source {
        Source { id: "a".into(), kind, centre: Point::new(100.0, 80.0), north_deg }
    }

    #[test]
    fn the_n_of_a_bar_stands_in_its_north_half() {
        let bar =
            Kind::Bar { length: 50.0, width: 15.0, thickness: 10.0, remanence_mt: 400.0, pole_inset: 0.0 };
        let [n, s] = letters(&source(bar, 90.0)).try_into().unwrap();
        let (n, s) = (bounds(&n).unwrap(), bounds(&s).unwrap());
        assert!((n.center() - Point::new(100.0, 67.5)).hypot() < 1e-9);
        assert!((s.center() - Point::new(100.0, 92.5)).hypot() < 1e-9);
        assert!((n.height() - LETTER_MM).abs() < 0.05);
    }

    #[test]
    fn a_horseshoe_shows_n_on_the_limb_that_is_left_looking_out() {
        for (north_left, y) in [(true, 58.0), (false, 102.0)] {
            let (width, depth, thickness, limb, remanence_mt) = (60.0, 80.0, 10.0, 16.0, 400.0);
            let shoe = Kind::Horseshoe { width, depth, thickness, limb, remanence_mt, north_left };
            let n = bounds(&letters(&source(shoe, 0.0))[0]).unwrap().center();
            assert!((n.y - y).abs() < 1e-9 && n.x > 120.0, "{n:?}");
        }
    }

    #[test]
    fn a_globes_geographic_north_lies_over_its_magnetic_south_and_its_words_inside() {
        for diameter in [20.0, 60.0, 150.0] {
            let globe = source(Kind::Globe { diameter, remanence_mt: 0.09 }, 270.0);
            let label = bounds(&letters(&globe)[0]).unwrap();
            let corners = [(label.x0, label.y0), (label.x1, label.y0)].map(|(x, y)| Point::new(x, y));
            assert!(label.center().y < globe.centre.y);
            assert!(corners.iter().all(|c| (*c - globe.centre).hypot() < diameter / 2.0 - 0.2), "{label:?}");
        }
    }
}

//! The Earth's field at a place and time: the World Magnetic Model 2025, spherical harmonics to degree 12.
//!
//! A. Chulliat and others, The US/UK World Magnetic Model for 2025-2030, NOAA NCEI and British Geological Survey; the
//! equations are those of the technical report (section 1.2): geodetic to geocentric, Schmidt's half-normalised
//! functions, and back. The moment's axis points to the south: the pole near geographic north is a magnetic S pole.

use super::wmm_2025::GAUSS_NT;
use std::ops::Range;

/// The years for which the model is meant.
pub const VALID_YEARS: Range<f64> = 2025.0..2030.0;
/// The year of the coefficients.
const EPOCH: f64 = 2025.0;
/// Radius to which the coefficients refer, km.
const REFERENCE_KM: f64 = 6371.2;
/// The ellipsoid WGS 84: half the equatorial axis, km, and the flattening.
const EQUATOR_KM: f64 = 6378.137;
const FLATTENING: f64 = 1.0 / 298.257_223_563;
const DEGREE: usize = 12;
const SIZE: usize = DEGREE + 1;

/// The field at a place, nanotesla: to the north, to the east, downwards.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EarthField {
    pub north_nt: f64,
    pub east_nt: f64,
    pub down_nt: f64,
}

impl EarthField {
    /// The horizontal part, nanotesla.
    pub fn horizontal_nt(&self) -> f64 {
        self.north_nt.hypot(self.east_nt)
    }

    /// How far east of geographic north a compass points, degrees.
    pub fn declination_deg(&self) -> f64 {
        self.east_nt.atan2(self.north_nt).to_degrees()
    }

    /// How far below the horizontal a free needle's N end points, degrees.
    pub fn inclination_deg(&self) -> f64 {
        self.down_nt.atan2(self.horizontal_nt()).to_degrees()
    }
}

/// The field at a geodetic latitude and longitude (degrees north and east), a height above the ellipsoid WGS 84 (km) and a
/// time (years), which should lie in [`VALID_YEARS`]. At a pole itself north is along the meridian that was given.
pub fn at(latitude_deg: f64, longitude_deg: f64, height_km: f64, year: f64) -> EarthField {
    let (sin, cos) = latitude_deg.to_radians().sin_cos();
    // Geodetic to geocentric, in the plane of the meridian.
    let e2 = FLATTENING * (2.0 - FLATTENING);
    let curvature_km = EQUATOR_KM / (1.0 - e2 * sin * sin).sqrt();
    let from_axis = (curvature_km + height_km) * cos;
    let from_equator = (curvature_km * (1.0 - e2) + height_km) * sin;
    let radius = from_axis.hypot(from_equator);
    let geocentric = from_equator.atan2(from_axis);
    let [north, east, down] = geocentric_field(geocentric, longitude_deg.to_radians(), radius, year - EPOCH);
    // The geodetic vertical leans against the geocentric one.
    let (sin, cos) = (geocentric - latitude_deg.to_radians()).sin_cos();
    EarthField { north_nt: north * cos - down * sin, east_nt: east, down_nt: north * sin + down * cos }
}

/// North, east, down at a geocentric latitude and longitude (radians) and radius (km), `years` after the epoch.
fn geocentric_field(latitude: f64, longitude: f64, radius_km: f64, years: f64) -> [f64; 3] {
    let legendre = Legendre::at(latitude);
    let ratio = REFERENCE_KM / radius_km;
    let [mut north, mut east, mut down] = [0.0; 3];
    let mut power = ratio * ratio;
    let mut rows = GAUSS_NT.iter();
    for n in 1..SIZE {
        power *= ratio;
        for (m, [g, h, dg, dh]) in rows.by_ref().take(n + 1).enumerate() {
            let (g, h) = (g + years * dg, h + years * dh);
            let (sin, cos) = (m as f64 * longitude).sin_cos();
            let along = g * cos + h * sin;
            north += power * along * legendre.slope[n][m];
            east += power * m as f64 * (g * sin - h * cos) * legendre.over_cos[n][m];
            down -= power * (n + 1) as f64 * along * legendre.value[n][m];
        }
    }
    [north, east, down]
}

/// Schmidt's half-normalised functions of the colatitude by degree and order.
struct Legendre {
    value: [[f64; SIZE]; SIZE],
    /// Derivative by the colatitude.
    slope: [[f64; SIZE]; SIZE],
    /// Value over the cosine of the latitude (order above 0): finite at the poles.
    over_cos: [[f64; SIZE]; SIZE],
}

impl Legendre {
    fn at(latitude: f64) -> Self {
        // Letters of the colatitude: cosine c, sine s.
        let (c, s) = latitude.sin_cos();
        let mut value = [[0.0; SIZE]; SIZE];
        let mut slope = [[0.0; SIZE]; SIZE];
        let mut over_cos = [[0.0; SIZE]; SIZE];
        value[0][0] = 1.0;
        for n in 1..SIZE {
            let nf = n as f64;
            // The sectorial one from the one before; its factor is 1 for degree 1 (Schmidt's half normalisation).
            let k = if n == 1 { 1.0 } else { (1.0 - 0.5 / nf).sqrt() };
            let before = value[n - 1][n - 1];
            value[n][n] = k * s * before;
            slope[n][n] = k * (s * slope[n - 1][n - 1] + c * before);
            over_cos[n][n] = k * if n == 1 { 1.0 } else { s * over_cos[n - 1][n - 1] };
            for m in 0..n {
                let root = (nf * nf - (m * m) as f64).sqrt();
                let (a, b) =
                    ((2.0 * nf - 1.0) / root, ((nf - 1.0).powi(2) - (m * m) as f64).max(0.0).sqrt() / root);
                let below = |table: &[[f64; SIZE]; SIZE]| if n >= 2 { table[n - 2][m] } else { 0.0 };
                slope[n][m] = a * (c * slope[n - 1][m] - s * value[n - 1][m]) - b * below(&slope);
                value[n][m] = a * c * value[n - 1][m] - b * below(&value);
                over_cos[n][m] = a * c * over_cos[n - 1][m] - b * below(&over_cos);
            }
        }
        Self { value, slope, over_cos }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Degree 2 in full: (3c² - 1)/2, sqrt 3 s c, sqrt 3 / 2 s².
    #[test]
    fn schmidts_functions_of_degree_two() {
        let latitude = 0.4f64;
        let (c, s) = latitude.sin_cos();
        let l = Legendre::at(latitude);
        let root = 3f64.sqrt();
        for (got, want) in
            l.value[2].iter().zip([(3.0 * c * c - 1.0) / 2.0, root * s * c, root / 2.0 * s * s])
        {
            assert!((got - want).abs() < 1e-15);
        }
        for (got, want) in l.slope[2].iter().zip([-3.0 * c * s, root * (c * c - s * s), root * s * c]) {
            assert!((got - want).abs() < 1e-15);
        }
        assert!(
            (l.over_cos[2][1] - root * c).abs() < 1e-15 && (l.over_cos[2][2] - root / 2.0 * s).abs() < 1e-15
        );
    }

    #[test]
    fn the_pole_near_geographic_north_is_a_magnetic_south_pole() {
        let (arctic, antarctic) = (at(80.0, -70.0, 0.0, 2026.0), at(-70.0, 110.0, 0.0, 2026.0));
        assert!(arctic.inclination_deg() > 80.0 && antarctic.inclination_deg() < -80.0);
        assert!(GAUSS_NT[0][0] < 0.0);
        for latitude in [90.0, -90.0] {
            let b = at(latitude, 30.0, 0.0, 2027.0);
            assert!(b.horizontal_nt().is_finite() && b.down_nt.is_finite());
        }
    }
}

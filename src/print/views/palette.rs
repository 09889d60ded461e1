//! The shades of strength: our own, from a pale cream through green and blue to a dark violet.
//!
//! Lightness L* falls in a straight line from the weakest to the strongest, so that a grey print keeps the order; the
//! hue turns on the way so that neighbours differ in colour too. Made in CIE L*a*b* (D65, CIE 15:2004), given as sRGB
//! (IEC 61966-2-1).

/// Lightness of the weakest and of the strongest shade: below the paper's 100, above the ink's 16.
const LIGHTNESS: [f64; 2] = [97.0, 40.0];
/// Hue of the weakest and the strongest, degrees in the a*b* plane: yellow to violet by way of green and blue.
const HUE_DEG: [f64; 2] = [105.0, 300.0];
/// Chroma at the ends, and what is added in the middle: all of it lies within sRGB.
const CHROMA: [f64; 2] = [10.0, 34.0];
const CHROMA_MIDDLE: f64 = 8.0;

/// White point D65 of CIE XYZ.
const WHITE: [f64; 3] = [0.950_47, 1.0, 1.088_83];

/// The shade at `t`, 0 (weakest) to 1 (strongest), as sRGB.
pub(super) fn shade(t: f64) -> [u8; 3] {
    let t = t.clamp(0.0, 1.0);
    let between = |ends: [f64; 2]| ends[0] + (ends[1] - ends[0]) * t;
    let chroma = between(CHROMA) + CHROMA_MIDDLE * (std::f64::consts::PI * t).sin();
    let (sin, cos) = between(HUE_DEG).to_radians().sin_cos();
    srgb([between(LIGHTNESS), chroma * cos, chroma * sin])
}

/// As SVG writes it.
pub(super) fn hex([r, g, b]: [u8; 3]) -> String {
    format!("#{r:02x}{g:02x}{b:02x}")
}

/// L*a*b* to sRGB; what lies outside sRGB is cut off at its limits.
fn srgb([l, a, b]: [f64; 3]) -> [u8; 3] {
    let y = (l + 16.0) / 116.0;
    let back =
        |f: f64| if f > 6.0 / 29.0 { f.powi(3) } else { 3.0 * (6.0f64 / 29.0).powi(2) * (f - 4.0 / 29.0) };
    let [x, y, z] = [WHITE[0] * back(y + a / 500.0), WHITE[1] * back(y), WHITE[2] * back(y - b / 200.0)];
    [
        3.240_454_2 * x - 1.537_138_5 * y - 0.498_531_4 * z,
        -0.969_266_0 * x + 1.876_010_8 * y + 0.041_556_0 * z,
        0.055_643_4 * x - 0.204_025_9 * y + 1.057_225_2 * z,
    ]
    .map(|v| {
        let v = v.clamp(0.0, 1.0);
        let v = if v <= 0.003_130_8 { 12.92 * v } else { 1.055 * v.powf(1.0 / 2.4) - 0.055 };
        (v * 255.0).round() as u8
    })
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    /// sRGB to linear light, 0 to 1.
    fn linear(rgb: [u8; 3]) -> [f64; 3] {
        rgb.map(|v| {
            let v = f64::from(v) / 255.0;
            if v <= 0.040_45 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
        })
    }

    /// Relative luminance (WCAG 2.2 and IEC 61966-2-1).
    pub(crate) fn luminance(rgb: [u8; 3]) -> f64 {
        let [r, g, b] = linear(rgb);
        0.2126 * r + 0.7152 * g + 0.0722 * b
    }

    fn lab(linear: [f64; 3]) -> [f64; 3] {
        let [r, g, b] = linear;
        let xyz = [
            0.412_456_4 * r + 0.357_576_1 * g + 0.180_437_5 * b,
            0.212_672_9 * r + 0.715_152_2 * g + 0.072_175_0 * b,
            0.019_333_9 * r + 0.119_192_0 * g + 0.950_304_1 * b,
        ];
        let f = |t: f64| {
            if t > (6.0f64 / 29.0).powi(3) {
                t.cbrt()
            } else {
                t * (29.0f64 / 6.0).powi(2) / 3.0 + 4.0 / 29.0
            }
        };
        let [x, y, z] = [f(xyz[0] / WHITE[0]), f(xyz[1] / WHITE[1]), f(xyz[2] / WHITE[2])];
        [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
    }

    /// Full protanopia, deuteranopia and tritanopia, on linear sRGB: G. M. Machado, M. M. Oliveira and L. A. F. Fernandes,
    /// IEEE Trans. Vis. Comput. Graph. 15 (2009) 1291, severity 1.0 (from memory, agrees with public copies). For tritan vision the paper itself
    /// calls its model rough.
    const DEFICIENT: [[[f64; 3]; 3]; 3] = [
        [
            [0.152_286, 1.052_583, -0.204_868],
            [0.114_503, 0.786_281, 0.099_216],
            [-0.003_882, -0.048_116, 1.051_998],
        ],
        [
            [0.367_322, 0.860_646, -0.227_968],
            [0.280_085, 0.672_501, 0.047_413],
            [-0.011_820, 0.042_940, 0.968_881],
        ],
        [
            [1.255_528, -0.076_749, -0.178_779],
            [-0.078_411, 0.930_809, 0.147_602],
            [0.004_733, 0.691_367, 0.303_900],
        ],
    ];

    /// How a colour is seen: as it is, by each kind of colour-blind eye, and in grey.
    fn seen(rgb: [u8; 3]) -> Vec<[f64; 3]> {
        let plain = linear(rgb);
        let by = |m: &[[f64; 3]; 3]| {
            m.map(|row| row.iter().zip(plain).map(|(a, b)| a * b).sum::<f64>().clamp(0.0, 1.0))
        };
        let mut all = vec![lab(plain)];
        all.extend(DEFICIENT.iter().map(|m| lab(by(m))));
        all.push(lab([luminance(rgb); 3]));
        all
    }

    /// The smallest distance (CIE 1976 colour difference) of two colours over all these eyes. A difference of about 2.3
    /// is just noticed side by side (M. Mahy et al., Color Res. Appl. 19 (1994) 105, from memory).
    pub(crate) fn apart(a: [u8; 3], b: [u8; 3]) -> f64 {
        let distance =
            |(p, q): ([f64; 3], [f64; 3])| p.iter().zip(q).map(|(u, v)| (u - v).powi(2)).sum::<f64>().sqrt();
        seen(a).into_iter().zip(seen(b)).map(distance).fold(f64::INFINITY, f64::min)
    }

    /// White, black, and the grey of L* 50, which has the luminance 0.1842 (CIE 15:2004: (66/116)³).
    #[test]
    fn known_colours_convert() {
        assert_eq!((srgb([100.0, 0.0, 0.0]), srgb([0.0, 0.0, 0.0])), ([255; 3], [0; 3]));
        assert_eq!(srgb([50.0, 0.0, 0.0]), [119; 3]);
        assert!((luminance([119; 3]) - 0.1842).abs() < 2e-3);
        assert!(
            lab(linear([255, 255, 255])).iter().zip([100.0, 0.0, 0.0]).all(|(a, b)| (a - b).abs() < 0.02)
        );
    }

    #[test]
    fn shades_darken_steadily_and_stay_within_srgb() {
        let all: Vec<[u8; 3]> = (0..=100).map(|i| shade(f64::from(i) / 100.0)).collect();
        assert!(all.windows(2).all(|w| luminance(w[0]) > luminance(w[1])));
        for (i, rgb) in all.iter().enumerate() {
            let wanted = LIGHTNESS[0] + (LIGHTNESS[1] - LIGHTNESS[0]) * i as f64 / 100.0;
            let [l, ..] = lab(linear(*rgb));
            assert!((l - wanted).abs() < 0.8, "{rgb:?}: cut off at the limits of sRGB ({l} for {wanted})");
        }
    }

    /// Ten shades, as many as a picture ever has, for every eye and in grey.
    #[test]
    fn ten_shades_are_told_apart_by_every_eye() {
        let shades: Vec<[u8; 3]> = (0..10).map(|i| shade(f64::from(i) / 9.0)).collect();
        for (i, a) in shades.iter().enumerate() {
            for b in &shades[i + 1..] {
                assert!(apart(*a, *b) > 5.0, "{a:?} {b:?}: {}", apart(*a, *b));
            }
        }
    }
}

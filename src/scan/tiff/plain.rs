//! Pages that the tiff crate decodes by itself, from samples of 1 to 16 bits to bytes.

use super::*;

/// Everything but fax and JPEG.
pub(super) fn plain_page(
    decoder: &mut Decoder<Overlaid>,
    (width, height): (usize, usize),
    palette: bool,
    wanted: Wanted,
) -> Result<(GreyImage, Option<RgbImage>), Reason> {
    if decoder.find_tag_unsigned::<u16>(Tag::PlanarConfiguration).ok().flatten() == Some(2) {
        return Err(Reason::NotRead("a TIFF with its colours in separate planes".into()));
    }
    let kind = decoder.colortype().map_err(reason)?;
    let map = if palette { Some(decoder.get_tag_u16_vec(Tag::ColorMap).map_err(reason)?) } else { None };
    let (bits, channels) = match kind {
        ColorType::Gray(b) => (b, 1),
        ColorType::GrayA(b) => (b, 2),
        ColorType::RGB(b) => (b, 3),
        ColorType::RGBA(b) | ColorType::CMYK(b) => (b, 4),
        other => return Err(Reason::NotRead(format!("a TIFF of unusual colours ({other:?})"))),
    };
    let samples = match decoder.read_image().map_err(reason)? {
        DecodingResult::U8(packed) => unpack(&packed, bits, width * channels, height)?,
        DecodingResult::U16(values) => values.into_iter().map(|v| (v >> 8) as u8).collect(),
        _ => return Err(Reason::NotRead("a TIFF of unusual samples".into())),
    };
    if samples.len() < width * height * channels {
        return Err(Reason::CutShort);
    }
    let grey = |pixels| GreyImage { width, height, pixels };
    let pixels: Vec<u8> = match (kind, map) {
        (ColorType::Gray(_), Some(map)) => {
            // all reds, then all greens, then all blues, 16 bits each (TIFF 6.0, section 5)
            let entries = map.len() / 3;
            let colour =
                |v: u8, c: usize| map.get(c * entries + usize::from(v)).map_or(255, |m| (m >> 8) as u8);
            samples.iter().flat_map(|&v| [colour(v, 0), colour(v, 1), colour(v, 2)]).collect()
        }
        (ColorType::Gray(b), None) => {
            // samples of fewer bits are spread to 0..=255
            let most = if b < 8 { (1u32 << b) - 1 } else { 255 };
            return Ok((
                grey(samples.into_iter().map(|v| (u32::from(v) * 255 / most) as u8).collect()),
                None,
            ));
        }
        (ColorType::GrayA(_), _) => {
            return Ok((grey(samples.chunks_exact(2).map(|p| on_white(p[0], p[1])).collect()), None));
        }
        (ColorType::RGBA(_), _) => {
            samples.chunks_exact(4).flat_map(|p| [0, 1, 2].map(|c| on_white(p[c], p[3]))).collect()
        }
        // ink by ink: what the colour leaves, of what the black leaves
        (ColorType::CMYK(_), _) => samples
            .chunks_exact(4)
            .flat_map(|p| [0, 1, 2].map(|c| ((255 - u32::from(p[c])) * (255 - u32::from(p[3])) / 255) as u8))
            .collect(),
        _ => samples,
    };
    let colour = RgbImage { width, height, pixels };
    Ok((colour.grey(), wanted.colour.then_some(colour)))
}

/// A value of which `alpha` / 255 shows, on white paper.
fn on_white(value: u8, alpha: u8) -> u8 {
    let (v, a) = (u32::from(value), u32::from(alpha));
    ((v * a + 255 * (255 - a) + 127) / 255) as u8
}

/// Samples of 1, 2, 4 or 8 bits, most significant first, each row from a byte's start, to a byte each.
fn unpack(packed: &[u8], bits: u8, row_samples: usize, rows: usize) -> Result<Vec<u8>, Reason> {
    if bits == 8 {
        return Ok(packed.to_vec());
    }
    if !matches!(bits, 1 | 2 | 4) {
        return Err(Reason::NotRead(format!("a TIFF of {bits} bits a sample")));
    }
    let row_bytes = (row_samples * usize::from(bits)).div_ceil(8);
    if packed.len() < row_bytes * rows {
        return Err(Reason::CutShort);
    }
    let (each, mask) = (8 / usize::from(bits), (1u8 << bits) - 1);
    let mut out = Vec::with_capacity(row_samples * rows);
    for row in packed.chunks_exact(row_bytes).take(rows) {
        out.extend(
            (0..row_samples).map(|i| row[i / each] >> (8 - usize::from(bits) * (i % each + 1)) & mask),
        );
    }
    Ok(out)
}

//! What may be wrong with a file: each gets its own word, nothing panics, nothing takes memory by a claim.

use proptest::prelude::*;

use super::*;

fn refused(name: &str, bytes: &[u8]) -> Reason {
    read(name, bytes, GREY).unwrap_err()
}

#[test]
fn files_that_are_no_images() {
    assert_eq!(refused("a.jpg", b""), Reason::Empty);
    assert_eq!(refused("a.jpg", b"Shopping:\r\n- milk\r\n"), Reason::NotAnImage("text"));
    assert_eq!(
        refused("a.jpg", b"PK\x03\x04\x14\0\0\0"),
        Reason::NotAnImage("an archive or an office document")
    );
    let folder = tempfile::tempdir().unwrap();
    assert!(matches!(open(&folder.path().join("none.jpg")).err().unwrap().reason, Reason::Unreadable(_)));
    assert!(matches!(open(folder.path()).err().unwrap().reason, Reason::Unreadable(_)));
}

#[test]
fn a_truncated_jpeg_is_never_taken_for_whole() {
    let jpeg = jpeg_of(&gradient(400, 300));
    for share in [0.02, 0.1, 0.5, 0.9, 0.97] {
        let keep = (jpeg.len() as f64 * share) as usize;
        let reason = refused("a.jpg", &jpeg[..keep]);
        assert!(matches!(reason, Reason::CutShort | Reason::Damaged(_)), "{share}: {reason:?}");
    }
}

#[test]
fn an_early_end_marker_is_noticed() {
    let jpeg = jpeg_of(&gradient(400, 300));
    for share in [0.4, 0.6, 0.9] {
        let keep = (jpeg.len() as f64 * share) as usize;
        let cut = [&jpeg[..keep], b"\xFF\xD9".as_slice()].concat();
        assert!(read("a.jpg", &cut, GREY).is_err(), "{share}");
    }
}

/// Made by ImageMagick 6 (libjpeg's usual six passes): 200 x 150, grey.
const PROGRESSIVE: &[u8] = include_bytes!("progressive.jpg");

#[test]
fn a_progressive_jpeg_whose_last_passes_are_missing_is_noticed() {
    assert!(read("a.jpg", PROGRESSIVE, GREY).is_ok());
    let marker = |code: u8| move |w: &[u8]| w == [0xFF, code];
    let scans: Vec<usize> =
        (0..PROGRESSIVE.len() - 1).filter(|&i| marker(0xDA)(&PROGRESSIVE[i..i + 2])).collect();
    assert!(scans.len() > 3, "{scans:?}");
    // Cut within any pass but the last, and closed again.
    for pass in scans.windows(2) {
        let cut = [&PROGRESSIVE[..(pass[0] + pass[1]) / 2 + 6], b"\xFF\xD9".as_slice()].concat();
        assert!(read("a.jpg", &cut, GREY).is_err(), "{pass:?}");
        let cut = [&PROGRESSIVE[..pass[1]], b"\xFF\xD9".as_slice()].concat();
        assert_eq!(refused("a.jpg", &cut), Reason::CutShort, "{pass:?}");
    }
}

#[test]
fn one_pixel() {
    let dot = image::GrayImage::new(1, 1);
    assert_eq!(refused("a.jpg", &jpeg_of(&dot)), Reason::TooSmall { width: 1, height: 1 });
    let mut png = Vec::new();
    dot.write_to(&mut std::io::Cursor::new(&mut png), image::ImageFormat::Png).unwrap();
    assert_eq!(refused("a.png", &png), Reason::TooSmall { width: 1, height: 1 });
}

#[test]
fn sixty_thousand_a_side() {
    let mut jpeg = jpeg_of(&gradient(200, 200));
    let frame = jpeg.windows(2).position(|w| w == [0xFF, 0xC0]).unwrap();
    jpeg[frame + 5..frame + 9].copy_from_slice(&[0xEA, 0x60, 0xEA, 0x60]);
    let claimed = Reason::TooManyPixels { width: 60_000, height: 60_000, limit: limits::MAX_PIXELS };
    assert_eq!(refused("a.jpg", &jpeg), claimed);
    // a PNG's header is guarded by a checksum, so it is made new
    let header =
        [b"IHDR".as_slice(), &60_000u32.to_be_bytes(), &60_000u32.to_be_bytes(), &[8, 0, 0, 0, 0]].concat();
    let crc = super::stills::crc32(&header).to_be_bytes();
    let png =
        [b"\x89PNG\r\n\x1A\n\0\0\0\x0D".as_slice(), &header, &crc, b"\0\0\0\0IDAT\x35\xAF\x06\x1E"].concat();
    assert_eq!(refused("a.png", &png), claimed);
}

#[test]
fn a_png_cut_short_is_noticed() {
    let png = bytes_of("shades.png");
    for keep in [10, 60, png.len() / 2, png.len() - 40] {
        assert!(read("a.png", &png[..keep], GREY).is_err(), "{keep}");
    }
}

#[test]
fn refusals_say_where_what_and_what_to_do() {
    let refusal = PageRefusal { file: "scans/class.pdf".into(), number: 3, reason: Reason::CutShort };
    let words = "scans/class.pdf page 3: is cut short: its data end too early; copy or scan it again";
    assert_eq!(refusal.to_string(), words);
}

/// Whatever bytes come, a page or a refusal, and pages within the limits.
fn survives(bytes: &[u8]) -> Result<(), TestCaseError> {
    let (_folder, path) = file("x", bytes);
    let Ok(pages) = open(&path) else { return Ok(()) };
    for number in 1..=pages.len().min(3) {
        let _ = pages.page_hash(number);
        if let Ok(page) = pages.page(number, COLOUR) {
            prop_assert_eq!(page.grey.pixels.len(), page.grey.width * page.grey.height);
            prop_assert!(page.grey.pixels.len() as u64 <= limits::MAX_PIXELS);
            if let Some(colour) = page.colour {
                prop_assert_eq!(colour.pixels.len(), 3 * page.grey.pixels.len());
            }
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, ..ProptestConfig::default() })]

    #[test]
    fn spoilt_files_are_survived(
        which in 0usize..9,
        keep in 0.0f64..1.3,
        spoils in proptest::collection::vec((0.0f64..1.0, any::<u8>()), 0..6),
    ) {
        let mut bytes = match which {
            0 => jpeg_of(&gradient(160, 120)),
            1 => bytes_of("shades.png"),
            2 => bytes_of("three.tif"),
            3 => bytes_of("jpeg-ycbcr.tif"),
            4 => super::pdf::fax_pdf(),
            5 => super::pdf::jbig2_pdf(),
            6 => super::pdf::strips_pdf(),
            7 => bytes_of("g3.tif"),
            _ => bytes_of("password.pdf"),
        };
        bytes.truncate((bytes.len() as f64 * keep) as usize);
        for (at, value) in spoils {
            let length = bytes.len();
            if length > 0 {
                bytes[(length as f64 * at) as usize] = value;
            }
        }
        survives(&bytes)?;
    }

    #[test]
    fn noise_behind_a_magic_number_is_survived(magic in 0usize..6, noise in proptest::collection::vec(any::<u8>(), 0..600)) {
        let magics: [&[u8]; 6] = [b"\xFF\xD8\xFF", b"\x89PNG\r\n\x1A\n", b"II*\0\x08\0\0\0", b"%PDF-1.4\n", b"RIFF\0\0\0\0WEBP", b"MM\0\x2B"];
        survives(&[magics[magic], &noise].concat())?;
    }
}

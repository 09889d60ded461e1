//! TIFF, as libtiff writes it.

use super::*;

fn only(name: &str, wanted: Wanted) -> PageImage {
    let pages = open(&data(name)).unwrap();
    assert_eq!(pages.len(), 1, "{name}");
    assert_eq!(pages.damage(), None);
    pages.page(1, wanted).unwrap()
}

#[test]
fn fax_and_packed_bits_are_bit_exact() {
    let truth = truth("picture.png");
    for name in ["g4.tif", "g3.tif", "rle.tif", "white-is-zero.tif", "packbits.tif"] {
        let page = only(name, GREY);
        assert!(page.grey == truth, "{name} differs");
        assert!(page.bilevel, "{name}");
    }
    assert_eq!(only("g4.tif", GREY).dpi, Some((200.0, 100.0)));
}

#[test]
fn grey_codings_are_exact() {
    let truth = truth("shades.png");
    for name in ["lzw.tif", "deflate.tif", "plain.tif", "white-is-zero-grey.tif", "orientation6.tif"] {
        let page = only(name, COLOUR);
        assert!(page.grey == truth, "{name} differs");
        assert!(!page.bilevel && page.colour.is_none(), "{name}");
    }
}

#[test]
fn colours_and_palettes() {
    for (name, png) in [("rgb.tif", "rgb.png"), ("palette.tif", "palette.png")] {
        let truth = image::open(data(png)).unwrap().into_rgb8();
        assert!(only(name, COLOUR).colour.unwrap().pixels == *truth.as_raw(), "{name}");
        assert!(only(name, GREY).colour.is_none());
    }
}

#[test]
fn jpeg_strips() {
    assert!(most_apart(&only("jpeg.tif", GREY).grey.pixels, &truth("shades.png").pixels) < 60);
    let smooth = image::open(data("smooth.png")).unwrap().into_rgb8();
    // half the resolution in the colours blurs the edges; the mean holds
    let mean = |a: &[u8], b: &[u8]| {
        assert_eq!(a.len(), b.len());
        a.iter().zip(b).map(|(a, b)| f64::from(a.abs_diff(*b))).sum::<f64>() / a.len() as f64
    };
    for name in ["jpeg-rgb.tif", "jpeg-ycbcr.tif"] {
        let colours = mean(&only(name, COLOUR).colour.unwrap().pixels, smooth.as_raw());
        let greys = mean(&only(name, GREY).grey.pixels, &plane::luma(smooth.as_raw()));
        assert!(colours < 2.0 && greys < 2.0, "{name}: {colours}, {greys}");
    }
}

#[test]
fn many_pages() {
    let pages = open(&data("three.tif")).unwrap();
    assert_eq!(pages.len(), 3);
    let picture = truth("picture.png");
    // asked out of order and from several threads
    std::thread::scope(|scope| {
        for number in [3, 1, 2, 1] {
            let (pages, picture) = (&pages, &picture);
            scope.spawn(move || {
                let page = pages.page(number, GREY).unwrap();
                assert_eq!(page.number, number);
                match number {
                    1 => assert!(page.grey == *picture),
                    2 => assert!(page.grey.pixels.iter().eq(picture.pixels.iter().rev())),
                    _ => assert!(page.grey == truth("shades.png")),
                }
            });
        }
    });
    assert_eq!(pages.page(4, GREY).unwrap_err().reason, Reason::NoSuchPage { pages: 3 });
    assert_eq!(pages.page(0, GREY).unwrap_err().reason, Reason::NoSuchPage { pages: 3 });
}

#[test]
fn a_page_hash_is_the_pages_own() {
    let pages = open(&data("three.tif")).unwrap();
    let hashes = [1, 2, 3].map(|k| pages.page_hash(k).unwrap());
    assert!(hashes[0] != hashes[1] && hashes[1] != hashes[2] && hashes[0] != hashes[2]);
    assert_eq!(hashes, [1, 2, 3].map(|k| open(&data("three.tif")).unwrap().page_hash(k).unwrap()));
}

#[test]
fn a_broken_page_costs_no_other() {
    // the third page's directory is the last thing that names its size: spoil its width
    let mut bytes = bytes_of("three.tif");
    let (folder, path) = file("a.tif", &bytes);
    let tiff = tiff::TiffFile::open(&path).unwrap();
    let second = tiff.directory_offsets()[1] as usize;
    drop(folder);
    let entries = usize::from(bytes[second]);
    let width = (0..entries).map(|i| second + 2 + 12 * i).find(|&at| bytes[at..at + 2] == [0, 1]).unwrap();
    bytes[width + 8..width + 12].copy_from_slice(&60_000u32.to_le_bytes());
    bytes[width + 12 + 8..width + 12 + 12].copy_from_slice(&60_000u32.to_le_bytes());
    let (_folder, path) = file("a.tif", &bytes);
    let pages = open(&path).unwrap();
    assert_eq!(pages.len(), 3);
    assert!(pages.page(1, GREY).is_ok() && pages.page(3, GREY).is_ok());
    let reason = pages.page(2, GREY).unwrap_err().reason;
    assert!(matches!(reason, Reason::TooManyPixels { width: 60_000, .. } | Reason::Damaged(_)), "{reason:?}");
}

#[test]
fn a_tiff_cut_short_is_noticed() {
    for name in ["g4.tif", "lzw.tif", "deflate.tif", "plain.tif", "jpeg.tif"] {
        let bytes = bytes_of(name);
        for keep in [20, bytes.len() / 3, bytes.len() / 2] {
            let (_folder, path) = file(name, &bytes[..keep]);
            let whole = open(&path).map_err(|r| r.reason).and_then(|p| p.page(1, GREY).map_err(|r| r.reason));
            assert!(whole.is_err(), "{name} cut at {keep}");
        }
    }
}

#[test]
fn a_circle_of_pages_ends() {
    let mut bytes = bytes_of("g4.tif");
    let directory = u32::from_le_bytes(bytes[4..8].try_into().unwrap()) as usize;
    let next = directory + 2 + 12 * usize::from(bytes[directory]);
    let back = bytes[4..8].to_vec();
    bytes[next..next + 4].copy_from_slice(&back);
    let (_folder, path) = file("a.tif", &bytes);
    let pages = open(&path).unwrap();
    assert_eq!(pages.len(), 1);
    assert!(matches!(pages.damage(), Some(Reason::Damaged(_))));
}

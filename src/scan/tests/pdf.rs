//! PDF, written by hand object by object.

use std::io::Write;

use super::*;

/// Objects numbered from 1, then the table of contents.
pub(super) fn assemble(objects: &[Vec<u8>], trailer: &str) -> Vec<u8> {
    let mut out = b"%PDF-1.5\n%\xE2\xE3\xCF\xD3\n".to_vec();
    let mut places = Vec::new();
    for (i, object) in objects.iter().enumerate() {
        places.push(out.len());
        writeln!(out, "{} 0 obj", i + 1).unwrap();
        out.extend(object);
        out.extend(b"\nendobj\n");
    }
    let table = out.len();
    write!(out, "xref\n0 {}\n0000000000 65535 f \n", objects.len() + 1).unwrap();
    for place in places {
        writeln!(out, "{place:010} 00000 n ").unwrap();
    }
    write!(
        out,
        "trailer\n<< /Size {} /Root 1 0 R {trailer} >>\nstartxref\n{table}\n%%EOF\n",
        objects.len() + 1
    )
    .unwrap();
    out
}

pub(super) fn stream(entries: &str, body: &[u8]) -> Vec<u8> {
    [format!("<< {entries} /Length {} >>\nstream\n", body.len()).as_bytes(), body, b"\nendstream"].concat()
}

/// A page: its images (dictionary entries, data), its instructions, and more entries of its own.
pub(super) struct Sheet {
    pub images: Vec<(String, Vec<u8>)>,
    pub instructions: String,
    pub more: String,
}

/// A4 at 72 points an inch; images are called /I0, /I1, ...
pub(super) fn document(sheets: &[Sheet]) -> Vec<u8> {
    let mut objects = vec![b"<< /Type /Catalog /Pages 2 0 R >>".to_vec(), Vec::new()];
    let mut kids = String::new();
    for sheet in sheets {
        let first = objects.len() + 1;
        for (entries, body) in &sheet.images {
            objects.push(stream(&format!("/Type /XObject /Subtype /Image {entries}"), body));
        }
        objects.push(stream("", sheet.instructions.as_bytes()));
        let contents = objects.len();
        let names: String = (0..sheet.images.len()).map(|i| format!("/I{i} {} 0 R ", first + i)).collect();
        objects.push(
            format!(
                "<< /Type /Page /Parent 2 0 R /MediaBox [0 0 595 842] /Contents {contents} 0 R \
                 /Resources << /XObject << {names}>> >> {} >>",
                sheet.more
            )
            .into_bytes(),
        );
        kids += &format!("{} 0 R ", objects.len());
    }
    objects[1] = format!("<< /Type /Pages /Kids [{kids}] /Count {} >>", sheets.len()).into_bytes();
    assemble(&objects, "")
}

const WHOLE_PAGE: &str = "q 595 0 0 842 0 0 cm /I0 Do Q";

fn jpeg_entries(width: u32, height: u32) -> String {
    format!("/Width {width} /Height {height} /ColorSpace /DeviceGray /BitsPerComponent 8 /Filter /DCTDecode")
}

fn jpeg_sheet(more: &str) -> Sheet {
    let jpeg = jpeg_of(&gradient(240, 340));
    Sheet { images: vec![(jpeg_entries(240, 340), jpeg)], instructions: WHOLE_PAGE.into(), more: more.into() }
}

const FAX: &str = "/Width 160 /Height 220 /ColorSpace /DeviceGray /BitsPerComponent 1 /Filter /CCITTFaxDecode \
                   /DecodeParms << /K -1 /Columns 160 /Rows 220 >>";
const JBIG2: &str = "/Width 160 /Height 220 /ColorSpace /DeviceGray /BitsPerComponent 1 /Filter /JBIG2Decode";

fn sheet(entries: &str, body: Vec<u8>) -> Sheet {
    Sheet { images: vec![(entries.into(), body)], instructions: WHOLE_PAGE.into(), more: String::new() }
}

pub(super) fn fax_pdf() -> Vec<u8> {
    document(&[sheet(FAX, bytes_of("picture.g4"))])
}

pub(super) fn jbig2_pdf() -> Vec<u8> {
    document(&[sheet(JBIG2, bytes_of("picture.jb2"))])
}

fn flate(bytes: &[u8]) -> Vec<u8> {
    let mut packer = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::default());
    packer.write_all(bytes).unwrap();
    packer.finish().unwrap()
}

/// The grey picture in three strips of 80, 80 and 60 rows, packed by flate, the last drawn first.
pub(super) fn strips_pdf() -> Vec<u8> {
    let shades = truth("shades.png").pixels;
    let mut images = Vec::new();
    let mut instructions = String::new();
    for (i, (from, to)) in [(160, 220), (0, 80), (80, 160)].into_iter().enumerate() {
        let rows = to - from;
        let entries = format!(
            "/Width 160 /Height {rows} /ColorSpace /DeviceGray /BitsPerComponent 8 /Filter /FlateDecode"
        );
        images.push((entries, flate(&shades[160 * from..160 * to])));
        // 480 x 660 points from (50, 100): 3 points a pixel
        instructions += &format!("q 480 0 0 {} 50 {} cm /I{i} Do Q\n", 3 * rows, 100 + 3 * (220 - to));
    }
    document(&[Sheet { images, instructions, more: String::new() }])
}

fn rgb_at(page: &PageImage, x: usize, y: usize) -> [u8; 3] {
    let colour = page.colour.as_ref().unwrap();
    let at = 3 * (y * colour.width + x);
    colour.pixels[at..at + 3].try_into().unwrap()
}

#[test]
fn a_jpeg_page_gives_the_scans_own_pixels() {
    let page = read("a.pdf", &document(&[jpeg_sheet("")]), GREY).unwrap();
    let alone = read("a.jpg", &jpeg_of(&gradient(240, 340)), GREY).unwrap();
    assert_eq!(page.grey, alone.grey);
    let (x, y) = page.dpi.unwrap();
    assert!((x - 240.0 / 595.0 * 72.0).abs() < 0.01 && (y - 340.0 / 842.0 * 72.0).abs() < 0.01);
}

#[test]
fn a_turned_page_comes_upright() {
    let upright = read("a.pdf", &document(&[jpeg_sheet("")]), GREY).unwrap().grey;
    let turned = read("a.pdf", &document(&[jpeg_sheet("/Rotate 90")]), GREY).unwrap().grey;
    assert_eq!((turned.width, turned.height), (340, 240));
    // turned clockwise: the first row of what is shown is the first column of the scan from below
    let expected: Vec<u8> = (0..340).map(|i| upright.pixels[(339 - i) * 240]).collect();
    assert_eq!(turned.pixels[..340], expected);
    let over = read("a.pdf", &document(&[jpeg_sheet("/Rotate 180")]), GREY).unwrap().grey;
    assert!(over.pixels.iter().eq(upright.pixels.iter().rev()));
    // the scan lies on its side, and its transform sets it upright: x runs up the page
    let mut sheet = jpeg_sheet("");
    sheet.instructions = "q 0 842 -595 0 595 0 cm /I0 Do Q".into();
    let side = read("a.pdf", &document(&[sheet]), GREY).unwrap().grey;
    let expected: Vec<u8> = (0..340).map(|i| upright.pixels[i * 240 + 239]).collect();
    assert_eq!((side.width, &side.pixels[..340]), (340, &expected[..]));
}

#[test]
fn fax_and_jbig2_are_bit_exact() {
    let truth = truth("picture.png");
    for pdf in [fax_pdf(), jbig2_pdf()] {
        let page = read("a.pdf", &pdf, GREY).unwrap();
        assert!(page.grey == truth && page.bilevel);
    }
    let inverted = document(&[sheet(&format!("{FAX} /Decode [1 0]"), bytes_of("picture.g4"))]);
    let page = read("a.pdf", &inverted, GREY).unwrap();
    assert!(page.grey.pixels.iter().zip(&truth.pixels).all(|(a, b)| *a == !*b) && page.bilevel);
    let stencil = FAX.replace("/ColorSpace /DeviceGray", "/ImageMask true");
    let page = read("a.pdf", &document(&[sheet(&stencil, bytes_of("picture.g4"))]), GREY).unwrap();
    assert!(page.grey == truth);
}

#[test]
fn strips_are_joined() {
    let page = read("a.pdf", &strips_pdf(), COLOUR).unwrap();
    assert!(page.grey == truth("shades.png"));
    assert!((page.dpi.unwrap().0 - 24.0).abs() < 1e-6);
}

#[test]
fn letters_before_the_coding() {
    let hex: String = jpeg_of(&gradient(240, 340)).iter().map(|b| format!("{b:02x}")).collect();
    let entries = jpeg_entries(240, 340).replace("/DCTDecode", "[/ASCIIHexDecode /DCTDecode]");
    let page = read("a.pdf", &document(&[sheet(&entries, [hex.as_bytes(), b">"].concat())]), GREY).unwrap();
    assert_eq!(page.grey, read("a.pdf", &document(&[jpeg_sheet("")]), GREY).unwrap().grey);
    let packed = flate(&jpeg_of(&gradient(240, 340)));
    let entries = jpeg_entries(240, 340).replace("/DCTDecode", "[/FlateDecode /DCTDecode]");
    assert!(read("a.pdf", &document(&[sheet(&entries, packed)]), GREY).is_ok());
}

#[test]
fn colours_are_kept_where_asked_for() {
    let pixels: Vec<u8> =
        (0..120 * 110).flat_map(|i| if i % 120 < 60 { [200, 30, 40] } else { [10, 90, 220] }).collect();
    let entries = "/Width 120 /Height 110 /ColorSpace /DeviceRGB /BitsPerComponent 8 /Filter /FlateDecode";
    let pdf = document(&[sheet(entries, flate(&pixels))]);
    assert!(read("a.pdf", &pdf, GREY).unwrap().colour.is_none());
    let page = read("a.pdf", &pdf, COLOUR).unwrap();
    assert_eq!((rgb_at(&page, 0, 0), rgb_at(&page, 119, 109)), ([200, 30, 40], [10, 90, 220]));
}

/// Larger than what is read into memory, so the file is mapped; the blank space between objects is free.
#[test]
fn a_large_file_is_mapped() {
    let pdf = document(&[jpeg_sheet(""), sheet(FAX, bytes_of("picture.g4"))]);
    let trailer = length_positions(&pdf, b"xref")[0];
    let (_folder, path) = file("a.pdf", &[&pdf[..trailer], &vec![b'\n'; 17 << 20], &pdf[trailer..]].concat());
    let pages = open(&path).unwrap();
    assert_eq!(pages.len(), 2);
    for _ in 0..2 {
        assert_eq!(pages.page(2, GREY).unwrap().grey, truth("picture.png"));
        assert!(pages.page(1, GREY).is_ok());
    }
    let small = file("b.pdf", &pdf);
    assert_eq!(pages.page_hash(1), open(&small.1).unwrap().page_hash(1));
}

/// A scan with a line drawn over it is no plain scan any more; the line must be seen.
#[test]
fn other_pages_are_drawn() {
    let mut sheet = jpeg_sheet("");
    sheet.instructions = format!("{WHOLE_PAGE}\n10 w 0 421 m 595 421 l S");
    let page = read("a.pdf", &document(&[sheet]), GREY).unwrap();
    assert_eq!((page.grey.width, page.grey.height), (1652, 2338));
    assert_eq!(page.grey.pixels[1169 * 1652 + 800], 0);
    assert!((page.dpi.unwrap().0 - 200.0).abs() < 0.1);
    // a page that claims to be 20 m wide is drawn coarser
    let mut huge = jpeg_sheet("");
    huge.instructions = "10 w 0 0 m 9000 9000 l S q 9000 0 0 9000 0 0 cm /I0 Do Q".into();
    huge.more = "/MediaBox [0 0 9000 9000]".into();
    let page = read("a.pdf", &document(&[huge]).to_vec(), GREY);
    assert!(page.is_ok_and(|p| p.grey.pixels.len() as f64 <= limits::MAX_RENDER_PIXELS * 1.01));
}

#[test]
fn a_broken_page_costs_no_other() {
    let mut broken = jpeg_sheet("");
    let length = broken.images[0].1.len();
    broken.images[0].1.truncate(length / 2);
    let missing = Sheet { images: vec![], instructions: WHOLE_PAGE.into(), more: String::new() };
    let bare = Sheet { images: vec![], instructions: String::new(), more: String::new() };
    let pdf = document(&[jpeg_sheet(""), broken, jpeg_sheet("/Rotate 180"), missing, bare]);
    let (_folder, path) = file("a.pdf", &pdf);
    let pages = open(&path).unwrap();
    assert_eq!((pages.len(), pages.damage()), (5, None));
    assert!(pages.page(1, GREY).is_ok() && pages.page(3, GREY).is_ok());
    assert!(matches!(pages.page(2, GREY).unwrap_err().reason, Reason::Damaged(_) | Reason::CutShort));
    assert!(matches!(pages.page(4, GREY).unwrap_err().reason, Reason::Damaged(_)));
    assert_eq!(pages.page(5, GREY).unwrap_err().reason, Reason::NothingOnIt);
}

#[test]
fn a_page_that_is_named_but_missing_keeps_its_number() {
    let pdf = document(&[jpeg_sheet(""), jpeg_sheet("/Rotate 90"), jpeg_sheet("/Rotate 180")]);
    let text = b"<< /Type /Page /Parent 2 0 R";
    let second = length_positions(&pdf, text)[1];
    let mut spoilt = pdf.clone();
    spoilt[second..second + 2].copy_from_slice(b"((");
    let (_folder, path) = file("a.pdf", &spoilt);
    let pages = open(&path).unwrap();
    assert_eq!(pages.len(), 3);
    assert!(pages.page(1, GREY).is_ok() && pages.page(2, GREY).is_err());
    let (whole, third) =
        (read("a.pdf", &document(&[jpeg_sheet("/Rotate 180")]), GREY).unwrap(), pages.page(3, GREY).unwrap());
    assert_eq!(third.grey, whole.grey);
}

fn length_positions(data: &[u8], name: &[u8]) -> Vec<usize> {
    data.windows(name.len()).enumerate().filter(|(_, w)| *w == name).map(|(i, _)| i).collect()
}

#[test]
fn a_pdf_cut_short_is_noticed() {
    let pdf = document(&[jpeg_sheet(""), jpeg_sheet("/Rotate 90"), jpeg_sheet("/Rotate 180")]);
    for share in [0.3, 0.6, 0.9] {
        let (_folder, path) = file("a.pdf", &pdf[..(pdf.len() as f64 * share) as usize]);
        match open(&path) {
            Err(refusal) => assert_eq!(refusal.reason, Reason::CutShort, "{share}"),
            Ok(pages) => {
                assert_eq!(pages.damage(), Some(Reason::CutShort), "{share}");
                let bad = (1..=pages.len()).filter(|&k| pages.page(k, GREY).is_err()).count();
                assert!(bad >= 1 || pages.len() < 3, "{share}");
            }
        }
    }
    // only the last bytes gone: all pages are whole, and it is said all the same
    let end = length_positions(&pdf, b"startxref")[0];
    let (_folder, path) = file("a.pdf", &pdf[..end]);
    let pages = open(&path).unwrap();
    assert!((1..=3).all(|k| pages.page(k, GREY).is_ok()));
    assert_eq!(pages.damage(), Some(Reason::CutShort));
}

#[test]
fn an_encrypted_pdf_is_refused() {
    assert_eq!(open(&data("password.pdf")).err().unwrap().reason, Reason::Encrypted);
}

#[test]
fn fax_data_that_end_early_are_refused() {
    let g4 = bytes_of("picture.g4");
    let reason = read("a.pdf", &document(&[sheet(FAX, g4[..g4.len() / 2].to_vec())]), GREY).unwrap_err();
    assert!(matches!(reason, Reason::Damaged(_) | Reason::CutShort));
    let jb2 = bytes_of("picture.jb2");
    assert!(read("a.pdf", &document(&[sheet(JBIG2, jb2[..jb2.len() - 60].to_vec())]), GREY).is_err());
    let rows = flate(&vec![255; 120 * 60]);
    let entries = "/Width 120 /Height 110 /ColorSpace /DeviceGray /BitsPerComponent 8 /Filter /FlateDecode";
    assert_eq!(read("a.pdf", &document(&[sheet(entries, rows)]), GREY).unwrap_err(), Reason::CutShort);
}

#[test]
fn claims_take_no_memory() {
    let claim = jpeg_entries(60_000, 60_000);
    let reason = read("a.pdf", &document(&[sheet(&claim, jpeg_of(&gradient(200, 200)))]), GREY).unwrap_err();
    assert!(matches!(reason, Reason::TooManyPixels { width: 60_000, .. }));
    // a picture of 120 x 110 that unpacks to 600 MB
    let mut packer = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::best());
    let zeros = vec![0; 1 << 20];
    (0..600).for_each(|_| packer.write_all(&zeros).unwrap());
    let bomb = packer.finish().unwrap();
    let entries = "/Width 120 /Height 110 /ColorSpace /DeviceGray /BitsPerComponent 8 /Filter /FlateDecode";
    assert!(matches!(
        read("a.pdf", &document(&[sheet(entries, bomb.clone())]), GREY),
        Err(Reason::Damaged(_))
    ));
    // instructions that do
    let objects = [
        b"<< /Type /Catalog /Pages 2 0 R >>".to_vec(),
        b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>".to_vec(),
        b"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 595 842] /Contents 4 0 R >>".to_vec(),
        stream("/Filter /FlateDecode", &bomb),
    ];
    assert!(matches!(read("a.pdf", &assemble(&objects, ""), GREY), Err(Reason::Damaged(_))));
}

#[test]
fn a_page_hash_follows_the_page() {
    let one = document(&[jpeg_sheet(""), sheet(FAX, bytes_of("picture.g4"))]);
    let other = document(&[sheet(FAX, bytes_of("picture.g4")), jpeg_sheet("")]);
    let hash = |bytes: &[u8], k| {
        let (_folder, path) = file("a.pdf", bytes);
        open(&path).unwrap().page_hash(k).unwrap()
    };
    assert_eq!(hash(&one, 1), hash(&other, 2));
    assert_eq!(hash(&one, 2), hash(&other, 1));
    assert_ne!(hash(&one, 1), hash(&one, 2));
    let inverted = document(&[sheet(&format!("{FAX} /Decode [1 0]"), bytes_of("picture.g4"))]);
    assert_ne!(hash(&one, 2), hash(&inverted, 1));
    let turned = document(&[jpeg_sheet("/Rotate 180")]);
    assert_ne!(hash(&one, 1), hash(&turned, 1));
}

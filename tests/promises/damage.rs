//! Damaged scans: whatever is given, reading ends in good time with a page or with an answer.
//!
//! Two hundred of them in every run of the tests; `LODEMARK_DAMAGED=10000` reads so many, `LODEMARK_DAMAGED=4853..4854` those
//! seeds, and says what came of them.

use crate::tracing;
use lodemark::class::Folder;
use lodemark::run::class::{Sheet, worksheet};
use lodemark::run::read::read_page;
use lodemark::scan::{self, GreyImage, Wanted};
use lodemark::worksheet::Worksheet;
use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::sync::LazyLock;
use std::time::{Duration, Instant};

/// A sample's file that is damaged, and the class whose sheet is looked for.
const FILES: [(&str, &str); 4] = [
    ("9b-unlike-poles", "class.pdf"),
    ("10a-single-bar", "class.tif"),
    ("8c-three-bars", "IMG_0003.jpg"),
    ("8c-three-bars", "IMG_0012.jpg"),
];

/// A damaged file may take no longer; a whole page takes a twentieth of a second.
const MOST_TIME: Duration = Duration::from_secs(10);

/// Of a seed, numbers without a pattern (splitmix64: Steele, Lea and Flood 2014).
struct Chance(u64);

impl Chance {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn below(&mut self, n: usize) -> usize {
        (self.next() % n.max(1) as u64) as usize
    }
}

/// A sample file and its class.
struct Sample {
    sheet: Sheet,
    bytes: Vec<u8>,
    /// One of its pages, whole.
    page: GreyImage,
}

fn sample((class, file): (&str, &str)) -> Sample {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples").join(class);
    let path = root.join("scans").join(file);
    let sheet = Sheet::new(worksheet(&Folder::new(&root)).unwrap());
    let page = scan::open(&path).unwrap().page(1, Wanted::default()).unwrap().grey;
    Sample { sheet, bytes: std::fs::read(&path).unwrap(), page }
}

/// A file with its bytes damaged: cut off, bits turned over, a piece lost, doubled or blanked out.
fn damaged_bytes(bytes: &[u8], chance: &mut Chance) -> Vec<u8> {
    let mut out = bytes.to_vec();
    let n = out.len();
    let from = chance.below(n);
    let piece = from..(from + 1 + chance.below(5_000)).min(n);
    match chance.below(6) {
        0 => out.truncate(from),
        1 => (0..1 + chance.below(50)).for_each(|_| out[chance.below(n)] ^= 1 << chance.below(8)),
        2 => drop(out.drain(piece)),
        3 => out.splice(from..from, bytes[piece].iter().copied()).for_each(drop),
        4 => out[piece].fill([0, 0xff][chance.below(2)]),
        // In the first bytes stand the sizes.
        _ => (0..4).for_each(|_| out[chance.below(n.min(600))] = chance.next() as u8),
    }
    out
}

/// A page damaged as a picture: resized, turned, inverted, noisy, partly lost.
fn damaged_picture(page: &GreyImage, chance: &mut Chance) -> GreyImage {
    let share = |chance: &mut Chance| chance.below(1_000) as f64 / 1_000.0;
    let (w, h) = (page.width, page.height);
    match chance.below(6) {
        0 => {
            let size = |chance: &mut Chance, n: usize| ((0.05 + 1.5 * share(chance)) * n as f64) as usize + 1;
            let (wide, high) = (size(chance, w), size(chance, h));
            mapped(page, (wide, high), |x, y| (x * w as f64 / wide as f64, y * h as f64 / high as f64))
        }
        1 => {
            let (sin, cos) = (share(chance) * std::f64::consts::TAU).sin_cos();
            let (cx, cy) = (0.5 * w as f64, 0.5 * h as f64);
            mapped(page, (w, h), |x, y| {
                (cx + cos * (x - cx) - sin * (y - cy), cy + sin * (x - cx) + cos * (y - cy))
            })
        }
        2 => with(page, |_, level| 255 - level),
        3 => {
            let most = 1 + chance.below(400) as u64;
            let mut noise = Chance(chance.next());
            with(page, |_, level| {
                (i64::from(level) + (noise.next() % most) as i64 - most as i64 / 2).clamp(0, 255) as u8
            })
        }
        4 => {
            let (from, to, fill) = (chance.below(w * h), chance.below(w * h), chance.next() as u8);
            with(page, |i, level| if (from.min(to)..from.max(to)).contains(&i) { fill } else { level })
        }
        _ => {
            let mut noise = Chance(chance.next());
            let one_in = 2 + chance.below(200) as u64;
            with(page, |_, level| match noise.next() % one_in {
                0 => 0,
                1 => 255,
                _ => level,
            })
        }
    }
}

fn with(page: &GreyImage, mut level: impl FnMut(usize, u8) -> u8) -> GreyImage {
    let pixels = page.pixels.iter().enumerate().map(|(i, &g)| level(i, g)).collect();
    GreyImage { width: page.width, height: page.height, pixels }
}

/// The picture of this size whose pixels come from these places of the page; white outside.
fn mapped(
    page: &GreyImage,
    (width, height): (usize, usize),
    from: impl Fn(f64, f64) -> (f64, f64),
) -> GreyImage {
    let at = |i: usize| {
        let (x, y) = from((i % width) as f64, (i / width) as f64);
        let inside = x >= 0.0 && y >= 0.0 && x < page.width as f64 && y < page.height as f64;
        if inside { page.pixels[y as usize * page.width + x as usize] } else { 255 }
    };
    GreyImage { width, height, pixels: (0..width * height).map(at).collect() }
}

/// Reads what a file holds, its first page only; in a word, what came of it.
fn read_file(sheet: &Sheet, path: &Path) -> &'static str {
    let pages = match scan::open(path) {
        Ok(pages) => pages,
        Err(_) => return "file refused",
    };
    let _ = pages.page_hash(1);
    match pages.page(1, Wanted::default()) {
        Ok(page) => read_picture(sheet, &page.grey),
        Err(_) => "page refused",
    }
}

fn read_picture(sheet: &Sheet, page: &GreyImage) -> &'static str {
    match read_page(page, None, &sheet.reader) {
        Ok(_) => "read",
        Err(_) => "no sheet found",
    }
}

/// What this thread has worked so far; where the system does not tell, the time of day does, which runs on while others work.
fn spent() -> Duration {
    static START: LazyLock<Instant> = LazyLock::new(Instant::now);
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").ok();
    let nanoseconds = told.and_then(|t| t.split_whitespace().next()?.parse().ok());
    nanoseconds.map_or_else(|| START.elapsed(), Duration::from_nanos)
}

/// As many from the first on, or from one seed to another: "10000", "4853..4854".
fn seeds(asked: &str) -> std::ops::Range<u64> {
    let number = |n: &str| n.parse().expect("LODEMARK_DAMAGED is a number, or two with .. between");
    match asked.split_once("..") {
        Some((from, to)) => number(from)..number(to),
        None => 0..number(asked),
    }
}

/// Most memory that this process has held, MB, where the system tells.
fn peak_mb() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|l| l.starts_with("VmHWM:"))?;
    line.split_whitespace().nth(1)?.parse::<u64>().ok().map(|kb| kb / 1024)
}

/// Reads once for each seed, `few` of them where no number was asked for; what came of them, by its name.
fn each(few: u64, read: impl Fn(&mut Chance) -> &'static str) -> BTreeMap<&'static str, usize> {
    let asked = std::env::var("LODEMARK_DAMAGED").ok().map(|asked| seeds(&asked));
    let seeds = asked.clone().unwrap_or(0..few);
    let mut came: BTreeMap<&str, usize> = BTreeMap::new();
    let mut longest = Duration::ZERO;
    for seed in seeds.clone() {
        if asked.is_some() && seed % 500 == 0 {
            println!("{seed}: {came:?}, the longest {longest:?}");
        }
        let started = spent();
        let word = catch_unwind(AssertUnwindSafe(|| read(&mut Chance(seed))));
        let word = word.unwrap_or_else(|_| panic!("the reader gave up on seed {seed}"));
        *came.entry(word).or_default() += 1;
        let took = spent().saturating_sub(started);
        longest = longest.max(took);
        assert!(took < MOST_TIME, "seed {seed} took {took:?}");
    }
    if asked.is_some() {
        let all = seeds.end - seeds.start;
        println!("{all} damaged: {came:?}; the longest took {longest:?}; at most {:?} MB", peak_mb());
    }
    came
}

#[test]
fn damaged_scans_end_in_an_answer() {
    let samples = FILES.map(sample);
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("damaged");
    let came = each(200, |chance| {
        let sample = &samples[chance.below(samples.len())];
        if chance.below(2) == 0 {
            std::fs::write(&path, damaged_bytes(&sample.bytes, chance)).unwrap();
            read_file(&sample.sheet, &path)
        } else {
            read_picture(&sample.sheet, &damaged_picture(&sample.page, chance))
        }
    });
    // A few may well all end alike.
    assert!(came.len() == 4 || came.values().sum::<usize>() < 200, "{came:?}");
}

/// Plain paper is found in another way than printed sheets.
#[test]
fn damaged_plain_paper_ends_in_an_answer() {
    let worksheet = Worksheet::parse(Path::new("w"), tracing::BAR).unwrap();
    let pages: Vec<GreyImage> = [tracing::Paper::Blank, tracing::Paper::Ruled, tracing::Paper::Graph]
        .into_iter()
        .enumerate()
        .map(|(n, paper)| tracing::page(&worksheet, paper, tracing::Letters::Right, 71 + n as u64).0)
        .collect();
    let sheet = Sheet::new(worksheet);
    let came = each(40, |chance| {
        let page = &pages[chance.below(pages.len())];
        read_picture(&sheet, &damaged_picture(page, chance))
    });
    assert!(came.len() == 2 || came.values().sum::<usize>() < 40, "{came:?}");
}

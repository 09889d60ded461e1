//! All pages of all files, in parallel: each is decoded, read, measured, written to the cache and let go.

use super::Failure;
use super::cache::{Cache, Doubts, KnownFile, Outcome, ReadPage, SheetCode, Shown, hex};
use super::class::Sheet;
use super::read::{PageReading, Unread, read_page};
use super::scans::ScanFile;
use crate::geometry::Rect;
use crate::measure::findings::{Cached, Findings, PageFacts, SourcePage, VERSION};
use crate::measure::{PanelFindings, measure_panel};
use crate::rectify::{FoundBy, NotFound, flatten};
use crate::report::Picture;
use crate::scan::{self, GreyImage, PageImage, PageRefusal, Pages, Refusal, Wanted};
use crate::traced::Unfound;
use indicatif::{ProgressBar, ProgressStyle};
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, OnceLock};

/// A page in scan order, and what it turned out to be in short; the rest is in the cache under `key`.
#[derive(Clone, Debug, PartialEq)]
pub struct Note {
    /// The name inside scans/.
    pub file: String,
    /// From 1.
    pub page: usize,
    /// In the cache; `None` where nothing is kept.
    pub key: Option<String>,
    /// Which of the class's worksheets it is a page of.
    pub sheet: usize,
    pub seen: Seen,
    /// Of each panel, by which step plotted dots stand off, right and down in mm.
    pub steps: Vec<Option<[f64; 2]>>,
    /// The class's own step in each panel, which is taken off its `dots.shift_mm`: [`super::steady`].
    pub class_steps: Vec<[f64; 2]>,
}

impl Note {
    pub(super) fn new(file: &str, page: usize, key: Option<String>, seen: Seen) -> Self {
        Self { file: file.into(), page, key, sheet: 0, seen, steps: Vec::new(), class_steps: Vec::new() }
    }

    /// Of what is kept under a key.
    fn of(file: &str, page: usize, key: String, outcome: &Outcome) -> Self {
        let steps = match outcome {
            Outcome::Read(page) => page.cached.steps(),
            _ => Vec::new(),
        };
        Self { steps, ..Self::new(file, page, Some(key), seen(outcome)) }
    }
}

/// What a page turned out to be.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Seen {
    Sheet(SheetCode),
    OtherWorksheet(String),
    NoPage,
    /// The empty back of a sheet, most likely.
    Blank,
    Refused {
        what: String,
        fix: String,
    },
}

/// A file that cannot be read, or not wholly.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BadFile {
    pub file: String,
    pub what: String,
    pub fix: String,
}

/// What all files gave.
#[derive(Clone, Debug, Default)]
pub struct Catalogue {
    /// In scan order.
    pub notes: Vec<Note>,
    pub bad_files: Vec<BadFile>,
    /// How many pages were decoded and read, the others being known already.
    pub newly_read: usize,
    /// Keys of all that was used of the cache.
    pub keys: BTreeSet<String>,
}

/// A page to look at.
struct Job<'a> {
    file: &'a ScanFile,
    /// The file, opened by the first job that needs it.
    pages: Arc<OnceLock<Result<Pages, Refusal>>>,
    page: usize,
    hash: Result<String, PageRefusal>,
}

/// Reads every page of `files`, or finds it in the cache. `sheets`: the class's worksheet first, then those of
/// single students, each with the cache for its pages.
///
/// # Errors
/// [`Failure::Stopped`] where the cache cannot be written. No page and no file is an error.
pub fn read_all(sheets: &[(&Sheet, Cache)], files: &[ScanFile], bar: bool) -> Result<Catalogue, Failure> {
    let Some((_, cache)) = sheets.first() else { return Ok(Catalogue::default()) };
    let known = cache.known_files();
    let mut opened = Vec::new();
    opened.par_extend(files.par_iter().map(|file| open(file, known.get(&file.name))));
    let mut catalogue = Catalogue::default();
    let mut jobs = Vec::new();
    let mut remembered = BTreeMap::new();
    for (file, found) in files.iter().zip(opened) {
        match found {
            Ok(found) => {
                if let Some((what, fix)) = &found.damage {
                    catalogue.bad_files.push(BadFile {
                        file: file.name.clone(),
                        what: what.clone(),
                        fix: fix.clone(),
                    });
                }
                if let Some(known) = remember(file, &found) {
                    remembered.insert(file.name.clone(), known);
                }
                let pages = Arc::new(found.pages);
                let hashes = found.hashes.into_iter().enumerate();
                jobs.extend(hashes.map(|(n, hash)| Job { file, pages: pages.clone(), page: n + 1, hash }));
            }
            Err(bad) => catalogue.bad_files.push(bad),
        }
    }
    let progress = progress_bar(jobs.len(), bar);
    let newly_read = AtomicUsize::new(0);
    let notes: Result<Vec<(Note, Vec<String>)>, Failure> = jobs
        .par_iter()
        .map(|job| {
            let note = look_through(sheets, job, &newly_read);
            progress.inc(1);
            note
        })
        .collect();
    progress.finish_and_clear();
    for (note, keys) in notes? {
        catalogue.notes.push(note);
        catalogue.keys.extend(keys);
    }
    catalogue.newly_read = newly_read.into_inner();
    cache.remember(&remembered).map_err(Failure::Stopped)?;
    Ok(catalogue)
}

/// What is known of every page without reading any; `None` where a page was not read yet.
pub fn read_known(sheets: &[(&Sheet, Cache)], files: &[ScanFile]) -> Option<Vec<Note>> {
    let (_, cache) = sheets.first()?;
    let known = cache.known_files();
    let mut notes = Vec::new();
    for file in files {
        let Ok(found) = open(file, known.get(&file.name)) else { continue };
        for (n, hash) in found.hashes.iter().enumerate() {
            let Ok(hash) = hash else {
                notes.push(Note::new(&file.name, n + 1, None, Seen::NoPage));
                continue;
            };
            let mut at = 0;
            loop {
                let key = sheets[at].1.key(hash);
                let outcome = sheets[at].1.get(&key)?;
                let note = Note { sheet: at, ..Note::of(&file.name, n + 1, key, &outcome) };
                let Seen::OtherWorksheet(id) = &note.seen else {
                    notes.push(note);
                    break;
                };
                match sheets.iter().position(|(s, _)| s.worksheet.id == *id).filter(|n| at == 0 && *n > 0) {
                    Some(n) => at = n,
                    None => {
                        notes.push(note);
                        break;
                    }
                }
            }
        }
    }
    Some(notes)
}

struct Opened {
    pages: OnceLock<Result<Pages, Refusal>>,
    hashes: Vec<Result<String, PageRefusal>>,
    damage: Option<(String, String)>,
}

fn open(file: &ScanFile, known: Option<&KnownFile>) -> Result<Opened, BadFile> {
    if let Some(known) = known.filter(|k| k.bytes == file.bytes && k.modified_ns == file.modified_ns) {
        let hashes = known.pages.iter().cloned().map(Ok).collect();
        return Ok(Opened { pages: OnceLock::new(), hashes, damage: known.damage.clone() });
    }
    let pages = scan::open(&file.path).map_err(|refusal| BadFile {
        file: file.name.clone(),
        what: refusal.reason.what(),
        fix: refusal.reason.fix().to_string(),
    })?;
    let hashes = (1..=pages.len()).map(|n| pages.page_hash(n).map(|hash| hex(&hash))).collect();
    let damage = pages.damage().map(|d| (d.what(), d.fix().to_string()));
    Ok(Opened { pages: OnceLock::from(Ok(pages)), hashes, damage })
}

fn remember(file: &ScanFile, found: &Opened) -> Option<KnownFile> {
    let pages = found.hashes.iter().map(|hash| hash.as_ref().ok().cloned()).collect::<Option<Vec<_>>>()?;
    let damage = found.damage.clone();
    Some(KnownFile { bytes: file.bytes, modified_ns: file.modified_ns, pages, damage })
}

/// With time left, on a terminal only.
fn progress_bar(pages: usize, shown: bool) -> ProgressBar {
    if !shown {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::new(pages as u64);
    let style = ProgressStyle::with_template("reading {bar:40} {pos} of {len} pages, {eta} left");
    if let Ok(style) = style {
        bar.set_style(style);
    }
    bar
}

/// Looks at a page as one of the class's worksheet, and where its code names another of the class's as that one.
fn look_through(
    sheets: &[(&Sheet, Cache)],
    job: &Job,
    newly_read: &AtomicUsize,
) -> Result<(Note, Vec<String>), Failure> {
    let mut keys = Vec::new();
    let mut at = 0;
    loop {
        let (sheet, cache) = &sheets[at];
        let note = Note { sheet: at, ..look(sheet, job, cache, newly_read)? };
        keys.extend(note.key.clone());
        let Seen::OtherWorksheet(id) = &note.seen else { return Ok((note, keys)) };
        let other = sheets.iter().position(|(s, _)| s.worksheet.id == *id).filter(|n| at == 0 && *n > 0);
        match other {
            Some(n) => at = n,
            None => return Ok((note, keys)),
        }
    }
}

fn look(sheet: &Sheet, job: &Job, cache: &Cache, newly_read: &AtomicUsize) -> Result<Note, Failure> {
    let name = &job.file.name;
    let hash = match &job.hash {
        Ok(hash) => hash,
        Err(refusal) => {
            let (what, fix) = (refusal.reason.what(), refusal.reason.fix().to_string());
            return Ok(Note::new(name, job.page, None, Seen::Refused { what, fix }));
        }
    };
    let key = cache.key(hash);
    if let Some(outcome) = cache.get(&key) {
        return Ok(Note::of(name, job.page, key, &outcome));
    }
    newly_read.fetch_add(1, Ordering::Relaxed);
    let (outcome, shown) = match job.pages.get_or_init(|| scan::open(&job.file.path)) {
        Ok(pages) => read_one(sheet, pages, job.page, seed_of(hash)),
        Err(refusal) => {
            let (what, fix) = (refusal.reason.what(), refusal.reason.fix().to_string());
            (Outcome::Refused { what, fix }, None)
        }
    };
    // A file that could not be read today may be readable tomorrow under the same name, size and time.
    if !matches!(outcome, Outcome::Refused { .. }) {
        cache.put(&key, &outcome, shown.as_ref()).map_err(Failure::Stopped)?;
    }
    Ok(Note::of(name, job.page, key, &outcome))
}

fn seen(outcome: &Outcome) -> Seen {
    match outcome {
        Outcome::Read(page) => Seen::Sheet(page.code.clone()),
        Outcome::OtherWorksheet { worksheet } => Seen::OtherWorksheet(worksheet.clone()),
        Outcome::NoPage => Seen::NoPage,
        Outcome::Blank => Seen::Blank,
        Outcome::Unfound { what, fix } | Outcome::Refused { what, fix } => {
            Seen::Refused { what: what.clone(), fix: fix.clone() }
        }
    }
}

/// A seed from a page's hash: the same page draws the same worlds on every machine.
pub fn seed_of(hash: &str) -> u64 {
    hash.get(..16).and_then(|digits| u64::from_str_radix(digits, 16).ok()).unwrap_or(0)
}

/// Decodes and reads one page. A page that makes the reader give up costs no other page anything.
pub fn read_one(sheet: &Sheet, pages: &Pages, number: usize, seed: u64) -> (Outcome, Option<Shown>) {
    let image = match pages.page(number, Wanted::default()) {
        Ok(image) => image,
        Err(refusal) => {
            let (what, fix) = (refusal.reason.what(), refusal.reason.fix().to_string());
            return (Outcome::Refused { what, fix }, None);
        }
    };
    catch_unwind(AssertUnwindSafe(|| measure(sheet, &image, seed))).unwrap_or_else(|_| {
        let (what, fix) = ("made the reader give up", "mark it by hand, and tell the makers of the program");
        (Outcome::Refused { what: what.into(), fix: fix.into() }, None)
    })
}

fn measure(sheet: &Sheet, image: &PageImage, seed: u64) -> (Outcome, Option<Shown>) {
    let reading = match read_page(&image.grey, image.dpi, &sheet.reader) {
        Ok(reading) => reading,
        Err(why) => return (unread(why), None),
    };
    let found = measured(sheet, &reading, seed);
    let torn = reading.found_by == FoundBy::ThreeDiscs;
    let findings = Findings {
        findings: VERSION,
        program: env!("CARGO_PKG_VERSION").to_string(),
        rubric: String::new(),
        code: String::new(),
        source: SourcePage::default(),
        page: PageFacts {
            found_by: found_by(reading.found_by).to_string(),
            scale_px_per_mm: reading.scale_px_per_mm,
            residual_mm: reading.residual_mm.unwrap_or(0.0),
        },
        panels: found.iter().map(|f| f.record.clone()).collect(),
        marks: BTreeMap::new(),
        flags: Vec::new(),
        ideas: Vec::new(),
    };
    let measures: Vec<_> = found.into_iter().map(|f| f.measures).collect();
    let code = match reading.code {
        None if reading.traced.is_some() => SheetCode::Plain,
        None => SheetCode::Unreadable,
        Some(payload) => payload.code.map_or(SheetCode::Master, SheetCode::Code),
    };
    let doubts = reading.traced.as_ref().map(|t| Doubts { outlines: !t.outlines_sure, poles: !t.poles_sure });
    let page = ReadPage {
        code,
        torn,
        registered: reading.registered,
        doubts: doubts.unwrap_or_default(),
        unread_share: reading.panels.iter().map(|d| d.unread_share).fold(0.0, f64::max),
        crumbled: reading.panels.iter().any(|d| d.crumbled),
        rulings_left: reading.panels.iter().any(|d| d.rulings_left),
        cached: Cached::new(findings, &measures),
    };
    let frames: Vec<Rect> = page.panels(&sheet.worksheet).iter().map(|p| p.frame).collect();
    let shown = show(&frames, &image.grey, &reading.page_to_scan);
    (Outcome::Read(Box::new(page)), shown)
}

/// What is said of a picture with more than one sheet, and what to do.
pub const SEVERAL: (&str, &str) =
    ("shows more than one sheet", "take each sheet by itself, nothing lying over it");

/// What a page that cannot be read turned out to be.
fn unread(why: Unread) -> Outcome {
    match why {
        Unread::NotFound(NotFound::OtherWorksheet(payload)) => {
            Outcome::OtherWorksheet { worksheet: payload.worksheet.to_ascii_lowercase() }
        }
        Unread::NotFound(NotFound::Several) => {
            Outcome::Unfound { what: SEVERAL.0.into(), fix: SEVERAL.1.into() }
        }
        Unread::NotFound(NotFound::NoFiducials) => Outcome::NoPage,
        Unread::NotFound(NotFound::Blank) | Unread::Unfound(Unfound::Blank) => Outcome::Blank,
        Unread::Unfound(why) => Outcome::Unfound { what: why.what(), fix: why.fix().to_string() },
    }
}

/// The measures of each panel; on plain paper against the field of the magnets where they were traced.
fn measured(sheet: &Sheet, reading: &PageReading, seed: u64) -> Vec<PanelFindings> {
    if let Some(traced) = &reading.traced {
        let placed = sheet.worksheet.panels.iter().zip(&reading.panels).map(|(panel, drawing)| {
            let panel = panel.placed(&traced.placed);
            let mut found = measure_panel(&panel, &panel.field(), drawing, seed);
            found.record.placed = Some(traced.placed.clone());
            found
        });
        return placed.collect();
    }
    let panels = sheet.worksheet.panels.iter().zip(&sheet.fields).zip(&reading.panels).enumerate();
    panels
        .map(|(n, ((panel, field), drawing))| {
            measure_panel(panel, field, drawing, seed.wrapping_add(n as u64))
        })
        .collect()
}

/// In words.
fn found_by(found_by: FoundBy) -> &'static str {
    match found_by {
        FoundBy::FourDiscs => "four discs",
        FoundBy::ThreeDiscs => "three discs",
        FoundBy::PaperEdges => "paper edges",
        FoundBy::WholeScan => "whole scan",
    }
}

/// The part of the page that feedback shows.
fn show(
    frames: &[Rect],
    scan: &GreyImage,
    page_to_scan: &crate::rectify::page_map::PageMap,
) -> Option<Shown> {
    let region = Picture::region_of(frames.iter().copied())?;
    let flat = flatten::flatten(scan, page_to_scan, region);
    let all = Rect::new(0.0, 0.0, region.width(), region.height());
    let picture = Picture::cut(&flat.grey, flat.width, flatten::PX_PER_MM, all)?;
    Some(Shown { region: [region.x0, region.y0, region.x1, region.y1], jpeg: picture.jpeg().to_vec() })
}

//! What was read of a page, kept in cache/ under a key that stands for all that it depends on: the page's
//! data, the worksheet, and this program. A rubric is no part of it: marks are made anew each time.

use crate::class::whole;
use crate::measure::findings::Cached;
use crate::worksheet::{Panel, Worksheet};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::UNIX_EPOCH;

/// Version of the form of the entries.
const FORM: u32 = 4;

/// What a page turned out to be.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Outcome {
    Read(Box<ReadPage>),
    /// A page of another worksheet, whose id its code tells.
    OtherWorksheet {
        worksheet: String,
    },
    /// No sheet was found on it.
    NoPage,
    /// Nothing is on it at all.
    Blank,
    /// On plain paper no traced magnet was found: what is the matter, and what to do.
    Unfound {
        what: String,
        fix: String,
    },
    /// The image itself cannot be used.
    Refused {
        what: String,
        fix: String,
    },
}

/// What the sheet's code says.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum SheetCode {
    Code(String),
    /// A sheet without a student's code, to be copied freely.
    Master,
    Unreadable,
    /// Plain paper on which the student traced the magnets.
    Plain,
}

/// A page that was read.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ReadPage {
    pub code: SheetCode,
    /// One of the corner discs was not found.
    pub torn: bool,
    /// Whether the printed frames were found where they belong.
    pub registered: bool,
    /// Of a traced page what is not sure.
    pub doubts: Doubts,
    /// Share of the panels' frames covered by ink that belongs to nothing that was read, 0 to 1; the greatest.
    pub unread_share: f64,
    /// The copy left but crumbs of the strokes in some panel.
    pub crumbled: bool,
    /// Rulings of the paper may have been read as lines, or hide some.
    pub rulings_left: bool,
    /// Findings without code, source, marks and flags, and the samples.
    pub cached: Cached,
}

/// What is not sure of a traced page; nothing is doubted of a printed one.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Doubts {
    /// The outlines may be something else.
    pub outlines: bool,
    /// Which pole lies where was not read, or not surely.
    pub poles: bool,
}

impl ReadPage {
    /// The worksheet's panels as they stand on this page: on plain paper the magnets lie where they were traced.
    pub fn panels(&self, worksheet: &Worksheet) -> Vec<Panel> {
        let records = self.cached.findings.panels.iter().map(|r| r.placed.as_ref());
        let of = worksheet.panels.iter().zip(records.chain(std::iter::repeat(None)));
        of.map(|(panel, placed)| placed.map_or_else(|| panel.clone(), |p| panel.placed(p))).collect()
    }
}

/// The picture of a page that feedback shows.
#[derive(Clone, Debug, PartialEq)]
pub struct Shown {
    /// What it shows, mm on the page: left, top, right, bottom.
    pub region: [f64; 4],
    pub jpeg: Vec<u8>,
}

/// The cache folder.
#[derive(Clone, Debug)]
pub struct Cache {
    root: PathBuf,
    /// Stands for worksheet and program.
    basis: String,
}

/// A file's pages, as remembered while its size and time stay the same.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct KnownFile {
    pub bytes: u64,
    pub modified_ns: u64,
    /// The pages' hashes, hexadecimal.
    pub pages: Vec<String>,
    /// What is wrong with the file although pages can be read: what, and what to do.
    pub damage: Option<(String, String)>,
}

impl Cache {
    /// The cache at `root` for pages of a worksheet.
    pub fn new(root: PathBuf, worksheet: &Worksheet) -> Self {
        let basis = format!("{FORM}/{}/{}/{worksheet:?}", env!("CARGO_PKG_VERSION"), build());
        Self { root, basis }
    }

    /// The key of a page with this hash.
    pub fn key(&self, page_hash: &str) -> String {
        hex(&Sha256::digest(format!("{}/{page_hash}", self.basis).as_bytes()))
    }

    /// What was read of a page earlier; a damaged entry is none.
    pub fn get(&self, key: &str) -> Option<Outcome> {
        serde_json::from_slice(&fs::read(self.entry(key, "json")).ok()?).ok()
    }

    /// The picture kept of a page.
    pub fn shown(&self, key: &str) -> Option<Shown> {
        let bytes = fs::read(self.entry(key, "picture")).ok()?;
        let (head, jpeg) = bytes.split_first_chunk::<32>()?;
        let mut region = [0.0; 4];
        for (value, raw) in region.iter_mut().zip(head.chunks_exact(8)) {
            *value = f64::from_le_bytes(raw.try_into().ok()?);
        }
        region.iter().all(|v| v.is_finite()).then(|| Shown { region, jpeg: jpeg.to_vec() })
    }

    /// Keeps what was read of a page.
    ///
    /// # Errors
    /// The folder cannot be written to.
    pub fn put(
        &self,
        key: &str,
        outcome: &Outcome,
        shown: Option<&Shown>,
    ) -> Result<(), crate::problem::Problem> {
        if let Some(shown) = shown {
            let head = shown.region.iter().flat_map(|v| v.to_le_bytes());
            let bytes: Vec<u8> = head.chain(shown.jpeg.iter().copied()).collect();
            whole::write(&self.entry(key, "picture"), &bytes)?;
        }
        let text = serde_json::to_vec(outcome).map_err(|error| {
            let what = format!("cannot be written as JSON ({error})");
            crate::problem::Problem::of_file(&self.root, what, "delete the folder cache and run again")
        })?;
        whole::write(&self.entry(key, "json"), &text)
    }

    /// The files' pages as last seen.
    pub fn known_files(&self) -> BTreeMap<String, KnownFile> {
        let bytes = fs::read(self.root.join("scans.json")).unwrap_or_default();
        serde_json::from_slice(&bytes).unwrap_or_default()
    }

    /// Remembers the files' pages.
    ///
    /// # Errors
    /// The folder cannot be written to.
    pub fn remember(&self, files: &BTreeMap<String, KnownFile>) -> Result<(), crate::problem::Problem> {
        let text = serde_json::to_vec(files).unwrap_or_default();
        whole::write(&self.root.join("scans.json"), &text)
    }

    /// Removes entries of pages that are no longer there.
    pub fn keep_only(&self, keys: &std::collections::BTreeSet<String>) {
        let Ok(entries) = fs::read_dir(self.pages()) else { return };
        for entry in entries.flatten() {
            let path = entry.path();
            let stem = path.file_stem().map(|s| s.to_string_lossy().into_owned()).unwrap_or_default();
            if !keys.contains(&stem) {
                // One that stays only takes room.
                let _ = fs::remove_file(path);
            }
        }
    }

    /// The folder of the entries.
    pub fn pages(&self) -> PathBuf {
        self.root.join("pages")
    }

    fn entry(&self, key: &str, ending: &str) -> PathBuf {
        self.pages().join(format!("{key}.{ending}"))
    }
}

/// Tells builds of one version apart: size and time of the program's file. A rebuilt program reads pages anew.
fn build() -> String {
    let data = std::env::current_exe().ok().and_then(|exe: PathBuf| fs::metadata(Path::new(&exe)).ok());
    let time = data.as_ref().and_then(|d| d.modified().ok()?.duration_since(UNIX_EPOCH).ok());
    format!("{}-{}", data.map_or(0, |d| d.len()), time.map_or(0, |t| t.as_nanos()))
}

/// Bytes as hexadecimal digits.
pub fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

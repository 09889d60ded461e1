//! A YAML file as values that know their place.
//!
//! One parser (yaml_serde) reads the file into a [`Document`]; the place of a value or key is found,
//! when a problem needs it, by parsing again and stopping there. Checks go on after a problem, so that
//! a person gets all of them at once.

mod merge;
mod tree;

use super::{Problem, read_capped, suggest};
use std::cell::RefCell;
use std::path::{Path, PathBuf};
use tree::{Node, Step, locate, parse};

/// Largest file, bytes: a worksheet of six panels with twelve sources each stays under a tenth of it.
pub const MAX_BYTES: u64 = 256 * 1024;
/// Most problems told at once: each costs a parse, and nobody mends more in one go.
const MAX_PROBLEMS: usize = 100;

/// A file that was read, and the problems found in it so far.
#[derive(Debug)]
pub struct Document {
    file: PathBuf,
    text: String,
    root: Node,
    problems: RefCell<Vec<Problem>>,
    untold: RefCell<usize>,
}

impl Document {
    /// Reads a file: UTF-8, with or without a byte-order mark.
    ///
    /// # Errors
    /// Not readable, too large, not UTF-8, no YAML, more than one document, nested too deeply.
    pub fn read(file: &Path) -> Result<Self, Problem> {
        let bytes = read_capped(file, MAX_BYTES)?;
        let text = String::from_utf8(bytes).map_err(|error| {
            let before = &error.as_bytes()[..error.utf8_error().valid_up_to()];
            let lines = String::from_utf8_lossy(before);
            let last = lines.rsplit('\n').next().unwrap_or_default();
            Problem {
                place: Some((lines.matches('\n').count() + 1, last.chars().count() + 1)),
                ..Problem::of_file(file, "is not UTF-8 text from here on", "save it again as UTF-8")
            }
        })?;
        Self::parse(file, &text)
    }

    /// As [`Document::read`], from text; `file` is only named.
    pub fn parse(file: &Path, text: &str) -> Result<Self, Problem> {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text).to_string();
        let root = parse(&text).map_err(|error| syntax_problem(file, &text, &error))?;
        let file = file.to_owned();
        Ok(Self { file, text, root, problems: RefCell::default(), untold: RefCell::default() })
    }

    /// The whole file's value.
    pub fn root(&self) -> At<'_> {
        At { document: self, node: &self.root, steps: Vec::new(), path: String::new() }
    }

    /// Line and column, from 1, of the value with this path, as `panels[0].frame_mm`.
    pub fn place(&self, path: &str) -> Option<(usize, usize)> {
        self.root().find(path).and_then(|at| locate(&self.text, &at.steps))
    }

    /// SHA-256 of the text, hexadecimal.
    pub fn hash(&self) -> String {
        use sha2::Digest;
        sha2::Sha256::digest(self.text.as_bytes()).iter().map(|byte| format!("{byte:02x}")).collect()
    }

    /// The value made of the file, or all problems in the order of their places.
    ///
    /// # Errors
    /// Any problem was recorded.
    pub fn finish<T>(self, value: Option<T>) -> Result<T, Vec<Problem>> {
        let mut problems = self.problems.into_inner();
        match value {
            Some(value) if problems.is_empty() => Ok(value),
            _ => {
                problems.sort_by_key(|p| p.place);
                let untold = self.untold.into_inner();
                if untold > 0 {
                    let what = format!("{untold} more problems are not listed");
                    problems.push(Problem::of_file(&self.file, what, "mend these first"));
                }
                Err(problems)
            }
        }
    }

    fn record(&self, steps: &[Step], path: &str, what: String, fix: String) {
        if self.problems.borrow().len() >= MAX_PROBLEMS {
            *self.untold.borrow_mut() += 1;
            return;
        }
        let place = locate(&self.text, steps);
        let problem = Problem { file: self.file.clone(), place, path: path.to_string(), what, fix };
        if !self.problems.borrow().contains(&problem) {
            self.problems.borrow_mut().push(problem);
        }
    }
}

/// A value in a [`Document`], with the way to it. Its readers record a problem and give `None`.
#[derive(Clone, Debug)]
pub struct At<'a> {
    document: &'a Document,
    node: &'a Node,
    steps: Vec<Step>,
    path: String,
}

impl<'a> At<'a> {
    /// Records a problem at this value.
    pub fn problem(&self, what: impl Into<String>, fix: impl Into<String>) {
        self.document.record(&self.steps, &self.path, what.into(), fix.into());
    }

    /// Records a problem at the key of this value.
    pub fn problem_at_key(&self, what: impl Into<String>, fix: impl Into<String>) {
        let mut steps = self.steps.clone();
        if let Some(Step::Value(n)) = steps.last().copied() {
            steps.pop();
            steps.push(Step::Key(n));
        }
        self.document.record(&steps, &self.path, what.into(), fix.into());
    }

    fn wrong_kind<T>(&self, wanted: &str) -> Option<T> {
        self.problem(format!("{} where {wanted} is needed", self.node.kind()), format!("write {wanted}"));
        None
    }

    /// The text here; a bare number or `true` is refused with the advice to quote it.
    pub fn text(&self) -> Option<&'a str> {
        match self.node {
            Node::Text(text) => Some(text),
            Node::Number(_) | Node::Flag(_) => {
                let what = format!("{} where text is needed", self.node.kind());
                self.problem(what, "put it in double quotes");
                None
            }
            _ => self.wrong_kind("text"),
        }
    }

    /// The finite number here.
    pub fn number(&self) -> Option<f64> {
        match self.node {
            Node::Number(number) if number.is_finite() => Some(*number),
            Node::Number(number) => {
                self.problem(format!("{number} is not a finite number"), "write a number");
                None
            }
            Node::Text(text) if text.trim().parse::<f64>().is_ok() => {
                self.problem(
                    format!("\"{text}\" is text"),
                    "write the number without quotes or leading zeros",
                );
                None
            }
            _ => self.wrong_kind("a number"),
        }
    }

    /// The number here if it lies in a range, else a problem that names the range and the unit.
    pub fn number_in(&self, range: std::ops::RangeInclusive<f64>, unit: &str) -> Option<f64> {
        let number = self.number()?;
        if range.contains(&number) {
            return Some(number);
        }
        let unit = if unit.is_empty() { String::new() } else { format!(" {unit}") };
        let fix = format!("write {} to {}{unit}", range.start(), range.end());
        self.problem(format!("{number}{unit} is out of range"), fix);
        None
    }

    /// `true` or `false`.
    pub fn flag(&self) -> Option<bool> {
        match self.node {
            Node::Flag(flag) => Some(*flag),
            _ => self.wrong_kind("true or false"),
        }
    }

    /// One of the words listed.
    pub fn word(&self, known: &[&'static str]) -> Option<&'static str> {
        let text = self.text()?;
        let found = known.iter().copied().find(|k| *k == text);
        if found.is_none() {
            self.problem(format!("\"{text}\" is not known here"), suggest(text, known));
        }
        found
    }

    /// Whether both values stand in one file.
    pub fn is_beside(&self, other: &At<'_>) -> bool {
        std::ptr::eq(self.document, other.document)
    }

    /// Whether nothing is written here.
    pub fn is_null(&self) -> bool {
        *self.node == Node::Null
    }

    /// The items of a list.
    pub fn items(&self) -> Option<Vec<At<'a>>> {
        let Node::List(nodes) = self.node else { return self.wrong_kind("a list") };
        let items = nodes.iter().enumerate();
        Some(items.map(|(n, node)| self.part(node, Step::Item(n), format!("{}[{n}]", self.path))).collect())
    }

    /// A list of so many finite numbers, which `what` names, as "left, top, width, height".
    pub fn numbers<const N: usize>(&self, what: &str) -> Option<[f64; N]> {
        let items = self.items()?;
        if items.len() != N {
            self.problem(format!("{} numbers where {N} are needed", items.len()), format!("write [{what}]"));
            return None;
        }
        let numbers: Vec<Option<f64>> = items.iter().map(At::number).collect();
        let numbers: Option<Vec<f64>> = numbers.into_iter().collect();
        numbers?.try_into().ok()
    }

    /// The entries of a group in file order; a key given twice is a problem and left out.
    pub fn entries(&self) -> Option<Vec<(&'a str, At<'a>)>> {
        let Node::Map(nodes) = self.node else { return self.wrong_kind("a group of keys") };
        let mut entries: Vec<(&'a str, At<'a>)> = Vec::new();
        for (n, (key, node)) in nodes.iter().enumerate() {
            let dot = if self.path.is_empty() { "" } else { "." };
            let at = self.part(node, Step::Value(n), format!("{}{dot}{key}", self.path));
            if entries.iter().any(|(seen, _)| seen == key) {
                at.problem_at_key("the key stands here twice", "remove one of the two");
            } else {
                entries.push((key, at));
            }
        }
        Some(entries)
    }

    /// The group here, every key of which must be one of `known`.
    pub fn fields(&self, known: &[&str]) -> Option<Fields<'a>> {
        let entries = self.entries()?;
        let mut all_known = true;
        for (key, at) in entries.iter().filter(|(key, _)| !known.contains(key)) {
            // `marks: 1,5` between braces is marks 1, and a key 5.
            let fix = match key.bytes().all(|b| b.is_ascii_digit()) {
                true => "write a decimal point, as 1.5: a comma ends the value".to_string(),
                false => suggest(key, known),
            };
            at.problem_at_key(format!("unknown key \"{key}\""), fix);
            all_known = false;
        }
        Some(Fields { at: self.clone(), entries, all_known })
    }

    fn find(&self, path: &str) -> Option<At<'a>> {
        if self.path == path {
            return Some(self.clone());
        }
        let within = |part: At<'a>| path.starts_with(&part.path).then(|| part.find(path)).flatten();
        match self.node {
            Node::List(nodes) => nodes
                .iter()
                .enumerate()
                .find_map(|(n, node)| within(self.part(node, Step::Item(n), format!("{}[{n}]", self.path)))),
            Node::Map(nodes) => nodes.iter().enumerate().find_map(|(n, (key, node))| {
                let dot = if self.path.is_empty() { "" } else { "." };
                within(self.part(node, Step::Value(n), format!("{}{dot}{key}", self.path)))
            }),
            _ => None,
        }
    }

    fn part(&self, node: &'a Node, step: Step, path: String) -> At<'a> {
        let mut steps = self.steps.clone();
        steps.push(step);
        At { document: self.document, node, steps, path }
    }
}

/// A group of keys.
#[derive(Clone, Debug)]
pub struct Fields<'a> {
    at: At<'a>,
    entries: Vec<(&'a str, At<'a>)>,
    all_known: bool,
}

impl<'a> Fields<'a> {
    /// The value of a key that may be left out.
    pub fn get(&self, key: &str) -> Option<&At<'a>> {
        self.entries.iter().find(|(k, _)| *k == key).map(|(_, at)| at)
    }

    /// The value of a key that must be there; `fix` says what to write.
    pub fn need(&self, key: &str, fix: &str) -> Option<&At<'a>> {
        let found = self.get(key);
        if found.is_none() {
            self.at.problem(format!("the key \"{key}\" is missing"), fix);
        }
        found
    }

    /// Refuses a file of another version than 1; `key` holds the version.
    pub fn version(&self, key: &str) {
        if let Some(at) = self.need(key, &format!("begin the file with {key}: 1"))
            && let Some(version) = at.number()
            && version != 1.0
        {
            at.problem(format!("version {version} is not known"), format!("write {key}: 1"));
        }
    }

    /// Whether every key is known: if not, one that seems to be missing may only be misspelt.
    pub fn all_known(&self) -> bool {
        self.all_known
    }

    /// The group itself.
    pub fn at(&self) -> &At<'a> {
        &self.at
    }
}

fn syntax_problem(file: &Path, text: &str, error: &serde_yaml::Error) -> Problem {
    let message = error.to_string();
    let what = message.split(" at line ").next().unwrap_or(&message).to_string();
    let mut place = error.location().map(|l| (l.line(), l.column()));
    let fix = if what.contains("more than one document") {
        let second = text.lines().enumerate().filter(|(_, line)| line.starts_with("---")).last();
        place = second.map(|(n, _)| (n + 1, 1));
        "keep one document: remove the line ---"
    } else if place.is_some_and(|(line, _)| has_curly_quotes(text, line)) {
        "write straight double quotes, not curly ones"
    } else if what.contains("tab character") {
        "indent with spaces, not tabs"
    } else if what.contains("cannot start any token") {
        "indent with spaces, not tabs, and put text that begins with a sign such as @ or % in quotes"
    } else if what.contains("repetition limit") || what.contains("recursion limit") {
        "write it without & and * references and with less nesting"
    } else if what.contains("mapping values are not allowed") {
        "put text that holds a colon in double quotes, and check the indentation"
    } else {
        "mend the YAML here or just before: indentation, brackets, quotes, a space after each colon"
    };
    Problem { file: file.to_owned(), place, path: String::new(), what, fix: fix.to_string() }
}

/// Whether the quotes that word processors put in stand in a line, from 1, as the first sign of a value.
fn has_curly_quotes(text: &str, line: usize) -> bool {
    let line = text.lines().nth(line.saturating_sub(1)).unwrap_or_default();
    [": \u{201C}", ": \u{201D}", ": \u{201E}", ": \u{2018}"].iter().any(|quote| line.contains(quote))
}

#[cfg(test)]
mod tests;

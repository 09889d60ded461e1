//! Data flows one way: every path in src/ keeps to the module table in DEVELOPERS.md.
//!
//! Read are the `crate::` and `super::` paths of code and of doc links alike. Tests inside the files may use
//! any module: they stand at the end of a file or in a file declared under `#[cfg(test)]`.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// Where in DEVELOPERS.md the table stands.
const BEGIN: &str = "<!-- layers -->";
const END: &str = "<!-- end of layers -->";
/// A row that may use every row above it.
const ALL_ABOVE: &str = "all above";
const ALL_ABOVE_BUT: &str = "all above but ";

/// A module and what it may use.
type Rows = Vec<(String, BTreeSet<String>)>;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// Reads `| module | what it is | may use |`; each row names rows above it only.
fn table(page: &str) -> Rows {
    let (_, rest) = page.split_once(BEGIN).expect("DEVELOPERS.md has lost the mark before its module table");
    let (body, _) = rest.split_once(END).expect("DEVELOPERS.md has lost the mark after its module table");
    let mut rows: Rows = Vec::new();
    for line in body.lines().filter(|l| l.starts_with('|')).skip(2) {
        let cells: Vec<&str> = line.trim_matches('|').split('|').map(str::trim).collect();
        let [name, _, may] = cells[..] else { panic!("not three cells: {line}") };
        let above = || rows.iter().map(|(name, _)| name.clone());
        let list = |names: &str| -> BTreeSet<String> {
            names.split(", ").filter(|n| !n.is_empty() && *n != "-").map(str::to_string).collect()
        };
        let may: BTreeSet<String> = if may == ALL_ABOVE {
            above().collect()
        } else if let Some(but) = may.strip_prefix(ALL_ABOVE_BUT) {
            let but = list(but);
            assert!(but.iter().all(|b| above().any(|a| a == *b)), "{name} excludes what is not above it");
            above().filter(|a| !but.contains(a)).collect()
        } else {
            list(may)
        };
        for used in &may {
            assert!(above().any(|a| a == *used), "{name} may use {used}, which is no row above it");
        }
        rows.push((name.trim_matches('`').to_string(), may));
    }
    rows
}

/// Every source file under a folder, in order.
fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    let mut entries: Vec<PathBuf> =
        std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push(path);
        }
    }
}

/// The steps of a file's module path: src/print/code.rs is print, code.
fn steps(src: &Path, file: &Path) -> Vec<String> {
    let mut steps: Vec<String> = file
        .strip_prefix(src)
        .unwrap()
        .with_extension("")
        .iter()
        .map(|step| step.to_str().unwrap().to_string())
        .collect();
    if steps.last().is_some_and(|s| s == "mod" || s == "lib") {
        steps.pop();
    }
    steps
}

/// Takes a file's code apart at its tests: the code before them, and the modules declared for tests alone.
fn without_tests(text: &str) -> (String, Vec<String>) {
    let (mut code, mut for_tests) = (String::new(), Vec::new());
    let mut lines = text.lines().peekable();
    while let Some(line) = lines.next() {
        if line == "#[cfg(test)]" {
            let next = lines.peek().copied().unwrap_or_default();
            if next.starts_with("mod ") && next.ends_with('{') {
                break;
            }
            if let Some(name) = next.strip_prefix("mod ").and_then(|n| n.strip_suffix(';')) {
                for_tests.push(name.to_string());
                lines.next();
                continue;
            }
        }
        code.push_str(line);
        code.push('\n');
    }
    (code, for_tests)
}

/// The names after each `crate::` or `super::` that stand for a top module: `crate::{a::X, b}` gives a and b.
fn used(code: &str, depth: usize) -> Vec<String> {
    let mut names = Vec::new();
    for (at, _) in code.match_indices("crate::") {
        if !code[..at].ends_with(|c: char| c.is_alphanumeric() || c == '_') {
            names.extend(heads(&code[at + "crate::".len()..]));
        }
    }
    let mut rest = code;
    while let Some(at) = rest.find("super::") {
        rest = &rest[at..];
        let mut ups = 0;
        while let Some(after) = rest.strip_prefix("super::") {
            (rest, ups) = (after, ups + 1);
        }
        assert!(ups <= depth, "more super:: than folders before {:?}", rest.lines().next());
        if ups == depth {
            names.extend(heads(rest));
        }
    }
    names
}

/// The first name of a path, or of each path of a group.
fn heads(path: &str) -> Vec<String> {
    let name = |s: &str| s.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect::<String>();
    let Some(group) = path.strip_prefix('{') else { return vec![name(path)] };
    let (mut names, mut depth, mut begin) = (Vec::new(), 1, 0);
    for (at, sign) in group.char_indices() {
        match sign {
            '{' => depth += 1,
            '}' => depth -= 1,
            _ => {}
        }
        if depth == 0 || (depth == 1 && sign == ',') {
            names.push(name(group[begin..at].trim_start()));
            begin = at + 1;
        }
        if depth == 0 {
            break;
        }
    }
    names.retain(|n| !n.is_empty());
    names
}

/// What breaks the table, a line a path.
fn violations(src: &Path, rows: &Rows) -> Vec<String> {
    let mut files = Vec::new();
    sources(src, &mut files);
    let parted: BTreeMap<PathBuf, (String, Vec<String>)> =
        files.iter().map(|f| (f.clone(), without_tests(&std::fs::read_to_string(f).unwrap()))).collect();
    let for_tests: Vec<Vec<String>> = parted
        .iter()
        .flat_map(|(file, (_, names))| {
            names.iter().map(|name| steps(src, file).into_iter().chain([name.clone()]).collect())
        })
        .collect();
    let mut wrong = Vec::new();
    for (file, (code, _)) in &parted {
        if code.contains("#[path") {
            wrong.push(format!(
                "{}: #[path] hides where a module stands; let its file stand there",
                file.display()
            ));
        }
        let steps = steps(src, file);
        let Some(own) = steps.first().filter(|s| *s != "main") else { continue };
        if for_tests.iter().any(|t| steps.starts_with(t)) {
            continue;
        }
        let Some((_, may)) = rows.iter().find(|(name, _)| name == own) else {
            wrong.push(format!("{}: module {own} is not in the table", file.display()));
            continue;
        };
        for name in used(code, steps.len()) {
            if name != *own && !may.contains(&name) {
                wrong.push(format!("{}: {own} may not use {name}", file.display()));
            }
        }
    }
    wrong
}

#[test]
fn every_module_uses_only_what_its_row_allows() {
    let rows = table(&std::fs::read_to_string(root().join("DEVELOPERS.md")).unwrap());
    let wrong = violations(&root().join("src"), &rows);
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    for (name, _) in &rows {
        let file = root().join("src").join(name);
        assert!(
            file.is_dir() || file.with_extension("rs").is_file(),
            "{name} is in the table and not in src/"
        );
    }
}

/// The check itself, on a tree that breaks the table in each way a path can be written.
#[test]
fn a_path_against_the_flow_is_found() {
    let rows = table(&format!("{BEGIN}\n| m | w | u |\n|-|-|-|\n| `a` | x | - |\n| `b` | x | a |\n{END}"));
    let tree = tempfile::tempdir().unwrap();
    let write = |name: &str, text: &str| {
        let path = tree.path().join(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
    };
    write("lib.rs", "pub mod a;\npub mod b;\n");
    write("b.rs", "use crate::a::X;\nuse super::a::Y;\n#[cfg(test)]\nmod tests {\n    use crate::c::Z;\n}\n");
    write("a/mod.rs", "use self::deep::X;\n#[cfg(test)]\nmod made;\n");
    write("a/made.rs", "use crate::b::X;\n");
    write("a/deep.rs", "use super::X;\n");
    assert_eq!(violations(tree.path(), &rows), Vec::<String>::new());
    for bad in [
        "use crate::b::X;",
        "use crate::{a::{X, Y}, b};",
        "use super::super::b::X;",
        "fn f() { crate::b::g() }",
        "pub use crate::b::X;",
    ] {
        write("a/deep.rs", bad);
        let wrong = violations(tree.path(), &rows);
        assert!(wrong.len() == 1 && wrong[0].ends_with("a may not use b"), "{bad}: {wrong:?}");
    }
}

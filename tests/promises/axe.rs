//! The pages, checked by an automatic checker: WCAG 2.2 A and AA by axe-core in a headless browser, and no sideways
//! scrolling at 320 pixels and at 200 % zoom.
//!
//! axe-core finds only some faults: what it passes is not thereby accessible. `tests/run` puts it where this test
//! looks, and says what to install.

use crate::browser;
use crate::classroom::{Classroom, Drawn, errors};
use std::path::{Path, PathBuf};

/// Where `tests/run` puts axe-core.
const AXE: &str = "LODEMARK_AXE";
/// Rules for these levels of WCAG.
const TAGS: &str = "['wcag2a','wcag2aa','wcag21a','wcag21aa','wcag22aa']";
/// Widths in CSS pixels: a telephone, 1280 pixels at 200 %, a desk.
const WIDTHS: [u32; 3] = [320, 640, 1280];

fn axe() -> String {
    let path = std::env::var_os(AXE).map(PathBuf::from);
    let path = path
        .unwrap_or_else(|| panic!("{AXE} is not set: run tests/run, which installs axe-core and sets it"));
    std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}; run tests/run", path.display()))
}

/// The page with axe-core and a script that puts what it found into the body's attributes.
fn probed(page: &str) -> String {
    let probe = format!(
        "document.body.setAttribute('data-wide', document.documentElement.scrollWidth > document.documentElement.clientWidth ?\
         document.documentElement.scrollWidth + '>' + document.documentElement.clientWidth : 'fits');\
         axe.run(document, {{ runOnly: {TAGS} }}).then(function (r) {{\
         document.body.setAttribute('data-axe', r.passes.length + ' passed; ' + r.violations.map(function (v) {{\
         return v.id + ' at ' + v.nodes.map(function (n) {{ return n.target.join(' '); }}).join(', '); }}).join('; ')); }});"
    );
    browser::with_script(page, &axe(), &probe)
}

/// What the probe found: how wide the page is, and what axe-core says.
fn look(page: &Path, width: u32) -> (String, String) {
    let dom = browser::dom(page, width);
    (browser::attribute(&dom, "data-wide"), browser::attribute(&dom, "data-axe"))
}

#[test]
fn pages_pass_an_automatic_checker_and_fit_narrow_windows() {
    let (earlier, room) = (Classroom::new("unlike-poles", 1), Classroom::new("unlike-poles", 3));
    earlier.scan("1.png", Some("A01"), Drawn::Lines);
    earlier.marked();
    room.scan("1.png", Some("A01"), Drawn::Lines);
    room.scan("2.png", Some("A02"), Drawn::Nothing);
    let output = room.mark(&["--show-field", "after", "--earlier", earlier.dir.to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(0), "{}", errors(&output));
    let panels = crate::panels::room();
    panels.marked();
    let pages = ["feedback/A01.html", "feedback/A02.html", "class.html"].map(|name| (&room, name));
    for (room, name) in pages.into_iter().chain([(&panels, "class.html"), (&panels, "feedback/A02.html")]) {
        let page = room.read(name);
        let probe = room.path("probe.html");
        std::fs::write(&probe, probed(&page)).unwrap();
        for width in WIDTHS {
            let (wide, axe) = look(&probe, width);
            let (passed, violations) = axe.split_once(" passed; ").unwrap();
            assert!(violations.is_empty(), "{name} at {width}: {violations}");
            assert!(passed.parse::<usize>().unwrap() > 10, "{name} at {width}: {passed} rules passed");
            assert_eq!(wide, "fits", "{name} at {width}");
        }
    }
    // The checker is awake: a picture without words is told.
    let broken = room
        .read("feedback/A01.html")
        .replace("</main>", "<img src=\"data:image/gif;base64,R0lGODlhAQABAAAAACw=\"></main>");
    std::fs::write(room.path("probe.html"), probed(&broken)).unwrap();
    assert!(look(&room.path("probe.html"), 640).1.contains("image-alt"));
}

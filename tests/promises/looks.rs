//! The pages as a browser shows them: the class page's table sorts and filters, and pages and papers look as they did
//! when a person last looked.

use crate::browser;
use crate::classroom::{Classroom, Drawn, errors};
use crate::page::Page;
use image::GrayImage;
use image::imageops::{FilterType, resize};
use std::path::{Path, PathBuf};

/// Windows: a telephone, a tablet, a desk; each as high as the first two screens or so.
const WINDOWS: [(u32, u32); 3] = [(320, 1600), (768, 1400), (1280, 1200)];
/// The pictures are kept so much smaller: what is compared is where things stand, not the shapes of letters.
const SMALLER: u32 = 8;
/// Greatest mean difference from the picture kept, of 255: machines smooth edges otherwise. Another width of letters is off by
/// 1 to 14, a plot left out by 1.4 and more.
const ALIKE: f64 = 0.8;
/// Set this variable to keep the pictures as they are now; then look at them.
const REWRITE: &str = "LODEMARK_REWRITE";

/// A class of four: a good drawing, one without arrows, an empty sheet, and one who was absent.
fn class() -> Classroom {
    let room = Classroom::new("unlike-poles", 4);
    room.scan("1.png", Some("A01"), Drawn::Arrows);
    room.scan("2.png", Some("A02"), Drawn::Lines);
    room.scan("3.png", Some("A03"), Drawn::Nothing);
    let output = room.mark(&["--pdf"]);
    assert_eq!(output.status.code(), Some(0), "{}", errors(&output));
    room
}

#[test]
fn the_table_of_marks_sorts_and_filters() {
    let room = class();
    let page = room.read("class.html");
    // The page's own policy lets its own script run: the buttons that it makes are there.
    assert!(browser::dom(&room.path("class.html"), 1280).contains("<button type=\"button\">Total</button>"));
    let says = "\
        var table = document.getElementById('marks'), heads = table.tHead.rows[0].cells;\
        function shown() { return Array.prototype.filter.call(table.tBodies[0].rows, function (r) { return !r.hidden; })\
            .map(function (r) { return r.cells[0].dataset.v; }).join(' '); }\
        function say(name) { document.body.setAttribute('data-' + name, shown() + ' | ' + document.getElementById('shown').textContent); }\
        say('first'); heads[2].firstChild.click(); say('up'); heads[2].firstChild.click(); say('down');\
        document.body.setAttribute('data-sorted', heads[2].getAttribute('aria-sort'));\
        heads[0].firstChild.click(); var f = document.getElementById('filter'); f.value = 'a02';\
        f.dispatchEvent(new Event('input')); say('words'); f.value = ''; f.dispatchEvent(new Event('input'));\
        var s = document.getElementById('status'); s.value = 'absent'; s.dispatchEvent(new Event('change')); say('status');";
    std::fs::write(room.path("probe.html"), browser::with_script(&page, "", says)).unwrap();
    let dom = browser::dom(&room.path("probe.html"), 1280);
    let said = |name: &str| browser::attribute(&dom, &format!("data-{name}"));
    let total = |code: &str| room.row(code)["total"].parse::<f64>().unwrap();
    assert!(total("A02") < total("A01"));
    assert_eq!(said("first"), "A01 A02 A03 A04 | 4 of 4 shown");
    // Who has no total stands last either way.
    assert_eq!(
        (said("up"), said("down")),
        ("A02 A01 A03 A04 | 4 of 4 shown".into(), "A01 A02 A03 A04 | 4 of 4 shown".into())
    );
    assert_eq!(said("sorted"), "descending");
    assert_eq!(said("words"), "A02 | 1 of 4 shown");
    assert_eq!(said("status"), "A04 | 1 of 4 shown");
}

/// At 320 pixels the plot of totals was cut off; at 1280 the table of marks scrolled although there was room, and its caption was
/// cut with it.
#[test]
fn nothing_on_the_class_page_is_cut_and_the_table_scrolls_only_where_it_cannot_fit() {
    let room = class();
    let one_more = "\n  - id: neighbours-keep-apart\n    title: Neighbours keep apart\n    marks: 2\n    measure: meets.count\n    \
        bands:\n      - { at_most: 0, marks: 2, say: Apart. }\n      - { otherwise: true, marks: 0, say: They meet. }\n";
    room.write("rubric.yaml", room.read("rubric.yaml").trim_end().to_string() + one_more);
    room.marked();
    let says = "\
        var cut = [], box = document.getElementById('marks').parentNode;\
        Array.prototype.forEach.call(document.querySelectorAll('main *'), function (e) {\
            var at = e.getBoundingClientRect();\
            if ((at.right > window.innerWidth + 1 || at.left < -1) && at.width > 0 && !e.closest('.scroll')) {\
                cut.push(e.tagName + '.' + e.getAttribute('class') + ' ' + at.right);\
            }\
            if (e.matches('.scroll') && e.scrollWidth > e.clientWidth + 1 && !(e.tabIndex === 0 && e.getAttribute('aria-label'))) {\
                cut.push('scrolls without a word');\
            }\
        });\
        Array.prototype.forEach.call(document.querySelectorAll('.scroll svg, .scroll p, .scroll caption'), function (e) {\
            cut.push('scrolls: ' + e.tagName);\
        });\
        var seen = Array.prototype.filter.call(document.querySelectorAll('.plot[role=img]'), function (e) { return e.getBoundingClientRect().width > 0; });\
        document.body.setAttribute('data-cut', cut.join('; '));\
        document.body.setAttribute('data-plots', seen.length);\
        document.body.setAttribute('data-sign', Math.min.apply(null, seen.map(function (e) { return 12 * e.getBoundingClientRect().width / e.viewBox.baseVal.width; })));\
        document.body.setAttribute('data-table', box.scrollWidth > box.clientWidth ? 'scrolls' : 'fits');";
    std::fs::write(room.path("probe.html"), browser::with_script(&room.read("class.html"), "", says))
        .unwrap();
    for (width, table) in [(320, "scrolls"), (640, "scrolls"), (1280, "fits")] {
        let dom = browser::dom(&room.path("probe.html"), width);
        assert_eq!(browser::attribute(&dom, "data-cut"), "", "{width}");
        assert_eq!(browser::attribute(&dom, "data-plots"), "1", "one plot of totals at {width}");
        assert!(
            browser::attribute(&dom, "data-sign").parse::<f64>().unwrap() > 10.0,
            "words too small at {width}"
        );
        assert_eq!(browser::attribute(&dom, "data-table"), table, "{width}");
    }
}

fn kept(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("tests/promises/data/looks/{name}.png"))
}

fn small(picture: &GrayImage) -> GrayImage {
    resize(picture, picture.width() / SMALLER, picture.height() / SMALLER, FilterType::Triangle)
}

/// Mean difference of two pictures of one size.
fn off(a: &GrayImage, b: &GrayImage) -> f64 {
    assert_eq!(a.dimensions(), b.dimensions());
    let sum: f64 = a.pixels().zip(b.pixels()).map(|(p, q)| f64::from(p[0].abs_diff(q[0]))).sum();
    sum / f64::from(a.width() * a.height())
}

fn compare(name: &str, picture: &GrayImage) -> String {
    let now = small(picture);
    if std::env::var_os(REWRITE).is_some() {
        std::fs::create_dir_all(kept(name).parent().unwrap()).unwrap();
        now.save(kept(name)).unwrap();
    }
    let before = image::open(kept(name))
        .unwrap_or_else(|e| panic!("{name}: {e}; run with {REWRITE}=1 and look at the picture"))
        .into_luma8();
    let off = off(&before, &now);
    if off < ALIKE { String::new() } else { format!("{name} is off by {off:.1} of 255\n") }
}

#[test]
fn pages_and_papers_look_as_they_did() {
    let room = class();
    let mut report = String::new();
    for (name, page) in [("class", "class.html"), ("feedback", "feedback/A02.html")] {
        std::fs::write(room.path("own.html"), browser::in_own_fonts(&room.read(page))).unwrap();
        for window in WINDOWS {
            let picture = browser::picture(&room.path("own.html"), window);
            report += &compare(&format!("{name}-{}", window.0), &picture);
        }
    }
    for (name, file) in [("class-pdf", "class.pdf"), ("feedback-pdf", "feedback/A02.pdf")] {
        let page = Page::of(&std::fs::read(room.path(file)).unwrap(), 0, 72.0);
        let picture = GrayImage::from_raw(page.width as u32, page.height as u32, page.grey).unwrap();
        report += &compare(name, &picture);
    }
    assert!(report.is_empty(), "look at what changed; if it is meant, run with {REWRITE}=1:\n{report}");
    // The comparison is awake: without its plot a page looks otherwise.
    let page =
        browser::in_own_fonts(&room.read("class.html")).replace(".plot{display:block", ".plot{display:none");
    std::fs::write(room.path("probe.html"), page).unwrap();
    let without = small(&browser::picture(&room.path("probe.html"), WINDOWS[2]));
    let with = image::open(kept("class-1280")).unwrap().into_luma8();
    assert!(off(&with, &without) > ALIKE, "{}", off(&with, &without));
}

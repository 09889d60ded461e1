//! Pages in a headless browser: what becomes of them when scripts have run, and how they look.

use crate::classroom::errors;
use std::path::Path;
use std::process::{Command, Output};

/// What keeps a headless browser to itself, off the network and out of the user's own profile.
const ALONE: [&str; 7] = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    // The fonts of [`in_own_fonts`].
    "--allow-file-access-from-files",
];

fn browser() -> &'static str {
    let there = |name: &&&str| Command::new(name).arg("--version").output().is_ok_and(|o| o.status.success());
    ["chromium", "chromium-browser", "google-chrome"]
        .iter()
        .find(there)
        .expect("install chromium (Debian: apt-get install chromium)")
}

fn open(page: &Path, size: (u32, u32), option: &str) -> Output {
    let profile = tempfile::tempdir().unwrap();
    Command::new(browser())
        .args(ALONE)
        .args(["--virtual-time-budget=20000", "--hide-scrollbars", option])
        .arg(format!("--user-data-dir={}", profile.path().display()))
        .arg(format!("--window-size={},{}", size.0, size.1))
        .arg(format!("file://{}", page.display()))
        .output()
        .unwrap()
}

/// The page as it stands when its scripts have run, in a window of that width.
pub fn dom(page: &Path, width: u32) -> String {
    let output = open(page, (width, 900), "--dump-dom");
    assert!(output.status.success(), "{}", errors(&output));
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// The value of the first attribute of that name.
pub fn attribute(dom: &str, name: &str) -> String {
    let (_, rest) = dom.split_once(&format!("{name}=\"")).unwrap_or_else(|| panic!("no {name} in the page"));
    rest.split_once('"').unwrap().0.to_string()
}

/// The upper part of a page as a picture.
pub fn picture(page: &Path, size: (u32, u32)) -> image::GrayImage {
    let out = tempfile::tempdir().unwrap();
    let png = out.path().join("page.png");
    let output = open(page, size, &format!("--screenshot={}", png.display()));
    assert!(png.is_file(), "{}", errors(&output));
    image::open(png).unwrap().into_luma8()
}

/// The page in the fonts that the sheets are printed with, instead of those that a machine happens to have.
pub fn in_own_fonts(page: &str) -> String {
    let face = |weight: &str, file: &str| {
        let fonts = concat!(env!("CARGO_MANIFEST_DIR"), "/src/print/fonts");
        format!("@font-face{{font-family:Kept;font-weight:{weight};src:url('file://{fonts}/{file}.ttf')}}")
    };
    let faces = face("400", "Lato-Regular") + &face("700", "Lato-Bold");
    let page = without_policy(page)
        .replace("'Liberation Sans'", "Kept")
        .replace("&#39;Liberation Sans&#39;", "Kept");
    assert!(page.contains("Kept"), "the page names its font otherwise");
    page.replacen("<style>", &format!("<style>{faces}"), 1)
}

/// The page's policy lets nothing foreign in.
fn without_policy(page: &str) -> String {
    let (head, rest) = page.split_once("<meta http-equiv=\"Content-Security-Policy\"").unwrap();
    let (_, rest) = rest.split_once('>').unwrap();
    format!("{head}{rest}")
}

/// The page with two scripts, one that runs at once, one when all is loaded.
pub fn with_script(page: &str, first: &str, then: &str) -> String {
    let scripts = format!(
        "<script>{first}</script><script>window.addEventListener('load', function () {{{then}}});</script>"
    );
    without_policy(page).replace("</body>", &format!("{scripts}</body>"))
}

//! Header and footer: title, prompts, code and name above the frames; check line and cautions below them.

use super::layout::{
    BLANK_MM, CHECK_LINE_MM, CHECK_LINE_UP_MM, CODE_MM, MARGIN_MM, QUIET_MODULES, SIDE_MM, TextLine,
};
use super::lettering::Face;
use crate::geometry::{Point, Rect};
use crate::worksheet::{Kind, Panel, Worksheet};

/// Baseline and em of the title, mm.
const TITLE_BASE_MM: f64 = 15.0;
const TITLE_EM_MM: f64 = 6.2;
/// First baseline of the prompts, mm.
const PROMPT_BASE_MM: f64 = 21.8;
/// Ems to try for the prompts, mm, from the largest that looks well to the smallest that reads well.
const PROMPT_EMS_MM: [f64; 4] = [4.2, 3.8, 3.4, 3.0];
/// Distance of two baselines, in ems.
const LEADING: f64 = 1.27;
/// Lowest baseline of code and name where the frame leaves room, mm.
const STUDENT_BASE_MM: f64 = 36.6;
/// Room between the prompts' last baseline and that of code and name, mm: what is needed and what looks well.
const STUDENT_ABOVE_MM: f64 = 6.8;
const STUDENT_ABOVE_WELL_MM: f64 = 9.5;
/// Em of the student's code, mm.
pub(super) const STUDENT_EM_MM: f64 = 5.4;
/// Em of the name and of the labels before code and name, mm.
pub(super) const NAME_EM_MM: f64 = 4.4;
const LABEL_EM_MM: f64 = 3.2;
/// Room for a code of twelve letters, mm.
const STUDENT_WIDTH_MM: f64 = 44.0;
/// Em of the code's letters below the QR code, mm, and of the check line's words.
pub(super) const LETTERS_EM_MM: f64 = 2.1;
const CHECK_EM_MM: f64 = 2.5;
/// Baselines of the two lines of letters below the QR code, mm.
pub(super) const LETTERS_BASES_MM: [f64; 2] = [35.4, 37.5];
/// Ems to try for the cautions, mm; the smallest (6 pt) only on a narrow page with a low frame.
const CAUTION_EMS_MM: [f64; 4] = [2.8, 2.6, 2.4, 2.1];
/// Leading of the cautions, in ems.
const CAUTION_LEADING: f64 = 1.14;
/// Last baseline of the cautions above the page's lower edge, mm.
const CAUTION_UP_MM: f64 = MARGIN_MM + 0.7;
/// Most lines of them that look well beside the check line.
const CAUTION_LINES: usize = 2;
/// Share of black of quiet words: labels, cautions.
const QUIET_GREY: f64 = 0.8;

const CHECK_WORDS: &str = "This line measures 100 mm when the sheet is printed at full size.";
const MAGNET_WORDS: &str = "Strong magnets pinch and are dangerous if swallowed. Keep them away from pacemakers and other \
    implants. Keep iron filings out of eyes.";
const CURRENT_WORDS: &str =
    "Wires and coils grow hot at high current: use a low voltage, switch on briefly, do not touch.";
const CHARGE_WORDS: &str = "If you try this with high voltage: only a current-limited school supply, and only with your \
    teacher.";
const SCHOOL_WORDS: &str = "Your school’s safety rules decide.";
const IF_TRIED_WORDS: &str = "If you try this with magnets: ";

/// The words round the frames and the lines they keep to.
pub(super) struct Furniture {
    pub texts: Vec<TextLine>,
    pub student_zone: Rect,
    pub name_zone: Rect,
    pub letters_zone: Rect,
    /// Lower edge of the header, mm.
    pub head_mm: f64,
    /// Upper edge of the footer, mm.
    pub foot_mm: f64,
}

/// Sets header and footer round the worksheet's frames.
pub(super) fn furnish(worksheet: &Worksheet) -> Furniture {
    let (width, height) = worksheet.page_mm;
    let top = worksheet.panels.iter().map(|p| p.frame.y0).fold(f64::INFINITY, f64::min);
    let bottom = worksheet.panels.iter().map(|p| p.frame.y1).fold(0.0, f64::max);
    let right = width - SIDE_MM;
    let text_right = right - CODE_MM - QUIET_MODULES * CODE_MM / 29.0 - 4.0;
    let text_width = text_right - SIDE_MM;
    let mut texts = Vec::new();
    let mut put = |x, y, face, em_mm, grey, text: String| {
        texts.push(TextLine { at: Point::new(x, y), face, em_mm, grey, text });
    };

    let title_em = PROMPT_EMS_MM.iter().fold(TITLE_EM_MM, |em, smaller| {
        if Face::Bold.width_mm(&worksheet.title, em) <= text_width { em } else { *smaller }
    });
    put(
        SIDE_MM,
        TITLE_BASE_MM,
        Face::Bold,
        title_em,
        1.0,
        Face::Bold.fit(&worksheet.title, title_em, text_width),
    );

    let floor = (top - BLANK_MM - 0.25 * STUDENT_EM_MM - STUDENT_ABOVE_MM).min(height);
    let (em, lines) = prompts(worksheet, text_width, floor);
    let last = PROMPT_BASE_MM + (lines.len().max(1) - 1) as f64 * LEADING * em;
    for (i, line) in lines.into_iter().enumerate() {
        put(SIDE_MM, PROMPT_BASE_MM + i as f64 * LEADING * em, Face::Regular, em, 1.0, line);
    }

    let lowest = (top - BLANK_MM - 0.25 * STUDENT_EM_MM).max(last + STUDENT_ABOVE_MM);
    let base = STUDENT_BASE_MM.max((last + STUDENT_ABOVE_WELL_MM).min(lowest));
    let label = |text| Face::Regular.width_mm(text, LABEL_EM_MM) + 2.0;
    put(SIDE_MM, base, Face::Regular, LABEL_EM_MM, QUIET_GREY, "Code".into());
    let student_x = SIDE_MM + label("Code");
    let name_label_x = student_x + STUDENT_WIDTH_MM + 4.0;
    put(name_label_x, base, Face::Regular, LABEL_EM_MM, QUIET_GREY, "Name".into());
    let row = |x0, x1| Rect::new(x0, base - 0.8 * STUDENT_EM_MM, x1, base + 0.25 * STUDENT_EM_MM);
    let letters = letters_zone(worksheet, right);
    let name_zone = row(name_label_x + label("Name"), text_right.min(letters.x0 - 4.0));

    let (cautions, foot_mm) = footer(worksheet, width, height, bottom);
    texts.extend(cautions);
    Furniture {
        texts,
        student_zone: row(student_x, student_x + STUDENT_WIDTH_MM),
        name_zone,
        letters_zone: letters,
        head_mm: row(0.0, 0.0).y1.max(letters.y1),
        foot_mm,
    }
}

/// The author's own texts with their key paths.
pub(super) fn own_texts(worksheet: &Worksheet) -> Vec<(&str, String)> {
    let prompts = worksheet.panels.iter().enumerate();
    let mut texts = vec![(worksheet.title.as_str(), "title".to_owned())];
    texts.extend(prompts.map(|(i, p)| (p.prompt.as_str(), format!("panels[{i}].prompt"))));
    texts
}

/// The prompts in lines, at the largest em at which they end above `floor`.
fn prompts(worksheet: &Worksheet, width: f64, floor: f64) -> (f64, Vec<String>) {
    let set = |em: f64| -> Vec<String> {
        spoken(worksheet).iter().flat_map(|p| Face::Regular.wrap_evenly(p, em, width)).collect()
    };
    let fits = |em: f64| {
        let lines = set(em).len().max(1) - 1;
        PROMPT_BASE_MM + lines as f64 * LEADING * em <= floor
    };
    let smallest = PROMPT_EMS_MM[PROMPT_EMS_MM.len() - 1];
    let em = PROMPT_EMS_MM.into_iter().find(|em| fits(*em)).unwrap_or(smallest);
    (em, set(em))
}

/// The prompts as they are printed: once where all panels share one, else each after its panel's place.
fn spoken(worksheet: &Worksheet) -> Vec<String> {
    let panels = &worksheet.panels;
    let Some(first) = panels.first() else { return Vec::new() };
    if panels.iter().all(|p| p.prompt == first.prompt) {
        return vec![first.prompt.clone()];
    }
    panels.iter().map(|p| format!("{}: {}", place_word(p, panels), p.prompt)).collect()
}

/// Where a panel lies among the others, in words: no letter need then stand near a frame.
fn place_word(panel: &Panel, all: &[Panel]) -> String {
    let rank = |of: &dyn Fn(&Panel) -> f64| {
        let mut steps: Vec<f64> = all.iter().map(of).collect();
        steps.sort_by(f64::total_cmp);
        // Frames whose edges differ by less than the blank round them stand in one row or column.
        steps.dedup_by(|b, a| *b - *a < BLANK_MM);
        let at = steps.iter().filter(|s| **s <= of(panel)).count().max(1) - 1;
        (at, steps.len())
    };
    let word = |(at, of): (usize, usize), names: [&str; 3], many: &str| match (at, of) {
        (_, 1) => String::new(),
        (0, _) => names[0].to_owned(),
        (at, of) if at + 1 == of => names[2].to_owned(),
        (_, 3) => names[1].to_owned(),
        (at, _) => format!("{many} {}", at + 1),
    };
    let row = word(rank(&|p| p.frame.y0), ["Top", "Middle", "Bottom"], "Row");
    let column = word(rank(&|p| p.frame.x0), ["left", "centre", "right"], "column");
    let mut place = format!("{row} {column}").trim().to_owned();
    if let Some(first) = place.get_mut(..1) {
        first.make_ascii_uppercase();
    }
    place
}

/// Where the letters of the code stand, right-aligned below the QR code.
fn letters_zone(worksheet: &Worksheet, right: f64) -> Rect {
    let widest = super::code::Payload::new(&worksheet.id, 1, None).encode();
    let id = widest.rsplitn(4, '/').last().unwrap_or("");
    let id_width = Face::Regular.width_mm(id, LETTERS_EM_MM);
    let width = id_width.max(Face::Regular.width_mm("/1/WWWWWWWWWWWW/WW", LETTERS_EM_MM)).max(CODE_MM);
    let [first, last] = LETTERS_BASES_MM;
    Rect::new(right - width, first - 0.8 * LETTERS_EM_MM, right, last + 0.22 * LETTERS_EM_MM)
}

/// The check line's words and the cautions, and the upper edge of the footer.
fn footer(worksheet: &Worksheet, width: f64, height: f64, bottom: f64) -> (Vec<TextLine>, f64) {
    let line = |x, y, em_mm, text: String| TextLine {
        at: Point::new(x, y),
        face: Face::Regular,
        em_mm,
        grey: QUIET_GREY,
        text,
    };
    let check_base = height - CHECK_LINE_UP_MM - 2.0;
    let check_top = check_base - 0.8 * CHECK_EM_MM;
    let mut texts = vec![line(SIDE_MM, check_base, CHECK_EM_MM, CHECK_WORDS.into())];
    let Some(words) = cautions(worksheet) else { return (texts, check_top) };

    let beside_x = SIDE_MM + CHECK_LINE_MM + 8.0;
    // Left end, last baseline, width to fill.
    let beside = (beside_x, height - CAUTION_UP_MM, width - SIDE_MM - beside_x);
    let above = (SIDE_MM, check_top - 2.6, width - 2.0 * SIDE_MM);
    let well =
        CAUTION_EMS_MM[..2].iter().flat_map(|em| [(beside, *em, CAUTION_LINES), (above, *em, usize::MAX)]);
    let tries = well.chain(CAUTION_EMS_MM.iter().map(|em| (beside, *em, usize::MAX)));
    let mut set = (Vec::new(), 0.0);
    for ((x, base, room), em, most) in tries {
        let lines = Face::Regular.wrap_evenly(&words, em, room);
        let count = lines.len();
        let first = base - (count - 1) as f64 * CAUTION_LEADING * em;
        let top = (first - 0.8 * em).min(check_top);
        let placed = |(i, text)| line(x, first + i as f64 * CAUTION_LEADING * em, em, text);
        set = (lines.into_iter().enumerate().map(placed).collect(), top);
        if top >= bottom + BLANK_MM && count <= most {
            break;
        }
    }
    texts.extend(set.0);
    (texts, set.1)
}

/// The cautions that fit the sources, or none.
pub(super) fn cautions(worksheet: &Worksheet) -> Option<String> {
    let kinds = || worksheet.panels.iter().flat_map(|p| &p.sources).map(|s| &s.kind);
    kinds().next()?;
    let mut words: Vec<&str> = Vec::new();
    if kinds().any(Kind::is_magnet) {
        words.push(MAGNET_WORDS);
    }
    if kinds().any(Kind::is_current) {
        words.push(CURRENT_WORDS);
    }
    if kinds().any(Kind::is_electric) {
        words.push(CHARGE_WORDS);
    }
    let words = format!("{} {SCHOOL_WORDS}", words.join(" "));
    // A globe and a dipole are ideas on paper; the other kinds lie on a table.
    if kinds().all(|k| matches!(k, Kind::Globe { .. } | Kind::Dipole { .. })) {
        return Some(format!("{IF_TRIED_WORDS}{}", words.replacen('S', "s", 1)));
    }
    Some(words)
}

//! Combinations, caps, totals, grades and adjusted rubrics, judged in every reading.

mod limits;

use super::*;
use crate::measure::{ALL, Measured, PanelMeasures, WORLDS};
use std::path::Path;

type InWorld<'a> = &'a dyn Fn(usize) -> Option<f64>;

/// Measures that are 0 in every reading, but for those named.
fn page(id: &str, given: &[(&str, InWorld)]) -> PanelMeasures {
    let measures = ALL.iter().map(|m| {
        let world = |w| match given.iter().find(|(name, _)| *name == m.name) {
            Some((_, of)) => of(w),
            None => Some(0.0),
        };
        Measured { value: world(0), low: None, high: None, worlds: (0..WORLDS).map(world).collect() }
    });
    PanelMeasures { id: id.into(), measures: measures.collect(), shifts: None }
}

fn rubric(body: &str) -> Rubric {
    let text = format!("rubric: 1\ntitle: Test\n{body}");
    Rubric::parse(Path::new("rubric.yaml"), &text, &["A"]).unwrap_or_else(|p| panic!("{p:#?}"))
}

fn marked(rubric: &Rubric, page: &PanelMeasures) -> (Marks, Total) {
    let marks = rubric.mark(&[PanelFacts { measures: page, worst_line: Some((3, 31.4)) }]);
    let total = rubric.total(&marks);
    (marks, total)
}

const MEETING: &str = "
  - id: meeting
    title: Apart
    marks: 2
    measure: meets.count
    bands:
      - { at_most: 0, marks: 2, say: Apart. }
      - { otherwise: true, marks: 0, say: 'Places: {meets.count}.' }
";

const COMBINED: &str = "
  - id: tidy
    title: Tidy
    marks: 3
    bands:
      - { all_of: { meets.count: { at_most: 0 }, ends.open: { at_most: 0 } }, marks: 3, say: Both. }
      - { any_of: { meets.count: { at_most: 0 }, ends.open: { at_most: 0 } }, marks: 1, say: One. }
      - { otherwise: true, marks: 0, say: Neither. }
";

#[test]
fn a_combination_is_as_sure_as_all_its_parts_in_one_reading() {
    let rubric = rubric(&format!("criteria:{COMBINED}"));
    // Each is right in nine readings of ten, both together in eight: the readings do not overlap.
    let page = page(
        "A",
        &[
            ("meets.count", &|w| Some(f64::from(u8::from(w < 20)))),
            ("ends.open", &|w| Some(f64::from(u8::from((20..40).contains(&w))))),
        ],
    );
    let mark = &marked(&rubric, &page).0.criteria[0];
    assert_eq!((mark.marks, mark.chance, mark.look), (Some(3.0), 0.8, true));
    assert_eq!(mark.say, "Both.");
}

#[test]
fn an_empty_measure_decides_only_where_it_could() {
    let rubric = rubric(&format!(
        "criteria:{}",
        COMBINED
            .replace("ends.open", "ends.placed")
            .replace("ends.placed: { at_most: 0 }", "ends.placed: { at_least: 1 }")
    ));
    let with = |meets: f64| page("A", &[("meets.count", &move |_| Some(meets)), ("ends.placed", &|_| None)]);
    // One meeting: all_of fails whatever the ends say, any_of cannot be told.
    assert_eq!(marked(&rubric, &with(1.0)).0.criteria[0].marks, None);
    assert_eq!(marked(&rubric, &with(1.0)).0.criteria[0].flags, ["tidy:no-value"]);
    assert_eq!(marked(&rubric, &with(0.0)).0.criteria[0].marks, None);
}

#[test]
fn the_lowest_part_counts_and_speaks() {
    let rubric = rubric("criteria:
  - id: care
    title: Care
    marks: 2
    lowest_of:
      - { measure: meets.count, bands: [{ at_most: 0, marks: 2, say: a }, { otherwise: true, marks: 1, say: b }] }
      - { measure: ends.open, bands: [{ at_most: 0, marks: 2, say: c }, { otherwise: true, marks: 0, say: d }] }
");
    let page =
        page("A", &[("meets.count", &|_| Some(1.0)), ("ends.open", &|w| Some(f64::from(u8::from(w > 149))))]);
    let mark = &marked(&rubric, &page).0.criteria[0];
    assert_eq!((mark.marks, mark.chance, mark.say.as_str()), (Some(1.0), 0.75, "b"));
}

#[test]
fn a_cap_bites_while_it_holds_and_says_so() {
    let cap = "    caps: [{ while: { arrows.wrong: { above: 0 } }, at_most_marks: 1, say: 'But {wrong_arrows} wrong.' }]\n";
    let rubric = rubric(&format!("criteria:{MEETING}{cap}"));
    let wrong = |from: usize| page("A", &[("arrows.wrong", &move |w| Some(f64::from(u8::from(w >= from))))]);
    let mark = |page: &PanelMeasures| marked(&rubric, page).0.criteria.remove(0);
    let capped = mark(&wrong(0));
    assert_eq!((capped.marks, capped.chance, capped.say.as_str()), (Some(1.0), 1.0, "Apart. But 1 wrong."));
    // The cap itself is unsure: so is the mark, though no line crosses in any reading.
    let unsure = mark(&wrong(150));
    assert_eq!((unsure.marks, unsure.chance, unsure.look), (Some(2.0), 0.75, true));
    let free = mark(&wrong(WORLDS));
    assert_eq!((free.marks, free.chance, free.look), (Some(2.0), 1.0, false));
}

#[test]
fn weights_bonus_penalty_scale_rounding_and_grades() {
    let body = format!(
        "total: {{ out_of: 10, round_to: 0.5 }}
grades:
  - {{ name: Good, at_least: 60 }}
  - {{ name: Fair, at_least: 0 }}
criteria:{MEETING}    weight: 3
  - id: extra
    title: Extra
    marks: 1
    kind: bonus
    measure: dots.count
    bands: [{{ at_least: 3, marks: 1, say: x }}, {{ otherwise: true, marks: 0, say: y }}]
  - id: loose
    title: Loose ends
    marks: -2
    kind: penalty
    measure: ends.open
    bands: [{{ at_most: 0, marks: 0, say: x }}, {{ otherwise: true, marks: -2, say: y }}]
"
    );
    let rubric = rubric(&body);
    assert_eq!(rubric.out_of(&["A"]), 10.0);
    let columns = rubric.columns(&["A"]);
    assert_eq!(columns, [("meeting".into(), 6.0), ("extra".into(), 1.0), ("loose".into(), -2.0)]);
    let open: InWorld = &|_| Some(2.0);
    let (_, total) = marked(&rubric, &page("A", &[("ends.open", open)]));
    // 6 - 2 of 6, scaled to 10, is 6.67.
    assert_eq!((total.value, total.grade.as_deref(), total.grade_chance), (Some(6.5), Some("Good"), 1.0));
    let (_, full) = marked(&rubric, &page("A", &[("dots.count", &|_| Some(4.0))]));
    assert_eq!(full.value, Some(10.0));
    // A total that is sure of no grade: 6 - 2 or 6 - 0 - 6.
    let unsure = page("A", &[("ends.open", open), ("meets.count", &|w| Some(f64::from(u8::from(w > 160))))]);
    let (_, total) = marked(&rubric, &unsure);
    assert_eq!((total.grade_chance, total.flags), (0.805, vec!["grade:near-edge".to_string()]));
}

#[test]
fn a_cap_on_the_total_is_judged_reading_by_reading() {
    let body = format!(
        "caps: [{{ while: {{ meets.count: {{ above: 0 }} }}, at_most_marks: 2, say: Lines cross. }}]
criteria:{}{}",
        MEETING, COMBINED
    );
    let rubric = rubric(&body);
    let (_, sure) =
        marked(&rubric, &page("A", &[("meets.count", &|_| Some(1.0)), ("ends.open", &|_| Some(1.0))]));
    assert_eq!((sure.value, sure.says.len()), (Some(0.0), 0));
    let rubric2 = self::rubric(
        &body
            .replace("marks: 0, say: 'Places", "marks: 1.5, say: 'Places")
            .replace("marks: 0, say: Neither", "marks: 2, say: Neither"),
    );
    let (_, capped) =
        marked(&rubric2, &page("A", &[("meets.count", &|_| Some(1.0)), ("ends.open", &|_| Some(1.0))]));
    assert_eq!((capped.value, capped.says), (Some(2.0), vec!["Lines cross.".to_string()]));
    let (_, unsure) =
        marked(&rubric, &page("A", &[("meets.count", &|w| Some(f64::from(u8::from(w > 140))))]));
    assert_eq!((unsure.value, unsure.flags), (Some(5.0), vec!["total:cap-near-edge".to_string()]));
}

#[test]
fn panels_by_name_and_their_weights() {
    let text = format!("rubric: 1\ntitle: T\ncriteria:{MEETING}    panel: [A, C]\n    weights: {{ C: 2 }}\n");
    let rubric = Rubric::parse(Path::new("r.yaml"), &text, &["A", "B", "C"]).unwrap();
    assert_eq!(rubric.columns(&["A", "B", "C"]), [("meeting.A".into(), 2.0), ("meeting.C".into(), 4.0)]);
    let pages = ["A", "B", "C"].map(|id| page(id, &[]));
    let facts: Vec<PanelFacts> =
        pages.iter().map(|measures| PanelFacts { measures, worst_line: None }).collect();
    assert_eq!(rubric.total(&rubric.mark(&facts)).value, Some(6.0));
}

#[test]
fn a_wider_tolerance_widens_what_is_measured_and_no_counts() {
    let shape = "criteria:
  - id: shape
    title: Shape
    marks: 2
    measure: angle.median_deg
    needs: { arrows.shown: { at_least: 0.6, else_marks: 0, say: n }, lines.count: { at_least: 5, else_marks: 0, say: n } }
    bands: [{ at_most: 10, marks: 2, say: a }, { at_most: 20, marks: 1, say: b }, { otherwise: true, marks: 0, say: c }]
";
    let rubric = rubric(shape);
    let page = page(
        "A",
        &[
            ("angle.median_deg", &|_| Some(14.0)),
            ("arrows.shown", &|_| Some(0.45)),
            ("lines.count", &|_| Some(5.0)),
        ],
    );
    assert_eq!(marked(&rubric, &page).0.criteria[0].marks, Some(0.0));
    assert_eq!(marked(&rubric.widened(1.5), &page).0.criteria[0].marks, Some(2.0));
    assert!(rubric.widened(1.5).criteria[0].is_widened() && !rubric.widened(1.0).criteria[0].is_widened());
    assert!(!self::rubric(&format!("criteria:{MEETING}")).widened(1.5).criteria[0].is_widened());
}

#[test]
fn words_in_several_languages_are_chosen_and_all_are_checked() {
    let text = |de: &str| {
        format!(
            "rubric: 1\ntitle: {{ en: Apart, de: Abstand }}\ncriteria:{}",
            MEETING.replace("say: Apart.", "say: { en: Apart., de: Getrennt. }").replace(
                "'Places: {meets.count}.'",
                &format!("{{ en: 'Places: {{crossings}}', de: '{de}' }}")
            )
        )
    };
    let home = tempfile::tempdir().unwrap();
    let path = home.path().join("rubric.yaml");
    let load = |de: &str, language: Option<&str>| {
        std::fs::write(&path, text(de)).unwrap();
        Rubric::load(&path, &["A"], language).map_err(|p| p[0].what.clone())
    };
    let german = load("Stellen: {crossings}", Some("de")).unwrap();
    assert_eq!((german.title.as_str(), german.language.as_deref()), ("Abstand", Some("de")));
    assert_eq!(german.languages, ["en", "de"]);
    assert_eq!(load("Stellen", None).unwrap().title, "Apart");
    assert_eq!(load("Stellen", Some("fr")).unwrap_err(), "has no words in fr");
    assert_eq!(load("{crosings}", Some("en")).unwrap_err(), "nothing is called {crosings}");
}

#[test]
fn a_rubric_extends_another_and_changes_parts_of_it() {
    let home = tempfile::tempdir().unwrap();
    let write = |name: &str, text: &str| std::fs::write(home.path().join(name), text).unwrap();
    write(
        "department.yaml",
        &format!("rubric: 1\ntitle: Department\nlook_below: 0.8\ncriteria:{MEETING}{COMBINED}"),
    );
    write(
        "mine.yaml",
        "rubric: 1\nextends: department.yaml\ntitle: Mine\ncriteria:\n  - { id: tidy, remove: true }\n  - { id: meeting, title: My own }\n",
    );
    let mine = Rubric::load(&home.path().join("mine.yaml"), &["A"], None).unwrap();
    assert_eq!((mine.title.as_str(), mine.look_below, mine.criteria.len()), ("Mine", 0.8, 1));
    assert_eq!((mine.criteria[0].title.as_str(), mine.criteria[0].marks), ("My own", 2.0));
    let hash = mine.hash.clone();
    let told = |name: &str| {
        Rubric::load(&home.path().join(name), &["A"], None).map_err(|p| p[0].to_string()).unwrap_err()
    };
    write(
        "department.yaml",
        &format!(
            "rubric: 1\ntitle: Department\ncriteria:{}",
            MEETING.replace("meets.count", "meet.count") + COMBINED
        ),
    );
    assert!(told("mine.yaml").contains("department.yaml:7:14"), "{}", told("mine.yaml"));
    write("department.yaml", &format!("rubric: 1\ntitle: Other\ncriteria:{MEETING}{COMBINED}"));
    assert_ne!(Rubric::load(&home.path().join("mine.yaml"), &["A"], None).unwrap().hash, hash);
    write("a.yaml", "rubric: 1\nextends: b.yaml\n");
    write("b.yaml", "rubric: 1\nextends: a.yaml\n");
    assert!(told("a.yaml").contains("in a circle"));
    write("a.yaml", "rubric: 1\nextends: basic\n");
    assert!(told("a.yaml").contains("did you mean basics?"), "{}", told("a.yaml"));
    write(
        "a.yaml",
        "rubric: 1\nextends: basics\ntitle: Mine\ncriteria:\n  - { id: spaceing, remove: true }\n",
    );
    assert!(told("a.yaml").contains("did you mean spacing?"), "{}", told("a.yaml"));
    write("a.yaml", "rubric: 1\nextends: nowhere.yaml\n");
    assert!(told("a.yaml").contains("a.yaml:2:10 extends: there is no file"), "{}", told("a.yaml"));
}

#[test]
fn what_a_rubric_extends_can_be_judged_otherwise_or_taken_off() {
    let home = tempfile::tempdir().unwrap();
    let load = |mine: &str| {
        let lowest = "
  - id: care
    title: Care
    marks: 2
    lowest_of:
      - { measure: meets.count, bands: [{ at_most: 0, marks: 2, say: a }, { otherwise: true, marks: 0, say: b }] }
      - { measure: ends.open, bands: [{ at_most: 0, marks: 2, say: a }, { otherwise: true, marks: 0, say: b }] }
  - id: shape
    title: Shape
    marks: 2
    measure: angle.median_deg
    bands: [{ at_most: 10, marks: 2, say: a }, { otherwise: true, marks: 0, say: b }]
    if_empty: { marks: 0, say: c }
";
        let base = format!(
            "rubric: 1\ntitle: Base\ncaps: [{{ while: {{ meets.count: {{ above: 0 }} }}, at_most_marks: 2, say: x }}]\n\
             grades: [{{ name: All, at_least: 0 }}]\ncriteria:{MEETING}{lowest}"
        );
        std::fs::write(home.path().join("base.yaml"), base).unwrap();
        let path = home.path().join("mine.yaml");
        std::fs::write(&path, format!("rubric: 1\nextends: base.yaml\n{mine}")).unwrap();
        Rubric::load(&path, &["A"], None)
            .map_err(|p| p.iter().map(|p| format!("{}: {}; {}\n", p.path, p.what, p.fix)).collect::<String>())
    };
    let plain = "measure: lines.count, bands: [{ at_least: 5, marks: 2, say: a }, { otherwise: true, marks: 0, say: b }]";
    let mine = load(&format!(
        "caps: []\ngrades: []\ncriteria: [{{ id: care, {plain} }}, {{ id: shape, {plain} }}]\n"
    ))
    .unwrap_or_else(|told| panic!("{told}"));
    assert!(mine.caps.is_empty() && mine.grades.is_empty());
    let measures = |id: &str| {
        let names = mine.criterion(id).unwrap().measures();
        names.iter().map(|m| m.name).collect::<Vec<_>>()
    };
    assert_eq!((measures("care"), measures("shape")), (vec!["lines.count"], vec!["lines.count"]));
    // All at once, and a misspelt id is told by its neighbour.
    let told = load(
        "criteria:\n  - { id: meting, marks: 3 }\n  - { id: shap, remove: true }\n  - { id: meeting, marks: 1 }\n",
    )
    .unwrap_err();
    for words in [
        "criteria[0].id: the rubric that this extends has no criterion meting, and a new one needs a title; did you mean meeting?",
        "criteria[1].remove: the rubric that this extends has no criterion shap; did you mean shape?",
        "criteria[2].marks: the rubric that this extends gives other marks than 1",
    ] {
        assert!(told.contains(words), "{words}\n{told}");
    }
    assert_eq!(told.lines().count(), 3, "{told}");
}

#[test]
fn a_weight_for_a_panel_that_is_not_looked_at_is_refused() {
    let told = |panel: &str| {
        let text = format!(
            "rubric: 1\ntitle: T\ncriteria:{}",
            MEETING.replace(
                "marks: 2\n",
                &format!("marks: 2\n    panel: {panel}\n    weights: {{ A: 1, B: 2 }}\n")
            )
        );
        Rubric::parse(Path::new("r.yaml"), &text, &["A", "B"]).err().map(|p| p[0].to_string())
    };
    assert_eq!(told("each"), None);
    assert_eq!(told("[A, B]"), None);
    for panel in ["A", "[A]"] {
        let told = told(panel).unwrap();
        assert!(
            told.contains("weights.B: a weight for panel B, which the criterion does not look at"),
            "{told}"
        );
    }
}

#[test]
fn the_table_tells_a_total_above_full_marks_and_both_kinds_of_weights() {
    let body = format!(
        "total: {{ above_full: true }}\ncriteria:{}",
        MEETING.replace("marks: 2\n", "marks: 2\n    panel: each\n    weight: 1.5\n    weights: { B: 2 }\n")
    );
    let table = Rubric::parse(Path::new("r"), &format!("rubric: 1\ntitle: T\n{body}"), &["A", "B"])
        .unwrap()
        .table(&["A", "B"]);
    assert!(table.contains("times 1.5, but 2 in panel B"), "{table}");
    assert!(table.contains("out of 7; a bonus may lift it above full marks"), "{table}");
}

#[test]
fn slips_in_what_is_new_are_told_at_their_place() {
    let told = |body: &str| {
        let text = format!("rubric: 1\ntitle: T\n{body}");
        Rubric::parse(Path::new("r.yaml"), &text, &["A"])
            .map(|_| String::new())
            .unwrap_or_else(|p| p.iter().map(|p| format!("{p}\n")).collect())
    };
    let cases = [
        (
            format!("criteria:{}", COMBINED.replace("all_of: { meets", "all_of: { meet")),
            "did you mean meets.count?",
        ),
        (
            format!(
                "criteria:{}",
                COMBINED.replace("otherwise: true", "any_of: { ends.open: { above: 3 } }")
            ),
            "do not meet every value",
        ),
        (
            format!("criteria:{MEETING}    caps: [{{ while: {{}}, at_most_marks: 1, say: x }}]\n"),
            "0 conditions",
        ),
        (
            format!(
                "criteria:{MEETING}    caps: [{{ while: {{ ends.open: {{ above: 0 }} }}, at_most_marks: 3, say: x }}]\n"
            ),
            "3 marks is out of range; write 0 to 2",
        ),
        (format!("criteria:{MEETING}    kind: bonsu\n"), "did you mean bonus?"),
        (format!("criteria:{}    kind: penalty\n", MEETING), "2 marks is out of range; write -100 to 0"),
        (format!("criteria:{MEETING}    weight: 0\n"), "a weight of 0"),
        (
            format!("total: {{ out_of: 7, round_to: 50 }}\ncriteria:{MEETING}"),
            "steps of 50, but the total is out of 7",
        ),
        (format!("total: {{ round_to: 3 }}\ncriteria:{MEETING}"), "steps of 3, but the total is out of 2"),
        (format!("criteria:{MEETING}    kind: bonus\n"), "no criterion gives ordinary marks"),
        (
            format!("grades: [{{ name: A, at_least: 50 }}, {{ name: A, at_least: 0 }}]\ncriteria:{MEETING}"),
            "another grade is called A",
        ),
        (
            format!(
                "caps: [{{ while: {{ ends.open: {{ above: 0 }} }}, at_most_marks: 1, say: '{{value}}' }}]\ncriteria:{MEETING}"
            ),
            "the total has none; name the measure",
        ),
        (format!("total: {{ rounding: up }}\ncriteria:{MEETING}"), "add round_to:"),
        (
            format!("grades: [{{ name: A, at_least: 50 }}, {{ name: B, at_least: 70 }}]\ncriteria:{MEETING}"),
            "put the highest grade first",
        ),
        (
            format!("grades: [{{ name: A, at_least: 50 }}]\ncriteria:{MEETING}"),
            "end the grades with one of at_least: 0",
        ),
        (
            format!("criteria:{}", MEETING.replace("say: Apart.", "say: { german: Getrennt }")),
            "write a language code",
        ),
    ];
    for (body, words) in cases {
        assert!(told(&body).contains(words), "{words}: {}", told(&body));
    }
}

#[test]
fn every_ready_rubric_reads_and_prints() {
    for ready in ready::ALL {
        let rubric =
            Rubric::parse(Path::new(ready.name), ready.text, &["A"]).unwrap_or_else(|p| panic!("{p:#?}"));
        let table = rubric.table(&["A"]);
        assert!(table.starts_with(&rubric.title) && table.contains("Total: "), "{table}");
        assert!(table.lines().all(|l| l.chars().count() <= 100), "{table}");
    }
}

#[test]
fn a_rubric_knows_whether_its_words_name_a_line() {
    let basics = include_str!("../../rubrics/basics.yaml");
    let named = basics.replace("compare their curves with the answer", "look at line {line}");
    let names = |text: &str| Rubric::parse(Path::new("r"), text, &["A"]).unwrap().names_a_line();
    assert_eq!((names(basics), names(&named)), (false, true));
}

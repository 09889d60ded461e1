//! Totals, grades, caps and a student's own tolerance keep within their limits.

use super::*;

#[test]
fn all_slips_of_total_and_grades_are_told_at_once() {
    let text = format!(
        "rubric: 1
title: T
total: {{ out_of: -1, rounding: sideways, above_full: 3 }}
grades: [{{ name: 7, at_least: 50 }}, {{ at_least: 70 }}, {{ name: B, at_least: 101 }}]
criteria:{MEETING}"
    );
    let told = Rubric::parse(Path::new("r.yaml"), &text, &["A"]).unwrap_err();
    let paths: Vec<&str> = told.iter().map(|p| p.path.as_str()).collect();
    for path in [
        "total.out_of",
        "total.rounding",
        "total.above_full",
        "grades[0].name",
        "grades[1]",
        "grades[2].at_least",
    ] {
        assert!(paths.contains(&path), "{path}: {told:#?}");
    }
}

#[test]
fn rounding_leads_neither_above_full_marks_nor_to_minus_nought() {
    let total = |rule: &str, given: &[(&str, InWorld)]| {
        let rubric = rubric(&format!("total: {rule}\ncriteria:{MEETING}"));
        marked(&rubric, &page("A", given)).1.value.unwrap()
    };
    let none: InWorld = &|_| Some(1.0);
    // Seven marks in steps of two: full marks stay seven.
    assert_eq!(total("{ out_of: 7, round_to: 2 }", &[]), 7.0);
    assert_eq!(total("{ out_of: 7, round_to: 2, rounding: up, above_full: true }", &[]), 7.0);
    for rounding in ["up", "down", "nearest"] {
        let nought = total(&format!("{{ round_to: 1, rounding: {rounding} }}"), &[("meets.count", none)]);
        assert_eq!(nought.to_bits(), 0.0_f64.to_bits(), "{rounding}");
    }
    let spared = rubric(&format!("criteria:{MEETING}")).without(&["meeting".into()]);
    assert_eq!(spared.out_of(&["A"]).to_bits(), 0.0_f64.to_bits());
    assert_eq!(marked(&spared, &page("A", &[])).1.out_of.to_bits(), 0.0_f64.to_bits());
}

#[test]
fn a_cap_on_the_total_says_what_was_counted_in_the_panel_where_it_holds() {
    let text = format!(
        "rubric: 1\ntitle: T\ncaps: [{{ while: {{ ends.open: {{ above: 0 }} }}, at_most_marks: 1, say: 'Capped: {{open_ends}} open, {{meets.count}} meet.' }}]\ncriteria:{MEETING}    panel: each\n"
    );
    let rubric = Rubric::parse(Path::new("r.yaml"), &text, &["A", "B"]).unwrap();
    let (a, b) = (page("A", &[]), page("B", &[("ends.open", &|_| Some(3.0))]));
    let facts = [&a, &b].map(|measures| PanelFacts { measures, worst_line: None });
    let marks = rubric.mark(&facts);
    assert_eq!(rubric.total(&marks).says, ["Capped: 3 open, 0 meet."]);
    let titles: Vec<&str> = marks.criteria.iter().map(|m| m.title.as_str()).collect();
    assert_eq!(titles, ["Apart, panel A", "Apart, panel B"]);
    assert_eq!(rubric.title_of("meeting.B"), "Apart, panel B");
}

#[test]
fn other_full_marks_than_the_bands_below_are_told_where_they_are_written() {
    let home = tempfile::tempdir().unwrap();
    let path = home.path().join("mine.yaml");
    for (marks, words) in [
        ("3", "no band gives the full marks, 3; write bands: here too"),
        ("0.5", "the rubric that this extends gives other marks than 0.5; write bands: here too"),
    ] {
        let text = format!("rubric: 1\nextends: basics\ncriteria:\n  - {{ id: ends, marks: {marks} }}\n");
        std::fs::write(&path, text).unwrap();
        let told = Rubric::load(&path, &["A"], None).unwrap_err();
        assert!(told.iter().all(|p| p.place == Some((4, 24))), "{told:#?}");
        assert!(told[0].to_string().contains(words), "{}", told[0]);
    }
}

/// A rubric on one measure with these limits, lowest first, and marks between them, in one of four ways to write it.
fn banded(measure: &str, limits: &[f64], marks: &[u8], way: usize) -> Rubric {
    let band = |limit: String, marks: u8| format!("      - {{ {limit}, marks: {marks}, say: x }}\n");
    let last = marks.len() - 1;
    let bands: Vec<String> = match way {
        0 => limits
            .iter()
            .zip(marks)
            .map(|(l, m)| band(format!("at_most: {l}"), *m))
            .chain([band("otherwise: true".into(), marks[last])])
            .collect(),
        1 => limits
            .iter()
            .zip(&marks[1..])
            .rev()
            .map(|(l, m)| band(format!("above: {l}"), *m))
            .chain([band("otherwise: true".into(), marks[0])])
            .collect(),
        _ => {
            let mut bands: Vec<String> = (1..last)
                .map(|n| band(format!("above: {}, at_most: {}", limits[n - 1], limits[n]), marks[n]))
                .chain([
                    band(format!("at_most: {}", limits[0]), marks[0]),
                    band(format!("above: {}", limits[last - 1]), marks[last]),
                ])
                .collect();
            if way == 3 {
                bands.reverse();
            }
            bands
        }
    };
    let most = marks.iter().max().unwrap();
    rubric(&format!(
        "criteria:\n  - id: some\n    title: Some\n    marks: {most}\n    measure: {measure}\n    bands:\n{}",
        bands.concat()
    ))
}

proptest::proptest! {
    #[test]
    fn a_wider_tolerance_never_lowers_a_mark(
        which in 0..3_usize,
        steps in proptest::array::uniform3(0.05..0.3_f64),
        marks in proptest::array::uniform4(0..4_u8),
        way in 0..4_usize,
        at in 0.0..1.0_f64,
        factors in (1.0..3.0_f64, 1.0..3.0_f64),
    ) {
        proptest::prop_assume!(marks.iter().any(|m| *m > 0));
        let (measure, from, span) =
            [("angle.median_deg", 0.0, 90.0), ("ends.placed", 0.0, 1.0), ("spacing.widen", -1.0, 2.0)][which];
        let limits: Vec<f64> = steps
            .iter()
            .scan(0.0, |sum, step| { *sum += step; Some(from + span * (*sum * 1000.0).round() / 1000.0) })
            .collect();
        let rubric = banded(measure, &limits, &marks, way);
        let value = from + span * at;
        let page = page("A", &[(measure, &move |_| Some(value))]);
        let mark = |factor: f64| marked(&rubric.widened(factor), &page).0.criteria[0].marks.unwrap();
        let (less, more) = (factors.0.min(factors.1), factors.0.max(factors.1));
        proptest::prop_assert!(mark(1.0) <= mark(less) && mark(less) <= mark(more));
        proptest::prop_assert_eq!(mark(1.0), marked(&rubric, &page).0.criteria[0].marks.unwrap());
    }
}

#[test]
fn a_tolerance_widens_a_range_at_both_ends_and_never_a_cap_or_need_inwards() {
    let text = "criteria:
  - id: some
    title: Some
    marks: 2
    measure: angle.median_deg
    needs: { arrows.shown: { at_least: 0.5, else_marks: 1, say: n } }
    bands: [{ at_least: 1, at_most: 10, marks: 2, say: a }, { otherwise: true, marks: 0, say: b }]
    caps: [{ while: { lines.off_mm: { above: 2 } }, at_most_marks: 1, say: c }]
";
    let rubric = rubric(text);
    let mark = |factor: f64, angle: f64, shown: f64, off: f64| {
        let page = page(
            "A",
            &[
                ("angle.median_deg", &move |_| Some(angle)),
                ("arrows.shown", &move |_| Some(shown)),
                ("lines.off_mm", &move |_| Some(off)),
            ],
        );
        marked(&rubric.widened(factor), &page).0.criteria[0].marks
    };
    assert_eq!((mark(1.0, 2.0, 1.0, 0.0), mark(3.0, 2.0, 1.0, 0.0)), (Some(2.0), Some(2.0)));
    assert_eq!((mark(3.0, 29.0, 1.0, 0.0), mark(3.0, 31.0, 1.0, 0.0)), (Some(2.0), Some(0.0)));
    assert_eq!((mark(1.0, 0.5, 1.0, 0.0), mark(3.0, 0.5, 1.0, 0.0)), (Some(0.0), Some(2.0)));
    // The cap holds from three times 2 mm, and a need that is met by its tolerance costs no mark.
    assert_eq!((mark(3.0, 5.0, 1.0, 5.9), mark(3.0, 5.0, 1.0, 6.1)), (Some(2.0), Some(1.0)));
    assert_eq!((mark(1.0, 90.0, 0.3, 0.0), mark(3.0, 90.0, 0.3, 0.0)), (Some(1.0), Some(1.0)));
}

//! Students' usual ideas: on drawings into which one was put (`makers`) it is found nine times in ten, and on
//! drawings without any at most two in a hundred are told of one.

use crate::makers::{Dice, Scene, drawing, good, scenes, slips, with_idea};
use lodemark::drawing::Line;
use lodemark::ideas;
use lodemark::measure::measure_panel;
use std::collections::BTreeMap;

/// Drawings an arrangement and idea.
const DRAWINGS: u64 = 24;
/// Good drawings an arrangement: what is rare needs many.
const GOOD: u64 = 400;

fn told(scene: &Scene, lines: Vec<Line>, seed: u64) -> Vec<String> {
    let found = measure_panel(&scene.panel, &scene.field, &drawing(lines), seed);
    ideas::find(&scene.panel, &found.record, &found.measures).into_iter().map(|i| i.idea).collect()
}

/// Wilson's 95 % bounds for `hits` of `all` (E. B. Wilson, J. Am. Stat. Assoc. 22 (1927) 209), in per cent.
fn wilson(hits: usize, all: usize) -> (f64, f64) {
    let (n, p, z) = (all as f64, hits as f64 / all as f64, 1.96);
    let middle = (p + z * z / (2.0 * n)) / (1.0 + z * z / n);
    let half = z / (1.0 + z * z / n) * (p * (1.0 - p) / n + z * z / (4.0 * n * n)).sqrt();
    (100.0 * (middle - half), 100.0 * (middle + half))
}

#[test]
fn ideas_put_into_drawings_are_found_and_good_drawings_are_left_alone() {
    let scenes = scenes();
    let mut report = String::new();
    let mut alarms: BTreeMap<String, usize> = BTreeMap::new();
    let (mut clean, mut false_drawings) = (0, 0);
    for (s, (name, scene)) in scenes.iter().enumerate() {
        for n in 0..GOOD {
            let seed = 500_000 + n * 1000 + s as u64;
            let dice = &mut Dice(seed);
            let mut lines = good(scene, dice);
            if n % 2 == 1 {
                slips(scene, &mut lines, dice);
            }
            let ideas = told(scene, lines, seed);
            clean += 1;
            false_drawings += usize::from(!ideas.is_empty());
            ideas.into_iter().for_each(|i| *alarms.entry(format!("{name} {i}")).or_default() += 1);
        }
    }
    let mut short = Vec::new();
    for idea in ideas::CATALOGUE {
        let (mut hits, mut all) = (0, 0);
        let mut missed: BTreeMap<&str, usize> = BTreeMap::new();
        for (s, (name, scene)) in scenes.iter().enumerate() {
            for n in 0..DRAWINGS {
                let seed = 90_077 + n * 991 + s as u64;
                let Some(lines) = with_idea(idea.id, scene, &mut Dice(seed)) else { continue };
                all += 1;
                let hit = told(scene, lines, seed).contains(&idea.id.to_string());
                hits += usize::from(hit);
                *missed.entry(name).or_default() += usize::from(!hit);
            }
        }
        let (low, high) = wilson(hits, all);
        report += &format!("{:<20} {hits} of {all} ({low:.1} to {high:.1} %) missed {missed:?}\n", idea.id);
        if (hits as f64) < 0.9 * all as f64 || all == 0 {
            short.push(idea.id);
        }
    }
    let (low, high) = wilson(false_drawings, clean);
    report += &format!(
        "good drawings told of an idea: {false_drawings} of {clean} ({low:.1} to {high:.1} %) {alarms:?}\n"
    );
    println!("{report}");
    assert!(short.is_empty(), "recall below 0.9: {short:?}\n{report}");
    assert!(false_drawings as f64 <= 0.02 * clean as f64, "{report}");
}

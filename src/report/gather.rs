//! Places of one kind that lie close together share a number: a number each could not be told apart, and says no more.

use super::notes::{Kind, Note};
use crate::geometry::{Point, Rect};

/// Places of one kind nearer than this to each other, along a chain, share a number, mm: a mark is 6 to 8 mm wide, so that
/// nearer ones overlap.
const NEAR_MM: f64 = 8.0;

/// Most numbers of one kind in a panel; of more, those in one ninth of the frame share one. Empirical: as many can be looked up one
/// by one.
const MOST_NUMBERS: usize = 12;

/// A place that is pointed out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Spot {
    pub kind: Kind,
    pub at: Point,
    /// 0 to 1.
    pub sure: f64,
}

/// The places of a panel that share a number each, kind by kind, from left to right.
pub(super) fn gathered(spots: &[Spot], frame: Rect) -> Vec<Vec<Spot>> {
    let mut all = Vec::new();
    for kind in Kind::ALL {
        let mut these: Vec<Spot> = spots.iter().copied().filter(|spot| spot.kind == kind).collect();
        these.sort_by(left_first);
        let mut clusters = chains(these);
        if clusters.len() > MOST_NUMBERS {
            clusters = by_ninth(clusters, frame);
        }
        all.extend(clusters);
    }
    all
}

fn left_first(a: &Spot, b: &Spot) -> std::cmp::Ordering {
    a.at.x.total_cmp(&b.at.x).then(a.at.y.total_cmp(&b.at.y))
}

/// Each chain of places that lie near one another; sorted places give sorted chains.
fn chains(spots: Vec<Spot>) -> Vec<Vec<Spot>> {
    let mut chains: Vec<Vec<Spot>> = Vec::new();
    for spot in spots {
        let near = |chain: &Vec<Spot>| chain.iter().any(|other| (other.at - spot.at).hypot() < NEAR_MM);
        let mut joined = vec![spot];
        // What the place joins becomes one chain.
        let (touched, others): (Vec<_>, Vec<_>) = chains.into_iter().partition(near);
        joined.extend(touched.into_iter().flatten());
        joined.sort_by(left_first);
        chains = others;
        chains.push(joined);
    }
    chains.sort_by(|a, b| left_first(&a[0], &b[0]));
    chains
}

fn by_ninth(clusters: Vec<Vec<Spot>>, frame: Rect) -> Vec<Vec<Spot>> {
    let mut ninths: Vec<((usize, usize), Vec<Spot>)> = Vec::new();
    for cluster in clusters {
        let here = ninth(middle(&cluster), frame);
        match ninths.iter_mut().find(|(known, _)| *known == here) {
            Some((_, spots)) => spots.extend(cluster),
            None => ninths.push((here, cluster)),
        }
    }
    let mut clusters: Vec<Vec<Spot>> = ninths.into_iter().map(|(_, spots)| spots).collect();
    clusters.iter_mut().for_each(|spots| spots.sort_by(left_first));
    clusters.sort_by(|a, b| left_first(&a[0], &b[0]));
    clusters
}

/// The mean of some places.
pub(super) fn middle(spots: &[Spot]) -> Point {
    let count = spots.len().max(1) as f64;
    let sum = |of: fn(&Spot) -> f64| spots.iter().map(of).sum::<f64>();
    Point::new(sum(|s| s.at.x) / count, sum(|s| s.at.y) / count)
}

/// Which third of a frame a place lies in, across and down.
fn ninth(at: Point, frame: Rect) -> (usize, usize) {
    let third = |v: f64, from: f64, length: f64| (3.0 * (v - from) / length).clamp(0.0, 2.9) as usize;
    (third(at.x, frame.x0, frame.width()), third(at.y, frame.y0, frame.height()))
}

/// That in words; and of which panel, where one is given.
pub(super) fn whereabouts(at: Point, frame: Rect, panel: Option<&str>) -> String {
    let (across, down) = ninth(at, frame);
    let place = match (down, across) {
        (1, 1) => "in the middle".to_string(),
        (1, _) => format!("at the {}", ["left", "", "right"][across]),
        (_, 1) => format!("at the {}", ["top", "", "bottom"][down]),
        _ => format!("at the {} {}", ["top", "", "bottom"][down], ["left", "", "right"][across]),
    };
    match panel {
        Some(id) => format!("{place} of panel {id}"),
        None => place,
    }
}

/// Numbers of which one sentence is said.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Group {
    pub kind: Kind,
    /// The numbers as they are listed, by panel where the sheet has several.
    pub listed: String,
    pub sentence: String,
    /// For how many places a number stands, where it stands for several.
    pub more: Option<String>,
    /// Which places were not read with certainty.
    pub doubt: Option<String>,
}

/// The numbers of notes, as `1, 2 (panel A), 8 to 12 (panel B)`.
fn listed(notes: &[&Note]) -> String {
    let mut panels: Vec<(&Option<String>, Vec<usize>)> = Vec::new();
    for note in notes {
        match panels.last_mut().filter(|(panel, _)| **panel == note.panel) {
            Some((_, numbers)) => numbers.push(note.number),
            None => panels.push((&note.panel, vec![note.number])),
        }
    }
    let of = |(panel, numbers): &(&Option<String>, Vec<usize>)| match panel {
        Some(id) => format!("{} (panel {id})", ranges(numbers)),
        None => ranges(numbers),
    };
    panels.iter().map(of).collect::<Vec<_>>().join(", ")
}

/// Numbers in order, three and more that follow one another as `1 to 3`.
fn ranges(numbers: &[usize]) -> String {
    let follow = |a: &usize, b: &usize| *a + 1 == *b;
    let run = |run: &[usize]| match run {
        [first, _, .., last] => format!("{first} to {last}"),
        few => few.iter().map(usize::to_string).collect::<Vec<_>>().join(", "),
    };
    numbers.chunk_by(follow).map(run).collect::<Vec<_>>().join(", ")
}

/// The places kind by kind. Those of one kind in panels whose fields are made by other things are told apart where
/// other words are said of them.
pub(super) fn groups(notes: &[Note]) -> Vec<Group> {
    let mut groups = Vec::new();
    for kind in Kind::ALL {
        let mut these: Vec<&Note> = notes.iter().filter(|n| n.kind == kind).collect();
        while let Some(first) = these.first() {
            let words = kind.sentence(true, first.made_by);
            let (same, others): (Vec<&Note>, Vec<&Note>) =
                these.iter().partition(|n| kind.sentence(true, n.made_by) == words);
            groups.push(Group {
                kind,
                sentence: kind
                    .sentence(same.iter().map(|n| n.places.len()).sum::<usize>() > 1, first.made_by),
                more: more(&same),
                doubt: doubt(&same),
                listed: listed(&same),
            });
            these = others;
        }
    }
    groups
}

/// How many places stand behind a number, and where, in a sentence.
fn more(notes: &[&Note]) -> Option<String> {
    let several = notes.iter().filter(|n| n.places.len() > 1);
    let told: Vec<String> = several
        .enumerate()
        .map(|(n, note)| {
            let (number, count) = (note.number, note.places.len());
            let (opening, places) = if n == 0 { ("Number", " places") } else { ("number", "") };
            let verb = if n == 0 { "stands for" } else { "for" };
            format!("{opening} {number} {verb} {count}{places} {}", note.whereabouts)
        })
        .collect();
    match told.as_slice() {
        [] => None,
        [one] => Some(format!("{one}.")),
        [first @ .., last] => Some(format!("{} and {last}.", first.join(", "))),
    }
}

/// Which of the numbers were not read with certainty, in a sentence.
fn doubt(notes: &[&Note]) -> Option<String> {
    let doubtful: Vec<String> = notes
        .iter()
        .filter(|n| n.doubtful > 0)
        .map(|n| match n.places.len() - n.doubtful {
            0 => n.number.to_string(),
            _ => format!("{} ({} of its {})", n.number, n.doubtful, n.places.len()),
        })
        .collect();
    (!doubtful.is_empty()).then(|| format!("Not read with certainty: {}.", doubtful.join(", ")))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const FRAME: Rect = Rect::new(0.0, 0.0, 90.0, 90.0);

    fn spot(x: f64, y: f64) -> Spot {
        Spot { kind: Kind::OpenEnd, at: Point::new(x, y), sure: 1.0 }
    }

    fn sizes(spots: &[Spot]) -> Vec<usize> {
        gathered(spots, FRAME).iter().map(Vec::len).collect()
    }

    #[test]
    fn places_along_a_chain_share_a_number_and_others_do_not() {
        // Ten places 6 mm apart, given from both ends towards the middle, and one by itself.
        let chain: Vec<Spot> =
            [0, 9, 1, 8, 2, 7, 3, 6, 4, 5].map(|n| spot(5.0 + 6.0 * f64::from(n), 10.0)).to_vec();
        assert_eq!(sizes(&[chain.clone(), vec![spot(80.0, 80.0)]].concat()), [10, 1]);
        assert_eq!(sizes(&[spot(10.0, 10.0), spot(18.1, 10.0)]), [1, 1]);
        let other = Spot { kind: Kind::WrongArrow, ..chain[0] };
        assert_eq!(sizes(&[chain[0], other]), [1, 1]);
    }

    #[test]
    fn of_many_those_in_one_part_of_the_frame_share_a_number() {
        let grid = |n: usize| (0..n).map(|i| spot(5.0 + 10.0 * (i % 9) as f64, 5.0 + 10.0 * (i / 9) as f64));
        assert_eq!(sizes(&grid(12).collect::<Vec<_>>()), [1; 12]);
        assert_eq!(sizes(&grid(27).collect::<Vec<_>>()), [9, 9, 9]);
    }

    #[test]
    fn numbers_that_follow_one_another_are_listed_in_short() {
        assert_eq!(ranges(&[1]), "1");
        assert_eq!(ranges(&[1, 2, 4]), "1, 2, 4");
        assert_eq!(ranges(&[1, 2, 3, 7, 9, 10, 11, 12]), "1 to 3, 7, 9 to 12");
    }

    #[test]
    fn where_a_place_lies_is_told_in_words() {
        let at = |x: f64, y: f64| whereabouts(Point::new(90.0 * x, 90.0 * y), FRAME, None);
        assert_eq!(at(0.1, 0.1), "at the top left");
        assert_eq!(at(0.5, 0.5), "in the middle");
        assert_eq!(at(1.2, 0.5), "at the right");
        assert_eq!(at(0.5, 0.9), "at the bottom");
        assert_eq!(whereabouts(Point::new(1.0, 45.0), FRAME, Some("B")), "at the left of panel B");
    }

    proptest! {
        #[test]
        fn every_place_is_behind_one_number_whatever_the_order(
            at in prop::collection::vec((0.0..90.0, 0.0..90.0), 0..40), turn in 0usize..40,
        ) {
            let mut spots: Vec<Spot> = at.iter().map(|(x, y)| spot(*x, *y)).collect();
            let clusters = gathered(&spots, FRAME);
            prop_assert!(clusters.len() <= MOST_NUMBERS);
            let mut all: Vec<Spot> = clusters.iter().flatten().copied().collect();
            all.sort_by(left_first);
            let turns = turn % spots.len().max(1);
            spots.rotate_left(turns);
            prop_assert_eq!(&gathered(&spots, FRAME), &clusters);
            spots.sort_by(left_first);
            prop_assert_eq!(all, spots);
        }
    }
}

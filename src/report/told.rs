//! What students without full marks were told, over the whole class.

use std::collections::BTreeMap;

use super::{ClassSet, Heading};

/// Most sentences under "what went wrong most".
const MAX_WRONGS: usize = 8;

/// The rows to which a sentence was said, and the numbers in it of each.
type Said<'a> = (Vec<usize>, Vec<Vec<&'a str>>);

/// What students without full marks were told, most often first: the criteria, a sentence, how many.
/// Sentences that differ only in their numbers are one, and each number in it the range of the students' own. What the same
/// students were told at several criteria is said once.
pub(super) fn told(set: &ClassSet) -> Vec<(String, String, usize)> {
    let mut groups: BTreeMap<(usize, Vec<&str>), Said> = BTreeMap::new();
    for (n, row) in set.rows.iter().enumerate() {
        let places = set.criteria.iter().enumerate().filter_map(|(i, heading)| Some((i, row.of(heading)?)));
        for (i, judged) in places.filter(|(_, judged)| judged.is_short() && !judged.say.is_empty()) {
            let (words, numbers) = split_at_numbers(&judged.say);
            let (rows, said) = groups.entry((i, words)).or_default();
            rows.push(n);
            said.push(numbers);
        }
    }
    let mut told: Vec<(Vec<&Heading>, String, Vec<usize>)> = Vec::new();
    for ((i, words), (rows, said)) in groups {
        let Some(heading) = set.criteria.get(i) else { continue };
        let sentence = with_ranges(&words, &said);
        match told.iter_mut().find(|(_, known, who)| *known == sentence && *who == rows) {
            Some((headings, _, _)) => headings.push(heading),
            None => told.push((vec![heading], sentence, rows)),
        }
    }
    // a stable sort keeps the order of the criteria among equals
    told.sort_by_key(|(_, _, rows)| std::cmp::Reverse(rows.len()));
    told.truncate(MAX_WRONGS);
    let titles = |headings: Vec<&Heading>| {
        headings.iter().map(|heading| heading.title.as_str()).collect::<Vec<_>>().join("; ")
    };
    told.into_iter().map(|(headings, sentence, rows)| (titles(headings), sentence, rows.len())).collect()
}

/// A sentence's words, and the numbers that stand between them; one more of the words than of the numbers.
fn split_at_numbers(say: &str) -> (Vec<&str>, Vec<&str>) {
    let (mut words, mut numbers) = (Vec::new(), Vec::new());
    let mut rest = say;
    while let Some(start) = rest.find(|c: char| c.is_ascii_digit()) {
        let number = &rest[start..];
        let bytes = number.as_bytes();
        // a point belongs to a number only before another digit
        let decimal = |i: usize| bytes[i] == b'.' && bytes.get(i + 1).is_some_and(u8::is_ascii_digit);
        let length = (0..bytes.len()).find(|&i| !bytes[i].is_ascii_digit() && !decimal(i));
        let (number, after) = number.split_at(length.unwrap_or(bytes.len()));
        words.push(&rest[..start]);
        numbers.push(number);
        rest = after;
    }
    words.push(rest);
    (words, numbers)
}

/// The words with, in place of each number, the least and the largest of those that were said there.
fn with_ranges(words: &[&str], said: &[Vec<&str>]) -> String {
    let value = |number: &&str| number.parse::<f64>().unwrap_or_default();
    let by_value = |a: &&str, b: &&str| value(a).total_cmp(&value(b));
    let mut out = String::new();
    for (k, word) in words.iter().enumerate() {
        out.push_str(word);
        let here = || said.iter().filter_map(|numbers| numbers.get(k).copied());
        match (here().min_by(by_value), here().max_by(by_value)) {
            (Some(least), Some(most)) if value(&least) < value(&most) => {
                out.push_str(&format!("{least} to {most}"));
            }
            (Some(number), _) => out.push_str(number),
            _ => {}
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::made::class;

    #[test]
    fn numbers_become_ranges() {
        let sentence = |said: &[&str]| {
            let split: Vec<_> = said.iter().map(|say| split_at_numbers(say)).collect();
            assert!(split.iter().all(|(words, _)| *words == split[0].0), "{split:?}");
            with_ranges(&split[0].0, &split.iter().map(|(_, numbers)| numbers.clone()).collect::<Vec<_>>())
        };
        let lines = ["Give one to each of your 16 lines.", "Give one to each of your 9 lines."];
        assert_eq!(sentence(&lines), "Give one to each of your 9 to 16 lines.");
        assert_eq!(sentence(&lines[..1]), lines[0]);
        assert_eq!(sentence(&["3.5 of 10.", "12 of 10."]), "3.5 to 12 of 10.");
        assert_eq!(sentence(&["No numbers", "No numbers"]), "No numbers");
    }

    /// Where a panel is empty each criterion says so, and nothing else found a place on the class page.
    #[test]
    fn what_the_same_students_were_told_at_several_criteria_is_said_once() {
        let mut set = class();
        for (n, row) in set.rows.iter_mut().enumerate() {
            for judged in &mut row.criteria {
                (judged.marks, judged.say) = (Some(0.0), format!("Draw {} lines or more.", 5 + n % 2));
            }
        }
        let told = told(&set);
        let all: Vec<&str> = set.criteria.iter().map(|c| c.title.as_str()).collect();
        assert_eq!(told.len(), 1, "{told:?}");
        assert_eq!(
            (told[0].0.as_str(), told[0].1.as_str()),
            (all.join("; ").as_str(), "Draw 5 to 6 lines or more.")
        );
    }
}

//! YAML read with places, and what is said of it.

use super::*;

fn document(text: &str) -> Document {
    Document::parse(Path::new("t.yaml"), text).unwrap()
}

fn problems(text: &str, check: impl Fn(At<'_>)) -> Vec<String> {
    let document = document(text);
    check(document.root());
    document.finish::<()>(None).unwrap_err().iter().map(ToString::to_string).collect()
}

#[test]
fn names_the_place_of_values_and_keys_in_block_and_flow() {
    let text = "\u{feff}a: 1\nlist:\n  - { x: 1, yy: [2, three] }\n  - x: é\n    zz: 4\n";
    let told = problems(text, |root| {
        let fields = root.fields(&["a", "list"]).unwrap();
        for item in fields.get("list").unwrap().items().unwrap() {
            let fields = item.fields(&["x", "yy"]).unwrap();
            fields.get("x").unwrap().number();
            if let Some(pair) = fields.get("yy") {
                pair.numbers::<2>("width, height");
            }
        }
    });
    assert_eq!(told[0], "t.yaml:3:21 list[0].yy[1]: text where a number is needed; write a number");
    assert_eq!(told[1], "t.yaml:4:8 list[1].x: text where a number is needed; write a number");
    assert_eq!(told[2], "t.yaml:5:5 list[1].zz: unknown key \"zz\"; write x or yy");
}

#[test]
fn refuses_numbers_that_are_none() {
    for bad in [".nan", ".inf", "\"1\"", "010", "two", "[1]", "", "true"] {
        assert_eq!(
            problems(&format!("a: {bad}"), |root| {
                assert_eq!(root.fields(&["a"]).unwrap().get("a").unwrap().number(), None);
            })
            .len(),
            1,
            "{bad}"
        );
    }
}

#[test]
fn tells_a_key_given_twice_at_its_second_place() {
    let told = problems("a: 1\nb: 2\na: 3\n", |root| {
        assert_eq!(root.entries().unwrap().len(), 2);
    });
    assert_eq!(told, ["t.yaml:3:1 a: the key stands here twice; remove one of the two"]);
}

#[test]
fn broken_or_hostile_text_is_one_problem_with_a_place() {
    let deep = "[".repeat(100_000);
    let bomb = format!(
        "a: &a [x,x,x,x,x,x,x,x,x]\n{}",
        ('b'..='k')
            .map(|c| {
                let before = (c as u8 - 1) as char;
                format!("{c}: &{c} [{}]\n", vec![format!("*{before}"); 9].join(","))
            })
            .collect::<String>()
    );
    for bad in
        ["a: [1, 2", "a:\n\tb: 1", "a: 1\n---\nb: 2", "a: !thing 1", deep.as_str(), bomb.as_str(), "a: b: c"]
    {
        let problem = Document::parse(Path::new("t.yaml"), bad).unwrap_err();
        assert!(problem.place.is_some() || bad.len() > 300, "{problem}");
        assert!(!problem.fix.is_empty());
    }
}

#[test]
fn thousands_of_problems_stay_readable() {
    let text: String = (0..5000).map(|n| format!("k{n}: 1\n")).collect();
    let told = problems(&text, |root| {
        root.fields(&["a"]);
    });
    assert_eq!(told.len(), MAX_PROBLEMS + 1);
    assert!(told[MAX_PROBLEMS].contains("4900 more problems"));
}

#[test]
fn slips_of_other_programs_and_habits_are_told_by_name() {
    let told = problems("a: { marks: 1,5 }\n", |root| {
        root.fields(&["a"]).unwrap().get("a").unwrap().fields(&["marks"]);
    });
    assert_eq!(
        told,
        ["t.yaml:1:15 a.5: unknown key \"5\"; write a decimal point, as 1.5: a comma ends the value"]
    );
    let syntax = |text: &str| Document::parse(Path::new("t.yaml"), text).err().unwrap().to_string();
    let curly = syntax("a:\n  - { say: \u{201C}Lines: {lines}.\u{201D} }\n");
    assert!(curly.ends_with("write straight double quotes, not curly ones"), "{curly}");
    let tab = syntax("a:\n  b: 1\n\tc: 2\n");
    assert!(tab.contains("t.yaml:3:1") && tab.ends_with("indent with spaces, not tabs"), "{tab}");
    let home = tempfile::tempdir().unwrap();
    let path = home.path().join("latin.yaml");
    std::fs::write(&path, b"a: \xc3\xa9\nb: \xc3\xa9\xe9\n").unwrap();
    let problem = Document::read(&path).err().unwrap();
    assert_eq!(problem.place, Some((2, 5)), "{problem}");
}

//! All that is wrong in the files of a class is told in one round: mending it is not answered by more of the same.

use crate::classroom::{Classroom, Drawn, errors};

/// Faults inside the roster used to hide what it names: a second round told of missing files and of criteria that are not there.
#[test]
fn all_files_of_a_class_are_told_in_one_round_whatever_is_wrong_in_any() {
    let room = Classroom::new("unlike-poles", 1);
    room.scan("1.png", Some("A01"), Drawn::Nothing);
    let sheet = room.read("worksheet.yaml");
    let rubric = room.read("rubric.yaml");
    room.write("worksheet.yaml", sheet.replace("paper: a4", "paper: a3"));
    room.write(
        "rubric.yaml",
        rubric.replacen("measure: meets.count", "measure: meets.county\n    panel: B", 1),
    );
    let base = "rubric: 1\nextends: basics\ntitle: Department\nlook_below: 2\n";
    room.write("department.yaml", base);
    room.write(
        "own.yaml",
        "rubric: 1\nextends: department.yaml\ncriteria:\n  - { id: arows, remove: true }\n",
    );
    room.write(
        "big.yaml",
        sheet.replace("id: unlike-poles", "id: big").replacen("kind: bar", "kind: bra", 1),
    );
    room.write(
        "roster.csv",
        "code,name,state,sheet,rubric,exempt\n\
         a1,Ada,,,,nonsense wole\n\
         A02,Bo,away,,gone.yaml,\n\
         A03,Cy,,gone-too.yaml,own.yaml,direction nothing\n\
         A04,Di,,big.yaml,../x.yaml,\n\
         A05,Ed,,big.yaml,,\n\
         A06,Fay,,,,,,too many\n",
    );
    let output = room.mark(&[]);
    assert_eq!(output.status.code(), Some(2));
    let told = errors(&output);
    let expected = [
        "worksheet.yaml:6:8 paper: \"a3\"",
        "measure: no measure is called \"meets.county\"; did you mean meets.count?",
        "panel: worksheet.yaml has no panel \"B\"",
        "roster.csv:2:1 code: \"a1\" is no code; write A1",
        "roster.csv:2:11 exempt: no criterion is called \"nonsense\"",
        "roster.csv:2:11 exempt: no criterion is called \"wole\"; did you mean whole?",
        "roster.csv:3:8 state: \"away\" is no state",
        "roster.csv:3:14 rubric: there is no file gone.yaml in the class folder",
        "roster.csv:4:9 sheet: there is no file gone-too.yaml in the class folder",
        "department.yaml:4:13 look_below: 2 is out of range; write 0 to 1",
        "own.yaml:4:26 criteria[0].remove: the rubric that this extends has no criterion arows; did you mean arrows?",
        "roster.csv:4:32 exempt: no criterion is called \"nothing\"",
        "roster.csv:5:18 rubric: \"../x.yaml\" is no file of the class folder",
        "big.yaml:13:15 panels[0].sources[0].kind: no source is of kind \"bra\"; did you mean bar?",
        "roster.csv:7:13: 8 cells under 6 columns",
    ];
    for words in expected {
        assert_eq!(told.matches(words).count(), 1, "{words}\n{told}");
    }
    let count = told.lines().filter(|line| line.starts_with("lodemark: ")).count();
    assert_eq!(count, expected.len(), "{told}");
    assert!(!room.path("marks.csv").exists() && !room.path("cache").exists());
}

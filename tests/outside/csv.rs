//! marks.csv read back by Python's csv module (RFC 4180, strict): every cell as it was meant.

use lodemark::class::marks::{Row, Status, text};
use std::io::Write;
use std::process::{Command, Stdio};

const READ: &str = "
import csv, io, json, sys
data = sys.stdin.buffer.read().decode('utf-8')
assert data.count('\\r\\n') == data.count('\\n')
print(json.dumps(list(csv.reader(io.StringIO(data, newline=''), strict=True))))
";

#[test]
fn python_reads_back_what_was_written() {
    let names = [
        "Zo\u{eb} \"Z\" O'Neil",
        "a;b\tc",
        " edge ",
        "Li, Bo",
        "=1+1",
        "-Anna",
        "@x",
        "+44",
        "\u{5f20}\u{4f1f}",
    ];
    let rows: Vec<Row> = names
        .iter()
        .map(|name| Row {
            code: "A01".into(),
            name: (*name).into(),
            status: Status::Look,
            total: None,
            grade: None,
            out_of: 11.0,
            marks: vec![Some(0.5), None],
            flags: vec!["one:near-edge".into(), "twice".into()],
            feedback: "feedback/A01.html".into(),
            source: "scan, of \"9b\".pdf page 2".into(),
        })
        .collect();
    let written = text(&["one".into(), "two.A".into()], &rows, false);
    let mut python = Command::new("python3")
        .args(["-c", READ])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("this test needs python3");
    python.stdin.take().unwrap().write_all(written.as_bytes()).unwrap();
    let output = python.wait_with_output().unwrap();
    assert!(output.status.success());
    let read: Vec<Vec<String>> = serde_json::from_slice(&output.stdout).unwrap();
    let header = [
        "code", "name", "status", "total", "out_of", "percent", "one", "two.A", "flags", "feedback", "source",
    ];
    assert_eq!(read[0], header);
    assert_eq!(read.len(), names.len() + 1);
    for (row, name) in read[1..].iter().zip(names) {
        // A cell that a spreadsheet would run is shown with an apostrophe before it.
        let shown =
            if name.starts_with(['=', '+', '-', '@']) { format!("'{name}") } else { name.to_string() };
        assert_eq!(row[1], shown);
        let rest = [
            "look",
            "",
            "11",
            "",
            "0.5",
            "",
            "one:near-edge twice",
            "feedback/A01.html",
            "scan, of \"9b\".pdf page 2",
        ];
        assert_eq!(row[2..], rest);
    }
}

//! Worksheets printed on ruled and on graph paper: the rulings are no lines, and a blank sheet is blank.

use crate::classroom::{Classroom, Drawn, save};
use crate::tracing::{Page, Paper};

/// Rulings as pale as those of exercise books (common practice, no source), on single-bar sheets: of the drawings alike
/// marks, of the blank sheets none.
#[test]
fn rulings_under_a_printed_sheet_change_no_mark() {
    let room = Classroom::new("single-bar", 6);
    for (n, paper) in [Paper::Blank, Paper::Ruled, Paper::Graph].into_iter().enumerate() {
        for (k, drawn) in [(n + 1, Drawn::Arrows), (n + 4, Drawn::Nothing)] {
            let code = format!("A{k:02}");
            let image = room.scan(&format!("{k}.png"), Some(&code), drawn);
            save(&Page::on(image, paper, 31 + k as u64), &room.path(&format!("scans/{k}.png")));
        }
    }
    room.mark(&[]);
    let marks = |code: &str| -> Vec<String> {
        let row = room.row(code);
        let columns = ["status", "total", "direction", "meeting", "spacing", "shape", "ends", "flags"];
        // A sure row may be drawn for a spot check.
        columns.iter().map(|c| row.get(*c).cloned().unwrap_or_default().replace("spot", "")).collect()
    };
    let plain = marks("A01");
    assert_eq!(plain[0], "proposed", "{plain:?}");
    for ruled in ["A02", "A03"] {
        assert_eq!(marks(ruled), plain, "{ruled}");
    }
    for blank in ["A04", "A05", "A06"] {
        let row = marks(blank);
        assert_eq!((row[0].as_str(), row[1].as_str(), row[7].as_str()), ("look", "", "blank"), "{blank}");
    }
}

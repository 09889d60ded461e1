//! The class page's table of marks, which sorts and filters where scripts run, and is whole where they do not.

use maud::{Markup, html};

use super::class_page::link;
use super::{ClassSet, Row, Status, marks, words};

/// Sorts by a column when its button is pressed, filters by words and by status. The page's policy lets just this
/// script run, by its hash.
pub(super) const SCRIPT: &str = r#"
(function () {
  var table = document.getElementById("marks"), body = table.tBodies[0];
  var words = document.getElementById("filter"), status = document.getElementById("status"), said = document.getElementById("shown");
  document.getElementById("tools").hidden = false;
  function key(row, n) { var v = row.cells[n].dataset.v; return v === "" ? null : isNaN(v) ? v : Number(v); }
  Array.prototype.forEach.call(table.tHead.rows[0].cells, function (head, n) {
    var name = head.innerHTML, button = document.createElement("button");
    button.type = "button"; button.innerHTML = name; head.innerHTML = ""; head.appendChild(button);
    button.addEventListener("click", function () {
      var up = head.getAttribute("aria-sort") !== "ascending";
      Array.prototype.forEach.call(table.tHead.rows[0].cells, function (other) { other.removeAttribute("aria-sort"); });
      head.setAttribute("aria-sort", up ? "ascending" : "descending");
      Array.prototype.slice.call(body.rows).sort(function (a, b) {
        var x = key(a, n), y = key(b, n);
        if (x === null || y === null) { return (x === null) - (y === null); }
        var order = typeof x === "number" ? x - y : x.localeCompare(y);
        return up ? order : -order;
      }).forEach(function (row) { body.appendChild(row); });
    });
  });
  function filter() {
    var wanted = words.value.toLowerCase(), shown = 0;
    Array.prototype.forEach.call(body.rows, function (row) {
      var fits = row.textContent.toLowerCase().indexOf(wanted) !== -1;
      row.hidden = !(fits ? status.value === "" || row.dataset.status === status.value : false);
      if (!row.hidden) { shown += 1; }
    });
    said.textContent = shown + " of " + body.rows.length + " shown";
  }
  words.addEventListener("input", filter); status.addEventListener("change", filter); filter();
})();
"#;

pub(super) fn table(set: &ClassSet) -> Markup {
    let graded = set.rows.iter().any(|row| row.grade.is_some());
    let all = [Status::Proposed, Status::Look, Status::Unreadable, Status::Absent, Status::Excused];
    html! {
        h2 { "Marks" }
        div id="tools" hidden {
            label { "Show rows that hold " input id="filter" type="search"; }
            " "
            label {
                "and are " select id="status" {
                    option value="" { "anything" }
                    @for status in all { option value=(status.word()) { (words(status).1) } }
                }
            }
            " " span id="shown" role="status" {}
        }
        // Not a caption: that would be as wide as the table, and cut where the table scrolls.
        p id="signs" class="sub" { "Marked \u{25C6}: a person should look; the mark shown is the likeliest. A dash: not judged. A star: set by a person. Where buttons stand above the columns, they sort." }
        div class="scroll" tabindex="0" role="region" aria-label="Table of marks; it scrolls sideways where the screen is narrower" {
            table id="marks" aria-describedby="signs" {
                thead {
                    tr {
                        th scope="col" { "Student" }
                        th scope="col" { "Status" }
                        th scope="col" class="n" { "Total" }
                        @if graded { th scope="col" { "Grade" } }
                        @for heading in &set.criteria { th scope="col" class="n" { (breakable(&heading.column)) br; "of " (marks(heading.out_of)) } }
                        th scope="col" { "From" }
                    }
                }
                tbody { @for row in &set.rows { (table_row(set, row, graded)) } }
            }
        }
    }
}

/// A column's name, which may be broken before the panel's id.
fn breakable(column: &str) -> Markup {
    html! {
        @match column.split_once('.') {
            Some((id, panel)) => { (id) wbr; "." (panel) }
            None => (column)
        }
    }
}

fn table_row(set: &ClassSet, row: &Row, graded: bool) -> Markup {
    let (sign, word) = words(row.status);
    let value = |v: Option<f64>| v.map(marks).unwrap_or_default();
    html! {
        tr class=[(row.status == Status::Look).then_some("look")] data-status=(row.status.word()) {
            th scope="row" data-v=(row.code) { (link(row)) }
            td class="status" data-v=(row.status.word()) { (sign) " " (word) @if row.spot { " (spot check)" } }
            td class="n" data-v=(value(row.total)) {
                @match row.total { Some(total) => (marks(total)), None => "\u{2013}" }
                @if row.out_of != set.out_of { " of " (marks(row.out_of)) }
            }
            @if graded { td data-v=(row.grade.as_deref().unwrap_or_default()) { (row.grade.as_deref().unwrap_or("\u{2013}")) } }
            @for heading in &set.criteria {
                @let judged = row.of(heading);
                td class="n" data-v=(value(judged.and_then(|j| j.marks))) {
                    @match judged {
                        Some(judged) => {
                            @if !judged.look.is_empty() { span title="a person should look" { "\u{25C6} " } }
                            @match judged.marks { Some(got) => (marks(got)), None => "\u{2013}" }
                            @if judged.by.is_some() { span title="set by a person" { " *" } }
                        }
                        None => ""
                    }
                }
            }
            td class="from" data-v=(row.source) { (row.source) }
        }
    }
}

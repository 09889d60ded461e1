//! The class page's table of marks, which sorts and filters where scripts run, and is whole where they do not.

use maud::{Markup, html};

use super::class_page::link;
use super::{ClassSet, Heading, Row, Status, marks, words};

/// Sorts by a column when its button is pressed, filters by words and by status. The page's policy lets just this
/// script run, by its hash.
pub(super) const SCRIPT: &str = r#"
(function () {
  var table = document.getElementById("marks"), body = table.tBodies[0];
  var words = document.getElementById("filter"), status = document.getElementById("status"), said = document.getElementById("shown");
  document.getElementById("tools").hidden = false;
  function key(row, n) { var v = row.cells[n].dataset.v; return v === "" ? null : isNaN(v) ? v : Number(v); }
  var heads = table.tHead.querySelectorAll("[data-n]");
  Array.prototype.forEach.call(heads, function (head) {
    var n = Number(head.dataset.n), name = head.innerHTML, button = document.createElement("button");
    button.type = "button"; button.innerHTML = name; head.innerHTML = "";
    if (head.dataset.name) { button.setAttribute("aria-label", head.dataset.name); }
     head.appendChild(button);
    button.addEventListener("click", function () {
      var up = head.getAttribute("aria-sort") !== "ascending";
      Array.prototype.forEach.call(heads, function (other) { other.removeAttribute("aria-sort"); });
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
                thead { (heads(set, graded)) }
                tbody { @for row in &set.rows { (table_row(set, row, graded)) } }
            }
        }
    }
}

/// The columns' names, each sortable one with its number. Criteria judged in several panels stand over these, so that their
/// columns can be narrow.
fn heads(set: &ClassSet, graded: bool) -> Markup {
    let of_panels = |heading: &Heading| heading.column.split_once('.').map(|(id, _)| id.to_string());
    let groups: Vec<&[Heading]> =
        set.criteria.chunk_by(|a, b| of_panels(a).is_some() && of_panels(a) == of_panels(b)).collect();
    let rows = if set.criteria.iter().any(|h| of_panels(h).is_some()) { Some(2) } else { None };
    let same = |group: &[Heading]| group.iter().all(|h| h.out_of == group[0].out_of);
    let out_of = |heading: &Heading| format!("of\u{a0}{}", marks(heading.out_of));
    let first = if graded { 4 } else { 3 };
    let place =
        |heading: &Heading| first + set.criteria.iter().position(|h| h == heading).unwrap_or_default();
    html! {
        tr {
            th scope="col" rowspan=[rows] data-n="0" { "Student" }
            th scope="col" rowspan=[rows] data-n="1" { "Status" }
            th scope="col" rowspan=[rows] class="n" data-n="2" { "Total" }
            @if graded { th scope="col" rowspan=[rows] data-n="3" { "Grade" } }
            @for group in &groups {
                @match (of_panels(&group[0]), group) {
                    (Some(id), group) => { th scope="colgroup" class="over" colspan=(group.len()) { (id) @if same(group) { br; (out_of(&group[0])) } } }
                    (None, group) => @for heading in *group {
                        th scope="col" rowspan=[rows] class="n" data-n=(place(heading)) { (heading.column) br; (out_of(heading)) }
                    }
                }
            }
            th scope="col" rowspan=[rows] data-n=(first + set.criteria.len()) { "From" }
        }
        @if rows.is_some() {
            tr {
                @for heading in &set.criteria {
                    @if let Some((_, panel)) = heading.column.split_once('.') {
                        th scope="col" class="n" data-n=(place(heading)) data-name=(heading.title) {
                            (panel) @if !groups.iter().any(|group| group.contains(heading) && same(group)) { br; (out_of(heading)) }
                        }
                    }
                }
            }
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

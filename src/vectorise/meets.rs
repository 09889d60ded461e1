//! Places where lines cross or touch: no white between the strokes.

use super::curve::STEP_MM;
use super::strokes::Stroke;
use crate::drawing::{MeetKind, Meeting};
use crate::geometry::Point;
use std::collections::BTreeMap;

/// Strokes whose middles come this much nearer than their mean width certainly touch, mm; this much beyond it they
/// certainly do not.
const TOUCH_SURE_MM: f64 = 0.12;
const TOUCH_NEVER_MM: f64 = 0.22;
/// Places of the same two lines nearer than this are one, mm.
const ONE_PLACE_MM: f64 = 4.0;
/// A line meets itself only where it comes back after at least this much of its length, mm.
const SELF_MM: f64 = 8.0;
/// Side of the cells in which near points are looked for, mm.
const CELL_MM: f64 = 2.0;

/// All meetings of `lines`, also unlikely ones (with low sureness).
pub fn meetings(lines: &[Stroke]) -> Vec<Meeting> {
    let mut cells: BTreeMap<(i32, i32), Vec<(u32, u32)>> = BTreeMap::new();
    for (l, line) in lines.iter().enumerate() {
        for (i, p) in line.points.iter().enumerate() {
            cells.entry(cell(*p)).or_default().push((l as u32, i as u32));
        }
    }
    // For each pair of lines, the near places: (point of the first, distance).
    let mut near: BTreeMap<(usize, usize), Vec<Near>> = BTreeMap::new();
    for (a, line) in lines.iter().enumerate() {
        for (i, p) in line.points.iter().enumerate() {
            let (cx, cy) = cell(*p);
            for key in (-1..=1).flat_map(|dx| (-1..=1).map(move |dy| (cx + dx, cy + dy))) {
                let Some(others) = cells.get(&key) else { continue };
                for &(b, j) in others {
                    let (b, j) = (b as usize, j as usize);
                    let own = b == a && (j <= i || ((j - i) as f64) * STEP_MM < SELF_MM);
                    if b < a || own {
                        continue;
                    }
                    let limit = 0.5 * (line.width_mm + lines[b].width_mm) + TOUCH_NEVER_MM;
                    let d = p.distance(lines[b].points[j]);
                    if d < limit {
                        near.entry((a, b)).or_default().push(Near { i, j, d });
                    }
                }
            }
        }
    }
    near.into_iter().flat_map(|((a, b), places)| of_pair(lines, a, b, places)).collect()
}

fn cell(p: Point) -> (i32, i32) {
    ((p.x / CELL_MM).floor() as i32, (p.y / CELL_MM).floor() as i32)
}

/// Point `i` of one line and `j` of the other, `d` mm apart.
struct Near {
    i: usize,
    j: usize,
    d: f64,
}

fn of_pair(lines: &[Stroke], a: usize, b: usize, mut places: Vec<Near>) -> Vec<Meeting> {
    places.sort_by_key(|n| (n.i, n.j));
    let (p, q) = (&lines[a].points, &lines[b].points);
    let mut out: Vec<Meeting> = Vec::new();
    // Crossings first: a touch that holds a crossing is that crossing.
    for n in &places {
        for (i, j) in [(n.i, n.j), (n.i, n.j.saturating_sub(1))] {
            if i + 1 < p.len() && j + 1 < q.len() {
                if let Some(at) = crossing(p[i], p[i + 1], q[j], q[j + 1]) {
                    add(&mut out, Meeting { at, kind: MeetKind::Cross, lines: (a, b), sure: 0.97 });
                }
            }
        }
    }
    // Then the nearest place of each run along the first line.
    let width = 0.5 * (lines[a].width_mm + lines[b].width_mm);
    let mut k = 0;
    while k < places.len() {
        let mut end = k + 1;
        while end < places.len() && ((places[end].i - places[end - 1].i) as f64) * STEP_MM < ONE_PLACE_MM {
            end += 1;
        }
        let run = &places[k..end];
        let nearest = run.iter().min_by(|m, n| m.d.total_cmp(&n.d)).map(|n| n.d).unwrap_or(f64::MAX);
        let middle = &run[run.len() / 2];
        let share = ((width + TOUCH_NEVER_MM - nearest) / (TOUCH_NEVER_MM + TOUCH_SURE_MM)).clamp(0.0, 1.0);
        let at = p[middle.i].midpoint(q[middle.j]);
        let spread = run.iter().map(|n| p[n.i].distance(at)).fold(0.0, f64::max);
        let holds_crossing = out.iter().any(|m| m.kind == MeetKind::Cross && m.at.distance(at) < spread + ONE_PLACE_MM);
        if !holds_crossing {
            add(&mut out, Meeting { at, kind: MeetKind::Touch, lines: (a, b), sure: 0.02 + 0.93 * share });
        }
        k = end;
    }
    out
}

fn add(out: &mut Vec<Meeting>, meeting: Meeting) {
    if out.iter().all(|m| m.at.distance(meeting.at) >= ONE_PLACE_MM) {
        out.push(meeting);
    }
}

/// Where two segments cross.
fn crossing(a: Point, b: Point, c: Point, d: Point) -> Option<Point> {
    let (r, s) = (b - a, d - c);
    let det = r.cross(s);
    if det.abs() < 1e-12 {
        return None;
    }
    let t = (c - a).cross(s) / det;
    let u = (c - a).cross(r) / det;
    ((0.0..=1.0).contains(&t) && (0.0..=1.0).contains(&u)).then(|| a + t * r)
}

//! Places where lines cross or touch: no white between the strokes.

use super::curve::STEP_MM;
use super::evidence::logistic;
use super::heads::Ruler;
use super::strokes::{self, Stroke};
use crate::drawing::{MeetKind, Meeting, THERE};
use crate::geometry::{Point, Vec2};
use std::collections::BTreeMap;

/// Strokes whose middles come this much nearer than their mean width certainly touch, mm; this much beyond it they
/// certainly do not.
const TOUCH_SURE_MM: f64 = 0.12;
const TOUCH_NEVER_MM: f64 = 0.22;
/// That two lines that change sides do cross, if both are traced rightly (guessed).
const CROSS_SURE: f64 = 0.995;
/// That they cross a second time where all that tells is how the shared ink swells: where the two places are near
/// each other, and where they are further apart than this, mm. That they meet at all is as sure as of any lines that
/// share ink. Empirical: in generated drawings they met twice at 3 of 9 such places and at 6 of 9, once at 7 of the
/// rest.
const SECOND_SURE: (f64, f64) = (0.4, 0.67);
const SECOND_FAR_MM: f64 = 8.0;
/// Places of the same two lines nearer than this are one, mm.
const ONE_PLACE_MM: f64 = 4.0;
/// A line meets itself only where it comes back after at least this much of its length, mm.
const SELF_MM: f64 = 8.0;
/// Which side of a line another is on is read this far before and after they are near, mm.
const SIDES_MM: f64 = 1.5;
/// Lines nearer than this to each other are drawn by the same ink, mm; that ink swells by this much more than the pencil's
/// own unevenness where they part between two crossings, mm to each side.
const SHARED_MM: f64 = 0.15;
const BULGE_MM: f64 = 0.16;
/// Lines that come apart by this share of their mean width for so long, mm, between two places at which they share ink, meet
/// at both.
const PARTED_SHARE: f64 = 0.6;
const PARTED_MM: f64 = 2.0;
/// Other meetings within this count as near, mm, up to [`MOST_NEAR`] of them; and heads within this.
const NEAR_MM: f64 = 8.0;
const MOST_NEAR: usize = 2;
const NEAR_HEAD_MM: f64 = 5.0;
/// Farther from a line's end than this it does not matter how far, mm.
const FROM_END_MM: f64 = 10.0;
/// Lines shorter than this may be pieces of others, mm.
const SHORT_MM: f64 = 25.0;
/// A line's way at a place is read over so much of it, mm.
const WAY_MM: f64 = 3.0;
/// Side of the cells in which near points are looked for, mm.
const CELL_MM: f64 = 2.0;

/// What is measured of a place where lines may meet.
#[derive(Clone, Copy, Debug, Default)]
pub struct Evidence {
    /// How much nearer than their mean width the middles of the two strokes come, mm; below 0 further.
    pub nearer_mm: f64,
    /// Of two places between which their ink swells, this is the narrower one (1) or the other (2), and how far apart
    /// they are, mm; else 0.
    pub swelling: u8,
    pub apart_mm: f64,
    /// How far the two run without white between them, mm.
    pub run_mm: f64,
    /// Likely meetings near by, at most [`MOST_NEAR`].
    pub near: usize,
    /// Distance of the next head's tip, and of the nearest end of the two lines, mm, at most [`FROM_END_MM`].
    pub head_mm: f64,
    pub end_mm: f64,
    /// Length of the shorter line, mm, at most [`SHORT_MM`].
    pub shorter_mm: f64,
    /// The lines' mean width, mm, and how many times as wide as the narrower the wider is.
    pub width_mm: f64,
    pub wider: f64,
    /// How surely each is traced rightly from end to end, the less sure first.
    pub traced: [f64; 2],
    /// The angle between them, degrees.
    pub angle_deg: f64,
}

/// A place where lines may meet.
#[derive(Clone, Debug)]
pub struct Candidate {
    pub meeting: Meeting,
    pub evidence: Evidence,
    /// The way between the two lines' ways there.
    pub way: Vec2,
}

/// All places where `lines` may meet, also unlikely ones (with low sureness). `half_width_mm`: half the width of the ink
/// round a place.
pub fn meetings(lines: &[Stroke], half_width_mm: impl Fn(Point) -> f64) -> Vec<Candidate> {
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
    near.into_iter().flat_map(|((a, b), places)| of_pair(lines, a, b, places, &half_width_mm)).collect()
}

/// Measures what stands round each place, and weighs it by that alone: where a line ends, where a head's barbs lie, or
/// where one of the lines is short, what seems to be a meeting is often a stroke traced wrongly; crossings of several
/// lines come in company.
///
/// Logistic regression on 355 places in generated drawings of five arrangements, 294 of them meetings: empirical.
/// `heads`: the tips of the arrowheads.
pub fn weigh(meets: &mut [Candidate], lines: &[Stroke], heads: &[Point]) {
    let likely: Vec<Point> =
        meets.iter().map(|c| &c.meeting).filter(|m| m.sure > THERE).map(|m| m.at).collect();
    for Candidate { meeting: m, evidence: e, way } in meets {
        let (a, b) = (&lines[m.lines.0], &lines[m.lines.1]);
        e.near = likely.iter().filter(|p| **p != m.at && p.distance(m.at) < NEAR_MM).count().min(MOST_NEAR);
        e.head_mm = heads.iter().map(|h| h.distance(m.at)).fold(FROM_END_MM, f64::min);
        let ends = [a, b].into_iter().flat_map(|l| [l.points[0], l.points[l.points.len() - 1]]);
        e.end_mm = ends.map(|e| e.distance(m.at)).fold(FROM_END_MM, f64::min);
        e.shorter_mm = a.length_mm.min(b.length_mm).min(SHORT_MM);
        e.run_mm = m.run[0].distance(m.run[1]);
        e.width_mm = 0.5 * (a.width_mm + b.width_mm);
        e.wider = a.width_mm.max(b.width_mm) / a.width_mm.min(b.width_mm).max(f64::MIN_POSITIVE);
        let traced = [a, b].map(strokes::sureness);
        e.traced = [traced[0].min(traced[1]), traced[0].max(traced[1])];
        let itself = m.lines.0 == m.lines.1;
        let ways = ways(a, b, m.at, itself);
        (*way, e.angle_deg) = between(ways);
        let touch = f64::from(u8::from(m.kind == MeetKind::Touch));
        let by_head = f64::from(u8::from(e.head_mm < NEAR_HEAD_MM));
        let z = 0.23 - 0.33 * touch + 0.9 * e.near as f64 - 0.62 * by_head + 2.85 * e.end_mm / FROM_END_MM
            - 1.45 * (SHORT_MM - e.shorter_mm) / 10.0
            + 0.36 * (e.run_mm / 10.0).min(1.0);
        m.sure *= logistic(z);
    }
}

/// The unit ways of two lines at a place, or of the two parts of one that comes back to it.
fn ways(a: &Stroke, b: &Stroke, at: Point, itself: bool) -> [Vec2; 2] {
    let nearest = |line: &Stroke, not: Option<usize>| {
        let far = |i: &usize| not.is_none_or(|k| i.abs_diff(k) as f64 * STEP_MM >= 0.5 * SELF_MM);
        let all = (0..line.points.len()).filter(far);
        all.min_by(|&i, &j| {
            line.points[i].distance_squared(at).total_cmp(&line.points[j].distance_squared(at))
        })
    };
    let first = nearest(a, None);
    let second = nearest(b, first.filter(|_| itself)).or(first);
    [(a, first), (b, second)].map(|(line, i)| Ruler::of(&line.points).way_over(i.unwrap_or(0), WAY_MM))
}

/// The unit way between two unit ways, each taken either way round, and the angle between them, degrees, at most 90.
fn between([u, v]: [Vec2; 2]) -> (Vec2, f64) {
    let v = if u.dot(v) < 0.0 { -v } else { v };
    ((u + v).normalize(), u.dot(v).clamp(-1.0, 1.0).acos().to_degrees())
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

fn of_pair(
    lines: &[Stroke],
    a: usize,
    b: usize,
    mut places: Vec<Near>,
    half_width_mm: &impl Fn(Point) -> f64,
) -> Vec<Candidate> {
    places.sort_by_key(|n| (n.i, n.j));
    let width = 0.5 * (lines[a].width_mm + lines[b].width_mm);
    let mut out: Vec<Candidate> = Vec::new();
    let mut k = 0;
    while k < places.len() {
        let mut end = k + 1;
        while end < places.len() && ((places[end].i - places[end - 1].i) as f64) * STEP_MM < ONE_PLACE_MM {
            end += 1;
        }
        let parts = parted(&places[k..end], width);
        for run in &parts {
            let meeting = of_run(lines, a, b, run, width);
            let nearest = run.iter().map(|n| n.d).fold(f64::MAX, f64::min);
            let seen = Evidence { nearer_mm: width - nearest, ..Evidence::default() };
            let candidate = |meeting, evidence| Candidate { meeting, evidence, way: Vec2::ZERO };
            if let (MeetKind::Touch, Some(places)) =
                (meeting.kind, lens(&lines[a].points, run, half_width_mm))
            {
                let far = places[0].distance(places[1]) > SECOND_FAR_MM;
                let second = if far { SECOND_SURE.1 } else { SECOND_SURE.0 };
                let sure = [meeting.sure, meeting.sure * second];
                let apart_mm = places[0].distance(places[1]);
                out.extend(places.into_iter().zip(sure).zip([1, 2]).map(|((at, sure), swelling)| {
                    let meeting = Meeting { at, run: [at, at], kind: MeetKind::Cross, sure, ..meeting };
                    candidate(meeting, Evidence { swelling, apart_mm, ..seen })
                }));
            } else if out.iter().all(|c| c.meeting.at.distance(meeting.at) >= ONE_PLACE_MM) {
                out.push(candidate(meeting, seen));
            }
        }
        k = end;
    }
    out
}

/// Where two lines run close together, the stretches round each place at which they share one stroke's ink, if between two of
/// these they part as far as two strokes do: they meet at each.
fn parted(run: &[Near], width: f64) -> Vec<&[Near]> {
    let mut nearest: Vec<(usize, f64)> = Vec::new();
    for n in run {
        match nearest.last_mut() {
            Some(last) if last.0 == n.i => last.1 = last.1.min(n.d),
            _ => nearest.push((n.i, n.d)),
        }
    }
    let mut cuts = Vec::new();
    // Since the last shared ink: where that was, and the farthest apart since.
    let (mut shared, mut farthest): (Option<usize>, (usize, f64)) = (None, (0, 0.0));
    for &(i, d) in &nearest {
        if d >= SHARED_MM {
            if d > farthest.1 {
                farthest = (i, d);
            }
            continue;
        }
        if let Some(last) = shared
            && farthest.1 > PARTED_SHARE * width
            && ((i - last) as f64) * STEP_MM > PARTED_MM
        {
            cuts.push(farthest.0);
        }
        (shared, farthest) = (Some(i), (i, 0.0));
    }
    let mut rest = run;
    let mut parts = Vec::new();
    for cut in cuts {
        let (part, after) = rest.split_at(rest.partition_point(|n| n.i < cut));
        parts.push(part);
        rest = after;
    }
    parts.push(rest);
    parts.retain(|p| !p.is_empty());
    parts
}

/// The two places at which lines cross that keep within one stroke's ink between them: it is narrow where they cross and
/// wider in between. The narrower place first.
fn lens(points: &[Point], run: &[Near], half_width_mm: &impl Fn(Point) -> f64) -> Option<[Point; 2]> {
    let shared: Vec<usize> = run.iter().filter(|n| n.d < SHARED_MM).map(|n| n.i).collect();
    let (first, last) = (*shared.first()?, *shared.last()?);
    if ((last - first) as f64) * STEP_MM < ONE_PLACE_MM {
        return None;
    }
    let widths: Vec<f64> = points[first..=last].iter().map(|p| half_width_mm(*p)).collect();
    // A notch or a bump of one point is the pencil's.
    let calm: Vec<f64> = (0..widths.len())
        .map(|i| {
            let mut near = widths[i.saturating_sub(2)..(i + 3).min(widths.len())].to_vec();
            near.sort_by(f64::total_cmp);
            near[near.len() / 2]
        })
        .collect();
    let clear = (0.5 * ONE_PLACE_MM / STEP_MM) as usize;
    let narrowest = |r: std::ops::Range<usize>| r.min_by(|&i, &j| calm[i].total_cmp(&calm[j]));
    (clear..calm.len().saturating_sub(clear))
        .filter_map(|m| {
            let (l, r) = (narrowest(0..m)?, narrowest(m + 1..calm.len())?);
            let bulge = calm[m] - calm[l].max(calm[r]);
            (bulge > BULGE_MM && m - l >= clear && r - m >= clear).then_some((bulge, l, r))
        })
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, l, r)| if calm[r] < calm[l] { [r, l] } else { [l, r] })
        .map(|narrow| narrow.map(|i| points[first + i]))
}

/// That two strokes touch, from how near their middles come: 0 beyond [`TOUCH_NEVER_MM`], 1 within [`TOUCH_SURE_MM`].
///
/// Empirical, on generated drawings: of 24 places with a share below 0.95 none was a touch.
fn touch_sureness(share: f64) -> f64 {
    0.01 + 0.985 * ((share - 0.8) / 0.2).clamp(0.0, 1.0)
}

/// One stretch along which two lines are near: a crossing if they have changed sides after it, else a touch.
fn of_run(lines: &[Stroke], a: usize, b: usize, run: &[Near], width: f64) -> Meeting {
    let (p, q) = (&lines[a].points, &lines[b].points);
    let nearest = run.iter().map(|n| n.d).fold(f64::MAX, f64::min);
    // The middle of what is as near as strokes that share their ink.
    let close: Vec<&Near> = run.iter().filter(|n| n.d <= nearest + 0.1).collect();
    let middle = close[close.len() / 2];
    let at = p[middle.i].midpoint(q[middle.j]);
    let whole = [p[close[0].i], p[close[close.len() - 1].i]];
    let (first, last) = (&run[0], &run[run.len() - 1]);
    let clear = (SIDES_MM / STEP_MM) as usize;
    let side = |i: usize, j: usize| {
        let (before, after) = (j.saturating_sub(clear / 2), (j + clear / 2).min(q.len() - 1));
        (q[after] - q[before]).cross(p[i] - q[j])
    };
    let sides = (first.i >= clear && last.i + clear < p.len())
        .then(|| {
            let near_of = |i: usize| {
                (0..q.len())
                    .min_by(|&m, &n| p[i].distance_squared(q[m]).total_cmp(&p[i].distance_squared(q[n])))
            };
            let (i0, i1) = (first.i - clear, last.i + clear);
            Some((side(i0, near_of(i0)?), side(i1, near_of(i1)?)))
        })
        .flatten();
    match sides {
        Some((s, t)) if s * t < 0.0 => {
            Meeting { at, run: [at, at], kind: MeetKind::Cross, lines: (a, b), sure: CROSS_SURE }
        }
        _ => {
            let share =
                ((width + TOUCH_NEVER_MM - nearest) / (TOUCH_NEVER_MM + TOUCH_SURE_MM)).clamp(0.0, 1.0);
            Meeting { at, run: whole, kind: MeetKind::Touch, lines: (a, b), sure: touch_sureness(share) }
        }
    }
}

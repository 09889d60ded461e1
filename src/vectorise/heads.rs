//! Arrowheads: short strokes that lean on a line, most often two of them, one on each side.
//!
//! A barb runs from near the line outwards and back; which way "back" is tells the way the head points.
//! Heads often do not touch their line, and stand beyond its end: measured on real hands, the line stops inside the
//! V in nine of ten. So barbs are judged by where they stand along and beside the line, never by touch alone.

use super::curve;
use super::evidence::{ALONE_MM, Evidence, Whose, logistic};
use super::graph::Graph;
use super::strokes::Stroke;
use crate::drawing::Arrow;
use crate::geometry::{Point, Vec2, turn_deg};
use std::collections::{BTreeMap, BTreeSet};

/// Shortest and longest barb, mm (heads of 2 to 8 mm; a barb may be longer than its head's nominal size).
const BARB_MM: (f64, f64) = (0.9, 11.0);
/// A barb's near end is at most this far beside its line, mm.
const NEAR_MM: f64 = 2.2;
/// A barb leads away from its line by at least this much, mm.
const LEAVES_MM: f64 = 0.45;
/// Least and most angle between barb and line, degrees.
const ANGLE_DEG: (f64, f64) = (6.0, 82.0);
/// A barb's chord is at least this share of its length.
const STRAIGHT_SHARE: f64 = 0.8;
/// A head may stand this far beyond its line's end, mm.
const BEYOND_MM: f64 = 5.0;
/// A barb that another line cuts in two: the widest gap, mm, and the most turn between its pieces, degrees.
const CUT_MM: f64 = 1.3;
const CUT_DEG: f64 = 25.0;
/// A barb whose near end is this close to its line's middle touches it, mm.
const ATTACHED_MM: f64 = 0.6;
/// Tips of one head's two barbs are at most this far apart along the line, mm.
const SAME_TIP_MM: f64 = 2.6;
/// Barbs of another head begin at least this far away, mm.
const OTHER_HEAD_MM: f64 = 2.0;

/// Heads on one line whose tips are this near to each other, mm, are one: hands set none so close.
const ONE_TIP_MM: f64 = 2.0;

/// A residual stroke seen from one line.
#[derive(Clone, Debug)]
struct Barb {
    /// Which residual strokes: one, or two on both sides of another line.
    strokes: Vec<usize>,
    line: usize,
    /// +1 left of the line's way, -1 right.
    side: f64,
    /// Where its direction meets the line, mm along it.
    tip_mm: f64,
    /// How far its near end stands beside the line, mm.
    beside_mm: f64,
    /// +1: a head with this barb points along the line's points; -1: against.
    way: f64,
    angle_deg: f64,
    length_mm: f64,
    attached: bool,
    /// Print lies beside one of its ends: it may be what is left of a line's end under an outline.
    at_print: bool,
}

/// A head: one or two barbs on a line.
#[derive(Clone, Debug)]
pub struct Head {
    pub line: usize,
    pub arrow: Arrow,
    /// Residual strokes that make it up.
    pub strokes: Vec<usize>,
    pub evidence: Evidence,
}

impl Head {
    /// Whether strokes of this one also make the other.
    pub fn shares_strokes(&self, other: &Head) -> bool {
        self.strokes.iter().any(|k| other.strokes.contains(k))
    }
}

/// The way of an arrow is read over so much of its line, mm: enough to even out the hand's shake.
const WAY_READ_MM: f64 = 8.0;
/// Of a tip this near to its line's end it is read from so far before the end to so far, mm: the last of such a line is drawn
/// aside by the head. Empirical, on 359 heads: two thirds lie within 4.4 degrees, within 6.3 when read up to the end.
const AT_END_MM: f64 = 1.5;
const END_READ_MM: (f64, f64) = (0.75, 4.5);
/// A line whose ends are this near to each other, mm, is closed: there the way is read across both.
const CLOSED_MM: f64 = 1.5;

/// The residual strokes of a drawing: edges that belong to no line.
pub struct Residue {
    /// Edge numbers, in order.
    pub edges: Vec<usize>,
}

/// The heads on `lines`, and which residual strokes (positions in `residue.edges`) they use up.
pub fn heads(
    graph: &Graph,
    lines: &[Stroke],
    residue: &Residue,
    near_print: impl Fn(Point) -> bool,
) -> Vec<Head> {
    let rulers: Vec<Ruler> = lines.iter().map(|l| Ruler::of(&l.points)).collect();
    let mut barbs = Vec::new();
    for piece in pieces(graph, residue) {
        barbs.extend(barbs_of(&piece, &rulers, &near_print));
    }
    let mut options = pairs(&barbs);
    options.extend((0..barbs.len()).map(|i| (single_score(&barbs[i]), vec![i])));
    options.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.cmp(&b.1)));
    let mut taken = vec![false; residue.edges.len()];
    let mut found: Vec<Head> = Vec::new();
    for (_, members) in &options {
        if members.iter().any(|&i| barbs[i].strokes.iter().any(|&k| taken[k])) {
            continue;
        }
        let head = make(&members.iter().map(|&i| &barbs[i]).collect::<Vec<_>>(), &rulers);
        for &i in members {
            barbs[i].strokes.iter().for_each(|&k| taken[k] = true);
        }
        // A stroke beside a head that is there already is that head's (a barb drawn twice, a filled head's edge).
        let beside = found.iter_mut().find(|h| {
            h.line == head.line
                && h.arrow.at.distance(head.arrow.at) < OTHER_HEAD_MM + 0.5 * head.evidence.length_mm
        });
        match beside {
            Some(h) if members.len() == 1 => h.strokes.extend(head.strokes),
            _ => found.push(head),
        }
    }
    let others = on_other_lines(&options, &barbs, &rulers, &mut found);
    found.extend(others);
    found
}

/// Makes one of heads on one line that have their tip in one place: the surest, of all their strokes. What points the other way
/// takes so much from how sure the way is as it is sure itself: of two sure heads against each other the way is open.
pub fn merge(heads: &mut Vec<Head>) {
    let mut kept: Vec<Head> = Vec::with_capacity(heads.len());
    heads.sort_by(|a, b| b.arrow.sure.total_cmp(&a.arrow.sure));
    for head in heads.drain(..) {
        let same = |k: &&mut Head| k.line == head.line && k.arrow.at.distance(head.arrow.at) < ONE_TIP_MM;
        let Some(same) = kept.iter_mut().find(same) else {
            kept.push(head);
            continue;
        };
        if same.arrow.towards.dot(head.arrow.towards) < 0.0 {
            let odds = |p: f64| (p / (1.0 - p)).ln();
            let left = odds(same.arrow.way_sure) - head.arrow.sure * odds(head.arrow.way_sure);
            same.arrow.way_sure = logistic(left).max(0.5);
        }
        same.strokes.extend(head.strokes);
        if same.evidence.whose == Whose::Its {
            same.evidence.whose = head.evidence.whose;
        }
    }
    *heads = kept;
}

/// Heads that the strokes of those found would make on other lines: where lines run close together it takes a look to tell
/// whose a head is.
fn on_other_lines(
    options: &[(f64, Vec<usize>)],
    barbs: &[Barb],
    rulers: &[Ruler],
    found: &mut [Head],
) -> Vec<Head> {
    let owners: BTreeMap<usize, usize> =
        found.iter().enumerate().flat_map(|(n, h)| h.strokes.iter().map(move |&k| (k, n))).collect();
    let mut told: BTreeSet<(usize, usize)> = found.iter().enumerate().map(|(n, h)| (n, h.line)).collect();
    let mut others: Vec<Head> = Vec::new();
    for (_, members) in options {
        let members: Vec<&Barb> = members.iter().map(|&i| &barbs[i]).collect();
        let mut whose = members.iter().flat_map(|b| &b.strokes).map(|k| owners.get(k));
        let Some(&first) = whose.next().flatten() else { continue };
        if whose.all(|n| n == Some(&first)) && told.insert((first, members[0].line)) {
            found[first].evidence.whose = Whose::First;
            let mut other = make(&members, rulers);
            other.evidence.whose = Whose::Other;
            others.push(other);
        }
    }
    others
}

/// A line as a ruler: mm along it and beside it.
pub(super) struct Ruler<'a> {
    points: &'a [Point],
    length: f64,
    bounds: kurbo::Rect,
}

impl<'a> Ruler<'a> {
    pub(super) fn of(points: &'a [Point]) -> Self {
        let first = kurbo::Rect::from_points(points[0], points[0]);
        let bounds = points.iter().fold(first, |r, &p| r.union_pt(p)).inflate(BEYOND_MM, BEYOND_MM);
        Self { points, length: curve::length(points), bounds }
    }

    /// (along, beside) of a place: beside is positive to the left of the line's way as seen on the page; the ends go
    /// on straight.
    pub(super) fn read(&self, p: Point) -> Option<(f64, f64)> {
        if !self.bounds.contains(p) {
            return None;
        }
        let n = self.points.len();
        let step = self.length / (n - 1) as f64;
        let i = (0..n).min_by(|&a, &b| {
            p.distance_squared(self.points[a]).total_cmp(&p.distance_squared(self.points[b]))
        })?;
        let way = self.way(i);
        let off = p - self.points[i];
        let along = off.dot(way);
        let inner = i > 0 && i + 1 < n;
        if !inner && along.abs() > BEYOND_MM {
            return None;
        }
        Some((i as f64 * step + along, -way.cross(off)))
    }

    /// The unit step along the line at a point's number, read over 2 mm.
    fn way(&self, i: usize) -> Vec2 {
        self.way_over(i, 2.0)
    }

    /// The same, read over so many mm.
    pub(super) fn way_over(&self, i: usize, mm: f64) -> Vec2 {
        let k = (0.5 * mm / curve::STEP_MM) as usize;
        let (a, b) = (i.saturating_sub(k), (i + k).min(self.points.len() - 1));
        unit(self.points[b] - self.points[a])
    }

    /// Where an arrow's tip stands, mm along the line, and +1 if it points along the line's points, -1 if against; `None` too
    /// far from it.
    pub(super) fn tip(&self, arrow: &Arrow) -> Option<(f64, f64)> {
        let (tip_mm, _) = self.read(arrow.at)?;
        Some((tip_mm, arrow.towards.dot(self.place(tip_mm).1).signum()))
    }

    /// The place of a tip at `along` mm, and the way there as an arrow shows it, read over [`WAY_READ_MM`].
    pub(super) fn arrow(&self, along: f64) -> (Point, Vec2) {
        let last = self.points.len() - 1;
        let number = |mm: f64| ((mm / self.length * last as f64).round().max(0.0) as usize).min(last);
        let [near, far, half] = [END_READ_MM.0, END_READ_MM.1, 0.5 * WAY_READ_MM].map(number);
        let closed = self.points[0].distance(self.points[last]) < CLOSED_MM;
        let (from, to) = match along {
            _ if closed && along.min(self.length - along) < AT_END_MM => (last - half, half),
            _ if along < AT_END_MM => (near, far),
            _ if along > self.length - AT_END_MM => (last - far, last - near),
            _ => return (self.place(along).0, self.way_over(number(along), WAY_READ_MM)),
        };
        (self.place(along).0, unit(self.points[to] - self.points[from]))
    }

    /// The place at `along` mm, straight on beyond the ends, and the way there.
    pub(super) fn place(&self, along: f64) -> (Point, Vec2) {
        let n = self.points.len();
        let step = self.length / (n - 1) as f64;
        let i = ((along / step).round().max(0.0) as usize).min(n - 1);
        let way = self.way(i);
        (self.points[i] + (along - i as f64 * step) * way, way)
    }
}

/// The unit vector of a step; of none, any.
fn unit(step: Vec2) -> Vec2 {
    if step.hypot() > 0.0 { step.normalize() } else { Vec2::new(1.0, 0.0) }
}

/// A residual stroke as a barb may be: from end to end.
struct Piece {
    strokes: Vec<usize>,
    ends: (Point, Point),
    length_mm: f64,
}

/// The residual strokes, and pairs of them that another line cuts in two.
fn pieces(graph: &Graph, residue: &Residue) -> Vec<Piece> {
    let ends = |edge: usize| {
        let p = &graph.edges[edge].points;
        [p[0], p[p.len() - 1]]
    };
    let mut out: Vec<Piece> = Vec::new();
    for (i, &a) in residue.edges.iter().enumerate() {
        let [p, q] = ends(a);
        out.push(Piece { strokes: vec![i], ends: (p, q), length_mm: graph.edges[a].length_mm });
        for (j, &b) in residue.edges.iter().enumerate().skip(i + 1) {
            for (ka, kb) in [(0, 0), (0, 1), (1, 0), (1, 1)] {
                let (pa, pb) = (ends(a), ends(b));
                let gap = pa[ka].distance(pb[kb]);
                let (u, v) = (pa[ka] - pa[1 - ka], pb[1 - kb] - pb[kb]);
                let turn = turn_deg(u, v).abs();
                if gap > CUT_MM || turn > CUT_DEG || u.hypot().min(v.hypot()) < BARB_MM.0 {
                    continue;
                }
                let length_mm = graph.edges[a].length_mm + gap + graph.edges[b].length_mm;
                out.push(Piece { strokes: vec![i, j], ends: (pa[1 - ka], pb[1 - kb]), length_mm });
            }
        }
    }
    out
}

fn barbs_of(piece: &Piece, rulers: &[Ruler], near_print: &impl Fn(Point) -> bool) -> Vec<Barb> {
    let (a, b) = piece.ends;
    let length = piece.length_mm;
    if length < BARB_MM.0 || length > BARB_MM.1 || a.distance(b) < STRAIGHT_SHARE * length {
        return Vec::new();
    }
    let at_print = near_print(a) || near_print(b);
    let mut out = Vec::new();
    for (line, ruler) in rulers.iter().enumerate() {
        let (Some(ra), Some(rb)) = (ruler.read(a), ruler.read(b)) else { continue };
        let (near, far) = if ra.1.abs() <= rb.1.abs() { (ra, rb) } else { (rb, ra) };
        let rise =
            if near.1 * far.1 >= 0.0 { far.1.abs() - near.1.abs() } else { far.1.abs() + near.1.abs() };
        if near.1.abs() > NEAR_MM || rise < LEAVES_MM || (near.1 * far.1 < 0.0 && near.1.abs() > 0.6) {
            continue;
        }
        let run = far.0 - near.0;
        let angle = rise.atan2(run.abs()).to_degrees();
        if !(ANGLE_DEG.0..=ANGLE_DEG.1).contains(&angle) {
            continue;
        }
        let way = if run > 0.0 { -1.0 } else { 1.0 };
        let reach = (near.1.abs() * run.abs() / rise).min(1.5);
        let tip = near.0 + way * reach * if near.1 * far.1 >= 0.0 { 1.0 } else { -1.0 };
        out.push(Barb {
            strokes: piece.strokes.clone(),
            line,
            side: far.1.signum(),
            tip_mm: tip,
            beside_mm: near.1.abs(),
            way,
            angle_deg: angle,
            length_mm: length,
            attached: near.1.abs() < ATTACHED_MM,
            at_print,
        });
    }
    out
}

/// Two barbs that make a head, and how well.
fn pairs(barbs: &[Barb]) -> Vec<(f64, Vec<usize>)> {
    let mut out = Vec::new();
    for (i, a) in barbs.iter().enumerate() {
        for (j, b) in barbs.iter().enumerate().skip(i + 1) {
            let apart = (a.tip_mm - b.tip_mm).abs();
            if a.line != b.line
                || a.strokes.iter().any(|k| b.strokes.contains(k))
                || a.side == b.side
                || a.way != b.way
                || apart > SAME_TIP_MM
            {
                continue;
            }
            let even = a.length_mm.min(b.length_mm) / a.length_mm.max(b.length_mm);
            let lean = (a.angle_deg - b.angle_deg).abs();
            out.push((
                4.0 - 0.6 * apart + even - 0.02 * lean - 0.4 * (a.beside_mm + b.beside_mm),
                vec![i, j],
            ));
        }
    }
    out
}

fn single_score(b: &Barb) -> f64 {
    let steep = (b.angle_deg - 35.0).abs() / 35.0;
    1.0 - 0.5 * b.beside_mm - 0.3 * steep + if b.attached { 0.5 } else { 0.0 }
}

fn make(barbs: &[&Barb], rulers: &[Ruler]) -> Head {
    let n = barbs.len() as f64;
    let mean = |f: fn(&Barb) -> f64| barbs.iter().map(|b| f(b)).sum::<f64>() / n;
    let tip = mean(|b| b.tip_mm);
    let line = barbs[0].line;
    let evidence = Evidence {
        barbs: barbs.len(),
        angle_deg: mean(|b| b.angle_deg),
        length_mm: mean(|b| b.length_mm),
        beside_mm: mean(|b| b.beside_mm),
        attached: barbs.iter().filter(|b| b.attached).count(),
        at_print: barbs.iter().filter(|b| b.at_print).count(),
        ..surroundings(rulers, line, tip)
    };
    let (at, way) = rulers[line].arrow(tip);
    let arrow = Arrow { at, towards: barbs[0].way * way, sure: 0.0, way_sure: 0.0 };
    Head { line, arrow, strokes: barbs.iter().flat_map(|b| b.strokes.iter().copied()).collect(), evidence }
}

/// The part of the evidence that tells where a tip stands.
pub(super) fn surroundings(rulers: &[Ruler], line: usize, tip_mm: f64) -> Evidence {
    let at = rulers[line].place(tip_mm).0;
    let others = rulers.iter().enumerate().filter(|(k, _)| *k != line);
    let other_line_mm = others.filter_map(|(_, r)| r.read(at)).map(|r| r.1.abs()).fold(ALONE_MM, f64::min);
    let end_mm = tip_mm.min(rulers[line].length - tip_mm).clamp(-ALONE_MM, ALONE_MM);
    Evidence { other_line_mm, end_mm, ..Evidence::default() }
}

/// Candidates less sure than this are let go: together they would unsettle every mark.
pub const LEAST_SURE: f64 = 0.06;

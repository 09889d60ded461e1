//! Lines that were crossed out: short strokes laid across them, two at a place as an X, at several places, or one at a place
//! at more.
//!
//! An X on a line leaves four arms there, to either side and both ways along; a head's barbs lie to either side, but one way
//! along alone. Arms may be lost where they run along another line: three of the four tell an X.

use super::graph::Graph;
use super::heads::{Head, Residue, Ruler};
use super::strokes::Stroke;
use crate::geometry::{Point, Vec2, turn_deg};

/// An arm is this long, mm.
const ARM_MM: [f64; 2] = [0.7, 6.5];
/// It begins this near to the middle of its line, mm, and ends at least so far from it.
const FOOT_MM: f64 = 1.0;
const TIP_MM: f64 = 0.8;
/// It leans along the line by at least this, mm: a stroke straight across leans neither way.
const LEAN_MM: f64 = 0.25;
/// The arms of one X begin within this of each other along the line, mm: thinning draws their feet apart.
const ONE_CROSS_MM: f64 = 2.5;
/// So many of the four arms tell it.
const ARMS: usize = 3;
/// Heads of opposite ways whose tips are this close are a cross too, mm.
const OPPOSITE_MM: f64 = 2.5;
/// A line with this many crosses on it is crossed out, or this many single strokes.
const CROSSES: usize = 2;
const STROKES: usize = 3;
/// The two arms of a single stroke begin within this of each other along the line, mm, and lead on in one another but for so
/// much, degrees.
const ONE_STROKE_MM: f64 = 1.2;
const STROKE_TURN_DEG: f64 = 25.0;

/// One arm: where along the line it begins, and how far its tip lies forwards of that and aside, mm.
struct Arm {
    foot_mm: f64,
    lean_mm: f64,
    aside_mm: f64,
}

impl Arm {
    /// Left or right, forwards or back; `None` where it leans neither way.
    fn quadrant(&self) -> Option<usize> {
        let leans = self.lean_mm.abs() >= LEAN_MM;
        leans.then(|| 2 * usize::from(self.aside_mm > 0.0) + usize::from(self.lean_mm > 0.0))
    }
}

/// The lines that are crossed out, in order.
pub fn out(graph: &Graph, lines: &[Stroke], residue: &Residue, heads: &[Head]) -> Vec<usize> {
    let strokes: Vec<[Point; 2]> = residue
        .edges
        .iter()
        .map(|&e| &graph.edges[e])
        .filter(|e| (ARM_MM[0]..=ARM_MM[1]).contains(&e.length_mm))
        .map(|e| [e.points[0], e.points[e.points.len() - 1]])
        .collect();
    (0..lines.len())
        .filter(|&l| {
            let ruler = Ruler::of(&lines[l].points);
            let mut arms: Vec<Arm> = strokes.iter().flat_map(|ends| arms_of(&ruler, *ends)).collect();
            arms.sort_by(|a, b| a.foot_mm.total_cmp(&b.foot_mm));
            crosses(&arms).max(opposite_heads(heads, l)) >= CROSSES || single_strokes(&arms) >= STROKES
        })
        .collect()
}

/// The arms that a stroke is: one, or two where it runs across the line.
fn arms_of(ruler: &Ruler, [p, q]: [Point; 2]) -> Vec<Arm> {
    let (Some(p), Some(q)) = (ruler.read(p), ruler.read(q)) else { return Vec::new() };
    let arm = |foot_mm: f64, tip: (f64, f64)| {
        (tip.1.abs() >= TIP_MM).then_some(Arm { foot_mm, lean_mm: tip.0 - foot_mm, aside_mm: tip.1 })
    };
    if p.1.abs() >= TIP_MM && q.1.abs() >= TIP_MM && p.1 * q.1 < 0.0 {
        let share = p.1 / (p.1 - q.1);
        let foot = p.0 + share * (q.0 - p.0);
        return [arm(foot, p), arm(foot, q)].into_iter().flatten().collect();
    }
    let (foot, tip) = if p.1.abs() < q.1.abs() { (p, q) } else { (q, p) };
    if foot.1.abs() > FOOT_MM { Vec::new() } else { arm(foot.0, tip).into_iter().collect() }
}

/// How many crosses these arms make, in order along the line.
fn crosses(arms: &[Arm]) -> usize {
    let arms: Vec<(f64, usize)> = arms.iter().filter_map(|a| Some((a.foot_mm, a.quadrant()?))).collect();
    let (mut count, mut from) = (0, 0);
    while from < arms.len() {
        let until = from + arms[from..].iter().take_while(|a| a.0 - arms[from].0 <= ONE_CROSS_MM).count();
        let mut quadrants = [false; 4];
        arms[from..until].iter().for_each(|a| quadrants[a.1] = true);
        if quadrants.iter().filter(|q| **q).count() >= ARMS {
            count += 1;
            from = until;
        } else {
            from += 1;
        }
    }
    count
}

/// How many single strokes across the line these arms make, in order along it. A head's barbs lean one way, and are none.
fn single_strokes(arms: &[Arm]) -> usize {
    let is_one = |a: &Arm, b: &Arm| {
        let (u, v) = (Vec2::new(a.lean_mm, a.aside_mm), Vec2::new(b.lean_mm, b.aside_mm));
        b.foot_mm - a.foot_mm <= ONE_STROKE_MM && u.y * v.y < 0.0 && turn_deg(u, -v).abs() <= STROKE_TURN_DEG
    };
    let (mut count, mut from) = (0, 0);
    while from + 1 < arms.len() {
        let one = is_one(&arms[from], &arms[from + 1]);
        count += usize::from(one);
        from += 1 + usize::from(one);
    }
    count
}

/// Crosses that were read as heads pointing at each other.
fn opposite_heads(heads: &[Head], line: usize) -> usize {
    let on: Vec<&Head> = heads.iter().filter(|h| h.line == line && h.arrow.sure > 0.5).collect();
    let opposite = |a: &Head, b: &Head| {
        a.arrow.at.distance(b.arrow.at) < OPPOSITE_MM && a.arrow.towards.dot(b.arrow.towards) < -0.5
    };
    on.iter().enumerate().filter(|(i, a)| on[i + 1..].iter().any(|b| opposite(a, b))).count()
}

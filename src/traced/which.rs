//! Which of the outlines found is which of the worksheet's sources.

use super::fit::{Fit, fit};
use super::places::Places;
use super::shape::{Likeness, Pose, Shape};
use super::vote;
use crate::geometry::{Point, Rect, Vec2};
use crate::worksheet::Source;

/// An outline is one when so much of it, and of each of its sides, is drawn.
const LEAST_SEEN: f64 = 0.7;
const LEAST_SIDE: f64 = 0.35;
/// And it is surely one when so much of it is, and the stroke lies no further off than this, mm, root mean square.
const SURE_SEEN: f64 = 0.86;
const SURE_SIDE: f64 = 0.6;
const SURE_RESIDUAL_MM: f64 = 0.8;
/// The next best outline of the same shape must be worse by this, as a share of the outline: else it may be the magnet.
const AHEAD: f64 = 0.12;
/// Two outlines are of two magnets when no corner of one lies deeper in the other than this, mm.
const OVERLAP_MM: f64 = 2.0;

/// The outline found for a source.
#[derive(Clone, Debug)]
pub struct Found {
    pub shape: Shape,
    pub fit: Fit,
    /// Whether it is surely this source's outline, and rightly found.
    pub sure: bool,
}

/// What kept the outlines from being found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Missing {
    /// Ids of the sources whose shape was found too seldom.
    pub ids: Vec<String>,
}

/// The outlines of all sources, in their order.
///
/// # Errors
/// The sources for whose shape there are too few outlines on the page.
pub fn outlines(sources: &[Source], places: &Places, region: Rect) -> Result<Vec<Found>, Missing> {
    let mut found: Vec<Option<Found>> = vec![None; sources.len()];
    let mut taken: Vec<(Shape, Fit)> = Vec::new();
    let mut missing = Vec::new();
    for group in groups(sources) {
        let shape = &group.shape;
        let mut fits = fits(shape, places, region);
        fits.retain(|f| !taken.iter().any(|(s, t)| overlap((shape, f), (s, t))));
        let mut apart: Vec<Fit> = Vec::new();
        for f in fits {
            if !apart.iter().any(|a| overlap((shape, a), (shape, &f))) {
                apart.push(f);
            }
        }
        let wanted = group.members.len();
        if apart.len() < wanted {
            missing.extend(group.members.iter().map(|&n| sources[n].id.clone()));
            continue;
        }
        let doubt = apart.get(wanted).is_some_and(|next| quality(&apart[wanted - 1]) - quality(next) < AHEAD);
        apart.truncate(wanted);
        taken.extend(apart.iter().map(|f| (shape.clone(), f.clone())));
        let (order, clear) = assigned(sources, &group.members, &apart);
        for (&source, fit) in group.members.iter().zip(order) {
            let sure = !doubt && clear && is_sure(&fit);
            found[source] = Some(Found { shape: shape.clone(), fit, sure });
        }
    }
    found.into_iter().collect::<Option<Vec<_>>>().ok_or(Missing { ids: missing })
}

/// Sources of one shape.
struct Group {
    shape: Shape,
    members: Vec<usize>,
}

/// Sources by shape, the longest outline first: a small one may hide in a large one, not the other way round.
fn groups(sources: &[Source]) -> Vec<Group> {
    let mut groups: Vec<Group> = Vec::new();
    for (n, source) in sources.iter().enumerate() {
        match groups.iter_mut().find(|g| g.shape.is_of(source)) {
            Some(group) => group.members.push(n),
            None => groups.extend(Shape::of(source).map(|shape| Group { shape, members: vec![n] })),
        }
    }
    groups.sort_by(|a, b| b.shape.length_mm().total_cmp(&a.shape.length_mm()));
    groups
}

/// How good an outline is, to rank by.
fn quality(fit: &Fit) -> f64 {
    fit.seen + 0.3 * fit.least_side - 0.15 * fit.residual_mm
}

fn is_sure(fit: &Fit) -> bool {
    fit.seen > SURE_SEEN && fit.least_side > SURE_SIDE && fit.residual_mm < SURE_RESIDUAL_MM
}

/// All outlines of a shape, the best first.
fn fits(shape: &Shape, places: &Places, region: Rect) -> Vec<Fit> {
    let rough = vote::candidates(shape, places, region);
    let mut fits: Vec<Fit> = rough.into_iter().filter_map(|pose| fit(shape, places, pose)).collect();
    fits.retain(|f| f.seen > LEAST_SEEN && f.least_side > LEAST_SIDE);
    fits.sort_by(|a, b| quality(b).total_cmp(&quality(a)));
    fits
}

/// Whether two outlines lie over one another.
fn overlap(a: (&Shape, &Fit), b: (&Shape, &Fit)) -> bool {
    let inside = |(shape, fit): (&Shape, &Fit), (other, of): (&Shape, &Fit)| {
        let rim = other.rim(4.0).into_iter().map(|r| of.pose.place(r.at));
        rim.chain([of.pose.centre]).any(|p| shape.holds(fit.pose.local(p), OVERLAP_MM))
    };
    inside(a, b) || inside(b, a)
}

/// Outlines of one shape in the order of their sources, and whether which is which is clear or of no matter.
///
/// Of all ways to lay the worksheet's middles on the page's, pair on pair, that which leaves them nearest.
fn assigned(sources: &[Source], members: &[usize], fits: &[Fit]) -> (Vec<Fit>, bool) {
    let alike = members.iter().all(|&n| sources[n].kind == sources[members[0]].kind);
    let from: Vec<Point> = members.iter().map(|&n| sources[n].centre).collect();
    let to: Vec<Point> = fits.iter().map(|f| f.pose.centre).collect();
    let mut best: Option<(f64, Vec<usize>)> = None;
    let mut next = f64::INFINITY;
    for way in ways(&from, &to) {
        let Some((off, order)) = matched(&from, &to, &way) else { continue };
        match &best {
            Some((least, kept)) if off >= *least => {
                if order != *kept {
                    next = next.min(off);
                }
            }
            _ => {
                if let Some((least, kept)) = best.replace((off, order.clone()))
                    && kept != order
                {
                    next = next.min(least);
                }
            }
        }
    }
    let Some((off, order)) = best else { return (fits.to_vec(), alike || fits.len() == 1) };
    // Twice as far off, and by more than a hand's breadth of tracing: no other order comes near.
    let clear = fits.len() == 1 || alike || next > 2.0 * off + 5.0;
    (order.into_iter().map(|k| fits[k].clone()).collect(), clear)
}

/// A turn and a shift.
struct Way {
    turn: Vec2,
    from: Point,
    to: Point,
}

/// Every way that lays one pair of middles along another; the worksheet's own first, so that it wins where several are as good.
fn ways(from: &[Point], to: &[Point]) -> Vec<Way> {
    let middle =
        |p: &[Point]| (p.iter().fold(Vec2::ZERO, |s, q| s + q.to_vec2()) / p.len().max(1) as f64).to_point();
    let (from_middle, to_middle) = (middle(from), middle(to));
    let mut ways = vec![Way { turn: Vec2::new(1.0, 0.0), from: from_middle, to: to_middle }];
    for (i, a) in from.iter().enumerate() {
        for b in from.iter().skip(i + 1) {
            for (k, c) in to.iter().enumerate() {
                for (_, d) in to.iter().enumerate().filter(|(l, _)| *l != k) {
                    let (u, v) = (*b - *a, *d - *c);
                    let size = u.hypot() * v.hypot();
                    if size > 0.0 {
                        let turn = Vec2::new(u.dot(v) / size, u.cross(v) / size);
                        ways.push(Way { turn, from: from_middle, to: to_middle });
                    }
                }
            }
        }
    }
    ways
}

/// The nearest free place for each middle, and how far they are off, root mean square, mm.
fn matched(from: &[Point], to: &[Point], way: &Way) -> Option<(f64, Vec<usize>)> {
    let mut free: Vec<usize> = (0..to.len()).collect();
    let mut order = Vec::with_capacity(from.len());
    let mut squares = 0.0;
    for p in from {
        let d = *p - way.from;
        let t = way.turn;
        let at = way.to + Vec2::new(d.x * t.x - d.y * t.y, d.x * t.y + d.y * t.x);
        let nearest =
            (0..free.len()).min_by(|&a, &b| to[free[a]].distance(at).total_cmp(&to[free[b]].distance(at)))?;
        let k = free.remove(nearest);
        squares += to[k].distance_squared(at);
        order.push(k);
    }
    Some(((squares / from.len().max(1) as f64).sqrt(), order))
}

/// The turn of a source for an outline that looks the same turned by half: of the two the nearer to the worksheet's.
pub fn nearer_turn(shape: &Shape, pose: &Pose, north_deg: f64) -> f64 {
    match shape.likeness {
        Likeness::Round => north_deg,
        Likeness::Whole => pose.turn_deg,
        Likeness::Half => {
            let apart = (pose.turn_deg - north_deg).to_radians().cos();
            if apart < 0.0 { pose.turn_deg + 180.0 } else { pose.turn_deg }
        }
    }
}

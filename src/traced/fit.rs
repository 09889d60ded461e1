//! A rough pose of an outline to the pose that fits the drawn one best, and how well it does.

use super::places::Places;
use super::shape::{Likeness, Pose, Rim, Shape};
use crate::geometry::{Point, Vec2};
use nalgebra::{Matrix4, Vector4};

/// Places along the outline, mm.
const STEP_MM: f64 = 0.5;
/// Strokes are looked for this far off the outline, mm: first from the rough pose, then as the fit grows better. A traced
/// outline wobbles by a millimetre.
const LOOK_MM: [f64; 7] = [3.0, 2.6, 2.2, 1.9, 1.7, 1.6, 1.6];
/// A stroke along an outline runs its way within this, degrees.
const AWRY_COS: f64 = 0.85;
/// A pencil is held against the magnet's side and draws outside it: by half its point, or more where it is held aslant, mm.
const BEYOND_MM: (f64, f64) = (-0.4, 1.6);

/// An outline found on the page.
#[derive(Clone, Debug)]
pub struct Fit {
    pub pose: Pose,
    /// Share of the outline along which a stroke runs, 0 to 1.
    pub seen: f64,
    /// The same of the side that is seen least.
    pub least_side: f64,
    /// How far that stroke lies off the fitted outline, root mean square, mm.
    pub residual_mm: f64,
    /// The stroke as drawn, in order round the outline; places in between where none was found.
    pub drawn: Vec<Point>,
}

/// A place of the outline and how far out of it the stroke beside it runs.
struct Match {
    rim: Rim,
    off: f64,
}

/// Fits a shape from a rough pose on. `None` where there is too little to fit.
pub fn fit(shape: &Shape, places: &Places, rough: Pose) -> Option<Fit> {
    let rim = shape.rim(STEP_MM);
    let mut pose = rough;
    for look in LOOK_MM {
        let matches = matches(&rim, places, &pose, look);
        let matches: Vec<Match> = matches.into_iter().flatten().collect();
        if matches.len() * 3 < rim.len() {
            return None;
        }
        pose = moved(shape, &pose, &matches, look)?;
    }
    let found = matches(&rim, places, &pose, LOOK_MM[LOOK_MM.len() - 1]);
    let seen = found.iter().flatten().count() as f64 / rim.len() as f64;
    let share = |side: usize| {
        let of = || rim.iter().zip(&found).filter(move |(r, _)| r.side == side);
        of().filter(|(_, m)| m.is_some()).count() as f64 / of().count().max(1) as f64
    };
    let least_side = (0..shape.sides()).map(share).fold(1.0, f64::min);
    let squares: f64 = found.iter().flatten().map(|m| (m.off - pose.beyond_mm).powi(2)).sum();
    let residual_mm = (squares / found.iter().flatten().count().max(1) as f64).sqrt();
    let drawn = drawn(&rim, &found, &pose);
    Some(Fit { pose, seen, least_side, residual_mm, drawn })
}

/// For each place of the outline the stroke nearest to where the fit has it.
fn matches(rim: &[Rim], places: &Places, pose: &Pose, look: f64) -> Vec<Option<Match>> {
    let one = |r: &Rim| {
        let (at, out, along) = (pose.place(r.at), pose.step(r.out), pose.step(r.along));
        let expected = at + pose.beyond_mm * out;
        let mut best: Option<f64> = None;
        for place in places.near(expected, look) {
            let d = place.at - at;
            let (off, aside) = (d.dot(out), d.dot(along));
            let fits = aside.abs() < 0.5 * STEP_MM + 0.1
                && (off - pose.beyond_mm).abs() < look
                && place.way.dot(along).abs() > AWRY_COS;
            if fits && best.is_none_or(|b| (off - pose.beyond_mm).abs() < (b - pose.beyond_mm).abs()) {
                best = Some(off);
            }
        }
        best.map(|off| Match { rim: *r, off })
    };
    rim.iter().map(one).collect()
}

/// One round of weighted least squares over place, turn and how far outside the stroke runs.
fn moved(shape: &Shape, pose: &Pose, matches: &[Match], look: f64) -> Option<Pose> {
    let mut normal = Matrix4::zeros();
    let mut right = Vector4::zeros();
    let turning = shape.likeness != Likeness::Round;
    for m in matches {
        let off = m.off - pose.beyond_mm;
        let weight = (1.0 - (off / look).powi(2)).max(0.0).powi(2);
        let out = m.rim.out;
        // Turning by a small angle moves a place at right angles to its way from the middle.
        let swing = if turning { out.dot(Vec2::new(-m.rim.at.y, m.rim.at.x)) } else { 0.0 };
        let row = Vector4::new(out.x, out.y, swing, 1.0);
        normal += weight * row * row.transpose();
        right += weight * off * row;
    }
    if !turning {
        normal[(2, 2)] = 1.0;
    }
    // A side that is not seen leaves its way open: it stays where it is.
    for k in 0..4 {
        normal[(k, k)] += 1e-3;
    }
    let step = normal.lu().solve(&right)?;
    let beyond = (pose.beyond_mm + step[3]).clamp(BEYOND_MM.0, BEYOND_MM.1);
    Some(Pose {
        centre: pose.centre + pose.step(Vec2::new(step[0], step[1])),
        turn_deg: pose.turn_deg + step[2].to_degrees(),
        beyond_mm: beyond,
    })
}

/// The stroke as drawn.
fn drawn(rim: &[Rim], found: &[Option<Match>], pose: &Pose) -> Vec<Point> {
    let place = |r: &Rim, off: f64| pose.place(r.at) + off * pose.step(r.out);
    rim.iter().zip(found).map(|(r, m)| place(r, m.as_ref().map_or(pose.beyond_mm, |m| m.off))).collect()
}

//! Plotted compass dots: round blots on a line or beside it, wider than the line and with nothing that sticks out of
//! them but the line itself.

use super::graph::half_width;
use super::heads::Head;
use super::strokes::Stroke;
use crate::drawing::Dot;
use crate::geometry::{Point, Vec2};
use crate::ink::{Bitmap, PanelInk};

/// Radius of a plotted dot, mm: from a pencil's firm dot to a felt-tip's.
const RADIUS_MM: (f64, f64) = (0.36, 1.5);
/// A dot is at least so many times as wide as its line, or it is the line.
const WIDER: f64 = 1.5;
/// Its middle lies this near to the middle of the line it is found from, mm.
const BESIDE_MM: f64 = 1.0;
/// Round a dot, from here to here in radii, there is paper: an arrowhead's corners reach into that.
const ROUND_RADII: (f64, f64) = (1.3, 1.9);
/// So much of it may be ink that no line explains.
const STICKS_OUT: f64 = 0.08;
/// A line explains ink this far beyond its own half-width, mm.
const LINE_SLACK_MM: f64 = 0.2;
/// Rays on which that is looked at.
const RAYS: usize = 40;
/// Fewer blots than this on a line are where a pen was set down, or small filled arrowheads in a blurred photo: who plots a line
/// with a compass sets dots all along it, and few draw three heads.
const LEAST_ON_LINE: usize = 3;
/// Empirical: of those found on drawings with plotted dots about so many are some.
const SURE: f64 = 0.9;
/// A dot's own blur, mm.
const RIM_MM: f64 = 0.25;
/// What was taken for a head at a dot and is no longer than so many of its radii is the dot.
const HEAD_RADII: f64 = 2.6;

/// The dots on `lines`, of those lines on which there are enough to have been plotted.
pub fn dots(ink: &PanelInk, lines: &[Stroke]) -> Vec<Dot> {
    let mut out: Vec<Dot> = Vec::new();
    for line in lines.iter().filter(|l| !l.dotted) {
        let before = out.len();
        for k in swellings(ink, line) {
            let Some((at, radius_mm)) = climb(ink, line.points[k]) else { continue };
            let fits = (RADIUS_MM.0..RADIUS_MM.1).contains(&radius_mm)
                && at.distance(line.points[k]) < BESIDE_MM + radius_mm
                && out.iter().all(|d| d.at.distance(at) > d.radius_mm.max(radius_mm));
            if fits && is_round(ink, lines, at, radius_mm) {
                out.push(Dot { at, radius_mm, sure: SURE });
            }
        }
        if out.len() < before + LEAST_ON_LINE {
            out.truncate(before);
        }
    }
    out
}

/// The points of a line at which it is widest, and wider than a line.
fn swellings(ink: &PanelInk, line: &Stroke) -> Vec<usize> {
    let widths: Vec<f64> = line.points.iter().map(|&p| width_at(ink, p)).collect();
    let least = RADIUS_MM.0.max(WIDER * 0.5 * line.width_mm);
    let near = (RADIUS_MM.1 / super::curve::STEP_MM) as usize;
    (0..widths.len())
        .filter(|&k| widths[k] > 0.8 * least)
        .filter(|&k| {
            let around = k.saturating_sub(near)..(k + near + 1).min(widths.len());
            // The first of equals.
            around.clone().all(|j| widths[j] < widths[k] || (widths[j] == widths[k] && j >= k))
        })
        .collect()
}

fn width_at(ink: &PanelInk, p: Point) -> f64 {
    match ink.index(p) {
        Some(i) if ink.ink.cells[i] != 0 => half_width(&ink.ink, i) * ink.mm_per_px(),
        _ => 0.0,
    }
}

/// From a place uphill to where the ink is widest, and how wide it is there.
fn climb(ink: &PanelInk, from: Point) -> Option<(Point, f64)> {
    let mut at = ink.index(from)?;
    let steps = ink.ink.ring_steps();
    let mut width = half_width(&ink.ink, at);
    for _ in 0..(2.0 * RADIUS_MM.1 / ink.mm_per_px()) as usize {
        let around = steps.iter().map(|s| (at as isize + s) as usize).filter(|&j| ink.ink.cells[j] != 0);
        let best = around.map(|j| (half_width(&ink.ink, j), j)).max_by(|a, b| a.0.total_cmp(&b.0));
        match best {
            Some((w, j)) if w > width => (width, at) = (w, j),
            _ => break,
        }
    }
    let (x, y) = ink.ink.place(at);
    Some((ink.to_mm(x as f64, y as f64), width * ink.mm_per_px()))
}

/// Whether all round there is paper, but for the lines, and the dot is wider than any of those.
pub fn is_round(ink: &PanelInk, lines: &[Stroke], at: Point, radius_mm: f64) -> bool {
    let reach = ROUND_RADII.1 * radius_mm + 1.0;
    let near: Vec<(&Stroke, Vec<Point>)> = lines
        .iter()
        .filter_map(|l| {
            let points: Vec<Point> =
                l.points.iter().copied().filter(|p| p.distance(at) < reach + l.width_mm).collect();
            (!points.is_empty()).then_some((l, points))
        })
        .collect();
    let crossing =
        near.iter().filter(|(_, points)| points.iter().any(|p| p.distance(at) < radius_mm)).count();
    // Where two lines cross there is a wide place that is none.
    let wider = if crossing > 1 { 1.3 * WIDER } else { WIDER };
    if near.iter().any(|(l, _)| radius_mm < wider * 0.5 * l.width_mm) {
        return false;
    }
    let explained = |p: Point| {
        near.iter()
            .any(|(l, points)| points.iter().any(|q| p.distance(*q) < 0.5 * l.width_mm + LINE_SLACK_MM))
    };
    let (mut seen, mut inked) = (0, 0);
    for ring in 0..4 {
        let r = radius_mm * (ROUND_RADII.0 + (ROUND_RADII.1 - ROUND_RADII.0) * f64::from(ring) / 3.0);
        for k in 0..RAYS {
            let t = k as f64 / RAYS as f64 * std::f64::consts::TAU;
            let p = at + r * Vec2::new(t.cos(), t.sin());
            if explained(p) {
                continue;
            }
            let (is_ink, is_print) = ink.at(p);
            seen += usize::from(!is_print);
            inked += usize::from(is_ink);
        }
    }
    seen >= RAYS && inked as f64 <= STICKS_OUT * seen as f64
}

/// Takes round places, each with its radius in mm, out of the ink that no line explains.
pub fn explain(ink: &PanelInk, places: impl Iterator<Item = (Point, f64)>, rest: &mut Bitmap) {
    for (at, radius_mm) in places {
        let (cx, cy) = ink.to_px(at);
        let r = (radius_mm + RIM_MM) / ink.mm_per_px();
        let from = |c: f64| (c - r).floor().max(0.0) as usize;
        let to = |c: f64, most: usize| ((c + r).ceil().max(0.0) as usize + 1).min(most);
        for y in from(cy)..to(cy, rest.height) {
            for x in from(cx)..to(cx, rest.width) {
                if (x as f64 - cx).hypot(y as f64 - cy) <= r {
                    rest.set(x, y, false);
                }
            }
        }
    }
}

/// Whether what was taken for a head is one of the dots.
pub fn is_dot(dots: &[Dot], head: &Head) -> bool {
    dots.iter().any(|d| {
        head.arrow.at.distance(d.at) < d.radius_mm + 2.0 * RIM_MM
            && head.evidence.length_mm < HEAD_RADII * d.radius_mm
    })
}

//! What the rules ask of a panel's lines: rings, gaps, straightness, which sides of a magnet are drawn at.

use crate::geometry::{Point, polyline};
use crate::measure::findings::{LineRecord, PanelRecord};
use crate::worksheet::{Kind, Panel, Source};

/// Gaps are taken at points this far apart along a line, mm.
const STEP_MM: f64 = 4.0;
/// And not nearer to a magnet, where lines crowd on the outline, mm.
const OFF_MAGNET_MM: f64 = 6.0;
/// Wider gaps are white space, not spacing, mm (as in spacing.widen).
const WIDEST_GAP_MM: f64 = 40.0;
/// Fewest gaps that tell of a pattern.
const FEWEST_GAPS: usize = 24;
/// A ring runs outside the outline; a line that dips deeper than this into it leads through the magnet, mm.
const DIP_MM: f64 = 1.0;
/// Beside a magnet: so far to either side of the normal through its middle, degrees.
const BESIDE_DEG: f64 = 35.0;
/// How far from the outline a line still shows the field beside the magnet, mm (as in cover.share).
const BESIDE_MM: f64 = 30.0;
/// A side has room where a point this far from the outline lies in the frame, mm (as in cover.share).
const ROOM_MM: f64 = 15.0;

/// A line's points.
pub(super) fn points(line: &LineRecord) -> Vec<Point> {
    line.points_mm.iter().map(|p| Point::new(p[0], p[1])).collect()
}

/// Whether a closed line runs round a magnet, outside it.
pub(super) fn rings(line: &LineRecord, source: &Source) -> bool {
    let points = points(line);
    if !line.ends.is_empty() || points.len() < 3 {
        return false;
    }
    let outline = source.outline();
    let dips = |p: &&Point| outline.contains(**p) && outline.boundary_distance(**p) > DIP_MM;
    points.iter().filter(dips).count() == 0 && crate::worksheet::Outline::of(points).contains(source.centre)
}

/// Ratio of the 85th to the 15th percentile of the gaps to the nearest other line, in a panel's drawing; `None`
/// where there are too few.
pub(super) fn gap_ratio(panel: &Panel, record: &PanelRecord) -> Option<f64> {
    let lines: Vec<Vec<Point>> = record.lines.iter().map(points).collect();
    let outlines: Vec<_> = panel.sources.iter().map(Source::outline).collect();
    let mut gaps = Vec::new();
    for (i, line) in lines.iter().enumerate() {
        for p in polyline::resample(line, STEP_MM) {
            let free = |o: &crate::worksheet::Outline| o.distance(p) > OFF_MAGNET_MM;
            if !panel.frame.contains(p) || !outlines.iter().all(free) {
                continue;
            }
            let others = lines.iter().enumerate().filter(|(j, _)| *j != i);
            let gap = others.map(|(_, l)| polyline::distance(p, l)).fold(f64::INFINITY, f64::min);
            if gap < WIDEST_GAP_MM {
                gaps.push(gap);
            }
        }
    }
    if gaps.len() < FEWEST_GAPS {
        return None;
    }
    gaps.sort_by(f64::total_cmp);
    let at = |share: f64| gaps[((gaps.len() - 1) as f64 * share) as usize];
    Some(at(0.85) / at(0.15).max(0.1))
}

/// Greatest distance of a line from the chord between its ends, over the chord; `None` for a closed line.
pub(super) fn bulge(line: &LineRecord) -> Option<f64> {
    let points = points(line);
    let (first, last) = (*points.first()?, *points.last()?);
    let chord = (last - first).hypot();
    if line.ends.is_empty() || chord <= 0.0 {
        return None;
    }
    let off = points.iter().map(|p| polyline::segment_distance(*p, first, last)).fold(0.0, f64::max);
    Some(off / chord)
}

/// Whether a magnet has poles at its two ends and sides between them.
pub(super) fn has_sides(source: &Source) -> bool {
    matches!(source.kind, Kind::Bar { .. } | Kind::Rod { .. })
}

/// For the two sides of a magnet that have room: whether any line passes there.
pub(super) fn sides(panel: &Panel, source: &Source, record: &PanelRecord) -> Vec<bool> {
    let outline = source.outline();
    let half_width = match source.kind {
        Kind::Bar { width, .. } => width / 2.0,
        Kind::Rod { diameter, .. } => diameter / 2.0,
        _ => return Vec::new(),
    };
    let beside = |p: Point, side: f64| {
        let q = source.local(p);
        let angle = (q.y * side).atan2(q.x).to_degrees();
        (angle - 90.0).abs() < BESIDE_DEG && outline.distance(p) < BESIDE_MM && !outline.contains(p)
    };
    let room = |side: &f64| {
        let p = source.place(0.0, side * (half_width + ROOM_MM));
        panel.frame.contains(p) && panel.sources.iter().all(|s| !s.outline().contains(p))
    };
    let drawn = |side: f64| record.lines.iter().any(|l| points(l).iter().any(|p| beside(*p, side)));
    [1.0, -1.0].into_iter().filter(room).map(drawn).collect()
}

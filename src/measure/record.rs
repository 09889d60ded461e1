//! What is written of one panel: the likeliest reading, line by line.

use super::Seen;
use super::ends::On;
use super::findings::{
    ArrowRecord, DotRecord, EndRecord, GapRecord, LineRecord, MeetRecord, PanelRecord, SignRecord,
};
use super::meets;
use super::region::Region;
use super::worlds::{Head, Reading};
use super::{ALL, PanelMeasures};
use crate::drawing::{Arrow, Clutter, Drawing, Mark, MarkKind, MeetKind};
use crate::geometry::polyline::resample;
use crate::geometry::{Point, Vec2, angle_deg};

/// Spacing of the points written. Straight pieces this long keep within 0.01 mm of any curve that turns
/// slower than one of 12 mm radius.
const WRITTEN_STEP_MM: f64 = 1.0;

/// The panel's findings.
pub(super) fn record(
    region: &Region,
    drawing: &Drawing,
    seen: &Seen,
    reading: &Reading,
    measures: &PanelMeasures,
) -> PanelRecord {
    let mut ids = vec![String::new(); region.lines.len()];
    let mut lines = Vec::new();
    for i in (0..region.lines.len()).filter(|i| reading.lines[*i]) {
        ids[i] = format!("l{}", lines.len() + 1);
        lines.push(line_record(region, seen, reading, i, ids[i].clone()));
    }
    let there = seen.places.iter().zip(&reading.meets);
    let counted = there.filter(|(p, there)| meets::counts(p, **there, &seen.ends, reading));
    let meets = counted
        .map(|(p, _)| MeetRecord {
            at_mm: place(p.at),
            kind: match p.kind {
                MeetKind::Cross => "cross".into(),
                MeetKind::Touch => "touch".into(),
            },
            lines: [ids[p.lines.0].clone(), ids[p.lines.1].clone()],
            sure: round(p.sure),
        })
        .collect();
    let crossed_out = drawing.dropped.iter().filter(|d| d.why == Clutter::CrossedOut);
    let dots = drawing.dots.iter().zip(&reading.dots).filter(|(_, there)| **there);
    let signs = drawing.marks.iter().zip(&reading.marks).filter(|(_, there)| **there);
    PanelRecord {
        placed: None,
        crossed_out: crossed_out.map(|d| place(d.at)).collect(),
        id: region.panel.id.clone(),
        lines,
        meets,
        gaps: seen.odd_gaps.iter().map(|o| GapRecord { at_mm: place(o.at), ratio: round(o.ratio) }).collect(),
        dots: dots.map(|(d, _)| DotRecord { at_mm: place(d.at) }).collect(),
        signs: signs.map(|(m, _)| sign_record(m)).collect(),
        measures: measures.spans(),
        silent: seen.silent().chain(measures.silent()).map(|id| ALL[id as usize].name.to_string()).collect(),
    }
}

fn sign_record(mark: &Mark) -> SignRecord {
    let kind = match mark.kind {
        MarkKind::Cross => "cross",
        MarkKind::Dot => "dot",
        MarkKind::Ring => "ring",
    };
    SignRecord {
        at_mm: place(mark.at),
        kind: kind.into(),
        size_mm: round(mark.size_mm),
        sure: round(mark.sure),
    }
}

fn line_record(region: &Region, seen: &Seen, reading: &Reading, i: usize, id: String) -> LineRecord {
    let traced = &region.lines[i];
    let line = traced.line;
    let on = seen.ends[i].on(reading.ends[i]);
    let heads = line.arrows.iter().zip(&seen.arrows[i]).zip(&reading.heads[i]).zip(&seen.trust[i]);
    let angle = seen.angles.of_line(i);
    LineRecord {
        id,
        points_mm: resample(&line.points, WRITTEN_STEP_MM).into_iter().map(place).collect(),
        length_mm: round(traced.length_mm),
        width_mm: round(line.width_mm),
        arrows: heads
            .filter(|((_, h), _)| **h != Head::Absent)
            .map(|(((a, j), h), trust)| ArrowRecord {
                at_mm: place(a.at),
                towards_deg: round(angle_deg(towards(a, j.sure(on, line.sure), *h))),
                agrees: j.agrees(on, *h == Head::Turned),
                sure: round(trust.sure),
            })
            .collect(),
        ends: ends(region, &traced.points, on),
        angle_deg: super::findings::AngleRecord {
            median: angle.median.map(round),
            p90: angle.p90.map(round),
        },
        sure: round(line.sure),
    }
}

/// The way an arrow is taken to point: turned where its barbs were misread, not where what it is held against (that sure) was.
fn towards(arrow: &Arrow, field_sure: f64, head: Head) -> Vec2 {
    let misread = head == Head::Turned && arrow.way_sure < field_sure;
    if misread { -arrow.towards } else { arrow.towards }
}

fn ends(region: &Region, points: &[Point], on: Option<[On; 2]>) -> Vec<EndRecord> {
    let (Some(on), [first, .., last]) = (on, points) else { return Vec::new() };
    let end = |(p, on): (&Point, On)| EndRecord { at_mm: place(*p), on: on.word(region.panel) };
    [first, last].into_iter().zip(on).map(end).collect()
}

/// Written to a micrometre: a thousandth of what is read.
fn round(v: f64) -> f64 {
    const PARTS: f64 = 1e3;
    (v * PARTS).round() / PARTS
}

fn place(p: Point) -> [f64; 2] {
    [round(p.x), round(p.y)]
}

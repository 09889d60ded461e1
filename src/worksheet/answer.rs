//! The computed field lines of a panel: the answer to the sheet.
//!
//! Lines start at equal steps of the flux that the in-plane field sends through the sources' outlines, and
//! through the frame where they come from outside: where they crowd, the field is strong. In a flat cut of a
//! three-dimensional field that holds where lines start and only roughly further on, since flux also leaves
//! the plane (docs/field.md).

use super::bodies::{End, PanelField};
use super::{Half, Panel, Source};
use crate::geometry::{Point, Vec2};

/// Flux is summed over pieces of an outline of at most this length, mm.
const PIECE_MM: f64 = 0.25;
/// Flux is taken, and lines start, so far outside an outline (inside the frame), mm: on the very edge of a
/// magnet the field has no finite value.
const OFF_MM: f64 = 0.1;
/// The step is set anew at most so often until there are about as many lines as asked for.
const MOST_TURNS: usize = 6;
/// "About": within this share of what was asked for.
const NEAR_SHARE: f64 = 0.05;

/// A computed line.
#[derive(Clone, Debug, PartialEq)]
pub struct FieldLine {
    /// The way the field points, mm.
    pub points: Vec<Point>,
    /// What it starts and ends on, in the words of a drawn line's ends (`left.N`, `frame`, `leaves`, ...).
    pub from: String,
    pub to: String,
}

/// The lines of a panel, about `count` of them.
///
/// The same panel and count give the same lines. Fewer where the field has no flux in the plane.
pub fn field_lines(panel: &Panel, field: &PanelField, count: usize) -> Vec<FieldLine> {
    let walls = Walls::of(field);
    let flux: f64 = walls.sources.iter().map(|w| w.flux(1.0)).sum::<f64>().max(walls.frame.flux(1.0));
    if count == 0 || flux <= 0.0 || !flux.is_finite() {
        return Vec::new();
    }
    let mut step = flux / count as f64;
    let mut best: Vec<Whole> = Vec::new();
    let miss = |n: usize| (n as f64 - count as f64).abs() / count as f64;
    for turn in 0..MOST_TURNS {
        let lines = walls.lines(field, step);
        let got = lines.len();
        if turn == 0 || miss(got) < miss(best.len()) {
            best = lines;
        }
        if miss(best.len()) <= NEAR_SHARE {
            break;
        }
        step *= (got.max(1) as f64 / count as f64).clamp(0.2, 5.0);
    }
    best.into_iter().map(|line| line.named(panel)).collect()
}

/// A line and what both its ends met.
struct Whole {
    points: Vec<Point>,
    from: End,
    to: End,
}

impl Whole {
    fn named(self, panel: &Panel) -> FieldLine {
        let (first, last) = (self.points[0], self.points[self.points.len() - 1]);
        let (from, to) = (on(panel, self.from, first), on(panel, self.to, last));
        FieldLine { points: self.points, from, to }
    }
}

/// What an end lies on, in the contract's words.
fn on(panel: &Panel, end: End, at: Point) -> String {
    let of = |source: &Source| match source.half(at) {
        Half::N => format!("{}.N", source.id),
        Half::S => format!("{}.S", source.id),
        Half::Mid => format!("{}.mid", source.id),
        Half::None => source.id.clone(),
    };
    match end {
        End::Source(n) => panel.sources.get(n).map(of).unwrap_or_default(),
        End::Frame => "frame".to_string(),
        End::Neutral => "leaves".to_string(),
        End::Long => "open".to_string(),
    }
}

/// A closed line that flux goes through, in pieces.
struct Wall {
    pieces: Vec<Piece>,
}

#[derive(Clone, Copy)]
struct Piece {
    middle: Point,
    /// Flux through it into the free plane, mT mm.
    flux: f64,
}

struct Walls {
    /// In the order of the sources.
    sources: Vec<Wall>,
    frame: Wall,
}

impl Walls {
    fn of(field: &PanelField) -> Self {
        let sources = field.outlines().iter().map(|o| Wall::of(field, o.sides(), o.turning())).collect();
        let f = field.frame();
        let corners = [(f.x0, f.y0), (f.x1, f.y0), (f.x1, f.y1), (f.x0, f.y1)].map(|(x, y)| Point::new(x, y));
        let sides = (0..4).map(|n| (corners[n], corners[(n + 1) % 4]));
        // Free plane lies inside the frame, outside the sources.
        Self { sources, frame: Wall::of(field, sides, -1.0) }
    }

    /// Every line for one step of flux: out of the sources; into the sources from elsewhere; across the frame
    /// without meeting a source.
    fn lines(&self, field: &PanelField, step: f64) -> Vec<Whole> {
        let mut lines = Vec::new();
        for (n, wall) in self.sources.iter().enumerate() {
            for start in wall.starts(step, 1.0) {
                let trace = field.follow(start, 1.0);
                lines.push(Whole { points: trace.points, from: End::Source(n), to: trace.end });
            }
        }
        for (n, wall) in self.sources.iter().enumerate() {
            for start in wall.starts(step, -1.0) {
                let mut trace = field.follow(start, -1.0);
                // Those that come from a source were drawn from there.
                if !matches!(trace.end, End::Source(_)) {
                    trace.points.reverse();
                    lines.push(Whole { points: trace.points, from: trace.end, to: End::Source(n) });
                }
            }
        }
        for start in self.frame.starts(step, 1.0) {
            let trace = field.follow(start, 1.0);
            if !matches!(trace.end, End::Source(_)) {
                lines.push(Whole { points: trace.points, from: End::Frame, to: trace.end });
            }
        }
        lines.retain(|line| line.points.len() > 1);
        lines
    }
}

impl Wall {
    /// `turning`: 1 where the sides run clockwise as seen round what is not free, or anticlockwise round what is;
    /// else -1.
    fn of(field: &PanelField, sides: impl Iterator<Item = (Point, Point)>, turning: f64) -> Self {
        let mut places = Vec::new();
        for (a, b) in sides {
            let (side, length) = (b - a, a.distance(b));
            if length <= 0.0 {
                continue;
            }
            // y points down: of a side that runs clockwise as seen, (dy, -dx) points outwards.
            let outwards = Vec2::new(side.y, -side.x) / length * turning;
            let count = (length / PIECE_MM).ceil().max(1.0);
            for i in 0..count as usize {
                let middle = a.lerp(b, (i as f64 + 0.5) / count) + outwards * OFF_MM;
                places.push((middle, outwards * (length / count)));
            }
        }
        let middles: Vec<Point> = places.iter().map(|(middle, _)| *middle).collect();
        let flux = field.b_many(&middles).into_iter().zip(&places).map(|(b, (middle, through))| Piece {
            middle: *middle,
            flux: b[0] * through.x + b[1] * through.y,
        });
        Self { pieces: flux.collect() }
    }

    /// All flux of one sign, mT mm.
    fn flux(&self, sense: f64) -> f64 {
        self.pieces.iter().map(|p| (p.flux * sense).max(0.0)).sum()
    }

    /// Places equal shares of flux apart, about a step each; every stretch of this sign, as a pole face, is
    /// shared out by itself, so that a pattern with a mirror line keeps it.
    fn starts(&self, step: f64, sense: f64) -> Vec<Point> {
        // Begin where the other sign is, so that no stretch is cut.
        let first = self.pieces.iter().position(|p| p.flux * sense <= 0.0).unwrap_or(0);
        let turned: Vec<Piece> = self.pieces[first..].iter().chain(&self.pieces[..first]).copied().collect();
        let mut starts = Vec::new();
        for stretch in turned.chunk_by(|a, b| (a.flux * sense > 0.0) == (b.flux * sense > 0.0)) {
            let flux: f64 = stretch.iter().map(|p| p.flux * sense).sum();
            let count = (flux / step).round();
            if count < 1.0 {
                continue;
            }
            let share = flux / count;
            let mut gathered = share / 2.0;
            for piece in stretch {
                gathered += piece.flux * sense;
                if gathered >= share {
                    gathered = (gathered - share).min(share);
                    starts.push(piece.middle);
                }
            }
        }
        starts
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::worksheet::Worksheet;
    use std::path::Path;

    fn panel(text: &str) -> Panel {
        let head = "worksheet: 1\nid: ab\ntitle: T\npaper: a4\norientation: landscape\npanels:\n  - id: A\n    prompt: P\n    frame_mm: [20, 45, 257, 140]\n";
        Worksheet::parse(Path::new("w"), &format!("{head}{text}")).unwrap().panels.remove(0)
    }

    const BAR: &str = "    sources:\n      - { kind: bar, id: bar, centre_mm: [148.5, 115], size_mm: [60, 16, 10], north_deg: 0, remanence_mt: 400 }\n";

    #[test]
    fn about_as_many_lines_as_asked_for_and_all_along_the_field() {
        let panel = panel(BAR);
        let field = panel.field();
        for count in [8, 20, 40] {
            let lines = field_lines(&panel, &field, count);
            assert!(
                (lines.len() as f64 - count as f64).abs() <= 0.2 * count as f64,
                "{count}: {}",
                lines.len()
            );
            for line in &lines {
                let middle = line.points.len() / 2;
                let (a, b) = (line.points[middle - 1], line.points[middle]);
                assert!((b - a).normalize().dot(field.direction(a.midpoint(b))) > 0.999);
                assert!(["bar.N", "bar.mid", "frame"].contains(&line.from.as_str()), "{}", line.from);
                assert!(["bar.S", "bar.mid", "frame"].contains(&line.to.as_str()), "{}", line.to);
            }
        }
    }

    /// The flux that leaves a magnet in the plane is that which comes back, by the mirror symmetry of a bar.
    #[test]
    fn a_bars_flux_out_is_its_flux_in() {
        let field = panel(BAR).field();
        let walls = Walls::of(&field);
        let (out, back) = (walls.sources[0].flux(1.0), walls.sources[0].flux(-1.0));
        assert!(out > 0.0 && (out - back).abs() < 1e-9 * out, "{out} {back}");
    }

    /// Lines that start at equal steps of flux: on the N face of a long bar, about where the field is even, they
    /// are evenly spaced.
    #[test]
    fn half_the_lines_start_on_each_side_of_the_axis() {
        let panel = panel(BAR);
        let field = panel.field();
        let walls = Walls::of(&field);
        let starts = walls.sources[0].starts(walls.sources[0].flux(1.0) / 20.0, 1.0);
        let above = starts.iter().filter(|p| p.y < 115.0).count();
        assert_eq!((starts.len(), above), (20, 10));
    }

    #[test]
    fn a_uniform_background_crosses_the_frame() {
        let weak = BAR.replace("remanence_mt: 400", "remanence_mt: 0.0001");
        let panel = panel(&format!("{weak}    earth: {{ horizontal_ut: 50, north_deg: 0 }}\n"));
        let lines = field_lines(&panel, &panel.field(), 12);
        let across = lines.iter().filter(|l| l.from == "frame" && l.to == "frame").count();
        assert!(across >= 8, "{across} of {}", lines.len());
    }
}

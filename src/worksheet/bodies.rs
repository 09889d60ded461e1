//! A panel's sources as bodies of [`crate::field`], and the field in the plane of the paper.
//!
//! The page's y points down and its z to the reader: a left-handed triple. Here, and only here, it is turned into the
//! right-handed axes of `field` and back.

use super::outline::Outline;
use super::{Kind, Panel, Source};
use crate::field::{
    Body, ChargedRectangle, Cuboid, CylinderAxial, CylinderDiametral, Dipole, Field, MU0, Shape, Sphere,
    Triple, lines, neutral,
};
use crate::geometry::{Point, Rect, Vec2};
use std::f64::consts::PI;
use std::ops::ControlFlow;
use std::sync::OnceLock;

/// Longest line that is followed, mm (contract): three times a page.
pub const LONGEST_LINE_MM: f64 = 900.0;
/// Neutral points count from this far inside the frame, mm (contract).
pub const NEUTRAL_INSIDE_MM: f64 = 5.0;
/// A place nearer than this to a magnet is no neutral point, mm (contract's scorer).
const NEUTRAL_OFF_SOURCE_MM: f64 = 1.0;
/// A line that comes this near to a neutral point ends there, mm: nearer its way is no longer defined, and no
/// pencil tells the difference.
const NEUTRAL_REACH_MM: f64 = 0.2;
/// Spacing of a followed line's points, mm; also how finely frame and magnets are looked for on the way.
pub const TRACE_STEP_MM: f64 = 0.5;
/// The stop is found to this, mm.
const STOP_TO_MM: f64 = 1e-3;
/// Flux density below which there is no direction, mT: a billionth of the Earth's.
const NO_FIELD_MT: f64 = 1e-12;

/// The field of one panel in the plane of its paper: page millimetres in, millitesla along the page's axes out.
#[derive(Debug)]
pub struct PanelField {
    field: Field,
    plane_mm: f64,
    frame: Rect,
    outlines: Vec<Outline>,
    neutral: OnceLock<Neutral>,
}

/// Neutral points: those that count, and those that stop a line.
#[derive(Debug)]
struct Neutral {
    counted: Vec<Point>,
    all: Vec<Point>,
}

/// Why a followed line stops.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// It leaves the frame.
    Frame,
    /// It meets a source: its index in [`Panel::sources`].
    Source(usize),
    /// It runs into a neutral point.
    Neutral,
    /// [`LONGEST_LINE_MM`] without any of these.
    Long,
}

/// A followed line.
#[derive(Clone, Debug, PartialEq)]
pub struct Trace {
    /// From where it began to its stop, at most about [`TRACE_STEP_MM`] apart.
    pub points: Vec<Point>,
    /// Its last point: just beyond the frame, just inside the source, or at the neutral point.
    pub stop: Point,
    pub end: End,
}

impl Panel {
    /// The panel's field, ready to be asked.
    pub fn field(&self) -> PanelField {
        let mut background = [0.0; 3];
        if let Some(earth) = &self.earth {
            let (s, c) = earth.north_deg.to_radians().sin_cos();
            // Microtesla to millitesla.
            background = [c, s, 0.0].map(|x| x * earth.horizontal_ut * 1e-3);
        }
        PanelField {
            field: Field { bodies: self.sources.iter().flat_map(bodies).collect(), background },
            plane_mm: self.plane_mm,
            frame: self.frame,
            outlines: self.sources.iter().map(Source::outline).collect(),
            neutral: OnceLock::new(),
        }
    }
}

/// The bodies that a source stands for, in right-handed axes: (x, -y, z) of the page.
fn bodies(source: &Source) -> Vec<Body> {
    let at = |p: Point| [p.x, -p.y, 0.0];
    let centre = at(source.centre);
    let deg = source.north_deg;
    let one = |shape| vec![Body::turned(shape, centre, deg)];
    match source.kind {
        Kind::Bar { length, width, thickness, remanence_mt } => {
            one(Shape::Cuboid(Cuboid { size: [length, width, thickness], polarisation: remanence_mt }))
        }
        Kind::Rod { length, diameter, remanence_mt } => {
            let rod = CylinderAxial { diameter, length, polarisation: remanence_mt };
            vec![Body::lying(Shape::CylinderAxial(rod), centre, deg)]
        }
        Kind::Disc { diameter, thickness, remanence_mt } => {
            let disc = CylinderDiametral { diameter, length: thickness, polarisation: remanence_mt };
            one(Shape::CylinderDiametral(disc))
        }
        Kind::DiscThrough { diameter, thickness, remanence_mt, up } => {
            let polarisation = if up { remanence_mt } else { -remanence_mt };
            one(Shape::CylinderAxial(CylinderAxial { diameter, length: thickness, polarisation }))
        }
        Kind::Horseshoe { width, depth, thickness, limb, remanence_mt, north_left } => {
            // Mitred corners: only the two open end faces carry pole strength (docs/field.md).
            let across = (width - limb) / 2.0;
            let left = if north_left { remanence_mt } else { -remanence_mt };
            [(across, left), (-across, -left)]
                .map(|(v, charge)| {
                    let face = ChargedRectangle { width: limb, height: thickness, charge };
                    Body::turned(Shape::ChargedRectangle(face), at(source.place(depth / 2.0, v)), deg)
                })
                .to_vec()
        }
        Kind::Globe { diameter, remanence_mt } => {
            one(Shape::Sphere(Sphere { diameter, polarisation: remanence_mt }))
        }
        Kind::Dipole { moment_am2 } => {
            // mu0/(4 pi) m / r³ with r in millimetres (1e9) and the answer in millitesla (1e3).
            one(Shape::Dipole(Dipole { strength: MU0 / (4.0 * PI) * 1e12 * moment_am2 }))
        }
    }
}

impl PanelField {
    /// Flux density, mT along the page's axes: by > 0 points down the page, bz > 0 to the reader.
    pub fn b(&self, p: Point) -> [f64; 3] {
        let [x, y, z] = self.field.b(self.place(p));
        [x, -y, z]
    }

    /// [`PanelField::b`] at many places, several at once: the same bits.
    pub fn b_many(&self, places: &[Point]) -> Vec<[f64; 3]> {
        let places: Vec<Triple> = places.iter().map(|p| self.place(*p)).collect();
        let mut out = vec![[0.0; 3]; places.len()];
        self.field.b_many(&places, &mut out);
        for b in &mut out {
            b[1] = -b[1];
        }
        out
    }

    /// The way the field points in the paper's plane, as a unit step; zero where it has none.
    pub fn direction(&self, p: Point) -> Vec2 {
        unit(self.b(p))
    }

    /// [`PanelField::direction`] at many places, several at once: the same bits.
    pub fn direction_many(&self, places: &[Point]) -> Vec<Vec2> {
        self.b_many(places).into_iter().map(unit).collect()
    }

    /// The field of the bodies, in its own axes: (x, -y, z) of the page.
    pub fn bodies(&self) -> &Field {
        &self.field
    }

    /// The frame, mm.
    pub fn frame(&self) -> Rect {
        self.frame
    }

    /// The sources' outlines, in the order of [`Panel::sources`].
    pub fn outlines(&self) -> &[Outline] {
        &self.outlines
    }

    /// Places at least [`NEUTRAL_INSIDE_MM`] inside the frame and outside the sources where the field in the
    /// paper's plane vanishes, from top to bottom. Found at the first call, then remembered.
    pub fn neutral_points(&self) -> &[Point] {
        &self.neutral().counted
    }

    fn neutral(&self) -> &Neutral {
        self.neutral.get_or_init(|| {
            let in_plane =
                |places: &[Point]| self.b_many(places).into_iter().map(|b| Vec2::new(b[0], b[1])).collect();
            let off_sources = |p: Point| {
                self.outlines.iter().all(|o| {
                    o.at_least_away(p) > NEUTRAL_OFF_SOURCE_MM || o.distance(p) > NEUTRAL_OFF_SOURCE_MM
                })
            };
            let all = neutral::find(in_plane, self.frame, off_sources);
            let within = self.frame.inset(-NEUTRAL_INSIDE_MM);
            Neutral { counted: all.iter().copied().filter(|p| within.contains(*p)).collect(), all }
        })
    }

    /// The computed line from `from`, along the field (`sense` > 0) or against it, until it leaves the frame, meets
    /// a source or runs into a neutral point; [`LONGEST_LINE_MM`] at most. A start outside the
    /// frame or inside a source stops at once.
    pub fn follow(&self, from: Point, sense: f64) -> Trace {
        let mut points = vec![from];
        if let Some(end) = self.end_at(from) {
            return Trace { points, stop: from, end };
        }
        let sense = if sense < 0.0 { -1.0 } else { 1.0 };
        let mut end = End::Long;
        let mut last = from;
        lines::follow(
            |p| sense * self.direction(p),
            from,
            LONGEST_LINE_MM,
            |step| {
                let samples = (step.length_mm / TRACE_STEP_MM).ceil().max(1.0);
                let mut before = 0.0;
                for i in 1..=samples as usize {
                    let share = i as f64 / samples;
                    let p = step.at(share);
                    if let Some(found) = self.end_at(p) {
                        let p = self.first_beyond(step, before, share);
                        points.push(p);
                        end = self.end_at(p).unwrap_or(found);
                        return ControlFlow::Break(());
                    }
                    if let Some(neutral) = self.neutral_between(last, p) {
                        points.push(neutral);
                        end = End::Neutral;
                        return ControlFlow::Break(());
                    }
                    points.push(p);
                    last = p;
                    before = share;
                }
                ControlFlow::Continue(())
            },
        );
        let stop = points[points.len() - 1];
        Trace { points, stop, end }
    }

    /// What a line meets at a place, if anything.
    fn end_at(&self, p: Point) -> Option<End> {
        let f = &self.frame;
        if !(p.x > f.x0 && p.x < f.x1 && p.y > f.y0 && p.y < f.y1) {
            return Some(End::Frame);
        }
        self.outlines.iter().position(|o| o.contains(p)).map(End::Source)
    }

    /// The first place of a step, between a share that is free and one that is not, that is not.
    fn first_beyond(&self, step: &lines::Step, mut free: f64, mut beyond: f64) -> Point {
        while (beyond - free) * step.length_mm > STOP_TO_MM {
            let middle = 0.5 * (free + beyond);
            if self.end_at(step.at(middle)).is_some() {
                beyond = middle;
            } else {
                free = middle;
            }
        }
        step.at(beyond)
    }

    fn neutral_between(&self, a: Point, b: Point) -> Option<Point> {
        self.neutral()
            .all
            .iter()
            .copied()
            .find(|q| crate::geometry::polyline::segment_distance(*q, a, b) < NEUTRAL_REACH_MM)
    }

    fn place(&self, p: Point) -> Triple {
        [p.x, -p.y, self.plane_mm]
    }
}

fn unit(b: [f64; 3]) -> Vec2 {
    let v = Vec2::new(b[0], b[1]);
    let n = v.hypot();
    if n > NO_FIELD_MT { v / n } else { Vec2::ZERO }
}

#[cfg(test)]
mod tests {
    use super::super::{Earth, Half};
    use super::*;
    use crate::geometry::polyline;

    fn bar(id: &str, x: f64, north_deg: f64) -> Source {
        let kind = Kind::Bar { length: 50., width: 15., thickness: 10., remanence_mt: 400. };
        Source { id: id.into(), kind, centre: Point::new(x, 115.), north_deg }
    }

    fn panel(sources: Vec<Source>) -> Panel {
        Panel {
            id: "A".into(),
            prompt: String::new(),
            frame: Rect::new(20., 45., 277., 185.),
            plane_mm: 0.0,
            sources,
            earth: None,
        }
    }

    #[test]
    fn axes_are_the_pages() {
        let field = panel(vec![bar("m", 148.5, 90.)]).field();
        // N end up: above it the field points up the page, beside it down.
        assert!(field.b(Point::new(148.5, 80.))[1] < 0.0 && field.b(Point::new(170., 115.))[1] > 0.0);
        assert!((field.direction(Point::new(148.5, 60.)) - Vec2::new(0., -1.)).hypot() < 1e-9);
        let earth = Panel { earth: Some(Earth { horizontal_ut: 18., north_deg: 90. }), ..panel(vec![]) };
        let b = earth.field().b(Point::new(50., 60.));
        assert!(b[0].abs() < 1e-15 && (b[1] + 0.018).abs() < 1e-15, "{b:?}");
        assert_eq!(panel(vec![]).field().direction(Point::ZERO), Vec2::ZERO);
    }

    #[test]
    fn lines_run_from_the_n_half_to_the_s_half() {
        let p = panel(vec![bar("m", 148.5, 0.)]);
        let field = p.field();
        for (dx, dy) in [(22., 9.), (18., -8.), (15., -9.), (5., 9.)] {
            let t = field.follow(Point::new(148.5 + dx, 115. + dy), 1.0);
            assert_eq!(t.end, End::Source(0));
            assert_ne!(p.sources[0].half(t.stop), Half::N);
            assert!(field.outlines()[0].boundary_distance(t.stop) < 2.0 * STOP_TO_MM);
            assert!(t.points.windows(2).all(|w| (w[1] - w[0]).hypot() < 1.1 * TRACE_STEP_MM));
            // The way back ends where it began.
            let back = field.follow(t.points[t.points.len() - 2], -1.0);
            assert!(polyline::distance(t.points[0], &back.points) < 0.02);
        }
        let away = field.follow(Point::new(175., 115.), 1.0);
        assert_eq!(away.end, End::Frame);
        assert!((away.stop.x - 277.).abs() < 2.0 * STOP_TO_MM && (away.stop.y - 115.).abs() < 1e-6);
    }

    /// Every chord of a followed line points as the field does in its middle.
    #[test]
    fn a_followed_line_follows_the_field() {
        let field = panel(vec![bar("a", 95., 0.), bar("b", 202., 0.)]).field();
        for y in [60., 100., 110., 140.] {
            let t = field.follow(Point::new(150., y), 1.0);
            for w in t.points.windows(2) {
                // Near a magnet's corner a line bends within its chord.
                if field.outlines().iter().any(|o| o.distance(w[0]) < 3.0) {
                    continue;
                }
                let way = (w[1] - w[0]) / (w[1] - w[0]).hypot();
                let off = way.cross(field.direction(w[0].midpoint(w[1]))).abs();
                assert!(off < 2e-3, "{off} at {:?}", w[0]);
            }
        }
    }

    #[test]
    fn between_like_poles_the_axis_ends_on_the_neutral_point() {
        let field = panel(vec![bar("a", 88., 0.), bar("b", 209., 180.)]).field();
        assert_eq!(field.neutral_points().len(), 1);
        let neutral = Point::new(148.5, 115.);
        assert!((field.neutral_points()[0] - neutral).hypot() < 1e-9);
        let t = field.follow(Point::new(114., 115.), 1.0);
        assert_eq!((t.end, t.stop), (End::Neutral, field.neutral_points()[0]));
    }

    #[test]
    fn a_start_that_is_no_place_for_a_line_stops_at_once() {
        let field = panel(vec![bar("m", 148.5, 0.)]).field();
        for (p, end) in [
            (Point::new(10., 100.), End::Frame),
            (Point::new(148., 115.), End::Source(0)),
            (Point::new(f64::NAN, 100.), End::Frame),
        ] {
            let t = field.follow(p, 1.0);
            assert_eq!((t.end, t.points.len()), (end, 1));
        }
        assert_eq!(panel(vec![]).field().follow(Point::new(100., 100.), 1.0).end, End::Long);
    }

    #[test]
    fn many_places_give_the_same_bits_as_one() {
        let field = panel(vec![bar("a", 95., 10.), bar("b", 202., 200.)]).field();
        let places: Vec<Point> =
            (0..777).map(|i| Point::new(20. + (i % 31) as f64 * 8., 45. + i as f64 * 0.18)).collect();
        let (b, d) = (field.b_many(&places), field.direction_many(&places));
        for (i, p) in places.iter().enumerate() {
            assert_eq!((b[i], d[i]), (field.b(*p), field.direction(*p)));
        }
    }
}

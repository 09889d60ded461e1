//! The flux of the in-plane field through a closed outline, and places on it at equal steps of that flux.

use super::bodies::PanelField;
use super::outline::Outline;
use super::{Kind, Source};
use crate::geometry::{Point, Vec2, polyline, towards};

/// Spacing of the places on an outline, mm; a small ring has at least [`FEWEST_PLACES`].
const SPACING_MM: f64 = 0.25;
const FEWEST_PLACES: f64 = 720.0;
/// A ring is as good as its own mirror image about a place if its flux differs by less than this share.
const MIRRORED: f64 = 1e-3;
/// Half a step of flux rounds up only from this share of a step on: the step is often so that it is half a step that is
/// left, and of two stretches that are alike but for rounding one would else have a line more.
const HALF_BY: f64 = 1e-6;
/// How far off an outline the flux is taken, mm: clear of the edges, where flux density is infinite, and nearer
/// than any drawn line starts.
const OFF_MM: f64 = 0.4;
/// A corner that turns by more than this gets an arc of places round it.
const CORNER_RAD: f64 = 0.2;
/// Places on such an arc.
const ARC_PLACES: usize = 4;

/// A place on a ring with the flux that leaves there: flux density along the outward normal times length, mT mm.
#[derive(Clone, Copy, Debug)]
pub(super) struct RingPoint {
    pub place: Point,
    pub flux: f64,
}

/// A closed outline as places in order.
///
/// Flux counts in one sense: what leaves (1) or what enters (-1); the other counts as 0.
pub(super) struct Ring {
    points: Vec<RingPoint>,
    /// A line from end to end, not closed.
    open: bool,
    /// Where a ring of one sense all round begins.
    mirror: Option<usize>,
}

/// A stretch of a ring where all flux is of one sense.
pub(super) struct Stretch {
    /// What leaves (1) or what enters (-1).
    pub sense: f64,
    /// The whole flux, mT mm.
    pub flux: f64,
    points: Vec<RingPoint>,
}

/// A place, its outward normal and the length it stands for, mm.
type Site = (Point, Vec2, f64);

/// The ring [`OFF_MM`] outside a source's outline.
pub(super) fn outline_ring(outline: &Outline, field: &PanelField) -> Ring {
    let turning = outline.turning();
    let spacing = SPACING_MM.min(outline.length() / FEWEST_PLACES);
    let sides: Vec<(Point, Vec2, f64)> = outline
        .sides()
        .map(|(a, b)| {
            let d = (b - a) / (b - a).hypot();
            (a, Vec2::new(d.y, -d.x) * turning, (b - a).hypot())
        })
        .collect();
    let mut sites: Vec<Site> = Vec::new();
    for (i, &(from, normal, length)) in sides.iter().enumerate() {
        let along = Vec2::new(-normal.y, normal.x) * turning;
        sites.extend(along_side(from + OFF_MM * normal, along, normal, length, spacing));
        let next = sides[(i + 1) % sides.len()].1;
        let turn = turning * normal.cross(next).atan2(normal.dot(next));
        if turn > CORNER_RAD {
            let corner = from + length * along;
            sites.extend((0..ARC_PLACES).map(|k| {
                let way = rotated(normal, turning * turn * (k as f64 + 0.5) / ARC_PLACES as f64);
                (corner + OFF_MM * way, way, OFF_MM * turn / ARC_PLACES as f64)
            }));
        }
    }
    // In an inner corner the sides' rings overlap.
    sites.retain(|s| outline.boundary_distance(s.0) > 0.99 * OFF_MM && !outline.contains(s.0));
    Ring::of(sites, field)
}

/// The way across the middle of a coil; its normal points as the field does inside.
pub(super) fn coil_gate(source: &Source, field: &PanelField) -> Option<Ring> {
    let Kind::Coil { diameter, .. } = source.kind else { return None };
    let across = towards(source.north_deg + 90.0);
    let from = source.centre - across * (diameter / 2.0);
    let sites = along_side(from, across, towards(source.north_deg), diameter, SPACING_MM);
    Some(Ring { open: true, ..Ring::of(sites.collect(), field) })
}

/// The ring just inside the frame; its normal points out of the frame.
pub(super) fn frame_ring(field: &PanelField) -> Ring {
    /// Inside by more than a line's stop is found to, mm.
    const INSIDE_MM: f64 = 0.01;
    let f = field.frame().inset(-INSIDE_MM);
    let sides = [
        (Point::new(f.x0, f.y0), Vec2::new(1., 0.), Vec2::new(0., -1.), f.width()),
        (Point::new(f.x1, f.y0), Vec2::new(0., 1.), Vec2::new(1., 0.), f.height()),
        (Point::new(f.x1, f.y1), Vec2::new(-1., 0.), Vec2::new(0., 1.), f.width()),
        (Point::new(f.x0, f.y1), Vec2::new(0., -1.), Vec2::new(-1., 0.), f.height()),
    ];
    let sites = sides
        .into_iter()
        .flat_map(|(from, along, normal, length)| along_side(from, along, normal, length, 2.0 * SPACING_MM));
    Ring::of(sites.collect(), field)
}

/// Places in the middles of even pieces of a side.
fn along_side(
    from: Point,
    along: Vec2,
    normal: Vec2,
    length: f64,
    spacing: f64,
) -> impl Iterator<Item = Site> {
    let pieces = (length / spacing).ceil().max(1.0);
    let piece = length / pieces;
    (0..pieces as usize).map(move |k| (from + (k as f64 + 0.5) * piece * along, normal, piece))
}

/// The place where the count reaches `wanted`, on the way from one place of a ring to the next.
fn between(before: Option<(Point, f64)>, here: (Point, f64), wanted: f64) -> Point {
    match before {
        // A cut corner's places lie apart: the ring does not run straight between them.
        Some((place, at)) if at < here.1 && (place - here.0).hypot() < 4.0 * SPACING_MM => {
            place.lerp(here.0, (wanted - at) / (here.1 - at))
        }
        _ => here.0,
    }
}

fn rotated(v: Vec2, angle: f64) -> Vec2 {
    let (s, c) = angle.sin_cos();
    Vec2::new(c * v.x - s * v.y, s * v.x + c * v.y)
}

impl Stretch {
    /// Places about a step of flux apart: every stretch is shared out evenly by itself, so that a pattern with a mirror line
    /// keeps it; one with less than half a step gets none.
    pub fn even_starts(&self, step: f64) -> Vec<Point> {
        let count = (self.flux / step + 0.5 - HALF_BY).floor().min(super::answer::MOST_LINES as f64);
        let mut out = Vec::new();
        let (mut sum, mut next, mut before) = (0.0, 0.5, None);
        for point in &self.points {
            let part = self.sense * point.flux / self.flux * count;
            // Half of a place's flux passes before it, half after.
            let at = sum + 0.5 * part;
            sum += part;
            while next < count && next <= at {
                out.push(between(before, (point.place, at), next));
                next += 1.0;
            }
            before = Some((point.place, at));
        }
        // Half of the last place's flux is left for what is due there.
        if let Some((place, _)) = before
            && next < count
        {
            out.push(place);
        }
        out
    }

    /// How far the nearest of its places lies from `p`, mm.
    pub fn distance(&self, p: Point) -> f64 {
        self.points.iter().map(|q| (q.place - p).hypot()).fold(f64::INFINITY, f64::min)
    }
}

impl Ring {
    fn of(sites: Vec<Site>, field: &PanelField) -> Self {
        let places: Vec<Point> = sites.iter().map(|s| s.0).collect();
        let points = sites
            .iter()
            .zip(field.b_many(&places))
            .map(|((place, normal, length), b)| RingPoint {
                place: *place,
                flux: (b[0] * normal.x + b[1] * normal.y) * length,
            })
            .collect::<Vec<_>>();
        Self { mirror: Self::mirror_of(&points), points, open: false }
    }

    /// Without any place.
    pub fn empty() -> Self {
        Self { points: Vec::new(), open: false, mirror: None }
    }

    /// The whole flux of one sense, mT mm.
    pub fn flux(&self, sense: f64) -> f64 {
        self.points.iter().map(|p| (sense * p.flux).max(0.0)).sum()
    }

    /// The stretches of one sense, as pole faces, in the order of the ring.
    pub fn stretches(&self, sense: f64) -> Vec<Stretch> {
        let order: Vec<RingPoint> = self.in_order(sense).copied().collect();
        order
            .chunk_by(|a, b| (a.flux * sense > 0.0) == (b.flux * sense > 0.0))
            .filter(|points| points[0].flux * sense > 0.0)
            .map(|points| Stretch {
                sense,
                flux: points.iter().map(|p| sense * p.flux).sum(),
                points: points.to_vec(),
            })
            .collect()
    }

    /// Flux of one sense passed on the way round to the ring's place nearest to a piece of line, mT mm.
    pub fn flux_at(&self, sense: f64, piece: &[Point]) -> f64 {
        let (mut sum, mut best, mut at) = (0.0, f64::INFINITY, 0.0);
        for point in self.in_order(sense) {
            let flux = (sense * point.flux).max(0.0);
            let away = polyline::distance(point.place, piece);
            if away < best {
                best = away;
                at = sum + 0.5 * flux;
            }
            sum += flux;
        }
        at
    }

    /// Flux of one sense between two such counts, the shorter way round.
    pub fn flux_between(&self, sense: f64, a: f64, b: f64) -> f64 {
        let d = (a - b).abs();
        d.min(self.flux(sense) - d)
    }

    /// The places in order, beginning where the least flux of that sense passes; where all of the ring is of that sense, as
    /// round a charge, where the ring is most nearly its own mirror image.
    fn in_order(&self, sense: f64) -> impl Iterator<Item = &RingPoint> {
        let first = match (self.open, &self.mirror) {
            (true, _) => 0,
            (false, Some(mirror)) => *mirror,
            (false, None) => self.least(sense),
        };
        self.points[first..].iter().chain(&self.points[..first])
    }

    fn least(&self, sense: f64) -> usize {
        let flux = |i: usize| sense * self.points[i].flux;
        (0..self.points.len()).min_by(|&i, &j| flux(i).total_cmp(&flux(j))).unwrap_or(0)
    }

    /// Of a ring whose flux is all of one sense: the first place behind the middle about which it is most nearly its own
    /// mirror image; of several as good, the one at the least flux, then the first.
    fn mirror_of(points: &[RingPoint]) -> Option<usize> {
        let n = points.len();
        let one_sense = |sense: f64| points.iter().all(|p| sense * p.flux > 0.0);
        if n == 0 || !(one_sense(1.0) || one_sense(-1.0)) {
            return None;
        }
        let flux = |i: usize| points[i % n].flux.abs();
        let whole: f64 = points.iter().map(|p| p.flux.abs()).sum();
        let off: Vec<f64> = (0..n)
            .map(|i| (0..n / 2).map(|k| (flux(i + k) - flux(i + n - 1 - k)).abs()).sum::<f64>() / whole)
            .collect();
        let least = off.iter().copied().fold(f64::INFINITY, f64::min);
        // Round a lone charge every place is as good: there too the least flux would be one of rounding.
        let key = |i: usize| (flux(i) / whole * n as f64 / MIRRORED).round();
        (0..n)
            .filter(|&i| off[i] <= least + MIRRORED)
            .min_by(|&i, &j| key(i).total_cmp(&key(j)).then(off[i].total_cmp(&off[j]).then(i.cmp(&j))))
    }
}

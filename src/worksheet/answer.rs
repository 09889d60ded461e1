//! The computed field lines of a panel: the answer to the sheet.
//!
//! Lines start at equal steps of the flux that leaves the outlines in the paper's plane; where the field enters an
//! outline, or the frame, and no line has arrived or come in, lines at equal steps are added. How far their
//! density then means strength is said in docs/field.md. Rings round wires start at equal steps of the potential
//! ([`super::wires`]), lines through a coil at equal steps of the flux through its middle.

use super::bodies::PanelField;
use super::starts::Walls;
use super::trace::End;
use super::{Panel, Source};
use crate::geometry::Point;

/// Most lines a panel: more run together at any pencil's width.
pub const MOST_LINES: usize = 400;
/// About this share of the lines asked for is added where a uniform background touches no source. It needs a step of
/// flux of its own: the Earth's flux through a whole frame is less than one step of a magnet's.
const BACKGROUND_SHARE: f64 = 0.4;

/// A computed line.
#[derive(Clone, Debug, PartialEq)]
pub struct FieldLine {
    /// The way the field points, mm, at most about 0.5 mm apart.
    pub points: Vec<Point>,
    /// What it comes from and goes to, in the words of a drawn line's ends (`left.N`, `frame`, `leaves` into a neutral
    /// point, `open` where it winds round beside its own earlier turn, or after 12 m of none of these); `None` for a closed
    /// line, which has no ends.
    pub from: Option<String>,
    pub to: Option<String>,
    /// Why it stops at either end: `source`, `frame`, `neutral`, `closed` (it comes back to its start), `round` or `long`.
    pub stops: [&'static str; 2],
}

/// The lines of a panel, about `count` of them, at most [`MOST_LINES`]; in a uniform background up to
/// [`BACKGROUND_SHARE`] more.
///
/// The same panel and count give the same lines. None where the field has no flux in the plane.
pub fn field_lines(panel: &Panel, field: &PanelField, count: usize) -> Vec<FieldLine> {
    if count == 0 {
        return Vec::new();
    }
    let walls = Walls::of(panel, field);
    let count = count.min(MOST_LINES);
    let mut lines = walls.about(field, count);
    if panel.earth.is_some() && !walls.flat {
        walls.add_background(field, &mut lines, BACKGROUND_SHARE * count as f64);
    }
    lines
        .into_iter()
        .map(|line| FieldLine {
            from: word(&panel.sources, line.ends[0], line.points[0]),
            to: word(&panel.sources, line.ends[1], line.points[line.points.len() - 1]),
            stops: line.ends.map(stop),
            points: line.points,
        })
        .collect()
}

/// An end in the words of the findings.
fn word(sources: &[Source], end: End, at: Point) -> Option<String> {
    match end {
        End::Source(i) => Some(format!("{}{}", sources[i].id, sources[i].half(at).suffix())),
        End::Frame => Some("frame".into()),
        End::Neutral => Some("leaves".into()),
        End::Closed => None,
        End::Round | End::Long => Some("open".into()),
    }
}

/// Why a line stops, in a word.
fn stop(end: End) -> &'static str {
    match end {
        End::Source(_) => "source",
        End::Frame => "frame",
        End::Neutral => "neutral",
        End::Closed => "closed",
        End::Round => "round",
        End::Long => "long",
    }
}

#[cfg(test)]
mod tests {
    use super::super::ring::outline_ring;
    use super::super::starts::SAME_MM;
    use super::super::{Earth, Kind};
    use super::*;
    use crate::geometry::{Rect, polyline};

    fn bar(id: &str, x: f64, north_deg: f64) -> Source {
        let kind = Kind::Bar { length: 50., width: 15., thickness: 10., remanence_mt: 400., pole_inset: 0.0 };
        Source { id: id.into(), kind, centre: Point::new(x, 115.), north_deg }
    }

    /// Whether an end's word ends so.
    fn is(word: &Option<String>, end: &str) -> bool {
        word.as_ref().is_some_and(|w| w.ends_with(end))
    }

    fn horseshoe() -> Source {
        let kind = Kind::Horseshoe {
            width: 60.,
            depth: 80.,
            thickness: 10.,
            limb: 16.,
            remanence_mt: 400.,
            north_left: true,
        };
        Source { id: "shoe".into(), kind, centre: Point::new(120., 115.), north_deg: 0. }
    }

    fn panel(sources: Vec<Source>) -> Panel {
        let frame = Rect::new(20., 45., 277., 185.);
        Panel { id: "A".into(), prompt: String::new(), frame, plane_mm: 0.0, sources, earth: None }
    }

    fn scenes() -> Vec<Panel> {
        let earth = Some(Earth { horizontal_ut: 18., north_deg: 90. });
        vec![
            panel(vec![bar("m", 148.5, 30.)]),
            panel(vec![bar("left", 95., 0.), bar("right", 202., 0.)]),
            panel(vec![bar("left", 88., 0.), bar("right", 209., 180.)]),
            panel(vec![horseshoe()]),
            Panel { earth, ..panel(vec![bar("m", 148.5, 90.)]) },
        ]
    }

    #[test]
    fn about_as_many_lines_as_asked_for_from_n_to_s() {
        for panel in scenes() {
            let field = panel.field();
            for wanted in [8, 20, 40] {
                let lines = field_lines(&panel, &field, wanted);
                let count = lines.len();
                let most = if panel.earth.is_some() { wanted + wanted / 2 } else { wanted + wanted / 5 + 1 };
                assert!(count >= wanted - wanted / 5 - 1 && count <= most, "{count} of {wanted}");
                for line in &lines {
                    assert!(!is(&line.from, ".S") && !is(&line.to, ".N"), "{:?} {:?}", line.from, line.to);
                    let p = &line.points;
                    let middle = p.len() / 2;
                    let way = p[middle] - p[middle - 1];
                    assert!(way.dot(field.direction(p[middle])) > 0.99 * way.hypot());
                }
            }
        }
    }

    /// Across the frame's middle, left to right or top to bottom.
    fn mirrored(panel: &Panel, p: Point, across: bool) -> Point {
        let c = panel.frame.center();
        if across { Point::new(2.0 * c.x - p.x, p.y) } else { Point::new(p.x, 2.0 * c.y - p.y) }
    }

    /// Whether a panel's field is its own mirror image, turned round as a whole or not.
    fn is_mirrored(panel: &Panel, field: &PanelField, across: bool) -> bool {
        let sign = if across { [-1.0, 1.0] } else { [1.0, -1.0] };
        [1.0, -1.0].into_iter().any(|way| {
            (0..200).all(|k| {
                let (u, v) = ((f64::from(k) * 0.618) % 1.0, (f64::from(k) * 0.755) % 1.0);
                let f = panel.frame;
                let p = Point::new(f.x0 + u * f.width(), f.y0 + v * f.height());
                let (b, m) = (field.b(p), field.b(mirrored(panel, p, across)));
                let off = (b[0] - way * sign[0] * m[0]).hypot(b[1] - way * sign[1] * m[1]);
                off <= 1e-6 * b[0].hypot(b[1])
            })
        })
    }

    /// A mirror image of an arrangement has the mirror image of its lines, also where the mirror turns the field round.
    /// Equal stretches at half a step once got a line more or less, and lines across the frame stood 15 mm off.
    #[test]
    fn a_symmetric_arrangement_has_a_symmetric_answer() {
        let mut symmetries = 0;
        for arrangement in crate::class::arrangements::ALL {
            let name = arrangement.name;
            let sheet = super::super::Worksheet::parse(name.as_ref(), arrangement.worksheet).unwrap();
            let panel = &sheet.panels[0];
            let field = panel.field();
            for across in [true, false].into_iter().filter(|across| is_mirrored(panel, &field, *across)) {
                symmetries += 1;
                for count in (6..=60).step_by(3) {
                    // An odd number of lines round a charge has one mirror line only.
                    if name == "one-charge" && across && count % 2 == 1 {
                        continue;
                    }
                    let lines: Vec<_> =
                        field_lines(panel, &field, count).into_iter().map(|l| l.points).collect();
                    for line in &lines {
                        let image = mirrored(panel, line[line.len() / 2], across);
                        let near =
                            lines.iter().map(|l| polyline::distance(image, l)).fold(f64::INFINITY, f64::min);
                        assert!(near < 0.5, "{name}, {count} lines, {across}: {near} mm off at {image:?}");
                    }
                }
            }
        }
        assert!(symmetries >= 36, "{symmetries}");
    }

    #[test]
    fn no_line_is_drawn_twice() {
        for panel in scenes() {
            let lines: Vec<Vec<Point>> =
                field_lines(&panel, &panel.field(), 30).into_iter().map(|l| l.points).collect();
            for (i, a) in lines.iter().enumerate() {
                for b in &lines[..i] {
                    assert!(a.iter().any(|p| polyline::distance(*p, b) > SAME_MM));
                }
            }
        }
    }

    #[test]
    fn lines_come_in_from_outside_the_frame_too() {
        let panel = panel(vec![bar("left", 88., 180.), bar("right", 209., 180.)]);
        let lines = field_lines(&panel, &panel.field(), 30);
        let from_frame = lines.iter().filter(|l| is(&l.from, "frame") && is(&l.to, ".S")).count();
        let to_frame = lines.iter().filter(|l| is(&l.to, "frame") && is(&l.from, ".N")).count();
        assert!(from_frame >= 3 && from_frame.abs_diff(to_frame) <= 1, "{from_frame} in, {to_frame} out");
    }

    #[test]
    fn an_even_background_alone_is_drawn_evenly() {
        let earth = Some(Earth { horizontal_ut: 18., north_deg: 0. });
        let panel = Panel { earth, ..panel(vec![]) };
        let lines = field_lines(&panel, &panel.field(), 7);
        let mut y: Vec<f64> = lines.iter().map(|l| l.points[0].y).collect();
        y.sort_by(f64::total_cmp);
        assert_eq!(y.len(), 7);
        assert!(y.windows(2).all(|w| (w[1] - w[0] - 20.0).abs() < 1.0), "{y:?}");
    }

    /// A magnet too weak to matter adds no line of its own to the background's.
    #[test]
    fn a_strong_background_passes_a_weak_magnet() {
        let mut weak = bar("m", 148.5, 0.);
        weak.kind =
            Kind::Bar { length: 60., width: 16., thickness: 10., remanence_mt: 1e-4, pole_inset: 0.0 };
        let earth = Some(Earth { horizontal_ut: 50., north_deg: 0. });
        let panel = Panel { earth, ..panel(vec![weak]) };
        let lines = field_lines(&panel, &panel.field(), 12);
        let across = lines.iter().filter(|l| is(&l.from, "frame") && is(&l.to, "frame")).count();
        assert!(across >= 8 && lines.len() <= 17, "{across} of {}", lines.len());
    }

    /// By the mirror symmetry of a bar what leaves it in the plane comes back, and half the lines start on each side.
    #[test]
    fn a_bars_flux_is_shared_out_evenly() {
        let field = panel(vec![bar("m", 148.5, 0.)]).field();
        let ring = outline_ring(&field.outlines()[0], &field);
        let (out, back) = (ring.flux(1.0), ring.flux(-1.0));
        assert!(out > 0.0 && (out - back).abs() < 1e-9 * out, "{out} {back}");
        let starts: Vec<Point> =
            ring.stretches(1.0).iter().flat_map(|stretch| stretch.even_starts(out / 20.0)).collect();
        assert_eq!((starts.len(), starts.iter().filter(|p| p.y < 115.0).count()), (20, 10));
    }

    /// Two near lines keep gap times exp(-integral of the divergence of the unit field): the law of a flat cut.
    #[test]
    fn gaps_follow_the_divergence() {
        let panel = panel(vec![bar("left", 88., 0.), bar("right", 209., 180.)]);
        let field = panel.field();
        let near = |v: f64| field.follow(panel.sources[0].place(31., v), 1.0).points;
        let (line, other) = (near(3.0), near(3.2));
        let divergence = |p: Point| {
            const H: f64 = 1e-3;
            let d = |x: f64, y: f64| field.direction(Point::new(p.x + x, p.y + y));
            (d(H, 0.).x - d(-H, 0.).x + d(0., H).y - d(0., -H).y) / (2.0 * H)
        };
        // Past the start, where the other line's first point is not yet abreast.
        let line = &line[4..];
        let (mut integral, mut last) = (0.0, divergence(line[0]));
        let first = polyline::distance(line[0], &other);
        let mut widest = 0.0f64;
        for w in line.windows(2).take(80) {
            let next = divergence(w[1]);
            integral += 0.5 * (last + next) * (w[1] - w[0]).hypot();
            last = next;
            let gap = polyline::distance(w[1], &other) / first;
            widest = widest.max(gap);
            // A chord of half a millimetre bows by some hundredths of this gap.
            let law = gap * (-integral).exp();
            assert!((law - 1.0).abs() < 0.05, "{law} at {:?}", w[1]);
        }
        assert!(widest > 2.0, "the gap hardly changed: {widest}");
    }

    /// What docs/field.md says of density and strength round one magnet.
    #[test]
    fn round_one_magnet_closer_lines_mean_a_stronger_field() {
        let panel = panel(vec![bar("m", 148.5, 0.)]);
        let field = panel.field();
        let lines: Vec<Vec<Point>> = field_lines(&panel, &field, 40).into_iter().map(|l| l.points).collect();
        let (mut gaps, mut densities) = (Vec::new(), Vec::new());
        for (i, line) in lines.iter().enumerate() {
            for p in
                polyline::resample(line, 4.0).into_iter().filter(|p| field.outlines()[0].distance(*p) > 3.0)
            {
                let others = lines.iter().enumerate().filter(|(j, _)| *j != i);
                gaps.push(others.map(|(_, l)| polyline::distance(p, l)).fold(f64::INFINITY, f64::min));
                densities.push(field.b(p)[0].hypot(field.b(p)[1]));
            }
        }
        let rho = crate::stats::spearman(&gaps, &densities);
        assert!(rho.is_some_and(|r| r < -0.8), "{rho:?}");
    }

    /// Of every kind: each line comes from a source, the frame or a neutral point and goes to one, or is closed.
    #[test]
    fn every_line_says_where_it_ends() {
        let one = |kind: Kind| panel(vec![Source { kind, ..bar("m", 148.5, 30.) }]);
        let wire = |id: &str, x: f64, out: bool| Source {
            kind: Kind::Wire { current_a: 5., out },
            ..bar(id, x, 0.)
        };
        let charge =
            |id: &str, x: f64, q: f64| Source { kind: Kind::Charge { charge_nc: q }, ..bar(id, x, 0.) };
        let mut all = scenes();
        all.push(one(Kind::Coil { length: 80., diameter: 34., turns: 200., current_a: 1. }));
        all.push(one(Kind::Plate { length: 80., depth: 80., charge_nc: -20. }));
        all.push(panel(vec![wire("w", 120., true), wire("v", 180., false)]));
        all.push(panel(vec![wire("w", 120., true), bar("m", 200., 90.)]));
        all.push(panel(vec![charge("p", 120., 5.), charge("q", 180., -5.)]));
        for panel in all {
            let lines = field_lines(&panel, &panel.field(), 30);
            assert!(lines.len() >= 24);
            for line in lines {
                for (word, stop) in [&line.from, &line.to].into_iter().zip(line.stops) {
                    let source = |w: &str| panel.sources.iter().any(|s| w.split('.').next() == Some(&s.id));
                    let fits = match (stop, word.as_deref()) {
                        ("source", Some(w)) => source(w),
                        ("frame", Some(w)) => w == "frame",
                        ("neutral", Some(w)) => w == "leaves",
                        ("closed", None) => line.stops == ["closed"; 2],
                        _ => false,
                    };
                    assert!(fits, "{stop}: {word:?}");
                }
            }
        }
    }

    /// Spirals about a strong wire whose turns lie far apart were cut off after 900 mm.
    #[test]
    fn wide_spirals_run_to_their_end() {
        let coil = Source {
            kind: Kind::Coil { length: 32., diameter: 16., turns: 100., current_a: 1. },
            ..bar("coil", 100., 330.)
        };
        let wire = Source {
            kind: Kind::Wire { current_a: 1000., out: true },
            centre: Point::new(144.1, 118.),
            ..bar("wire", 144.1, 0.)
        };
        let panel = panel(vec![coil, wire]);
        let lines = field_lines(&panel, &panel.field(), 20);
        assert!(lines.iter().flat_map(|l| l.stops).all(|stop| stop != "long"));
        assert!(lines.iter().flat_map(|l| l.stops).any(|stop| stop == "round"));
    }

    /// A mirror image of two charges is their picture too.
    #[test]
    fn charges_have_a_symmetric_answer() {
        let charge = |id: &str, x: f64| Source { kind: Kind::Charge { charge_nc: 5. }, ..bar(id, x, 0.) };
        let panel = panel(vec![charge("p", 118.), charge("q", 179.)]);
        let lines = field_lines(&panel, &panel.field(), 20);
        for line in lines.iter().map(|l| &l.points) {
            let p = line[line.len() / 2];
            for image in [Point::new(297. - p.x, p.y), Point::new(p.x, 230. - p.y)] {
                let near = lines.iter().map(|l| polyline::distance(image, &l.points)).fold(99.0, f64::min);
                assert!(near < 0.5, "no mirror image of a line: {near} mm off");
            }
        }
    }
}

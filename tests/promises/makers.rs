//! Makers of drawings: field lines of five ready arrangements, drawn with a shaking hand, then changed as a student with
//! one of the usual ideas would draw. They share no code with the rules that find the ideas.

use lodemark::class::arrangements;
use lodemark::drawing::{Arrow, Drawing, Line, MeetKind, Meeting};
use lodemark::geometry::{Point, Vec2, polyline};
use lodemark::worksheet::answer::field_lines;
use lodemark::worksheet::{Kind, Panel, PanelField, Source, Worksheet};
use std::f64::consts::TAU;
use std::path::Path;

/// Numbers by chance, seeded: splitmix64 (S. Vigna, public domain).
pub struct Dice(pub u64);

impl Dice {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }
    pub fn within(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.next()
    }
}

/// A line as drawn: it drifts off by up to a millimetre or two in long waves.
fn by_hand(points: &[Point], dice: &mut Dice) -> Vec<Point> {
    let points = polyline::resample(points, 0.5);
    let (size, wave, phase) = (dice.within(0.1, 0.8), dice.within(30.0, 80.0), dice.within(0.0, TAU));
    let normals: Vec<Vec2> = polyline::tangents(&points).iter().map(|t| Vec2::new(-t.y, t.x)).collect();
    let off = |i: usize| size * (i as f64 * 0.5 * TAU / wave + phase).sin();
    points.iter().zip(normals).enumerate().map(|(i, (p, n))| *p + n * off(i)).collect()
}

/// A line with an arrow in its middle that points along it, or back.
fn line(points: Vec<Point>, forward: Option<bool>) -> Line {
    let middle = points.len() / 2;
    let arrows = forward.map(|forward| {
        let way = polyline::tangents(&points)[middle];
        let towards = if forward { way } else { -way };
        Arrow { at: points[middle], towards, sure: 0.97, way_sure: 0.97 }
    });
    Line { points, width_mm: 0.5, arrows: arrows.into_iter().collect(), sure: 0.95, there: 0.98 }
}

pub struct Scene {
    pub panel: Panel,
    pub field: PanelField,
}

/// The arrangements that the rules' limits were set on, and that docs/figures.md tells of.
const TRIED: [&str; 5] = ["single-bar", "unlike-poles", "like-poles", "horseshoe", "three-bars"];

pub fn scenes() -> Vec<(&'static str, Scene)> {
    TRIED.iter().map(|name| (*name, scene(name))).collect()
}

/// A ready arrangement's first panel.
pub fn scene(name: &str) -> Scene {
    let sheet = Worksheet::parse(Path::new("w"), arrangements::find(name).unwrap().worksheet).unwrap();
    let panel = sheet.panels[0].clone();
    let field = panel.field();
    Scene { panel, field }
}

/// The field as a good student draws it.
pub fn good(scene: &Scene, dice: &mut Dice) -> Vec<Line> {
    let count = 8 + (dice.next() * 8.0) as usize;
    good_of(scene, count, dice)
}

/// As [`good`], of about so many lines.
pub fn good_of(scene: &Scene, count: usize, dice: &mut Dice) -> Vec<Line> {
    let lines = field_lines(&scene.panel, &scene.field, count);
    lines.iter().map(|l| line(by_hand(&l.points, dice), Some(true))).collect()
}

/// Single slips that are no idea: a wrong arrow, a bare line, an end left open, two lines that cross once.
pub fn slips(scene: &Scene, lines: &mut Vec<Line>, dice: &mut Dice) {
    let n = lines.len();
    let any = |dice: &mut Dice| ((dice.next() * n as f64) as usize).min(n - 1);
    if dice.next() < 0.5 {
        let l = any(dice);
        lines[l].arrows.iter_mut().for_each(|a| a.towards = -a.towards);
    }
    if dice.next() < 0.3 {
        let l = any(dice);
        lines[l].arrows.clear();
    }
    if dice.next() < 0.4 {
        let l = any(dice);
        let keep = lines[l].points.len() * 4 / 5;
        lines[l].points.truncate(keep.max(2));
    }
    if dice.next() < 0.3 {
        let l = any(dice);
        if n > 7 {
            lines.remove(l);
        }
    }
    if dice.next() < 0.3 && scene.panel.sources.len() > 1 {
        let l = any(dice).min(lines.len() - 1);
        let host = &lines[l].points;
        let (at, way) = (host[host.len() / 2], polyline::tangents(host)[host.len() / 2]);
        let other = [at - Vec2::new(-way.y, way.x) * 6.0, at + Vec2::new(-way.y, way.x) * 6.0];
        lines.push(line(by_hand(&other, dice), None));
    }
}

fn bars(scene: &Scene) -> Vec<&Source> {
    scene.panel.sources.iter().filter(|s| matches!(s.kind, Kind::Bar { .. })).collect()
}

fn half(source: &Source) -> (f64, f64) {
    match source.kind {
        Kind::Bar { length, width, .. } => (length / 2.0, width / 2.0),
        _ => (10.0, 5.0),
    }
}

/// Puts an idea into a drawing; `None` where the arrangement has no place for it.
pub fn with_idea(id: &str, scene: &Scene, dice: &mut Dice) -> Option<Vec<Line>> {
    let mut lines = good(scene, dice);
    let bars = bars(scene);
    match id {
        "stops-in-space" => stop(scene, &mut lines, dice)?,
        "lines-cross" => {
            let n = 2 + (dice.next() * 2.0) as usize;
            (0..n).for_each(|_| cross(&mut lines, dice));
        }
        "closed-rings" => rings(scene, &mut lines, dice)?,
        "like-poles-joined" => join(scene, &mut lines, dice)?,
        "only-in-front" => {
            let magnets = bars.len() == scene.panel.sources.len();
            lines = magnets.then(|| fan(scene, dice))?;
        }
        "equal-spacing" => lines = even(scene, dice)?,
        "south-to-north" => {
            for l in &mut lines {
                let wrong = dice.next() < 0.9;
                l.arrows.iter_mut().filter(|_| wrong).for_each(|a| a.towards = -a.towards);
            }
        }
        "straight-between" => lines = straight(scene, dice)?,
        "out-of-the-middle" => {
            let bar = *bars.first()?;
            let (_, w) = half(bar);
            for side in [1.0, -1.0, 1.0].into_iter().take(2 + (dice.next() * 2.0) as usize) {
                let u = dice.within(-0.1, 0.1) * half(bar).0 * 2.0;
                let ends = [
                    bar.place(u, side * (w + 0.5)),
                    bar.place(u * 1.5, side * (w + dice.within(25.0, 35.0))),
                ];
                lines.push(line(by_hand(&ends, dice), Some(true)));
            }
        }
        "lopsided" => {
            let middle = scene.panel.sources.iter().map(|s| s.centre.y).sum::<f64>()
                / scene.panel.sources.len() as f64;
            mirrored(scene).then_some(())?;
            lines.retain(|l| {
                let below = l.points.iter().filter(|p| p.y > middle + 1.0).count() * 2 > l.points.len();
                !below || l.points.len() < 40
            });
        }
        _ => panic!("no maker for {id}"),
    }
    (lines.len() >= 3).then_some(lines)
}

/// Whether the magnets lie on one level line, so that above and below must look the same.
fn mirrored(scene: &Scene) -> bool {
    let s = &scene.panel.sources;
    s.iter().all(|one| {
        (one.centre.y - s[0].centre.y).abs() < 0.5
            && matches!(one.kind, Kind::Bar { .. })
            && one.north_deg.rem_euclid(180.0).abs() < 0.5
    })
}

/// Cuts ends of lines off in free space, where they should have gone on to a pole: three to five.
fn stop(scene: &Scene, lines: &mut [Line], dice: &mut Dice) -> Option<()> {
    let outlines: Vec<_> = scene.panel.sources.iter().map(Source::outline).collect();
    let on = |p: &Point| outlines.iter().any(|o| o.distance(*p) < 3.0);
    let wanted = 3 + (dice.next() * 3.0) as usize;
    let mut cut = 0;
    for l in lines.iter_mut().filter(|l| polyline::length(&l.points) > 45.0) {
        let both = l.points.last().is_some_and(on) && l.points.first().is_some_and(on);
        if cut < wanted && both {
            let n = l.points.len() as f64;
            let (from, to) = (n * dice.within(0.2, 0.3), n * dice.within(0.6, 0.75));
            l.points.truncate(to as usize);
            l.points.drain(..from as usize);
            l.arrows.retain(|a| polyline::distance(a.at, &l.points) < 1.0);
            cut += 2;
        }
    }
    (cut >= 3).then_some(())
}

/// Draws a line right across the middle of another.
fn cross(lines: &mut Vec<Line>, dice: &mut Dice) {
    let n = (dice.next() * lines.len() as f64) as usize;
    let host = &lines[n.min(lines.len() - 1)];
    let at = host.points[(host.points.len() as f64 * dice.within(0.3, 0.7)) as usize];
    let way = polyline::tangents(&host.points)[host.points.len() / 2];
    let aslant = Vec2::new(way.x - way.y, way.y + way.x);
    let reach = dice.within(12.0, 25.0);
    lines.push(line(by_hand(&[at - aslant * reach, at + aslant * reach], dice), None));
}

fn rings(scene: &Scene, lines: &mut Vec<Line>, dice: &mut Dice) -> Option<()> {
    let bar = *bars(scene).first()?;
    let (a, b) = half(bar);
    lines.truncate(lines.len() / 2);
    for k in 0..2 + (dice.next() * 2.0) as usize {
        let off = 5.0 + 6.0 * k as f64 + dice.within(0.0, 2.0);
        let at = |i: usize| {
            let t = i as f64 / 120.0 * TAU;
            bar.place((a + off) * 1.05 * t.cos(), (b + off) * 1.4 * t.sin())
        };
        let ring: Vec<Point> = (0..=120).map(at).collect();
        lines.push(line(polyline::resample(&ring, 0.5), Some(true)));
    }
    Some(())
}

fn join(scene: &Scene, lines: &mut Vec<Line>, dice: &mut Dice) -> Option<()> {
    let bars = bars(scene);
    let [one, other] = [*bars.first()?, *bars.get(1)?];
    let pole = if dice.next() < 0.5 { 1.0 } else { -1.0 };
    for _ in 0..1 + (dice.next() * 2.0) as usize {
        let end = |s: &Source, dice: &mut Dice| {
            s.place(pole * (half(s).0 + 0.5), dice.within(-0.6, 0.6) * half(s).1)
        };
        let (a, b) = (end(one, dice), end(other, dice));
        // Round the magnets where they lie in between.
        let up = Vec2::new(0.0, -dice.within(20.0, 30.0));
        let way = [a, a.lerp(b, 0.25) + up, a.lerp(b, 0.75) + up, b];
        lines.push(line(by_hand(&way, dice), None));
    }
    Some(())
}

/// Lines that leave the two ends of each magnet straight ahead, and nothing beside it.
fn fan(scene: &Scene, dice: &mut Dice) -> Vec<Line> {
    let mut lines = Vec::new();
    for bar in bars(scene) {
        let (a, b) = half(bar);
        for pole in [1.0, -1.0] {
            for k in [-0.8, -0.3, 0.3, 0.8] {
                let reach = dice.within(12.0, 18.0);
                let from = bar.place(pole * (a + 0.5), k * b);
                let to = bar.place(pole * (a + reach), k * (b + 0.3 * reach));
                let way = if pole > 0.0 { [from, to] } else { [to, from] };
                lines.push(line(by_hand(&way, dice), Some(true)));
            }
        }
    }
    lines
}

/// Loops at equal steps, one round another, from pole to pole of one magnet.
fn even(scene: &Scene, dice: &mut Dice) -> Option<Vec<Line>> {
    let bars = bars(scene);
    (!bars.is_empty() && bars.len() == scene.panel.sources.len()).then_some(())?;
    let step = dice.within(5.0, 7.0);
    let mut lines = Vec::new();
    for bar in bars {
        let (a, b) = half(bar);
        for side in [1.0, -1.0] {
            for k in 1..=4 {
                let off = step * f64::from(k);
                let at = |i: usize| {
                    // Along the end, round a corner, along the side, and back: always `off` from the magnet.
                    let s = i as f64 / 100.0;
                    let (u, v) = match s {
                        s if s < 0.25 => {
                            let t = (0.25 - s) * 4.0 * std::f64::consts::FRAC_PI_2;
                            (a + off * t.sin(), b + off * t.cos())
                        }
                        s if s < 0.75 => (a - (s - 0.25) * 4.0 * a, b + off),
                        s => {
                            let t = (s - 0.75) * 4.0 * std::f64::consts::FRAC_PI_2;
                            (-a - off * t.sin(), b + off * t.cos())
                        }
                    };
                    bar.place(u, side * v)
                };
                let loop_: Vec<Point> =
                    (0..=100).map(at).filter(|p| scene.panel.frame.contains(*p)).collect();
                lines.push(line(by_hand(&loop_, dice), Some(true)));
            }
        }
    }
    Some(lines)
}

/// Ruler lines from N poles to S poles that the field does not follow.
fn straight(scene: &Scene, dice: &mut Dice) -> Option<Vec<Line>> {
    let bars = bars(scene);
    let [from, to] = [*bars.first()?, *bars.get(1)?];
    let mut lines = Vec::new();
    for k in [-0.9f64, -0.45, 0.4, 0.85] {
        let a = from.place(
            half(from).0 * dice.within(0.5, 0.95),
            if k > 0.0 { 1.0 } else { -1.0 } * (half(from).1 + 0.5),
        );
        let b =
            to.place(-half(to).0 * dice.within(0.4, 0.95), k.signum() * (half(to).1 + dice.within(0.5, 2.0)));
        lines.push(line(by_hand(&[a, b], &mut Dice(7)), Some(true)));
    }
    Some(lines)
}

/// Puts the meetings in that a reader would find.
pub fn drawing(lines: Vec<Line>) -> Drawing {
    let mut meets = Vec::new();
    for i in 0..lines.len() {
        for j in i + 1..lines.len() {
            for p in crossings(&lines[i].points, &lines[j].points) {
                let run = [p, p];
                meets.push(Meeting { at: p, run, kind: MeetKind::Cross, lines: (i, j), sure: 0.95 });
            }
        }
    }
    Drawing { lines, meets, ..Drawing::default() }
}

fn crossings(a: &[Point], b: &[Point]) -> Vec<Point> {
    let mut found: Vec<Point> = Vec::new();
    for p in a.windows(2) {
        for q in b.windows(2) {
            let (d, e, f) = (p[1] - p[0], q[1] - q[0], q[0] - p[0]);
            let det = d.cross(e);
            let (s, t) = (f.cross(e) / det, f.cross(d) / det);
            if det.abs() > 1e-12 && (0.0..1.0).contains(&s) && (0.0..1.0).contains(&t) {
                let at = p[0] + d * s;
                if found.iter().all(|known| (*known - at).hypot() > 4.0) {
                    found.push(at);
                }
            }
        }
    }
    found
}

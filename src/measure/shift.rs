//! `dots.shift_mm`: whether the plotted dots all stand to one side of where the field leads, as when the compass is looked
//! at from the side (parallax), told from scatter.
//!
//! Whoever sets each dot beside the needle's tip by the same step on the paper, and the needle's tail upon the last dot in
//! the same way, draws true field lines moved by that step. The line drawn through the dots moves with them, so it shows
//! nothing; the field does not. From each dot the computed line is followed to abreast of the next, which lies off it by
//! some amount; how that amount would change if the dots were moved is had by moving them. The step that explains the
//! amounts best is a least-squares fit of two numbers (its covariance as in W. H. Press et al., Numerical
//! Recipes, 15.4; from memory). What the whole class has in common (the Earth's field, a stronger magnet) is no parallax: the run takes
//! the class's own step off ([`Shifts::from_class`]).

use std::ops::ControlFlow;

use serde::{Deserialize, Serialize};

use super::dots::Beside;
use super::region::Region;
use super::worlds::Reading;
use super::{Id, Measured};
use crate::drawing::Drawing;
use crate::field::lines;
use crate::geometry::{Point, Vec2};
use crate::stats::{MEDIAN_OF_NORMAL, median};

/// Two dots of a line follow each other within these distances, mm: needles are 10 to 20 mm long, and a dot may be lost.
const STEP_MM: [f64; 2] = [4.0, 45.0];
/// Nearer to an outline than this the field turns too fast for a small step's answer to stand for a larger one, mm.
const CLEAR_MM: f64 = 8.0;
/// By so much the dots are moved, mm: parallax is of this size.
const MOVED_MM: f64 = 1.0;
/// Fewest steps from dot to dot that tell anything.
const LEAST_STEPS: usize = 6;
/// A dot off by more than so many spreads of the others is a slip, and left out once.
const SLIP: f64 = 3.0;
/// Spread that no plotting is better than, mm: a pencil's dot.
const LEAST_SPREAD_MM: f64 = 0.2;
/// A way along which the step is known worse than this (one standard deviation, mm) counts as not known: a field that is the
/// same on and on tells nothing of a shift along it.
const WORST_SD_MM: f64 = 1.2;
/// Along such a way the dots may stand off by this (one standard deviation, mm): a needle some 5 mm above the paper, seen from up
/// to some 30 degrees beside. A guess; any that is large against what a rubric allows makes a person look.
const MAY_BE_MM: f64 = 3.0;
/// Fewest students from whom the class's own step is taken: fewer might be those who looked from the side.
pub const LEAST_STUDENTS: usize = 5;

/// One dot to the next.
#[derive(Clone, Copy, Debug)]
struct Pace {
    /// How far the second lies off the computed line through the first, to its left, mm.
    off_mm: f64,
    /// How that changes for each millimetre by which both stand too far to the right, and too far down.
    slope: Vec2,
}

/// The steps from dot to dot of a drawing. A step that no computed line comes abreast of tells nothing, and is `None`.
#[derive(Debug)]
pub struct Paces(Vec<(usize, [usize; 2], Option<Pace>)>);

/// The step on the paper by which dots stand off, along two ways at right angles.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Fit {
    ways: [Way; 2],
    /// This reading's share of the error: a standard normal number.
    noise: f64,
}

/// The part of a step along one way.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
struct Way {
    /// Unit step: right, down.
    towards: [f64; 2],
    /// mm; `None` where the dots tell nothing of it.
    known: Option<Part>,
}

#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
struct Part {
    along_mm: f64,
    /// One standard deviation.
    sd_mm: f64,
}

/// The fits of all readings of one panel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Shifts {
    likeliest: Option<Fit>,
    worlds: Vec<Option<Fit>>,
}

impl Paces {
    /// `beside`: a dot an entry, then a line ([`super::dots::beside`]).
    pub fn new(region: &Region, drawing: &Drawing, beside: &[Vec<Option<Beside>>]) -> Self {
        // Each dot at its nearest line, then along it.
        let nearest = |by_line: &Vec<Option<Beside>>| {
            let lines = by_line.iter().enumerate().filter_map(|(line, b)| Some((line, (*b)?)));
            lines.min_by(|a, b| a.1.square.total_cmp(&b.1.square))
        };
        let mut at: Vec<(usize, f64, usize)> = Vec::new();
        for (dot, by_line) in beside.iter().enumerate() {
            at.extend(nearest(by_line).map(|(line, b)| (line, b.along_mm, dot)));
        }
        at.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
        let pairs = at.windows(2).filter(|w| w[0].0 == w[1].0);
        let pace = |w: &[(usize, f64, usize)]| {
            let dots = [w[0].2, w[1].2];
            let [p, q] = dots.map(|d| drawing.dots[d].at);
            is_asked(region, p, q).then(|| (w[0].0, dots, Pace::of(region, p, q)))
        };
        Self(pairs.filter_map(pace).collect())
    }

    /// The step that explains the dots of a reading best; `None` where these are too few.
    fn fit(&self, reading: &Reading) -> Option<Fit> {
        let there =
            |line: usize, dots: &[usize; 2]| reading.lines[line] && dots.iter().all(|d| reading.dots[*d]);
        let asked: Vec<&Option<Pace>> =
            self.0.iter().filter(|(line, dots, _)| there(*line, dots)).map(|(_, _, pace)| pace).collect();
        if asked.len() < LEAST_STEPS {
            return None;
        }
        let noise = reading.noise[Id::DotsShift as usize];
        let paces: Vec<&Pace> = asked.into_iter().flatten().collect();
        Some(Fit { ways: ways(paces).unwrap_or(NOTHING_KNOWN), noise })
    }

    /// The fits of the likeliest reading and of the others.
    pub fn fits(&self, likeliest: &Reading, readings: &[Reading]) -> Option<Shifts> {
        let fits = Shifts {
            likeliest: self.fit(likeliest).map(|fit| Fit { noise: 0.0, ..fit }),
            worlds: readings.iter().map(|r| self.fit(r)).collect(),
        };
        (fits.likeliest.is_some() || fits.worlds.iter().any(Option::is_some)).then_some(fits)
    }
}

impl Pace {
    fn of(region: &Region, p: Point, q: Point) -> Option<Self> {
        let by = |way: Vec2| Some((off(region, p + way, q + way)? - off(region, p - way, q - way)?) / 2.0);
        let slope = Vec2::new(by(Vec2::new(MOVED_MM, 0.0))?, by(Vec2::new(0.0, MOVED_MM))?) / MOVED_MM;
        Some(Self { off_mm: off(region, p, q)?, slope })
    }

    /// What is left of the amount if the dots stand off by `step`.
    fn miss(&self, step: Vec2) -> f64 {
        self.off_mm - self.slope.dot(step)
    }
}

/// Both ways along which nothing is known.
const NOTHING_KNOWN: [Way; 2] =
    [Way { towards: [1.0, 0.0], known: None }, Way { towards: [0.0, 1.0], known: None }];

/// Whether two dots can be one step of a needle, where the field tells something.
fn is_asked(region: &Region, p: Point, q: Point) -> bool {
    let frame = region.panel.frame;
    let clear = |p: Point| region.outlines.iter().all(|o| o.distance_within(p, CLEAR_MM).is_none());
    let far = (q - p).hypot();
    (STEP_MM[0]..=STEP_MM[1]).contains(&far) && [p, q].into_iter().all(|p| frame.contains(p) && clear(p))
}

/// How far `q` lies to the left of the computed line through `p`, mm; `None` where that never comes abreast of it.
fn off(region: &Region, p: Point, q: Point) -> Option<f64> {
    let way = q - p;
    let far = way.hypot();
    let sense = if region.field.direction(p).dot(way) < 0.0 { -1.0 } else { 1.0 };
    let mut abreast = None;
    // A line that turns away by more than this never comes abreast.
    let most_mm = 1.5 * far;
    lines::follow(
        |at| sense * region.field.direction(at),
        p,
        most_mm,
        |step| {
            let ahead = |share: f64| (step.at(share) - p).dot(way) - far * far;
            if ahead(1.0) < 0.0 {
                return ControlFlow::Continue(());
            }
            let (mut before, mut after) = (0.0, 1.0);
            for _ in 0..30 {
                let middle = 0.5 * (before + after);
                if ahead(middle) < 0.0 { before = middle } else { after = middle }
            }
            abreast = Some(step.at(after));
            ControlFlow::Break(())
        },
    );
    let left = Vec2::new(way.y, -way.x) / far;
    abreast.map(|line| (q - line).dot(left)).filter(|off| off.is_finite())
}

/// Least squares, once more without slips.
fn ways(mut paces: Vec<&Pace>) -> Option<[Way; 2]> {
    let (first, _) = solve(&paces)?;
    let misses: Vec<f64> = paces.iter().map(|p| p.miss(first).abs()).collect();
    let most = SLIP * (median(&misses)? / MEDIAN_OF_NORMAL).max(LEAST_SPREAD_MM);
    paces.retain(|p| p.miss(first).abs() <= most);
    Some(solve(&paces)?.1)
}

/// Least squares: the step, and what is known of it along the way that the paces tell most of and the one across it.
fn solve(paces: &[&Pace]) -> Option<(Vec2, [Way; 2])> {
    if paces.len() < LEAST_STEPS {
        return None;
    }
    let sum = |of: &dyn Fn(&Pace) -> f64| paces.iter().map(|p| of(p)).sum::<f64>();
    let (xx, xy, yy) =
        (sum(&|p| p.slope.x.powi(2)), sum(&|p| p.slope.x * p.slope.y), sum(&|p| p.slope.y.powi(2)));
    let turn = 0.5 * (2.0 * xy).atan2(xx - yy);
    let main = Vec2::new(turn.cos(), turn.sin());
    let parts = [main, Vec2::new(-main.y, main.x)].map(|way| {
        let weight = sum(&|p| p.slope.dot(way).powi(2));
        let along = if weight > 0.0 { sum(&|p| p.slope.dot(way) * p.off_mm) / weight } else { 0.0 };
        (way, weight, along)
    });
    let step = parts.iter().fold(Vec2::ZERO, |step, (way, _, along)| step + *way * *along);
    let free = (paces.len() - 2) as f64;
    let spread = (sum(&|p| p.miss(step).powi(2)) / free).max(LEAST_SPREAD_MM.powi(2));
    let ways = parts.map(|(way, weight, along_mm)| {
        let sd_mm = (spread / weight).sqrt();
        Way { towards: [way.x, way.y], known: (sd_mm <= WORST_SD_MM).then_some(Part { along_mm, sd_mm }) }
    });
    Some((step, ways))
}

impl Fit {
    /// Right and down, mm; `None` where not all of it is known.
    fn step(&self) -> Option<[f64; 2]> {
        let [a, b] = self.ways;
        let (p, q) = (a.known?.along_mm, b.known?.along_mm);
        Some([0, 1].map(|k| p * a.towards[k] + q * b.towards[k]))
    }

    /// Length of the step less `class`, mm. A fitted step's square is too long by the trace of its covariance, on average;
    /// that is taken off, so that scatter alone gives about 0. Along a way of which nothing is known it may be anything.
    fn length_mm(&self, class: [f64; 2]) -> f64 {
        let (mut size, mut spread, mut trace, mut unknown) = (0.0, 0.0, 0.0, 0.0);
        for way in self.ways {
            match way.known {
                Some(Part { along_mm, sd_mm }) => {
                    let part = along_mm - way.towards[0] * class[0] - way.towards[1] * class[1];
                    size += part * part;
                    spread += (part * sd_mm).powi(2);
                    trace += sd_mm * sd_mm;
                }
                None => unknown += (MAY_BE_MM * self.noise).powi(2),
            }
        }
        let size = size.sqrt();
        let sd = if size > 0.0 { spread.sqrt() / size } else { trace.sqrt() };
        let read = (size + sd * self.noise).max(0.0);
        ((read * read - trace).max(0.0) + unknown).sqrt()
    }
}

impl Shifts {
    /// By which the dots stand off, right and down in mm; `None` where not all of it is known.
    pub fn step(&self) -> Option<[f64; 2]> {
        self.likeliest?.step()
    }

    /// Whether the dots tell nothing of a step along some way, however well they were plotted.
    pub fn is_silent(&self) -> bool {
        self.likeliest.is_some_and(|fit| fit.ways.iter().any(|way| way.known.is_none()))
    }

    /// The measure, where the class's own step is `class`. That may be the field's, or most of the class looked from the same
    /// side: every third reading takes it for the eye's and leaves it in, so that a person looks where it decides a mark.
    pub fn from_class(&self, class: [f64; 2]) -> Measured {
        let length = |fit: &Option<Fit>, class| fit.as_ref().map(|f| f.length_mm(class));
        let worlds = self.worlds.iter().enumerate();
        let worlds = worlds.map(|(n, fit)| length(fit, if n % 3 < 2 { class } else { [0.0; 2] }));
        Measured::new(length(&self.likeliest, class), worlds.collect())
    }
}

/// The class's own step: the median of its students', right and down by themselves; none of fewer than
/// [`LEAST_STUDENTS`].
pub fn class_step(steps: &[[f64; 2]]) -> [f64; 2] {
    if steps.len() < LEAST_STUDENTS {
        return [0.0; 2];
    }
    [0, 1].map(|k| median(&steps.iter().map(|s| s[k]).collect::<Vec<f64>>()).unwrap_or(0.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::Dot;
    use crate::geometry::polyline::resample;
    use crate::measure::{made, measure_panel};

    /// Twelve lines of a dipole with dots 12 mm apart, scattered by about `scatter` mm, all moved by `step`; the lines are drawn
    /// through the dots.
    fn plotted(step: Vec2, scatter: f64) -> Drawing {
        let mut drawn = Vec::new();
        let mut dots = Vec::new();
        for n in 0..12u32 {
            let reach = 26.0 + 6.0 * f64::from(n / 2);
            let side = if n % 2 == 0 { 1.0 } else { -1.0 };
            let line: Vec<Point> =
                made::dipole_line(reach, 0.6, side).into_iter().map(|p| p + step).collect();
            for (k, p) in resample(&line, 12.0).into_iter().enumerate() {
                // Even numbers between -1 and 1 that look like chance.
                let even =
                    |m: u32| 2.0 * (f64::from(1 + n * 40 + k as u32) * f64::from(m).sqrt()).fract() - 1.0;
                let at = p + 1.7 * scatter * Vec2::new(even(2), even(3));
                dots.push(Dot { at, radius_mm: 0.6, sure: 0.95 });
            }
            drawn.push(line);
        }
        Drawing { dots, ..made::drawing(drawn) }
    }

    fn shifts(drawing: &Drawing) -> Option<Shifts> {
        let panel = made::dipole();
        measure_panel(&panel, &panel.field(), drawing, 3).measures.shifts
    }

    fn value(drawing: &Drawing, class: [f64; 2]) -> f64 {
        shifts(drawing).unwrap().from_class(class).value.unwrap()
    }

    #[test]
    fn a_moved_pattern_is_told_from_scatter() {
        for step in [Vec2::new(1.5, 1.0), Vec2::new(0.0, -2.0), Vec2::new(-1.2, 0.4)] {
            let got = value(&plotted(step, 0.35), [0.0; 2]);
            assert!((got - step.hypot()).abs() < 0.4, "{got} for {step:?}");
        }
        let still = value(&plotted(Vec2::ZERO, 0.35), [0.0; 2]);
        assert!(still < 0.5, "{still}");
    }

    /// What all have in common is no parallax; what one has besides is.
    #[test]
    fn the_classs_own_step_is_taken_off() {
        let common = Vec2::new(0.9, -0.6);
        let fit = |d: &Drawing| shifts(d).unwrap().step().unwrap();
        let class: Vec<[f64; 2]> = (1..=5).map(|k| fit(&plotted(common, 0.1 * f64::from(k)))).collect();
        let own = class_step(&class);
        assert!((own[0] - 0.9).abs() < 0.2 && (own[1] + 0.6).abs() < 0.2, "{own:?}");
        assert!(value(&plotted(common, 0.35), own) < 0.5);
        let one = value(&plotted(common + Vec2::new(0.0, 2.0), 0.35), own);
        assert!((one - 2.0).abs() < 0.4, "{one}");
        assert_eq!(class_step(&class[..4]), [0.0; 2]);
    }

    /// A field that is the same everywhere tells nothing, nor do dots that lead across the field: a person looks. Of a few dots
    /// there is no measure.
    #[test]
    fn where_nothing_is_known_the_shift_may_be_anything() {
        let dots = |way: Vec2, from: Point| {
            let dot = |k: u32| Dot { at: from + 12.0 * f64::from(k) * way, radius_mm: 0.6, sure: 0.95 };
            (0..13).map(dot).collect::<Vec<Dot>>()
        };
        let panel = made::uniform(0.0);
        for way in [Vec2::new(1.0, 0.0), Vec2::new(0.0, 1.0)] {
            let from = if way.x > 0.0 { Point::new(20.0, 50.0) } else { Point::new(50.0, 20.0) };
            let to = from + 160.0 * way;
            let mut drawing = made::drawing(vec![made::straight((from.x, from.y), (to.x, to.y))]);
            drawing.dots = dots(way, from);
            let found = measure_panel(&panel, &panel.field(), &drawing, 3);
            let shift = found.measures.get("dots.shift_mm").unwrap();
            let small = shift.worlds.iter().filter(|v| v.is_some_and(|v| v <= 0.8)).count();
            assert!((20..140).contains(&small), "{small}");
            assert!(found.record.silent.contains(&"dots.shift_mm".to_string()));
        }
        let mut few = plotted(Vec2::ZERO, 0.2);
        few.dots.truncate(5);
        assert_eq!(shifts(&few), None);
    }
}

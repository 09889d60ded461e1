//! Drawing and field to named measures, each with the samples that say how sure it is.
//!
//! [`table::ALL`] names the measures; a file a family defines them: [`lines`], [`arrows`], [`meets`],
//! [`angle`], [`ends`], [`spacing`], [`even`], [`cover`], [`balance`], [`neutral`], [`dots`], [`shift`], [`kinks`]. All are taken inside the
//! frame and outside the sources' outlines grown by 3 mm, on lines of which at least 10 mm lie there
//! ([`region`]). Each is a function of one reading of the ink ([`worlds::Reading`]): the likeliest reading
//! gives the value, [`WORLDS`] readings drawn from the sureness of what was read give its spread.
//! [`findings`] is what is written of it.

pub mod angle;
pub mod arrows;
pub mod balance;
pub mod charges;
pub mod coils;
pub mod cover;
pub mod dots;
pub mod ends;
pub mod even;
pub mod findings;
mod gaps;
pub mod kinks;
pub mod lines;
#[cfg(test)]
pub(crate) mod made;
pub mod meets;
pub mod neutral;
mod real;
mod record;
pub mod region;
pub mod shift;
pub mod spacing;
pub mod table;
pub mod trust;
pub mod worlds;

use crate::drawing::Drawing;
use crate::stats::percentile_of_sorted;
use crate::worksheet::{Panel, PanelField};

use shift::Shifts;
pub use table::{ALL, Id, Measure, Unit};
use worlds::{Reading, Sets};

/// How many readings of the ink are drawn for each panel. The chance of a mark near 0.9 is then known to
/// 0.02 (one standard deviation).
pub const WORLDS: usize = 200;

/// The truth lies between these percentiles of the worlds nine times in ten (contract).
const LOW_PERCENTILE: f64 = 5.0;
const HIGH_PERCENTILE: f64 = 95.0;

/// One measure of one panel.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Measured {
    /// Of the likeliest reading; `None` where the measure is empty.
    pub value: Option<f64>,
    /// 5th and 95th percentile over the worlds that have a value.
    pub low: Option<f64>,
    pub high: Option<f64>,
    /// The same measure in each of [`WORLDS`] readings of the same ink; the nth entries of all measures of
    /// a panel belong to one reading.
    pub worlds: Vec<Option<f64>>,
}

/// All measures of one panel: what a rubric marks.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PanelMeasures {
    /// The panel's id.
    pub id: String,
    /// In the order of [`ALL`].
    pub measures: Vec<Measured>,
    /// What `dots.shift_mm` is had from, where anything.
    pub shifts: Option<Shifts>,
}

impl PanelMeasures {
    /// Measures that tell nothing, of those kept by themselves.
    fn silent(&self) -> impl Iterator<Item = Id> {
        let shift = self.shifts.as_ref().is_some_and(Shifts::is_silent);
        shift.then_some(Id::DotsShift).into_iter()
    }

    /// `dots.shift_mm` from the class's own step.
    fn shift_from(&mut self, class: [f64; 2]) {
        if let Some(shifts) = &self.shifts {
            self.measures[Id::DotsShift as usize] = shifts.from_class(class);
        }
    }

    /// A measure by its name in [`ALL`].
    pub fn get(&self, name: &str) -> Option<&Measured> {
        ALL.iter().position(|m| m.name == name).and_then(|i| self.measures.get(i))
    }
}

/// What was found in one panel.
#[derive(Clone, Debug)]
pub struct PanelFindings {
    /// The measures, worlds and all.
    pub measures: PanelMeasures,
    /// As written to findings/CODE.json.
    pub record: findings::PanelRecord,
}

/// Measures one panel's drawing against its field.
///
/// `seed` draws the worlds: the same drawing and seed give the same answer. Drawings of any size are measured
/// in time that grows with the length drawn.
pub fn measure_panel(panel: &Panel, field: &PanelField, drawing: &Drawing, seed: u64) -> PanelFindings {
    let drawing = &*coils::join(panel, charges::part(panel, drawing));
    let region = region::Region::new(panel, field, drawing);
    let places = meets::places(&region, drawing);
    let mut ends: Vec<ends::Ends> = region.lines.iter().map(|l| ends::Ends::new(&region, l)).collect();
    ends::weigh(&mut ends, &region);
    let arrows: Vec<Vec<arrows::Judged>> = region.lines.iter().map(|l| arrows::of_line(&region, l)).collect();
    let on: Vec<_> = ends.iter().map(|e| e.on([0.0; 2])).collect();
    let trust = trust::weigh(&region, &arrows, &on);
    let likeliest = Reading::likeliest(&region, &trust, drawing, &places);
    let readings = Reading::worlds(&region, &trust, drawing, &places, seed);
    let sets = Sets::new(&likeliest, &readings);
    let seen = Seen::new(&region, drawing, &places, &sets, ends, arrows, trust);
    let value = seen.measure(&likeliest, 0);
    let worlds: Vec<Values> = readings.iter().zip(&sets.of_world).map(|(r, s)| seen.measure(r, *s)).collect();
    let measured = |i: usize| Measured::new(value[i], worlds.iter().map(|w| w[i]).collect());
    let measures = (0..ALL.len()).map(measured).collect();
    let shifts = seen.paces.fits(&likeliest, &readings);
    let mut measures = PanelMeasures { id: panel.id.clone(), measures, shifts };
    measures.shift_from([0.0; 2]);
    let record = record::record(&region, drawing, &seen, &likeliest, &measures);
    PanelFindings { measures, record }
}

/// A value for each measure, in the order of [`ALL`].
type Values = [Option<f64>; table::COUNT];

/// All that is found out about a drawing once, whatever the reading.
struct Seen<'a> {
    places: &'a [meets::Place],
    ends: Vec<ends::Ends>,
    arrows: Vec<Vec<arrows::Judged>>,
    trust: Vec<Vec<trust::Trust>>,
    angles: angle::Angles,
    /// A set of lines an entry.
    patterns: Vec<(angle::Whole, spacing::Whole)>,
    /// Of the likeliest set of lines.
    odd_gaps: Vec<spacing::Odd>,
    widen_tells: bool,
    off_mm: Vec<Option<f64>>,
    cover: cover::Cover,
    balance: balance::Balance,
    neutral_mm: Option<Vec<f64>>,
    neutral_about: Option<Vec<neutral::About>>,
    dots: Vec<Vec<Option<dots::Beside>>>,
    paces: shift::Paces,
    turns_deg: Vec<Vec<f64>>,
    even: even::Even,
}

impl<'a> Seen<'a> {
    fn new(
        region: &region::Region,
        drawing: &Drawing,
        places: &'a [meets::Place],
        sets: &Sets,
        ends: Vec<ends::Ends>,
        arrows: Vec<Vec<arrows::Judged>>,
        trust: Vec<Vec<trust::Trust>>,
    ) -> Self {
        let angles = angle::Angles::new(region);
        let spacing = spacing::Spacing::new(region, &sets.sets);
        let computed = lines::computed(region);
        let likeliest = sets.sets.first();
        let dots = dots::beside(region, drawing);
        Self {
            places,
            ends,
            arrows,
            trust,
            patterns: sets.sets.iter().map(|s| (angles.of_set(s), spacing.of_set(s))).collect(),
            angles,
            odd_gaps: likeliest.map(|s| spacing.odd(s)).unwrap_or_default(),
            widen_tells: likeliest.is_some_and(|s| spacing::tells(region, s, &computed)),
            off_mm: lines::each_off_mm(region, &computed),
            cover: cover::Cover::new(region),
            balance: balance::Balance::new(region),
            neutral_mm: neutral::nearest_mm(region),
            neutral_about: neutral::about(region, drawing),
            paces: shift::Paces::new(region, drawing, &dots),
            dots,
            turns_deg: kinks::turns_deg(region),
            even: even::Even::new(region),
        }
    }

    /// Measures of the likeliest set of lines that tell nothing.
    fn silent(&self) -> impl Iterator<Item = Id> {
        let widen = self.patterns.first().is_some_and(|(_, s)| s.widen_is_silent(self.widen_tells));
        widen.then_some(Id::SpacingWiden).into_iter()
    }

    /// Every measure of one reading, whose lines are (about) those of a set.
    fn measure(&self, reading: &Reading, set: usize) -> Values {
        let on = ends::in_reading(&self.ends, reading);
        let arrows = arrows::measure(&self.arrows, &on, reading);
        let (angle, spacing) = &self.patterns[set];
        let one = |id: Id| match id {
            Id::LinesCount => Some(lines::count(reading)),
            Id::LinesOff => lines::off(&self.off_mm, reading),
            Id::ArrowsShown => arrows.shown,
            Id::ArrowsWrong => Some(arrows.wrong),
            Id::ArrowsAgree => arrows.agree,
            Id::MeetsCount => Some(meets::count(self.places, &self.ends, reading)),
            Id::AngleMedian => angle.median(reading),
            Id::AngleCloseShare => angle.close(reading),
            Id::EndsOpen => Some(ends::open(&on)),
            Id::EndsPlaced => ends::placed(&on),
            Id::JoinsWrong => Some(ends::wrong_joins(&on)),
            Id::SpacingWiden => spacing.widen(reading, self.widen_tells),
            Id::SpacingOutward => spacing.outward(reading),
            Id::CoverShare => self.cover.share(reading),
            Id::BalanceShare => self.balance.share(reading),
            Id::NeutralThrough => self.neutral_mm.as_ref().map(|d| neutral::through(d, reading)),
            Id::DotsCount => Some(dots::count(reading)),
            Id::DotsOff => dots::off(&self.dots, reading),
            Id::DotsStep => dots::step(&self.dots, reading),
            // From fits that are kept by themselves.
            Id::DotsShift => None,
            Id::LinesKinks => Some(kinks::count(&self.turns_deg, reading)),
            Id::SpacingEven => self.even.ratio(reading),
            Id::NeutralMarked => self.neutral_about.as_ref().map(|a| neutral::marked(a, reading)),
        };
        Id::ALL.map(one)
    }
}

impl Measured {
    /// With low and high from the worlds. Rounded to a millionth: what is written and read back is then the
    /// same number, so that marks from the cache are those from the page.
    fn new(value: Option<f64>, worlds: Vec<Option<f64>>) -> Self {
        const PARTS: f64 = 1e6;
        let round = |v: Option<f64>| v.filter(|v| v.is_finite()).map(|v| (v * PARTS).round() / PARTS);
        let worlds: Vec<Option<f64>> = worlds.into_iter().map(round).collect();
        let mut sorted: Vec<f64> = worlds.iter().flatten().copied().collect();
        sorted.sort_by(f64::total_cmp);
        let low = percentile_of_sorted(&sorted, LOW_PERCENTILE);
        let high = percentile_of_sorted(&sorted, HIGH_PERCENTILE);
        Self { value: round(value), low: round(low), high: round(high), worlds }
    }
}

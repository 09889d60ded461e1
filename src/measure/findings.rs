//! findings/CODE.json: all that was measured on one student's page; and the form kept in the cache, which
//! also holds the readings' samples, so that a changed rubric marks again without reading the page.
//!
//! Lengths in millimetres on the page (x right, y down), angles in degrees anticlockwise as seen.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::shift::Shifts;
use super::{ALL, Id, Measured, PanelMeasures};
use crate::worksheet::Placed;

/// The version of the form, its first key.
pub const VERSION: u32 = 1;

/// One student's findings.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Findings {
    /// [`VERSION`].
    pub findings: u32,
    /// The program's version.
    pub program: String,
    /// Hash of the rubric that gave the marks.
    pub rubric: String,
    pub code: String,
    pub source: SourcePage,
    pub page: PageFacts,
    pub panels: Vec<PanelRecord>,
    /// By criterion id (with the panel's, as the columns of marks.csv).
    pub marks: BTreeMap<String, MarkRecord>,
    /// As in marks.csv.
    pub flags: Vec<String>,
    /// Usual ideas that the drawing suggests.
    #[serde(default)]
    pub ideas: Vec<IdeaRecord>,
}

/// A usual idea that a drawing suggests.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct IdeaRecord {
    /// Its id in the catalogue.
    pub idea: String,
    /// The panel's id.
    pub panel: String,
    pub sure: f64,
    /// The lines that show it, by id; none where the whole pattern does.
    pub lines: Vec<String>,
    /// Where it shows.
    pub at_mm: Vec<[f64; 2]>,
}

/// Where the page came from.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct SourcePage {
    /// The name inside scans/.
    pub file: String,
    /// From 1, also for single images.
    pub page: usize,
}

/// How the page was found.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct PageFacts {
    /// What it was found by.
    pub found_by: String,
    pub scale_px_per_mm: f64,
    /// How far the print lies from where it should, mm.
    pub residual_mm: f64,
}

/// One criterion's mark.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct MarkRecord {
    pub marks: Option<f64>,
    /// That the mark would be the same if everything had been read right.
    pub chance: f64,
}

/// One panel.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct PanelRecord {
    pub id: String,
    pub lines: Vec<LineRecord>,
    pub meets: Vec<MeetRecord>,
    pub dots: Vec<DotRecord>,
    /// Small crosses, dots and rings that stand by themselves, as neutral points are marked.
    #[serde(default)]
    pub signs: Vec<SignRecord>,
    /// Where the gap between two lines stands out from the rest of their way, the worst first.
    #[serde(default)]
    pub gaps: Vec<GapRecord>,
    /// By name.
    pub measures: BTreeMap<String, Span>,
    /// Measures that tell nothing of such a drawing, however well it is done, by name.
    #[serde(default)]
    pub silent: Vec<String>,
    /// Lines that were crossed out: their middles.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub crossed_out: Vec<[f64; 2]>,
    /// On a traced page: where the magnets lie.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub placed: Option<Placed>,
}

/// An end this near to another line stands on it, mm.
const ON_LINE_MM: f64 = 1.2;

impl PanelRecord {
    /// Ends in free space that stand on another line: where there are several, lines may have been read in pieces.
    pub fn ends_on_lines(&self) -> usize {
        let near = |p: [f64; 2], q: &[f64; 2]| (p[0] - q[0]).hypot(p[1] - q[1]) < ON_LINE_MM;
        let free = |e: &EndRecord| e.on == "open" || e.on == "leaves";
        let stands = |i: usize, e: &EndRecord| {
            self.lines.iter().enumerate().any(|(j, l)| j != i && l.points_mm.iter().any(|q| near(e.at_mm, q)))
        };
        let ends = self.lines.iter().enumerate().flat_map(|(i, l)| l.ends.iter().map(move |e| (i, e)));
        ends.filter(|(i, e)| free(e) && stands(*i, e)).count()
    }
}

/// One drawn line.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LineRecord {
    pub id: String,
    pub points_mm: Vec<[f64; 2]>,
    pub length_mm: f64,
    pub width_mm: f64,
    pub arrows: Vec<ArrowRecord>,
    /// Two, the first belonging to the first point; none for a closed line.
    pub ends: Vec<EndRecord>,
    pub angle_deg: AngleRecord,
    pub sure: f64,
}

/// An arrowhead.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ArrowRecord {
    /// Its tip.
    pub at_mm: [f64; 2],
    pub towards_deg: f64,
    pub agrees: bool,
    pub sure: f64,
}

/// An end and what it lies on: `left.N`, `left.S`, `left.mid`, `left`, `frame`, `leaves` or `open`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct EndRecord {
    pub at_mm: [f64; 2],
    pub on: String,
}

/// The angle between one line and the computed field; empty on a line without a straight 4 mm that counts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct AngleRecord {
    pub median: Option<f64>,
    pub p90: Option<f64>,
}

/// A place where two lines meet (or one itself: the same id twice).
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct MeetRecord {
    pub at_mm: [f64; 2],
    /// `cross` or `touch`.
    pub kind: String,
    pub lines: [String; 2],
    pub sure: f64,
}

/// A plotted dot.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct DotRecord {
    pub at_mm: [f64; 2],
}

/// A small sign at a place: `cross`, `dot` or `ring`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SignRecord {
    /// Its middle.
    pub at_mm: [f64; 2],
    pub kind: String,
    /// From side to side.
    pub size_mm: f64,
    pub sure: f64,
}

/// A gap between two lines that is narrower or wider than the rest of their way asks for.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct GapRecord {
    /// Its middle.
    pub at_mm: [f64; 2],
    /// Drawn over asked for: below 1 too close, above 1 too wide.
    pub ratio: f64,
}

/// A measure as written: the truth lies between low and high nine times in ten.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Span {
    pub value: Option<f64>,
    pub low: Option<f64>,
    pub high: Option<f64>,
}

/// Findings with the readings' samples.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Cached {
    pub findings: Findings,
    /// A panel an entry, as in `findings.panels`; then a measure an entry, in the order of `names`.
    worlds: Vec<Vec<Samples>>,
    /// The measures' names when this was written.
    names: Vec<String>,
    /// Of each panel, what `dots.shift_mm` is had from.
    shifts: Vec<Option<Shifts>>,
}

/// A measure's samples; most measures are the same in every reading.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
enum Samples {
    /// This many times the same.
    #[serde(rename = "same")]
    Same(usize, Option<f64>),
    #[serde(rename = "each")]
    Each(Vec<Option<f64>>),
}

impl Samples {
    fn of(worlds: &[Option<f64>]) -> Self {
        match worlds.first() {
            Some(&v) if worlds.iter().all(|&w| w == v) => Samples::Same(worlds.len(), v),
            _ => Samples::Each(worlds.to_vec()),
        }
    }

    /// `None` if more samples are claimed than are ever drawn.
    fn spread(&self) -> Option<Vec<Option<f64>>> {
        match self {
            Samples::Same(n, v) if *n <= super::WORLDS => Some(vec![*v; *n]),
            Samples::Same(..) => None,
            Samples::Each(v) => Some(v.clone()),
        }
    }
}

impl Cached {
    /// Findings and the measures that belong to them, panel for panel.
    pub fn new(findings: Findings, panels: &[PanelMeasures]) -> Self {
        let worlds =
            panels.iter().map(|p| p.measures.iter().map(|m| Samples::of(&m.worlds)).collect()).collect();
        let shifts = panels.iter().map(|p| p.shifts.clone()).collect();
        Self { findings, worlds, names: ALL.iter().map(|m| m.name.to_owned()).collect(), shifts }
    }

    /// By which step the dots of each panel stand off, right and down in mm; `None` where they tell nothing of it, and on
    /// a traced page, where each student's magnets lie elsewhere.
    pub fn steps(&self) -> Vec<Option<[f64; 2]>> {
        let traced = |n: usize| self.findings.panels.get(n).is_none_or(|p| p.placed.is_some());
        let step = |(n, s): (usize, &Option<Shifts>)| s.as_ref()?.step().filter(|_| !traced(n));
        self.shifts.iter().enumerate().map(step).collect()
    }

    /// Takes the class's own steps, a panel an entry, off `dots.shift_mm`.
    pub fn shift_from(&mut self, class: &[[f64; 2]]) {
        let panels = self.findings.panels.iter_mut().zip(&mut self.worlds).zip(&self.shifts).zip(class);
        for (((record, worlds), shifts), class) in panels {
            let (Some(shifts), Some(samples)) = (shifts, worlds.get_mut(Id::DotsShift as usize)) else {
                continue;
            };
            let measured = shifts.from_class(*class);
            *samples = Samples::of(&measured.worlds);
            let name = ALL[Id::DotsShift as usize].name;
            record.measures.insert(name.to_owned(), measured.span());
        }
    }

    /// The measures with their samples; `None` if this was written for other measures than [`ALL`] or is
    /// not whole: the page must then be read again.
    pub fn measures(&self) -> Option<Vec<PanelMeasures>> {
        if self.names.len() != ALL.len() || self.names.iter().zip(&ALL).any(|(n, m)| n != m.name) {
            return None;
        }
        if self.worlds.len() != self.findings.panels.len() {
            return None;
        }
        let panel = |record: &PanelRecord, samples: &[Samples]| {
            if samples.len() != ALL.len() {
                return None;
            }
            let one = |(m, s): (&super::Measure, &Samples)| {
                let span = record.measures.get(m.name)?;
                let worlds = s.spread().filter(|w| w.len() == super::WORLDS)?;
                Some(Measured { value: span.value, low: span.low, high: span.high, worlds })
            };
            let measures = ALL.iter().zip(samples).map(one).collect::<Option<Vec<_>>>()?;
            Some(PanelMeasures { id: record.id.clone(), measures, shifts: None })
        };
        self.findings.panels.iter().zip(&self.worlds).map(|(r, s)| panel(r, s)).collect()
    }
}

impl Measured {
    /// As written to findings.
    fn span(&self) -> Span {
        Span { value: self.value, low: self.low, high: self.high }
    }
}

impl PanelMeasures {
    /// The measures as written to findings.
    pub fn spans(&self) -> BTreeMap<String, Span> {
        ALL.iter().zip(&self.measures).map(|(t, m)| (t.name.to_owned(), m.span())).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(points: &[[f64; 2]], on: [&str; 2]) -> LineRecord {
        let end = |(p, on): (&[f64; 2], &str)| EndRecord { at_mm: *p, on: on.into() };
        let ends = [points[0], points[points.len() - 1]];
        LineRecord {
            id: String::new(),
            points_mm: points.to_vec(),
            length_mm: 0.0,
            width_mm: 0.5,
            arrows: vec![],
            ends: ends.iter().zip(on).map(end).collect(),
            angle_deg: AngleRecord::default(),
            sure: 1.0,
        }
    }

    #[test]
    fn ends_in_free_space_that_stand_on_lines_are_counted() {
        let level: Vec<[f64; 2]> = (0..50).map(|x| [f64::from(x), 20.0]).collect();
        let upright = |x: f64, to: f64| (0..12).map(|k| [x, to - f64::from(k)]).collect::<Vec<_>>();
        let lines = vec![
            line(&level, ["frame", "frame"]),
            line(&upright(10.2, 19.5), ["left.N", "open"]),
            line(&upright(20.2, 19.5), ["open", "left.N"]),
            line(&upright(30.2, 17.0), ["open", "open"]),
            line(&upright(40.2, 19.5), ["left.N", "frame"]),
        ];
        let record = PanelRecord { lines, ..PanelRecord::default() };
        // The second stands on the level line with the end that is on a pole, the fourth and fifth do not.
        assert_eq!(record.ends_on_lines(), 1);
    }
}

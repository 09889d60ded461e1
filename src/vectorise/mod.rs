//! Thinned ink to a drawing: strokes are followed through junctions and over pen lifts, short strokes that lean on
//! a line become arrowheads, places without white between two lines become meetings, the rest is left out with a reason.

pub mod bumps;
mod crossed;
pub mod curve;
mod dashes;
pub mod evidence;
pub mod gaps;
pub mod graph;
pub mod heads;
mod judge_heads;
mod judge_meets;
pub mod leaning;
pub mod links;
pub mod loops;
pub mod marks;
pub mod meets;
mod network;
pub mod plotted;
pub mod rows;
mod scribbled;
pub mod strokes;
pub mod through;
mod tidy;
pub mod views;

use crate::drawing::{Clutter, Dot, Drawing, Dropped, Line, Mark, THERE};
use crate::ink::{Bitmap, PanelInk};
use gaps::Ground;
use graph::Graph;
use strokes::Stroke;

/// Heads less sure than this cast no doubt on meetings near them.
const MAY_BE_HEAD: f64 = 0.3;

/// Most ends and forks of thinned ink that are followed. The sheets of the samples have at most 400, those still read
/// of 500 damaged ones 1,100; noise and photographs have many thousand, and the work grows with their cube.
const MOST_JOINTS: usize = 2_500;

/// What a panel's ink is taken apart into.
struct Parts {
    graph: Graph,
    lines: Vec<Stroke>,
    heads: Vec<heads::Head>,
    /// Edges that belong to no line.
    residue: heads::Residue,
    dots: Vec<Dot>,
    marks: Vec<Mark>,
}

impl Parts {
    /// Takes out the lines that were crossed out or scribbled over, and what would be heads on them. `rest`: the ink that no
    /// line explains.
    fn take_crossed_out(&mut self, ink: &PanelInk, rest: &Bitmap) -> Vec<Stroke> {
        let mut weighed: Vec<_> =
            self.heads.iter().filter(|h| h.evidence.whose != evidence::Whose::Other).cloned().collect();
        evidence::weigh_together(&mut weighed);
        let mut numbers = crossed::out(&self.graph, &self.lines, &self.residue, &weighed);
        numbers.extend(scribbled::over(ink, &self.lines, rest));
        numbers.sort_unstable();
        numbers.dedup();
        let take = |line: usize| {
            self.heads.retain(|h| h.line != line);
            self.heads.iter_mut().filter(|h| h.line > line).for_each(|h| h.line -= 1);
            self.lines.remove(line)
        };
        numbers.into_iter().rev().map(take).collect()
    }
}

/// Judges each candidate for an arrowhead by what it looks like. `rest`: the ink that no line explains.
fn look_at(heads: &mut Vec<heads::Head>, lines: &[Stroke], ink: &PanelInk, rest: &Bitmap) {
    let rulers: Vec<heads::Ruler> = lines.iter().map(|l| heads::Ruler::of(&l.points)).collect();
    for head in heads.iter_mut() {
        let view = views::of(ink, rest, &rulers[head.line], head);
        judge_heads::judge(&view, &rulers[head.line], head);
    }
    heads::merge(heads);
    evidence::weigh_shared(heads);
}

/// Takes one panel's ink apart. Its thinned picture is spoilt: the system takes longer to hand out the memory of another one
/// than it takes to fill.
fn parts(ink: &mut PanelInk) -> (Parts, Bitmap) {
    let mut scratch = std::mem::take(&mut ink.thin);
    let (graph, strokes, mut marks) = trace(ink, &mut scratch);
    let (lines, rest) = split(strokes);
    let mut residue = heads::Residue { edges: residual_edges(&graph, &rest) };
    take_marks(ink, &graph, &lines, &mut residue, &mut marks);
    let mut heads = heads::heads(&graph, &lines, &residue, |p| ink.near_print(p));
    let dots = plotted::dots(ink, &lines);
    heads.retain(|h| !plotted::is_dot(&dots, h));
    bumps::unexplained(ink, &lines, &mut scratch);
    let places = dots.iter().map(|d| (d.at, d.radius_mm));
    plotted::explain(ink, places.chain(marks.iter().map(|m| (m.at, 0.5 * m.size_mm))), &mut scratch);
    heads.extend(bumps::heads(ink, &mut scratch, &lines, &heads));
    let rest = scratch;
    evidence::judge(
        &mut heads,
        &lines,
        |p| ink.index(p).is_some_and(|i| rest.cells[i] != 0),
        ink.mm_per_px(),
    );
    (Parts { graph, lines, heads, residue, dots, marks }, rest)
}

/// The lines of a panel that are not crossed out, and what may be arrowheads on them and places where they meet, judged
/// without looking at them, with what each looks like: for training what judges them.
#[derive(Default)]
pub struct Candidates {
    pub lines: Vec<Vec<crate::geometry::Point>>,
    pub heads: Vec<(heads::Head, Box<views::View>)>,
    pub meets: Vec<(meets::Candidate, Box<views::PlaceView>)>,
}

/// See [`Candidates`].
pub fn candidates(mut ink: PanelInk) -> Candidates {
    if graph::joints(&ink.thin) > MOST_JOINTS {
        return Candidates::default();
    }
    let (mut parts, rest) = parts(&mut ink);
    parts.take_crossed_out(&ink, &rest);
    let Parts { lines, mut heads, .. } = parts;
    let rulers: Vec<heads::Ruler> = lines.iter().map(|l| heads::Ruler::of(&l.points)).collect();
    let view = |h: &heads::Head| Box::new(views::of(&ink, &rest, &rulers[h.line], h));
    let seen = heads.iter().map(|h| (h.clone(), view(h))).collect();
    drop(rulers);
    look_at(&mut heads, &lines, &ink, &rest);
    evidence::weigh_together(&mut heads);
    let view = |c: &meets::Candidate| Box::new(views::of_place(&ink, &lines, c));
    let meets = meetings(&ink, &lines, &heads).into_iter().map(|c| (c.clone(), view(&c))).collect();
    Candidates { lines: lines.into_iter().map(|l| l.points).collect(), heads: seen, meets }
}

/// Places where lines may meet, by what is measured of them.
fn meetings(ink: &PanelInk, lines: &[Stroke], heads: &[heads::Head]) -> Vec<meets::Candidate> {
    let mut meets = meets::meetings(lines, |p| half_width_mm(ink, p));
    let tips: Vec<_> = heads.iter().filter(|h| h.arrow.sure > MAY_BE_HEAD).map(|h| h.arrow.at).collect();
    meets::weigh(&mut meets, lines, &tips);
    meets
}

/// Judges each place by what it looks like.
fn look_at_places(meets: &mut [meets::Candidate], lines: &[Stroke], ink: &PanelInk) {
    for place in meets {
        let view = views::of_place(ink, lines, place);
        judge_meets::judge(&view, place);
    }
}

/// Reads one panel's drawing off its thinned ink.
pub fn vectorise(mut ink: PanelInk) -> Drawing {
    if graph::joints(&ink.thin) > MOST_JOINTS {
        return unreadable(&ink);
    }
    let (mut parts, rest) = parts(&mut ink);
    let crossed_out = parts.take_crossed_out(&ink, &rest);
    let Parts { graph, lines, mut heads, residue, dots, marks } = parts;
    let ink = &ink;
    look_at(&mut heads, &lines, ink, &rest);
    evidence::weigh_together(&mut heads);
    heads.retain(|h| h.arrow.sure >= heads::LEAST_SURE);
    let mut unread_mm2 = 0.0;
    let mut drawing = Drawing { dots, marks, ..Drawing::default() };
    for line in crossed_out {
        let at = line.points[line.points.len() / 2];
        unread_mm2 += line.width_mm * line.length_mm;
        drawing.dropped.push(Dropped { at, why: Clutter::CrossedOut });
    }
    let mut meets = meetings(ink, &lines, &heads);
    look_at_places(&mut meets, &lines, ink);
    drawing.meets = meets.into_iter().map(|c| c.meeting).collect();
    let mut used = vec![false; residue.edges.len()];
    drawing.lines = lines.iter().map(|l| line(l, |p| ink.near_print(p))).collect();
    for head in heads {
        head.strokes.iter().for_each(|&k| used[k] = true);
        drawing.lines[head.line].arrows.push(head.arrow);
    }
    for (k, &edge) in residue.edges.iter().enumerate() {
        if !used[k] {
            let stroke = &graph.edges[edge];
            unread_mm2 += 2.0 * stroke.radius_mm * stroke.length_mm;
            drawing.dropped.push(Dropped { at: graph.along(edge, 0, 0.0), why: Clutter::ShortStroke });
        }
    }
    // A line that is taken for none is ink that was read as nothing.
    let none = drawing.lines.iter().zip(&lines).filter(|(l, _)| l.there < THERE);
    unread_mm2 += none.map(|(_, s)| s.width_mm * s.length_mm).sum::<f64>();
    drawing.unread_share = unread_mm2 / ink.area_mm2();
    drawing.crumbled = ink.crumbled;
    drawing.rulings_left = ink.rulings_left;
    drawing
}

/// No line is told apart in such a tangle: all its ink is unread, and a person looks.
fn unreadable(ink: &PanelInk) -> Drawing {
    let inked = ink.ink.ink_indices().len();
    let unread_share = inked as f64 * ink.mm_per_px().powi(2) / ink.area_mm2();
    Drawing { unread_share, ..Drawing::default() }
}

/// The graph of the ink, tidied, its strokes, longest first, and small crosses. `thin`: the thinned ink, which is spoilt.
fn trace(ink: &PanelInk, thin: &mut Bitmap) -> (Graph, Vec<Stroke>, Vec<Mark>) {
    let mut graph = Graph::of(thin, &ink.ink, |x, y| ink.to_mm(x, y), ink.mm_per_px());
    let crosses = marks::take_crosses(&mut graph, |p| ink.near_print(p));
    tidy::tidy(&mut graph, |p| ink.near_print(p));
    rows::join(&mut graph);
    let links = links::link(&mut graph, |p| ground(ink, p), |p| ink.near_print(p));
    let strokes = strokes::strokes(&graph, &links);
    (graph, strokes, crosses)
}

/// Finds small dots and rings in what is no line, and takes them out of it.
fn take_marks(
    ink: &PanelInk,
    graph: &Graph,
    lines: &[Stroke],
    residue: &mut heads::Residue,
    found: &mut Vec<Mark>,
) {
    let off_lines = |at: crate::geometry::Point| {
        let points = lines.iter().flat_map(|l| &l.points);
        points.map(|p| p.distance_squared(at)).fold(f64::INFINITY, f64::min).sqrt()
    };
    let is_round = |at, radius| plotted::is_round(ink, lines, at, radius);
    for (mark, edge) in marks::dots_and_rings(graph, &residue.edges, is_round, off_lines) {
        found.push(mark);
        residue.edges.retain(|e| Some(*e) != edge);
    }
}

/// The edges of strokes that are no lines, and those that lean on others, by number.
fn residual_edges(graph: &Graph, rest: &[Stroke]) -> Vec<usize> {
    let mut edges: Vec<usize> =
        rest.iter().flat_map(|s| s.edges.iter().copied()).chain(graph.detached()).collect();
    edges.sort_unstable();
    edges
}

/// Lines, and all other strokes.
fn split(strokes: Vec<Stroke>) -> (Vec<Stroke>, Vec<Stroke>) {
    let (mut lines, rest): (Vec<_>, Vec<_>) = strokes.into_iter().partition(strokes::is_line);
    lines = lines.into_iter().flat_map(loops::halves).collect();
    lines.sort_by(|a, b| b.length_mm.total_cmp(&a.length_mm));
    strokes::drop_twice_drawn(&mut lines);
    (lines, rest)
}

fn line(stroke: &Stroke, near_print: impl Fn(crate::geometry::Point) -> bool) -> Line {
    let points = curve::resample(&stroke.points, 2.0 * curve::STEP_MM);
    let at_print = near_print(points[0]) || near_print(points[points.len() - 1]);
    Line {
        points,
        width_mm: stroke.width_mm,
        arrows: Vec::new(),
        sure: strokes::sureness(stroke),
        there: strokes::there(stroke, at_print),
    }
}

/// Half the width of the ink round a place, mm; 0 where there is none.
fn half_width_mm(ink: &PanelInk, p: crate::geometry::Point) -> f64 {
    if !ink.at(p).0 {
        return 0.0;
    }
    let (x, y) = ink.to_px(p);
    graph::half_width(&ink.ink, ink.ink.index(x.round() as usize, y.round() as usize)) * ink.mm_per_px()
}

fn ground(ink: &PanelInk, p: crate::geometry::Point) -> Ground {
    match ink.at(p) {
        (true, _) => Ground::Ink,
        (false, true) => Ground::Print,
        _ => Ground::White,
    }
}

#[cfg(test)]
mod tests;

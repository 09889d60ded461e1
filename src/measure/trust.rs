//! How far each arrowhead is trusted, given what the sheet's other arrowheads say.
//!
//! One hand mostly draws one way: where nearly all of a sheet's clear heads agree with the field, a doubtful one that
//! seems not to is likelier misread, or no head at all, than drawn so; where they disagree, the other way about. The
//! share that agrees is told from the other heads on the sheet, and before there are any from a guess worth two heads;
//! nothing of the class enters.

use super::arrows::Judged;
use super::ends::On;
use super::region::Region;

/// A head's two chances, all heads of the sheet considered.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trust {
    /// That it is a head.
    pub sure: f64,
    /// That it agrees, or not, as it was read.
    pub way_sure: f64,
}

/// What is known before any head is seen, as heads: this many that agree and so many that do not. Common practice, no
/// source: most pupils know which way most lines go.
const AGREE_BEFORE: f64 = 1.8;
const AGAINST_BEFORE: f64 = 0.2;
/// No sheet is taken to be more uniform than this.
const MOST_UNIFORM: f64 = 0.94;
/// What is no head seems to agree as often as not.
const BY_CHANCE: f64 = 0.5;

/// A line an entry, then an arrow. `on`: what the ends of each line lie on.
pub fn weigh(region: &Region, judged: &[Vec<Judged>], on: &[Option<[On; 2]>]) -> Vec<Vec<Trust>> {
    // That it agrees or not as it seems to: its way, and the way of the field beside it, being read rightly or both wrongly.
    let seems_sure = |line: usize, k: usize| {
        let (way, field) = (
            region.lines[line].line.arrows[k].way_sure,
            judged[line][k].sure(on[line], region.lines[line].line.sure),
        );
        way * field + (1.0 - way) * (1.0 - field)
    };
    let says = |line: usize, k: usize| {
        let weight = region.lines[line].line.arrows[k].sure * (2.0 * seems_sure(line, k) - 1.0).max(0.0);
        (weight, judged[line][k].agrees(on[line], false))
    };
    let all = judged.iter().enumerate().flat_map(|(i, j)| (0..j.len()).map(move |k| (i, k)));
    let (mut weight, mut agreeing) = (AGREE_BEFORE + AGAINST_BEFORE, AGREE_BEFORE);
    for (w, agrees) in all.map(|(i, k)| says(i, k)) {
        weight += w;
        agreeing += if agrees { w } else { 0.0 };
    }
    let one = |line: usize, k: usize| {
        let arrow = &region.lines[line].line.arrows[k];
        let (w, agrees) = says(line, k);
        // The other heads' share, this one left out.
        let rate = (agreeing - if agrees { w } else { 0.0 }) / (weight - w);
        let field = judged[line][k].sure(on[line], region.lines[line].line.sure);
        // Where the field lies across the arrow, what the other heads say tells nothing.
        let rate = 0.5 + (rate.clamp(1.0 - MOST_UNIFORM, MOST_UNIFORM) - 0.5) * (2.0 * field - 1.0);
        let (as_read, turned) = if agrees { (rate, 1.0 - rate) } else { (1.0 - rate, rate) };
        let as_read = arrow.way_sure * as_read;
        let is_head = as_read + (1.0 - arrow.way_sure) * turned;
        let way = as_read / is_head;
        let sure = arrow.sure * is_head / (arrow.sure * is_head + (1.0 - arrow.sure) * BY_CHANCE);
        Trust { sure, way_sure: way * field + (1.0 - way) * (1.0 - field) }
    };
    judged.iter().enumerate().map(|(i, j)| (0..j.len()).map(|k| one(i, k)).collect()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::Arrow;
    use crate::measure::{arrows, ends::Ends, made};

    /// Level lines in a field that points right; `ways`: (right or left, way_sure).
    fn trust(ways: &[(bool, f64)]) -> Vec<Trust> {
        let panel = made::uniform(0.0);
        let field = panel.field();
        let line = |i: usize| made::straight((20.0, 20.0 + 10.0 * i as f64), (180.0, 20.0 + 10.0 * i as f64));
        let mut d = made::drawing((0..ways.len()).map(line).collect());
        for (i, &(right, way_sure)) in ways.iter().enumerate() {
            let at = crate::geometry::Point::new(100.0, 20.0 + 10.0 * i as f64);
            let towards = crate::geometry::Vec2::new(if right { 1.0 } else { -1.0 }, 0.0);
            d.lines[i].arrows.push(Arrow { at, towards, sure: 0.9, way_sure });
        }
        let region = Region::new(&panel, &field, &d);
        let judged: Vec<Vec<Judged>> = region.lines.iter().map(|l| arrows::of_line(&region, l)).collect();
        let on: Vec<_> = region.lines.iter().map(|l| Ends::new(&region, l).on([0.0; 2])).collect();
        weigh(&region, &judged, &on).into_iter().flatten().collect()
    }

    #[test]
    fn a_doubtful_head_is_read_as_the_clear_ones() {
        let clear = [(true, 0.998); 9];
        let with = |way_sure| trust(&[clear.as_slice(), &[(false, way_sure)]].concat())[9];
        assert!(with(0.6).way_sure < 0.1, "{:?}", with(0.6));
        assert!(with(0.998).way_sure > 0.9, "a clear one stays as it was drawn: {:?}", with(0.998));
        assert!(with(0.998).sure < 0.9);
    }

    #[test]
    fn a_sheet_drawn_the_wrong_way_round_stays_so() {
        let clear = [(false, 0.998); 9];
        let with = |right| trust(&[clear.as_slice(), &[(right, 0.6)]].concat())[9].way_sure;
        assert!(with(false) > 0.85 && with(true) < 0.3, "{} {}", with(false), with(true));
    }

    #[test]
    fn a_head_by_itself_keeps_most_of_its_doubt() {
        let one = trust(&[(false, 0.9)])[0].way_sure;
        assert!((0.4..0.6).contains(&one), "{one}");
    }
}

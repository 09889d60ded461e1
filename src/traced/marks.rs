//! What the student wrote inside the outlines and beside them: pieces of ink, and the letters among them.

use super::fit::Fit;
use super::glyph::{self, Letter};
use super::shape::{Likeness, Shape};
use super::which::Found;
use crate::geometry::{Point, Rect, Vec2};
use crate::ink::{Bitmap, PanelInk};
use crate::rectify::flatten::PX_PER_MM;
use crate::worksheet::{Kind, Source};

/// A letter's largest and smallest extent, mm.
const LETTER_MM: std::ops::Range<f64> = 2.2..16.0;
/// Strokes of one letter lie within this of one another, mm.
const JOIN_MM: f64 = 0.7;
/// Letters beside a magnet lie within this of its outline, mm.
const BESIDE_MM: f64 = 16.0;
/// A letter belongs to the end that it lies towards: its middle at least this share of the half length from the middle.
const TOWARDS_SHARE: f64 = 0.12;
/// A stroke inside an outline is ink of the outline itself within this, mm.
const RIM_MM: f64 = 0.5;

/// Ink that hangs together or nearly so.
pub struct Piece {
    /// Indices into the ink's cells.
    pub cells: Vec<usize>,
    pub bounds: Rect,
    pub letter: Option<Letter>,
}

impl Piece {
    fn extent(&self) -> f64 {
        self.bounds.width().max(self.bounds.height())
    }
}

/// Which pole of a source lies where.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Poles {
    /// The letters agree that N lies the way of the source's own axis (horseshoe: to its left).
    Read { along: bool },
    /// A disc's letters lie this way from its S to its N, degrees.
    Towards(f64),
    /// One end was read, the other not.
    OneEnd { along: bool },
    /// Nothing was read, or what was read contradicts itself.
    Unread,
}

/// The pieces of ink small enough for letters, outlines left out; those inside outlines and beside them are read.
pub fn pieces(ink: &PanelInk, outlines: &Bitmap, found: &[Found]) -> Vec<Piece> {
    let mut rest = ink.ink.clone();
    for (cell, &outline) in rest.cells.iter_mut().zip(&outlines.cells) {
        if outline != 0 {
            *cell = 0;
        }
    }
    let mut pieces: Vec<Piece> = Vec::new();
    let mut group = Vec::new();
    for start in rest.ink_indices() {
        if rest.cells[start] != 0 {
            rest.take_group(start, &mut group);
            let places = group.iter().map(|&i| {
                let (x, y) = rest.place(i);
                ink.to_mm(x as f64, y as f64)
            });
            let bounds = bounds(places);
            let near = |f: &Found| {
                f.fit.pose.centre.distance(bounds.center()) < f.shape.reach_mm() + BESIDE_MM + LETTER_MM.end
            };
            if bounds.width().max(bounds.height()) < LETTER_MM.end && found.iter().any(near) {
                pieces.push(Piece { cells: group.clone(), bounds, letter: None });
            }
        }
    }
    let mut pieces = joined(pieces, rest.stride());
    for piece in pieces.iter_mut().filter(|p| LETTER_MM.contains(&p.extent())) {
        // Elsewhere on the page a letter says nothing of a pole.
        if !found.iter().any(|f| place(piece, &f.shape, &f.fit).is_some()) {
            continue;
        }
        let thin = piece.cells.iter().filter(|&&i| ink.thin.cells[i] != 0);
        let places: Vec<Point> = thin
            .map(|&i| {
                let (x, y) = ink.thin.place(i);
                ink.to_mm(x as f64, y as f64)
            })
            .collect();
        piece.letter = glyph::read(&places);
    }
    pieces
}

fn bounds(places: impl Iterator<Item = Point>) -> Rect {
    let mut r = Rect::new(f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY);
    for p in places {
        r = Rect::new(r.x0.min(p.x), r.y0.min(p.y), r.x1.max(p.x), r.y1.max(p.y));
    }
    r
}

/// Pieces that nearly touch are one, as long as that is no larger than a letter.
fn joined(mut pieces: Vec<Piece>, stride: usize) -> Vec<Piece> {
    // Only neighbours in x are looked at.
    pieces.sort_by(|a, b| a.bounds.x0.total_cmp(&b.bounds.x0));
    let mut k = 0;
    while k < pieces.len() {
        let reach = pieces[k].bounds.inflate(JOIN_MM, JOIN_MM);
        let partner = (k + 1..pieces.len()).take_while(|&j| pieces[j].bounds.x0 < reach.x1).find(|&j| {
            let union = pieces[k].bounds.union(pieces[j].bounds);
            reach.overlaps(pieces[j].bounds)
                && union.width().max(union.height()) < LETTER_MM.end
                && touch(&pieces[k], &pieces[j], stride)
        });
        match partner {
            Some(j) => {
                let other = pieces.remove(j);
                pieces[k].bounds = pieces[k].bounds.union(other.bounds);
                pieces[k].cells.extend(other.cells);
            }
            None => k += 1,
        }
    }
    pieces
}

/// Whether two pieces come within [`JOIN_MM`] of each other.
fn touch(a: &Piece, b: &Piece, stride: usize) -> bool {
    let reach = pixels(JOIN_MM);
    let place = |i: usize| ((i % stride) as isize, (i / stride) as isize);
    a.cells.iter().any(|&i| {
        let (x, y) = place(i);
        b.cells.iter().any(|&j| {
            let (u, v) = place(j);
            (u - x).pow(2) + (v - y).pow(2) <= reach * reach
        })
    })
}

/// Where a piece lies, in a source's own axes, and whether inside its outline; `None` for one that lies across the outline,
/// or too far off.
fn place(piece: &Piece, shape: &Shape, fit: &Fit) -> Option<(Vec2, bool)> {
    let b = piece.bounds;
    let middle = fit.pose.local(b.center());
    let corners = [(b.x0, b.y0), (b.x1, b.y0), (b.x1, b.y1), (b.x0, b.y1)];
    let local = corners.map(|(x, y)| fit.pose.local(Point::new(x, y)));
    if shape.holds(middle, RIM_MM) {
        return local.iter().all(|v| shape.holds(*v, -2.0)).then_some((middle, true));
    }
    let near = shape.holds(middle, -BESIDE_MM) && !local.iter().any(|v| shape.holds(*v, 0.0));
    near.then_some((middle, false))
}

/// Whether a piece is writing that belongs to a source: inside its outline, or a letter beside it.
pub fn belongs(piece: &Piece, shape: &Shape, fit: &Fit) -> bool {
    match place(piece, shape, fit) {
        Some((_, true)) => true,
        Some((_, false)) => piece.letter.is_some(),
        None => false,
    }
}

/// Reads which pole lies where.
pub fn poles(source: &Source, shape: &Shape, fit: &Fit, pieces: &[Piece]) -> Poles {
    let found = |inside: bool| -> Vec<(Vec2, Letter)> {
        let read = pieces.iter().filter_map(|p| Some((place(p, shape, fit)?, p.letter?)));
        read.filter(|((_, within), _)| *within == inside).map(|((at, _), letter)| (at, letter)).collect()
    };
    // What stands inside belongs to this magnet; what stands beside it may belong to another.
    let inside = found(true);
    let letters = if inside.is_empty() { found(false) } else { inside };
    if shape.likeness == Likeness::Round {
        return across(&letters);
    }
    let sideways = matches!(source.kind, Kind::Horseshoe { .. });
    let half = if sideways { half_width(shape) } else { shape.reach_mm() };
    let says = |end: f64| -> Option<Letter> {
        let of =
            letters.iter().filter(|(at, _)| end * if sideways { at.y } else { at.x } > TOWARDS_SHARE * half);
        let mut read: Vec<Letter> = of.map(|(_, letter)| *letter).collect();
        read.dedup();
        (read.len() == 1).then(|| read[0])
    };
    match (says(1.0), says(-1.0)) {
        (Some(Letter::N), Some(Letter::S)) => Poles::Read { along: true },
        (Some(Letter::S), Some(Letter::N)) => Poles::Read { along: false },
        (Some(letter), None) => Poles::OneEnd { along: letter == Letter::N },
        (None, Some(letter)) => Poles::OneEnd { along: letter == Letter::S },
        _ => Poles::Unread,
    }
}

fn half_width(shape: &Shape) -> f64 {
    shape.rim(1.0).iter().map(|r| r.at.y).fold(0.0, f64::max)
}

/// A disc's way from its letter S to its letter N.
fn across(letters: &[(Vec2, Letter)]) -> Poles {
    match letters {
        [(a, Letter::N), (b, Letter::S)] | [(b, Letter::S), (a, Letter::N)] => {
            Poles::Towards((*a - *b).atan2().to_degrees())
        }
        _ => Poles::Unread,
    }
}

/// Pixels of a length, mm.
pub fn pixels(mm: f64) -> isize {
    (mm * PX_PER_MM).round() as isize
}

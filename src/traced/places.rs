//! Thinned ink as places with a direction, kept so that those near a place are found at once.

use crate::geometry::{Point, Rect, Vec2};
use crate::ink::PanelInk;

/// Round a place so much thinned ink tells its direction, pixels of the flat page (0.9 mm): more than a stroke is wide, less
/// than a corner takes.
const AROUND_PX: isize = 7;
/// Side of a cell of the register, mm.
const CELL_MM: f64 = 2.0;

/// A place on a stroke.
#[derive(Clone, Copy, Debug)]
pub struct Place {
    pub at: Point,
    /// Along the stroke, either way.
    pub way: Vec2,
}

/// All places of a page.
pub struct Places {
    pub all: Vec<Place>,
    region: Rect,
    columns: usize,
    /// By cell.
    cells: Vec<Vec<u32>>,
}

impl Places {
    /// Every pixel of the thinned ink.
    pub fn of(ink: &PanelInk, region: Rect) -> Self {
        let thin = &ink.thin;
        let columns = (region.width() / CELL_MM).ceil() as usize + 1;
        let rows = (region.height() / CELL_MM).ceil() as usize + 1;
        let mut places = Self { all: Vec::new(), region, columns, cells: vec![Vec::new(); columns * rows] };
        for i in thin.ink_indices() {
            let (x, y) = thin.place(i);
            if let Some(way) = way(thin, x, y) {
                let at = ink.to_mm(x as f64, y as f64);
                if let Some(cell) = places.cell(at) {
                    places.cells[cell].push(places.all.len() as u32);
                    places.all.push(Place { at, way });
                }
            }
        }
        places
    }

    fn cell(&self, p: Point) -> Option<usize> {
        let (x, y) = ((p.x - self.region.x0) / CELL_MM, (p.y - self.region.y0) / CELL_MM);
        let inside = x >= 0.0 && y >= 0.0 && (x as usize) < self.columns;
        let cell = if inside { y as usize * self.columns + x as usize } else { usize::MAX };
        (cell < self.cells.len()).then_some(cell)
    }

    /// All places within a box round `p`, `reach` mm each way, and a little more.
    pub fn near(&self, p: Point, reach: f64) -> impl Iterator<Item = &Place> + '_ {
        let column = |x: f64| ((x - self.region.x0) / CELL_MM).floor().max(0.0) as usize;
        let row = |y: f64| ((y - self.region.y0) / CELL_MM).floor().max(0.0) as usize;
        let (x0, x1) = (column(p.x - reach), column(p.x + reach).min(self.columns - 1));
        let rows = self.cells.len() / self.columns;
        let (y0, y1) = (row(p.y - reach), row(p.y + reach).min(rows - 1));
        let cells = (y0..=y1).flat_map(move |y| (x0..=x1).map(move |x| y * self.columns + x));
        cells.flat_map(|cell| &self.cells[cell]).map(|&i| &self.all[i as usize])
    }
}

/// The direction of the thinned ink round a pixel: the long axis of its scatter. `None` for a speck and in a tangle.
fn way(thin: &crate::ink::Bitmap, x: usize, y: usize) -> Option<Vec2> {
    let (x, y) = (x as isize, y as isize);
    let (mut n, mut sx, mut sy, mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0);
    for v in (y - AROUND_PX).max(0)..=(y + AROUND_PX).min(thin.height as isize - 1) {
        let row = thin.row(v as usize);
        for u in (x - AROUND_PX).max(0)..=(x + AROUND_PX).min(thin.width as isize - 1) {
            if row[u as usize] != 0 {
                let (a, b) = ((u - x) as f64, (v - y) as f64);
                n += 1.0;
                sx += a;
                sy += b;
                xx += a * a;
                xy += a * b;
                yy += b * b;
            }
        }
    }
    if n < 4.0 {
        return None;
    }
    let (xx, xy, yy) = (xx - sx * sx / n, xy - sx * sy / n, yy - sy * sy / n);
    let apart = (0.25 * (xx - yy).powi(2) + xy * xy).sqrt();
    // Of a straight stroke the scatter across is next to nothing; of a crossing it is as much as along.
    let round = 0.5 * (xx + yy) - apart > 0.45 * (0.5 * (xx + yy) + apart);
    (!round).then(|| Vec2::from_angle(0.5 * (2.0 * xy).atan2(xx - yy)))
}

//! The thinned ink as a graph: nodes where strokes end or meet, edges along the strokes, in millimetres.

use crate::geometry::{Point, Vec2};
use crate::ink::Bitmap;

/// Farthest distance to the paper that is looked for from the middle of a stroke, pixels (2 mm: a blot).
const FAR_PX: i32 = 16;

/// A stretch of stroke between two nodes.
#[derive(Clone, Debug)]
pub struct Edge {
    /// Node at the first and at the last point.
    pub nodes: [usize; 2],
    /// From node to node, one point a pixel, mm.
    pub points: Vec<Point>,
    /// Half the stroke's width, mm: the median along the edge.
    pub radius_mm: f64,
    /// Half the stroke's width where it is narrow, mm: the lower decile along the edge.
    pub narrow_mm: f64,
    /// Arc length, mm.
    pub length_mm: f64,
    pub alive: bool,
    /// Taken off its nodes: a short stroke that leans on a longer one, most likely a barb.
    pub detached: bool,
    /// No stroke but a row of dots.
    pub dotted: bool,
}

/// A place where edges end.
#[derive(Clone, Debug)]
pub struct Node {
    pub at: Point,
    /// Half the stroke's width there, mm.
    pub radius_mm: f64,
    /// (edge, which of its ends), in the order found.
    pub ends: Vec<(usize, usize)>,
    /// Length of all strokes that hang together here as thinned, before anything was tidied away, mm; 0 for ink that thins
    /// to a single place.
    pub hangs_mm: f64,
}

/// Nodes and edges; edges that have been taken out stay in place with `alive` false.
#[derive(Clone, Debug, Default)]
pub struct Graph {
    pub nodes: Vec<Node>,
    pub edges: Vec<Edge>,
}

impl Graph {
    /// Reads the graph off a thinned picture, which is spoilt. `ink` is the picture before thinning, for the widths;
    /// `to_mm` maps a pixel to the page.
    pub fn of(thin: &mut Bitmap, ink: &Bitmap, to_mm: impl Fn(f64, f64) -> Point, mm_per_px: f64) -> Self {
        let pixels = straighten(thin);
        Tracer { thin, ink, to_mm, mm_per_px, node_of: Default::default(), graph: Graph::default() }
            .run(&pixels)
    }

    /// The edges that are in use, by number.
    pub fn alive(&self) -> impl Iterator<Item = usize> + '_ {
        (0..self.edges.len()).filter(|&e| self.edges[e].alive && !self.edges[e].detached)
    }

    /// The edges that lean on others, by number.
    pub fn detached(&self) -> impl Iterator<Item = usize> + '_ {
        (0..self.edges.len()).filter(|&e| self.edges[e].alive && self.edges[e].detached)
    }

    /// The places of ink that thins to a single one.
    pub fn specks(&self) -> impl Iterator<Item = &Node> + '_ {
        self.nodes.iter().filter(|n| n.ends.is_empty() && n.hangs_mm == 0.0)
    }

    /// For each node the least of those that hang together with it.
    pub fn roots(&self) -> Vec<usize> {
        let mut roots: Vec<usize> = (0..self.nodes.len()).collect();
        let root = |roots: &mut Vec<usize>, mut k: usize| {
            while roots[k] != k {
                roots[k] = roots[roots[k]];
                k = roots[k];
            }
            k
        };
        for e in self.alive() {
            let [a, b] = self.edges[e].nodes.map(|n| root(&mut roots, n));
            roots[a.max(b)] = a.min(b);
        }
        (0..roots.len()).map(|k| root(&mut roots, k)).collect()
    }

    /// Takes an edge off its nodes but keeps it.
    pub fn detach(&mut self, edge: usize) {
        self.remove(edge);
        self.edges[edge].alive = true;
        self.edges[edge].detached = true;
    }

    /// How many edge ends stand at a node.
    pub fn degree(&self, node: usize) -> usize {
        self.nodes[node].ends.len()
    }

    /// Takes an edge out.
    pub fn remove(&mut self, edge: usize) {
        self.edges[edge].alive = false;
        for end in 0..2 {
            let node = self.edges[edge].nodes[end];
            self.nodes[node].ends.retain(|&(e, k)| (e, k) != (edge, end));
        }
    }

    /// Adds an edge between two nodes.
    pub fn add(&mut self, nodes: [usize; 2], points: Vec<Point>, radius_mm: f64) -> usize {
        let edge = self.edges.len();
        let length_mm = points.windows(2).map(|w| w[0].distance(w[1])).sum();
        self.edges.push(Edge {
            nodes,
            points,
            radius_mm,
            narrow_mm: radius_mm,
            length_mm,
            alive: true,
            detached: false,
            dotted: false,
        });
        for (end, node) in nodes.into_iter().enumerate() {
            self.nodes[node].ends.push((edge, end));
        }
        edge
    }

    /// Joins the two edges at a node of degree two into one.
    pub fn dissolve(&mut self, node: usize) {
        let [(a, ka), (b, kb)] = self.nodes[node].ends[..] else { return };
        if a == b {
            return;
        }
        let (mut points, mut rest) = (self.edges[a].points.clone(), self.edges[b].points.clone());
        if ka == 0 {
            points.reverse();
        }
        if kb == 1 {
            rest.reverse();
        }
        points.extend_from_slice(&rest[1..]);
        let nodes = [self.edges[a].nodes[1 - ka], self.edges[b].nodes[1 - kb]];
        let (la, lb) = (self.edges[a].length_mm, self.edges[b].length_mm);
        let radius = (self.edges[a].radius_mm * la + self.edges[b].radius_mm * lb) / (la + lb).max(1e-9);
        let narrow_mm = self.edges[a].narrow_mm.min(self.edges[b].narrow_mm);
        self.remove(a);
        self.remove(b);
        let edge = self.add(nodes, points, radius);
        self.edges[edge].narrow_mm = narrow_mm;
    }

    /// The points of an edge, beginning at the given end.
    pub fn from_end(&self, edge: usize, end: usize) -> Box<dyn Iterator<Item = Point> + '_> {
        let points = &self.edges[edge].points;
        if end == 0 { Box::new(points.iter().copied()) } else { Box::new(points.iter().rev().copied()) }
    }

    /// The point `distance_mm` along an edge from one of its ends (its far end where the edge is shorter).
    pub fn along(&self, edge: usize, end: usize, distance_mm: f64) -> Point {
        let mut left = distance_mm;
        let mut points = self.from_end(edge, end);
        let Some(mut last) = points.next() else { return Point::ORIGIN };
        for p in points {
            let step = last.distance(p);
            if step >= left {
                return if step > 0.0 { last.lerp(p, left / step) } else { p };
            }
            left -= step;
            last = p;
        }
        last
    }

    /// The unit step that leads out of a node along an edge, between two distances from the node, mm.
    ///
    /// Close to a node the thinned line is bent by the strokes that meet there; hence not from the node itself.
    pub fn outward(&self, edge: usize, end: usize, from_mm: f64, to_mm: f64) -> Vec2 {
        let from = from_mm.min(0.4 * self.edges[edge].length_mm);
        let step = self.along(edge, end, to_mm) - self.along(edge, end, from);
        if step.hypot() > 1e-9 { step.normalize() } else { Vec2::new(1.0, 0.0) }
    }
}

/// How many pixels of a thinned picture are ends, forks or stand alone.
pub fn joints(thin: &Bitmap) -> usize {
    let steps = thin.ring_steps();
    let degree = |i: usize| steps.iter().filter(|&&s| thin.cells[(i as isize + s) as usize] != 0).count();
    thin.ink_indices().into_iter().filter(|&i| degree(i) != 2).count()
}

/// Takes the corners off staircases, so that pixels of a plain stroke have two neighbours; gives all ink pixels.
fn straighten(thin: &mut Bitmap) -> Vec<usize> {
    let steps = thin.ring_steps();
    let pixels = thin.ink_indices();
    for &i in &pixels {
        let on = |k: usize| thin.cells[(i as isize + steps[k % 8]) as usize] != 0;
        // A corner: two neighbours at right angles, and nothing that hangs on this pixel alone.
        let corner = (0..8).step_by(2).any(|k| on(k) && on(k + 2) && (3..8).all(|d| !on(k + d)));
        if corner {
            thin.cells[i] = 0;
        }
    }
    pixels.into_iter().filter(|&i| thin.cells[i] != 0).collect()
}

struct Tracer<'a, F> {
    thin: &'a mut Bitmap,
    ink: &'a Bitmap,
    to_mm: F,
    mm_per_px: f64,
    /// Node of each junction or end pixel; sorted by pixel.
    node_of: std::collections::BTreeMap<usize, usize>,
    graph: Graph,
}

impl<F: Fn(f64, f64) -> Point> Tracer<'_, F> {
    fn run(mut self, pixels: &[usize]) -> Graph {
        let steps = self.thin.ring_steps();
        let degree =
            |i: usize| steps.iter().filter(|&&s| self.thin.cells[(i as isize + s) as usize] != 0).count();
        let marked: Vec<usize> = pixels.iter().copied().filter(|&i| degree(i) != 2).collect();
        self.cluster(&marked, &steps);
        let starts: Vec<(usize, usize)> = self.node_of.iter().map(|(&i, &n)| (i, n)).collect();
        // Cells: 1 not walked, 2 walked, 3 node.
        for &(i, _) in &starts {
            self.thin.cells[i] = 3;
        }
        for &(i, n) in &starts {
            for s in steps {
                let j = (i as isize + s) as usize;
                if self.thin.cells[j] == 1 {
                    self.walk(i, n, j, &steps);
                } else if self.thin.cells[j] == 3 && j > i && self.node_of[&j] != n {
                    let m = self.node_of[&j];
                    self.finish([n, m], vec![i, j]);
                }
            }
        }
        // What is left are rings without a node.
        for &i in pixels {
            if self.thin.cells[i] == 1 {
                let node = self.new_node(&[i]);
                self.node_of.insert(i, node);
                self.thin.cells[i] = 3;
                if let Some(&s) = steps.iter().find(|&&s| self.thin.cells[(i as isize + s) as usize] == 1) {
                    self.walk(i, node, (i as isize + s) as usize, &steps);
                }
            }
        }
        let roots = self.graph.roots();
        let mut hangs = vec![0.0; roots.len()];
        for edge in &self.graph.edges {
            hangs[roots[edge.nodes[0]]] += edge.length_mm;
        }
        for (node, root) in self.graph.nodes.iter_mut().zip(roots) {
            node.hangs_mm = hangs[root];
        }
        self.graph
    }

    /// One node for each group of neighbouring pixels that are no plain stroke.
    fn cluster(&mut self, marked: &[usize], steps: &[isize; 8]) {
        for &start in marked {
            if self.node_of.contains_key(&start) {
                continue;
            }
            let node = self.graph.nodes.len();
            self.node_of.insert(start, node);
            let mut group = vec![start];
            let mut next = 0;
            while next < group.len() {
                for s in steps {
                    let j = (group[next] as isize + s) as usize;
                    if marked.binary_search(&j).is_ok() && !self.node_of.contains_key(&j) {
                        self.node_of.insert(j, node);
                        group.push(j);
                    }
                }
                next += 1;
            }
            let made = self.new_node(&group);
            debug_assert_eq!(made, node);
        }
    }

    fn new_node(&mut self, group: &[usize]) -> usize {
        let (mut x, mut y, mut radius) = (0.0, 0.0, 0.0f64);
        for &i in group {
            let (u, v) = self.thin.place(i);
            x += u as f64;
            y += v as f64;
            radius = radius.max(half_width(self.ink, i) * self.mm_per_px);
        }
        let n = group.len() as f64;
        let at = (self.to_mm)(x / n, y / n);
        self.graph.nodes.push(Node { at, radius_mm: radius, ends: Vec::new(), hangs_mm: 0.0 });
        self.graph.nodes.len() - 1
    }

    /// Walks from node pixel `from` over `first` to the next node.
    fn walk(&mut self, from: usize, node: usize, first: usize, steps: &[isize; 8]) {
        let mut path = vec![from, first];
        self.thin.cells[first] = 2;
        let (mut before, mut here) = (from, first);
        loop {
            let around = |i: usize| steps.iter().map(move |s| (i as isize + s) as usize);
            let ahead = around(here).find(|&j| self.thin.cells[j] == 1 && j != before);
            let end = around(here)
                .find(|&j| self.thin.cells[j] == 3 && (j != before) && (path.len() > 2 || j != from));
            match (end, ahead) {
                (Some(j), _) => {
                    path.push(j);
                    let last = self.node_of[&j];
                    self.finish([node, last], path);
                    return;
                }
                (None, Some(j)) => {
                    self.thin.cells[j] = 2;
                    path.push(j);
                    before = here;
                    here = j;
                }
                (None, None) => {
                    // Back at the node it came from, by the pixel it started on.
                    self.finish([node, node], path);
                    return;
                }
            }
        }
    }

    fn finish(&mut self, nodes: [usize; 2], path: Vec<usize>) {
        let widths: Vec<f64> = path.iter().map(|&i| half_width(self.ink, i)).collect();
        let mut sorted = widths;
        sorted.sort_by(f64::total_cmp);
        let radius = sorted[sorted.len() / 2] * self.mm_per_px;
        let mut points: Vec<Point> = path
            .iter()
            .map(|&i| {
                let (x, y) = self.thin.place(i);
                (self.to_mm)(x as f64, y as f64)
            })
            .collect();
        points[0] = self.graph.nodes[nodes[0]].at;
        let n = points.len();
        points[n - 1] = self.graph.nodes[nodes[1]].at;
        if nodes[0] == nodes[1] && n <= 3 {
            return;
        }
        let edge = self.graph.add(nodes, points, radius);
        self.graph.edges[edge].narrow_mm = sorted[sorted.len() / 10] * self.mm_per_px;
    }
}

/// Distance from an ink pixel's centre to the paper, pixels: half the stroke's width on its middle line.
pub fn half_width(ink: &Bitmap, i: usize) -> f64 {
    let (x, y) = ink.place(i);
    let (x, y) = (x as i32, y as i32);
    let paper = |u: i32, v: i32| {
        u < 0 || v < 0 || u >= ink.width as i32 || v >= ink.height as i32 || !ink.get(u as usize, v as usize)
    };
    let mut best = i32::MAX;
    for r in 1..=FAR_PX {
        if r * r >= best {
            break;
        }
        for k in -r..=r {
            for (u, v) in [(x + k, y - r), (x + k, y + r), (x - r, y + k), (x + r, y + k)] {
                if paper(u, v) {
                    best = best.min((u - x).pow(2) + (v - y).pow(2));
                }
            }
        }
    }
    // The edge lies half a pixel before the first paper pixel's centre.
    if best == i32::MAX { FAR_PX as f64 } else { (best as f64).sqrt() - 0.5 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ends_forks_and_single_pixels_are_joints() {
        let mut thin = Bitmap::new(20, 10);
        (2..12).for_each(|x| thin.set(x, 5, true));
        assert_eq!(joints(&thin), 2);
        thin.set(16, 2, true);
        assert_eq!(joints(&thin), 3);
        (1..5).for_each(|y| thin.set(7, y, true));
        assert!(joints(&thin) > 4);
    }
}

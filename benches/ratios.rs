//! The two times that benches/ratios.py sets against other programs: flux density at a million places about a cuboid, and
//! twenty lines of the unlike-poles sheet. One thread; the best of several runs, as one line of JSON.
//! `cargo bench --bench ratios`, or the script, which calls it.

use lodemark::field::{Body, Cuboid, Field, Shape, Triple};
use lodemark::geometry::{Point, Rect};
use lodemark::worksheet::{Kind, Panel, Source};
use std::hint::black_box;
use std::time::Instant;

const PLACES: usize = 1_000_000;
const RUNS: usize = 7;

/// Places evenly over a box of 200 mm, the same in the script: multiples of irrational numbers, their whole part dropped.
fn places() -> Vec<Triple> {
    let at = |i: usize, step: f64| -100.0 + 200.0 * (i as f64 * step).fract();
    (0..PLACES)
        .map(|i| {
            [
                at(i, 0.618_033_988_749_894_9),
                at(i, std::f64::consts::SQRT_2 - 1.0),
                at(i, 0.302_775_637_731_994_6),
            ]
        })
        .collect()
}

fn best<T>(mut run: impl FnMut() -> T) -> f64 {
    let mut best = f64::INFINITY;
    for _ in 0..RUNS {
        let start = Instant::now();
        black_box(run());
        best = best.min(start.elapsed().as_secs_f64());
    }
    best
}

fn main() {
    let shape = Shape::Cuboid(Cuboid { size: [50., 15., 10.], polarisation: 400. });
    let field = Field { bodies: vec![Body::turned(shape, [0.; 3], 0.)], background: [0.; 3] };
    let (places, mut out) = (places(), vec![[0.0; 3]; PLACES]);
    let many = best(|| field.b_many(black_box(&places), &mut out));
    let sum = out.iter().flatten().map(|b| b.abs()).sum::<f64>();
    let plain = best(|| places.iter().map(|p| field.b_plain(*p)[0]).sum::<f64>());

    let bar = |id: &str, x: f64| Source {
        id: id.into(),
        kind: Kind::Bar { length: 50., width: 15., thickness: 10., remanence_mt: 400., pole_inset: 0.0 },
        centre: Point::new(x, 115.),
        north_deg: 0.,
    };
    let frame = Rect::new(20., 45., 277., 185.);
    let sources = vec![bar("left", 95.), bar("right", 202.)];
    let panel = Panel { id: "A".into(), prompt: String::new(), frame, plane_mm: 0., sources, earth: None };
    let starts: Vec<Point> = (0..20).map(|i| Point::new(148.5, 48.0 + 6.5 * f64::from(i))).collect();
    // The field is made anew each time, so that the search for neutral points counts too.
    let trace = || {
        let field = panel.field();
        starts.iter().flat_map(|p| [1.0, -1.0].map(|s| field.follow(*p, s).stop)).collect::<Vec<Point>>()
    };
    let lines = best(trace);
    let with_field = panel.field();
    with_field.neutral_points();
    let warm = best(|| {
        starts
            .iter()
            .map(|p| with_field.follow(*p, 1.0).points.len() + with_field.follow(*p, -1.0).points.len())
            .sum::<usize>()
    });
    let stops: Vec<String> = trace().iter().map(|p| format!("[{},{}]", p.x, p.y)).collect();
    println!(
        "{{\"places\":{PLACES},\"many_s\":{many},\"plain_s\":{plain},\"sum\":{sum},\"lines_s\":{lines},\"lines_warm_s\":{warm},\"stops\":[{}]}}",
        stops.join(",")
    );
}

//! The computed field: flux density a place, plain and several at once, following lines, and
//! pictures.
//! `cargo bench --bench field`

use lodemark::geometry::{Point, Rect};
use lodemark::print::views::{self, View, Wish};
use lodemark::worksheet::answer::field_lines;
use lodemark::worksheet::{Kind, Panel, PanelField, Source, Worksheet};
use std::hint::black_box;

fn main() {
    divan::main();
}

/// Places that the measures of one page ask about.
const PLACES: usize = 1500;

fn source(id: &str, kind: Kind, x: f64, north_deg: f64) -> Source {
    Source { id: id.into(), kind, centre: Point::new(x, 115.), north_deg }
}

fn panel(sources: Vec<Source>) -> Panel {
    let frame = Rect::new(20., 45., 277., 185.);
    Panel { id: "A".into(), prompt: String::new(), frame, plane_mm: 0.0, sources, earth: None }
}

fn two_bars() -> Panel {
    let bar = Kind::Bar { length: 50., width: 15., thickness: 10., remanence_mt: 400., pole_inset: 0.0 };
    panel(vec![source("left", bar.clone(), 95., 0.), source("right", bar, 202., 0.)])
}

fn two_rods() -> Panel {
    let rod = Kind::Rod { length: 50., diameter: 8., remanence_mt: 1000., pole_inset: 0.0 };
    panel(vec![source("left", rod.clone(), 95., 0.), source("right", rod, 202., 0.)])
}

fn two_discs() -> Panel {
    let disc = Kind::Disc { diameter: 30., thickness: 6., remanence_mt: 1200. };
    panel(vec![source("left", disc.clone(), 95., 0.), source("right", disc, 202., 0.)])
}

fn places() -> Vec<Point> {
    let at = |i: usize| Point::new(20.5 + (i * 37 % 256) as f64, 45.3 + (i * 53 % 139) as f64);
    (0..PLACES).map(at).collect()
}

type Scene = (&'static str, fn() -> Panel);

const SCENES: [Scene; 3] = [("two bars", two_bars), ("two rods", two_rods), ("two discs", two_discs)];

fn scenes() -> impl Iterator<Item = &'static str> {
    SCENES.iter().map(|s| s.0)
}

fn field(name: &str) -> PanelField {
    SCENES.iter().find(|s| s.0 == name).map_or_else(|| two_bars().field(), |s| s.1().field())
}

/// The forms as the papers print them.
#[divan::bench(args = scenes())]
fn plain_1500(bencher: divan::Bencher<'_, '_>, name: &str) {
    let (field, places) = (field(name), places());
    bencher
        .counter(PLACES)
        .bench_local(|| places.iter().map(|p| field.bodies().b_plain([p.x, -p.y, 0.0])[0]).sum::<f64>());
}

#[divan::bench(args = scenes())]
fn one_at_a_time_1500(bencher: divan::Bencher<'_, '_>, name: &str) {
    let (field, places) = (field(name), places());
    bencher.counter(PLACES).bench_local(|| places.iter().map(|p| field.b(*p)[0]).sum::<f64>());
}

#[divan::bench(args = scenes())]
fn many_1500(bencher: divan::Bencher<'_, '_>, name: &str) {
    let (field, places) = (field(name), places());
    bencher.counter(PLACES).bench_local(|| field.b_many(black_box(&places)));
}

/// Twenty lines from their middles to both ends.
#[divan::bench(args = scenes())]
fn trace_20_lines(bencher: divan::Bencher<'_, '_>, name: &str) {
    let field = field(name);
    field.neutral_points();
    let starts: Vec<Point> = (0..20).map(|i| Point::new(148.5, 48.0 + 6.5 * f64::from(i))).collect();
    bencher.bench_local(|| {
        starts
            .iter()
            .map(|p| field.follow(*p, 1.0).points.len() + field.follow(*p, -1.0).points.len())
            .sum::<usize>()
    });
}

#[divan::bench(args = scenes())]
fn neutral_points(bencher: divan::Bencher<'_, '_>, name: &str) {
    bencher.with_inputs(|| field(name)).bench_local_values(|field| field.neutral_points().len());
}

/// The answer sheet: twenty lines at equal steps of flux.
#[divan::bench]
fn answer_20_lines(bencher: divan::Bencher<'_, '_>) {
    let panel = two_bars();
    bencher.bench_local(|| field_lines(&panel, &panel.field(), 20));
}

/// The pictures of an A4 panel at 200 dots an inch, from the worksheet to the bytes of the PNG, a view each.
#[divan::bench(args = [View::Lines, View::Filings, View::Needles, View::Strength], sample_count = 10, sample_size = 1)]
fn picture_200_dpi(bencher: divan::Bencher<'_, '_>, view: View) {
    const DPI: f64 = 200.0;
    let worksheet = Worksheet {
        id: "two-bars".into(),
        title: "Two bars".into(),
        page_mm: (297., 210.),
        placement: lodemark::worksheet::Placement::Printed,
        panels: vec![two_bars()],
    };
    let one_core = rayon::ThreadPoolBuilder::new().num_threads(1).build().expect("a thread");
    bencher.bench_local(|| {
        one_core.install(|| {
            let field = worksheet.panels[0].field();
            let count = if view == View::Lines { 20 } else { 0 };
            let lines =
                field_lines(&worksheet.panels[0], &field, count).into_iter().map(|l| l.points).collect();
            let wish = Wish { views: [view].into(), seed: 1, dpi: DPI };
            let layers = views::layers(&worksheet, &[field], vec![lines], &wish);
            views::picture(&worksheet, &layers).png(DPI).map(|png| png.len())
        })
    });
}

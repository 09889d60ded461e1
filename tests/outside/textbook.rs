//! Worked values of textbooks and handbooks, by the kinds of source of a worksheet. The source stands beside each.

use crate::scene::panel;
use lodemark::geometry::Point;
use lodemark::worksheet::PanelField;

const FRAME: &str = "[0, 0, 400, 400]";

fn field(sources: &str) -> PanelField {
    panel(&format!("{{\"sources\":[{sources}]}}"), FRAME).field()
}

fn b(sources: &str, x: f64, y: f64) -> [f64; 3] {
    field(sources).b(Point::new(x, y))
}

fn close(value: f64, want: f64, relative: f64) {
    assert!((value / want - 1.0).abs() < relative, "{value} for {want}");
}

/// On the axis of a finite solenoid: mu0 n I/2 (cos a1 + cos a2) (E. M. Purcell, Electricity and Magnetism, 6.5). 200
/// turns, 1.5 A, 80 mm long, 30 mm across, at 40 digits: 4.41234729780645 mT in the middle, 2.31583803111218 at the end.
#[test]
fn finite_solenoid_on_its_axis() {
    let coil = r#"{"kind":"coil","id":"c","centre_mm":[200,200],"size_mm":[80,30],"turns":200,"current_a":1.5,"north_deg":0}"#;
    close(b(coil, 200., 200.)[0], 4.412_347_297_806_45, 1e-12);
    close(b(coil, 240., 200.)[0], 2.315_838_031_112_18, 1e-12);
    let n_i = 200. * 1.5 / 0.08;
    for u in [-90.0f64, -40.1, -13.0, 0.0, 39.9, 70.0] {
        let cos = |v: f64| v / v.hypot(15.);
        let want = 1.256_637_061_27e-6 * n_i / 2. * (cos(40. + u) + cos(40. - u)) * 1e3;
        let [bx, by, bz] = b(coil, 200. + u, 200.);
        close(bx, want, 1e-11);
        assert!(by == 0. && bz == 0.);
    }
}

/// A long coil's middle: mu0 n I, even over most of its width (any textbook; here within 1 %).
#[test]
fn even_inside_a_long_coil() {
    let coil = r#"{"kind":"coil","id":"c","centre_mm":[200,200],"size_mm":[240,20],"turns":480,"current_a":2,"north_deg":90}"#;
    for (dx, dy) in [(0., 0.), (7., 0.), (-7., 40.), (3., -50.)] {
        let [bx, by, _] = b(coil, 200. + dx, 200. + dy);
        close(-by, 1.256_637_061_27e-6 * 2000. * 2. * 1e3, 0.01);
        assert!(bx.abs() < 0.005 * by.abs());
    }
}

/// Straight wire: mu0 I/(2 pi r), 5 A at 20 mm: 50 microtesla, anticlockwise round a current towards the reader (Feynman
/// Lectures II-13). Force law's own example: two wires at 1 m, 1 A: 2e-7 T.
#[test]
fn straight_wire() {
    let wire = |way: &str| {
        format!(r#"{{"kind":"wire","id":"w","centre_mm":[200,200],"current_a":5,"way":"{way}"}}"#)
    };
    let right = b(&wire("out"), 220., 200.);
    close(right[1], -0.05, 1e-9);
    assert!(right[0].abs() < 1e-17);
    close(b(&wire("in"), 220., 200.)[1], 0.05, 1e-9);
    close(b(&wire("out"), 200., 180.)[0], -0.05, 1e-9);
}

/// Coulomb's law: 10 nC at 50 mm, 35.9502071448 kV/m (CODATA 2022 constants, at 40 digits); away from a positive charge.
#[test]
fn coulombs_law() {
    let charge = |q: f64| format!(r#"{{"kind":"charge","id":"q","centre_mm":[200,200],"charge_nc":{q}}}"#);
    close(b(&charge(10.), 250., 200.)[0], 35.950_207_144_8, 1e-11);
    close(b(&charge(-10.), 200., 150.)[1], 35.950_207_144_8, 1e-11);
    // Equal charges leave no field half way, opposite ones twice the field.
    let pair = |q: f64| {
        let two =
            format!(r#"{},{{"kind":"charge","id":"r","centre_mm":[300,200],"charge_nc":{q}}}"#, charge(10.));
        b(&two, 250., 200.)
    };
    assert_eq!(pair(10.)[0], 0.0);
    close(pair(-10.)[0], 2. * 35.950_207_144_8, 1e-11);
}

/// Far from its edges a charged sheet has sigma/(2 eps0), two opposite ones sigma/eps0 between them (Purcell 1.13):
/// 1/eps0 = 4 pi 8.9875517862e9. Plates 240 mm square, 4 mm apart: within 3 %.
#[test]
fn plates() {
    let plate = |y: f64, q: f64| {
        format!(
            r#"{{"kind":"plate","id":"p{y}","centre_mm":[200,{y}],"size_mm":[240,240],"angle_deg":0,"charge_nc":{q}}}"#
        )
    };
    let sigma = 50e-9 / (0.24 * 0.24);
    let over_eps0 = sigma * 4. * std::f64::consts::PI * 8.987_551_786_2e9 * 1e-3;
    close(-b(&plate(200., 50.), 200., 199.)[1], over_eps0 / 2., 0.03);
    let two = format!("{},{}", plate(198., 50.), plate(202., -50.));
    for x in [140., 200., 260.] {
        let [ex, ey, _] = b(&two, x, 200.);
        close(ey, over_eps0, 0.03);
        assert!(ex.abs() < 1e-3 * ey);
    }
}

/// A bar on its axis and a rod on its, z mm before the N face (E. P. Furlani, Permanent Magnet and Electromechanical
/// Devices, 4.2; at 40 digits: 9.88962971311057 mT and 15.9384651608108 mT).
#[test]
fn before_a_pole_face() {
    let bar = r#"{"kind":"bar","id":"b","centre_mm":[175,200],"size_mm":[50,15,10],"north_deg":0,"remanence_mt":400}"#;
    let rod =
        r#"{"kind":"rod","id":"r","centre_mm":[175,200],"size_mm":[50,8],"north_deg":0,"remanence_mt":1000}"#;
    close(b(bar, 220., 200.)[0], 9.889_629_713_110_57, 1e-12);
    close(b(rod, 215., 200.)[0], 15.938_465_160_810_8, 1e-12);
}

/// NCERT Physics XII, example 5.12: 0.48 A m2 at 10 cm: 0.96 G along, 0.48 G across.
#[test]
fn a_short_magnet() {
    let dipole = r#"{"kind":"dipole","id":"d","centre_mm":[200,200],"moment_am2":0.48,"north_deg":0}"#;
    close(b(dipole, 300., 200.)[0], 0.096, 1e-8);
    close(b(dipole, 200., 300.)[0], -0.048, 1e-8);
}

/// The poles of a school magnet a twelfth of its length inside its ends: the same field as a bar of five sixths the
/// length, seen from outside.
#[test]
fn poles_inside_the_ends() {
    use lodemark::worksheet::Kind;
    let mut whole = panel(
        r#"{"sources":[{"kind":"bar","id":"b","centre_mm":[200,200],"size_mm":[60,15,10],"north_deg":30,"remanence_mt":400}]}"#,
        FRAME,
    );
    let mut short = whole.clone();
    let Kind::Bar { pole_inset, .. } = &mut whole.sources[0].kind else { panic!("a bar") };
    *pole_inset = 1.0 / 12.0;
    let Kind::Bar { length, .. } = &mut short.sources[0].kind else { panic!("a bar") };
    *length = 50.0;
    for p in [Point::new(240., 180.), Point::new(200., 230.), Point::new(90., 300.)] {
        let (a, b) = (whole.field().b(p), short.field().b(p));
        for k in 0..2 {
            close(a[k], b[k], 1e-12);
        }
    }
}

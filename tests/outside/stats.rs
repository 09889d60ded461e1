//! Spearman's rank correlation against data/stats_checks.json: a textbook example, one with ties worked by hand, one undefined.

use crate::scene::data;
use lodemark::stats::{mean_ranks, spearman};
use serde_json::Value;

#[test]
fn spearman_with_and_without_ties() {
    let file: Value = serde_json::from_str(&data("stats_checks.json")).unwrap();
    let numbers =
        |v: &Value| -> Vec<f64> { v.as_array().unwrap().iter().map(|n| n.as_f64().unwrap()).collect() };
    let checks = file["checks"].as_array().unwrap();
    assert!(checks.len() >= 3);
    for check in checks {
        let (x, y) = (numbers(&check["data"]["x"]), numbers(&check["data"]["y"]));
        let rho = spearman(&x, &y);
        match check["value"].as_f64() {
            Some(want) => {
                let tolerance = check["tolerance"].as_f64().unwrap();
                assert!((rho.unwrap() - want).abs() <= tolerance, "{}: {rho:?}", check["id"]);
            }
            None => assert_eq!(rho, None, "{}", check["id"]),
        }
        for (side, values) in [("ranks_x", &x), ("ranks_y", &y)] {
            if !check["data"][side].is_null() {
                assert_eq!(mean_ranks(values).unwrap(), numbers(&check["data"][side]), "{}", check["id"]);
            }
        }
    }
}

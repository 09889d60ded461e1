//! Ranks, correlation, percentiles: what the measures and moderation need of statistics.
//!
//! No unit. Every function gives `None` where its answer would be undefined (too few numbers, all alike,
//! one not finite): the caller leaves the measure empty, never 0.

/// Median of the absolute values of a normal spread, in standard deviations (three quarters of it lie below).
pub const MEDIAN_OF_NORMAL: f64 = 0.6745;

/// The probability whose odds have this logarithm: the logistic distribution's share below `z` of its scales.
///
/// ```
/// assert_eq!(lodemark::stats::logistic(0.0), 0.5);
/// ```
pub fn logistic(z: f64) -> f64 {
    1.0 / (1.0 + (-z).exp())
}

/// Ranks from 1, ties at their mean rank (M. G. Kendall, Biometrika 33 (1945) 239). `None` if a number is not finite.
///
/// ```
/// assert_eq!(lodemark::stats::mean_ranks(&[7.0, 1.0, 7.0]), Some(vec![2.5, 1.0, 2.5]));
/// ```
pub fn mean_ranks(values: &[f64]) -> Option<Vec<f64>> {
    if values.iter().any(|v| !v.is_finite()) {
        return None;
    }
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by(|&i, &j| values[i].total_cmp(&values[j]));
    let mut ranks = vec![0.0; values.len()];
    let mut from = 0;
    while from < order.len() {
        let tied = order[from..].iter().take_while(|&&i| values[i] == values[order[from]]).count();
        // Ranks from + 1 ..= from + tied share their mean.
        let mean = from as f64 + (tied as f64 + 1.0) / 2.0;
        for &i in &order[from..from + tied] {
            ranks[i] = mean;
        }
        from += tied;
    }
    Some(ranks)
}

/// Pearson's correlation, -1 to 1. `None` below two pairs, for unequal lengths, or where one side is constant.
pub fn pearson(x: &[f64], y: &[f64]) -> Option<f64> {
    if x.len() != y.len() || x.len() < 2 {
        return None;
    }
    let n = x.len() as f64;
    let (mx, my) = (x.iter().sum::<f64>() / n, y.iter().sum::<f64>() / n);
    let (mut xx, mut yy, mut xy) = (0.0, 0.0, 0.0);
    for (a, b) in x.iter().zip(y) {
        let (a, b) = (a - mx, b - my);
        xx += a * a;
        yy += b * b;
        xy += a * b;
    }
    // One root of the product where it neither vanishes nor overflows: exact for a perfect order.
    let product = xx * yy;
    let size = if product.is_normal() { product.sqrt() } else { xx.sqrt() * yy.sqrt() };
    let r = xy / size;
    r.is_finite().then(|| r.clamp(-1.0, 1.0))
}

/// Spearman's rank correlation, ties at their mean rank, -1 to 1.
///
/// Pearson's correlation of the ranks: C. Spearman, Am. J. Psychol. 15 (1904) 72. `None` as [`pearson`],
/// and where a number is not finite.
///
/// ```
/// assert_eq!(lodemark::stats::spearman(&[1.0, 2.0, 3.0], &[10.0, 100.0, 1000.0]), Some(1.0));
/// assert_eq!(lodemark::stats::spearman(&[3.0, 3.0, 3.0], &[1.0, 2.0, 3.0]), None);
/// ```
pub fn spearman(x: &[f64], y: &[f64]) -> Option<f64> {
    pearson(&mean_ranks(x)?, &mean_ranks(y)?)
}

/// The percentile `q` (0 to 100), by straight lines between the sorted values: value `k` of `n` is the
/// percentile `100 k / (n - 1)`, k from 0 (R. J. Hyndman and Y. Fan, Am. Stat. 50 (1996) 361, type 7; NumPy's rule).
///
/// `None` for no values, a value that is not finite, or `q` outside 0 to 100.
pub fn percentile(values: &[f64], q: f64) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    percentile_of_sorted(&sorted, q)
}

/// [`percentile`] of values already sorted upwards.
pub fn percentile_of_sorted(sorted: &[f64], q: f64) -> Option<f64> {
    let (first, last) = (sorted.first()?, sorted.last()?);
    if !(first.is_finite() && last.is_finite() && (0.0..=100.0).contains(&q)) {
        return None;
    }
    let at = q / 100.0 * (sorted.len() - 1) as f64;
    let below = at.floor() as usize;
    let (a, b) = (sorted[below], sorted[(below + 1).min(sorted.len() - 1)]);
    Some(a + (b - a) * (at - below as f64))
}

/// The middle value; the mean of the two middle ones of an even number.
pub fn median(values: &[f64]) -> Option<f64> {
    percentile(values, 50.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The definition of a mean rank, literally.
    fn ranks_reference(v: &[f64]) -> Vec<f64> {
        v.iter()
            .map(|a| {
                let below = v.iter().filter(|b| *b < a).count() as f64;
                let same = v.iter().filter(|b| *b == a).count() as f64;
                below + (same + 1.0) / 2.0
            })
            .collect()
    }

    proptest! {
        #[test]
        fn ranks_follow_the_definition(v in prop::collection::vec((0..6i32).prop_map(f64::from), 0..30)) {
            prop_assert_eq!(mean_ranks(&v).unwrap(), ranks_reference(&v));
        }

        #[test]
        fn spearman_sees_only_order(v in prop::collection::vec(-3.0..3.0f64, 3..30)) {
            let up: Vec<f64> = v.iter().map(|a| a.exp()).collect();
            let down: Vec<f64> = v.iter().map(|a| -a * 3.0).collect();
            if let Some(r) = spearman(&v, &up) {
                prop_assert!((r - 1.0).abs() < 1e-12);
                prop_assert!((spearman(&v, &down).unwrap() + 1.0).abs() < 1e-12);
            }
        }
    }

    /// numpy.percentile([1, 2, 4, 8], [0, 10, 50, 90, 100]) by hand: places 0, 0.3, 1.5, 2.7, 3.
    #[test]
    fn percentiles_of_four_numbers() {
        let v = [8.0, 1.0, 4.0, 2.0];
        for (q, want) in [(0.0, 1.0), (10.0, 1.3), (50.0, 3.0), (90.0, 6.8), (100.0, 8.0)] {
            assert!((percentile(&v, q).unwrap() - want).abs() < 1e-12);
        }
        assert_eq!(median(&[5.0]), Some(5.0));
    }

    #[test]
    fn undefined_is_none() {
        assert_eq!(percentile(&[], 50.0), None);
        assert_eq!(percentile(&[1.0], 101.0), None);
        assert_eq!(percentile(&[1.0, f64::NAN], 50.0), None);
        assert_eq!(spearman(&[1.0, 2.0], &[1.0]), None);
        assert_eq!(spearman(&[1.0], &[1.0]), None);
        assert_eq!(spearman(&[1.0, f64::INFINITY], &[1.0, 2.0]), None);
    }
}

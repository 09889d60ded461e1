//! The threshold between two classes of grey levels.
//!
//! Otsu N (1979) A threshold selection method from gray-level histograms, IEEE Trans. SMC 9(1) 62-66.

/// The last level of the darker class: the split with the largest variance between the classes. Counts are summed in
/// 64 bits, so that a page of any size fits. `None` where all counts stand in one level.
///
/// ```
/// # use lodemark::rectify::otsu::last_dark_level;
/// assert_eq!(last_dark_level(&[5, 0, 0, 0, 7]), Some(0));
/// ```
pub fn last_dark_level(histogram: &[u64]) -> Option<usize> {
    let variances = between_class_variances(histogram);
    let mut best: Option<(usize, f64)> = None;
    for (level, variance) in variances.into_iter().enumerate() {
        if variance > 0.0 && best.is_none_or(|(_, v)| variance > v) {
            best = Some((level, variance));
        }
    }
    best.map(|(level, _)| level)
}

/// The variance between the classes for each last level of the darker class but the very last.
pub fn between_class_variances(histogram: &[u64]) -> Vec<f64> {
    let total: u64 = histogram.iter().sum();
    let moment: f64 = histogram.iter().enumerate().map(|(l, &n)| l as f64 * n as f64).sum();
    let (mut below, mut below_moment) = (0u64, 0.0);
    let mut out = Vec::with_capacity(histogram.len());
    for (level, &n) in histogram.iter().enumerate().take(histogram.len().saturating_sub(1)) {
        below += n;
        below_moment += level as f64 * n as f64;
        let (w0, w1) = (below as f64 / total as f64, (total - below) as f64 / total as f64);
        if below == 0 || below == total {
            out.push(0.0);
            continue;
        }
        let apart = below_moment / below as f64 - (moment - below_moment) / (total - below) as f64;
        out.push(w0 * w1 * apart * apart);
    }
    out
}

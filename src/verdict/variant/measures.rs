//! Sums over pixels.

/// Pearson's correlation; 0 where either side does not vary.
pub(super) fn correlation(pairs: impl Iterator<Item = (f32, f32)>) -> f32 {
    let mut sums = [0.0_f64; 6];
    for (a, b) in pairs {
        let (a, b) = (f64::from(a), f64::from(b));
        for (sum, v) in sums.iter_mut().zip([1.0, a, b, a * a, b * b, a * b]) {
            *sum += v;
        }
    }
    let [n, a, b, aa, bb, ab] = sums;
    let spread = (n * aa - a * a) * (n * bb - b * b);
    match spread > 1e-9 {
        true => ((n * ab - a * b) / spread.sqrt()) as f32,
        false => 0.0,
    }
}

/// How much of the second there is in the first (least squares through the origin); 0 for nothing.
pub(super) fn strength(pairs: impl Iterator<Item = (f32, f32)>) -> f32 {
    let (both, own) = pairs.fold((0.0_f64, 0.0_f64), |(both, own), (v, e)| {
        let (v, e) = (f64::from(v), f64::from(e));
        (both + v * e, own + e * e)
    });
    if own > 1e-9 { (both / own) as f32 } else { 0.0 }
}

/// Mean and standard deviation; 0 for nothing.
pub(super) fn level(values: impl Iterator<Item = f32>) -> (f32, f32) {
    let mut sums = [0.0_f64; 3];
    for v in values.map(f64::from) {
        for (sum, v) in sums.iter_mut().zip([1.0, v, v * v]) {
            *sum += v;
        }
    }
    let [n, sum, squares] = sums;
    if n == 0.0 {
        return (0.0, 0.0);
    }
    let mean = sum / n;
    (
        mean as f32,
        (squares / n - mean * mean).max(0.0).sqrt() as f32,
    )
}

//! An interval for a share that was counted.

/// Standard normal quantile of a two-sided interval of 95 %.
const Z: f64 = 1.959_963_984_540_054;

/// The 95 % interval of a share of which `hits` of `of` were seen (Wilson 1927), both ends 0 to 1. All of it where
/// nothing was seen.
pub fn wilson(hits: usize, of: usize) -> (f64, f64) {
    if of == 0 {
        return (0.0, 1.0);
    }
    let n = of as f64;
    let p = hits as f64 / n;
    let z2 = Z * Z / n;
    let middle = p + z2 / 2.0;
    let reach = Z * (p * (1.0 - p) / n + z2 / (4.0 * n)).sqrt();
    let end = |v: f64| (v / (1.0 + z2)).clamp(0.0, 1.0);
    (end(middle - reach), end(middle + reach))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn intervals_are_those_of_the_tables() {
        // Newcombe 1998, table I: 81 of 263, 15 of 148, 0 of 20, 1 of 29.
        for (hits, of, low, high) in [
            (81, 263, 0.2553, 0.3662),
            (15, 148, 0.0624, 0.1605),
            (0, 20, 0.0, 0.1611),
            (1, 29, 0.0061, 0.1718),
        ] {
            let (a, b) = wilson(hits, of);
            assert!(
                (a - low).abs() < 5e-5 && (b - high).abs() < 5e-5,
                "{hits} of {of}: {a} {b}"
            );
        }
        assert_eq!(wilson(0, 0), (0.0, 1.0));
    }
}

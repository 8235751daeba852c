//! What a mark looks like, in numbers that can be compared: the learned imprint of the whole, local
//! edge descriptors, coarse shape.

pub mod imprint;
pub mod keypoints;
pub mod shape;
pub mod signature;
pub mod stored;

use ndarray::linalg::general_mat_mul;
use ndarray::{ArrayView2, ArrayViewMut2};

/// `out` = `a` times the transpose of `b`, both `inner` columns wide.
pub fn product_transposed(a: &[f32], b: &[f32], inner: usize, out: &mut [f32]) {
    let (m, n) = (a.len() / inner, b.len() / inner);
    assert_eq!(out.len(), m * n, "one number per pair of rows");
    if m == 0 || n == 0 {
        return;
    }
    let shapes = (
        ArrayView2::from_shape((m, inner), a),
        ArrayView2::from_shape((n, inner), b),
        ArrayViewMut2::from_shape((m, n), out),
    );
    // The lengths were divided out above, so all three views exist.
    if let (Ok(left), Ok(right), Ok(mut product)) = shapes {
        general_mat_mul(1.0, &left, &right.t(), 0.0, &mut product);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_product_equals_the_plain_sum() {
        for (m, n, inner) in [(3, 5, 7), (17, 130, 128), (480, 24, 128), (2, 900, 33)] {
            let a: Vec<f32> = (0..m * inner)
                .map(|i| ((i * 37) % 11) as f32 - 5.0)
                .collect();
            let b: Vec<f32> = (0..n * inner)
                .map(|i| ((i * 53) % 13) as f32 - 6.0)
                .collect();
            let mut out = vec![0.0; m * n];
            product_transposed(&a, &b, inner, &mut out);
            for i in 0..m {
                for j in 0..n {
                    let want: f32 = (0..inner)
                        .map(|k| a[i * inner + k] * b[j * inner + k])
                        .sum();
                    assert!((out[i * n + j] - want).abs() < 1e-2, "{m} {n} {inner}");
                }
            }
        }
    }
}

//! What a mark looks like, in numbers that can be compared: local edge descriptors and hashes.

pub mod keypoints;
pub mod shape;
pub mod signature;
pub mod stored;

/// `out` = `a` times the transpose of `b`, both `inner` columns wide.
pub fn product_transposed(a: &[f32], b: &[f32], inner: usize, out: &mut [f32]) {
    let (m, n) = (a.len() / inner, b.len() / inner);
    assert_eq!(out.len(), m * n, "one number per pair of rows");
    // Strided views, so that the product runs through the blocked kernel of `matrixmultiply`.
    let left = nalgebra::DMatrixView::from_slice_with_strides(a, m, inner, inner, 1);
    let right = nalgebra::DMatrixView::from_slice_with_strides(b, inner, n, 1, inner);
    let mut view = nalgebra::DMatrixViewMut::from_slice_with_strides_mut(out, m, n, n, 1);
    view.gemm(1.0, &left, &right, 0.0);
}

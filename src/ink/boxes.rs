//! Box means in a row, the blur that training and use share to the last digit that matters.

use crate::raster::Plane;

/// Means over boxes of odd `widths`, along x and then along y; what lies outside counts as nothing.
pub(super) fn box_means(plane: &Plane, widths: &[usize]) -> Plane {
    let (w, h) = (plane.width(), plane.height());
    let mut data = plane.data().to_vec();
    for &width in widths {
        data = transposed(&box_rows(&data, w, width), w);
        data = transposed(&box_rows(&data, h, width), h);
    }
    Plane::from_vec(w, h, data)
}

fn box_rows(data: &[f32], length: usize, width: usize) -> Vec<f32> {
    let reach = width / 2;
    let mut out = vec![0.0f32; data.len()];
    for (line, means) in data.chunks_exact(length).zip(out.chunks_exact_mut(length)) {
        let mut sum: f64 = line.iter().take(reach).map(|&v| f64::from(v)).sum();
        for (x, m) in means.iter_mut().enumerate() {
            if let Some(v) = line.get(x + reach) {
                sum += f64::from(*v);
            }
            if x > reach {
                sum -= f64::from(line[x - reach - 1]);
            }
            *m = (sum / width as f64) as f32;
        }
    }
    out
}

/// Rows of `length` numbers become columns.
fn transposed(data: &[f32], length: usize) -> Vec<f32> {
    let rows = data.len() / length.max(1);
    let mut out = vec![0.0f32; data.len()];
    for (y, line) in data.chunks_exact(length).enumerate() {
        for (x, v) in line.iter().enumerate() {
            out[x * rows + y] = *v;
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_impulse_becomes_a_box_and_the_border_counts_as_nothing() {
        let mut p = Plane::filled(9, 5, 0.0);
        p.set(4, 2, 15.0);
        let b = box_means(&p, &[3]);
        assert_eq!(b.get(3, 1), 15.0 / 9.0);
        assert_eq!(b.get(6, 2), 0.0);
        let flat = box_means(&Plane::filled(9, 5, 1.0), &[3]);
        assert!((flat.get(0, 0) - 4.0 / 9.0).abs() < 1e-6 && (flat.get(4, 2) - 1.0).abs() < 1e-6);
    }
}

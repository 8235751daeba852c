//! Box means in a row, the blur that training and use share to the last digit that matters.

use crate::raster::Plane;

/// Means over boxes of odd `widths`, along x and then along y; what lies outside counts as nothing.
pub(crate) fn box_means(plane: &Plane, widths: &[usize]) -> Plane {
    let (w, h) = (plane.width(), plane.height());
    let mut data = plane.data().to_vec();
    for &width in widths {
        data = along_columns(&along_rows(&data, w, width), w, width);
    }
    Plane::from_vec(w, h, data)
}

fn along_rows(data: &[f32], length: usize, width: usize) -> Vec<f32> {
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

/// The same down the columns, all of them at a time.
fn along_columns(data: &[f32], length: usize, width: usize) -> Vec<f32> {
    let (reach, height) = (width / 2, data.len() / length.max(1));
    let row = |y: usize| &data[y * length..(y + 1) * length];
    let mut sums = vec![0.0f64; length];
    let add = |sums: &mut [f64], y: usize| {
        for (sum, v) in sums.iter_mut().zip(row(y)) {
            *sum += f64::from(*v);
        }
    };
    (0..reach.min(height)).for_each(|y| add(&mut sums, y));
    let mut out = Vec::with_capacity(data.len());
    for y in 0..height {
        if y + reach < height {
            add(&mut sums, y + reach);
        }
        if y > reach {
            for (sum, v) in sums.iter_mut().zip(row(y - reach - 1)) {
                *sum -= f64::from(*v);
            }
        }
        out.extend(sums.iter().map(|sum| (sum / width as f64) as f32));
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

//! sRGB to CIELAB, by tables.

use std::sync::LazyLock;

use image::RgbImage;

use crate::raster::Plane;

/// Entries of the table of the CIE cube-root function over linear light 0 to 1.
const ROOT_STEPS: usize = 8192;

/// Linear light of each 8-bit sRGB value (IEC 61966-2-1:1999).
static LINEAR: LazyLock<[f32; 256]> = LazyLock::new(|| {
    std::array::from_fn(|i| {
        let v = i as f64 / 255.0;
        (if v <= 0.04045 {
            v / 12.92
        } else {
            ((v + 0.055) / 1.055).powf(2.4)
        }) as f32
    })
});

/// The CIE function f(t) = t^(1/3), linear below (6/29)^3.
static ROOT: LazyLock<Vec<f32>> = LazyLock::new(|| {
    (0..=ROOT_STEPS + 1)
        .map(|i| {
            let t = i as f64 / ROOT_STEPS as f64;
            let d: f64 = 6.0 / 29.0;
            (if t > d.powi(3) {
                t.cbrt()
            } else {
                t / (3.0 * d * d) + 4.0 / 29.0
            }) as f32
        })
        .collect()
});

/// Linear light of an 8-bit sRGB value, 0 to 1.
pub fn linear(value: u8) -> f32 {
    LINEAR[usize::from(value)]
}

fn root(t: f32) -> f32 {
    let x = t.clamp(0.0, 1.0) * ROOT_STEPS as f32;
    let i = x as usize;
    let a = x - i as f32;
    ROOT[i] * (1.0 - a) + ROOT[i + 1] * a
}

/// CIELAB (L* 0 to 100, a*, b*) of one sRGB pixel under D65.
///
/// Matrix of IEC 61966-2-1; the white is its row sums, so that greys are exactly neutral.
pub fn lab(rgb: [u8; 3]) -> [f32; 3] {
    let [r, g, b] = rgb.map(linear);
    let x = (0.4124 * r + 0.3576 * g + 0.1805 * b) / 0.9505;
    let y = 0.2126 * r + 0.7152 * g + 0.0722 * b;
    let z = (0.0193 * r + 0.1192 * g + 0.9505 * b) / 1.089;
    let (fx, fy, fz) = (root(x), root(y), root(z));
    [116.0 * fy - 16.0, 500.0 * (fx - fy), 200.0 * (fy - fz)]
}

/// The L*, a*, b* planes of a picture.
pub fn lab_planes(rgb: &RgbImage) -> [Plane; 3] {
    let (w, h) = (rgb.width() as usize, rgb.height() as usize);
    let mut planes = [(); 3].map(|()| Vec::with_capacity(w * h));
    for p in rgb.as_raw().chunks_exact(3) {
        let v = lab([p[0], p[1], p[2]]);
        planes
            .iter_mut()
            .zip(v)
            .for_each(|(plane, v)| plane.push(v));
    }
    planes.map(|d| Plane::from_vec(w, h, d))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Values computed from the matrix and white of IEC 61966-2-1 (not printed in the standard).
    #[test]
    fn primaries_land_where_the_standard_puts_them() {
        let cases = [
            ([255, 255, 255], [100.0, 0.0, 0.0]),
            ([255, 0, 0], [53.2329, 80.1053, 67.2228]),
            ([0, 255, 0], [87.7370, -86.1884, 83.1861]),
            ([0, 0, 255], [32.3026, 79.1936, -107.8537]),
            ([128, 128, 128], [53.5850, 0.0, 0.0]),
        ];
        for (rgb, want) in cases {
            let got = lab(rgb);
            assert!(
                got.iter()
                    .zip(want)
                    .all(|(g, w): (&f32, f32)| (g - w).abs() < 0.05),
                "{rgb:?} {got:?}"
            );
        }
    }
}

//! The overview: what of a whole photo stands out from its surroundings, in lightness and in colour,
//! measured in the photo's own noise. The finder of marks reads it.
//!
//! One definition serves training and use: `tools/train/overview.py` states it, this is its twin, and
//! a test holds the two together on the same photos.

use image::RgbImage;

use super::boxes::box_means;
use super::colour::lab_planes;
use crate::raster::Plane;

/// Longer side of the shrunk photo, in pixels.
pub const SIDE: u32 = 300;
/// Widths of the three box means that make the ground.
const BOXES: [usize; 3] = [25, 27, 25];
/// Least noise, in CIELAB units, and the noise units that bring the map to 0.76.
const NOISE_FLOOR: f32 = 0.4;
const REACH: f32 = 4.0;
/// Least blurred weight with which the ground counts as known.
const LEAST_WEIGHT: f32 = 1e-4;
/// Medians look at every so many rows and columns.
const STRIDE: usize = 3;

/// Both maps, 0 to 1, of the size of the shrunk photo.
#[derive(Debug, Clone, PartialEq)]
pub struct Overview {
    pub light: Plane,
    pub chroma: Plane,
}

impl Overview {
    /// Maps a photo that was shrunk so that its longer side has [`SIDE`] pixels.
    pub fn of(rgb: &RgbImage) -> Self {
        let lab = lab_planes(rgb);
        let mut weight = Plane::filled(lab[0].width(), lab[0].height(), 1.0);
        let mut delta = deltas(&lab, &weight);
        let squares = delta[0].zip(&delta[1], |a, b| a * a + b * b);
        let distance = squares.zip(&delta[2], |s, c| (s + c * c).sqrt());
        let middle = median(&distance).max(1e-3);
        weight = distance.map(|d| 1.0 / (1.0 + (d / (2.0 * middle)).powi(2)));
        delta = deltas(&lab, &weight);
        let [grain, a, b] = lab.each_ref().map(residual);
        let light_noise = 2.0 * median(&grain) + NOISE_FLOOR;
        let chroma_noise = 2.0 * median(&a.zip(&b, |x, y| x + y)) + NOISE_FLOOR;
        Self {
            light: delta[0].map(|d| (d.abs() / (REACH * light_noise)).tanh()),
            chroma: delta[1].zip(&delta[2], |a, b| {
                (a.hypot(b) / (REACH * chroma_noise)).tanh()
            }),
        }
    }
}

/// Each channel against its ground.
fn deltas(lab: &[Plane; 3], weight: &Plane) -> [Plane; 3] {
    let total = box_means(weight, &BOXES);
    lab.each_ref().map(|plane| {
        let sum = box_means(&plane.zip(weight, |v, w| v * w), &BOXES);
        let ground = sum.zip(&total, |s, t| s / t.max(LEAST_WEIGHT));
        plane.zip(&ground, |v, g| v - g)
    })
}

/// Distance of each pixel from the mean of the 3 x 3 around it, borders replicated.
fn residual(plane: &Plane) -> Plane {
    let (w, h) = (plane.width(), plane.height());
    let near = |i: usize, n: usize| [i.saturating_sub(1), i, (i + 1).min(n - 1)];
    let mut out = Plane::filled(w, h, 0.0);
    for y in (1..h).step_by(STRIDE) {
        for x in (1..w).step_by(STRIDE) {
            let around = near(y, h).map(|yy| near(x, w).map(|xx| plane.get(xx, yy)));
            let mean = around.as_flattened().iter().sum::<f32>() / 9.0;
            out.set(x, y, (plane.get(x, y) - mean).abs());
        }
    }
    out
}

/// The value at rank floor((n - 1) / 2) on the sparse grid; 0 of nothing.
fn median(plane: &Plane) -> f32 {
    let mut values: Vec<f32> = (1..plane.height())
        .step_by(STRIDE)
        .flat_map(|y| plane.row(y).iter().skip(1).step_by(STRIDE).copied())
        .collect();
    if values.is_empty() {
        return 0.0;
    }
    let rank = (values.len() - 1) / 2;
    *values.select_nth_unstable_by(rank, f32::total_cmp).1
}

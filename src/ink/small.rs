//! The small ink map that the learned descriptor reads.
//!
//! One definition serves training and use: `tools/train/inkmap.py` states it step by step, this is
//! its twin, and a test holds the two together on the same crops.

use image::RgbImage;

use super::boxes::box_means;
use super::colour::lab_planes;
use crate::raster::Plane;

/// Side of the map that the imprint reads, in pixels; lengths below are in its pixels.
pub const SIDE: usize = 160;
/// All three channels above this (8 bits) are clipped: 0.985 of full scale.
const CLIPPED: u8 = 251;
/// Side of the square that must be clipped throughout to be glare, and growth over its halo.
const GLARE_CORE: usize = 5;
const GROW: usize = 3;
/// Share of the known pixels above which clipped areas are white ground, not glare.
const GLARE_MOST: f32 = 0.40;
/// Widths of the three box means that make the ground; they alone grow with the map's side.
const BOXES: [usize; 3] = [31, 33, 31];
/// Weight of a* and b* against L*.
const CHROMA: f32 = 1.5;
/// Noise: this many times the median residual of L* against its 3 x 3 mean, and a floor.
const NOISE_GAIN: f32 = 2.0;
const NOISE_FLOOR: f32 = 0.4;
/// Differences below this many noise units are no ink; the strong end of the scale is never less
/// than the second.
const FOOT: f32 = 2.0;
const LEAST_SCALE: f32 = 6.0;
/// Share of pixels that lies below strong ink.
const HIGH: f64 = 0.97;
/// Quantiles look at every so many rows and columns.
const STRIDE: usize = 3;
/// Least blurred weight with which the ground counts as known.
const LEAST_WEIGHT: f32 = 1e-4;

/// Ink 0 to 1 (0 where unknown) and validity 0 or 1; both are 0 outside the inscribed circle.
#[derive(Debug, Clone, PartialEq)]
pub struct SmallInk {
    pub ink: Plane,
    pub valid: Plane,
}

impl SmallInk {
    /// Maps a square crop; `inside` is 1 where the photo has pixels.
    pub fn of(rgb: &RgbImage, inside: &Plane) -> Self {
        let side = inside.width();
        let valid = validity(rgb, inside);
        let colour = lab_planes(rgb);
        let first = distance(&colour, &valid);
        let middle = quantile(&first, &valid, 0.5).max(1e-3);
        let weight = valid.zip(&first, |v, d| v / (1.0 + (d / (2.0 * middle)).powi(2)));
        let second = distance(&colour, &weight);
        let residual = grain(&colour[0]);
        let noise = NOISE_GAIN * quantile(&residual, &valid, 0.5) + NOISE_FLOOR;
        let top = (quantile(&second, &valid, HIGH) / noise).max(LEAST_SCALE);
        let mut known = valid;
        let middle = (side as f32 - 1.0) / 2.0;
        for y in 0..side {
            for x in 0..side {
                let (dx, dy) = (x as f32 - middle, y as f32 - middle);
                if dx * dx + dy * dy > (side * side) as f32 / 4.0 {
                    known.set(x, y, 0.0);
                }
            }
        }
        let ink = second.zip(&known, |d, v| {
            ((d / noise - FOOT) / (top - FOOT)).clamp(0.0, 1.0) * v
        });
        Self { ink, valid: known }
    }

    /// The same map turned by `turn` radians about its centre (x towards y); validity stays yes or
    /// no.
    pub fn turned(&self, turn: f64) -> Self {
        let side = self.ink.width();
        let (s, c) = (turn.sin() as f32, turn.cos() as f32);
        let half = side as f32 / 2.0;
        let mut ink = Plane::filled(side, side, 0.0);
        let mut valid = Plane::filled(side, side, 0.0);
        for y in 0..side {
            let v = y as f32 + 0.5 - half;
            for x in 0..side {
                let u = x as f32 + 0.5 - half;
                let (px, py) = (c * u + s * v + half, -s * u + c * v + half);
                if self.valid.contains(px, py) && self.valid.sample(px, py) > 0.5 {
                    ink.set(x, y, self.ink.sample(px, py));
                    valid.set(x, y, 1.0);
                }
            }
        }
        Self { ink, valid }
    }
}

/// 1 where a pixel is neither glare nor outside the photo.
fn validity(rgb: &RgbImage, inside: &Plane) -> Plane {
    let side = inside.width();
    let flags = |f: &dyn Fn(usize) -> bool| -> Vec<bool> { (0..side * side).map(f).collect() };
    let raw = rgb.as_raw();
    let unclipped = flags(&|i| raw[3 * i..3 * i + 3].iter().any(|&c| c <= CLIPPED));
    let core: Vec<bool> = dilate(&unclipped, side, GLARE_CORE)
        .iter()
        .map(|v| !v)
        .collect();
    let glare = dilate(&core, side, GLARE_CORE + 2 * GROW);
    let outside = flags(&|i| inside.data()[i] < 0.5);
    let good: Vec<bool> = dilate(&outside, side, 2 * GROW + 1)
        .iter()
        .map(|v| !v)
        .collect();
    let count = |p: &dyn Fn(usize) -> bool| (0..good.len()).filter(|&i| p(i)).count() as f32;
    let (all, taken) = (count(&|i| good[i]), count(&|i| good[i] && glare[i]));
    let is_glare = taken <= GLARE_MOST * all.max(1.0);
    let data = good
        .iter()
        .zip(&glare)
        .map(|(&ok, &g)| if ok && !(g && is_glare) { 1.0 } else { 0.0 })
        .collect();
    Plane::from_vec(side, side, data)
}

/// True where a square of odd width around a pixel holds any true.
fn dilate(mask: &[bool], side: usize, width: usize) -> Vec<bool> {
    let reach = width / 2;
    let span = |i: usize| i.saturating_sub(reach)..(i + reach + 1).min(side);
    let mut rows = vec![false; mask.len()];
    for y in 0..side {
        for x in 0..side {
            rows[y * side + x] = mask[y * side..][span(x)].iter().any(|&v| v);
        }
    }
    let mut out = vec![false; mask.len()];
    for y in 0..side {
        for yy in span(y) {
            for x in 0..side {
                out[y * side + x] |= rows[yy * side + x];
            }
        }
    }
    out
}

/// Length of the colour difference from a ground estimated with these weights.
fn distance(colour: &[Plane; 3], weight: &Plane) -> Plane {
    let side = weight.width();
    let boxes = BOXES.map(|width| odd(width * side, SIDE));
    let total = box_means(weight, &boxes);
    let mut square = Plane::filled(side, side, 0.0);
    for (plane, gain) in colour.iter().zip([1.0, CHROMA * CHROMA, CHROMA * CHROMA]) {
        let blurred = box_means(&plane.zip(weight, |v, w| v * w), &boxes);
        for (i, s) in square.data_mut().iter_mut().enumerate() {
            let mean = blurred.data()[i] / total.data()[i].max(LEAST_WEIGHT);
            *s += gain * (plane.data()[i] - mean).powi(2);
        }
    }
    square.map(f32::sqrt)
}

/// The odd number nearest to `over / under`.
fn odd(over: usize, under: usize) -> usize {
    let half = (over as f64 / under as f64 - 1.0) / 2.0;
    2 * half.round() as usize + 1
}

/// Residual against the 3 x 3 mean, borders replicated.
fn grain(plane: &Plane) -> Plane {
    let side = plane.width();
    let near = |i: usize| [i.saturating_sub(1), i, (i + 1).min(side - 1)];
    let mut out = Plane::filled(side, side, 0.0);
    for y in (STRIDE / 2..side).step_by(STRIDE) {
        for x in (STRIDE / 2..side).step_by(STRIDE) {
            let around = near(y).map(|yy| near(x).map(|xx| plane.get(xx, yy)));
            let mean = around.as_flattened().iter().sum::<f32>() / 9.0;
            out.set(x, y, (plane.get(x, y) - mean).abs());
        }
    }
    out
}

/// The value at rank floor(share (n - 1)) of the valid pixels on the sparse grid; 1 without any.
fn quantile(values: &Plane, valid: &Plane, share: f64) -> f32 {
    let grid = (STRIDE / 2..values.width()).step_by(STRIDE);
    let mut chosen: Vec<f32> = grid
        .clone()
        .flat_map(|y| grid.clone().map(move |x| (x, y)))
        .filter(|&(x, y)| valid.get(x, y) > 0.5)
        .map(|(x, y)| values.get(x, y))
        .collect();
    if chosen.is_empty() {
        return 1.0;
    }
    let rank = (share * (chosen.len() - 1) as f64) as usize;
    *chosen.select_nth_unstable_by(rank, f32::total_cmp).1
}

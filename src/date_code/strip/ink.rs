//! How much each pixel of a strip differs from the glaze, and from what is near it: the two views that
//! the reader was trained on. `views` in `tools/train/code_strips.py` is their twin; a test holds the
//! two together.

use nalgebra::{Matrix3, Vector3};

use super::turned;
use crate::raster::Plane;

/// The share of a strip's pixels below which a difference is full ink: the strokes of a short code
/// are three in a hundred of its strip at least.
const HIGH: f64 = 0.97;
/// What counts as no ink, in median differences from the glaze.
const FOOT: f32 = 0.5;
/// Least difference that is full ink, in grey levels 0 to 1: below it lies the noise of a phone.
const LEAST: f32 = 0.03;
/// Added to the diagonal of the fit, so that a strip of one column has an answer.
const RIDGE: f64 = 1e-3;

/// Half of the window in which a pixel is compared with what is near it, in pixels of a strip: half the
/// height of capitals.
const NEAR: usize = 10;
/// Added to the spread of grey in the window, in grey levels 0 to 1: flat glaze has no contrast.
const NEAR_LEAST: f32 = 0.01;
/// So many spreads are full contrast.
const NEAR_SPAN: f32 = 2.5;

/// What the reader sees of a strip.
#[derive(Debug, Clone, PartialEq)]
pub struct Views {
    /// Ink, 0 none to 1 full.
    pub ink: Plane,
    /// Contrast with what is near, -1 darker to 1 lighter.
    pub near: Plane,
}

impl Views {
    /// The views of a strip of grey (0 to 1).
    pub fn of(grey: &Plane) -> Self {
        Self {
            ink: ink_of(grey),
            near: near_of(grey),
        }
    }

    /// The same, turned by 180 degrees.
    pub fn turned(&self) -> Self {
        Self {
            ink: turned(&self.ink),
            near: turned(&self.near),
        }
    }
}

/// Contrast of each pixel with the mean of a window around it, in spreads of that window. Light that
/// falls on a part of a strip moves it less than it moves the ink.
fn near_of(grey: &Plane) -> Plane {
    let (wide, high) = (grey.width(), grey.height());
    // Sums of grey and of its square over all above and to the left, in double precision.
    let mut sums = vec![[0.0_f64; 2]; (wide + 1) * (high + 1)];
    for y in 0..high {
        let mut row = [0.0; 2];
        for x in 0..wide {
            let value = f64::from(grey.get(x, y));
            row = [row[0] + value, row[1] + value * value];
            let above = sums[y * (wide + 1) + x + 1];
            sums[(y + 1) * (wide + 1) + x + 1] = [above[0] + row[0], above[1] + row[1]];
        }
    }
    let mut out = Plane::filled(wide, high, 0.0);
    for y in 0..high {
        let (y0, y1) = (y.saturating_sub(NEAR), (y + NEAR + 1).min(high));
        for x in 0..wide {
            let (x0, x1) = (x.saturating_sub(NEAR), (x + NEAR + 1).min(wide));
            let at = |x: usize, y: usize, i: usize| sums[y * (wide + 1) + x][i];
            let count = ((y1 - y0) * (x1 - x0)) as f64;
            let mean = |i| (at(x1, y1, i) - at(x0, y1, i) - at(x1, y0, i) + at(x0, y0, i)) / count;
            let centre = mean(0);
            let square = (mean(1) - centre * centre).max(0.0) as f32;
            let spread = (square + NEAR_LEAST * NEAR_LEAST).sqrt();
            let away = (grey.get(x, y) - centre as f32) / (NEAR_SPAN * spread);
            out.set(x, y, away.clamp(-1.0, 1.0));
        }
    }
    out
}

/// Ink, 0 none to 1 full, of a strip of grey (0 to 1), whichever of ink and glaze is the lighter.
/// The glaze is a slope of grey, fitted twice, the second time with little regard to the ink.
fn ink_of(grey: &Plane) -> Plane {
    let even = vec![1.0; grey.data().len()];
    let first = differences(grey, &even);
    let middle = (2.0 * quantile(&first, 0.5)).max(2e-3);
    let weights: Vec<f64> = first
        .iter()
        .map(|d| 1.0 / (1.0 + f64::from(d / middle).powi(2)))
        .collect();
    let second = differences(grey, &weights);
    let foot = FOOT * quantile(&second, 0.5);
    let top = quantile(&second, HIGH).max(LEAST);
    let span = (top - foot).max(LEAST / 2.0);
    let data = second.iter().map(|d| ((d - foot) / span).clamp(0.0, 1.0));
    Plane::from_vec(grey.width(), grey.height(), data.collect())
}

/// Absolute differences from the weighted plane of best fit.
fn differences(grey: &Plane, weights: &[f64]) -> Vec<f32> {
    let (wide, high) = (grey.width(), grey.height());
    let place = |i: usize| {
        let x = ((i % wide) as f64 + 0.5) * 2.0 / wide as f64 - 1.0;
        let y = ((i / wide) as f64 + 0.5) * 2.0 / high as f64 - 1.0;
        Vector3::new(1.0, x, y)
    };
    let mut normal = Matrix3::identity() * RIDGE;
    let mut right = Vector3::zeros();
    for (i, (value, weight)) in grey.data().iter().zip(weights).enumerate() {
        let at = place(i);
        normal += at * at.transpose() * *weight;
        right += at * (*weight * f64::from(*value));
    }
    let plane = normal.lu().solve(&right).unwrap_or_else(Vector3::zeros);
    let away = |(i, value): (usize, &f32)| (f64::from(*value) - plane.dot(&place(i))).abs() as f32;
    grey.data().iter().enumerate().map(away).collect()
}

/// The value at the rounded-down place of a share.
fn quantile(values: &[f32], share: f64) -> f32 {
    if values.is_empty() {
        return 0.0;
    }
    let mut values = values.to_vec();
    let at = (share * (values.len() - 1) as f64) as usize;
    *values.select_nth_unstable_by(at, f32::total_cmp).1
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stroke(ground: f32, ink: f32) -> Plane {
        let mut grey = Plane::filled(80, 32, ground);
        for y in 0..32 {
            for x in 0..80 {
                let slope = 0.002 * x as f32 - 0.001 * y as f32;
                let noise = 0.004 * ((x * 7 + y * 13) % 5) as f32;
                let struck = (30..36).contains(&x) && (6..26).contains(&y);
                grey.set(x, y, if struck { ink } else { ground } + slope + noise);
            }
        }
        grey
    }

    #[test]
    fn ink_is_found_on_a_slope_whichever_is_lighter() {
        for (ground, ink) in [(0.8, 0.4), (0.2, 0.6)] {
            let map = ink_of(&stroke(ground, ink));
            assert!(map.get(33, 15) > 0.9, "{}", map.get(33, 15));
            assert!(map.get(60, 15) < 0.1, "{}", map.get(60, 15));
        }
    }

    #[test]
    fn contrast_with_what_is_near_ignores_light_on_a_part() {
        let mut grey = stroke(0.5, 0.3);
        for y in 0..32 {
            for x in 60..80 {
                grey.set(x, y, 1.0);
            }
        }
        let views = Views::of(&grey);
        assert!(views.near.get(33, 15) < -0.5, "{}", views.near.get(33, 15));
        assert!(views.near.get(72, 15).abs() < 0.4);
        assert_eq!(views.turned().turned(), views);
    }

    #[test]
    fn a_bare_strip_has_no_full_ink() {
        let map = ink_of(&stroke(0.8, 0.8));
        assert!(map.data().iter().all(|&v| v < 0.5));
        assert_eq!(ink_of(&Plane::filled(0, 32, 0.0)).width(), 0);
    }
}

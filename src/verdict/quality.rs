//! How good the photo is, apart from what it shows.

use crate::answer::Quality;
use crate::geometry::Point;
use crate::identify::Examination;
use crate::raster::{Plane, quantile};
use crate::view::SEARCH_STEP;

/// Blur added before the second look, in search pixels.
const SECOND_SIGMA: f32 = 1.2;
/// Edges taken: the strongest of this share of pixels.
const EDGE_SHARE: f32 = 0.995;
/// A pixel with all channels at or above this is clipped (8 bits).
const CLIPPED: u8 = 250;

/// Blur of the strongest edges as the sigma of a Gaussian, in pixels of `plane`: the ratio of the
/// gradient before and after a known blur (Zhuo and Sim 2011).
pub fn blur_sigma(plane: &Plane) -> f32 {
    let again = plane.blur(SECOND_SIGMA);
    let gradient = |p: &Plane, x: usize, y: usize| {
        let gx = p.get(x + 1, y) - p.get(x - 1, y);
        let gy = p.get(x, y + 1) - p.get(x, y - 1);
        gx.hypot(gy)
    };
    let (w, h) = (plane.width(), plane.height());
    let mut edges = Vec::new();
    for y in 1..h.saturating_sub(1) {
        for x in 1..w.saturating_sub(1) {
            edges.push((gradient(plane, x, y), x, y));
        }
    }
    let mut strengths: Vec<f32> = edges.iter().map(|e| e.0).collect();
    let least = quantile(&mut strengths, EDGE_SHARE).max(1e-3);
    let mut sigmas: Vec<f32> = edges
        .iter()
        .filter(|e| e.0 >= least)
        .map(|&(g, x, y)| {
            let ratio = (g / gradient(&again, x, y).max(1e-6)).max(1.0 + 1e-4);
            SECOND_SIGMA / (ratio * ratio - 1.0).sqrt()
        })
        .collect();
    quantile(&mut sigmas, 0.5)
}

/// Quality of the examined photo; `scale` is the longer side of its mark in photo pixels (0 where
/// there is none).
pub fn quality(examination: &Examination, scale: f64) -> Quality {
    let view = &examination.view;
    let to_photo = SEARCH_STEP as f64 * view.scale;
    Quality {
        sharpness: f64::from(blur_sigma(&view.lab[0])) * to_photo,
        exposure: f64::from(view.lab[0].quantile(0.5)),
        glare: glare(examination),
        scale,
    }
}

/// Share of the base (of the whole view where no rim shows) that is clipped.
fn glare(examination: &Examination) -> f64 {
    let view = &examination.view;
    let outline = examination
        .underside
        .rings
        .iter()
        .filter(|r| r.bounds_body())
        .max_by(|a, b| a.ellipse.major.total_cmp(&b.ellipse.major));
    let (mut all, mut clipped) = (0u32, 0u32);
    for (x, y, p) in view.rgb.enumerate_pixels().step_by(3) {
        let place = Point::new(f64::from(x), f64::from(y));
        if outline.is_some_and(|r| r.ellipse.radius_of(place) > 1.0) {
            continue;
        }
        all += 1;
        clipped += u32::from(p.0.iter().all(|&c| c >= CLIPPED));
    }
    f64::from(clipped) / f64::from(all.max(1))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_known_blur_is_measured() {
        let mut step = Plane::filled(120, 120, 20.0);
        for y in 0..120 {
            for x in 60..120 {
                step.set(x, y, 80.0);
            }
        }
        for sigma in [1.2f32, 2.5, 4.0] {
            let got = blur_sigma(&step.blur(sigma));
            assert!((got / sigma - 1.0).abs() < 0.25, "{sigma}: {got}");
        }
    }
}

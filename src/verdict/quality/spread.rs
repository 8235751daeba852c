//! How far the photo spread the mark's edges: a lens out of focus, and a phone that moved, apart.

use std::f32::consts::PI;

use super::slope;
use crate::raster::{Plane, quantile};

/// Smoothing before anything is measured, so that single noisy pixels make no edges; taken off again. In pixels.
const CALM: f32 = 0.7;
/// Blur added before the second look, in pixels.
const SECOND: f32 = 1.5;
/// Directions into which edges are sorted, the least edges of one, and the least directions for a fit.
const TURNS: usize = 8;
const TURN_EDGES: usize = 10;
const TURNS_LEAST: usize = 5;
/// The strongest edges of a direction, as a share of all pixels that count.
const EDGE_SHARE: f32 = 0.002;
/// Edges are stronger than this many times the slope that a fifth of all pixels stay below, which is the
/// glaze's even where ink is dense and widely spread, and than this share of the strongest one.
const OVER_GLAZE: f32 = 7.0;
const GLAZE_SHARE: f32 = 0.2;
const WEAKEST: f32 = 0.06;
/// Ratios of slopes nearer to 1 than this tell nothing.
const RATIO_LEAST: f32 = 1.02;
/// A movement is told only where the variance in its direction differs from the mean of all directions by more
/// than this share of it and by more than this (pixels squared): strokes of one width in one direction and of
/// another in the next differ by themselves. On a tune lot (187 photos, one fault each) lenses out of focus come to
/// at most 0.37, phones that moved by 10 px and more to at least 0.43, good photos to at most 0.17 px squared.
const DIRECTED: f32 = 0.38;
const DIRECTED_LEAST: f32 = 0.08;
/// Spread (sigma, pixels) from which it is measured again on a picture of half the size, and the least side of
/// such a picture: what the second look adds must not be lost in what is there.
const WIDE: f32 = 2.6;
const SIDE_LEAST: usize = 48;

/// Spread of the edges of a picture, in its pixels.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Spread {
    /// Sigma of the Gaussian of a lens out of focus: what is left in the direction of least spread.
    pub defocus: f32,
    /// Length of the straight streak that a movement drew.
    pub streak: f32,
    /// Direction of the movement in radians, from x towards y, 0 to pi.
    pub angle: f32,
}

/// Spread of the strongest edges of each direction where `counts` holds. The ratio of an edge's slope before
/// and after a known blur tells its variance (Zhuo and Sim 2011). A Gaussian of variance v and a uniform streak
/// of length l at angle a widen an edge whose slope points to t by v + l² / 12 cos² (t - a), which is fitted to
/// the medians of the directions by least squares. Thin strokes are spread as lines are and come out up to a
/// third too sharp.
pub fn spread_of(plane: &Plane, counts: impl Fn(usize, usize) -> bool) -> Spread {
    let mut seen = spread_at(plane, &counts);
    let (mut shrunk, mut k) = (plane.clone(), 1usize);
    while seen.widest() > WIDE && shrunk.width().min(shrunk.height()) >= 2 * SIDE_LEAST {
        shrunk = shrunk.half();
        k *= 2;
        seen = spread_at(&shrunk, &|x, y| counts(x * k, y * k));
        let Some(()) = (k < 8).then_some(()) else {
            break;
        };
    }
    Spread {
        defocus: seen.defocus * k as f32,
        streak: seen.streak * k as f32,
        angle: seen.angle,
    }
}

impl Spread {
    /// Sigma in the direction of most spread.
    pub(super) fn widest(self) -> f32 {
        self.defocus.hypot(self.streak / 12f32.sqrt())
    }
}

fn spread_at(plane: &Plane, counts: &impl Fn(usize, usize) -> bool) -> Spread {
    let (calm, again) = (plane.blur(CALM), plane.blur(CALM.hypot(SECOND)));
    let mut edges: Vec<(f32, u32, u32)> = Vec::new();
    for y in 1..plane.height().saturating_sub(1) {
        for x in 1..plane.width().saturating_sub(1) {
            if counts(x, y) {
                let (gx, gy) = slope(&calm, x, y);
                edges.push(((gx * gx + gy * gy).sqrt(), x as u32, y as u32));
            }
        }
    }
    let mut strengths: Vec<f32> = edges.iter().map(|e| e.0).collect();
    let strongest = quantile(&mut strengths, 1.0 - EDGE_SHARE);
    let glaze = quantile(&mut strengths, GLAZE_SHARE);
    let least = (OVER_GLAZE * glaze).max(WEAKEST * strongest).max(1e-3);
    let mut turned: [Vec<(f32, f32)>; TURNS] = Default::default();
    for &(g, x, y) in edges.iter().filter(|e| e.0 >= least) {
        let (x, y) = (x as usize, y as usize);
        let ((gx, gy), (ax, ay)) = (slope(&calm, x, y), slope(&again, x, y));
        let ratio = (g / (ax * ax + ay * ay).sqrt().max(1e-6)).max(RATIO_LEAST);
        let variance = (SECOND * SECOND / (ratio * ratio - 1.0) - CALM * CALM).max(0.0);
        let turn = gy.atan2(gx).rem_euclid(PI) / PI;
        turned[((turn * TURNS as f32) as usize).min(TURNS - 1)].push((g, variance));
    }
    let most = ((edges.len() as f32 * EDGE_SHARE) as usize).max(TURN_EDGES);
    fitted(&mut turned, most)
}

/// The fit to the directions' medians of their `most` strongest edges; without a streak where too few
/// directions have edges.
fn fitted(turned: &mut [Vec<(f32, f32)>; TURNS], most: usize) -> Spread {
    let (mut normal, mut right) = (nalgebra::Matrix3::zeros(), nalgebra::Vector3::zeros());
    let mut medians: Vec<f32> = Vec::new();
    for (i, edges) in turned.iter_mut().enumerate() {
        if edges.len() < TURN_EDGES {
            continue;
        }
        edges.sort_by(|a, b| b.0.total_cmp(&a.0));
        let mut variances: Vec<f32> = edges.iter().take(most).map(|e| e.1).collect();
        let median = quantile(&mut variances, 0.5);
        medians.push(median);
        let angle = 2.0 * PI * (i as f32 + 0.5) / TURNS as f32;
        let row = nalgebra::Vector3::new(1.0, angle.cos(), angle.sin());
        normal += row * row.transpose();
        right += row * median;
    }
    let plain = Spread {
        defocus: quantile(&mut medians, 0.5).sqrt(),
        ..Spread::default()
    };
    if medians.len() < TURNS_LEAST {
        return plain;
    }
    let Some(fit) = normal.lu().solve(&right) else {
        return plain;
    };
    // No direction is spread by less than nothing.
    let half = fit[1].hypot(fit[2]).min(fit[0]).max(0.0);
    if half < DIRECTED * fit[0] + DIRECTED_LEAST {
        return Spread {
            defocus: fit[0].max(0.0).sqrt(),
            ..Spread::default()
        };
    }
    Spread {
        defocus: (fit[0] - half).max(0.0).sqrt(),
        streak: (24.0 * half).sqrt(),
        angle: (0.5 * fit[2].atan2(fit[1])).rem_euclid(PI),
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::moved;
    use super::*;

    /// Rings and spokes: edges in all directions.
    fn target() -> Plane {
        let mut p = Plane::filled(240, 240, 85.0);
        for y in 0..240 {
            for x in 0..240 {
                let (dx, dy) = (x as f32 - 119.5, y as f32 - 119.5);
                let r = dx.hypot(dy);
                if (30.0..52.0).contains(&r) || (74.0..100.0).contains(&r) {
                    p.set(x, y, 30.0);
                }
            }
        }
        p.blur(0.6)
    }

    #[test]
    fn a_known_blur_is_measured_and_is_no_movement() {
        for sigma in [1.5f32, 3.0, 5.0] {
            let got = spread_of(&target().blur(sigma), |_, _| true);
            assert!((got.defocus / sigma - 1.0).abs() < 0.25, "{sigma}: {got:?}");
            assert!(got.streak < 1.6 * sigma, "{sigma}: {got:?}");
        }
    }

    #[test]
    fn a_known_movement_is_measured_with_its_direction() {
        for (length, angle) in [(8, 0.3f32), (14, 1.2), (20, 2.5)] {
            let got = spread_of(&moved(&target(), length, angle), |_, _| true);
            assert!(
                (got.streak / length as f32 - 1.0).abs() < 0.35,
                "{length}: {got:?}"
            );
            let off = (got.angle - angle + PI / 2.0).rem_euclid(PI) - PI / 2.0;
            assert!(off.abs() < 0.15, "{angle}: {got:?}");
            assert!(got.defocus < 0.35 * length as f32, "{length}: {got:?}");
        }
    }

    #[test]
    fn nothing_to_measure_is_no_blur() {
        assert_eq!(
            spread_of(&Plane::filled(60, 60, 80.0), |_, _| true).streak,
            0.0
        );
    }
}

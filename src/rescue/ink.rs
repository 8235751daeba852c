//! Ink for the eye: what differs from the glaze, with light and shadow taken away and weak parts raised.

use image::RgbImage;
use nalgebra::{Matrix3, Vector3};

use crate::ink::{Quiet, colour, map_ink, noise_of, quiet, stand_out, valid_quantile};
use crate::raster::Plane;

/// Smoothing before the ink is mapped, as a share of the longer side (sigma): a quarter of the width of a
/// thin stroke, which takes the grain out of it and leaves its edges.
const SMOOTHING: f32 = 0.0014;
/// Smallest noise of a* and b*: blocks of colour that JPEG leaves stand out by one or two, in few places, so that
/// no median knows of them.
const COLOUR_NOISE: f32 = 0.7;
/// Width of the ground as a share of the shorter side (sigma): for one mark as for the engine's own map, for a
/// whole photo narrow enough that rim and table do not darken the base.
const MARK_GROUND: f32 = 0.1;
const WHOLE_GROUND: f32 = 0.03;
/// The ground of a mark is taken a second time from what stands out by less than this share of its strongest
/// ink, and by less than so many noise units in any case: bold ink would pull it to its own colour and leave
/// a halo.
const GLAZE: f32 = 0.2;
const SURELY_GLAZE: f32 = 1.5;
/// Width of the neighbourhood that sets how far ink is raised, as a share of the longer side (sigma): two or
/// three letters, so that a word that took badly is raised as one.
const NEIGHBOURS: f32 = 0.05;
/// Ink of a neighbourhood counts by the fourth power, which leans to its strong strokes: the plain mean would
/// raise lonely strokes too far.
const LEAN: i32 = 4;
/// What counts as full ink is never less than this many noise units: what is weaker stays pale, lest bare
/// glaze turn into lettering.
const LEAST_FULL: f32 = 3.2;
/// Ink from this share of the picture's strongest on is full whatever is round about: bold lines must not pale
/// the lettering beside them. At less, clean prints grow fat.
const SURELY_FULL: f32 = 0.6;
/// The picture's strongest ink: this share of its pixels lies below it.
const STRONGEST: f32 = 0.97;
/// Ink fainter than this share of full ink is left white.
const WHITE: f32 = 0.3;
/// Full ink as a multiple of the neighbourhood's leaning mean, which the glaze between strokes pulls down.
const FULL: f32 = 1.25;

/// What a picture shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Extent {
    /// One mark and a little around it.
    Mark,
    /// A whole photo in which no mark was found.
    Whole,
}

/// Ink at the resolution of the picture.
#[derive(Debug, Clone)]
pub(super) struct LegibleInk {
    /// Difference from the ground in noise units, 0 or more.
    pub(super) standing: Plane,
    /// 0 (glaze) to 1 (ink) for the eye: raised where the neighbourhood is weak.
    pub(super) shade: Plane,
    /// 1 where the glaze can be seen: not under glare, not outside the picture.
    pub(super) valid: Plane,
}

impl LegibleInk {
    /// `seen` is 1 where the picture has pixels; one pixel of the photo became `grain` of them.
    pub(super) fn of(rgb: &RgbImage, seen: &Plane, grain: usize, extent: Extent) -> Self {
        let valid = map_ink(rgb, seen, grain).valid;
        let longer = valid.width().max(valid.height()) as f32;
        let sigma = (SMOOTHING * longer).max(0.5 * grain as f32);
        let Quiet { lab, smoothing, .. } = quiet(colour::lab_planes(rgb), &valid, grain);
        let known = valid.blur(sigma);
        let smooth = lab.map(|p| {
            let sum = p.zip(&valid, |v, m| v * m).blur(sigma);
            sum.zip(&known, |s, k| s / k.max(1e-3))
        });
        let reach = (2.0 * (sigma + smoothing)).ceil() as usize + 1;
        let [l, a, b] = noise_of(&smooth, &valid, reach);
        let noise = [l, a.max(COLOUR_NOISE), b.max(COLOUR_NOISE)];
        let standing = match extent {
            Extent::Whole => stand_out(&smooth, &valid, &noise, WHOLE_GROUND).difference,
            Extent::Mark => {
                let first = stand_out(&smooth, &valid, &noise, MARK_GROUND).difference;
                let least = (GLAZE * valid_quantile(&first, &valid, STRONGEST)).max(SURELY_GLAZE);
                let glaze = first.zip(&valid, |d, v| if d < least { v } else { 0.0 });
                let level = levelled(&smooth, &glaze);
                stand_out(&level, &glaze, &noise, MARK_GROUND).difference
            }
        };
        let standing = standing.zip(&valid, |d, v| if v < 0.5 { 0.0 } else { d });
        let shade = raised(&standing, &valid, NEIGHBOURS * longer);
        Self {
            standing,
            shade,
            valid,
        }
    }
}

/// Every so many pixels along either axis are enough for a plane.
const LEVEL_STEP: usize = 4;

/// Takes the slope of a lamp's light off each plane: a plane fitted by least squares where `glaze` is 1. At the
/// edges of a picture the ground's blur sees one side only and would follow a slope too late.
fn levelled(lab: &[Plane; 3], glaze: &Plane) -> [Plane; 3] {
    let (w, h) = (glaze.width(), glaze.height());
    let unit = |x: usize, y: usize| Vector3::new(1.0, x as f64 / w as f64, y as f64 / h as f64);
    let mut normal = Matrix3::<f64>::zeros();
    let mut right = Matrix3::<f64>::zeros();
    for y in (0..h).step_by(LEVEL_STEP) {
        for x in (0..w).step_by(LEVEL_STEP) {
            if glaze.get(x, y) > 0.5 {
                let v = unit(x, y);
                let colour = Vector3::from_fn(|c, _| f64::from(lab[c].get(x, y)));
                normal += v * v.transpose();
                right += v * colour.transpose();
            }
        }
    }
    let Some(fit) = normal.cholesky().map(|n| n.solve(&right)) else {
        return lab.clone();
    };
    std::array::from_fn(|c| {
        let mut plane = lab[c].clone();
        for y in 0..h {
            for x in 0..w {
                let v = unit(x, y);
                let slope = fit[(1, c)] * (v.y - 0.5) + fit[(2, c)] * (v.z - 0.5);
                plane.set(x, y, plane.get(x, y) - slope as f32);
            }
        }
        plane
    })
}

/// Divides ink by the strength of its neighbourhood (divisive normalisation, Heeger 1992), which is held
/// above the noise.
fn raised(standing: &Plane, valid: &Plane, sigma: f32) -> Plane {
    let known = valid.blur(sigma);
    let power = standing.map(|d| d.powi(LEAN)).blur(sigma);
    let strongest = valid_quantile(standing, valid, STRONGEST);
    let most = (SURELY_FULL * strongest).max(LEAST_FULL);
    let full = power.zip(&known, |p, k| {
        let mean = (p / k.max(1e-3)).max(0.0).powf(1.0 / LEAN as f32);
        (FULL * mean).clamp(LEAST_FULL, most)
    });
    let share = standing.zip(&full, |d, f| d / f);
    share.map(|s| ((s - WHITE) / (1.0 - WHITE)).clamp(0.0, 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Bars under a lamp from the left, strong in the upper half, `weak` levels dark in the lower.
    fn strike(weak: u8) -> RgbImage {
        RgbImage::from_fn(400, 400, |x, y| {
            let light = 230 - (x / 4) as u8;
            let grain = ((x * 7919 + y * 104_729) % 5) as u8;
            let bar = x % 40 < 8 && (40..360).contains(&x) && y % 60 < 44;
            let depth = if y < 200 { 90 } else { weak };
            image::Rgb([light + grain - if bar { depth } else { 0 }; 3])
        })
    }

    fn contrast(shade: &Plane, row: usize) -> f32 {
        let mean = |from: usize| {
            let columns = (80..320).filter(|x| x % 40 == from);
            let values: Vec<f32> = columns.map(|x| shade.get(x, row)).collect();
            values.iter().sum::<f32>() / values.len() as f32
        };
        mean(4) - mean(24)
    }

    #[test]
    fn the_weak_half_of_a_strike_is_nearly_as_legible_as_the_strong_one() {
        let seen = Plane::filled(400, 400, 1.0);
        let ink = LegibleInk::of(&strike(14), &seen, 1, Extent::Mark);
        let (strong, weak) = (contrast(&ink.shade, 80), contrast(&ink.shade, 320));
        assert!(strong > 0.7 && weak > 0.5, "{strong} {weak}");
        // In noise units the weak half stays weak.
        assert!(ink.standing.get(84, 80) > 2.0 * ink.standing.get(84, 320));
    }

    #[test]
    fn bare_glaze_under_a_lamp_stays_white() {
        let seen = Plane::filled(400, 400, 1.0);
        let ink = LegibleInk::of(&strike(0), &seen, 1, Extent::Mark);
        let lower: f32 = (260..400)
            .map(|y| ink.shade.row(y).iter().sum::<f32>() / 400.0)
            .sum::<f32>()
            / 140.0;
        assert!(lower < 0.04, "{lower}");
    }
}

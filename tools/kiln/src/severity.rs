//! What a finished picture shows of its mark, in figures: the truth that stands beside the photo.

use crate::develop::Picture;
use crate::plane::Plane;
use crate::scene::Scene;
use serde::Serialize;

/// Median stroke width in pixels, `w` of the severities: twice the distance from the strokes'
/// middle lines to their edges; half of the ink lies in strokes thinner than this. A chamfer
/// distance (1, sqrt 2; Borgefors 1986) stands for the Euclidean one.
pub fn median_stroke(mask: &Plane) -> f32 {
    let (w, h) = (mask.width, mask.height);
    let mut d: Vec<f32> = mask
        .data
        .iter()
        .map(|&v| if v > 0.5 { f32::MAX } else { 0.0 })
        .collect();
    let diagonal = std::f32::consts::SQRT_2;
    for y in 1..h.saturating_sub(1) {
        for i in y * w + 1..y * w + w - 1 {
            let above = (d[i - w - 1].min(d[i - w + 1]) + diagonal).min(d[i - w] + 1.0);
            d[i] = d[i].min(above).min(d[i - 1] + 1.0);
        }
    }
    for y in (1..h.saturating_sub(1)).rev() {
        for i in (y * w + 1..y * w + w - 1).rev() {
            let below = (d[i + w - 1].min(d[i + w + 1]) + diagonal).min(d[i + w] + 1.0);
            d[i] = d[i].min(below).min(d[i + 1] + 1.0);
        }
    }
    let mut middle = Vec::new();
    for y in 1..h.saturating_sub(1) {
        for i in y * w + 1..y * w + w - 1 {
            let v = d[i];
            let beside = [
                i - w - 1,
                i - w,
                i - w + 1,
                i - 1,
                i + 1,
                i + w - 1,
                i + w,
                i + w + 1,
            ];
            if v > 0.0 && v < 1e6 && beside.iter().all(|&j| d[j] <= v) {
                middle.push(v);
            }
        }
    }
    half_of_ink(&mut middle)
}

/// The width that halves the ink: a point of a middle line stands for as much as it is wide.
fn half_of_ink(middle: &mut [f32]) -> f32 {
    middle.sort_unstable_by(f32::total_cmp);
    let half = middle.iter().map(|&v| f64::from(v)).sum::<f64>() / 2.0;
    let mut so_far = 0.0;
    for &v in middle.iter() {
        so_far += f64::from(v);
        if so_far >= half {
            return (2.0 * v - 1.0).max(1.0);
        }
    }
    1.0
}

/// A place of the mark that holds ink in the drawing.
#[derive(Clone, Copy, Debug)]
pub struct InkPoint {
    /// Place on the base.
    pub x: f32,
    pub y: f32,
    /// Ink of the drawing, and what the strike left of it.
    pub drawn: f32,
    pub struck: f32,
    /// Whether siblings differ here.
    pub deciding: bool,
}

/// Severities as they came out. Lengths in median stroke widths `w`.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Measured {
    pub stroke_px: f32,
    pub width_px: f32,
    pub width_share: f32,
    pub blur_w: f32,
    pub tilt_deg: f32,
    pub glare_share: f32,
    pub ink_left: f32,
    pub cut_share: f32,
    pub smear_w: f32,
    pub contrast_noise: f32,
    pub deciding_visible: f32,
    pub letter_px: f32,
    /// Sigma of the lens, and length and direction (degrees, in the photo) of the shake, in its pixels.
    pub defocus_px: f32,
    pub moved_px: f32,
    pub moved_deg: f32,
}

/// Shares of a mark's ink: lost outside the frame or under covers, and under glare.
#[derive(Clone, Copy, Debug, Default)]
pub struct Shares {
    pub cut: f32,
    pub glare: f32,
    pub left: f32,
    /// Ink of the deciding parts that can be seen, against what the drawing holds.
    pub deciding: f32,
}

/// Glare above this share of the window's full light hides ink: it then adds more than the white
/// of the glaze itself.
pub const GLARE_HIDES: f32 = 0.25;

pub fn in_frame(scene: &Scene, p: &InkPoint) -> Option<(f32, f32)> {
    let (u, v) = scene.photo_of(p.x, p.y)?;
    let inside = u >= 0.0 && v >= 0.0 && u < scene.width as f32 && v < scene.height as f32;
    (inside && !scene.overlaid(u, v) && !scene.covered(p.x, p.y)).then_some((u, v))
}

pub fn shares(scene: &Scene, points: &[InkPoint]) -> Shares {
    let (mut all, mut shown, mut glared, mut struck) = (0.0f32, 0.0f32, 0.0f32, 0.0f32);
    let (mut deciding, mut decided) = (0.0f32, 0.0f32);
    for p in points {
        all += p.drawn;
        struck += p.struck.min(p.drawn);
        deciding += if p.deciding { p.drawn } else { 0.0 };
        if in_frame(scene, p).is_none() {
            continue;
        }
        shown += p.drawn;
        if scene.glare_at(p.x, p.y) > GLARE_HIDES {
            glared += p.drawn;
        } else if p.deciding {
            decided += p.struck.min(p.drawn);
        }
    }
    let all = all.max(1e-6);
    Shares {
        cut: 1.0 - shown / all,
        glare: glared / shown.max(1e-6),
        left: struck / all,
        deciding: if deciding > 0.0 {
            decided / deciding
        } else {
            1.0
        },
    }
}

/// Contrast of a mark over the noise of its ground in a finished picture. For ink: difference of
/// median brightness between ink and the ground round it. For a `relief`: the spread of brightness
/// (5 to 95 %, slightly smoothed) over and beside the strokes, less that of the ground. `ink` is
/// the visible ink of the same pixels; `origin` is where the picture's first pixel lies in it.
pub fn contrast_over_noise(
    picture: &Picture,
    ink: &Plane,
    origin: (usize, usize),
    w: f32,
    relief: bool,
) -> f32 {
    let near = ink_near(picture, ink, origin, w);
    let luma = picture.luma_plane();
    let (slow, calm) = (luma.blurred(SLOW), luma.blurred(0.8));
    let (mut on, mut ground, mut noise) = (Vec::new(), Vec::new(), Vec::new());
    for y in 0..picture.height {
        for x in 0..picture.width {
            let (k, around) = (ink.at(x + origin.0, y + origin.1), near.at(x, y));
            let value = if relief { calm.at(x, y) } else { luma.at(x, y) };
            if (relief && around > 0.1) || (k > 0.8 && around > 0.55) {
                on.push(value);
            } else if around < 0.004 {
                ground.push(value);
                noise.push((luma.at(x, y) - slow.at(x, y)).abs());
            }
        }
    }
    if on.len() < 12 || ground.len() < 12 {
        return 0.0;
    }
    // 0.6745 turns a median absolute value into a deviation. Half a grey level is the rounding's.
    let sigma = (median(&mut noise) / 0.6745).max(0.5);
    let contrast = if relief {
        (spread(&mut on) - spread(&mut ground)).max(0.0)
    } else {
        (median(&mut on) - median(&mut ground)).abs()
    };
    contrast / sigma
}

/// What varies more slowly than this (pixels) is light and glaze; the rest is noise, also where
/// denoising has tied neighbours together.
const SLOW: f32 = 4.0;

fn spread(values: &mut [f32]) -> f32 {
    values.sort_unstable_by(f32::total_cmp);
    values[values.len() * 19 / 20] - values[values.len() / 20]
}

fn ink_near(picture: &Picture, ink: &Plane, origin: (usize, usize), w: f32) -> Plane {
    let mut part = Plane::new(picture.width, picture.height);
    for y in 0..picture.height {
        let from = (y + origin.1) * ink.width + origin.0;
        part.data[y * picture.width..][..picture.width]
            .copy_from_slice(&ink.data[from..from + picture.width]);
    }
    part.blurred((w * 0.35).max(0.6))
}

fn median(values: &mut [f32]) -> f32 {
    let middle = values.len() / 2;
    *values.select_nth_unstable_by(middle, f32::total_cmp).1
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bar_is_as_wide_as_it_is() {
        let mut p = Plane::new(60, 60);
        for y in 5..55 {
            for x in 20..27 {
                p.data[y * 60 + x] = 1.0;
            }
        }
        assert!((median_stroke(&p) - 7.0).abs() < 0.1);
    }
}

//! What a finished picture shows of its mark, in figures: the truth that stands beside the photo.

use crate::develop::Picture;
use crate::plane::Plane;
use crate::scene::Scene;
use serde::Serialize;

/// Median over ink pixels of the shortest straight run of ink through the pixel (rows, columns
/// and both diagonals), in pixels: the stroke width `w` that severities are given in.
pub fn median_stroke(mask: &Plane) -> f32 {
    let (w, h) = (mask.width, mask.height);
    let mut best = vec![u16::MAX; w * h];
    let lines = |n: usize| n as isize;
    let mut walk = |x0: isize, y0: isize, dx: isize, dy: isize, unit: f32| {
        let (mut x, mut y) = (x0, y0);
        let mut run: Vec<usize> = Vec::new();
        loop {
            let inside = x >= 0 && y >= 0 && x < lines(w) && y < lines(h);
            let ink = inside && mask.data[y as usize * w + x as usize] > 0.5;
            if ink {
                run.push(y as usize * w + x as usize);
            } else {
                let length = (run.len() as f32 * unit * 16.0) as u16;
                run.drain(..).for_each(|i| best[i] = best[i].min(length));
            }
            if !inside {
                break;
            }
            (x, y) = (x + dx, y + dy);
        }
    };
    let diagonal = std::f32::consts::SQRT_2;
    for y in 0..lines(h) {
        walk(0, y, 1, 0, 1.0);
        walk(0, y, 1, 1, diagonal);
        walk(lines(w) - 1, y, -1, 1, diagonal);
    }
    for x in 0..lines(w) {
        walk(x, 0, 0, 1, 1.0);
        walk(x + 1, 0, 1, 1, diagonal);
        walk(x - 1, 0, -1, 1, diagonal);
    }
    let mut runs: Vec<u16> = best.into_iter().filter(|&r| r != u16::MAX).collect();
    if runs.is_empty() {
        return 1.0;
    }
    let middle = runs.len() / 2;
    let (_, &mut m, _) = runs.select_nth_unstable(middle);
    (f32::from(m) / 16.0).max(1.0)
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

/// Difference of median brightness between ink and the ground round it, over the noise of the
/// ground, in a finished picture. `ink` is the visible ink of the same pixels; `origin` is where
/// the picture's first pixel lies in it.
pub fn contrast_over_noise(picture: &Picture, ink: &Plane, origin: (usize, usize), w: f32) -> f32 {
    let near = ink_near(picture, ink, origin, w);
    let (mut dark, mut ground, mut noise) = (Vec::new(), Vec::new(), Vec::new());
    for y in 1..picture.height.saturating_sub(1) {
        for x in 1..picture.width.saturating_sub(1) {
            let k = ink.at(x + origin.0, y + origin.1);
            let around = near.at(x, y);
            if k > 0.8 && around > 0.55 {
                dark.push(picture.luma(x, y));
            } else if around < 0.004 {
                ground.push(picture.luma(x, y));
                let mid = picture.luma(x, y);
                let ring = picture.luma(x - 1, y)
                    + picture.luma(x + 1, y)
                    + picture.luma(x, y - 1)
                    + picture.luma(x, y + 1);
                noise.push((mid - ring / 4.0).abs());
            }
        }
    }
    if dark.len() < 12 || ground.len() < 12 {
        return 0.0;
    }
    // The Laplacian of independent noise has 1.118 times its deviation; 0.6745 turns a median
    // absolute value into a deviation. Half a grey level is the rounding's own share.
    let sigma = (median(&mut noise) / 0.6745 / 1.118).max(0.5);
    (median(&mut dark) - median(&mut ground)).abs() / sigma
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

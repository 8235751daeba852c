//! Ink: how much each pixel differs from the glaze around it, whatever the glaze, the ink colour,
//! the polarity or the light.
//!
//! Ink is an *unsigned* colour difference in CIELAB from a local ground, measured in units of the
//! photo's own noise, so that dark print on white, gold on cobalt and the shaded flanks of an
//! impressed mark all come out bright on black. The ground is estimated by normalised convolution
//! (Knutsson and Westin 1993) twice: the second time with ink weighted down.

pub(crate) mod boxes;
pub mod colour;
pub mod overview;
pub mod small;
pub mod tints;

use image::RgbImage;

use crate::raster::{Plane, quantile};

/// Standard deviation of the ground's blur as a share of the picture's shorter side. Wide enough
/// to see past the boldest emblems of the fit artwork, narrow enough to follow a lamp's falloff.
const GROUND_SHARE: f32 = 0.1;
/// The ground is estimated on a grid this many times coarser; it holds no detail anyway.
const GROUND_STEP: usize = 4;
/// Smallest noise of L*, a*, b*: what 8-bit quantisation and JPEG leave of a flat glaze. Chroma's is
/// the smaller, since ink hue survives where contrast is low.
const NOISE_FLOOR: [f32; 3] = [0.45, 0.3, 0.3];
/// Standard deviations for one median absolute residual against a 3 x 3 mean (Gaussian noise).
const NOISE_SCALE: f32 = 1.57;
/// Standard deviations in one noise unit: a bare glaze stays below 1.
const UNIT: f32 = 2.2;
/// Differences below this many noise units are no ink.
const INK_FLOOR: f32 = 2.0;
/// The strong end of the ink scale: this share of pixels lies below it ...
const INK_FULL_SHARE: f32 = 0.97;
/// ... but it is never less than this many noise units, lest bare glaze turn into a mark.
const INK_FULL_LEAST: f32 = 6.0;
/// A channel at or above this value is clipped (8 bits).
const CLIPPED: u8 = 251;
/// A clipped region narrower than this many pixels (working size 160) is white ink, not glare.
const GLARE_WIDTH: f32 = 5.0;
/// Growth of the glare mask over its halo, as a share of the picture's shorter side.
const GLARE_HALO_SHARE: f32 = 3.0 / 160.0;

/// Ink and what is known of it.
#[derive(Debug, Clone)]
pub struct InkMap {
    /// 0 (glaze) to 1 (strong ink); 0 where not valid.
    pub ink: Plane,
    /// Signed lightness against the glaze, -1 to 1; 0 where not valid.
    pub tone: Plane,
    /// 1 where the glaze can be seen, 0 under glare and outside the photo.
    pub valid: Plane,
    /// Strong ink's difference from the ground, in noise units (97th percentile).
    pub strength: f32,
    /// Standard deviation of the noise of L*.
    pub noise: f32,
}

/// Maps the ink of a picture. `seen` is 1 where the picture has pixels, 0 outside the photo;
/// `grain` is how many of its pixels one pixel of the photo became (1 where it was not enlarged).
pub fn map_ink(rgb: &RgbImage, seen: &Plane, grain: usize) -> InkMap {
    let valid = without_glare(rgb, seen);
    let Quiet { lab, noise, .. } = quiet(colour::lab_planes(rgb), &valid, grain);
    let Standing { difference, tone } = stand_out(&lab, &valid, &noise, GROUND_SHARE);
    let strength = valid_quantile(&difference, &valid, INK_FULL_SHARE);
    let full = strength.max(INK_FULL_LEAST);
    let ink = difference.zip(&valid, |d, v| {
        if v < 0.5 {
            0.0
        } else {
            ((d - INK_FLOOR) / (full - INK_FLOOR)).clamp(0.0, 1.0)
        }
    });
    let tone = tone.zip(&valid, |t, v| if v < 0.5 { 0.0 } else { (t / full).tanh() });
    InkMap {
        ink,
        tone,
        valid,
        strength,
        noise: noise[0],
    }
}

/// Standard deviation of the noise of L*, a* and b*: the median residual against a box mean of
/// half-width `grain` (1 for a photo's own pixels, as wide as an enlargement is), plus what 8 bits
/// and JPEG leave of a flat glaze.
pub fn noise_of(lab: &[Plane; 3], valid: &Plane, grain: usize) -> [f32; 3] {
    std::array::from_fn(|c| {
        let mut residuals = residuals(&lab[c], valid, grain);
        NOISE_SCALE * quantile(&mut residuals, 0.5) + NOISE_FLOOR[c]
    })
}

fn residuals(plane: &Plane, valid: &Plane, grain: usize) -> Vec<f32> {
    let (w, h) = (valid.width(), valid.height());
    let area = ((2 * grain + 1) * (2 * grain + 1)) as f32;
    let stride = NOISE_STRIDE + grain;
    let mut out = Vec::with_capacity(w * h / (stride * stride) + 1);
    for y in (grain..h.saturating_sub(grain)).step_by(stride) {
        for x in (grain..w.saturating_sub(grain)).step_by(stride) {
            if valid.get(x, y) < 0.5 {
                continue;
            }
            let sum: f32 = (y - grain..=y + grain)
                .map(|r| plane.row(r)[x - grain..=x + grain].iter().sum::<f32>())
                .sum();
            out.push((plane.get(x, y) - sum / area).abs());
        }
    }
    out
}

/// Every so many pixels (less one) are enough for a median.
const NOISE_STRIDE: usize = 3;
/// Noise of L* (standard deviation) from which a picture is smoothed before its ink is mapped, and how fast
/// the smoothing grows: pixels of sigma for each factor e of noise.
const GRAINY: f32 = 1.0;
const SMOOTHING: f32 = 1.3;
/// Most smoothing, in pixels.
const SMOOTHING_MOST: f32 = 3.0;

/// Lab planes fit for ink mapping.
#[derive(Debug, Clone)]
pub struct Quiet {
    pub lab: [Plane; 3],
    /// Standard deviation of the noise of each.
    pub noise: [f32; 3],
    /// Sigma by which L* was smoothed, in pixels; 0 where it was not.
    pub smoothing: f32,
}

/// Measures the noise; where the photo is grainy the planes are smoothed, chroma half as wide again as
/// lightness, and the noise is measured again.
pub fn quiet(lab: [Plane; 3], valid: &Plane, grain: usize) -> Quiet {
    let noise = noise_of(&lab, valid, grain);
    if noise[0] < GRAINY {
        return Quiet {
            lab,
            noise,
            smoothing: 0.0,
        };
    }
    let sigma = (SMOOTHING * (1.0 + (noise[0] / GRAINY).ln())).min(SMOOTHING_MOST) * grain as f32;
    let [l, a, b] = lab;
    let lab = [l.blur(sigma), a.blur(1.5 * sigma), b.blur(1.5 * sigma)];
    let reach = (2.0 * sigma).ceil() as usize + grain;
    Quiet {
        noise: noise_of(&lab, valid, reach),
        lab,
        smoothing: sigma,
    }
}

/// How far each pixel stands from the local ground, in noise units.
#[derive(Debug, Clone)]
pub struct Standing {
    /// Length of the colour difference, 0 or more: ink of any colour and polarity.
    pub difference: Plane,
    /// Signed difference of lightness alone: keeps the grain from adding up, for local points.
    pub tone: Plane,
}

/// Measures every pixel against a ground of the given width (`share` of the shorter side).
pub fn stand_out(lab: &[Plane; 3], valid: &Plane, noise: &[f32; 3], share: f32) -> Standing {
    let (w, h) = (valid.width(), valid.height());
    let step = GROUND_STEP.min(w).min(h);
    let sigma = share * w.min(h) as f32 / step as f32;
    let coarse_valid = valid.shrink(step);
    let coarse: [Plane; 3] = std::array::from_fn(|c| {
        lab[c]
            .zip(valid, |v, m| v * m)
            .shrink(step)
            .zip(&coarse_valid, |v, m| if m > 0.0 { v / m } else { 0.0 })
    });
    let first = ground(&coarse, &coarse_valid, sigma);
    let residual = distance(&coarse, &first, &[1.0, 0.67, 0.67]);
    let typical = valid_quantile(&residual, &coarse_valid, 0.5).max(0.1);
    let weight = residual.zip(&coarse_valid, |d, v| {
        v / (1.0 + (d / (2.0 * typical)).powi(2))
    });
    let second = ground(&coarse, &weight, sigma);
    let fine: [Plane; 3] = second.map(|p| p.resized(w, h));
    let tone = lab[0].zip(&fine[0], |v, g| (v - g) / (noise[0] * UNIT));
    // What pure noise would show on average is taken off, so that grain does not add up to ink.
    let difference = distance(lab, &fine, noise).map(|d| (d * d - 3.0).max(0.0).sqrt() / UNIT);
    Standing { difference, tone }
}

fn ground(lab: &[Plane; 3], weight: &Plane, sigma: f32) -> [Plane; 3] {
    let total = weight.blur(sigma);
    std::array::from_fn(|c| {
        lab[c]
            .zip(weight, |v, m| v * m)
            .blur(sigma)
            .zip(&total, |v, m| v / m.max(1e-4))
    })
}

/// Length of the difference with each channel in units of its own noise.
fn distance(lab: &[Plane; 3], ground: &[Plane; 3], noise: &[f32; 3]) -> Plane {
    let mut out = Plane::filled(lab[0].width(), lab[0].height(), 0.0);
    for c in 0..3 {
        let scale = 1.0 / (noise[c] * noise[c]);
        for ((o, v), g) in out
            .data_mut()
            .iter_mut()
            .zip(lab[c].data())
            .zip(ground[c].data())
        {
            *o += (v - g) * (v - g) * scale;
        }
    }
    out.map(f32::sqrt)
}

/// Quantile over the valid samples only.
pub fn valid_quantile(plane: &Plane, valid: &Plane, q: f32) -> f32 {
    let mut seen: Vec<f32> = plane
        .data()
        .iter()
        .zip(valid.data())
        .filter(|&(_, &v)| v >= 0.5)
        .map(|(&p, _)| p)
        .collect();
    quantile(&mut seen, q)
}

/// `seen` less the pixels under glare: clipped in all channels over a blob wider than thin white
/// strokes can be, grown over its halo.
fn without_glare(rgb: &RgbImage, seen: &Plane) -> Plane {
    let (w, h) = (seen.width(), seen.height());
    let side = w.min(h) as f32;
    let mut clipped = Plane::filled(w, h, 0.0);
    let mut any = false;
    for (o, p) in clipped
        .data_mut()
        .iter_mut()
        .zip(rgb.as_raw().chunks_exact(3))
    {
        if p.iter().all(|&c| c >= CLIPPED) {
            *o = 1.0;
            any = true;
        }
    }
    if !any {
        return seen.clone();
    }
    let share = clipped.mean();
    if share > EVENLY_WHITE {
        // A scan on pure white paper: the clipped pixels are the ground, not a reflection.
        return seen.clone();
    }
    let reach = (GLARE_WIDTH / 2.0 * side / 160.0).max(1.0);
    let core = box_min(&clipped, reach.round() as usize);
    let halo = (reach + GLARE_HALO_SHARE * side).round() as usize;
    let grown = box_max(&core, halo);
    seen.zip(&grown, |s, g| if g > 0.5 { 0.0 } else { s })
}

/// Above this share of clipped pixels the picture is a scan on white, not a photo with glare.
const EVENLY_WHITE: f32 = 0.35;

/// Greyscale erosion by a square of half-width `r`.
pub fn box_min(p: &Plane, r: usize) -> Plane {
    rank_filter(p, r, f32::min, f32::INFINITY)
}

/// Greyscale dilation by a square of half-width `r`.
pub fn box_max(p: &Plane, r: usize) -> Plane {
    rank_filter(p, r, f32::max, f32::NEG_INFINITY)
}

/// Running minimum or maximum over a square, by doubling windows (each pass joins two).
fn rank_filter(p: &Plane, r: usize, pick: impl Fn(f32, f32) -> f32 + Copy, pad: f32) -> Plane {
    let (w, h) = (p.width(), p.height());
    let window = 2 * r + 1;
    let mut rows = vec![pad; w * (h + 2 * r)];
    for y in 0..h {
        let line = rank_line(p.row(y), r, pick, pad);
        rows[(y + r) * w..(y + r + 1) * w].copy_from_slice(&line);
    }
    // The same down the columns, whole rows at a time.
    let mut have = 1;
    while have < window {
        let step = have.min(window - have);
        for y in 0..h + 2 * r - step {
            let (head, tail) = rows.split_at_mut((y + step) * w);
            let (here, there) = (&mut head[y * w..(y + 1) * w], &tail[..w]);
            here.iter_mut()
                .zip(there)
                .for_each(|(a, b)| *a = pick(*a, *b));
        }
        have += step;
    }
    rows.truncate(w * h);
    Plane::from_vec(w, h, rows)
}

fn rank_line(src: &[f32], r: usize, pick: impl Fn(f32, f32) -> f32 + Copy, pad: f32) -> Vec<f32> {
    let n = src.len();
    let window = 2 * r + 1;
    let mut buf = vec![pad; n + 2 * r];
    buf[r..r + n].copy_from_slice(src);
    let mut have = 1;
    while have < window {
        let step = have.min(window - have);
        for i in 0..buf.len() - step {
            buf[i] = pick(buf[i], buf[i + step]);
        }
        have += step;
    }
    buf.truncate(n);
    buf
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stamp(ground: [u8; 3], ink: [u8; 3]) -> RgbImage {
        RgbImage::from_fn(160, 160, |x, y| {
            let on = (60..100).contains(&x) && y % 20 < 4 && (40..120).contains(&y);
            image::Rgb(if on { ink } else { ground })
        })
    }

    #[test]
    fn polarity_and_colour_do_not_matter() {
        let seen = Plane::filled(160, 160, 1.0);
        let dark = map_ink(&stamp([235, 232, 220], [30, 60, 40]), &seen, 1);
        let light = map_ink(&stamp([40, 50, 90], [200, 180, 120]), &seen, 1);
        for (a, b) in dark.ink.data().iter().zip(light.ink.data()) {
            assert!((a - b).abs() < 0.35, "{a} {b}");
        }
        assert!(dark.ink.get(80, 62) > 0.9 && dark.ink.get(20, 62) < 0.1);
    }

    #[test]
    fn a_bare_glaze_stays_bare() {
        let noisy = RgbImage::from_fn(160, 160, |x, y| {
            let n = ((x * 7919 + y * 104_729) % 11) as u8;
            image::Rgb([200 + n, 200 + n, 195 + n])
        });
        let map = map_ink(&noisy, &Plane::filled(160, 160, 1.0), 1);
        assert!(map.ink.mean() < 0.05, "{}", map.ink.mean());
    }

    #[test]
    fn wide_reflections_are_unknown_and_thin_white_strokes_are_ink() {
        let rgb = RgbImage::from_fn(160, 160, |x, y| {
            let glare = (20..60).contains(&x) && (20..60).contains(&y);
            let stroke = (100..103).contains(&x) && (20..140).contains(&y);
            image::Rgb(if glare || stroke {
                [255; 3]
            } else {
                [60, 60, 110]
            })
        });
        let map = map_ink(&rgb, &Plane::filled(160, 160, 1.0), 1);
        assert_eq!(map.valid.get(40, 40), 0.0);
        assert_eq!(map.ink.get(40, 40), 0.0);
        assert_eq!(map.valid.get(101, 80), 1.0);
        assert!(map.ink.get(101, 80) > 0.9);
    }

    #[test]
    fn running_maximum_equals_the_plain_one() {
        let src: Vec<f32> = (0..37).map(|i| ((i * 29) % 17) as f32).collect();
        for r in [1, 2, 3, 5] {
            let fast = rank_line(&src, r, f32::max, f32::NEG_INFINITY);
            for (i, v) in fast.iter().enumerate() {
                let want = src[i.saturating_sub(r)..(i + r + 1).min(37)]
                    .iter()
                    .copied()
                    .fold(0.0, f32::max);
                assert_eq!(*v, want);
            }
        }
    }
}

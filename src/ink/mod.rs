//! Ink: how much each pixel differs from the glaze around it, whatever the glaze, the ink colour,
//! the polarity or the light.
//!
//! Ink is an *unsigned* colour difference in CIELAB from a local ground, measured in units of the
//! photo's own noise, so that dark print on white, gold on cobalt and the shaded flanks of an
//! impressed mark all come out bright on black. The ground is estimated by normalised convolution
//! (Knutsson and Westin 1993) twice: the second time with ink weighted down.

pub mod colour;

use image::RgbImage;

use crate::raster::{Plane, quantile};

/// Standard deviation of the ground's blur as a share of the picture's shorter side. Wide enough
/// to see past the boldest emblems of the fit artwork, narrow enough to follow a lamp's falloff.
const GROUND_SHARE: f32 = 0.1;
/// The ground is estimated on a grid this many times coarser; it holds no detail anyway.
const GROUND_STEP: usize = 4;
/// Weight of a* and b* against L* in the difference: ink hue survives where contrast is low.
const CHROMA_WEIGHT: f32 = 1.5;
/// Smallest noise, in L* units: what 8-bit quantisation and JPEG leave of a flat glaze.
const NOISE_FLOOR: f32 = 0.4;
/// Noise units from the median absolute residual of a 3 x 3 mean.
const NOISE_SCALE: f32 = 2.0;
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
    /// 1 where the glaze can be seen, 0 under glare and outside the photo.
    pub valid: Plane,
    /// Strong ink's difference from the ground, in noise units (97th percentile).
    pub strength: f32,
    /// One noise unit, in CIELAB units.
    pub noise: f32,
}

/// Maps the ink of a picture. `seen` is 1 where the picture has pixels, 0 outside the photo.
pub fn map_ink(rgb: &RgbImage, seen: &Plane) -> InkMap {
    let valid = without_glare(rgb, seen);
    let lab = colour::lab_planes(rgb);
    let mut difference = difference_from_ground(&lab, &valid);
    let noise = noise_of(&lab[0], &valid);
    difference.data_mut().iter_mut().for_each(|d| *d /= noise);
    let strength = valid_quantile(&difference, &valid, INK_FULL_SHARE);
    let full = strength.max(INK_FULL_LEAST);
    let ink = difference.zip(&valid, |d, v| {
        if v < 0.5 {
            0.0
        } else {
            ((d - INK_FLOOR) / (full - INK_FLOOR)).clamp(0.0, 1.0)
        }
    });
    InkMap {
        ink,
        valid,
        strength,
        noise,
    }
}

/// One noise unit: twice the median absolute residual of L* against its 3 x 3 mean, plus a floor.
pub fn noise_of(lightness: &Plane, valid: &Plane) -> f32 {
    let (w, h) = (lightness.width(), lightness.height());
    let mut residuals = Vec::with_capacity(w * h / 4);
    for y in (1..h.saturating_sub(1)).step_by(2) {
        let (a, b, c) = (lightness.row(y - 1), lightness.row(y), lightness.row(y + 1));
        for x in (1..w.saturating_sub(1)).step_by(2) {
            if valid.get(x, y) < 0.5 {
                continue;
            }
            let sum: f32 = [a, b, c].iter().map(|r| r[x - 1] + r[x] + r[x + 1]).sum();
            residuals.push((b[x] - sum / 9.0).abs());
        }
    }
    NOISE_SCALE * quantile(&mut residuals, 0.5) + NOISE_FLOOR
}

/// Length of the colour difference from the local ground, in CIELAB units with the chroma weight.
pub fn difference_from_ground(lab: &[Plane; 3], valid: &Plane) -> Plane {
    difference_from_ground_at(lab, valid, GROUND_SHARE)
}

/// The same with a ground of another width (`share` of the shorter side).
pub fn difference_from_ground_at(lab: &[Plane; 3], valid: &Plane, share: f32) -> Plane {
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
    let residual = distance(&coarse, &first);
    let typical = valid_quantile(&residual, &coarse_valid, 0.5).max(0.1);
    let weight = residual.zip(&coarse_valid, |d, v| {
        v / (1.0 + (d / (2.0 * typical)).powi(2))
    });
    let second = ground(&coarse, &weight, sigma);
    let fine: [Plane; 3] = second.map(|p| p.resized(w, h));
    distance(lab, &fine)
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

fn distance(lab: &[Plane; 3], ground: &[Plane; 3]) -> Plane {
    let mut out = Plane::filled(lab[0].width(), lab[0].height(), 0.0);
    let [l, a, b] = lab;
    let [gl, ga, gb] = ground;
    for (i, o) in out.data_mut().iter_mut().enumerate() {
        let dl = l.data()[i] - gl.data()[i];
        let da = CHROMA_WEIGHT * (a.data()[i] - ga.data()[i]);
        let db = CHROMA_WEIGHT * (b.data()[i] - gb.data()[i]);
        *o = (dl * dl + da * da + db * db).sqrt();
    }
    out
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
fn rank_filter(p: &Plane, r: usize, pick: fn(f32, f32) -> f32, pad: f32) -> Plane {
    let (w, h) = (p.width(), p.height());
    let mut out = p.clone();
    for y in 0..h {
        let line = rank_line(p.row(y), r, pick, pad);
        out.data_mut()[y * w..(y + 1) * w].copy_from_slice(&line);
    }
    let mut column = vec![0.0; h];
    for x in 0..w {
        (0..h).for_each(|y| column[y] = out.get(x, y));
        let line = rank_line(&column, r, pick, pad);
        (0..h).for_each(|y| out.set(x, y, line[y]));
    }
    out
}

fn rank_line(src: &[f32], r: usize, pick: fn(f32, f32) -> f32, pad: f32) -> Vec<f32> {
    let n = src.len();
    let window = 2 * r + 1;
    let mut buf: Vec<f32> = std::iter::repeat_n(pad, r)
        .chain(src.iter().copied())
        .chain(std::iter::repeat_n(pad, r))
        .collect();
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
        let dark = map_ink(&stamp([235, 232, 220], [30, 60, 40]), &seen);
        let light = map_ink(&stamp([40, 50, 90], [200, 180, 120]), &seen);
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
        let map = map_ink(&noisy, &Plane::filled(160, 160, 1.0));
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
        let map = map_ink(&rgb, &Plane::filled(160, 160, 1.0));
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

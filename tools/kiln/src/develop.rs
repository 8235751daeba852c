//! From linear light to the JPEG that a phone writes: optics, noise, denoising, tone, sharpening.

use crate::colour::{Rgb, encode};
use crate::plane::Plane;
use crate::random::Rng;

/// How one picture was taken.
#[derive(Clone, Copy, Debug)]
pub struct Develop {
    /// Blur of lens and focus, standard deviation in pixels.
    pub blur: f32,
    /// Length and direction of a shake in pixels and radians.
    pub shake: (f32, f32),
    pub vignette: f32,
    pub exposure: f32,
    pub balance: Rgb,
    /// Noise at black and at white (linear, before denoising).
    pub read: f32,
    pub shot: f32,
    /// Strength of the phone's denoising, 0 to 1.
    pub denoise: f32,
    pub sharpen: f32,
    pub halo: f32,
    pub contrast: f32,
    pub quality: u8,
}

impl Develop {
    pub fn ordinary(metered: f32, rng: &mut Rng) -> Self {
        let warm = rng.range(-0.09, 0.09);
        Self {
            blur: rng.range(0.6, 0.9),
            shake: (0.0, 0.0),
            vignette: rng.range(0.0, 0.3),
            exposure: (0.10 + 0.60 * metered) / metered.max(0.03) * rng.range(0.85, 1.18),
            balance: [1.0 + warm, 1.0 + 0.02 * rng.normal(), 1.0 - warm],
            read: rng.range(0.0015, 0.004),
            shot: rng.range(0.006, 0.014),
            denoise: rng.range(0.2, 0.6),
            sharpen: rng.range(0.2, 0.8),
            halo: rng.range(0.9, 1.6),
            contrast: rng.range(0.0, 0.35),
            quality: rng.range(70.0, 92.9) as u8,
        }
    }
}

/// A finished picture: interleaved 8-bit RGB.
#[derive(Clone, Debug)]
pub struct Picture {
    pub width: usize,
    pub height: usize,
    pub rgb: Vec<u8>,
}

impl Picture {
    pub fn luma(&self, x: usize, y: usize) -> f32 {
        let i = (y * self.width + x) * 3;
        0.299 * f32::from(self.rgb[i])
            + 0.587 * f32::from(self.rgb[i + 1])
            + 0.114 * f32::from(self.rgb[i + 2])
    }

    /// The picture as baseline JPEG with 4:2:0 chroma.
    pub fn jpeg(&self, quality: u8) -> Result<Vec<u8>, jpeg_encoder::EncodingError> {
        let mut out = Vec::new();
        let mut encoder = jpeg_encoder::Encoder::new(&mut out, quality);
        encoder.set_sampling_factor(jpeg_encoder::SamplingFactor::F_2_2);
        let (w, h) = (self.width as u16, self.height as u16);
        encoder.encode(&self.rgb, w, h, jpeg_encoder::ColorType::Rgb)?;
        Ok(out)
    }
}

const TONES: usize = 4096;

fn tone_table(contrast: f32) -> Vec<f32> {
    (0..=TONES)
        .map(|i| {
            let linear = i as f32 / TONES as f32 * 1.25;
            let knee = if linear > 0.8 {
                0.8 + 0.2 * (1.0 - (-(linear - 0.8) / 0.2).exp())
            } else {
                linear
            };
            let v = encode(knee.min(1.0));
            let s = v * v * (3.0 - 2.0 * v);
            v + contrast * (s - v)
        })
        .collect()
}

/// Blurs by optics and shake only: what the noise then falls on.
pub fn focused(channels: &[Plane; 3], how: &Develop) -> [Plane; 3] {
    [0, 1, 2].map(|c| {
        let sharp = channels[c].blurred(how.blur);
        if how.shake.0 > 0.5 {
            sharp.streaked(how.shake.0, how.shake.1, true)
        } else {
            sharp
        }
    })
}

/// Noise, denoising, tone, sharpening, rounding. `origin` is where the planes' first pixel lies
/// in a picture of `full` size, so that a cut-out is treated as it is in the whole.
pub fn develop(
    planes: &[Plane; 3],
    how: &Develop,
    origin: (usize, usize),
    full: (usize, usize),
    rng: &mut Rng,
) -> Picture {
    let (w, h) = (planes[0].width, planes[0].height);
    let table = tone_table(how.contrast);
    let toned = [0, 1, 2].map(|c| {
        let noisy = noisy(
            &planes[c],
            how,
            how.exposure * how.balance[c],
            (origin, full),
            rng,
        );
        let mut calm = noisy;
        if how.denoise > 0.0 {
            let soft = calm.blurred(0.9);
            calm.data
                .iter_mut()
                .zip(&soft.data)
                .for_each(|(a, b)| *a += how.denoise * (b - *a));
        }
        let k = TONES as f32 / 1.25;
        calm.data.iter_mut().for_each(|v| {
            let at = (*v * k).clamp(0.0, TONES as f32 - 1.0);
            let i = at as usize;
            *v = table[i] + (table[i + 1] - table[i]) * (at - i as f32);
        });
        calm
    });
    finish(&toned, how, w, h)
}

fn noisy(
    plane: &Plane,
    how: &Develop,
    gain: f32,
    (origin, full): ((usize, usize), (usize, usize)),
    rng: &mut Rng,
) -> Plane {
    let (cx, cy) = (full.0 as f32 / 2.0, full.1 as f32 / 2.0);
    let reach = 1.0 / (cx * cx + cy * cy);
    let mut out = plane.clone();
    for (y, row) in out.data.chunks_exact_mut(plane.width).enumerate() {
        let dy = (y + origin.1) as f32 - cy;
        for (x, v) in row.iter_mut().enumerate() {
            let dx = (x + origin.0) as f32 - cx;
            let corner = (dx * dx + dy * dy) * reach;
            let lit = *v * gain * (1.0 - how.vignette * corner);
            let sigma = (how.read * how.read + how.shot * how.shot * lit.clamp(0.0, 2.0)).sqrt();
            *v = lit + sigma * rng.normal();
        }
    }
    out
}

fn finish(toned: &[Plane; 3], how: &Develop, w: usize, h: usize) -> Picture {
    let mut luma = Plane::new(w, h);
    for (i, l) in luma.data.iter_mut().enumerate() {
        *l = 0.299 * toned[0].data[i] + 0.587 * toned[1].data[i] + 0.114 * toned[2].data[i];
    }
    let soft = luma.blurred(how.halo);
    let mut rgb = vec![0u8; w * h * 3];
    for (i, px) in rgb.chunks_exact_mut(3).enumerate() {
        let add = how.sharpen * (luma.data[i] - soft.data[i]);
        for c in 0..3 {
            px[c] = ((toned[c].data[i] + add).clamp(0.0, 1.0) * 255.0 + 0.5) as u8;
        }
    }
    Picture {
        width: w,
        height: h,
        rgb,
    }
}

//! Colours in linear light.

use crate::random::Rng;

/// Linear red, green, blue; 1 is a perfect white under the scene's light.
pub type Rgb = [f32; 3];

/// A linear colour from an sRGB triple as one would read it off a screen (IEC 61966-2-1).
pub fn srgb(hex: u32) -> Rgb {
    [(hex >> 16) & 255, (hex >> 8) & 255, hex & 255].map(|v| decode(v as f32 / 255.0))
}

pub fn decode(v: f32) -> f32 {
    if v <= 0.04045 {
        v / 12.92
    } else {
        ((v + 0.055) / 1.055).powf(2.4)
    }
}

pub fn encode(v: f32) -> f32 {
    if v <= 0.003_130_8 {
        v * 12.92
    } else {
        1.055 * v.powf(1.0 / 2.4) - 0.055
    }
}

pub fn mix(a: Rgb, b: Rgb, t: f32) -> Rgb {
    [
        a[0] + (b[0] - a[0]) * t,
        a[1] + (b[1] - a[1]) * t,
        a[2] + (b[2] - a[2]) * t,
    ]
}

pub fn scaled(a: Rgb, k: f32) -> Rgb {
    [a[0] * k, a[1] * k, a[2] * k]
}

pub fn luma(a: Rgb) -> f32 {
    0.2126 * a[0] + 0.7152 * a[1] + 0.0722 * a[2]
}

/// `a` with every channel moved a little, for things that never come out twice alike.
pub fn varied(a: Rgb, amount: f32, rng: &mut Rng) -> Rgb {
    let k = 1.0 + amount * rng.normal();
    a.map(|v| (v * (k + 0.4 * amount * rng.normal())).clamp(0.004, 0.93))
}

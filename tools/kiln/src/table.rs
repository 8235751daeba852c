//! What the piece lies on. Each split has cloths and colours of its own.

use crate::artwork::Split;
use crate::colour::{Rgb, mix, srgb, varied};
use crate::random::Rng;
use crate::texture::{clouds, grain, specks};

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cloth {
    Wood,
    Weave,
    Plain,
    Checks,
    Felt,
    Granite,
    Planks,
    Stripes,
    Print,
    Marble,
    Herringbone,
    Dots,
}

/// What the piece lies on.
#[derive(Clone, Debug)]
pub struct Table {
    pub cloth: Cloth,
    light: Rgb,
    dark: Rgb,
    turn: (f32, f32),
    place: (f32, f32),
    pitch: f32,
}

impl Table {
    pub fn draw(split: Split, rng: &mut Rng) -> Self {
        let (kinds, colours) = pool(split);
        let cloth = *rng.pick(kinds);
        let (light, dark) = *rng.pick(colours);
        let a = rng.angle();
        Self {
            cloth,
            light: varied(srgb(light), 0.08, rng),
            dark: varied(srgb(dark), 0.08, rng),
            turn: (a.cos(), a.sin()),
            place: (rng.range(0.0, 500.0), rng.range(0.0, 500.0)),
            pitch: rng.range(0.7, 1.5),
        }
    }

    /// Colour at a place of the table (unit: base radius).
    pub fn at(&self, x: f32, y: f32) -> Rgb {
        let (c, s) = self.turn;
        let (u, v) = (x * c - y * s + self.place.0, x * s + y * c + self.place.1);
        let t = match self.cloth {
            Cloth::Planks => self.planks(u, v),
            Cloth::Herringbone => self.herringbone(u, v),
            Cloth::Dots => self.dots(u, v),
            Cloth::Print => self.print(u, v),
            _ => self.even(u, v),
        };
        mix(self.light, self.dark, t.clamp(0.0, 1.0))
    }

    /// Cloths without a layout of their own.
    fn even(&self, u: f32, v: f32) -> f32 {
        let p = self.pitch;
        let (cloud, fine) = (
            |k: f32, l: f32| clouds().sample(u * k, v * l),
            |k: f32, l: f32| grain().sample(u * k, v * l),
        );
        let weave = |k: f32| (u * k).sin() * (v * k).sin();
        match self.cloth {
            Cloth::Wood => 0.5 + 0.3 * cloud(14.0, 240.0 * p) + 0.12 * fine(30.0, 700.0),
            Cloth::Weave => 0.4 + 0.3 * weave(190.0 * p) + 0.15 * fine(200.0, 200.0),
            Cloth::Checks => {
                let q = |a: f32| ((a * 3.2 * p).sin() * 8.0).clamp(-1.0, 1.0) * 0.5 + 0.5;
                (q(u) + q(v)) * 0.5 + 0.08 * weave(260.0)
            }
            Cloth::Felt => 0.5 + 0.22 * fine(160.0, 160.0) + 0.1 * cloud(60.0, 60.0),
            Cloth::Granite => {
                0.4 + 0.35 * fine(110.0 * p, 110.0 * p)
                    + 0.6 * specks().sample(u * 500.0, v * 500.0)
            }
            Cloth::Stripes => {
                ((v * 9.0 * p).sin() * 5.0).clamp(0.0, 1.0) * 0.8 + 0.08 * weave(300.0)
            }
            Cloth::Marble => {
                let vein = 0.9 - 3.2 * cloud(26.0 * p, 26.0 * p).abs();
                vein.max(0.0) * 0.5 + 0.08 * cloud(70.0, 70.0)
            }
            _ => 0.15 + 0.06 * cloud(40.0, 40.0) + 0.04 * fine(300.0, 300.0),
        }
    }

    fn planks(&self, u: f32, v: f32) -> f32 {
        let p = self.pitch;
        let seam = ((v * 1.7 * p).fract().abs() - 0.5).abs();
        let tone = grain().sample((v * 1.7 * p).floor() * 17.3, 3.0) * 0.15;
        let gap = ((0.012 - (0.5 - seam)) * 80.0).clamp(0.0, 1.0);
        0.45 + tone + 0.25 * clouds().sample(u * 20.0, v * 300.0) + gap
    }

    fn herringbone(&self, u: f32, v: f32) -> f32 {
        let p = self.pitch;
        let lane = (u * 5.0 * p).fract().abs();
        let lean = if lane < 0.5 { u } else { -u };
        let slat = ((lean + v) * 11.0 * p).fract().abs();
        let gap = if slat < 0.05 || (lane - 0.5).abs() < 0.015 {
            0.4
        } else {
            0.0
        };
        0.3 + gap + 0.16 * grain().sample(lean * 60.0, v * 400.0)
    }

    fn dots(&self, u: f32, v: f32) -> f32 {
        let p = self.pitch;
        let (a, b) = (
            (u * 7.0 * p).fract().abs() - 0.5,
            (v * 7.0 * p).fract().abs() - 0.5,
        );
        let dot = ((0.28 - (a * a + b * b).sqrt()) * 30.0).clamp(0.0, 1.0);
        0.8 * dot + 0.05 * (u * 280.0).sin() * (v * 280.0).sin()
    }

    /// Printed paper: rows of word-like blots, none of them text.
    fn print(&self, u: f32, v: f32) -> f32 {
        let row = v * 14.0 * self.pitch;
        let inside = (row.fract().abs() - 0.5).abs() < 0.24;
        let word = grain().sample(u * 46.0, row.floor() * 7.0) > -0.5;
        if inside && word && clouds().sample(u * 3.0, 40.0) > -0.9 {
            0.55 + 0.45 * grain().sample(u * 330.0, v * 330.0).clamp(-1.0, 1.0)
        } else {
            0.05
        }
    }
}

/// Cloths of a split.
fn cloths(split: Split) -> &'static [Cloth] {
    use Cloth::{
        Checks, Dots, Felt, Granite, Herringbone, Marble, Plain, Planks, Print, Stripes, Weave,
        Wood,
    };
    match split {
        Split::Fit => &[Wood, Weave, Plain, Checks],
        Split::Tune => &[Felt, Granite, Herringbone, Dots],
        Split::Test => &[Planks, Stripes, Print, Marble],
    }
}

/// Cloths of a split and its pairs of light and dark colours (sRGB).
fn pool(split: Split) -> (&'static [Cloth], &'static [(u32, u32)]) {
    let colours: &[(u32, u32)] = match split {
        Split::Fit => &[
            (0xB98B5E, 0x7A5232),
            (0xD8D4CC, 0xA8A297),
            (0x86603F, 0x543821),
            (0x9AA7B5, 0x5B6A7C),
            (0xE9E6E0, 0xC3574C),
        ],
        Split::Tune => &[
            (0x4E6B55, 0x33493A),
            (0x9B938A, 0x5A544E),
            (0xC8A274, 0x94693F),
            (0xB8B2C4, 0x7F7890),
        ],
        Split::Test => &[
            (0xA67C52, 0x5F4128),
            (0xE3DCCB, 0x6C8298),
            (0xE7E4DC, 0x3C3A38),
            (0xDADADA, 0x8F8C88),
            (0x6D4B3A, 0x3A2820),
        ],
    };
    (cloths(split), colours)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_cloth_serves_two_splits() {
        let splits = [Split::Fit, Split::Tune, Split::Test];
        let all: Vec<Cloth> = splits.iter().flat_map(|s| cloths(*s)).copied().collect();
        for (i, a) in all.iter().enumerate() {
            assert!(!all[i + 1..].contains(a), "{a:?}");
        }
    }
}

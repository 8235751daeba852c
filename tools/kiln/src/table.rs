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
    Tiles,
    Tartan,
    Contours,
    Blots,
    Zigzag,
    Scales,
    Knit,
    Slub,
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
    /// One of a split's tables; of any kind and colour that no other split has where it is `wide`.
    pub fn draw(split: Split, wide: bool, rng: &mut Rng) -> Self {
        let (kinds, colours) = pool(split);
        let (cloth, (light, dark)) = if wide {
            let kinds = [kinds, &WIDE].concat();
            (*rng.pick(&kinds), (any_colour(rng), any_colour(rng)))
        } else {
            (*rng.pick(kinds), *rng.pick(colours))
        };
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
            Cloth::Tiles | Cloth::Zigzag | Cloth::Scales | Cloth::Knit => self.laid(u, v),
            Cloth::Tartan | Cloth::Contours | Cloth::Blots | Cloth::Slub => self.drawn(u, v),
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

    /// Patterns that repeat piece by piece.
    fn laid(&self, u: f32, v: f32) -> f32 {
        let p = self.pitch;
        let wave = |a: f32| ((a - a.floor()) - 0.5).abs() * 2.0;
        let rough = 0.06 * grain().sample(u * 240.0, v * 240.0);
        match self.cloth {
            Cloth::Tiles => {
                let (a, b) = (u * 2.6 * p, v * 2.6 * p);
                let gap = ((wave(a).max(wave(b)) - 0.93) * 40.0).clamp(0.0, 1.0);
                let tone = 0.12 * grain().sample(a.floor() * 31.0, b.floor() * 17.0);
                gap + (0.2 + tone) * (1.0 - gap)
            }
            Cloth::Zigzag => {
                ((wave(v * 8.0 * p + 0.8 * wave(u * 6.0 * p)) - 0.5) * 7.0).clamp(0.0, 1.0)
            }
            Cloth::Scales => {
                let row = (v * 7.0 * p).floor();
                let a = wave(u * 7.0 * p + 0.5 * (row % 2.0)) - 1.0;
                let b = v * 7.0 * p - row;
                (((a * a + b * b).sqrt() - 0.9).abs() * -14.0 + 1.0).clamp(0.0, 1.0)
            }
            _ => {
                let stitch = wave(u * 44.0 * p);
                0.2 + 0.6 * wave(v * 34.0 * p + 0.7 * stitch) * (1.0 - 0.6 * stitch)
            }
        }
        .clamp(0.0, 1.0)
            + rough
    }

    /// Patterns without pieces: crossed bands, lines as on a map, blots, uneven thread.
    fn drawn(&self, u: f32, v: f32) -> f32 {
        let p = self.pitch;
        match self.cloth {
            Cloth::Tartan => {
                let band = |a: f32| {
                    let at = (a * 2.2 * p).fract().abs();
                    let wide = if at < 0.35 { 0.45 } else { 0.0 };
                    let thin = if (at - 0.6).abs() < 0.03 || (at - 0.75).abs() < 0.015 {
                        0.5
                    } else {
                        0.0
                    };
                    wide + thin
                };
                let twill = 0.1 * ((u + v) * 300.0).sin();
                0.5 * (band(u) + band(v)) + twill
            }
            Cloth::Contours => {
                let height = 3.0 * clouds().sample(u * 16.0 * p, v * 16.0 * p);
                1.0 - ((height - height.round()).abs() * 9.0).min(1.0)
            }
            Cloth::Blots => {
                let edge = clouds().sample(u * 34.0 * p, v * 34.0 * p) - 0.6;
                (edge * 9.0).clamp(0.0, 1.0) * (0.8 + 0.2 * grain().sample(u * 90.0, v * 90.0))
            }
            _ => {
                let thread = |a: f32, b: f32| clouds().sample(a * 8.0, b * 200.0 * p).max(0.0);
                0.25 + 0.3 * thread(u, v) + 0.3 * thread(v, u)
            }
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

/// Cloths that only wide lots have beside their split's own.
const WIDE: [Cloth; 8] = [
    Cloth::Tiles,
    Cloth::Tartan,
    Cloth::Contours,
    Cloth::Blots,
    Cloth::Zigzag,
    Cloth::Scales,
    Cloth::Knit,
    Cloth::Slub,
];

/// Any colour, mostly a dull one (sRGB).
fn any_colour(rng: &mut Rng) -> u32 {
    let (grey, chroma) = (rng.range(25.0, 235.0), rng.unit().powi(2) * 90.0);
    let channel = |rng: &mut Rng| (grey + rng.range(-chroma, chroma)).clamp(8.0, 247.0) as u32;
    (channel(rng) << 16) | (channel(rng) << 8) | channel(rng)
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
        let all = [all, WIDE.to_vec()].concat();
        for (i, a) in all.iter().enumerate() {
            assert!(!all[i + 1..].contains(a), "{a:?}");
        }
    }
}

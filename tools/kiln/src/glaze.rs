//! What the base is covered with, what inks stand on it, and what it lies on.

use crate::artwork::Split;
use crate::colour::{Rgb, mix, scaled, srgb, varied};
use crate::random::Rng;
use crate::texture::{clouds, crazing, grain, specks};

#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Tone {
    White,
    Cream,
    Ivory,
    Celadon,
    Blue,
    Brown,
    Black,
    Stoneware,
}

impl Tone {
    pub const LIGHT: [(Self, f32); 5] = [
        (Self::White, 5.0),
        (Self::Cream, 2.0),
        (Self::Ivory, 2.0),
        (Self::Celadon, 0.7),
        (Self::Stoneware, 0.8),
    ];
    pub const DARK: [(Self, f32); 3] = [(Self::Blue, 1.0), (Self::Brown, 1.0), (Self::Black, 1.0)];

    fn colours(self, split: Split) -> u32 {
        let i = split as usize;
        match self {
            Self::White => [0xF4F4F1, 0xF0F3F5, 0xF6F3EF][i],
            Self::Cream => [0xF0E6CD, 0xEFE2C2, 0xF3EAD6][i],
            Self::Ivory => [0xEFEADC, 0xEAE5D3, 0xF1EBDD][i],
            Self::Celadon => [0xC3D3C4, 0xB9CFC9, 0xCBD6BC][i],
            Self::Blue => [0x2C4A78, 0x3A5A84, 0x25406B][i],
            Self::Brown => [0x5A3723, 0x4A2E20, 0x66412A][i],
            Self::Black => [0x232324, 0x1D1F22, 0x2A2624][i],
            Self::Stoneware => [0xCDBFA6, 0xC4B8A6, 0xD2C6B4][i],
        }
    }
}

/// A glaze as it came out of one firing.
#[derive(Clone, Debug)]
pub struct Glaze {
    pub tone: Tone,
    pub colour: Rgb,
    mottle: f32,
    speckle: f32,
    dust: f32,
    craze: f32,
    craze_colour: Rgb,
    pub gloss: f32,
    pub wobble: f32,
    pub unglazed: Rgb,
    place: (f32, f32),
    fineness: f32,
}

impl Glaze {
    pub fn draw(tone: Tone, split: Split, rng: &mut Rng) -> Self {
        let stone = tone == Tone::Stoneware;
        let crazed = rng.chance(0.22);
        Self {
            tone,
            colour: varied(srgb(tone.colours(split)), 0.03, rng),
            mottle: if stone { 0.05 } else { rng.range(0.004, 0.02) },
            speckle: if stone { rng.range(0.4, 0.9) } else { 0.0 },
            dust: if rng.chance(0.5) {
                rng.range(0.1, 0.5)
            } else {
                0.0
            },
            craze: if crazed { rng.range(0.12, 0.5) } else { 0.0 },
            craze_colour: srgb(*rng.pick(&[0x8A6E50, 0x7A7468, 0x5E5148])),
            gloss: if stone {
                rng.range(0.15, 0.6)
            } else {
                rng.range(0.5, 1.0)
            },
            wobble: rng.range(0.002, 0.014),
            unglazed: varied(
                srgb(*rng.pick(&[0xD9CDBB, 0xE6E1D8, 0xC4AE94, 0xB99E86])),
                0.05,
                rng,
            ),
            place: (rng.range(0.0, 1024.0), rng.range(0.0, 1024.0)),
            fineness: rng.range(0.7, 1.4),
        }
    }

    /// Colour at a place of the base (unit: base radius), before ink and light.
    pub fn at(&self, x: f32, y: f32) -> Rgb {
        let (ox, oy) = self.place;
        let k = self.fineness;
        let cloud = clouds().sample(x * 90.0 + ox, y * 90.0 + oy);
        let mut c = scaled(self.colour, 1.0 + self.mottle * cloud);
        if self.craze > 0.0 {
            let line = crazing().sample(x * 620.0 * k + ox, y * 620.0 * k + oy);
            if line > 0.0 {
                c = mix(c, self.craze_colour, line * self.craze);
            }
        }
        if self.speckle > 0.0 || self.dust > 0.0 {
            let s = specks().sample(x * 700.0 * k + oy, y * 700.0 * k + ox);
            if s > 0.0 && (self.speckle > 0.0 || cloud > 1.1) {
                c = mix(c, [0.09, 0.065, 0.05], s * self.speckle.max(self.dust));
            }
        }
        c
    }

    /// Colour of the bare foot ring.
    pub fn bare(&self, x: f32, y: f32) -> Rgb {
        let (ox, oy) = self.place;
        let g = grain().sample(x * 420.0 + ox, y * 420.0 + oy);
        let stain = clouds().sample(x * 60.0 + oy, y * 60.0 + ox);
        scaled(self.unglazed, 1.0 + 0.07 * g + 0.1 * stain)
    }

    /// Unevenness of the surface as a slope.
    pub fn slope(&self, x: f32, y: f32) -> (f32, f32) {
        let (ox, oy) = self.place;
        (
            self.wobble * clouds().sample(x * 50.0 + ox, y * 50.0 + oy),
            self.wobble * clouds().sample(x * 50.0 + oy, y * 50.0 + ox),
        )
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum InkTone {
    Green,
    Black,
    Brown,
    Blue,
    Red,
    Gold,
    Grey,
    Cream,
    None,
}

impl InkTone {
    pub fn colour(self, rng: &mut Rng) -> Rgb {
        let base = match self {
            Self::Green => 0x2F6B4A,
            Self::Black => 0x26282A,
            Self::Brown => 0x6B4630,
            Self::Blue => 0x2B4C8C,
            Self::Red => 0xA63A32,
            Self::Gold => 0xC29A52,
            Self::Grey => 0x7D8284,
            Self::Cream | Self::None => 0xEDE6D2,
        };
        varied(srgb(base), 0.14, rng)
    }

    pub fn word(self) -> &'static str {
        match self {
            Self::Green => "green",
            Self::Black => "black",
            Self::Brown => "brown",
            Self::Blue => "blue",
            Self::Red => "red",
            Self::Gold => "gold",
            Self::Grey => "grey",
            Self::Cream => "cream",
            Self::None => "none",
        }
    }

    /// An ink for light ware.
    pub fn on_light(rng: &mut Rng) -> Self {
        let inks = [
            (Self::Green, 2.2),
            (Self::Black, 2.2),
            (Self::Brown, 1.4),
            (Self::Blue, 1.8),
            (Self::Red, 0.9),
            (Self::Gold, 0.7),
            (Self::Grey, 0.9),
        ];
        inks[rng.weighted(&inks.map(|i| i.1))].0
    }

    pub fn on_dark(rng: &mut Rng) -> Self {
        if rng.chance(0.3) {
            Self::Gold
        } else {
            Self::Cream
        }
    }
}

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
        use Cloth::{Checks, Felt, Granite, Marble, Plain, Planks, Print, Stripes, Weave, Wood};
        let (kinds, colours): (&[Cloth], &[(u32, u32)]) = match split {
            Split::Fit => (
                &[Wood, Weave, Plain, Checks],
                &[
                    (0xB98B5E, 0x7A5232),
                    (0xD8D4CC, 0xA8A297),
                    (0x86603F, 0x543821),
                    (0x9AA7B5, 0x5B6A7C),
                    (0xE9E6E0, 0xC3574C),
                ],
            ),
            Split::Tune => (
                &[Felt, Granite, Wood, Weave],
                &[
                    (0x4E6B55, 0x33493A),
                    (0x9B938A, 0x5A544E),
                    (0xC8A274, 0x94693F),
                    (0xB8B2C4, 0x7F7890),
                ],
            ),
            Split::Test => (
                &[Planks, Stripes, Print, Marble, Plain],
                &[
                    (0xA67C52, 0x5F4128),
                    (0xE3DCCB, 0x6C8298),
                    (0xE7E4DC, 0x3C3A38),
                    (0xDADADA, 0x8F8C88),
                    (0x6D4B3A, 0x3A2820),
                ],
            ),
        };
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
        let p = self.pitch;
        let t = match self.cloth {
            Cloth::Wood => {
                0.5 + 0.3 * clouds().sample(u * 14.0, v * 240.0 * p)
                    + 0.12 * grain().sample(u * 30.0, v * 700.0)
            }
            Cloth::Planks => {
                let seam = ((v * 1.7 * p).fract().abs() - 0.5).abs();
                let tone = grain().sample((v * 1.7 * p).floor() * 17.3, 3.0) * 0.15;
                let gap = ((0.012 - (0.5 - seam)) * 80.0).clamp(0.0, 1.0);
                0.45 + tone + 0.25 * clouds().sample(u * 20.0, v * 300.0) + gap
            }
            Cloth::Weave => {
                0.4 + 0.3 * (u * 190.0 * p).sin() * (v * 190.0 * p).sin()
                    + 0.15 * grain().sample(u * 200.0, v * 200.0)
            }
            Cloth::Plain => {
                0.15 + 0.06 * clouds().sample(u * 40.0, v * 40.0)
                    + 0.04 * grain().sample(u * 300.0, v * 300.0)
            }
            Cloth::Checks => {
                let q = |a: f32| ((a * 3.2 * p).sin() * 8.0).clamp(-1.0, 1.0) * 0.5 + 0.5;
                (q(u) + q(v)) * 0.5 + 0.08 * (u * 260.0).sin() * (v * 260.0).sin()
            }
            Cloth::Felt => {
                0.5 + 0.22 * grain().sample(u * 160.0, v * 160.0)
                    + 0.1 * clouds().sample(u * 60.0, v * 60.0)
            }
            Cloth::Granite => {
                0.4 + 0.35 * grain().sample(u * 110.0 * p, v * 110.0 * p)
                    + 0.6 * specks().sample(u * 500.0, v * 500.0)
            }
            Cloth::Stripes => {
                ((v * 9.0 * p).sin() * 5.0).clamp(0.0, 1.0) * 0.8
                    + 0.08 * (u * 300.0).sin() * (v * 300.0).sin()
            }
            Cloth::Print => self.print(u, v),
            Cloth::Marble => {
                let a = clouds().sample(u * 26.0 * p, v * 26.0 * p);
                (0.9 - 3.2 * a.abs()).max(0.0) * 0.5 + 0.08 * clouds().sample(u * 70.0, v * 70.0)
            }
        };
        mix(self.light, self.dark, t.clamp(0.0, 1.0))
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

//! What the base is covered with and what inks stand on it.

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

/// How far a wide lot's glazes stray from their split's colours (relative deviation).
const WIDE_SPREAD: f32 = 0.15;

/// Share of pieces whose glaze is crazed.
const CRAZED: f32 = 0.22;

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
    /// A glaze of a split's colours; where it is `wide`, further from them.
    pub fn draw(tone: Tone, split: Split, wide: bool, rng: &mut Rng) -> Self {
        let spread = if wide { WIDE_SPREAD } else { 0.03 };
        let stone = tone == Tone::Stoneware;
        let crazed = rng.chance(CRAZED);
        Self {
            tone,
            colour: varied(srgb(tone.colours(split)), spread, rng),
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

    /// The same glaze on another piece of one firing: its specks and crazing lie elsewhere, and not every piece crazes.
    pub fn on_another(&self, rng: &mut Rng) -> Self {
        let crazed = rng.chance(CRAZED);
        Self {
            dust: if rng.chance(0.5) {
                rng.range(0.1, 0.5)
            } else {
                0.0
            },
            craze: if crazed { rng.range(0.12, 0.5) } else { 0.0 },
            place: (rng.range(0.0, 1024.0), rng.range(0.0, 1024.0)),
            ..self.clone()
        }
    }

    /// Colour at a place of the base (unit: base radius), before ink and light.
    pub fn at(&self, x: f32, y: f32) -> Rgb {
        let (ox, oy) = self.place;
        let k = self.fineness;
        let cloud = clouds().sample(x * 90.0 + ox, y * 90.0 + oy);
        let mut c = scaled(self.colour, 1.0 + self.mottle * cloud);
        if self.craze > 0.0 {
            let line = crazing().sample(x * 1050.0 * k + ox, y * 1050.0 * k + oy);
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

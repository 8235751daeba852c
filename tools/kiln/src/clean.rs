//! The flat scan of a mark that a library holds: another strike, another ink, even light.

use crate::artwork::Artwork;
use crate::colour::{Rgb, encode, mix, srgb, varied};
use crate::deciding::deciding_left;
use crate::family::Family;
use crate::glaze::InkTone;
use crate::random::Rng;
use crate::shoot::{Posed, pose_mark};
use crate::strike::{Loss, Wear};
use crate::texture::clouds;
use image::RgbImage;

/// A scan of a mark, and the corners of its code in it where it carries one.
pub struct Scan {
    pub image: RgbImage,
    pub code: Option<[[f32; 2]; 4]>,
    /// Share of the ink that the strike left of what other forms of the family have otherwise.
    pub deciding_left: f32,
}

impl Scan {
    fn new(image: RgbImage, posed: &Posed) -> Self {
        let code = posed.drawn.code.as_ref().map(|b| {
            let t = posed.to_map;
            let (x, y) = (|v: f32| t.sx * v + t.tx, |v: f32| t.sy * v + t.ty);
            let (left, right) = (x(b.left), x(b.right));
            let (top, bottom) = (y(b.top), y(b.bottom));
            [[left, top], [right, top], [right, bottom], [left, bottom]]
        });
        Self {
            image,
            code,
            deciding_left: deciding_left(posed),
        }
    }
}

/// A scan of `family`'s mark with a margin, on light paper or glaze.
pub fn scan(artwork: &Artwork, family: &Family, rng: &mut Rng) -> Scan {
    let wear = Wear {
        left: 1.0,
        gain: rng.range(-0.06, 0.22),
        fill: 0.0,
        double: None,
        smear: 0.0,
        smear_angle: 0.0,
        speckle: 0.0,
        loss: Loss::Faded,
    };
    let code = family.design.code_text(rng);
    let posed = pose_mark(artwork, family, code, rng.range(520.0, 760.0), &wear, rng);
    let ink = match rng.below(3) {
        0 => InkTone::Black,
        1 => InkTone::Grey,
        _ => InkTone::on_light(rng),
    };
    let ink = if ink == InkTone::Gold {
        InkTone::Brown
    } else {
        ink
    };
    let ground = varied(
        srgb(*rng.pick(&[0xFBFAF6, 0xF5F1E6, 0xF1F3F4, 0xEFE8D8])),
        0.01,
        rng,
    );
    let colour = ink.colour(rng);
    Scan::new(print(&posed, ground, colour, rng), &posed)
}

fn print(posed: &Posed, ground: Rgb, ink: Rgb, rng: &mut Rng) -> RgbImage {
    let soft = posed.struck.blurred(rng.range(0.5, 1.1));
    let (ox, oy) = (rng.range(0.0, 256.0), rng.range(0.0, 256.0));
    let mut out = RgbImage::new(soft.width as u32, soft.height as u32);
    for (i, p) in out.pixels_mut().enumerate() {
        let (x, y) = ((i % soft.width) as f32, (i / soft.width) as f32);
        let tone = 1.0 + 0.008 * clouds().sample(x * 0.2 + ox, y * 0.2 + oy);
        let c = mix(ground, ink, soft.data[i] * 0.95);
        p.0 =
            c.map(|v| ((encode((v * tone).clamp(0.0, 1.0)) + 0.004 * rng.normal()) * 255.0) as u8);
    }
    out
}

/// Levels of ink in a shipped scan: few enough for a small file, too many to see.
const LEVELS: f32 = 20.0;

/// A small scan in few colours, `pixels` on its long side, without grain.
pub fn flat(artwork: &Artwork, family: &Family, pixels: f32, rng: &mut Rng) -> Scan {
    let wear = Wear {
        left: 1.0,
        gain: rng.range(-0.02, 0.12),
        fill: 0.0,
        double: None,
        smear: 0.0,
        smear_angle: 0.0,
        speckle: 0.0,
        loss: Loss::Faded,
    };
    let code = family.design.code_text(rng);
    let posed = pose_mark(artwork, family, code, pixels / 1.18, &wear, rng);
    let soft = posed.struck.blurred(0.6);
    let (ground, ink) = match family.ink {
        InkTone::None => (srgb(0xE9E4DA), srgb(0xA79F92)),
        InkTone::Cream => (srgb(0x2B3A55), srgb(0xEDE6D2)),
        tone => (srgb(0xF7F4EC), tone.colour(rng)),
    };
    let image = RgbImage::from_fn(soft.width as u32, soft.height as u32, |x, y| {
        let k = (soft.at(x as usize, y as usize) * LEVELS).round() / LEVELS;
        image::Rgb(mix(ground, ink, k).map(|v| (encode(v.clamp(0.0, 1.0)) * 255.0 + 0.5) as u8))
    });
    Scan::new(image, &posed)
}

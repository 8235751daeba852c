//! The pictures: inks as tints that differ in lightness, so that they can be told apart without colour.

use image::{Rgb, RgbImage};

use super::ink::LegibleInk;
use super::words::Tint;
use crate::raster::Plane;

/// Paper, and what is not known: under glare, or outside the picture.
pub(super) const PAPER: [u8; 3] = [255, 255, 255];
const UNKNOWN: [u8; 3] = [226, 224, 219];
/// The photo's ink (L* 17) and the exemplar's (L* 79): as greys they are far apart.
pub(super) const PHOTO_INK: [u8; 3] = [16, 42, 84];
pub(super) const EXEMPLAR_INK: [u8; 3] = [246, 183, 96];
/// Hatching of what the photo lacks, and frames around it (L* 45); its period in pixels.
pub(super) const LACKING: [u8; 3] = [168, 92, 0];
const HATCH: u32 = 7;
/// What both show (a mid grey), and what cannot be told (a pale one).
const IN_BOTH: [u8; 3] = [168, 172, 178];
const NOT_TOLD: [u8; 3] = [236, 222, 200];

/// The colour of a tint at a pixel, on white paper.
pub(super) fn tinted(tint: Tint, x: u32, y: u32) -> [u8; 3] {
    match tint {
        Tint::OnlyPhoto => PHOTO_INK,
        Tint::OnlyLibrary if (x + y) % HATCH < HATCH / 2 => LACKING,
        Tint::OnlyLibrary => EXEMPLAR_INK,
        Tint::Both => IN_BOTH,
        Tint::NotTold => NOT_TOLD,
    }
}

/// A square of a tint.
pub(super) fn swatch(tint: Tint, side: u32) -> RgbImage {
    RgbImage::from_fn(side, side, |x, y| Rgb(tinted(tint, x, y)))
}

/// A straightened picture on grey where it ends.
pub(super) fn on_paper(rgb: &RgbImage, seen: &Plane) -> RgbImage {
    let mut out = rgb.clone();
    for (p, s) in out.pixels_mut().zip(seen.data()) {
        if *s < 0.5 {
            *p = Rgb(UNKNOWN);
        }
    }
    out
}

/// Dark ink on white paper.
pub(super) fn ink(ink: &LegibleInk) -> RgbImage {
    each(ink, |at| {
        over(paper_at(&ink.valid, at), PHOTO_INK, ink.shade.data()[at])
    })
}

/// The exemplar's ink, pale, and the photo's, dark, over it as glazes of paint.
pub(super) fn ghost(photo: &LegibleInk, exemplar: &LegibleInk) -> RgbImage {
    each(photo, |at| {
        let below = over(
            paper_at(&photo.valid, at),
            EXEMPLAR_INK,
            exemplar.shade.data()[at],
        );
        over(below, PHOTO_INK, photo.shade.data()[at])
    })
}

pub(super) fn each(like: &LegibleInk, colour: impl Fn(usize) -> [u8; 3]) -> RgbImage {
    let (w, h) = (like.valid.width(), like.valid.height());
    RgbImage::from_fn(w as u32, h as u32, |x, y| {
        Rgb(colour(y as usize * w + x as usize))
    })
}

pub(super) fn paper_at(valid: &Plane, at: usize) -> [u8; 3] {
    match valid.data()[at] < 0.5 {
        true => UNKNOWN,
        false => PAPER,
    }
}

/// Paint of the given opacity, 0 to 1, over a ground.
pub(super) fn over(ground: [u8; 3], paint: [u8; 3], opacity: f32) -> [u8; 3] {
    std::array::from_fn(|c| {
        let (g, p) = (f32::from(ground[c]), f32::from(paint[c]));
        (g + (p - g) * opacity.clamp(0.0, 1.0)).round() as u8
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ink::colour::lab;

    #[test]
    fn the_tints_differ_in_lightness() {
        let lightness = |rgb| lab(rgb)[0];
        assert!(lightness(PHOTO_INK) < 25.0);
        assert!((70.0..85.0).contains(&lightness(EXEMPLAR_INK)));
        assert!(lightness(UNKNOWN) > 85.0);
    }
}

//! The photo at working size: what the base and the search for marks are studied on.

use fast_image_resize::images::Image;
use fast_image_resize::{FilterType, PixelType, ResizeAlg, ResizeOptions, Resizer};
use image::RgbImage;

use crate::ink::{colour, noise_of, quiet, stand_out};
use crate::raster::Plane;

/// Longer side of the view, in pixels. A mark of 5 % of the width still spans 60 of them.
const VIEW_SIDE: u32 = 1200;
/// The search map is this many times smaller than the view.
pub const SEARCH_STEP: usize = 2;
/// The local ground of the search, as a share of the shorter side: narrower than for one mark, so
/// that shading across the base does not count as ink.
const SEARCH_GROUND: f32 = 0.045;

/// Ink of this many noise units counts as strong on the view.
const FULL_INK: f32 = 14.0;

/// The shrunk photo and its ink in noise units.
#[derive(Debug, Clone)]
pub struct View {
    pub rgb: RgbImage,
    /// Signed lightness against the ground at the view's own size, -1 to 1, compressed so that
    /// weak strokes keep their shape.
    pub tone: Plane,
    /// L*, a*, b* at search size (`SEARCH_STEP` times smaller than `rgb`).
    pub lab: [Plane; 3],
    /// Difference from the local ground in noise units, at search size.
    pub contrast: Plane,
    /// Standard deviation of the noise of L*, at search size.
    pub noise: f32,
    /// Photo pixels per view pixel.
    pub scale: f64,
}

impl View {
    /// Shrinks a photo (never enlarges) and maps its ink.
    pub fn of(photo: &RgbImage) -> Self {
        let (w, h) = photo.dimensions();
        let scale = (f64::from(w.max(h)) / f64::from(VIEW_SIDE)).max(1.0);
        let size = |v: u32| ((f64::from(v) / scale).round() as u32).max(1);
        let rgb = if scale > 1.0 {
            shrink(photo, size(w), size(h))
        } else {
            photo.clone()
        };
        let raw = colour::lab_planes(&rgb);
        let seen = Plane::filled(raw[0].width(), raw[0].height(), 1.0);
        let as_taken = noise_of(&raw, &seen, 1);
        let (fine_lab, fine_noise) = quiet(raw, &seen, 1);
        let standing = stand_out(&fine_lab, &seen, &fine_noise, SEARCH_GROUND);
        let tone = standing.tone.map(|t| (t / FULL_INK).tanh());
        // What was smoothed at the view's size has grain as wide as the smoothing.
        let grain = if as_taken[0] > fine_noise[0] * 1.05 {
            2
        } else {
            1
        };
        let small = fine_lab.map(|p| p.shrink(SEARCH_STEP));
        let seen = Plane::filled(small[0].width(), small[0].height(), 1.0);
        let (lab, noise) = quiet(small, &seen, grain);
        let contrast = stand_out(&lab, &seen, &noise, SEARCH_GROUND).difference;
        Self {
            rgb,
            tone,
            lab,
            contrast,
            noise: noise[0],
            scale,
        }
    }
}

/// Area-averaging resize.
fn shrink(rgb: &RgbImage, width: u32, height: u32) -> RgbImage {
    let source = Image::from_vec_u8(
        rgb.width(),
        rgb.height(),
        rgb.as_raw().clone(),
        PixelType::U8x3,
    );
    let mut target = Image::new(width, height, PixelType::U8x3);
    let options = ResizeOptions::new().resize_alg(ResizeAlg::Convolution(FilterType::Hamming));
    let done = source.is_ok_and(|s| Resizer::new().resize(&s, &mut target, &options).is_ok());
    // Both calls fail only on sizes that disagree with their buffers, which cannot happen here.
    let raw = if done {
        target.into_vec()
    } else {
        vec![0; (width * height * 3) as usize]
    };
    RgbImage::from_raw(width, height, raw).unwrap_or_else(|| RgbImage::new(width, height))
}

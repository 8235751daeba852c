//! The photo at working size: what the base and the search for marks are studied on.

use fast_image_resize::images::Image;
use fast_image_resize::{FilterType, PixelType, ResizeAlg, ResizeOptions, Resizer};
use image::RgbImage;

use crate::ink::{colour, difference_from_ground_at, noise_of};
use crate::raster::Plane;

/// Longer side of the view, in pixels. A mark of 5 % of the width still spans 60 of them.
const VIEW_SIDE: u32 = 1200;
/// The search map is this many times smaller than the view.
pub const SEARCH_STEP: usize = 2;
/// The local ground of the search, as a share of the shorter side: narrower than for one mark, so
/// that shading across the base does not count as ink.
const SEARCH_GROUND: f32 = 0.045;

/// The shrunk photo and its ink in noise units.
#[derive(Debug, Clone)]
pub struct View {
    pub rgb: RgbImage,
    /// L*, a*, b* at search size (`SEARCH_STEP` times smaller than `rgb`).
    pub lab: [Plane; 3],
    /// Difference from the local ground in noise units, at search size.
    pub contrast: Plane,
    /// One noise unit in CIELAB units, at search size.
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
        let small = shrink(
            &rgb,
            (rgb.width() / SEARCH_STEP as u32).max(1),
            (rgb.height() / SEARCH_STEP as u32).max(1),
        );
        let lab = colour::lab_planes(&small);
        let seen = Plane::filled(lab[0].width(), lab[0].height(), 1.0);
        let noise = noise_of(&lab[0], &seen);
        let mut contrast = difference_from_ground_at(&lab, &seen, SEARCH_GROUND);
        contrast.data_mut().iter_mut().for_each(|d| *d /= noise);
        Self {
            rgb,
            lab,
            contrast,
            noise,
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

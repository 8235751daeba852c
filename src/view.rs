//! The photo at working size: what the base and the search for marks are studied on.

use fast_image_resize::images::{Image, ImageRef};
use fast_image_resize::{FilterType, PixelType, ResizeAlg, ResizeOptions, Resizer};
use image::RgbImage;

use crate::ink::overview::{self, Overview};
use crate::ink::{Quiet, colour, quiet, stand_out};
use crate::raster::Plane;

/// Longer side of the view, in pixels. A mark of 5 % of the width still spans 60 of them.
const VIEW_SIDE: u32 = 1200;
/// The search map is this many times smaller than the view.
pub const SEARCH_STEP: usize = 2;
/// The local ground of the search, as a share of the shorter side: narrower than for one mark, so
/// that shading across the base does not count as ink.
const SEARCH_GROUND: f32 = 0.045;

/// A photo shrunk to working sizes.
#[derive(Debug, Clone)]
pub struct Shrunk {
    /// The longer side has at most `VIEW_SIDE` pixels.
    pub rgb: RgbImage,
    /// The same at half and at a quarter of the size.
    pub coarser: [RgbImage; 2],
    /// The same for the overview.
    pub small: RgbImage,
    /// Photo pixels per pixel of `rgb`.
    pub scale: f64,
}

impl Shrunk {
    /// Shrinks a photo; never enlarges.
    pub fn of(photo: &RgbImage) -> Self {
        let to_fit = |picture: &RgbImage, side: u32| -> RgbImage {
            let (w, h) = picture.dimensions();
            let k = (f64::from(side) / f64::from(w.max(h))).min(1.0);
            let size = |v: u32| ((f64::from(v) * k).round() as u32).max(1);
            shrink(picture, size(w), size(h))
        };
        let (w, h) = photo.dimensions();
        let rgb = to_fit(photo, VIEW_SIDE);
        let (vw, vh) = rgb.dimensions();
        Self {
            coarser: [2, 4].map(|k| shrink(&rgb, (vw / k).max(1), (vh / k).max(1))),
            small: to_fit(&rgb, overview::SIDE),
            scale: (f64::from(w.max(h)) / f64::from(VIEW_SIDE)).max(1.0),
            rgb,
        }
    }
}

/// The photo at working size, and what stands out in it.
#[derive(Debug, Clone)]
pub struct View {
    pub rgb: RgbImage,
    /// The photo at half and at a quarter of the view's size.
    pub coarser: [RgbImage; 2],
    /// What of the whole photo stands out.
    pub overview: Overview,
    /// L*, a*, b* at search size (`SEARCH_STEP` times smaller than `rgb`).
    pub lab: [Plane; 3],
    /// Sigma by which L* was smoothed against grain, in pixels of search size.
    pub smoothing: f32,
    /// Difference from the local ground in noise units, at search size.
    pub contrast: Plane,
    /// Photo pixels per view pixel.
    pub scale: f64,
}

impl View {
    /// Shrinks a photo and maps its ink.
    pub fn of(photo: &RgbImage) -> Self {
        Self::map(Shrunk::of(photo))
    }

    /// Maps the ink of a shrunk photo.
    pub fn map(shrunk: Shrunk) -> Self {
        let raw = colour::lab_planes(&shrunk.coarser[0]);
        let seen = Plane::filled(raw[0].width(), raw[0].height(), 1.0);
        let Quiet {
            lab,
            noise,
            smoothing,
        } = quiet(raw, &seen, 1);
        let contrast = stand_out(&lab, &seen, &noise, SEARCH_GROUND).difference;
        Self {
            overview: Overview::of(&shrunk.small),
            rgb: shrunk.rgb,
            coarser: shrunk.coarser,
            lab,
            smoothing,
            contrast,
            scale: shrunk.scale,
        }
    }
}

/// Area-averaging resize.
pub(crate) fn shrink(rgb: &RgbImage, width: u32, height: u32) -> RgbImage {
    if rgb.dimensions() == (width, height) {
        return rgb.clone();
    }
    let source = ImageRef::new(rgb.width(), rgb.height(), rgb.as_raw(), PixelType::U8x3);
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

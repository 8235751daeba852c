//! The photo's mark and an exemplar, warped into one frame so that the eye can compare them.
//!
//! The frame is the exemplar's mark box, upright as read, with a margin. The exemplar's corners
//! and the candidate's corners (the same box carried into the photo) both go to that box.

use image::codecs::jpeg::JpegEncoder;
use image::{Rgb, RgbImage, imageops};

use crate::geometry::{Frame, Homography, Photo, Point, Quad};

/// Pixels of the exemplar's own photo.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ExemplarPhoto {}
impl Frame for ExemplarPhoto {}

/// Pixels of the picture that goes into the report.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sheet {}
impl Frame for Sheet {}

/// Pixels of a source picture after it was cut and shrunk.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Source {}
impl Frame for Source {}

/// Longer side of a picture in the report, in pixels: 60 mm on paper at 220 dots per inch, where
/// letters of a mark are still sharp, and about 35 kB as JPEG.
pub const FRAME_PX: f64 = 520.0;

/// Margin around the mark's box as a share of its longer side: enough to see what surrounds it,
/// and to hold a code line below a mark.
pub const MARGIN: f64 = 0.14;

/// A source larger than this many times the wanted size is shrunk before it is sampled; bilinear
/// sampling alone would skip pixels beyond 2.
const SHRINK_ABOVE: f64 = 1.5;

/// What lies outside a source picture: a quiet mid grey on screen and paper.
const OUTSIDE: Rgb<u8> = Rgb([206, 205, 202]);

/// Size of the frame and where the mark's box lies in it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SharedFrame {
    pub width: u32,
    pub height: u32,
    pub mark: Quad<Sheet>,
}

impl SharedFrame {
    /// The frame of a mark box with the proportions of `quad`. `None` where it has no area.
    pub fn of<F: Frame>(quad: &Quad<F>) -> Option<Self> {
        Self::sized(quad, FRAME_PX)
    }

    /// The same with another longer side, margins counted in.
    pub fn sized<F: Frame>(quad: &Quad<F>, longest: f64) -> Option<Self> {
        let [a, b, c, d] = quad.0;
        let across = (a.distance(b) + d.distance(c)) / 2.0;
        let down = (a.distance(d) + b.distance(c)) / 2.0;
        let longer = across.max(down);
        if !(longer.is_finite() && across > 0.0 && down > 0.0) {
            return None;
        }
        let scale = longest / (longer * (1.0 + 2.0 * MARGIN));
        let margin = longer * MARGIN * scale;
        let (w, h) = (across * scale, down * scale);
        Some(Self {
            width: (w + 2.0 * margin).round().max(1.0) as u32,
            height: (h + 2.0 * margin).round().max(1.0) as u32,
            mark: Quad::upright(margin, margin, margin + w, margin + h),
        })
    }
}

/// The exemplar in its frame. `None` where the quad is degenerate.
pub fn exemplar(pixels: &RgbImage, quad: &Quad<ExemplarPhoto>) -> Option<(SharedFrame, RgbImage)> {
    let frame = SharedFrame::of(quad)?;
    let to_source = Homography::between(&frame.mark, quad)?;
    Some((frame, sample(pixels, &to_source, frame)?))
}

/// The photo's mark in the same frame, from a crop whose corners in the photo are `crop_quad`.
/// `mark` is the candidate's quad. `None` where a quad is degenerate.
pub fn photo_mark(
    crop: &RgbImage,
    crop_quad: &Quad<Photo>,
    mark: &Quad<Photo>,
    frame: SharedFrame,
) -> Option<RgbImage> {
    let (w, h) = crop.dimensions();
    let corners = Quad::<Crop>::upright(0.0, 0.0, f64::from(w), f64::from(h));
    let to_crop =
        Homography::between(&frame.mark, mark)?.then(&Homography::between(crop_quad, &corners)?);
    sample(crop, &to_crop, frame)
}

/// Pixels of a kept crop.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Crop {}
impl Frame for Crop {}

/// The picture as JPEG. `None` where it is larger than JPEG allows (65,535 px a side).
pub fn jpeg(pixels: &RgbImage, quality: u8) -> Option<Vec<u8>> {
    let mut bytes = Vec::new();
    JpegEncoder::new_with_quality(&mut bytes, quality)
        .encode_image(pixels)
        .ok()?;
    Some(bytes)
}

/// Shrinks a picture so that its longer side is at most `longest`.
pub fn small(pixels: &RgbImage, longest: u32) -> RgbImage {
    let (w, h) = pixels.dimensions();
    let longer = w.max(h);
    if longer <= longest {
        return pixels.clone();
    }
    let fit = |side: u32| {
        let fitted = u64::from(side) * u64::from(longest) / u64::from(longer);
        u32::try_from(fitted).unwrap_or(longest).max(1)
    };
    imageops::thumbnail(pixels, fit(w), fit(h))
}

/// Fills the frame with what `to_source` finds in the picture.
fn sample<S: Frame>(
    pixels: &RgbImage,
    to_source: &Homography<Sheet, S>,
    frame: SharedFrame,
) -> Option<RgbImage> {
    let whole = Quad::upright(0.0, 0.0, f64::from(frame.width), f64::from(frame.height));
    let needed = to_source.apply_quad(&whole)?;
    let (source, from_pixels) = cut_and_shrunk(pixels, &needed, frame)?;
    let map = to_source.then(&from_pixels);
    Some(RgbImage::from_fn(frame.width, frame.height, |x, y| {
        map.apply(Point::new(f64::from(x) + 0.5, f64::from(y) + 0.5))
            .map_or(OUTSIDE, |p| bilinear(&source, p))
    }))
}

/// The part of the picture under `needed`, no larger than sampling wants it, and the map to it.
fn cut_and_shrunk<S: Frame>(
    pixels: &RgbImage,
    needed: &Quad<S>,
    frame: SharedFrame,
) -> Option<(RgbImage, Homography<S, Source>)> {
    let (w, h) = pixels.dimensions();
    let (x0, y0, x1, y1) = needed.bounds();
    let clip = |v: f64, most: u32| v.clamp(0.0, f64::from(most)) as u32;
    let (left, top) = (clip(x0.floor() - 1.0, w), clip(y0.floor() - 1.0, h));
    let (right, bottom) = (clip(x1.ceil() + 1.0, w), clip(y1.ceil() + 1.0, h));
    if right <= left || bottom <= top {
        return None;
    }
    let part = imageops::crop_imm(pixels, left, top, right - left, bottom - top).to_image();
    let wanted = f64::from(frame.width) * f64::from(frame.height);
    let excess = (needed.area().abs() / wanted).sqrt();
    let shift = Homography::<S, Source>::affine([
        [1.0, 0.0, -f64::from(left)],
        [0.0, 1.0, -f64::from(top)],
    ]);
    if excess <= SHRINK_ABOVE {
        return Some((part, shift));
    }
    let (pw, ph) = part.dimensions();
    let shrink = |side: u32| (f64::from(side) / excess).round().max(1.0) as u32;
    let less = imageops::thumbnail(&part, shrink(pw), shrink(ph));
    let (sx, sy) = (
        f64::from(less.width()) / f64::from(pw),
        f64::from(less.height()) / f64::from(ph),
    );
    let scale = Homography::<Source, Source>::affine([[sx, 0.0, 0.0], [0.0, sy, 0.0]]);
    Some((less, shift.then(&scale)))
}

/// The colour at a point, mixed from the four nearest pixel centres; [`OUTSIDE`] off the picture.
fn bilinear(pixels: &RgbImage, at: Point<Source>) -> Rgb<u8> {
    let (w, h) = pixels.dimensions();
    if at.x < 0.0 || at.y < 0.0 || at.x > f64::from(w) || at.y > f64::from(h) {
        return OUTSIDE;
    }
    let (x, y) = (
        (at.x - 0.5).clamp(0.0, f64::from(w - 1)),
        (at.y - 0.5).clamp(0.0, f64::from(h - 1)),
    );
    let (left, top) = (x.floor() as u32, y.floor() as u32);
    let (fx, fy) = (x - x.floor(), y - y.floor());
    let (right, bottom) = ((left + 1).min(w - 1), (top + 1).min(h - 1));
    let mut mixed = [0_u8; 3];
    for (channel, out) in mixed.iter_mut().enumerate() {
        let value = |x: u32, y: u32| f64::from(pixels.get_pixel(x, y).0[channel]);
        let upper = value(left, top) * (1.0 - fx) + value(right, top) * fx;
        let lower = value(left, bottom) * (1.0 - fx) + value(right, bottom) * fx;
        *out = (upper * (1.0 - fy) + lower * fy).round() as u8;
    }
    Rgb(mixed)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A picture whose colour tells the place: red grows to the right, green downward.
    fn ramp(w: u32, h: u32) -> RgbImage {
        RgbImage::from_fn(w, h, |x, y| {
            Rgb([(x * 255 / w) as u8, (y * 255 / h) as u8, 60])
        })
    }

    #[test]
    fn both_sides_show_the_same_place_at_the_same_pixel() {
        // The photo is the exemplar turned upside down and shifted.
        let exemplar_pixels = ramp(400, 300);
        let quad = Quad::<ExemplarPhoto>::upright(100.0, 60.0, 300.0, 180.0);
        let (frame, left) = exemplar(&exemplar_pixels, &quad).expect("a box");
        let photo = imageops::rotate180(&exemplar_pixels);
        let turned = [
            [300.0, 240.0],
            [100.0, 240.0],
            [100.0, 120.0],
            [300.0, 120.0],
        ];
        let whole = Quad::<Photo>::upright(0.0, 0.0, 400.0, 300.0);
        let right = photo_mark(&photo, &whole, &Quad::from_array(turned), frame).expect("a box");
        assert_eq!(left.dimensions(), right.dimensions());
        for (a, b) in left.pixels().zip(right.pixels()) {
            for channel in 0..3 {
                assert!(a.0[channel].abs_diff(b.0[channel]) <= 2, "{a:?} {b:?}");
            }
        }
    }

    #[test]
    fn the_frame_keeps_the_marks_proportions() {
        let wide = Quad::<Photo>::upright(0.0, 0.0, 600.0, 100.0);
        let frame = SharedFrame::of(&wide).expect("a box");
        assert_eq!((frame.width, frame.height), (520, 181));
        let flat = Quad::<Photo>::upright(0.0, 0.0, 10.0, 0.0);
        assert_eq!(SharedFrame::of(&flat), None);
    }

    #[test]
    fn small_keeps_the_longer_side() {
        assert_eq!(small(&ramp(1000, 500), 200).dimensions(), (200, 100));
        assert_eq!(small(&ramp(10, 5), 200).dimensions(), (10, 5));
    }
}

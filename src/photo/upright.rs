//! Turning pixels by an EXIF orientation.

use image::RgbImage;
use image::metadata::Orientation;

/// Side of the square blocks in which a quarter turn is copied, in pixels: source and target block
/// together (2 x 32 x 32 x 3 bytes) stay in the first-level cache.
const BLOCK: usize = 32;

/// Turns and mirrors `picture` so that it stands upright.
pub(super) fn turn(picture: RgbImage, orientation: Orientation) -> RgbImage {
    let (w, h) = (picture.width() as usize, picture.height() as usize);
    match orientation {
        Orientation::NoTransforms => picture,
        Orientation::Rotate180 => remap(&picture, w, h, |x, y| (w - 1 - x, h - 1 - y)),
        Orientation::FlipHorizontal => remap(&picture, w, h, |x, y| (w - 1 - x, y)),
        Orientation::FlipVertical => remap(&picture, w, h, |x, y| (x, h - 1 - y)),
        Orientation::Rotate90 => remap(&picture, h, w, |x, y| (y, h - 1 - x)),
        Orientation::Rotate270 => remap(&picture, h, w, |x, y| (w - 1 - y, x)),
        Orientation::Rotate90FlipH => remap(&picture, h, w, |x, y| (y, x)),
        Orientation::Rotate270FlipH => remap(&picture, h, w, |x, y| (w - 1 - y, h - 1 - x)),
    }
}

/// A `width` x `height` picture whose pixel (x, y) is the pixel `from(x, y)` of `source`.
fn remap(
    source: &RgbImage,
    width: usize,
    height: usize,
    from: impl Fn(usize, usize) -> (usize, usize),
) -> RgbImage {
    let mut out = RgbImage::new(width as u32, height as u32);
    let stride = source.width() as usize * 3;
    let input: &[u8] = source.as_raw();
    let output: &mut [u8] = &mut out;
    for top in (0..height).step_by(BLOCK) {
        for left in (0..width).step_by(BLOCK) {
            for y in top..(top + BLOCK).min(height) {
                for x in left..(left + BLOCK).min(width) {
                    let (sx, sy) = from(x, y);
                    let (i, o) = (sy * stride + sx * 3, (y * width + x) * 3);
                    output[o..o + 3].copy_from_slice(&input[i..i + 3]);
                }
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::{DynamicImage, Rgb};

    #[test]
    fn agrees_with_the_image_crate_on_all_eight() {
        let picture = RgbImage::from_fn(37, 70, |x, y| Rgb([x as u8, y as u8, (x * y) as u8]));
        for value in 1..=8 {
            let orientation = Orientation::from_exif(value).expect("one of eight");
            let mut other = DynamicImage::ImageRgb8(picture.clone());
            other.apply_orientation(orientation);
            assert_eq!(
                turn(picture.clone(), orientation),
                other.into_rgb8(),
                "orientation {value}"
            );
        }
    }
}

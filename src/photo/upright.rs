//! Turning pixels by an EXIF orientation.

use image::RgbImage;
use image::metadata::Orientation;

/// Side of the square blocks in which a quarter turn is copied, in pixels: source and target block
/// together (2 x 32 x 32 x 3 bytes) stay in the first-level cache.
const BLOCK: usize = 32;

/// Where the pixels of an upright picture lie in the stored one: the byte of its pixel (x, y) is
/// `base + x * step_x + y * step_y`.
struct Walk {
    base: usize,
    step_x: isize,
    step_y: isize,
}

/// Turns and mirrors `picture` so that it stands upright.
pub(super) fn turn(picture: RgbImage, orientation: Orientation) -> RgbImage {
    let (w, h) = (picture.width() as usize, picture.height() as usize);
    if w == 0 || h == 0 {
        return picture;
    }
    let (right, bottom) = (3 * (w - 1), 3 * w * (h - 1));
    let (pixel, row) = (3_isize, 3 * w as isize);
    let (base, step_x, step_y) = match orientation {
        Orientation::NoTransforms => return picture,
        Orientation::Rotate180 => (bottom + right, -pixel, -row),
        Orientation::FlipHorizontal => (right, -pixel, row),
        Orientation::FlipVertical => (bottom, pixel, -row),
        Orientation::Rotate90 => (bottom, -row, pixel),
        Orientation::Rotate270 => (right, row, -pixel),
        Orientation::Rotate90FlipH => (0, row, pixel),
        Orientation::Rotate270FlipH => (bottom + right, -row, -pixel),
    };
    let walk = Walk {
        base,
        step_x,
        step_y,
    };
    let lies = matches!(
        orientation,
        Orientation::Rotate90
            | Orientation::Rotate270
            | Orientation::Rotate90FlipH
            | Orientation::Rotate270FlipH
    );
    let (width, height) = if lies { (h, w) } else { (w, h) };
    copy(&picture, &walk, width, height)
}

/// The `width` x `height` picture that `walk` reads out of `source`.
fn copy(source: &RgbImage, walk: &Walk, width: usize, height: usize) -> RgbImage {
    let mut out = RgbImage::new(width as u32, height as u32);
    let input: &[u8] = source.as_raw();
    let output: &mut [u8] = &mut out;
    for top in (0..height).step_by(BLOCK) {
        for left in (0..width).step_by(BLOCK) {
            let end = (left + BLOCK).min(width);
            for y in top..(top + BLOCK).min(height) {
                let start = left as isize * walk.step_x + y as isize * walk.step_y;
                let mut at = walk.base.wrapping_add_signed(start);
                let target = &mut output[(y * width + left) * 3..(y * width + end) * 3];
                for pixel in target.chunks_exact_mut(3) {
                    pixel.copy_from_slice(&input[at..at + 3]);
                    at = at.wrapping_add_signed(walk.step_x);
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
        for (w, h) in [(37, 70), (1, 5), (64, 1), (1, 1)] {
            let picture = RgbImage::from_fn(w, h, |x, y| Rgb([x as u8, y as u8, (x * y) as u8]));
            for value in 1..=8 {
                let orientation = Orientation::from_exif(value).expect("one of eight");
                let mut other = DynamicImage::ImageRgb8(picture.clone());
                other.apply_orientation(orientation);
                let ours = turn(picture.clone(), orientation);
                assert_eq!(ours, other.into_rgb8(), "orientation {value} of {w} x {h}");
            }
        }
    }
}

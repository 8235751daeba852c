//! A mark cut out of its photo and straightened, to be shown and read.

use crate::geometry::{Homography, Mark, Photo, Quad};
use crate::identify::MarkCrop;
use crate::photo::UprightPhoto;
use crate::raster::warp_rgb;

/// What a crop shows where the photo ends: a quiet grey, so that it does not look like ink.
const OUTSIDE: image::Rgb<u8> = image::Rgb([206, 205, 202]);
/// Longest side of a stored crop, in pixels.
const CROP_SIDE: f64 = 1600.0;
/// Margin of a stored crop around the mark, as a share of its longer side: room for a code.
const CROP_MARGIN: f64 = 0.25;

/// The mark in `quad` with its margin.
pub(super) fn crop(photo: &UprightPhoto, quad: &Quad<Photo>) -> MarkCrop {
    let [a, b, c, d] = quad.0;
    let (width, height) = (
        a.distance(b).max(d.distance(c)),
        a.distance(d).max(b.distance(c)),
    );
    let margin = CROP_MARGIN * width.max(height);
    let (w, h) = (width + 2.0 * margin, height + 2.0 * margin);
    let k = (CROP_SIDE / w.max(h)).min(1.0);
    let (ux, uy) = ((b.x - a.x) / width.max(1e-9), (b.y - a.y) / width.max(1e-9));
    let (vx, vy) = (
        (d.x - a.x) / height.max(1e-9),
        (d.y - a.y) / height.max(1e-9),
    );
    let at = |u: f64, v: f64| [a.x + ux * u + vx * v, a.y + uy * u + vy * v];
    let corners = Quad::<Photo>::from_array([
        at(-margin, -margin),
        at(width + margin, -margin),
        at(width + margin, height + margin),
        at(-margin, height + margin),
    ]);
    let size = ((w * k).round().max(1.0), (h * k).round().max(1.0));
    let frame = Quad::<Mark>::upright(0.0, 0.0, size.0, size.1);
    let pixels = Homography::between(&frame, &corners).map_or_else(
        || image::RgbImage::new(1, 1),
        |back| {
            let (w, h) = (size.0 as usize, size.1 as usize);
            let (mut rgb, seen) = warp_rgb(&photo.pixels, &back, w, h);
            for (p, s) in rgb.pixels_mut().zip(seen.data()) {
                if *s < 0.5 {
                    *p = OUTSIDE;
                }
            }
            rgb
        },
    );
    MarkCrop {
        pixels,
        quad: corners,
    }
}

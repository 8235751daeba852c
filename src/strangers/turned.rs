//! A mark's picture turned so that it reads upright, and where the mark is in it.

use image::RgbImage;

use crate::geometry::{Homography, Mark, Photo, Point, Quad};
use crate::mark::regions::{self, StandingInk};
use crate::raster::warp_rgb;
use crate::underside::Underside;
use crate::view::{SEARCH_STEP, View};

/// A turned picture.
#[derive(Debug, Clone)]
pub struct Turned {
    pub pixels: RgbImage,
    /// The mark's box in it, upright.
    pub quad: Quad<Photo>,
}

/// What the picture shows where the crop ends: a quiet grey, so that it does not look like ink.
const OUTSIDE: image::Rgb<u8> = image::Rgb([206, 205, 202]);
/// Turns smaller than this (radians) leave the picture as it is: nobody sees half a degree, and each turn
/// costs some sharpness.
const LEAST_TURN: f64 = 0.009;

/// Turns a picture clockwise by `turn` radians about the middle of the mark at `quad`. The whole picture stays
/// in view. After a turn the box is drawn anew around the ink, since that of a mark that lay askew is too large.
pub fn turned(pixels: &RgbImage, quad: &Quad<Photo>, turn: f64) -> Turned {
    let as_it_is = || Turned {
        pixels: pixels.clone(),
        quad: *quad,
    };
    let turn = turn.rem_euclid(std::f64::consts::TAU);
    if turn.min(std::f64::consts::TAU - turn) < LEAST_TURN {
        return as_it_is();
    }
    let (w, h) = (f64::from(pixels.width()), f64::from(pixels.height()));
    let (s, c) = turn.sin_cos();
    let around = Homography::<Photo, Mark>::affine([[c, -s, 0.0], [s, c, 0.0]]);
    let Some(corners) = around.apply_quad(&Quad::upright(0.0, 0.0, w, h)) else {
        return as_it_is();
    };
    let (x0, y0, x1, y1) = corners.bounds();
    let to_turned = Homography::<Photo, Mark>::affine([[c, -s, -x0], [s, c, -y0]]);
    let size = ((x1 - x0).round().max(1.0), (y1 - y0).round().max(1.0));
    let maps = to_turned.inverse().zip(to_turned.apply_quad(quad));
    let Some((back, carried)) = maps else {
        return as_it_is();
    };
    let (mut out, seen) = warp_rgb(pixels, &back, size.0 as usize, size.1 as usize);
    for (pixel, seen) in out.pixels_mut().zip(seen.data()) {
        if *seen < 0.5 {
            *pixel = OUTSIDE;
        }
    }
    let carried = Quad::<Photo>::from_array(carried.to_array());
    Turned {
        quad: box_of(&out, &carried),
        pixels: out,
    }
}

/// The upright box of the ink in the circle around `rough`.
fn box_of(pixels: &RgbImage, rough: &Quad<Photo>) -> Quad<Photo> {
    let view = View::of(pixels);
    let corners = rough
        .0
        .map(|p| Point::new(p.x / view.scale, p.y / view.scale));
    let circle = regions::around(&corners);
    let ink = StandingInk::of(&view.contrast, &Underside::default(), SEARCH_STEP as f64);
    regions::in_circle(circle.centre, circle.radius, &ink).box_at(view.scale, 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Three bars on pale glaze, the lowest the longest.
    fn bars() -> RgbImage {
        RgbImage::from_fn(600, 480, |x, y| {
            let on = (0..3).any(|k| {
                (160 + 60 * k..184 + 60 * k).contains(&y) && (180..(300 + 60 * k)).contains(&x)
            });
            let grain = ((x * 7 + y * 13) % 5) as u8;
            image::Rgb(if on { [40; 3] } else { [222 + grain; 3] })
        })
    }

    #[test]
    fn a_quarter_turn_takes_the_box_along() {
        let quad = Quad::upright(180.0, 160.0, 420.0, 304.0);
        let made = turned(&bars(), &quad, std::f64::consts::FRAC_PI_2);
        assert_eq!(made.pixels.dimensions(), (480, 600));
        let (x0, y0, x1, y1) = made.quad.bounds();
        // A point (x, y) goes to (480 - y, x).
        for (found, wanted) in [(x0, 176.0), (y0, 180.0), (x1, 320.0), (y1, 420.0)] {
            assert!((found - wanted).abs() < 12.0, "{:?}", made.quad);
        }
        assert!(made.pixels.get_pixel(470 - 172, 200).0[0] < 90);
    }

    #[test]
    fn no_turn_leaves_everything_as_it_is() {
        let quad = Quad::upright(180.0, 160.0, 420.0, 304.0);
        let made = turned(&bars(), &quad, std::f64::consts::TAU - 0.001);
        assert!(made.pixels == bars() && made.quad == quad);
    }
}

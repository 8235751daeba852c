//! Whether a photo shows an underside, and all of it, where its outline cannot be traced.
//!
//! On a patterned table no edge runs all round. A small net looks at the whole photo, shrunk into a square with a
//! margin so that the frame itself is seen. It was trained on *fit* renders with tables of many kinds, on drawn
//! pieces of another renderer, and on tops, papers and heaps of things of both, which never count
//! (`tools/train/whole.py`); it is built like the second look's.

use std::sync::LazyLock;

use image::RgbImage;
use image::imageops;

use crate::ink::tints::tints;
use crate::net::{Net, Tensor};
use crate::raster::Plane;
use crate::view::shrink;

/// Side of the square that the net reads, in pixels.
const SIDE: u32 = 128;
/// Pixels of it that the photo's longer side fills.
const WITHIN: f64 = 116.0;

/// Log-odds from which all of a base is in the frame: of 360 bare bases of tune seed 48 all but one of the whole ones lie
/// above it and none of the 62 cut ones, and of 140 tops, details and papers of seeds 46 and 47 one that would be bare.
pub const IN_FRAME: f32 = -1.0;

static NET: LazyLock<Net> = LazyLock::new(|| {
    Net::read(include_bytes!("../weights/whole.bin")).expect("the shipped weights are whole")
});

/// Log-odds (natural logarithm) that the photo shows an underside whose whole base is in the frame. `photo` has any
/// size above 116 px.
pub fn log_odds(photo: &RgbImage) -> f32 {
    let (rgb, inside) = squared(photo);
    odds_of(&rgb, &inside)
}

fn squared(photo: &RgbImage) -> (RgbImage, Plane) {
    let (w, h) = photo.dimensions();
    let k = WITHIN / f64::from(w.max(h));
    let size = |v: u32| ((f64::from(v) * k).round() as u32).clamp(1, SIDE);
    let small = shrink(photo, size(w), size(h));
    let (left, top) = ((SIDE - small.width()) / 2, (SIDE - small.height()) / 2);
    let mut square = RgbImage::new(SIDE, SIDE);
    imageops::replace(&mut square, &small, i64::from(left), i64::from(top));
    let inside = |i: u32| {
        let (x, y) = (i % SIDE, i / SIDE);
        let across = (left..left + small.width()).contains(&x);
        f32::from(u8::from(across && (top..top + small.height()).contains(&y)))
    };
    let inside = (0..SIDE * SIDE).map(inside).collect();
    (
        square,
        Plane::from_vec(SIDE as usize, SIDE as usize, inside),
    )
}

fn odds_of(rgb: &RgbImage, inside: &Plane) -> f32 {
    let answer = NET.run(Tensor::square(4, SIDE as usize, tints(rgb, inside)));
    answer.data.first().copied().unwrap_or(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ink::tints::probed;

    /// Squares (sRGB and inside, a byte each) and the log-odds that the training side gave for them:
    /// `tools/train/whole_probe.py` wrote them.
    const PROBE: &[u8] = include_bytes!("../../tests/data/whole-probe.bin");

    #[test]
    fn log_odds_are_those_trained() {
        for (rgb, inside, theirs) in probed(PROBE, SIDE as usize) {
            let ours = odds_of(&rgb, &inside);
            assert!((ours - theirs).abs() < 0.1, "{ours} {theirs}");
        }
    }

    /// A pale disc on a dark ground, `radius` of the photo's height large.
    fn dish(radius: f64) -> RgbImage {
        RgbImage::from_fn(400, 300, |x, y| {
            let (dx, dy) = (f64::from(x) - 200.0, f64::from(y) - 150.0);
            let on = dx.hypot(dy) < 300.0 * radius;
            let grain = ((x * 7 + y * 13) % 5) as u8;
            image::Rgb(if on {
                [225 + grain; 3]
            } else {
                [70 + grain, 50, 40]
            })
        })
    }

    #[test]
    fn a_disc_that_runs_out_of_the_frame_is_not_whole() {
        assert!(log_odds(&dish(0.4)) > 0.0);
        assert!(log_odds(&dish(0.62)) < 0.0);
    }

    #[test]
    fn a_square_keeps_the_frame_in_view() {
        let (square, inside) = squared(&dish(0.4));
        assert_eq!(square.dimensions(), (SIDE, SIDE));
        let seen = inside.data().iter().filter(|v| **v > 0.5).count();
        assert_eq!(seen, 116 * 87);
    }
}

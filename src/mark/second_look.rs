//! A second look at a place, in colour and close: is this ink of a mark, or a price in pencil, a label, a
//! scratch, a stilt mark?
//!
//! The finder sees the whole photo at three hundred pixels, where a pencilled price looks like a stamp. A small
//! net looks at each place anew, with the ground around it. It was trained on places that the tool itself found
//! on *fit* renders, and on drawn ones of another renderer (`tools/train/second_look.py`).

use std::sync::LazyLock;

use image::RgbImage;

use crate::ink::tints::tints;
use crate::mark::cut;
use crate::mark::regions::Region;
use crate::net::{Net, Tensor};
use crate::raster::Plane;
use crate::view::View;

/// Side of the square that the net reads, in pixels.
pub const SIDE: usize = 128;
/// Share of it that the place's circle fills.
const FILL: f64 = 0.64;

static NET: LazyLock<Net> = LazyLock::new(|| {
    Net::read(include_bytes!("../weights/second-look.bin")).expect("the shipped weights are whole")
});

/// Log-odds (natural logarithm) that a mark lies here, where as many places hold one as do not.
pub fn log_odds(photo: &RgbImage, view: &View, region: &Region) -> f32 {
    let (rgb, inside) = pixels(photo, view, region);
    odds_of(&rgb, &inside)
}

/// What is looked at, before it is measured: colours, and 1 where the photo has pixels.
pub fn pixels(photo: &RgbImage, view: &View, region: &Region) -> (RgbImage, Plane) {
    cut::pixels(photo, view, region, SIDE, FILL)
}

fn odds_of(rgb: &RgbImage, inside: &Plane) -> f32 {
    let answer = NET.run(Tensor::square(4, SIDE, tints(rgb, inside)));
    answer.data.first().copied().unwrap_or(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ink::tints::probed;

    /// Places (sRGB and inside, a byte each) and the log-odds that the training side gave for them:
    /// `tools/train/second_look_probe.py` wrote them.
    const PROBE: &[u8] = include_bytes!("../../tests/data/second-look-probe.bin");

    #[test]
    fn log_odds_are_those_trained() {
        for (rgb, inside, theirs) in probed(PROBE, SIDE) {
            let ours = odds_of(&rgb, &inside);
            assert!((ours - theirs).abs() < 0.1, "{ours} {theirs}");
        }
    }
}

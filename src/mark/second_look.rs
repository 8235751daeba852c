//! A second look at a place, in colour and close: is this ink of a mark, or a price in pencil, a label, a
//! scratch, a stilt mark?
//!
//! The finder sees the whole photo at three hundred pixels, where a pencilled price looks like a stamp. A small
//! net looks at each place anew, with the ground around it. It was trained on places that the tool itself found
//! on *fit* renders, and on drawn ones of another renderer (`tools/train/second_look.py`).

use std::sync::LazyLock;

use image::RgbImage;

use crate::ink::colour::lab_planes;
use crate::mark::cut;
use crate::mark::regions::Region;
use crate::net::{Net, Tensor};
use crate::raster::Plane;
use crate::view::View;

/// Side of the square that the net reads, in pixels.
pub const SIDE: usize = 128;
/// Share of it that the place's circle fills.
const FILL: f64 = 0.64;
/// CIELAB units that bring a channel to 0.76.
const REACH: f32 = 20.0;

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
    let answer = NET.run(Tensor::square(4, SIDE, channels(rgb, inside)));
    answer.data.first().copied().unwrap_or(0.0)
}

/// L*, a* and b* against their medians over what lies in the photo, bent by a hyperbolic tangent and 0
/// outside; then the inside itself.
fn channels(rgb: &RgbImage, inside: &Plane) -> Vec<f32> {
    let known: Vec<usize> = (0..inside.data().len())
        .filter(|&i| inside.data()[i] > 0.5)
        .collect();
    let mut out = Vec::with_capacity(4 * SIDE * SIDE);
    for plane in lab_planes(rgb) {
        let middle = median(known.iter().map(|&i| plane.data()[i]).collect());
        let values = plane.data().iter().zip(inside.data());
        out.extend(values.map(|(v, &i)| {
            if i > 0.5 {
                ((v - middle) / REACH).tanh()
            } else {
                0.0
            }
        }));
    }
    out.extend(inside.data().iter().map(|&i| f32::from(u8::from(i > 0.5))));
    out
}

/// The value at rank floor((n - 1) / 2); 0 of nothing.
fn median(mut values: Vec<f32>) -> f32 {
    if values.is_empty() {
        return 0.0;
    }
    let rank = (values.len() - 1) / 2;
    *values.select_nth_unstable_by(rank, f32::total_cmp).1
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Places (sRGB and inside, a byte each) and the log-odds that the training side gave for them:
    /// `tools/train/second_look_probe.py` wrote them.
    const PROBE: &[u8] = include_bytes!("../../tests/data/second-look-probe.bin");

    #[test]
    fn log_odds_are_those_trained() {
        let pixels = SIDE * SIDE;
        assert_eq!(PROBE.len() % (4 * pixels + 4), 0);
        for place in PROBE.chunks_exact(4 * pixels + 4) {
            let (rgb, rest) = place.split_at(3 * pixels);
            let (inside, odds) = rest.split_at(pixels);
            let rgb = RgbImage::from_raw(SIDE as u32, SIDE as u32, rgb.to_vec()).expect("its size");
            let inside = inside.iter().map(|&b| f32::from(b) / 255.0).collect();
            let theirs = f32::from_le_bytes(odds.try_into().expect("four bytes"));
            let ours = odds_of(&rgb, &Plane::from_vec(SIDE, SIDE, inside));
            assert!((ours - theirs).abs() < 0.1, "{ours} {theirs}");
        }
    }
}

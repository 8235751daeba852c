//! Colours of a square against what is usual there: what small nets read where ink alone does not tell.

use image::RgbImage;

use crate::ink::colour::lab_planes;
use crate::raster::Plane;

/// CIELAB units that bring a channel to 0.76.
const REACH: f32 = 20.0;

/// L*, a* and b* against their medians over what lies in the photo, bent by a hyperbolic tangent and 0
/// outside; then the inside itself.
pub fn tints(rgb: &RgbImage, inside: &Plane) -> Vec<f32> {
    let known: Vec<usize> = (0..inside.data().len())
        .filter(|&i| inside.data()[i] > 0.5)
        .collect();
    let mut out = Vec::with_capacity(4 * inside.data().len());
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

/// What a training side wrote down to be compared with: squares of colours with what lies inside, and its answers.
#[cfg(test)]
pub(crate) fn probed(probe: &[u8], side: usize) -> Vec<(RgbImage, Plane, f32)> {
    let pixels = side * side;
    assert_eq!(probe.len() % (4 * pixels + 4), 0);
    let read = |one: &[u8]| {
        let (rgb, rest) = one.split_at(3 * pixels);
        let (inside, answer) = rest.split_at(pixels);
        let rgb = RgbImage::from_raw(side as u32, side as u32, rgb.to_vec()).expect("its size");
        let inside = inside.iter().map(|&b| f32::from(b) / 255.0).collect();
        let answer = f32::from_le_bytes(answer.try_into().expect("four bytes"));
        (rgb, Plane::from_vec(side, side, inside), answer)
    };
    probe.chunks_exact(4 * pixels + 4).map(read).collect()
}

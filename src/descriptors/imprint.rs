//! The learned descriptor of a whole mark: 128 numbers that are near for two photographs of one
//! mark and far for two marks, whatever glaze, ink, strike and light.
//!
//! A small net reads the [`SmallInk`] of a mark. It was trained to tell invented marks apart
//! (contrastive learning with hard negatives, van den Oord et al. 2018; `tools/train`); rotation is
//! left to the library, which keeps each exemplar at [`TURNS`] turns, so that the best of them also
//! says how the mark is turned.

use std::sync::LazyLock;

use crate::ink::small::{SIDE, SmallInk};
use crate::net::{Net, Tensor};

/// Numbers of an imprint.
pub const LENGTH: usize = 128;
/// Turns at which an exemplar is described.
pub const TURNS: usize = 8;

const WEIGHTS: &[u8] = include_bytes!("../weights/imprint.bin");

static NET: LazyLock<Net> =
    LazyLock::new(|| Net::read(WEIGHTS).expect("the shipped weights are whole"));

/// A mark's 128 numbers, of unit length.
#[derive(Debug, Clone, PartialEq)]
pub struct Imprint(pub Vec<f32>);

impl Imprint {
    pub fn of(ink: &SmallInk) -> Self {
        let both = [ink.ink.data(), ink.valid.data()].concat();
        Self(NET.run(Tensor::square(2, SIDE, both)).data)
    }
}

/// An exemplar's imprints at eight turns, row by row.
pub fn at_all_turns(ink: &SmallInk) -> Vec<f32> {
    (0..TURNS)
        .flat_map(|k| match k {
            0 => Imprint::of(ink).0,
            _ => Imprint::of(&ink.turned(turn(k))).0,
        })
        .collect()
}

/// Radians of the `k`-th turn.
pub fn turn(k: usize) -> f64 {
    k as f64 / TURNS as f64 * std::f64::consts::TAU
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::raster::Plane;

    /// Crops photographed by the training's own camera, with the maps and vectors of the training
    /// side: `tools/train/probe.py` wrote them.
    const PROBE: &[u8] = include_bytes!("../../tests/data/imprint-probe.bin");
    const CROPS: usize = 6;

    struct Probe {
        ours: SmallInk,
        ink: Vec<f32>,
        vector: Vec<f32>,
    }

    fn probes() -> Vec<Probe> {
        let pixels = SIDE * SIDE;
        let size = pixels * (3 + 1 + 1 + 1) + 4 * LENGTH;
        assert_eq!(PROBE.len(), CROPS * size);
        PROBE
            .chunks_exact(size)
            .map(|c| {
                let (rgb, rest) = c.split_at(3 * pixels);
                let (inside, rest) = rest.split_at(pixels);
                let (ink, rest) = rest.split_at(pixels);
                let vector = rest[pixels..]
                    .chunks_exact(4)
                    .map(|b| f32::from_le_bytes(b.try_into().expect("four bytes")))
                    .collect();
                let side = SIDE as u32;
                let rgb = image::RgbImage::from_raw(side, side, rgb.to_vec()).expect("its size");
                let inside = inside.iter().map(|&v| f32::from(v)).collect();
                Probe {
                    ours: SmallInk::of(&rgb, &Plane::from_vec(SIDE, SIDE, inside)),
                    ink: ink.iter().map(|&v| f32::from(v) / 255.0).collect(),
                    vector,
                }
            })
            .collect()
    }

    #[test]
    fn the_ink_map_is_the_one_trained_on() {
        for (i, p) in probes().iter().enumerate() {
            let worst = p
                .ours
                .ink
                .data()
                .iter()
                .zip(&p.ink)
                .map(|(a, b)| (a - b).abs())
                .fold(0.0f32, f32::max);
            assert!(worst < 0.02, "crop {i}: {worst}");
        }
    }

    #[test]
    fn vectors_and_the_order_of_neighbours_are_those_trained() {
        let probes = probes();
        let dot = |a: &[f32], b: &[f32]| a.iter().zip(b).map(|(x, y)| x * y).sum::<f32>();
        let ours: Vec<Imprint> = probes.iter().map(|p| Imprint::of(&p.ours)).collect();
        for (i, (a, p)) in ours.iter().zip(&probes).enumerate() {
            assert!(dot(&a.0, &p.vector) > 0.999, "crop {i}");
            let order = |of: &dyn Fn(usize) -> f32| {
                let mut others: Vec<usize> = (0..CROPS).filter(|&j| j != i).collect();
                others.sort_by(|&x, &y| of(y).total_cmp(&of(x)));
                others
            };
            assert_eq!(
                order(&|j| dot(&a.0, &ours[j].0)),
                order(&|j| dot(&p.vector, &probes[j].vector))
            );
        }
    }
}

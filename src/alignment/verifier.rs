//! Whether a mark, laid over an exemplar, is that mark or only near it.
//!
//! A small net reads the ink maps of both, one over the other, and gives the log-odds that they show
//! one mark. It was trained on invented marks with siblings that differ in one line or one letter
//! (`tools/train/verifier.py`), so that strokes which a weak strike lacks weigh little and one wrong
//! word weighs all.

use std::sync::LazyLock;

use crate::geometry::{Exemplar, Homography, Mark};
use crate::ink::small::SmallInk;
use crate::mark::cut;
use crate::net::{Net, Tensor};
use crate::raster::Plane;

/// Side of the compared maps, in pixels.
pub const SIDE: usize = 224;

const WEIGHTS: &[u8] = include_bytes!("../weights/verifier.bin");

static NET: LazyLock<Net> =
    LazyLock::new(|| Net::read(WEIGHTS).expect("the shipped weights are whole"));

/// Log-odds (natural logarithm) that photo and exemplar show one mark, where `map` lays the one over
/// the other. Both maps are [`SIDE`] pixels square. The prior is that of training: one in four.
pub fn log_odds(photo: &SmallInk, exemplar: &SmallInk, map: &Homography<Mark, Exemplar>) -> f32 {
    odds_of(read(photo, exemplar, map))
}

/// What the net reads: ink and validity of the photo, then those of the exemplar laid over it, row by
/// row.
pub fn read(photo: &SmallInk, exemplar: &SmallInk, map: &Homography<Mark, Exemplar>) -> Vec<f32> {
    let over = laid(exemplar, map);
    let planes = [&photo.ink, &photo.valid, &over.ink, &over.valid];
    planes.iter().flat_map(|p| p.data()).copied().collect()
}

fn odds_of(maps: Vec<f32>) -> f32 {
    let answer = NET.run(Tensor::square(4, SIDE, maps));
    answer.data.first().copied().unwrap_or(0.0)
}

/// The exemplar's map as the photo's would show it; validity stays yes or no.
fn laid(exemplar: &SmallInk, map: &Homography<Mark, Exemplar>) -> SmallInk {
    let to_exemplar = cut::between_small(map, SIDE);
    let both = [&exemplar.ink, &exemplar.valid];
    let [ink, valid] = Plane::warp_together(both, &to_exemplar, SIDE, SIDE, 0.0);
    let valid = valid.map(|v| if v > 0.5 { 1.0 } else { 0.0 });
    SmallInk {
        ink: ink.zip(&valid, |i, v| i * v),
        valid,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Pairs of maps (one byte a pixel) and the log-odds that the training side gave for them:
    /// `tools/train/verifier_probe.py` wrote them.
    const PROBE: &[u8] = include_bytes!("../../tests/data/verifier-probe.bin");

    #[test]
    fn log_odds_are_those_trained() {
        let pixels = 4 * SIDE * SIDE;
        assert_eq!(PROBE.len() % (pixels + 4), 0);
        for pair in PROBE.chunks_exact(pixels + 4) {
            let (maps, odds) = pair.split_at(pixels);
            let theirs = f32::from_le_bytes(odds.try_into().expect("four bytes"));
            let ours = odds_of(maps.iter().map(|&b| f32::from(b) / 255.0).collect());
            assert!((ours - theirs).abs() < 0.1, "{ours} {theirs}");
        }
    }

    #[test]
    fn an_exemplar_laid_by_its_own_map_stays_as_it_is() {
        let mut ink = Plane::filled(SIDE, SIDE, 0.0);
        (60..160).for_each(|x| ink.set(x, 90, 1.0));
        let small = SmallInk {
            ink,
            valid: Plane::filled(SIDE, SIDE, 1.0),
        };
        let over = laid(
            &small,
            &Homography::affine([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]]),
        );
        let apart = over.ink.zip(&small.ink, |a, b| (a - b).abs());
        assert!(apart.data().iter().all(|&d| d < 1e-3));
    }
}

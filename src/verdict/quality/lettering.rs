//! How large the smallest lettering of a mark is.

use super::laid::{STROKE, blobs};
use crate::raster::{Plane, quantile};

/// Pixels of a letter, at least, on the small map; its height there, at least and as a share of the side at
/// most; how much longer than wide it may be.
const PIXELS: usize = 6;
const HEIGHT: f32 = 3.0;
const HEIGHT_MOST: f32 = 0.2;
const SLENDER: f32 = 7.0;
/// A row of text has at least so many letters.
const LETTERS: usize = 4;
/// The smaller letters of a mark: below this share of them all.
const SMALLER: f32 = 0.3;

/// Height of the smaller letters of an ink map in its pixels: of the connected strokes that are as large as
/// letters. `None` where there are too few. A letter is about as high as the bar with its second moments is long.
pub(super) fn letter_height(ink: &Plane) -> Option<f32> {
    let side = ink.width();
    let found = blobs((side, side), |x, y| ink.get(x, y) > STROKE);
    let mut heights: Vec<f32> = found
        .iter()
        .filter(|b| b.pixels >= PIXELS && b.length >= HEIGHT)
        .filter(|b| b.length <= HEIGHT_MOST * side as f32 && b.length <= SLENDER * b.width)
        .map(|b| b.length)
        .collect();
    (heights.len() >= LETTERS).then(|| quantile(&mut heights, SMALLER))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rows of upright bars, `high` pixels each.
    fn text(high: usize) -> Plane {
        let mut p = Plane::filled(224, 224, 0.0);
        for row in 0..3 {
            for column in 0..8 {
                for y in 0..high {
                    for x in 0..high / 2 {
                        p.set(20 + column * high + x, 20 + row * 2 * high + y, 1.0);
                    }
                }
            }
        }
        p
    }

    #[test]
    fn letters_are_as_high_as_they_are() {
        for high in [8usize, 12, 20] {
            let got = letter_height(&text(high)).expect("letters");
            assert!((got - high as f32).abs() < 1.0, "{high}: {got}");
        }
        assert_eq!(letter_height(&Plane::filled(224, 224, 0.0)), None);
    }
}

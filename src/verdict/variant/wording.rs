//! Where two forms have other words in one place: lettering of one height, stroke by stroke unlike.

use super::forms::SIDE;
use super::pixels::moved;
use crate::ink::box_max;
use crate::raster::Plane;

/// Squares (pixels a side) in which lettering is compared, and how far apart they lie.
const TILE: usize = 25;
const STEP: usize = 6;
/// Pixels by which the two may lie apart.
const APART: i32 = 2;
/// Correlation (-1 to 1) below which their letters are others.
const UNLIKE: f32 = 0.45;
/// Strokes (mean of 0 to 1) that a square needs in both, and the variance of their letters: a rule has none.
const LEAST_INK: f32 = 0.04;
const LEAST_VARIANCE: f32 = 0.002;
/// What a line of lettering has in common with any other is its band: the mean so far each way along it is taken off.
const BAND: i32 = 6;
/// A stroke of either form (share of the strongest near it) at or beside a pixel that differs.
const STROKE: f32 = 0.5;

/// The letters of a form without the bands of its lines, which run along `angle` (radians).
pub(super) fn letters(soft: &Plane, angle: f64) -> Plane {
    let (s, c) = angle.sin_cos();
    let mut sum = soft.clone();
    for t in (-BAND..=BAND).filter(|t| *t != 0) {
        let step = (
            (f64::from(t) * c).round() as i32,
            (f64::from(t) * s).round() as i32,
        );
        for (at, v) in sum.data_mut().iter_mut().enumerate() {
            *v += moved(at, step).map_or(0.0, |to| soft.data()[to]);
        }
    }
    let count = (2 * BAND + 1) as f32;
    soft.zip(&sum, |v, s| v - s / count)
}

/// A form as its wording is compared.
pub(super) struct Written<'a> {
    pub(super) strokes: &'a Plane,
    pub(super) soft: &'a Plane,
    pub(super) letters: &'a Plane,
}

/// 1 on strokes in squares where both forms have lettering, and not the same.
pub(super) fn unlike(one: &Written<'_>, other: &Written<'_>) -> Plane {
    let mut squares = Plane::filled(SIDE, SIDE, 0.0);
    for cy in (STEP / 2..SIDE).step_by(STEP) {
        for cx in (STEP / 2..SIDE).step_by(STEP) {
            if is_other(one, other, cx, cy) {
                for y in cy - STEP / 2..(cy + STEP.div_ceil(2)).min(SIDE) {
                    for x in cx - STEP / 2..(cx + STEP.div_ceil(2)).min(SIDE) {
                        squares.set(x, y, 1.0);
                    }
                }
            }
        }
    }
    let strokes = one.strokes.zip(other.strokes, f32::max);
    squares.zip(
        &box_max(&strokes, 1),
        |s, v| if v >= STROKE { s } else { 0.0 },
    )
}

fn is_other(one: &Written<'_>, other: &Written<'_>, cx: usize, cy: usize) -> bool {
    let tile = |plane: &Plane, power: i32| mean(plane, cx, cy, |v| v.powi(power));
    for form in [one, other] {
        if tile(form.soft, 1) <= LEAST_INK
            || tile(form.letters, 2) - tile(form.letters, 1).powi(2) <= LEAST_VARIANCE
        {
            return false;
        }
    }
    let shifts = (-APART..=APART).flat_map(|dy| (-APART..=APART).map(move |dx| (dx, dy)));
    let mut best = f32::NEG_INFINITY;
    for shift in shifts {
        best = best.max(likeness(one.letters, other.letters, (cx, cy), shift));
    }
    best < UNLIKE
}

/// The pixels of a square that lie in the frame.
fn square(cx: usize, cy: usize) -> (std::ops::Range<usize>, std::ops::Range<usize>) {
    let half = TILE / 2;
    let span = |c: usize| c.saturating_sub(half)..(c + half + 1).min(SIDE);
    (span(cx), span(cy))
}

fn mean(plane: &Plane, cx: usize, cy: usize, of: impl Fn(f32) -> f32) -> f32 {
    let (xs, ys) = square(cx, cy);
    let rows = ys.map(|y| plane.row(y)[xs.clone()].iter().map(|v| of(*v)).sum::<f32>());
    rows.sum::<f32>() / (TILE * TILE) as f32
}

/// Correlation of one form's square with the other's, which lies `shift` away.
fn likeness(one: &Plane, other: &Plane, (cx, cy): (usize, usize), (dx, dy): (i32, i32)) -> f32 {
    let (xs, ys) = square(cx, cy);
    let inside = |v: usize, d: i32| usize::try_from(v as i32 + d).ok().filter(|v| *v < SIDE);
    let mut sums = [0.0_f32; 5];
    let mut n = 0.0_f32;
    for y in ys {
        let Some(oy) = inside(y, dy) else { continue };
        let (row, across) = (one.row(y), other.row(oy));
        for x in xs.clone() {
            let Some(ox) = inside(x, dx) else { continue };
            let (a, b) = (row[x], across[ox]);
            for (sum, v) in sums.iter_mut().zip([a, b, a * a, b * b, a * b]) {
                *sum += v;
            }
            n += 1.0;
        }
    }
    let [a, b, aa, bb, ab] = sums;
    let spread = (n * aa - a * a) * (n * bb - b * b);
    if spread <= 1e-6 {
        -1.0
    } else {
        (n * ab - a * b) / spread.sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Lettering: upright strokes at these places of a line.
    fn line(strokes: &[usize]) -> Plane {
        let mut ink = Plane::filled(SIDE, SIDE, 0.0);
        for left in strokes {
            for y in 100..108 {
                (60 + left..62 + left).for_each(|x| ink.set(x, y, 1.0));
            }
        }
        ink
    }

    fn unlike_pixels(one: &Plane, other: &Plane) -> usize {
        let letters = [one, other].map(|p| letters(p, 0.0));
        let written = |plane, letters| Written {
            strokes: plane,
            soft: plane,
            letters,
        };
        let found = unlike(&written(one, &letters[0]), &written(other, &letters[1]));
        found.data().iter().filter(|v| **v > 0.5).count()
    }

    #[test]
    fn other_letters_in_one_line_are_told_and_the_same_a_pixel_on_are_not() {
        let one = line(&[0, 5, 14, 19, 23, 33, 38, 47, 52, 60]);
        let moved = line(&[1, 6, 15, 20, 24, 34, 39, 48, 53, 61]);
        let other = line(&[3, 10, 12, 21, 28, 30, 41, 44, 55, 57]);
        assert_eq!(unlike_pixels(&one, &moved), 0);
        assert!(
            unlike_pixels(&one, &other) > 100,
            "{}",
            unlike_pixels(&one, &other)
        );
    }
}

//! The streak that a movement drew, by the exemplar: what its ink must be spread by to come out as the photo's.
//!
//! Blind measures (`spread.rs`) read a blur off the photo's own edges and miss it where strokes are closer together than the
//! streak is long. With the mark's drawing at hand the spread is the one of a family (a streak of some length and direction,
//! and a Gaussian) under which drawing and photo correlate best: deconvolution with a known picture, solved by trial.

use std::f64::consts::PI;

use super::laid::Laid;
use crate::geometry::{Exemplar, Homography, Point};
use crate::raster::Plane;

/// The small maps are tried at half their size. Directions over half a turn; lengths and sigmas in pixels of that size.
const TURNS: usize = 12;
const LENGTHS: [f32; 7] = [1.5, 2.0, 3.0, 4.0, 5.5, 7.5, 10.0];
const SIGMAS: [f32; 6] = [0.0, 0.4, 0.6, 0.85, 1.2, 1.7];
/// Sigmas tried beside a streak.
const BESIDE: usize = 4;
/// Index of the Gaussian by itself from which a photo is spread at all, so that sharp ones cost nothing more.
const SPREAD: usize = 3;
/// Least correlation with a streak, and by how much it must exceed that with a Gaussian alone. On tune seeds 64 and 65 (one
/// fault each, marks less than 30 degrees from the exemplar's view) 15 of 32 photos that moved by 14 pixels and more reach
/// it, among them all six of which the blind measure shows no streak and whose mark is laid that well; no other of 185 does,
/// lenses out of focus come to 0.003.
const LIKE: f64 = 0.8;
const GAIN: f64 = 0.01;
/// Share of a pixel of half size that must be seen, and pixels that must be.
const SEEN: f32 = 0.9;
const PIXELS: usize = 500;

/// A straight streak in the photo.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Streak {
    /// In photo pixels.
    pub(super) length: f64,
    /// Direction in radians, from the photo's x axis towards y, 0 to pi.
    pub(super) angle: f64,
}

/// The streak by which the exemplar's ink comes out as the photo's; `None` where none is needed or the two are too unlike.
pub(super) fn streak(laid: &Laid<'_>) -> Option<Streak> {
    let valid = laid.seen.zip(&laid.exemplar.valid, |s, v| s * v);
    let (length, turn) = fitted(&laid.exemplar.ink, &laid.mark.ink, &valid)?;
    let middle = laid.side() as f64 / 2.0;
    let end = |sign: f64| {
        let (x, y) = (turn.cos() * length, turn.sin() * length);
        laid.in_photo(Point::new(middle + sign * x / 2.0, middle + sign * y / 2.0))
    };
    let (a, b) = (end(-1.0)?, end(1.0)?);
    Some(Streak {
        length: a.distance(b),
        angle: (b.y - a.y).atan2(b.x - a.x).rem_euclid(PI),
    })
}

/// Length (pixels of the maps) and direction (radians) of the streak that takes `drawn` to `ink`.
fn fitted(drawn: &Plane, ink: &Plane, valid: &Plane) -> Option<(f64, f64)> {
    let [drawn, ink, valid] = [drawn, ink, valid].map(Plane::half);
    let all = Turned::by(0.0, [&drawn, &ink, &valid]);
    let alone = SIGMAS.map(|s| all.like(&all.drawn.blur(s)));
    let best = (0..SIGMAS.len()).max_by(|&a, &b| alone[a].total_cmp(&alone[b]))?;
    if all.pixels < PIXELS || best < SPREAD {
        return None;
    }
    let mut found: Option<(f64, f32, f64)> = None;
    for i in 0..TURNS {
        let turn = PI * i as f64 / TURNS as f64;
        let turned = Turned::by(turn, [&drawn, &ink, &valid]);
        let spread = SIGMAS.map(|s| turned.drawn.blur(s));
        let alone = spread.iter().map(|p| turned.like(p)).fold(-1.0, f64::max);
        for plane in &spread[..BESIDE] {
            for length in LENGTHS {
                let like = turned.like(&drawn_out(plane, length));
                let gain = like - alone;
                if like >= LIKE && gain >= GAIN && found.is_none_or(|(g, ..)| gain > g) {
                    found = Some((gain, length, turn));
                }
            }
        }
    }
    found.map(|(_, length, turn)| (2.0 * f64::from(length), turn))
}

/// Drawing and photo with one direction laid along the rows.
struct Turned {
    drawn: Plane,
    ink: Plane,
    valid: Plane,
    pixels: usize,
}

impl Turned {
    fn by(turn: f64, planes: [&Plane; 3]) -> Self {
        let (w, h) = (planes[0].width(), planes[0].height());
        let (x, y) = (w as f64 / 2.0, h as f64 / 2.0);
        let (s, c) = turn.sin_cos();
        let back = Homography::<Exemplar, Exemplar>::affine([
            [c, -s, x - c * x + s * y],
            [s, c, y - s * x - c * y],
        ]);
        let [drawn, ink, valid] = Plane::warp_together(planes, &back, w, h, 0.0);
        let valid = valid.map(|v| if v > SEEN { 1.0 } else { 0.0 });
        let pixels = valid.data().iter().filter(|v| **v > 0.5).count();
        Self {
            drawn,
            ink,
            valid,
            pixels,
        }
    }

    /// Pearson's correlation of a drawing with the photo's ink where that is seen, -1 to 1.
    fn like(&self, drawn: &Plane) -> f64 {
        let (mut n, mut a, mut b) = (0.0f64, 0.0f64, 0.0f64);
        let (mut aa, mut bb, mut ab) = (0.0f64, 0.0f64, 0.0f64);
        let both = drawn.data().iter().zip(self.ink.data());
        for ((&u, &v), &known) in both.zip(self.valid.data()) {
            if known > 0.5 {
                let (u, v) = (f64::from(u), f64::from(v));
                (n, a, b) = (n + 1.0, a + u, b + v);
                (aa, bb, ab) = (aa + u * u, bb + v * v, ab + u * v);
            }
        }
        let n = n.max(1.0);
        let (vu, vv) = (aa - a * a / n, bb - b * b / n);
        (ab - a * b / n) / (vu * vv).sqrt().max(1e-9)
    }
}

/// Means along the rows over `length` pixels, of which the outermost count in part.
fn drawn_out(plane: &Plane, length: f32) -> Plane {
    let w = plane.width();
    let mut data = Vec::with_capacity(w * plane.height());
    let mut sums = vec![0.0f32; w + 1];
    for y in 0..plane.height() {
        for (x, v) in plane.row(y).iter().enumerate() {
            sums[x + 1] = sums[x] + v;
        }
        let upto = |at: f32| {
            let at = at.clamp(0.0, w as f32);
            let i = (at as usize).min(w - 1);
            sums[i] + (sums[i + 1] - sums[i]) * (at - i as f32)
        };
        data.extend((0..w).map(|x| {
            let middle = x as f32 + 0.5;
            (upto(middle + length / 2.0) - upto(middle - length / 2.0)) / length
        }));
    }
    Plane::from_vec(w, plane.height(), data)
}

#[cfg(test)]
mod tests {
    use super::super::tests::moved;
    use super::*;

    const SIDE: usize = 224;

    /// Bars of lettering in all directions, from a fixed row of numbers.
    fn drawing() -> Plane {
        let mut seed = 7u32;
        let mut next = |n: u32| {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            ((seed >> 16) % n) as f32
        };
        let bars: Vec<[f32; 4]> = (0..70)
            .map(|_| {
                [
                    40.0 + next(144),
                    40.0 + next(144),
                    next(314) / 100.0,
                    6.0 + next(16),
                ]
            })
            .collect();
        let mut plane = Plane::filled(SIDE, SIDE, 0.0);
        for y in 0..SIDE {
            for x in 0..SIDE {
                let on = bars.iter().any(|[bx, by, turn, long]| {
                    let (dx, dy) = (x as f32 - bx, y as f32 - by);
                    let along = dx * turn.cos() + dy * turn.sin();
                    let across = dy * turn.cos() - dx * turn.sin();
                    along.abs() < *long && across.abs() < 1.6
                });
                plane.set(x, y, if on { 1.0 } else { 0.0 });
            }
        }
        plane
    }

    #[test]
    fn a_known_movement_is_measured_whatever_the_strokes() {
        let (drawn, valid) = (drawing(), Plane::filled(SIDE, SIDE, 1.0));
        for (length, degrees) in [(8, 30.0f32), (11, 120.0), (15, 75.0)] {
            let photo = moved(&drawn, length, degrees.to_radians()).blur(1.0);
            let (got, turn) = fitted(&drawn, &photo, &valid).expect("a streak");
            assert!((got / length as f64 - 1.0).abs() < 0.3, "{length}: {got}");
            let apart = (turn.to_degrees() - f64::from(degrees)).rem_euclid(180.0);
            assert!(
                apart.min(180.0 - apart) < 16.0,
                "{degrees}: {}",
                turn.to_degrees()
            );
        }
    }

    #[test]
    fn a_lens_out_of_focus_and_a_sharp_photo_draw_none() {
        let (drawn, valid) = (drawing(), Plane::filled(SIDE, SIDE, 1.0));
        for sigma in [0.0, 1.0, 2.5, 3.5] {
            assert_eq!(fitted(&drawn, &drawn.blur(sigma), &valid), None, "{sigma}");
        }
        // Another mark tells nothing.
        let other = drawn.warp(
            &Homography::<Exemplar, Exemplar>::affine([[0.0, 1.0, 0.0], [1.0, 0.0, 0.0]]),
            SIDE,
            SIDE,
            0.0,
        );
        assert_eq!(fitted(&drawn, &moved(&other, 11, 0.5), &valid), None);
    }
}

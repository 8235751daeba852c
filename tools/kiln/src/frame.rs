//! Frames of marks: boxes, lozenges, shields, ribbons and rings. Each split has its own, so that
//! no frame of the test lots is met while fitting or tuning.

use crate::artwork::Split;
use crate::drawing::{Bounds, Ink, Shape, ellipse, polygon, polyline};
use std::f32::consts::TAU;

/// A box round `b` with line width `w`.
pub fn boxed(split: Split, b: Bounds, w: f32, double: bool) -> Vec<Shape> {
    let mut out = polygon(&corners(split, b, 0.12), Ink::Line(w * 1.5));
    if double {
        let outer = b.grow(0.06);
        out.extend(polygon(&corners(split, outer, 0.14), Ink::Line(w * 0.6)));
    }
    out
}

/// Fit: square corners. Tune: cut corners. Test: corners notched inwards.
fn corners(split: Split, b: Bounds, cut: f32) -> Vec<(f32, f32)> {
    let (l, t, r, o) = (b.left, b.top, b.right, b.bottom);
    match split {
        Split::Fit => vec![(l, t), (r, t), (r, o), (l, o)],
        Split::Tune => vec![
            (l + cut, t),
            (r - cut, t),
            (r, t + cut),
            (r, o - cut),
            (r - cut, o),
            (l + cut, o),
            (l, o - cut),
            (l, t + cut),
        ],
        Split::Test => {
            let c = cut * 0.7;
            vec![
                (l + c, t),
                (r - c, t),
                (r - c, t + c),
                (r, t + c),
                (r, o - c),
                (r - c, o - c),
                (r - c, o),
                (l + c, o),
                (l + c, o - c),
                (l, o - c),
                (l, t + c),
                (l + c, t + c),
            ]
        }
    }
}

/// A lozenge (fit), a lying hexagon (tune) or an octagon (test), one wide and `h` high.
pub fn lozenge(split: Split, h: f32, w: f32) -> Vec<Shape> {
    let outline: Vec<(f32, f32)> = match split {
        Split::Fit => vec![(0.0, -h), (1.0, 0.0), (0.0, h), (-1.0, 0.0)],
        Split::Tune => {
            vec![
                (-0.55, -h),
                (0.55, -h),
                (1.0, 0.0),
                (0.55, h),
                (-0.55, h),
                (-1.0, 0.0),
            ]
        }
        Split::Test => {
            let (a, b) = (0.45, h * 0.45);
            vec![
                (-a, -h),
                (a, -h),
                (1.0, -b),
                (1.0, b),
                (a, h),
                (-a, h),
                (-1.0, b),
                (-1.0, -b),
            ]
        }
    };
    let inner: Vec<_> = outline.iter().map(|&(x, y)| (x * 0.9, y * 0.9)).collect();
    let mut out = polygon(&outline, Ink::Line(w * 1.5));
    out.extend(polygon(&inner, Ink::Line(w * 0.6)));
    out
}

/// A shield about 1.5 wide: plain (fit), with a pointed head (tune) or with ears (test).
pub fn shield(split: Split, w: f32) -> Vec<Shape> {
    let at = |k: f32| {
        let mut p: Vec<(f32, f32)> = match split {
            Split::Fit => vec![(-0.75, -0.85), (0.75, -0.85)],
            Split::Tune => vec![
                (-0.75, -0.7),
                (-0.4, -0.78),
                (0.0, -1.0),
                (0.4, -0.78),
                (0.75, -0.7),
            ],
            Split::Test => {
                vec![
                    (-0.85, -0.95),
                    (-0.5, -0.8),
                    (0.0, -0.86),
                    (0.5, -0.8),
                    (0.85, -0.95),
                ]
            }
        };
        let swell = if split == Split::Test { 0.1 } else { 0.0 };
        let edge = |t: f32| 0.75 * (1.0 - t * t) + swell * (t * std::f32::consts::PI).sin();
        p.extend((0..=16).map(|i| (edge(i as f32 / 16.0), -0.1 + 1.05 * i as f32 / 16.0)));
        p.extend(
            (0..16)
                .rev()
                .map(|i| (-edge(i as f32 / 16.0), -0.1 + 1.05 * i as f32 / 16.0)),
        );
        p.into_iter()
            .map(|(x, y)| (x * k, y * k))
            .collect::<Vec<_>>()
    };
    let mut out = polygon(&at(1.0), Ink::Line(w * 1.6));
    out.extend(polygon(&at(0.86), Ink::Line(w * 0.6)));
    out
}

/// A ribbon between `top` and `low`: swallow tails (fit), plain folded ends (tune), a sagging
/// band (test).
pub fn ribbon(split: Split, top: f32, low: f32, ink: Ink) -> Vec<Shape> {
    if split == Split::Test {
        let sag = |x: f32| 0.07 * (1.0 - x * x);
        let steps = || (0..=24).map(|i| -1.1 + 2.2 * i as f32 / 24.0);
        let mut p: Vec<(f32, f32)> = steps().map(|x| (x, top - 0.04 + sag(x))).collect();
        p.extend(steps().rev().map(|x| (x, low - 0.02 + sag(x))));
        return polygon(&p, ink);
    }
    let mut out = polygon(&[(-0.9, top), (0.9, top), (0.9, low), (-0.9, low)], ink);
    for side in [-1.0f32, 1.0] {
        let x = |v: f32| side * v;
        let tail = match split {
            Split::Fit => vec![
                (x(0.9), top + 0.1),
                (x(1.15), top + 0.1),
                (x(1.03), (top + low) / 2.0 + 0.1),
                (x(1.15), low + 0.1),
                (x(0.9), low + 0.1),
            ],
            _ => vec![
                (x(0.9), top),
                (x(1.12), top - 0.12),
                (x(1.12), low - 0.12),
                (x(0.9), low),
            ],
        };
        out.extend(polygon(&tail, ink));
    }
    out
}

/// The outer border of a ring mark: two lines (fit), one line with ticks (tune), beads (test).
pub fn ring(split: Split, squash: f32, w: f32, rich: bool) -> Vec<Shape> {
    let mut out = ellipse(0.0, 0.0, 1.0, squash, Ink::Line(w * 1.4));
    if !rich {
        return out;
    }
    match split {
        Split::Fit => out.extend(ellipse(0.0, 0.0, 0.95, squash * 0.95, Ink::Line(w * 0.6))),
        Split::Tune => {
            for i in 0..72 {
                let a = TAU * i as f32 / 72.0;
                let (x, y) = (a.cos(), a.sin() * squash);
                out.extend(polyline(&[(x, y), (x * 1.05, y * 1.05)], w * 0.7));
            }
        }
        Split::Test => {
            for i in 0..56 {
                let a = TAU * i as f32 / 56.0;
                let (x, y) = (1.06 * a.cos(), 1.06 * a.sin() * squash);
                out.extend(ellipse(x, y, 0.022, 0.022, Ink::Fill));
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::bounds_of;

    fn outline(shapes: &[Shape]) -> String {
        shapes
            .iter()
            .map(|s| format!("{:?}", s.path.points()))
            .collect()
    }

    #[test]
    fn no_frame_serves_two_splits() {
        let b = Bounds {
            left: -1.0,
            top: -1.0,
            right: 1.0,
            bottom: 1.0,
        };
        let all = |s: Split| {
            [
                outline(&boxed(s, b, 0.03, false)),
                outline(&lozenge(s, 0.9, 0.03)),
                outline(&shield(s, 0.03)),
                outline(&ribbon(s, 0.0, 0.4, Ink::Fill)),
                outline(&ring(s, 1.0, 0.03, true)),
            ]
        };
        let (fit, tune, test) = (all(Split::Fit), all(Split::Tune), all(Split::Test));
        for i in 0..fit.len() {
            assert!(
                fit[i] != tune[i] && tune[i] != test[i] && fit[i] != test[i],
                "frame {i}"
            );
        }
        assert!(bounds_of(&shield(Split::Test, 0.03)).width() < 2.0);
    }
}

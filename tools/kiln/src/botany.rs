//! Emblems that grow: leaves, wreaths, ears and shells, in a unit box about the origin.

use crate::drawing::{Ink, Shape, ellipse, moved, polar, polyline};
use crate::emblem::solid_or_line;
use crate::random::Rng;
use resvg::tiny_skia::{PathBuilder, Transform};
use std::f32::consts::{PI, TAU};

/// A pointed leaf from `(x, y)` in direction `angle`.
pub fn leaf(x: f32, y: f32, angle: f32, length: f32, breadth: f32, ink: Ink) -> Vec<Shape> {
    let mut b = PathBuilder::new();
    let (c, s) = (angle.cos(), angle.sin());
    let at = |u: f32, v: f32| (x + u * c - v * s, y + u * s + v * c);
    let (tip, l, r) = (
        at(length, 0.0),
        at(length * 0.45, breadth),
        at(length * 0.45, -breadth),
    );
    b.move_to(x, y);
    b.quad_to(l.0, l.1, tip.0, tip.1);
    b.quad_to(r.0, r.1, x, y);
    b.close();
    b.finish()
        .map(|path| vec![Shape { path, ink }])
        .unwrap_or_default()
}

pub fn wreath(rng: &mut Rng, w: f32) -> Vec<Shape> {
    let (n, ink) = (7 + rng.below(5), solid_or_line(rng, w));
    let (len, tilt) = (rng.range(0.3, 0.42), rng.range(0.3, 0.7));
    let mut out = Vec::new();
    for side in [-1.0, 1.0] {
        let stem: Vec<_> = (0..=20)
            .map(|i| {
                let a = PI / 2.0 - side * (0.1 + 2.4 * i as f32 / 20.0);
                (0.8 * a.cos(), 0.8 * a.sin())
            })
            .collect();
        out.extend(polyline(&stem, w));
        for i in 0..n {
            let a = PI / 2.0 - side * (0.25 + 2.2 * i as f32 / n as f32);
            let along = a - side * PI / 2.0;
            for lean in [-tilt, tilt] {
                out.extend(leaf(
                    0.8 * a.cos(),
                    0.8 * a.sin(),
                    along + lean,
                    len,
                    0.11,
                    ink,
                ));
            }
        }
    }
    out
}

pub fn sprig(rng: &mut Rng, w: f32) -> Vec<Shape> {
    let (n, ink, bend) = (
        3 + rng.below(4),
        solid_or_line(rng, w),
        rng.range(-0.3, 0.3),
    );
    let stem: Vec<_> = (0..=16)
        .map(|i| (bend * (i as f32 / 8.0 - 1.0).powi(2), 1.0 - i as f32 / 8.0))
        .collect();
    let mut out = polyline(&stem, w * 1.3);
    let length = rng.range(0.45, 0.65);
    for i in 0..n {
        let (x, y) = stem[2 + i * 12 / n];
        for side in [-1.0, 1.0] {
            out.extend(leaf(
                x,
                y,
                -PI / 2.0 + side * rng.range(0.7, 1.0),
                length,
                0.2,
                ink,
            ));
        }
    }
    out.extend(leaf(stem[15].0, stem[15].1, -PI / 2.0, 0.5, 0.2, ink));
    out
}

pub fn wheat(rng: &mut Rng, w: f32) -> Vec<Shape> {
    let ink = solid_or_line(rng, w);
    let mut ear = polyline(&[(0.0, 1.0), (0.0, -0.4)], w);
    for i in 0..5 {
        for side in [-1.0, 1.0] {
            ear.extend(leaf(
                0.0,
                0.1 - 0.2 * i as f32,
                -PI / 2.0 + side * 0.5,
                0.34,
                0.13,
                ink,
            ));
        }
    }
    let spread = rng.range(0.35, 0.55);
    let mut out = ear.clone();
    for side in [-1.0, 1.0] {
        let ts = Transform::from_rotate_at(side * spread * 57.3, 0.0, 0.8);
        out.extend(moved(&ear, ts));
    }
    out.extend(polyline(&[(-0.25, 0.55), (0.25, 0.55)], w * 2.2));
    out
}

pub fn acorn(rng: &mut Rng, w: f32) -> Vec<Shape> {
    let mut out = leaf(0.0, 1.0, -PI / 2.0, 1.35, 0.95, Ink::Line(w * 1.3));
    out.extend(polar(
        0.0,
        -0.25,
        60,
        |a| (0.62, if a.sin() < 0.0 { 0.42 } else { 0.12 }),
        solid_or_line(rng, w),
    ));
    out.extend(polyline(&[(0.0, -0.65), (0.12, -0.95)], w * 2.0));
    for side in [-1.0, 1.0] {
        out.extend(leaf(
            side * 0.1,
            -0.7,
            -PI / 2.0 + side * 1.2,
            0.8,
            0.25,
            Ink::Line(w),
        ));
    }
    out
}

pub fn rosette(rng: &mut Rng, w: f32) -> Vec<Shape> {
    let (n, depth) = (5 + rng.below(5), rng.range(0.15, 0.3));
    let mut out = polar(
        0.0,
        0.0,
        180,
        |a| {
            let r = 1.0 - depth * (0.5 + 0.5 * (a * n as f32).cos());
            (r, r)
        },
        Ink::Line(w * 1.3),
    );
    for i in 0..n {
        let a = TAU * i as f32 / n as f32;
        out.extend(leaf(
            0.28 * a.cos(),
            0.28 * a.sin(),
            a,
            0.48,
            0.2,
            solid_or_line(rng, w),
        ));
    }
    out.extend(ellipse(0.0, 0.0, 0.2, 0.2, Ink::Line(w)));
    out
}

pub fn shell(rng: &mut Rng, w: f32) -> Vec<Shape> {
    let n = 5 + 2 * rng.below(3);
    let mut out = Vec::new();
    for i in 0..n {
        let a = -PI / 2.0 + (i as f32 / (n - 1) as f32 - 0.5) * 2.3;
        out.extend(leaf(
            0.0,
            0.7,
            a,
            1.6 - 0.35 * (a + PI / 2.0).abs(),
            0.26,
            Ink::Line(w),
        ));
    }
    out.extend(ellipse(0.0, 0.78, 0.22, 0.14, Ink::Fill));
    out
}

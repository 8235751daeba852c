//! Emblems drawn by rule: wreaths, shields, crowns and the like, in a unit box about the origin.

use crate::drawing::{Ink, Shape, ellipse, moved, polar, polygon, polyline};
use crate::random::Rng;
use resvg::tiny_skia::{PathBuilder, Transform};
use std::f32::consts::{PI, TAU};

/// The kinds of emblem; each split of the bench uses kinds that the others do not.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Emblem {
    Wreath,
    Shield,
    Crown,
    Anchor,
    Sprig,
    Star,
    Urn,
    Ring,
    Rope,
    Tower,
    Shell,
    Rosette,
    Key,
    Wheat,
    Fish,
    Bell,
    Knot,
    Sun,
    Keyhole,
    Mill,
    Acorn,
}

impl Emblem {
    pub const FIT: [Self; 7] = [
        Self::Wreath,
        Self::Crown,
        Self::Star,
        Self::Shell,
        Self::Fish,
        Self::Ring,
        Self::Mill,
    ];
    pub const TUNE: [Self; 7] = [
        Self::Shield,
        Self::Sprig,
        Self::Rope,
        Self::Rosette,
        Self::Bell,
        Self::Key,
        Self::Acorn,
    ];
    pub const TEST: [Self; 7] = [
        Self::Anchor,
        Self::Urn,
        Self::Tower,
        Self::Wheat,
        Self::Knot,
        Self::Sun,
        Self::Keyhole,
    ];

    /// The drawing, with its own proportions from `rng` and line width `w` (box side is 2).
    pub fn draw(self, rng: &mut Rng, w: f32) -> Vec<Shape> {
        match self {
            Self::Wreath => wreath(rng, w),
            Self::Shield => shield(rng, w),
            Self::Crown => crown(rng, w),
            Self::Anchor => anchor(rng, w),
            Self::Sprig => sprig(rng, w),
            Self::Star => star(rng, w),
            Self::Urn => urn(rng, w),
            Self::Ring => ring(rng, w),
            Self::Rope => rope(rng, w),
            Self::Tower => tower(rng, w),
            Self::Shell => shell(rng, w),
            Self::Rosette => rosette(rng, w),
            Self::Key => key(rng, w),
            Self::Wheat => wheat(rng, w),
            Self::Fish => fish(rng, w),
            Self::Bell => bell(rng, w),
            Self::Knot => knot(rng, w),
            Self::Sun => sun(rng, w),
            Self::Keyhole => keyhole(rng, w),
            Self::Mill => mill(rng, w),
            Self::Acorn => acorn(rng, w),
        }
    }
}

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

fn solid_or_line(rng: &mut Rng, w: f32) -> Ink {
    if rng.chance(0.5) {
        Ink::Fill
    } else {
        Ink::Line(w)
    }
}

fn turned(shapes: &[Shape], angle: f32) -> Vec<Shape> {
    moved(shapes, Transform::from_rotate(angle.to_degrees()))
}

fn wreath(rng: &mut Rng, w: f32) -> Vec<Shape> {
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

fn shield_outline(k: f32) -> Vec<(f32, f32)> {
    let mut p = vec![(-0.75 * k, -0.85 * k), (0.75 * k, -0.85 * k)];
    for i in 0..=16 {
        let t = i as f32 / 16.0;
        p.push((0.75 * k * (1.0 - t * t), (-0.1 + 1.05 * t) * k));
    }
    for i in (0..16).rev() {
        let t = i as f32 / 16.0;
        p.push((-0.75 * k * (1.0 - t * t), (-0.1 + 1.05 * t) * k));
    }
    p
}

fn shield(rng: &mut Rng, w: f32) -> Vec<Shape> {
    let mut out = polygon(&shield_outline(1.0), Ink::Line(w * 1.6));
    out.extend(polygon(&shield_outline(0.84), Ink::Line(w * 0.6)));
    match rng.below(3) {
        0 => out.extend(polygon(
            &[
                (-0.6, -0.3),
                (0.0, 0.15),
                (0.6, -0.3),
                (0.6, 0.05),
                (0.0, 0.5),
                (-0.6, 0.05),
            ],
            Ink::Fill,
        )),
        1 => (0..3).for_each(|i| {
            let (x, y) = [(-0.3, -0.35), (0.3, -0.35), (0.0, 0.25)][i];
            out.extend(star_at(x, y, 0.24, 5, 0.45, Ink::Fill));
        }),
        _ => (0..5).for_each(|i| {
            let x = -0.5 + 0.25 * i as f32;
            out.extend(polyline(&[(x, -0.7), (x, 0.45 - x.abs())], w * 1.3));
        }),
    }
    out
}

fn crown(rng: &mut Rng, w: f32) -> Vec<Shape> {
    let n = 3 + 2 * rng.below(2);
    let mut p = vec![(-0.8, 0.5)];
    for i in 0..n {
        let x = -0.95 + 1.9 * i as f32 / (n - 1) as f32;
        p.push((x, -0.5 - 0.2 * (1.0 - x * x)));
        if i + 1 < n {
            p.push((x + 0.95 / (n - 1) as f32, 0.1));
        }
    }
    p.push((0.8, 0.5));
    let mut out = polygon(&p, solid_or_line(rng, w * 1.4));
    for i in 0..n {
        let x = -0.95 + 1.9 * i as f32 / (n - 1) as f32;
        out.extend(ellipse(
            x,
            -0.62 - 0.2 * (1.0 - x * x),
            0.09,
            0.09,
            Ink::Fill,
        ));
    }
    out.extend(polygon(
        &[(-0.8, 0.6), (0.8, 0.6), (0.8, 0.8), (-0.8, 0.8)],
        Ink::Line(w),
    ));
    out
}

fn anchor(rng: &mut Rng, w: f32) -> Vec<Shape> {
    let k = w * rng.range(1.6, 2.6);
    let mut out = ellipse(0.0, -0.8, 0.16, 0.16, Ink::Line(k * 0.8));
    out.extend(polyline(&[(0.0, -0.62), (0.0, 0.9)], k));
    let bar = rng.range(0.35, 0.55);
    out.extend(polyline(&[(-bar, -0.42), (bar, -0.42)], k));
    let arc: Vec<_> = (0..=24)
        .map(|i| {
            let a = PI * (0.1 + 0.8 * i as f32 / 24.0);
            (0.8 * a.cos(), 0.1 + 0.8 * a.sin())
        })
        .collect();
    out.extend(polyline(&arc, k));
    for side in [-1.0f32, 1.0] {
        out.extend(polygon(
            &[
                (side * 0.95, 0.45),
                (side * 0.55, 0.25),
                (side * 0.82, 0.02),
            ],
            Ink::Fill,
        ));
    }
    out
}

fn sprig(rng: &mut Rng, w: f32) -> Vec<Shape> {
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

fn star_at(x: f32, y: f32, r: f32, points: usize, inner: f32, ink: Ink) -> Vec<Shape> {
    let p: Vec<_> = (0..points * 2)
        .map(|i| {
            let a = PI * i as f32 / points as f32 - PI / 2.0;
            let k = if i % 2 == 0 { r } else { r * inner };
            (x + k * a.cos(), y + k * a.sin())
        })
        .collect();
    polygon(&p, ink)
}

fn star(rng: &mut Rng, w: f32) -> Vec<Shape> {
    let (n, inner) = (4 + rng.below(6), rng.range(0.3, 0.7));
    let mut out = star_at(0.0, 0.0, 1.0, n, inner, Ink::Line(w * 1.3));
    out.extend(star_at(0.0, 0.0, 0.72, n, inner, solid_or_line(rng, w)));
    if rng.chance(0.5) {
        out.extend(ellipse(0.0, 0.0, 0.2, 0.2, Ink::Erase));
    }
    out
}

fn urn(rng: &mut Rng, w: f32) -> Vec<Shape> {
    let (belly, neck) = (rng.range(0.55, 0.75), rng.range(0.25, 0.4));
    let profile = |y: f32| -> f32 {
        if y < -0.6 {
            neck + (-(y + 0.6)) * 0.5
        } else {
            belly * (1.0 - ((y + 0.05) / 0.75).powi(2)).max(0.08).sqrt()
        }
    };
    let ys: Vec<f32> = (0..=30).map(|i| -0.85 + 1.5 * i as f32 / 30.0).collect();
    let mut p: Vec<_> = ys.iter().map(|&y| (profile(y), y)).collect();
    p.extend(ys.iter().rev().map(|&y| (-profile(y), y)));
    let mut out = polygon(&p, Ink::Line(w * 1.4));
    for k in 0..2 + rng.below(3) {
        let y = -0.35 + 0.22 * k as f32;
        out.extend(polyline(&[(-profile(y), y), (profile(y), y)], w));
    }
    out.extend(polygon(
        &[(-0.35, 0.8), (0.35, 0.8), (0.45, 0.95), (-0.45, 0.95)],
        Ink::Fill,
    ));
    for side in [-1.0, 1.0] {
        out.extend(ellipse(
            side * (belly + 0.08),
            -0.35,
            0.2,
            0.26,
            Ink::Line(w),
        ));
    }
    out
}

fn ring(rng: &mut Rng, w: f32) -> Vec<Shape> {
    let n = 12 + rng.below(20);
    let mut out = ellipse(0.0, 0.0, 1.0, 1.0, Ink::Line(w));
    out.extend(ellipse(0.0, 0.0, 0.6, 0.6, Ink::Line(w)));
    for i in 0..n {
        let a = TAU * i as f32 / n as f32;
        out.extend(ellipse(0.8 * a.cos(), 0.8 * a.sin(), 0.07, 0.07, Ink::Fill));
    }
    out.extend(star_at(0.0, 0.0, 0.45, 3 + rng.below(5), 0.4, Ink::Fill));
    out
}

fn rope(rng: &mut Rng, w: f32) -> Vec<Shape> {
    let n = 26 + rng.below(14);
    let mut out = Vec::new();
    for i in 0..n {
        let a = TAU * i as f32 / n as f32;
        let (b, c) = (a + 0.16, a - 0.02);
        out.extend(polyline(
            &[(0.84 * c.cos(), 0.84 * c.sin()), (b.cos(), b.sin())],
            w,
        ));
    }
    out.extend(ellipse(0.0, 0.0, 0.8, 0.8, Ink::Line(w * 0.7)));
    let bow = turned(&leaf(0.0, 0.0, 0.0, 0.7, 0.25, Ink::Line(w)), rng.angle());
    for k in 0..4 {
        out.extend(turned(&bow, PI / 2.0 * k as f32));
    }
    out
}

fn tower(rng: &mut Rng, w: f32) -> Vec<Shape> {
    let (half, n) = (rng.range(0.4, 0.6), 3 + rng.below(2));
    let mut out = polygon(
        &[
            (-half, -0.5),
            (half, -0.5),
            (half + 0.12, 0.95),
            (-half - 0.12, 0.95),
        ],
        Ink::Line(w * 1.4),
    );
    for i in 0..n {
        let x = -half - 0.1 + (2.0 * half + 0.2) * (i as f32 + 0.5) / n as f32;
        let d = (half + 0.1) / n as f32 * 0.65;
        out.extend(polygon(
            &[(x - d, -0.9), (x + d, -0.9), (x + d, -0.55), (x - d, -0.55)],
            Ink::Fill,
        ));
    }
    out.extend(polygon(
        &[
            (-0.18, 0.95),
            (-0.18, 0.5),
            (0.0, 0.3),
            (0.18, 0.5),
            (0.18, 0.95),
        ],
        Ink::Fill,
    ));
    for row in 0..3 {
        let y = -0.3 + 0.2 * row as f32;
        out.extend(polyline(&[(-half, y), (half, y)], w * 0.6));
    }
    out
}

fn shell(rng: &mut Rng, w: f32) -> Vec<Shape> {
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

fn rosette(rng: &mut Rng, w: f32) -> Vec<Shape> {
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

fn key(rng: &mut Rng, w: f32) -> Vec<Shape> {
    let mut out = Vec::new();
    for k in 0..3 {
        let a = TAU * k as f32 / 3.0 - PI / 2.0;
        out.extend(ellipse(
            0.22 * a.cos(),
            -0.6 + 0.22 * a.sin(),
            0.2,
            0.2,
            Ink::Line(w * 1.5),
        ));
    }
    out.extend(polyline(&[(0.0, -0.3), (0.0, 1.0)], w * 2.0));
    for i in 0..2 + rng.below(3) {
        let y = 0.9 - 0.2 * i as f32;
        out.extend(polyline(&[(0.0, y), (rng.range(0.25, 0.5), y)], w * 1.8));
    }
    out
}

fn wheat(rng: &mut Rng, w: f32) -> Vec<Shape> {
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

fn fish(rng: &mut Rng, w: f32) -> Vec<Shape> {
    let mut out = leaf(-0.95, 0.0, 0.0, 1.6, 0.75, Ink::Line(w * 1.4));
    out.extend(polygon(
        &[(0.55, 0.0), (1.0, -0.4), (0.88, 0.0), (1.0, 0.4)],
        Ink::Fill,
    ));
    out.extend(ellipse(-0.6, -0.06, 0.06, 0.06, Ink::Fill));
    for i in 0..3 + rng.below(3) {
        let x = -0.35 + 0.2 * i as f32;
        let arc: Vec<_> = (0..=8)
            .map(|k| {
                let t = k as f32 / 4.0 - 1.0;
                (x + 0.12 * (1.0 - t * t), 0.26 * t)
            })
            .collect();
        out.extend(polyline(&arc, w));
    }
    out
}

fn bell(rng: &mut Rng, w: f32) -> Vec<Shape> {
    let waist = rng.range(0.35, 0.5);
    let half: Vec<_> = (0..=20)
        .map(|i| {
            let t = i as f32 / 20.0;
            (waist * t.powf(0.4) + 0.4 * t.powi(5), -0.75 + 1.4 * t)
        })
        .collect();
    let mut p = half.clone();
    p.extend(half.iter().rev().map(|&(x, y)| (-x, y)));
    let mut out = polygon(&p, solid_or_line(rng, w * 1.4));
    out.extend(ellipse(0.0, 0.8, 0.15, 0.15, Ink::Fill));
    out.extend(ellipse(0.0, -0.86, 0.12, 0.12, Ink::Line(w)));
    out
}

fn knot(rng: &mut Rng, w: f32) -> Vec<Shape> {
    let (p, q) = ([2.0, 3.0][rng.below(2)], [5.0, 7.0][rng.below(2)]);
    let points: Vec<_> = (0..360)
        .map(|i| {
            let t = TAU * i as f32 / 360.0;
            let r = 0.68 + 0.3 * (q * t).cos();
            (r * (p * t).cos(), r * (p * t).sin())
        })
        .collect();
    let mut out = polygon(&points, Ink::Line(w * 1.8));
    out.extend(polygon(&points, Ink::EraseLine(w * 0.7)));
    out
}

fn sun(rng: &mut Rng, w: f32) -> Vec<Shape> {
    let n = 10 + rng.below(8);
    let mut out = ellipse(0.0, 0.0, 0.5, 0.5, Ink::Line(w * 1.4));
    for i in 0..n {
        let a = TAU * i as f32 / n as f32;
        let far = if i % 2 == 0 { 0.45 } else { 0.3 };
        out.extend(leaf(0.58 * a.cos(), 0.58 * a.sin(), a, far, 0.1, Ink::Fill));
    }
    out.extend(ellipse(-0.17, -0.1, 0.05, 0.05, Ink::Fill));
    out.extend(ellipse(0.17, -0.1, 0.05, 0.05, Ink::Fill));
    out.extend(polyline(&[(-0.18, 0.15), (0.0, 0.24), (0.18, 0.15)], w));
    out
}

fn keyhole(rng: &mut Rng, w: f32) -> Vec<Shape> {
    let mut out = polar(0.0, 0.0, 4, |_| (1.0, 1.0), Ink::Line(w * 1.6));
    out.extend(ellipse(0.0, -0.15, 0.24, 0.24, Ink::Fill));
    out.extend(polygon(
        &[(-0.1, -0.1), (0.1, -0.1), (0.22, 0.5), (-0.22, 0.5)],
        Ink::Fill,
    ));
    let d = rng.range(0.5, 0.62);
    for (x, y) in [(0.0, -d), (d, 0.0), (0.0, d + 0.05), (-d, 0.0)] {
        out.extend(ellipse(x, y, 0.07, 0.07, Ink::Fill));
    }
    out
}

fn mill(rng: &mut Rng, w: f32) -> Vec<Shape> {
    let mut out = polygon(
        &[(-0.25, -0.2), (0.25, -0.2), (0.4, 1.0), (-0.4, 1.0)],
        solid_or_line(rng, w),
    );
    let sail = polygon(
        &[(0.08, 0.0), (0.9, 0.0), (0.9, 0.24), (0.2, 0.24)],
        Ink::Line(w),
    );
    let lean = rng.range(0.2, 1.2);
    for k in 0..4 {
        let ts = Transform::from_rotate((lean + PI / 2.0 * k as f32).to_degrees());
        out.extend(moved(&sail, ts.post_translate(0.0, -0.25)));
    }
    out
}

fn acorn(rng: &mut Rng, w: f32) -> Vec<Shape> {
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

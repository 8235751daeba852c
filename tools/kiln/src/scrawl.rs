//! Notes and labels of wide lots: other hands, pens, papers and prints than any split has, so that what is
//! trained on them does not take the next unknown hand for a stamp.

use crate::artwork::{Artwork, Face};
use crate::clutter::{drawn, free_place, written};
use crate::colour::{Rgb, luma, srgb, varied};
use crate::decal::Stuff;
use crate::drawing::{
    Ink, Shape, bounds_of, ellipse, fitted, moved, paint_shapes, polygon, polyline,
};
use crate::plane::Plane;
use crate::random::Rng;
use crate::shoot::Set;
use crate::top::paper_of;
use resvg::tiny_skia::{Pixmap, Transform};

const FACES: [Face; 5] = [
    Face::Script,
    Face::Script,
    Face::Script,
    Face::Sans,
    Face::Serif,
];
/// What people write with on a dark glaze, and on a light one: graphite most of all.
const CHALKS: [u32; 3] = [0xE8E4DA, 0xD8D060, 0xB8B8BC];
const PENS: [u32; 8] = [
    0x5A5A60, 0x6C6C70, 0x4A4A50, 0x78767A, 0x5E5C66, 0x2A3A8C, 0xA83A34, 0x1C1C20,
];
/// Luma of a glaze (linear) below which pencil would not show.
const DARK_GLAZE: f32 = 0.12;

/// What a dealer, or a child, writes on a base.
fn words(rng: &mut Rng) -> String {
    let letter = |rng: &mut Rng| char::from(b'A' + rng.below(26) as u8);
    let figure = |rng: &mut Rng| match rng.below(3) {
        0 => 1 + rng.below(20),
        1 => 1 + rng.below(100),
        _ => 1 + rng.below(2000),
    };
    match rng.below(11) {
        0 => format!("{}.{}0", figure(rng), rng.below(10)),
        1 => format!("{}/-", figure(rng)),
        2 => format!("{} {}", letter(rng), figure(rng)),
        3 => format!("{}", figure(rng)),
        4 => format!("{}{}{}", letter(rng), letter(rng), figure(rng)),
        5 => format!("{}-{}", figure(rng), figure(rng)),
        6 => format!("{} for {}", 2 + rng.below(6), figure(rng)),
        7 => format!("{}x", 2 + rng.below(11)),
        8 => format!("No {}", figure(rng)),
        9 => format!("{}{}", letter(rng).to_ascii_lowercase(), letter(rng)),
        _ => format!("{}.{:02} {}", figure(rng), rng.below(100), letter(rng)),
    }
}

/// A few strokes that are no letters: ticks, crosses, loops.
fn strokes(rng: &mut Rng) -> Vec<Shape> {
    let thick = rng.range(0.02, 0.08);
    let mut out = Vec::new();
    for k in 0..1 + rng.below(5) {
        let nodes: [(f32, f32); 4] =
            std::array::from_fn(|_| (k as f32 * 0.5 + 0.35 * rng.normal(), 0.5 * rng.normal()));
        let points: Vec<(f32, f32)> = (0..=24).map(|i| bezier(&nodes, i as f32 / 24.0)).collect();
        out.extend(polyline(&points, thick));
    }
    out
}

fn bezier(n: &[(f32, f32); 4], t: f32) -> (f32, f32) {
    let s = 1.0 - t;
    let w = [s * s * s, 3.0 * s * s * t, 3.0 * s * t * t, t * t * t];
    (0..4).fold((0.0, 0.0), |(x, y), i| {
        (x + w[i] * n[i].0, y + w[i] * n[i].1)
    })
}

/// One or two lines of writing, leaning, now and then underlined or ringed.
fn writing(artwork: &Artwork, rng: &mut Rng) -> Vec<Shape> {
    let mut shapes = if rng.chance(0.25) {
        strokes(rng)
    } else {
        written(artwork, &words(rng), &FACES, rng)
    };
    if rng.chance(0.2) {
        let below = written(artwork, &words(rng), &FACES, rng);
        let b = bounds_of(&shapes);
        let shift = Transform::from_translate(0.3 * rng.normal(), b.height() * 1.4);
        shapes.extend(moved(&below, shift));
    }
    let lean =
        Transform::from_skew(rng.range(-0.35, 0.35), 0.0).post_scale(rng.range(0.7, 1.4), 1.0);
    shapes = moved(&shapes, lean);
    let b = bounds_of(&shapes);
    let thick = b.height() * rng.range(0.03, 0.09);
    if rng.chance(0.15) {
        let y = b.bottom + b.height() * 0.15;
        shapes.extend(polyline(
            &[(b.left, y), (b.right, y + b.height() * 0.1 * rng.normal())],
            thick,
        ));
    }
    if rng.chance(0.12) {
        shapes.extend(ellipse(
            (b.left + b.right) / 2.0,
            (b.top + b.bottom) / 2.0,
            b.width() * 0.65,
            b.height() * rng.range(0.75, 1.1),
            Ink::Line(thick),
        ));
    }
    shapes
}

/// Writing in pencil, pen or chalk somewhere on the base.
pub fn note(set: &mut Set, artwork: &Artwork, rng: &mut Rng) {
    let shapes = writing(artwork, rng);
    let size = rng.range(0.1, 0.55);
    let at = free_place(set, size, rng);
    let dark = luma(set.scene.glaze.colour) < DARK_GLAZE;
    let colours: &[u32] = if dark { &CHALKS } else { &PENS };
    let stuff = Stuff::Ink {
        colour: varied(srgb(*rng.pick(colours)), 0.1, rng),
        opacity: rng.range(0.25, 0.85),
        gloss: rng.range(0.8, 2.0),
    };
    let (decal, _, _) = drawn(set, &shapes, size, at, rng.angle(), stuff);
    set.scene.decals.push(decal);
}

fn colour(rng: &mut Rng, least: u8, most: u8) -> [u8; 4] {
    let mut channel = || least + (rng.unit() * f32::from(most - least)) as u8;
    [channel(), channel(), channel(), 255]
}

/// The outline of a label that fills `w` by `h` pixels: square, rounded, round, a star or a torn strip.
fn outline(w: f32, h: f32, rng: &mut Rng) -> Vec<Shape> {
    let (cx, cy) = (w / 2.0, h / 2.0);
    let (rx, ry) = (cx - 2.0, cy - 2.0);
    match rng.below(5) {
        0 => ellipse(cx, cy, rx, ry, Ink::Fill),
        1 => {
            let teeth = 8.0 + rng.below(14) as f32;
            crate::drawing::polar(
                cx,
                cy,
                96,
                |a| {
                    let k = 0.9 + 0.1 * (a * teeth).sin();
                    (rx * k, ry * k)
                },
                Ink::Fill,
            )
        }
        2 => {
            let mut torn: Vec<(f32, f32)> = vec![(2.0, 2.0), (w - 2.0, 2.0)];
            torn.extend((0..9).map(|i| {
                let x = w - 2.0 - i as f32 / 8.0 * (w - 4.0);
                (x, h - 2.0 - 0.15 * h * rng.unit())
            }));
            polygon(&torn, Ink::Fill)
        }
        3 => crate::drawing::polar(
            cx,
            cy,
            96,
            |a| {
                // A superellipse of the fourth degree: rounded corners.
                let k = (a.cos().powi(4) + a.sin().powi(4)).powf(-0.25);
                (rx * k, ry * k)
            },
            Ink::Fill,
        ),
        _ => polygon(
            &[
                (2.0, 2.0),
                (w - 2.0, 2.0),
                (w - 2.0, h - 2.0),
                (2.0, h - 2.0),
            ],
            Ink::Fill,
        ),
    }
}

/// Bars of many widths side by side, as tills read them.
fn bars(x: f32, y: f32, w: f32, h: f32, rng: &mut Rng) -> Vec<Shape> {
    let mut out = Vec::new();
    let mut at = x;
    while at < x + w {
        let wide = w * rng.range(0.008, 0.03);
        out.extend(polygon(
            &[(at, y), (at + wide, y), (at + wide, y + h), (at, y + h)],
            Ink::Fill,
        ));
        at += wide + w * rng.range(0.008, 0.03);
    }
    out
}

/// A paper label as outline and colours; `pixels` wide.
pub fn label(artwork: &Artwork, pixels: u32, rng: &mut Rng) -> Option<(Plane, Vec<Rgb>)> {
    let high = rng.range(0.35, 1.0);
    let (w, h) = (pixels as f32, (pixels as f32 * high).floor().max(8.0));
    let mut map = Pixmap::new(pixels.max(8), h as u32)?;
    let ground = match rng.below(3) {
        0 => colour(rng, 225, 255),
        1 => colour(rng, 90, 255),
        _ => [
            250,
            200 + rng.below(50) as u8,
            40 + rng.below(200) as u8,
            255,
        ],
    };
    let body = outline(w, h, rng);
    paint_shapes(&mut map, &body, Transform::identity(), ground);
    let print = match rng.below(3) {
        0 => colour(rng, 20, 60),
        1 => [30, 40, 140, 255],
        _ => colour(rng, 10, 140),
    };
    let draw = |map: &mut Pixmap, shapes: &[Shape]| {
        paint_shapes(map, shapes, Transform::identity(), print);
    };
    if rng.chance(0.3) {
        let frame: Vec<Shape> = body
            .iter()
            .map(|s| Shape {
                ink: Ink::Line(w * 0.02),
                ..s.clone()
            })
            .collect();
        let inner = Transform::from_scale(0.9, 0.9).post_translate(w * 0.05, h * 0.05);
        draw(&mut map, &moved(&frame, inner));
    }
    let lines = rng.below(4);
    for k in 0..lines {
        let line = if rng.chance(0.5) {
            writing(artwork, rng)
        } else {
            let word = rng.pick(&artwork.words.places).to_uppercase();
            written(artwork, &word, &FACES, rng)
        };
        let y = h * (k as f32 + 0.5 + 0.1 * rng.normal()) / lines as f32;
        let high = bounds_of(&line);
        let most = (h * 0.8 / lines as f32) / (high.height() / high.width().max(1e-3)).max(1e-3);
        let wide = (w * rng.range(0.35, 0.8)).min(most);
        draw(&mut map, &fitted(&line, w / 2.0, y, wide));
    }
    if rng.chance(0.15) {
        let (y, high) = (h * rng.range(0.5, 0.7), h * rng.range(0.15, 0.25));
        draw(&mut map, &bars(w * 0.15, y, w * 0.7, high, rng));
    }
    Some(paper_of(&map))
}

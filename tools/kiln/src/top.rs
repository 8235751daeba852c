//! What stands on the upper side: bands, sprays, scattered sprigs, a motif in the middle; and
//! printed paper that a folder of photos holds too.

use crate::artwork::{Artwork, Face};
use crate::botany::leaf;
use crate::clutter::drawn;
use crate::colour::{Rgb, srgb, varied};
use crate::decal::{Decal, Stuff};
use crate::drawing::{Ink, Setting, Shape, bounds_of, fitted, moved, paint_shapes, polygon};
use crate::emblem::Emblem;
use crate::glaze::InkTone;
use crate::plane::Plane;
use crate::random::Rng;
use crate::scene::Band;
use crate::shoot::Set;
use resvg::tiny_skia::{Pixmap, Transform};
use std::f32::consts::{PI, TAU};

const PAINTS: [u32; 9] = [
    0xB2463F, 0x2F5E9B, 0x3F7A4D, 0xC98A2B, 0x7B4A86, 0xD9788F, 0x4A4A4E, 0x5E8FA8, 0x8C5A33,
];

fn paint(rng: &mut Rng) -> Rgb {
    varied(srgb(*rng.pick(&PAINTS)), 0.1, rng)
}

fn lay(set: &mut Set, shapes: &[Shape], size: f32, at: (f32, f32), angle: f32, colour: Rgb) {
    let stuff = Stuff::Ink {
        colour,
        opacity: 0.92,
        gloss: 1.0,
    };
    let (decal, _, _) = drawn(set, shapes, size, at, angle, stuff);
    set.scene.decals.push(decal);
}

/// Decorates the top that `set` shows.
pub fn decorate(set: &mut Set, artwork: &Artwork, rng: &mut Rng) {
    bands(set, rng);
    match rng.below(4) {
        0 => sprays(set, artwork, rng),
        1 => scattered(set, artwork, rng),
        2 => {
            sprays(set, artwork, rng);
            centre(set, artwork, rng);
        }
        _ => centre(set, artwork, rng),
    }
}

fn bands(set: &mut Set, rng: &mut Rng) {
    let mut outer = rng.range(0.96, 1.0);
    for _ in 0..rng.below(4) {
        let width = rng.range(0.008, 0.06);
        let colour = if rng.chance(0.3) {
            InkTone::Gold.colour(rng)
        } else {
            paint(rng)
        };
        let wear = rng.range(0.0, 0.4);
        set.scene.bands.push(Band {
            inner: outer - width,
            outer,
            colour,
            wear,
        });
        outer -= width + rng.range(0.02, 0.12);
    }
}

/// A flower or sprig in up to three colours, as parts that lie over each other.
struct Motif {
    parts: Vec<(Vec<Shape>, f32, Rgb)>,
}

fn motif(artwork: &Artwork, rng: &mut Rng) -> Motif {
    let mut parts = Vec::new();
    if rng.chance(0.35) {
        let icon = rng.pick(&artwork.icons).draw(rng);
        parts.push((icon, 1.0, paint(rng)));
        return Motif { parts };
    }
    let n = 4 + rng.below(5);
    let stem: Vec<Shape> = (0..n)
        .flat_map(|i| {
            let a = TAU * (i as f32 + 0.5) / n as f32;
            leaf(0.2 * a.cos(), 0.2 * a.sin(), a, 0.8, 0.18, Ink::Fill)
        })
        .collect();
    parts.push((stem, 1.0, varied(srgb(0x4F7F4A), 0.15, rng)));
    let petals: Vec<Shape> = (0..n)
        .flat_map(|i| {
            let a = TAU * i as f32 / n as f32;
            leaf(0.1 * a.cos(), 0.1 * a.sin(), a, 0.7, 0.3, Ink::Fill)
        })
        .collect();
    parts.push((petals, 0.75, paint(rng)));
    parts.push((Emblem::Ring.draw(rng, 0.1), 0.22, srgb(0xE0B43A)));
    Motif { parts }
}

fn lay_motif(set: &mut Set, m: &Motif, size: f32, at: (f32, f32), angle: f32) {
    for (shapes, k, colour) in &m.parts {
        lay(set, shapes, size * k, at, angle, *colour);
    }
}

fn sprays(set: &mut Set, artwork: &Artwork, rng: &mut Rng) {
    let (m, n) = (motif(artwork, rng), 3 + rng.below(9));
    let (r, turn) = (rng.range(0.74, 0.86), rng.angle());
    let size = (TAU * r / n as f32 * 0.8).min(rng.range(0.18, 0.34));
    for i in 0..n {
        let a = turn + TAU * i as f32 / n as f32;
        let at = (r * a.cos() * set.scene.base.stretch, r * a.sin());
        lay_motif(set, &m, size, at, a + PI / 2.0);
    }
}

fn scattered(set: &mut Set, artwork: &Artwork, rng: &mut Rng) {
    let m = [motif(artwork, rng), motif(artwork, rng)];
    let size = rng.range(0.08, 0.18);
    for _ in 0..14 + rng.below(24) {
        let (a, r) = (rng.angle(), rng.unit().sqrt() * 0.92);
        let at = (r * a.cos() * set.scene.base.stretch, r * a.sin());
        let turn = rng.angle();
        lay_motif(set, &m[rng.below(2)], size * rng.range(0.7, 1.3), at, turn);
    }
}

fn centre(set: &mut Set, artwork: &Artwork, rng: &mut Rng) {
    let turn = rng.angle();
    if rng.chance(0.5) {
        let kind = *rng.pick(artwork.split.emblems());
        let shapes = kind.draw(rng, 0.06);
        let size = rng.range(0.3, 0.8);
        lay(set, &shapes, size, (0.0, 0.0), turn, paint(rng));
        return;
    }
    let m = motif(artwork, rng);
    let size = rng.range(0.3, 0.6);
    lay_motif(set, &m, size, (0.0, 0.0), turn);
    for k in 0..3 + rng.below(3) {
        let a = k as f32 * 1.4 + turn;
        lay_motif(
            set,
            &m,
            size * 0.5,
            (size * 0.5 * a.cos(), size * 0.5 * a.sin()),
            a,
        );
    }
}

fn text(artwork: &Artwork, words: &str, faces: &[Face], rng: &mut Rng) -> Vec<Shape> {
    let font = artwork.font(rng, faces);
    artwork.fonts[font].font.line(
        words,
        0.0,
        0.0,
        Setting {
            size: 1.0,
            spacing: 0.02,
        },
    )
}

/// A till receipt or the printed side of a box, lying on the board that `set` shows.
pub fn printed_paper(set: &mut Set, artwork: &Artwork, boxed: bool, rng: &mut Rng) {
    let size = rng.range(0.3, 0.42);
    let (low, most) = if boxed { (0.5, 0.9) } else { (1.5, 2.3) };
    let high = rng.range(low, most);
    let wide = size * if boxed { 1.4 } else { 1.6 / high };
    let pixels = (wide / set.scene.pixel_size()).clamp(80.0, 1300.0);
    let (w, h) = (pixels.ceil(), (pixels * high).ceil());
    let Some(mut map) = Pixmap::new(w as u32, h as u32) else {
        return;
    };
    let ground = if boxed {
        [196, 168, 126, 255]
    } else {
        [246, 245, 240, 255]
    };
    let (r, b) = (w - 1.0, h - 1.0);
    let sheet = polygon(&[(1.0, 1.0), (r, 1.0), (r, b), (1.0, b)], Ink::Fill);
    paint_shapes(&mut map, &sheet, Transform::identity(), ground);
    let print = if boxed {
        box_print(artwork, w, h, rng)
    } else {
        receipt(artwork, w, h, rng)
    };
    paint_shapes(&mut map, &print, Transform::identity(), [48, 46, 50, 255]);
    let (plane, colours) = paper_of(&map);
    let stuff = Stuff::Paper {
        colours,
        shine: 0.05,
    };
    let decal = Decal::new(plane, stuff, (0.0, 0.0), rng.angle(), wide / w);
    set.scene.decals.push(decal);
}

/// Outline and colours of a painted paper.
pub fn paper_of(map: &Pixmap) -> (Plane, Vec<Rgb>) {
    let data = map
        .pixels()
        .iter()
        .map(|p| f32::from(p.alpha()) / 255.0)
        .collect();
    let (width, height) = (map.width() as usize, map.height() as usize);
    (
        Plane {
            width,
            height,
            data,
        },
        colours(map),
    )
}

/// The colours of a pixmap in linear light.
fn colours(map: &Pixmap) -> Vec<Rgb> {
    map.pixels()
        .iter()
        .map(|p| {
            let c = p.demultiply();
            srgb(u32::from(c.red()) << 16 | u32::from(c.green()) << 8 | u32::from(c.blue()))
        })
        .collect()
}

fn receipt(artwork: &Artwork, w: f32, h: f32, rng: &mut Rng) -> Vec<Shape> {
    let place = rng.pick(&artwork.words.places).to_uppercase();
    let head = text(artwork, &place, &[Face::Sans, Face::Serif], rng);
    let mut out = fitted(&head, w / 2.0, h * 0.07, w * 0.6);
    let font = artwork.font(rng, &[Face::Mono, Face::Sans]);
    let rows = 12 + rng.below(10);
    let pitch = h * 0.8 / rows as f32;
    let set = Setting {
        size: pitch * 0.62,
        spacing: 0.0,
    };
    for i in 0..rows {
        let y = h * 0.14 + pitch * (i as f32 + 0.8);
        let words = format!(
            "{:02} {}",
            1 + rng.below(40),
            rng.pick(&artwork.words.lines)
        );
        let price = format!("{}.{:02}", rng.below(30), rng.below(100));
        for (t, right) in [(words, false), (price, true)] {
            let line = artwork.fonts[font].font.line(&t, 0.0, y, set);
            let b = bounds_of(&line);
            let dx = if right {
                w * 0.93 - b.right
            } else {
                w * 0.07 - b.left
            };
            out.extend(moved(&line, Transform::from_translate(dx, 0.0)));
        }
    }
    out
}

fn box_print(artwork: &Artwork, w: f32, h: f32, rng: &mut Rng) -> Vec<Shape> {
    let icon = rng.pick(&artwork.icons).draw(rng);
    let mut out = fitted(&icon, w * 0.25, h * 0.4, w.min(h) * 0.4);
    let word = rng.pick(&artwork.words.places).to_uppercase();
    out.extend(fitted(
        &text(artwork, &word, &[Face::Sans], rng),
        w * 0.65,
        h * 0.35,
        w * 0.5,
    ));
    let small = rng.pick(&artwork.words.extras).clone();
    out.extend(fitted(
        &text(artwork, &small, &[Face::Sans], rng),
        w * 0.65,
        h * 0.55,
        w * 0.4,
    ));
    for i in 0..24 {
        let x = w * 0.55 + i as f32 * w * 0.014;
        let thick = w * rng.range(0.003, 0.01);
        let bar = [
            (x, h * 0.7),
            (x + thick, h * 0.7),
            (x + thick, h * 0.88),
            (x, h * 0.88),
        ];
        out.extend(polygon(&bar, Ink::Fill));
    }
    out
}

//! What stands on and around a mark without being one: pencil, labels, hands, rulers, scratches.

use crate::artwork::{Artwork, Face};
use crate::colour::{Rgb, srgb, varied};
use crate::decal::{Decal, Stuff};
use crate::drawing::{
    Bounds, Ink, Setting, Shape, bounds_of, coverage, ellipse, fitted, paint_shapes, polygon,
    polyline,
};
use crate::glaze::InkTone;
use crate::plane::Plane;
use crate::random::Rng;
use crate::scene::{Band, Neighbour, Overlay};
use crate::scrawl;
use crate::severity::shares;
use crate::shoot::{Order, Set};
use resvg::tiny_skia::{Pixmap, Transform};

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Distractor {
    Hand,
    Ruler,
    Stack,
    SecondPiece,
    WornGilding,
    Scratch,
    DrilledHole,
    StiltMarks,
    PaintersNumber,
    PencilPrice,
    PriceLabel,
    SecondStamp,
}

impl Distractor {
    pub const ALL: [Self; 12] = [
        Self::Hand,
        Self::Ruler,
        Self::Stack,
        Self::SecondPiece,
        Self::WornGilding,
        Self::Scratch,
        Self::DrilledHole,
        Self::StiltMarks,
        Self::PaintersNumber,
        Self::PencilPrice,
        Self::PriceLabel,
        Self::SecondStamp,
    ];

    pub fn word(self) -> &'static str {
        match self {
            Self::Hand => "hand",
            Self::Ruler => "ruler",
            Self::Stack => "stack",
            Self::SecondPiece => "second piece",
            Self::WornGilding => "worn gilding",
            Self::Scratch => "scratch",
            Self::DrilledHole => "drilled hole",
            Self::StiltMarks => "stilt marks",
            Self::PaintersNumber => "painter's number",
            Self::PencilPrice => "pencil price",
            Self::PriceLabel => "price label",
            Self::SecondStamp => "second stamp",
        }
    }
}

/// Puts in what the order names and, now and then, what an ordinary piece has anyway.
pub fn dress(set: &mut Set, order: &Order, artwork: &Artwork, rng: &mut Rng) {
    if let Some(d) = order.distractor {
        add(set, d, artwork, rng);
    }
    for (d, share) in [
        (Distractor::StiltMarks, 0.12),
        (Distractor::PencilPrice, 0.04),
        (Distractor::WornGilding, 0.06),
        (Distractor::PaintersNumber, 0.04),
    ] {
        if rng.chance(share) {
            add(set, d, artwork, rng);
        }
    }
}

pub fn add(set: &mut Set, what: Distractor, artwork: &Artwork, rng: &mut Rng) {
    match what {
        Distractor::Hand => hand(set, rng),
        Distractor::Ruler => ruler(set, rng),
        Distractor::Stack | Distractor::SecondPiece => neighbour(set, what, rng),
        Distractor::WornGilding => gilding(set, rng),
        Distractor::Scratch => scratch(set, rng),
        Distractor::DrilledHole => hole(set, rng),
        Distractor::StiltMarks => stilts(set, rng),
        Distractor::PaintersNumber => number(set, artwork, rng),
        Distractor::PencilPrice => pencil(set, artwork, rng),
        Distractor::PriceLabel => label(set, artwork, rng),
        Distractor::SecondStamp => second_stamp(set, artwork, rng),
    }
    set.distractors.push(what.word().to_string());
}

/// A free place on the floor of the base, away from the mark where one is.
pub(crate) fn free_place(set: &Set, size: f32, rng: &mut Rng) -> (f32, f32) {
    let base = &set.scene.base;
    let mut best = (0.0, 0.0);
    let mut far = -1.0;
    for _ in 0..24 {
        let (a, r) = (
            rng.angle(),
            rng.unit().sqrt() * (base.ring.0 - size * 0.5).max(0.05),
        );
        let p = (r * a.cos() * base.stretch, r * a.sin());
        let Some((i, _)) = &set.mark else { return p };
        let d = &set.scene.decals[*i];
        let reach = (d.map.width.min(d.map.height)) as f32 * d.scale * 0.5;
        let clear = (p.0 - d.centre.0).hypot(p.1 - d.centre.1) - reach - size * 0.5;
        if clear > far {
            (far, best) = (clear, p);
        }
        if clear > 0.0 {
            break;
        }
    }
    best
}

/// Shapes as a decal `size` wide at `centre`.
pub fn drawn(
    set: &Set,
    shapes: &[Shape],
    size: f32,
    centre: (f32, f32),
    angle: f32,
    stuff: Stuff,
) -> (Decal, Transform, Bounds) {
    let b = bounds_of(shapes);
    let wide = b.width().max(b.height()).max(1e-3);
    let pixels = (size / set.scene.pixel_size() * 1.1).clamp(24.0, 1000.0);
    let k = pixels / wide;
    let pad = 3.0;
    let (w, h) = (
        (b.width() * k + 2.0 * pad).ceil(),
        (b.height() * k + 2.0 * pad).ceil(),
    );
    let ts = Transform::from_translate(-b.left, -b.top)
        .post_scale(k, k)
        .post_translate((w - b.width() * k) / 2.0, (h - b.height() * k) / 2.0);
    let map = Plane::from_bytes(
        w as usize,
        h as usize,
        &coverage(shapes, ts, w as u32, h as u32),
    );
    (Decal::new(map, stuff, centre, angle, size / pixels), ts, b)
}

fn ink(colour: Rgb, opacity: f32) -> Stuff {
    Stuff::Ink {
        colour,
        opacity,
        gloss: 0.8,
    }
}

pub(crate) fn written(artwork: &Artwork, text: &str, faces: &[Face], rng: &mut Rng) -> Vec<Shape> {
    let font = artwork.font(rng, faces);
    artwork.fonts[font].font.line(
        text,
        0.0,
        0.0,
        Setting {
            size: 1.0,
            spacing: 0.02,
        },
    )
}

fn pencil(set: &mut Set, artwork: &Artwork, rng: &mut Rng) {
    if artwork.wide {
        return scrawl::note(set, artwork, rng);
    }
    let text = match rng.below(3) {
        0 => format!("{}.{}0", 1 + rng.below(40), rng.below(10)),
        1 => format!("{}/-", 2 + rng.below(30)),
        _ => format!(
            "{} {}",
            char::from(b'A' + rng.below(26) as u8),
            10 + rng.below(900)
        ),
    };
    let shapes = written(artwork, &text, &[Face::Script], rng);
    let size = rng.range(0.2, 0.4);
    let at = free_place(set, size, rng);
    let stuff = Stuff::Ink {
        colour: srgb(0x5A5A60),
        opacity: rng.range(0.4, 0.7),
        gloss: 1.5,
    };
    let (decal, _, _) = drawn(set, &shapes, size, at, rng.angle(), stuff);
    set.scene.decals.push(decal);
}

fn number(set: &mut Set, artwork: &Artwork, rng: &mut Rng) {
    let text = format!("{}{}", 1 + rng.below(98), ["", "/", "."][rng.below(3)]);
    let shapes = written(artwork, &text, &[Face::Script], rng);
    let size = rng.range(0.06, 0.14);
    let at = free_place(set, size, rng);
    let tone = *rng.pick(&[InkTone::Red, InkTone::Blue, InkTone::Green, InkTone::Brown]);
    let stuff = ink(tone.colour(rng), 0.85);
    let (decal, ts, b) = drawn(set, &shapes, size, at, rng.angle(), stuff);
    set.second.push((
        "decoration number".to_string(),
        set.scene.decals.len(),
        b,
        ts,
    ));
    set.scene.decals.push(decal);
}

fn second_stamp(set: &mut Set, artwork: &Artwork, rng: &mut Rng) {
    let mut shapes = written(
        artwork,
        &artwork.words.places[rng.below(artwork.words.places.len())].to_uppercase(),
        &[Face::Serif, Face::Sans],
        rng,
    );
    let b = bounds_of(&shapes).grow(0.25);
    shapes.extend(ellipse(
        (b.left + b.right) / 2.0,
        (b.top + b.bottom) / 2.0,
        b.width() * 0.62,
        b.height() * 0.9,
        Ink::Line(0.08),
    ));
    let size = rng.range(0.2, 0.36);
    let at = free_place(set, size, rng);
    let stuff = ink(InkTone::on_light(rng).colour(rng), rng.range(0.6, 0.95));
    let (decal, ts, b) = drawn(set, &shapes, size, at, rng.angle(), stuff);
    set.second
        .push(("retailer stamp".to_string(), set.scene.decals.len(), b, ts));
    set.scene.decals.push(decal);
}

/// Grounds of price labels (sRGB).
const LABELS: [[u8; 4]; 5] = [
    [250, 248, 240, 255],
    [250, 222, 60, 255],
    [240, 120, 40, 255],
    [230, 240, 245, 255],
    [120, 200, 120, 255],
];

/// A paper label with print on it, as outline and colours.
fn paper(artwork: &Artwork, pixels: u32, rng: &mut Rng) -> Option<(Plane, Vec<Rgb>)> {
    if artwork.wide {
        return scrawl::label(artwork, pixels, rng);
    }
    let round = rng.chance(0.35);
    let high = if round { 1.0 } else { rng.range(0.4, 0.75) };
    let (w, h) = (pixels as f32, (pixels as f32 * high).floor().max(8.0));
    let mut map = Pixmap::new(pixels.max(8), h as u32)?;
    let body = if round {
        ellipse(w / 2.0, h / 2.0, w / 2.0 - 2.0, h / 2.0 - 2.0, Ink::Fill)
    } else {
        let (r, b) = (w - 2.0, h - 2.0);
        polygon(&[(2.0, 2.0), (r, 2.0), (r, b), (2.0, b)], Ink::Fill)
    };
    paint_shapes(&mut map, &body, Transform::identity(), *rng.pick(&LABELS));
    let print = label_print(artwork, w, h, rng);
    paint_shapes(&mut map, &print, Transform::identity(), [40, 40, 46, 255]);
    Some(crate::top::paper_of(&map))
}

/// Labels drawn before none is wide enough.
const OBLONG: usize = 16;

/// A paper label that is wider than it is high.
pub fn oblong_paper(artwork: &Artwork, pixels: u32, rng: &mut Rng) -> Option<(Plane, Vec<Rgb>)> {
    (0..OBLONG)
        .filter_map(|_| paper(artwork, pixels, rng))
        .find(|(map, _)| map.height * 10 < map.width * 9)
}

fn label_print(artwork: &Artwork, w: f32, h: f32, rng: &mut Rng) -> Vec<Shape> {
    let price = format!("{}.{:02}", 1 + rng.below(60), [0, 50, 99, 95][rng.below(4)]);
    let price = written(artwork, &price, &[Face::Sans, Face::Script], rng);
    let mut print = fitted(&price, w / 2.0, h * 0.58, w * 0.62);
    if rng.chance(0.6) {
        let word = rng.pick(&artwork.words.places).to_uppercase();
        let word = written(artwork, &word, &[Face::Sans], rng);
        print.extend(fitted(&word, w / 2.0, h * 0.22, w * 0.55));
    }
    print
}

fn label(set: &mut Set, artwork: &Artwork, rng: &mut Rng) {
    let size = rng.range(0.18, 0.4);
    let at = free_place(set, size, rng);
    let pixels = (size / set.scene.pixel_size()).clamp(30.0, 900.0);
    if let Some((map, colours)) = paper(artwork, pixels as u32, rng) {
        let scale = size / map.width as f32;
        let stuff = Stuff::Paper {
            colours,
            shine: rng.range(0.0, 0.25),
        };
        set.scene
            .decals
            .push(Decal::new(map, stuff, at, rng.angle(), scale));
    }
}

/// A sticker laid over the wanted share of the mark's ink.
pub fn sticker_over(set: &mut Set, wanted: f32, artwork: &Artwork, rng: &mut Rng) {
    let Some((i, _)) = &set.mark else { return };
    let own = set.scene.decals[*i].clone();
    let reach = own.map.width.max(own.map.height) as f32 * own.scale * 0.5;
    let (a, turn) = (rng.angle(), rng.angle());
    let size = reach * rng.range(1.1, 1.9);
    let pixels = (size / set.scene.pixel_size()).clamp(40.0, 1100.0);
    let Some((map, colours)) = paper(artwork, pixels as u32, rng) else {
        return;
    };
    let scale = size / map.width as f32;
    let shine = rng.range(0.0, 0.25);
    let make = |t: f32| {
        let at = (own.centre.0 + t * a.cos(), own.centre.1 + t * a.sin());
        Decal::new(
            map.clone(),
            Stuff::Paper {
                colours: colours.clone(),
                shine,
            },
            at,
            turn,
            scale,
        )
    };
    set.scene.decals.push(make(0.0));
    let last = set.scene.decals.len() - 1;
    let (mut low, mut high) = (0.0f32, reach + size);
    for _ in 0..12 {
        let t = (low + high) / 2.0;
        set.scene.decals[last] = make(t);
        if shares(&set.scene, &set.points).cut > wanted {
            low = t;
        } else {
            high = t;
        }
    }
    set.distractors.push("sticker over the mark".to_string());
}

/// A label over the parts that tell siblings apart, and little else.
pub fn label_over_line(set: &mut Set, artwork: &Artwork, rng: &mut Rng) {
    let Some((i, _)) = &set.mark else { return };
    let own = set.scene.decals[*i].clone();
    let places: Vec<(f32, f32)> = set
        .points
        .iter()
        .filter(|p| p.deciding)
        .filter_map(|p| own.local(p.x, p.y))
        .collect();
    if places.is_empty() {
        return;
    }
    let span = |f: fn(&(f32, f32)) -> f32| {
        let (low, high) = places
            .iter()
            .map(f)
            .fold((f32::MAX, f32::MIN), |(a, b), v| (a.min(v), b.max(v)));
        ((low + high) / 2.0, high - low)
    };
    let ((u, wide), (v, _)) = (span(|p| p.0), span(|p| p.1));
    let size = wide * own.scale * 1.2;
    let pixels = (size / set.scene.pixel_size()).clamp(60.0, 1100.0);
    if let Some((map, colours)) = paper(artwork, pixels as u32, rng) {
        let scale = size / map.width as f32;
        let drop = map.height as f32 * scale / own.scale * 0.22;
        let stuff = Stuff::Paper {
            colours,
            shine: 0.1,
        };
        let turn = own.angle + rng.range(-0.05, 0.05);
        set.scene
            .decals
            .push(Decal::new(map, stuff, own.place(u, v + drop), turn, scale));
        set.distractors.push("label over the line".to_string());
    }
}

fn stilts(set: &mut Set, rng: &mut Rng) {
    let base = &set.scene.base;
    let (r, turn) = (base.ring.0 * rng.range(0.55, 0.92), rng.angle());
    let size = rng.range(0.012, 0.022);
    for k in 0..3 {
        let a = turn + k as f32 * std::f32::consts::TAU / 3.0;
        let shapes = ellipse(0.0, 0.0, 1.0, rng.range(0.6, 1.0), Ink::Fill);
        let at = (r * a.cos() * set.scene.base.stretch, r * a.sin());
        let stuff = ink(varied(srgb(0x8C7660), 0.1, rng), 0.7);
        let (decal, _, _) = drawn(set, &shapes, size, at, rng.angle(), stuff);
        set.scene.decals.push(decal);
    }
}

fn scratch(set: &mut Set, rng: &mut Rng) {
    for _ in 0..1 + rng.below(4) {
        scratch_at(set, over_mark, rng);
    }
}

/// Scratches each of which crosses the mark.
pub fn scratches_through(set: &mut Set, count: usize, rng: &mut Rng) {
    for _ in 0..count {
        scratch_at(set, in_mark, rng);
    }
}

/// Where something goes on a base.
type Placed = fn(&Set, &mut Rng) -> (f32, f32);

fn scratch_at(set: &mut Set, placed: Placed, rng: &mut Rng) {
    let mut p = vec![(0.0f32, 0.0f32)];
    for i in 1..12 {
        let (_, y) = p[i - 1];
        p.push((i as f32 * 0.1, y + rng.range(-0.012, 0.018)));
    }
    let shapes = polyline(&p, rng.range(0.004, 0.012));
    let size = rng.range(0.3, 0.9) * set.scene.base.ring.0 * 1.4;
    let at = placed(set, rng);
    let colour = if rng.chance(0.5) {
        srgb(0x6E675F)
    } else {
        srgb(0xD8D4CC)
    };
    let (decal, _, _) = drawn(set, &shapes, size, at, rng.angle(), ink(colour, 0.7));
    set.scene.decals.push(decal);
}

/// A place with ink of the mark; the middle of the base where it has none.
fn in_mark(set: &Set, rng: &mut Rng) -> (f32, f32) {
    match set.points.len() {
        0 => (0.0, 0.0),
        n => {
            let p = set.points[rng.below(n)];
            (p.x, p.y)
        }
    }
}

fn over_mark(set: &Set, rng: &mut Rng) -> (f32, f32) {
    match set.points.get(rng.below(set.points.len())) {
        Some(p) if rng.chance(0.7) => (p.x, p.y),
        _ => free_place(set, 0.1, rng),
    }
}

fn hole(set: &mut Set, rng: &mut Rng) {
    let at = over_mark(set, rng);
    let size = rng.range(0.03, 0.06);
    hole_at(set, at, size);
}

/// A hole of this width in the mark.
pub fn hole_through(set: &mut Set, size: f32, rng: &mut Rng) {
    let at = in_mark(set, rng);
    hole_at(set, at, size);
}

fn hole_at(set: &mut Set, at: (f32, f32), size: f32) {
    let rim = ellipse(0.0, 0.0, 1.0, 1.0, Ink::Fill);
    let (chip, _, _) = drawn(set, &rim, size * 1.5, at, 0.0, ink(srgb(0xE8E2D8), 0.9));
    let (dark, _, _) = drawn(set, &rim, size, at, 0.0, ink(srgb(0x1C1A18), 1.0));
    set.scene.decals.extend([chip, dark]);
}

fn gilding(set: &mut Set, rng: &mut Rng) {
    let outer = rng.range(0.95, 1.0);
    set.scene.bands.push(Band {
        inner: outer - rng.range(0.02, 0.06),
        outer,
        colour: InkTone::Gold.colour(rng),
        wear: rng.range(0.2, 0.8),
    });
}

fn neighbour(set: &mut Set, what: Distractor, rng: &mut Rng) {
    let colour = varied(
        srgb(*rng.pick(&[0xEDEBE4, 0xE8DFC8, 0x9FB4C0, 0x7A4B32])),
        0.05,
        rng,
    );
    if what == Distractor::Stack {
        for k in 1..=3 {
            let shift = rng.range(0.0, 0.05);
            let a = rng.angle();
            set.scene.neighbours.push(Neighbour {
                centre: (shift * a.cos(), shift * a.sin()),
                radius: set.scene.base.stretch.max(1.0) * rng.range(1.0, 1.06) + 0.01 * k as f32,
                colour,
                z: -0.03 * k as f32,
            });
        }
    } else {
        let (a, radius) = (rng.angle(), rng.range(0.6, 1.1));
        let d = set.scene.base.stretch + radius + rng.range(0.02, 0.2);
        set.scene.neighbours.push(Neighbour {
            centre: (d * a.cos(), d * a.sin()),
            radius,
            colour,
            z: 0.0,
        });
    }
}

pub fn finger(radius: f32, rng: &mut Rng) -> Overlay {
    let skin = varied(
        srgb(*rng.pick(&[0xE3B598, 0xC98F6B, 0x8D5B3E, 0xF0CDB6, 0x5F3B28])),
        0.05,
        rng,
    );
    let nail = [skin[0] * 1.12, skin[1] * 1.08, skin[2] * 1.1];
    Overlay {
        from: (0.0, 0.0),
        to: (0.0, 0.0),
        radius,
        colour: skin,
        nail: rng.chance(0.7).then_some(nail),
        ticks: 0.0,
        flat: false,
    }
}

/// Fingers that hold the rim, clear of the mark.
fn hand(set: &mut Set, rng: &mut Rng) {
    let side = if rng.chance(0.5) {
        0.0
    } else {
        set.scene.width as f32
    };
    let h = set.scene.height as f32;
    let (y0, radius) = (rng.range(0.2, 0.7) * h, rng.range(50.0, 85.0));
    for k in 0..2 + rng.below(3) {
        let y = y0 + k as f32 * radius * 2.05;
        let mut f = finger(radius, rng);
        let inwards = if side > 0.0 { -1.0 } else { 1.0 };
        f.from = (side - inwards * 300.0, y + rng.range(-40.0, 40.0));
        f.to = (side + inwards * rng.range(60.0, 260.0), y);
        let index = set.scene.overlays.len();
        set.scene.overlays.push(f);
        if shares(&set.scene, &set.points).cut > 0.02 {
            set.scene.overlays.truncate(index);
        }
    }
}

fn ruler(set: &mut Set, rng: &mut Rng) {
    let (w, h) = (set.scene.width as f32, set.scene.height as f32);
    for _ in 0..8 {
        let y = if rng.chance(0.5) {
            rng.range(0.02, 0.12) * h
        } else {
            rng.range(0.88, 0.98) * h
        };
        let ruler = Overlay {
            from: (-20.0, y + rng.range(-60.0, 60.0)),
            to: (w + 20.0, y + rng.range(-60.0, 60.0)),
            radius: rng.range(50.0, 80.0),
            colour: varied(srgb(*rng.pick(&[0xD9B77E, 0xE8E8E6, 0xF2E04A])), 0.04, rng),
            nail: None,
            ticks: rng.range(14.0, 26.0),
            flat: true,
        };
        set.scene.overlays.push(ruler);
        if shares(&set.scene, &set.points).cut < 0.02 {
            return;
        }
        set.scene.overlays.pop();
    }
}

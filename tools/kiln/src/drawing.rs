//! Vector drawing: shapes, lettering on lines and arcs, and their rasterisation to coverage masks.

use resvg::tiny_skia::{
    BlendMode, FillRule, LineCap, LineJoin, Paint, Path, PathBuilder, Pixmap, Stroke, Transform,
};
use std::f32::consts::{PI, TAU};
use ttf_parser::{Face, OutlineBuilder};

/// How a shape puts ink down.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Ink {
    Fill,
    EvenOdd,
    Line(f32),
    /// Takes ink away: lettering reversed out of a solid.
    Erase,
    EraseLine(f32),
}

#[derive(Clone, Debug)]
pub struct Shape {
    pub path: Path,
    pub ink: Ink,
}

/// A box in drawing units.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct Bounds {
    pub left: f32,
    pub top: f32,
    pub right: f32,
    pub bottom: f32,
}

impl Bounds {
    pub const EMPTY: Self = Self {
        left: 1e9,
        top: 1e9,
        right: -1e9,
        bottom: -1e9,
    };

    pub fn width(&self) -> f32 {
        (self.right - self.left).max(0.0)
    }

    pub fn height(&self) -> f32 {
        (self.bottom - self.top).max(0.0)
    }

    pub fn is_empty(&self) -> bool {
        self.right <= self.left || self.bottom <= self.top
    }

    pub fn join(self, o: Self) -> Self {
        Self {
            left: self.left.min(o.left),
            top: self.top.min(o.top),
            right: self.right.max(o.right),
            bottom: self.bottom.max(o.bottom),
        }
    }

    pub fn grow(self, by: f32) -> Self {
        Self {
            left: self.left - by,
            top: self.top - by,
            right: self.right + by,
            bottom: self.bottom + by,
        }
    }
}

impl Shape {
    pub fn bounds(&self) -> Bounds {
        let half = match self.ink {
            Ink::Line(w) => w / 2.0,
            Ink::Erase | Ink::EraseLine(_) => return Bounds::EMPTY,
            Ink::Fill | Ink::EvenOdd => 0.0,
        };
        let r = self
            .path
            .compute_tight_bounds()
            .unwrap_or_else(|| self.path.bounds());
        Bounds {
            left: r.left(),
            top: r.top(),
            right: r.right(),
            bottom: r.bottom(),
        }
        .grow(half)
    }

    pub fn moved(&self, ts: Transform) -> Option<Self> {
        let k = ts.get_scale().0;
        let ink = match self.ink {
            Ink::Line(w) => Ink::Line(w * k),
            Ink::EraseLine(w) => Ink::EraseLine(w * k),
            other => other,
        };
        Some(Self {
            path: self.path.clone().transform(ts)?,
            ink,
        })
    }
}

pub fn bounds_of(shapes: &[Shape]) -> Bounds {
    shapes.iter().fold(Bounds::EMPTY, |b, s| b.join(s.bounds()))
}

pub fn moved(shapes: &[Shape], ts: Transform) -> Vec<Shape> {
    shapes.iter().filter_map(|s| s.moved(ts)).collect()
}

/// Scales and moves `shapes` so that they fill the box of `size` about `(cx, cy)` without
/// distortion.
pub fn fitted(shapes: &[Shape], cx: f32, cy: f32, size: f32) -> Vec<Shape> {
    let b = bounds_of(shapes);
    if b.is_empty() {
        return Vec::new();
    }
    let k = size / b.width().max(b.height());
    let ts = Transform::from_translate(-(b.left + b.right) / 2.0, -(b.top + b.bottom) / 2.0)
        .post_scale(k, k)
        .post_translate(cx, cy);
    moved(shapes, ts)
}

struct GlyphPen<'a> {
    out: &'a mut PathBuilder,
    place: Transform,
}

impl GlyphPen<'_> {
    fn at(&self, x: f32, y: f32) -> (f32, f32) {
        let t = self.place;
        (t.sx * x + t.kx * y + t.tx, t.ky * x + t.sy * y + t.ty)
    }
}

impl OutlineBuilder for GlyphPen<'_> {
    fn move_to(&mut self, x: f32, y: f32) {
        let (x, y) = self.at(x, y);
        self.out.move_to(x, y);
    }
    fn line_to(&mut self, x: f32, y: f32) {
        let (x, y) = self.at(x, y);
        self.out.line_to(x, y);
    }
    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        let ((x1, y1), (x, y)) = (self.at(x1, y1), self.at(x, y));
        self.out.quad_to(x1, y1, x, y);
    }
    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        let ((x1, y1), (x2, y2), (x, y)) = (self.at(x1, y1), self.at(x2, y2), self.at(x, y));
        self.out.cubic_to(x1, y1, x2, y2, x, y);
    }
    fn close(&mut self) {
        self.out.close();
    }
}

/// A font file held in memory.
pub struct Font {
    pub name: String,
    data: Vec<u8>,
}

/// Lettering: size in drawing units (em height) and extra space between letters in ems.
#[derive(Clone, Copy, Debug)]
pub struct Setting {
    pub size: f32,
    pub spacing: f32,
}

impl Font {
    /// None where the file is no font or lacks the Latin letters.
    pub fn new(name: &str, data: Vec<u8>) -> Option<Self> {
        let face = Face::parse(&data, 0).ok()?;
        let complete = ('A'..='Z').chain('a'..='z').chain('0'..='9').all(|c| {
            face.glyph_index(c)
                .is_some_and(|g| face.glyph_bounding_box(g).is_some())
        });
        complete.then(|| Self {
            name: name.to_string(),
            data,
        })
    }

    fn face(&self) -> Option<Face<'_>> {
        Face::parse(&self.data, 0).ok()
    }

    /// Width of one line in drawing units.
    pub fn width(&self, text: &str, set: Setting) -> f32 {
        let Some(face) = self.face() else { return 0.0 };
        let em = f32::from(face.units_per_em());
        text.chars()
            .map(|c| advance(&face, c) / em * set.size + set.spacing * set.size)
            .sum()
    }

    /// Text centred on `(cx, base)`.
    pub fn line(&self, text: &str, cx: f32, base: f32, set: Setting) -> Vec<Shape> {
        let Some(face) = self.face() else {
            return Vec::new();
        };
        let k = set.size / f32::from(face.units_per_em());
        let mut x = cx - self.width(text, set) / 2.0 + set.spacing * set.size / 2.0;
        let mut out = PathBuilder::new();
        for c in text.chars() {
            if let Some(g) = face.glyph_index(c) {
                let place = Transform::from_row(k, 0.0, 0.0, -k, x, base);
                face.outline_glyph(
                    g,
                    &mut GlyphPen {
                        out: &mut out,
                        place,
                    },
                );
            }
            x += advance(&face, c) * k + set.spacing * set.size;
        }
        finish(out)
    }

    /// Text along an ellipse about `(0, cy)`. On the upper half letters stand outward, on the
    /// lower half they hang inward, so that both read from left to right.
    pub fn arc(&self, text: &str, arc: Arc, set: Setting) -> Vec<Shape> {
        let Some(face) = self.face() else {
            return Vec::new();
        };
        let k = set.size / f32::from(face.units_per_em());
        let dir = if arc.lower { -1.0 } else { 1.0 };
        let middle = if arc.lower { PI / 2.0 } else { -PI / 2.0 };
        let total = self.width(text, set);
        let mean = (arc.rx + arc.ry) / 2.0;
        let mut along = -total / 2.0 + set.spacing * set.size / 2.0;
        let mut out = PathBuilder::new();
        for c in text.chars() {
            let adv = advance(&face, c) * k;
            let a = middle + dir * (along + adv / 2.0) / mean;
            let (px, py) = (arc.rx * a.cos(), arc.cy + arc.ry * a.sin());
            let (tx, ty) = (-arc.rx * a.sin() * dir, arc.ry * a.cos() * dir);
            let len = tx.hypot(ty).max(1e-6);
            let (ux, uy) = (tx / len, ty / len);
            if let Some(g) = face.glyph_index(c) {
                let (ox, oy) = (px - ux * adv / 2.0, py - uy * adv / 2.0);
                let place = Transform::from_row(k * ux, k * uy, k * uy, -k * ux, ox, oy);
                face.outline_glyph(
                    g,
                    &mut GlyphPen {
                        out: &mut out,
                        place,
                    },
                );
            }
            along += adv + set.spacing * set.size;
        }
        finish(out)
    }
}

/// An ellipse about `(0, cy)` that text follows.
#[derive(Clone, Copy, Debug)]
pub struct Arc {
    pub rx: f32,
    pub ry: f32,
    pub cy: f32,
    pub lower: bool,
}

fn advance(face: &Face<'_>, c: char) -> f32 {
    let em = f32::from(face.units_per_em());
    face.glyph_index(c)
        .and_then(|g| face.glyph_hor_advance(g))
        .map_or(em * 0.3, f32::from)
}

fn finish(out: PathBuilder) -> Vec<Shape> {
    out.finish()
        .map(|path| {
            vec![Shape {
                path,
                ink: Ink::Fill,
            }]
        })
        .unwrap_or_default()
}

pub fn ellipse(cx: f32, cy: f32, rx: f32, ry: f32, ink: Ink) -> Vec<Shape> {
    polar(cx, cy, 96, |_| (rx, ry), ink)
}

/// A closed smooth outline in polar form; `radius` maps an angle to the two half axes.
pub fn polar(
    cx: f32,
    cy: f32,
    steps: usize,
    radius: impl Fn(f32) -> (f32, f32),
    ink: Ink,
) -> Vec<Shape> {
    let points: Vec<(f32, f32)> = (0..steps)
        .map(|i| {
            let a = TAU * i as f32 / steps as f32 - PI / 2.0;
            let (rx, ry) = radius(a);
            (cx + rx * a.cos(), cy + ry * a.sin())
        })
        .collect();
    polygon(&points, ink)
}

pub fn polygon(points: &[(f32, f32)], ink: Ink) -> Vec<Shape> {
    let mut b = PathBuilder::new();
    for (i, &(x, y)) in points.iter().enumerate() {
        if i == 0 {
            b.move_to(x, y)
        } else {
            b.line_to(x, y)
        }
    }
    b.close();
    b.finish()
        .map(|path| vec![Shape { path, ink }])
        .unwrap_or_default()
}

pub fn polyline(points: &[(f32, f32)], width: f32) -> Vec<Shape> {
    let mut b = PathBuilder::new();
    for (i, &(x, y)) in points.iter().enumerate() {
        if i == 0 {
            b.move_to(x, y)
        } else {
            b.line_to(x, y)
        }
    }
    b.finish()
        .map(|path| {
            vec![Shape {
                path,
                ink: Ink::Line(width),
            }]
        })
        .unwrap_or_default()
}

/// Puts `shapes` on `target` in `paint`, drawing units mapped by `ts`.
pub fn paint_shapes(target: &mut Pixmap, shapes: &[Shape], ts: Transform, rgba: [u8; 4]) {
    for s in shapes {
        let erase = matches!(s.ink, Ink::Erase | Ink::EraseLine(_));
        let mut paint = Paint {
            anti_alias: true,
            ..Paint::default()
        };
        paint.set_color_rgba8(rgba[0], rgba[1], rgba[2], rgba[3]);
        if erase {
            paint.blend_mode = BlendMode::DestinationOut;
        }
        match s.ink {
            Ink::Fill | Ink::Erase => {
                target.fill_path(&s.path, &paint, FillRule::Winding, ts, None);
            }
            Ink::EvenOdd => target.fill_path(&s.path, &paint, FillRule::EvenOdd, ts, None),
            Ink::Line(width) | Ink::EraseLine(width) => {
                let stroke = Stroke {
                    width,
                    line_cap: LineCap::Round,
                    line_join: LineJoin::Round,
                    ..Stroke::default()
                };
                target.stroke_path(&s.path, &paint, &stroke, ts, None);
            }
        }
    }
}

/// Coverage of `shapes` on a `width` by `height` grid, 0 to 255.
pub fn coverage(shapes: &[Shape], ts: Transform, width: u32, height: u32) -> Vec<u8> {
    let Some(mut pixmap) = Pixmap::new(width.max(1), height.max(1)) else {
        return Vec::new();
    };
    paint_shapes(&mut pixmap, shapes, ts, [0, 0, 0, 255]);
    pixmap.pixels().iter().map(|p| p.alpha()).collect()
}

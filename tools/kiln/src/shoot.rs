//! Sets up and takes one photo of one piece.

use crate::artwork::Artwork;
use crate::base::Base;
use crate::camera::Pose;
use crate::clutter;
use crate::codes::Carried;
use crate::decal::{Decal, Stuff};
use crate::develop::{Develop, Picture, develop, focused};
use crate::drawing::{Bounds, coverage};
use crate::family::{Family, Means};
use crate::fault::Fault;
use crate::framing::{FRAME_MARGIN, Framing, camera, framing};
use crate::glaze::{InkTone, Tone};
use crate::mark::Drawn;
use crate::plane::Plane;
use crate::random::Rng;
use crate::record::truth_of;
use crate::removal::{Way, remove};
use crate::scene::{Exposure, Scene, metered};
use crate::severity::{InkPoint, contrast_over_noise, median_stroke};
use crate::strike::{Wear, strike};
use crate::trouble;
use crate::truth::{Condition, Kind, Quad, Severity, Truth};
use resvg::tiny_skia::Transform;

/// What is to be photographed, and how badly.
#[derive(Clone, Debug)]
pub struct Order {
    pub kind: Kind,
    pub condition: Condition,
    pub severity: Severity,
    pub distractor: Option<clutter::Distractor>,
    pub siblings: Vec<String>,
    pub carried: Carried,
    pub extras: Extras,
}

/// Wishes of single photos.
#[derive(Clone, Copy, Debug, Default)]
pub struct Extras {
    /// JPEG quality; drawn where not given.
    pub quality: Option<u8>,
    /// Whether a label hides what tells siblings apart.
    pub label_over_line: bool,
    /// The one thing that is wrong with it.
    pub fault: Option<Fault>,
    /// How the part is taken away that decides between forms of its family.
    pub removed: Option<Way>,
}

impl Order {
    pub fn plain(kind: Kind, condition: Condition, severity: Severity) -> Self {
        Self {
            kind,
            condition,
            severity,
            distractor: None,
            siblings: Vec::new(),
            carried: Carried::Code,
            extras: Extras::default(),
        }
    }
}

pub struct Shot {
    pub jpeg: Vec<u8>,
    pub truth: Truth,
}

/// A mark set up for one photo.
#[derive(Clone)]
pub struct Posed {
    pub drawn: Drawn,
    pub code: String,
    /// Drawing units to map pixels.
    pub to_map: Transform,
    pub mask: Plane,
    pub struck: Plane,
    pub deciding: Plane,
    /// Median stroke in map pixels.
    pub stroke: f32,
}

/// Draws `family`'s mark at the photo's resolution and strikes it.
pub fn pose_mark(
    artwork: &Artwork,
    family: &Family,
    code: String,
    pixels: f32,
    wear: &Wear,
    rng: &mut Rng,
) -> Posed {
    let drawn = family.design.draw(artwork, &code);
    let b = drawn.bounds;
    let k = pixels / b.width().max(b.height());
    let pad = (pixels * 0.09).ceil();
    let (w, h) = (
        (b.width() * k + 2.0 * pad).ceil(),
        (b.height() * k + 2.0 * pad).ceil(),
    );
    let to_map = Transform::from_translate(-b.left, -b.top)
        .post_scale(k, k)
        .post_translate((w - b.width() * k) / 2.0, (h - b.height() * k) / 2.0);
    let (wi, hi) = (w as usize, h as usize);
    let raster = |s: &[crate::drawing::Shape]| {
        Plane::from_bytes(wi, hi, &coverage(s, to_map, wi as u32, hi as u32))
    };
    let mask = raster(&drawn.shapes);
    let deciding = raster(&drawn.deciding);
    let stroke = median_stroke(&mask);
    let struck = strike(&mask, stroke, wear, rng);
    Posed {
        drawn,
        code,
        to_map,
        mask,
        struck,
        deciding,
        stroke,
    }
}

pub fn tone_for(dark: bool, rng: &mut Rng) -> Tone {
    if dark {
        Tone::DARK[rng.weighted(&Tone::DARK.map(|t| t.1))].0
    } else {
        Tone::LIGHT[rng.weighted(&Tone::LIGHT.map(|t| t.1))].0
    }
}

pub fn ink_stuff(family: &Family, stroke: f32, rng: &mut Rng) -> Stuff {
    match family.means {
        Means::Printed => Stuff::Ink {
            colour: family.ink.colour(rng),
            opacity: if family.ink == InkTone::Gold {
                rng.range(0.55, 0.85)
            } else {
                rng.range(0.75, 0.97)
            },
            gloss: if family.ink == InkTone::Gold {
                rng.range(1.5, 4.0)
            } else {
                1.0
            },
        },
        Means::Impressed => Stuff::Relief {
            depth: -stroke.min(8.0) * rng.range(0.5, 0.9),
            pooled: rng.range(0.0, 0.14),
        },
        Means::Moulded => Stuff::Relief {
            depth: stroke.min(8.0) * rng.range(0.45, 0.8),
            pooled: -rng.range(0.0, 0.04),
        },
    }
}

/// Bounds in drawing units to photo pixels.
pub fn quad_of(scene: &Scene, decal: &Decal, to_map: Transform, b: &Bounds) -> Option<Quad> {
    let corners = [
        (b.left, b.top),
        (b.right, b.top),
        (b.right, b.bottom),
        (b.left, b.bottom),
    ];
    let mut out = [[0.0f32; 2]; 4];
    for (o, (x, y)) in out.iter_mut().zip(corners) {
        let (u, v) = (to_map.sx * x + to_map.tx, to_map.sy * y + to_map.ty);
        let (px, py) = decal.place(u, v);
        let (a, b) = scene.photo_of(px, py)?;
        *o = [(a * 100.0).round() / 100.0, (b * 100.0).round() / 100.0];
    }
    Some(out)
}

pub fn inside(scene: &Scene, quad: &Quad) -> bool {
    quad.iter().all(|p| {
        p[0] > FRAME_MARGIN
            && p[1] > FRAME_MARGIN
            && p[0] < scene.width as f32 - FRAME_MARGIN
            && p[1] < scene.height as f32 - FRAME_MARGIN
    })
}

pub fn ink_points(decal: &Decal, posed: &Posed) -> Vec<InkPoint> {
    let m = &posed.mask;
    let step = ((m.data.len() as f32 / 9000.0).sqrt().ceil() as usize).max(1);
    let mut out = Vec::new();
    for v in (0..m.height).step_by(step) {
        for u in (0..m.width).step_by(step) {
            let drawn = m.at(u, v);
            if drawn > 0.05 {
                let (x, y) = decal.place(u as f32 + 0.5, v as f32 + 0.5);
                let deciding = posed.deciding.at(u, v) > 0.3;
                out.push(InkPoint {
                    x,
                    y,
                    drawn,
                    struck: posed.struck.at(u, v),
                    deciding,
                });
            }
        }
    }
    out
}

/// Everything before the shutter: the scene, its own mark and the points that measure it.
#[derive(Clone)]
pub struct Set {
    pub scene: Scene,
    pub pose: Pose,
    pub tilt_deg: f32,
    pub mark: Option<(usize, Posed)>,
    pub points: Vec<InkPoint>,
    pub quad: Option<Quad>,
    pub distractors: Vec<String>,
    pub second: Vec<(String, usize, Bounds, Transform)>,
    /// How the part was taken away that decides between forms of its family.
    pub removed: Option<Way>,
}

impl Set {
    /// Whether the mark stands in the clay alone.
    pub fn relief(&self) -> bool {
        self.mark
            .as_ref()
            .is_some_and(|(i, _)| matches!(self.scene.decals[*i].stuff, Stuff::Relief { .. }))
    }

    /// Median stroke width in photo pixels.
    pub fn stroke_px(&self) -> f32 {
        self.mark.as_ref().map_or(4.0, |(i, p)| {
            p.stroke * self.scene.decals[*i].scale / self.scene.pixel_size()
        })
    }
}

/// Draws tried before a framing that cuts the mark is taken after all.
const FRAMINGS: usize = 24;

pub fn set_up(artwork: &Artwork, order: &Order, family: &Family, rng: &mut Rng) -> Set {
    let usual = family.design.code_text(rng);
    let code = order.carried.text(&family.design, usual, rng);
    let bounds = family.design.draw(artwork, &code).bounds;
    let tone = tone_for(family.dark, rng);
    let mut tried = 0;
    let (mut scene, f, pose, tilt_deg, pixels) = loop {
        let base = if order.condition == Condition::Hollow {
            Base::hollow(rng.sign() * rng.range(0.1, 0.24), rng)
        } else {
            Base::draw(rng)
        };
        let f = framing(order, &base, &bounds, rng);
        let (cam, pose, tilt_deg) = camera(order, &f, rng);
        let scene = Scene::empty((f.width, f.height), cam, base, tone, artwork, rng);
        let pixels = (f.mark * f.radius_px * 1.2).clamp(140.0, 1150.0);
        tried += 1;
        if tried == FRAMINGS || frames(&scene, &f, &bounds) {
            break (scene, f, pose, tilt_deg, pixels);
        }
    };
    let wear = trouble::wear(order, rng);
    let posed = pose_mark(artwork, family, code, pixels, &wear, rng);
    let stuff = ink_stuff(family, posed.stroke, rng);
    let mut map = posed.struck.clone();
    if family.means != Means::Printed {
        map = map.blurred(posed.stroke * 0.3);
    }
    let decal = Decal::new(map, stuff, f.centre, f.angle, f.mark / pixels).as_mark();
    let points = ink_points(&decal, &posed);
    let quad = quad_of(&scene, &decal, posed.to_map, &posed.drawn.bounds);
    scene.decals.push(decal);
    Set {
        scene,
        pose,
        tilt_deg,
        mark: Some((0, posed)),
        points,
        quad,
        distractors: Vec::new(),
        second: Vec::new(),
        removed: None,
    }
}

/// Whether the whole mark would be in the frame.
fn frames(scene: &Scene, f: &Framing, bounds: &Bounds) -> bool {
    let k = f.mark / bounds.width().max(bounds.height());
    let nothing = Stuff::Relief {
        depth: 0.0,
        pooled: 0.0,
    };
    let blank = Decal::new(Plane::new(1, 1), nothing, f.centre, f.angle, k);
    let to_map = Transform::from_translate(0.5, 0.5);
    quad_of(scene, &blank, to_map, &centred(bounds)).is_some_and(|q| inside(scene, &q))
}

/// The same box with its middle at the origin, as a one-pixel decal sees it.
fn centred(b: &Bounds) -> Bounds {
    let (w, h) = (b.width() / 2.0, b.height() / 2.0);
    Bounds {
        left: -w,
        top: -h,
        right: w,
        bottom: h,
    }
}

/// Part of an exposure round the mark: planes, and where their first pixel lies.
fn cut_out(e: &[Plane; 3], quad: &Quad) -> ([Plane; 3], (usize, usize)) {
    let (w, h) = (e[0].width, e[0].height);
    let span = |i: usize, most: usize| {
        let low = quad.iter().map(|p| p[i]).fold(f32::MAX, f32::min) - 10.0;
        let high = quad.iter().map(|p| p[i]).fold(f32::MIN, f32::max) + 10.0;
        let a = low.clamp(0.0, most as f32 - 8.0) as usize;
        (
            a,
            (high.clamp(0.0, most as f32) as usize).clamp(a + 8, most),
        )
    };
    let ((x0, x1), (y0, y1)) = (span(0, w), span(1, h));
    let planes = [0, 1, 2].map(|c| {
        let mut p = Plane::new(x1 - x0, y1 - y0);
        for y in y0..y1 {
            let row = &e[c].data[y * w + x0..y * w + x1];
            p.data[(y - y0) * (x1 - x0)..][..x1 - x0].copy_from_slice(row);
        }
        p
    });
    (planes, (x0, y0))
}

/// Contrast over noise of the mark if the picture were developed so.
fn trial(set: &Set, sharp: &[Plane; 3], ink: &Plane, how: &Develop, rng: &Rng) -> f32 {
    let Some(quad) = &set.quad else { return 0.0 };
    let (planes, origin) = cut_out(sharp, quad);
    let full = (set.scene.width, set.scene.height);
    let picture = develop(&planes, how, origin, full, &mut rng.fork("trial", 0));
    contrast_over_noise(&picture, ink, origin, set.stroke_px(), set.relief())
}

/// Exposes and develops; comes back with the picture, its settings and contrast over noise.
pub fn take(set: &Set, order: &Order, rng: &mut Rng) -> (Picture, Develop, f32) {
    let Exposure { channels, ink } = set.scene.expose();
    let mut how = Develop::ordinary(metered(&channels), rng);
    how.quality = order.extras.quality.unwrap_or(how.quality);
    let w = set.stroke_px();
    trouble::spoil(order, w, &mut how, rng);
    let sharp = focused(&channels, &how);
    if order.condition == Condition::LowLight && set.quad.is_some() {
        let wanted = trouble::noise_target(order.severity) * rng.range(0.93, 1.07);
        for _ in 0..5 {
            let got = trial(set, &sharp, &ink, &how, rng);
            let k = (got / wanted).clamp(0.25, 4.0);
            (how.read, how.shot) = ((how.read * k).min(0.5), (how.shot * k).min(1.0));
        }
    }
    let full = (set.scene.width, set.scene.height);
    let picture = develop(&sharp, &how, (0, 0), full, rng);
    let contrast = match &set.quad {
        Some(quad) => {
            let (_, origin) = cut_out(&sharp, quad);
            let (x1, y1) = span_end(quad, full);
            contrast_over_noise(
                &crop(&picture, origin, (x1, y1)),
                &ink,
                origin,
                w,
                set.relief(),
            )
        }
        None => 0.0,
    };
    (picture, how, contrast)
}

fn span_end(quad: &Quad, full: (usize, usize)) -> (usize, usize) {
    let end = |i: usize, most: usize| {
        let high = quad.iter().map(|p| p[i]).fold(f32::MIN, f32::max) + 10.0;
        high.clamp(8.0, most as f32) as usize
    };
    (end(0, full.0), end(1, full.1))
}

fn crop(p: &Picture, from: (usize, usize), to: (usize, usize)) -> Picture {
    let (w, h) = (
        to.0.saturating_sub(from.0).max(1),
        to.1.saturating_sub(from.1).max(1),
    );
    let mut rgb = Vec::with_capacity(w * h * 3);
    for y in from.1..from.1 + h {
        let at = (y.min(p.height - 1) * p.width + from.0) * 3;
        rgb.extend_from_slice(&p.rgb[at..at + w * 3]);
    }
    Picture {
        width: w,
        height: h,
        rgb,
    }
}

/// Photographs `family` as ordered.
pub fn photograph(
    artwork: &Artwork,
    order: &Order,
    family: &Family,
    file: &str,
    rng: &mut Rng,
) -> Result<Shot, jpeg_encoder::EncodingError> {
    let mut set = set_up(artwork, order, family, rng);
    clutter::dress(&mut set, order, artwork, rng);
    if order.extras.label_over_line {
        clutter::label_over_line(&mut set, artwork, rng);
    }
    trouble::apply(&mut set, order, artwork, rng);
    if let Some(way) = order.extras.removed {
        remove(&mut set, way, artwork, rng);
    }
    let (picture, how, contrast) = take(&set, order, rng);
    let truth = truth_of(&set, order, family, &how, contrast, file);
    Ok(Shot {
        jpeg: picture.jpeg(how.quality)?,
        truth,
    })
}

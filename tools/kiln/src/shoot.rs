//! Sets up and takes one photo of one piece.

use crate::artwork::Artwork;
use crate::base::Base;
use crate::camera::{Camera, Pose};
use crate::clutter;
use crate::decal::{Decal, Stuff};
use crate::develop::{Develop, Picture, develop, focused};
use crate::drawing::{Bounds, coverage};
use crate::family::{Family, Means};
use crate::glaze::{Glaze, InkTone, Table, Tone};
use crate::light::Light;
use crate::mark::Drawn;
use crate::plane::Plane;
use crate::random::Rng;
use crate::scene::{Exposure, Scene, metered};
use crate::severity::{InkPoint, Measured, contrast_over_noise, median_stroke, shares};
use crate::strike::{Wear, strike};
use crate::trouble;
use crate::truth::{Attributes, CodeTruth, Condition, Kind, Quad, SecondMark, Severity, Truth};
use resvg::tiny_skia::Transform;

/// What is to be photographed, and how badly.
#[derive(Clone, Debug)]
pub struct Order {
    pub kind: Kind,
    pub condition: Condition,
    pub severity: Severity,
    pub distractor: Option<clutter::Distractor>,
    pub siblings: Vec<String>,
}

pub struct Shot {
    pub jpeg: Vec<u8>,
    pub truth: Truth,
}

/// A mark set up for one photo.
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

/// How the piece is framed. Lengths in base radii where not said otherwise.
#[derive(Clone, Copy, Debug)]
pub struct Framing {
    pub width: usize,
    pub height: usize,
    /// Photo pixels per base radius.
    pub radius_px: f32,
    /// Long side of the mark.
    pub mark: f32,
    pub centre: (f32, f32),
    pub angle: f32,
    pub target: (f32, f32),
}

/// Corner-to-corner margin kept inside the frame, in pixels.
const FRAME_MARGIN: f32 = 12.0;

pub fn framing(order: &Order, base: &Base, drawn: &Bounds, rng: &mut Rng) -> Framing {
    let portrait = rng.chance(0.5);
    let (width, height) = if portrait { (1200, 1600) } else { (1600, 1200) };
    let (w, short) = (width as f32, 1200.0);
    let (bw, bh) = (drawn.width(), drawn.height());
    let half_diagonal = 0.5 * bw.hypot(bh) / bw.max(bh);
    let room = base.ring.0 * 0.93;
    let most = room / half_diagonal;
    let small = order.condition == Condition::Small;
    let (mark, radius_px) = loop {
        let view = rng.unit();
        let radius_px = if small {
            short * rng.range(0.3, 0.46) / base.stretch
        } else if view < 0.4 {
            short * rng.range(0.4, 0.49) / base.stretch
        } else {
            short * rng.range(0.5, 1.5)
        };
        let share = if small {
            rng.range(0.05, 0.12)
        } else {
            rng.range(0.13, 0.6)
        };
        let mark = share * w / radius_px;
        let fits = mark < most && mark * radius_px < short * 0.8;
        if fits && (small || mark > 0.22) {
            break (mark, radius_px);
        }
    };
    let free = (room - mark * half_diagonal).max(0.0);
    let (a, far) = (rng.angle(), free * rng.unit().sqrt() * 0.55);
    let mut centre = (far * a.cos() * base.stretch, far * a.sin());
    if order.condition == Condition::AcrossRing {
        let middle = (base.ring.0 + base.ring.1) / 2.0 + rng.range(-0.1, 0.1) * mark;
        centre = (middle * a.cos() * base.stretch, middle * a.sin());
    }
    let jitter = 0.12 * short / radius_px;
    let target = if radius_px * base.stretch < short * 0.5 {
        (rng.range(-0.1, 0.1), rng.range(-0.1, 0.1))
    } else {
        (
            centre.0 + jitter * rng.normal(),
            centre.1 + jitter * rng.normal(),
        )
    };
    Framing {
        width,
        height,
        radius_px,
        mark,
        centre,
        angle: rng.angle(),
        target,
    }
}

fn camera(order: &Order, f: &Framing, rng: &mut Rng) -> (Camera, Pose, f32) {
    let tilt_deg = match (order.condition, order.severity) {
        (Condition::TiltGlare, Severity::Easy) => rng.range(18.0, 22.0),
        (Condition::TiltGlare, Severity::Medium) => rng.range(33.0, 37.0),
        (Condition::TiltGlare, Severity::Hard) => rng.range(48.0, 51.0),
        _ => 16.0 * rng.unit() * rng.unit().sqrt(),
    };
    let long = f.width.max(f.height) as f32;
    let focal = long * rng.range(0.75, 1.2);
    let pose = Pose {
        target: f.target,
        tilt: tilt_deg.to_radians(),
        azimuth: rng.angle(),
        roll: rng.angle(),
        distance: focal / f.radius_px,
        focal,
        centre: (f.width as f32 / 2.0, f.height as f32 / 2.0),
    };
    (Camera::new(&pose), pose, tilt_deg)
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

fn ink_stuff(family: &Family, stroke: f32, rng: &mut Rng) -> Stuff {
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

fn inside(scene: &Scene, quad: &Quad) -> bool {
    quad.iter().all(|p| {
        p[0] > FRAME_MARGIN
            && p[1] > FRAME_MARGIN
            && p[0] < scene.width as f32 - FRAME_MARGIN
            && p[1] < scene.height as f32 - FRAME_MARGIN
    })
}

fn ink_points(decal: &Decal, posed: &Posed) -> Vec<InkPoint> {
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
pub struct Set {
    pub scene: Scene,
    pub pose: Pose,
    pub tilt_deg: f32,
    pub mark: Option<(usize, Posed)>,
    pub points: Vec<InkPoint>,
    pub quad: Option<Quad>,
    pub distractors: Vec<String>,
    pub second: Vec<(String, usize, Bounds, Transform)>,
}

impl Set {
    /// Median stroke width in photo pixels.
    pub fn stroke_px(&self) -> f32 {
        self.mark.as_ref().map_or(4.0, |(i, p)| {
            p.stroke * self.scene.decals[*i].scale / self.scene.pixel_size()
        })
    }
}

fn scene_for(
    base: Base,
    tone: Tone,
    artwork: &Artwork,
    f: &Framing,
    cam: Camera,
    rng: &mut Rng,
) -> Scene {
    Scene {
        width: f.width,
        height: f.height,
        camera: cam,
        base,
        glaze: Glaze::draw(tone, artwork.split, rng),
        table: Table::draw(artwork.split, rng),
        light: Light::draw(rng),
        decals: Vec::new(),
        overlays: Vec::new(),
        neighbours: Vec::new(),
        bands: Vec::new(),
    }
}

fn set_up(artwork: &Artwork, order: &Order, family: &Family, rng: &mut Rng) -> Set {
    let mut best = None;
    for _ in 0..24 {
        let base = if order.condition == Condition::Hollow {
            Base::hollow(rng.sign() * rng.range(0.1, 0.24), rng)
        } else {
            Base::draw(rng)
        };
        let code = family.design.code_text(rng);
        let bounds = family.design.draw(artwork, &code).bounds;
        let f = framing(order, &base, &bounds, rng);
        let (cam, pose, tilt_deg) = camera(order, &f, rng);
        let mut scene = scene_for(base, tone_for(family.dark, rng), artwork, &f, cam, rng);
        let pixels = (f.mark * f.radius_px * 1.2).clamp(140.0, 1150.0);
        let scale = f.mark / pixels;
        let wear = trouble::wear(order, rng);
        let blank = Decal::new(
            Plane::new(1, 1),
            Stuff::Relief {
                depth: 0.0,
                pooled: 0.0,
            },
            f.centre,
            f.angle,
            scale,
        );
        let near = quad_of(
            &scene,
            &blank,
            Transform::from_scale(
                pixels / bounds.width().max(bounds.height()),
                pixels / bounds.width().max(bounds.height()),
            ),
            &centred(&bounds),
        );
        if !near.as_ref().is_some_and(|q| inside(&scene, q)) && best.is_some() {
            continue;
        }
        let done = near.as_ref().is_some_and(|q| inside(&scene, q));
        let posed = pose_mark(artwork, family, code, pixels, &wear, rng);
        let stuff = ink_stuff(family, posed.stroke, rng);
        let mut map = posed.struck.clone();
        if family.means != Means::Printed {
            map = map.blurred(posed.stroke * 0.3);
        }
        let decal = Decal::new(map, stuff, f.centre, f.angle, scale).as_mark();
        let points = ink_points(&decal, &posed);
        let quad = quad_of(&scene, &decal, posed.to_map, &posed.drawn.bounds);
        scene.decals.push(decal);
        let set = Set {
            scene,
            pose,
            tilt_deg,
            mark: Some((0, posed)),
            points,
            quad,
            distractors: Vec::new(),
            second: Vec::new(),
        };
        best = Some(set);
        if done {
            break;
        }
    }
    best.expect("the loop sets up at least one scene")
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
    contrast_over_noise(&picture, ink, origin, set.stroke_px())
}

/// Exposes and develops; comes back with the picture, its settings and contrast over noise.
pub fn take(set: &Set, order: &Order, rng: &mut Rng) -> (Picture, Develop, f32) {
    let Exposure { channels, ink } = set.scene.expose();
    let mut how = Develop::ordinary(metered(&channels), rng);
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
            contrast_over_noise(&crop(&picture, origin, (x1, y1)), &ink, origin, w)
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
    trouble::apply(&mut set, order, artwork, rng);
    let (picture, how, contrast) = take(&set, order, rng);
    let truth = truth_of(&set, order, family, &how, contrast, file);
    Ok(Shot {
        jpeg: picture.jpeg(how.quality)?,
        truth,
    })
}

fn truth_of(
    set: &Set,
    order: &Order,
    family: &Family,
    how: &Develop,
    contrast: f32,
    file: &str,
) -> Truth {
    let (index, posed) = set
        .mark
        .as_ref()
        .expect("a photograph of a family has its mark");
    let decal = &set.scene.decals[*index];
    let s = shares(&set.scene, &set.points);
    let w = set.stroke_px();
    let wide = posed.drawn.bounds.width().max(posed.drawn.bounds.height());
    let map_per_unit = posed.to_map.sx;
    let px = decal.scale / set.scene.pixel_size();
    let blur = how.blur.hypot(how.shake.0 * 0.289);
    let measured = Measured {
        stroke_px: w,
        width_px: wide * map_per_unit * px,
        width_share: wide * map_per_unit * px / set.scene.width as f32,
        blur_w: blur / w,
        tilt_deg: set.tilt_deg,
        glare_share: s.glare,
        ink_left: s.left,
        cut_share: s.cut,
        smear_w: trouble::smear_of(order),
        contrast_noise: contrast,
        deciding_visible: s.deciding,
        letter_px: posed.drawn.letter * map_per_unit * px * set.tilt_deg.to_radians().cos(),
    };
    let code = posed.drawn.code.and_then(|b| {
        let quad = quad_of(&set.scene, decal, posed.to_map, &b)?;
        Some(CodeTruth {
            text: posed.code.clone(),
            quad,
        })
    });
    let second = set
        .second
        .iter()
        .filter_map(|(what, i, b, to_map)| {
            let quad = quad_of(&set.scene, &set.scene.decals[*i], *to_map, b)?;
            Some(SecondMark {
                what: what.clone(),
                quad,
            })
        })
        .collect();
    Truth {
        file: file.to_string(),
        width: set.scene.width,
        height: set.scene.height,
        kind: order.kind,
        condition: order.condition,
        severity: order.severity,
        family: family.in_library.then(|| family.id.clone()),
        variant: None,
        group: family.group,
        siblings: order.siblings.clone(),
        decidable: decidable(&measured, blur),
        quad: set.quad,
        second,
        measured: Some(measured),
        attributes: attributes(set, order, Some(family)),
        distractors: set.distractors.clone(),
        code,
    }
}

/// Letters below this height in pixels, or blurred by more than a quarter of it, or hidden by two
/// thirds, or drowned in noise, tell no siblings apart (the sizes from `ADVICE`-style trials on
/// reading small print: six pixels of x-height is the limit of OCR on clean scans).
const LEGIBLE_PX: f32 = 6.0;
const LEGIBLE_BLUR: f32 = 0.28;
const LEGIBLE_SHARE: f32 = 0.34;
const LEGIBLE_CONTRAST: f32 = 1.2;

fn decidable(m: &Measured, blur: f32) -> bool {
    m.letter_px >= LEGIBLE_PX
        && blur <= LEGIBLE_BLUR * m.letter_px
        && m.deciding_visible >= LEGIBLE_SHARE
        && m.contrast_noise >= LEGIBLE_CONTRAST
}

pub fn attributes(set: &Set, order: &Order, family: Option<&Family>) -> Attributes {
    let scene = &set.scene;
    let whole = (0..48).all(|i| {
        let a = i as f32 / 48.0 * std::f32::consts::TAU;
        let (x, y) = (a.cos() * scene.base.stretch * 0.995, a.sin() * 0.995);
        scene.photo_of(x, y).is_some_and(|(u, v)| {
            u >= 0.0 && v >= 0.0 && u < scene.width as f32 && v < scene.height as f32
        })
    });
    Attributes {
        glaze: Some(scene.glaze.tone),
        ink: family.map(|f| f.ink),
        means: family.map(|f| f.means),
        ware: Some(scene.base.ware),
        light_on_dark: family.is_some_and(|f| f.dark),
        impressed: family.is_some_and(|f| f.means != Means::Printed),
        hollow: order.condition == Condition::Hollow,
        across_ring: order.condition == Condition::AcrossRing,
        small: order.condition == Condition::Small,
        whole_base: whole,
    }
}

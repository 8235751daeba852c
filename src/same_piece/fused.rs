//! One picture of a mark from several photos of its piece.
//!
//! Every photo is laid over the reference, freed of its light by division through its own ground, and averaged where it
//! is valid: weights grow with sharpness and fall with noise, glare does not count, and what departs from the middle of
//! all photos (a thumb, a sticker) hardly counts. The result gets the ground of the reference back, so that it is a
//! photo like others. Averaging registered frames follows Burt and Adelson (1983) in weighing by local detail.

use image::RgbImage;

use super::look::Look;
use super::overlay::overlay;
use crate::geometry::{Exemplar, Homography, Mark, Photo, Point, Quad};
use crate::mark::cut::SIDE;
use crate::photo::UprightPhoto;
use crate::raster::{Plane, warp_rgb};

/// Side of the fused picture, and how much of it the frame of the mark takes: engine stages want to see ground around.
const OUT: usize = 1100;
const FRAME_SHARE: f64 = 0.42;
/// Blur of the ground (pixels), and by how much ink may differ from it to count as ground (relative).
const GROUND: f32 = 40.0;
const GROUND_REACH: f32 = 0.06;
/// Detail whose strength tells sharpness (pixels of blur).
const DETAIL: f32 = 1.5;
/// Relative brightness that departs from the middle of all photos by more than this, blurred by so many pixels, is
/// something else in the way.
const ASTRAY: f32 = 0.12;
const ASTRAY_BLUR: f32 = 6.0;
/// A channel at or above this value is clipped (8 bits); glare spreads by so many pixels.
const CLIPPED: u8 = 250;
const HALO: f32 = 4.0;
/// The verifier's log-odds and the correlation of the ink from which another photo is laid over the reference: one that
/// lies askew spoils the reference.
const LAID_AT: f32 = -1.0;
const LAID_CORRELATION: f32 = 0.5;
/// Growth of the mark's box within which photos are fused.
const ROOM: f64 = 1.25;

/// A photo of the piece, with its mark.
pub struct Member<'a> {
    pub picture: &'a UprightPhoto,
    pub look: &'a Look,
    /// How sure the photo alone is of its best family, 0 to 1.
    pub sure: f64,
}

/// A mark fused of several photos.
#[derive(Debug, Clone)]
pub struct Fused {
    pub picture: UprightPhoto,
    pub quad: Quad<Photo>,
    /// Which members took part, the reference first.
    pub of: Vec<usize>,
    /// Each of these in the frame of the picture, as it is.
    pub single: Vec<RgbImage>,
}

/// Fuses the marks of photos of one piece in the frame of the surest, ties by order. `None` where fewer than two can be laid over one
/// another.
pub fn fuse(members: &[Member<'_>]) -> Option<Fused> {
    let surest = |a: &usize, b: &usize| members[*b].sure.total_cmp(&members[*a].sure);
    let reference = (0..members.len()).min_by(surest)?;
    let base = &members[reference];
    let mut of = vec![reference];
    let mut layers = vec![Layer::of(base, &identity())?];
    for (at, member) in members.iter().enumerate() {
        if at == reference {
            continue;
        }
        let laid = overlay(member.look, base.look)
            .filter(|o| o.odds >= LAID_AT && o.correlation >= LAID_CORRELATION);
        let layer = laid.and_then(|o| Layer::of(member, &o.map.inverse()?));
        if let Some(layer) = layer {
            of.push(at);
            layers.push(layer);
        }
    }
    if layers.len() < 2 {
        return None;
    }
    let quad = quad_of(base.look)?;
    let pixels = blend(&layers, &quad);
    Some(Fused {
        picture: UprightPhoto {
            pixels,
            taken: None,
        },
        quad,
        of,
        single: layers.into_iter().map(|l| l.rgb).collect(),
    })
}

fn identity() -> Homography<Exemplar, Mark> {
    Homography::affine([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
}

/// From the fused picture to the frame of the reference's mark.
fn to_frame() -> Homography<Photo, Exemplar> {
    let k = SIDE as f64 / (FRAME_SHARE * OUT as f64);
    let shift = SIDE as f64 / 2.0 - k * OUT as f64 / 2.0;
    Homography::affine([[k, 0.0, shift], [0.0, k, shift]])
}

fn quad_of(look: &Look) -> Option<Quad<Photo>> {
    to_frame()
        .inverse()?
        .apply_quad(&super::look::as_exemplar(&look.quad))
}

/// One photo in the frame of the fused picture.
struct Layer {
    rgb: RgbImage,
    /// Colour over its ground, and the ground.
    relative: [Plane; 3],
    ground: [Plane; 3],
    /// 1 where it counts.
    valid: Plane,
    /// Strength of its detail over its noise.
    worth: f32,
}

impl Layer {
    fn of(member: &Member<'_>, back: &Homography<Exemplar, Mark>) -> Option<Self> {
        let from_frame = member.look.prepared.signature.from_photo.inverse()?;
        let own = Homography::<Mark, Exemplar>::affine([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]]);
        let to_photo = to_frame().then(back).then(&own).then(&from_frame);
        let (rgb, seen) = warp_rgb(&member.picture.pixels, &to_photo, OUT, OUT);
        let valid = without_glare(&rgb, &seen);
        let channels = planes(&rgb);
        let ground = grounds(&channels, &valid);
        let relative = [0, 1, 2]
            .map(|c| channels[c].zip(&ground[c], |v, g| if g > 1.0 { v / g } else { 1.0 }));
        let light = &relative[1];
        let detail = light.zip(&light.blur(DETAIL), |a, b| a - b);
        let middle = middle_of(&detail, &valid);
        let mut all: Vec<f32> = middle.iter().map(|v| v.abs()).collect();
        let noise = 1.48 * crate::raster::quantile(&mut all, 0.5);
        let strong = crate::raster::quantile(&mut all, 0.97);
        Some(Self {
            rgb,
            relative,
            ground,
            valid,
            worth: (strong / (noise + 0.004)).max(0.1),
        })
    }
}

/// The values around the middle, where they are valid.
fn middle_of(plane: &Plane, valid: &Plane) -> Vec<f32> {
    let (low, high) = (OUT * 3 / 10, OUT * 7 / 10);
    let rows = (low..high).step_by(2);
    rows.flat_map(|y| (low..high).map(move |x| (x, y)))
        .filter(|&(x, y)| valid.get(x, y) > 0.5)
        .map(|(x, y)| plane.get(x, y))
        .collect()
}

fn planes(rgb: &RgbImage) -> [Plane; 3] {
    [0, 1, 2].map(|c| {
        let data = rgb.pixels().map(|p| f32::from(p.0[c])).collect();
        Plane::from_vec(OUT, OUT, data)
    })
}

fn without_glare(rgb: &RgbImage, seen: &Plane) -> Plane {
    let clipped = rgb.pixels().map(|p| {
        let all = p.0.iter().all(|&v| v >= CLIPPED);
        if all { 1.0 } else { 0.0 }
    });
    let near = Plane::from_vec(OUT, OUT, clipped.collect()).blur(HALO);
    seen.zip(&near, |s, g| if s > 0.5 && g < 0.1 { 1.0 } else { 0.0 })
}

/// The ground of each channel: what is left when ink is weighted down, twice.
fn grounds(channels: &[Plane; 3], valid: &Plane) -> [Plane; 3] {
    let mut weight = valid.clone();
    let mut ground = channels.clone();
    for _ in 0..3 {
        let known = weight.blur(GROUND);
        for c in 0..3 {
            let sum = channels[c].zip(&weight, |v, w| v * w).blur(GROUND);
            ground[c] = sum.zip(&known, |s, k| if k > 1e-3 { s / k } else { 200.0 });
        }
        let off = channels[1].zip(&ground[1], |v, g| (v / g.max(1.0) - 1.0) / GROUND_REACH);
        weight = off.zip(valid, |d, v| v / (1.0 + d * d * d * d));
    }
    ground
}

/// The weighted mean of all layers inside the mark's box, with the first one's light, and the first one outside.
fn blend(layers: &[Layer], quad: &Quad<Photo>) -> RgbImage {
    let inside = box_of(quad);
    let slow: Vec<Plane> = layers
        .iter()
        .map(|l| l.relative[1].blur(ASTRAY_BLUR))
        .collect();
    let mut out = RgbImage::new(OUT as u32, OUT as u32);
    for y in 0..OUT {
        for x in 0..OUT {
            let weights = weights_at(layers, &slow, x, y);
            let all: f32 = weights.iter().sum();
            let within = inside.get(x, y);
            let pixel = [0, 1, 2].map(|c| {
                let own = layers[0].relative[c].get(x, y);
                let mean = layers.iter().zip(&weights);
                let mean = mean.map(|(l, w)| w * l.relative[c].get(x, y)).sum::<f32>();
                let fused = if all > 1e-6 { mean / all } else { own };
                let value = (own + (fused - own) * within) * layers[0].ground[c].get(x, y);
                value.round().clamp(0.0, 255.0) as u8
            });
            out.put_pixel(x as u32, y as u32, image::Rgb(pixel));
        }
    }
    out
}

fn weights_at(layers: &[Layer], slow: &[Plane], x: usize, y: usize) -> Vec<f32> {
    let mut known: Vec<f32> = layers
        .iter()
        .zip(slow)
        .filter(|(l, _)| l.valid.get(x, y) > 0.5)
        .map(|(_, s)| s.get(x, y))
        .collect();
    let middle = match known.len() {
        0..=2 => None,
        _ => Some(crate::raster::quantile(&mut known, 0.5)),
    };
    let weight = |(l, s): (&Layer, &Plane)| {
        let off = middle.map_or(0.0, |m| (s.get(x, y) - m) / ASTRAY);
        l.valid.get(x, y) * l.worth * l.worth / (1.0 + off.powi(4))
    };
    layers.iter().zip(slow).map(weight).collect()
}

/// 1 inside the mark's grown box, falling to 0 along its edge.
fn box_of(quad: &Quad<Photo>) -> Plane {
    let centre = quad.centre();
    let corners = quad.0.map(|p: Point<Photo>| {
        let grow = |v: f64, c: f64| c + ROOM * (v - c);
        (grow(p.x, centre.x), grow(p.y, centre.y))
    });
    let sign = quad.area().signum();
    let mut out = Plane::filled(OUT, OUT, 0.0);
    for y in 0..OUT {
        for x in 0..OUT {
            let inside = (0..4).all(|i| {
                let (s, t) = (corners[i], corners[(i + 1) % 4]);
                sign * ((t.0 - s.0) * (y as f64 - s.1) - (t.1 - s.1) * (x as f64 - s.0)) >= 0.0
            });
            out.set(x, y, if inside { 1.0 } else { 0.0 });
        }
    }
    out.blur(EDGE)
}

/// Softness of that edge in pixels.
const EDGE: f32 = 10.0;

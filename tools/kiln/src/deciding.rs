//! Whether a photo shows by what the forms of its family differ.

use crate::drawing::Bounds;
use crate::foot::{Difference, Foot, Stood};
use crate::record::{LEGIBLE_BLUR, LEGIBLE_CONTRAST, LEGIBLE_PX};
use crate::removal::Way;
use crate::severity::{InkPoint, Measured, shares};
use crate::shoot::{Posed, Set, quad_of};
use crate::truth::Quad;
use serde::Serialize;

#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum State {
    /// The form can be told from every other one of its family.
    Legible,
    /// It cannot, for what happens to photos and marks anyway.
    Lost,
    /// It cannot, since the part or its place was taken away on purpose.
    Removed,
}

/// The part that tells a form from the others of its family, or the place where it would stand.
#[derive(Clone, Debug, Serialize)]
pub struct Deciding {
    pub state: State,
    pub by: Option<Way>,
    /// Round all places at which forms of the family differ.
    pub quad: Quad,
    /// By what the form differs from the main one; none for the main form.
    pub differs: Option<Difference>,
}

/// Of a part that stands there this share of the ink must be left and seen, as of codes; of each of several signs a
/// smaller one. Written down before anything was tried on it, like the limits of `record.rs`.
const PART_SHARE: f32 = 0.5;
const SIGN_SHARE: f32 = 0.3;
/// Of a place this share must be in the frame, uncovered and without glare.
const PLACE_SHARE: f32 = 0.8;
/// An empty place says something only where the strike left this share of the ink round it: of the nearest, and what
/// lies no further behind it than this (drawing units: about the height of a name's small letters).
const STRUCK_SHARE: f32 = 0.6;
const BEHIND: f32 = 0.15;

/// None for marks that have no other forms.
pub fn deciding(set: &Set, foot: &Foot, m: &Measured) -> Option<Deciding> {
    if foot.rivals.is_empty() {
        return None;
    }
    let (index, posed) = set.mark.as_ref()?;
    let decal = &set.scene.decals[*index];
    let bounds = varying(&posed.drawn.foot);
    let told: Vec<bool> = posed
        .drawn
        .foot
        .iter()
        .map(|place| is_told(set, place, m))
        .collect();
    let differ = |rival: &Vec<Option<usize>>| {
        (0..told.len()).any(|at| told[at] && rival[at] != foot.shown[at])
    };
    let state = match set.removed {
        Some(_) => State::Removed,
        None if foot.rivals.iter().all(differ) => State::Legible,
        None => State::Lost,
    };
    Some(Deciding {
        state,
        by: set.removed,
        quad: quad_of(&set.scene, decal, posed.to_map, &bounds)?,
        differs: foot.differs,
    })
}

/// Box round the places at which forms of the family differ.
pub fn varying(places: &[Stood]) -> Bounds {
    places
        .iter()
        .filter(|place| place.varies)
        .fold(Bounds::EMPTY, |b, place| b.join(place.bounds))
}

/// Whether a photo tells what stands at a place, or that nothing does.
fn is_told(set: &Set, place: &Stood, m: &Measured) -> bool {
    let letter_px = place.letter / drawn_letter(set) * m.letter_px;
    let sharp = letter_px >= LEGIBLE_PX && m.blur_w * m.stroke_px <= LEGIBLE_BLUR * letter_px;
    sharp
        && m.contrast_noise >= LEGIBLE_CONTRAST
        && share_seen(set, &grid(set, &place.bounds)) >= PLACE_SHARE
        && match place.signs {
            0 => struck_near(set, &place.bounds) >= STRUCK_SHARE,
            1 => share_seen(set, &ink_in(set, &place.bounds)) >= PART_SHARE,
            // Fewer signs are told from more by what stands beside them, and that it was struck.
            signs => {
                let each = |sign| share_seen(set, &ink_in(set, &strip(&place.bounds, sign, signs)));
                share_seen(set, &ink_in(set, &place.bounds)) >= PART_SHARE
                    && (0..signs).all(|sign| each(sign) >= SIGN_SHARE)
            }
        }
}

fn drawn_letter(set: &Set) -> f32 {
    let (_, posed) = set.mark.as_ref().expect("a foot belongs to a mark");
    posed.drawn.letter
}

/// One of several signs that share the middle of a place: each has as much of it as the others.
fn strip(b: &Bounds, sign: usize, signs: usize) -> Bounds {
    let wide = b.width() / signs as f32;
    let left = b.left + wide * sign as f32;
    Bounds {
        left,
        right: left + wide,
        ..*b
    }
}

/// Shares of a sheet of points that are seen, weighted by the ink that the drawing holds there.
fn share_seen(set: &Set, points: &[InkPoint]) -> f32 {
    match points.is_empty() {
        true => 0.0,
        false => shares(&set.scene, points).deciding,
    }
}

/// Steps across and down a place.
const STEPS: (usize, usize) = (17, 5);

/// Points all over a box of the drawing, as if ink stood everywhere.
pub fn grid(set: &Set, b: &Bounds) -> Vec<InkPoint> {
    let Some((index, posed)) = &set.mark else {
        return Vec::new();
    };
    let decal = &set.scene.decals[*index];
    let t = posed.to_map;
    let at = |i: usize| {
        let across = (i % STEPS.0) as f32 / (STEPS.0 - 1) as f32;
        let down = (i / STEPS.0) as f32 / (STEPS.1 - 1) as f32;
        let (x, y) = (b.left + b.width() * across, b.top + b.height() * down);
        let (x, y) = decal.place(t.sx * x + t.tx, t.sy * y + t.ty);
        InkPoint {
            x,
            y,
            drawn: 1.0,
            struck: 1.0,
            deciding: true,
        }
    };
    (0..STEPS.0 * STEPS.1).map(at).collect()
}

/// Ink of the mark within a box of the drawing.
fn ink_in(set: &Set, b: &Bounds) -> Vec<InkPoint> {
    let Some((index, posed)) = &set.mark else {
        return Vec::new();
    };
    let decal = &set.scene.decals[*index];
    let within = |p: &&InkPoint| {
        let at = decal.local(p.x, p.y).map(|uv| drawing(posed, uv));
        at.is_some_and(|(x, y)| x >= b.left && x <= b.right && y >= b.top && y <= b.bottom)
    };
    let points = set.points.iter().filter(within);
    points
        .map(|p| InkPoint {
            deciding: true,
            ..*p
        })
        .collect()
}

/// Share of the ink of a form's own deciding parts that the strike left; 1 where it has none.
pub fn deciding_left(posed: &Posed) -> f32 {
    let wide = posed.mask.width;
    let own = |(x, y): (f32, f32)| {
        let places = posed.drawn.foot.iter().filter(|p| p.varies && p.signs > 0);
        places.map(|p| outside(&p.bounds, x, y)).any(|d| d <= 0.0)
    };
    let (mut drawn, mut struck) = (0.0f32, 0.0f32);
    for (i, (m, s)) in posed.mask.data.iter().zip(&posed.struck.data).enumerate() {
        if *m > 0.0 && own(drawing(posed, ((i % wide) as f32, (i / wide) as f32))) {
            drawn += m;
            struck += s.min(*m);
        }
    }
    if drawn > 0.0 { struck / drawn } else { 1.0 }
}

/// Distance of a place of the drawing from a box; 0 within.
pub fn outside(b: &Bounds, x: f32, y: f32) -> f32 {
    let dx = (b.left - x).max(x - b.right).max(0.0);
    let dy = (b.top - y).max(y - b.bottom).max(0.0);
    dx.hypot(dy)
}

/// A pixel of the strike in drawing units.
pub fn drawing(posed: &Posed, (u, v): (f32, f32)) -> (f32, f32) {
    let t = posed.to_map;
    ((u + 0.5 - t.tx) / t.sx, (v + 0.5 - t.ty) / t.sy)
}

/// Share of the ink round a box that the strike left.
fn struck_near(set: &Set, b: &Bounds) -> f32 {
    let Some((index, posed)) = &set.mark else {
        return 0.0;
    };
    let decal = &set.scene.decals[*index];
    let far = |p: &InkPoint| {
        let (x, y) = drawing(posed, decal.local(p.x, p.y)?);
        Some(outside(b, x, y))
    };
    let nearest = set.points.iter().filter_map(far).fold(f32::MAX, f32::min);
    let (mut drawn, mut struck) = (0.0f32, 0.0f32);
    for p in &set.points {
        if far(p).is_some_and(|d| d <= nearest + BEHIND) {
            drawn += p.drawn;
            struck += p.struck.min(p.drawn);
        }
    }
    struck / drawn.max(1e-6)
}

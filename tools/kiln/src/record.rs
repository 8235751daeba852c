//! The truth of a photo that has been taken.

use crate::codes::Carried;
use crate::decal::Decal;
use crate::deciding::deciding;
use crate::develop::Develop;
use crate::family::{Family, Means};
use crate::severity::{InkPoint, Measured, shares};
use crate::shoot::{Order, Posed, Set, quad_of};
use crate::trouble;
use crate::truth::{Attributes, CodeTruth, Condition, Quad, SecondMark, Truth};

/// What stands beside the photo in the truth.
///
/// # Panics
/// Where `set` holds no mark, which is a bug of the caller.
pub fn truth_of(
    set: &Set,
    order: &Order,
    family: &Family,
    how: &Develop,
    contrast: f32,
    file: &str,
) -> Truth {
    let measured = measured(set, order, how, contrast);
    let code = code(set, order, &measured);
    let deciding = deciding(set, &family.design.foot, &measured);
    Truth {
        file: file.to_string(),
        width: set.scene.width,
        height: set.scene.height,
        kind: order.kind,
        condition: order.condition,
        severity: order.severity,
        family: family.in_library.then(|| family.id.clone()),
        design: Some(family.design_name()),
        variant: None,
        group: family.group,
        siblings: order.siblings.clone(),
        decidable: decidable(&measured),
        deciding,
        quad: set.quad,
        second: second_marks(set),
        measured: Some(measured),
        fault: order.extras.fault,
        attributes: attributes(set, order, Some(family)),
        distractors: set.distractors.clone(),
        piece: None,
        code,
    }
}

fn own(set: &Set) -> (&Decal, &Posed) {
    let (index, posed) = set
        .mark
        .as_ref()
        .expect("a photograph of a family has its mark");
    (&set.scene.decals[*index], posed)
}

/// Deviation of a uniform streak, in lengths of the streak.
pub const STREAK: f32 = 0.289;

fn measured(set: &Set, order: &Order, how: &Develop, contrast: f32) -> Measured {
    let (decal, posed) = own(set);
    let s = shares(&set.scene, &set.points);
    let w = set.stroke_px();
    let unit_px = posed.to_map.sx * decal.scale / set.scene.pixel_size();
    let width_px = posed.drawn.bounds.width().max(posed.drawn.bounds.height()) * unit_px;
    Measured {
        stroke_px: w,
        width_px,
        width_share: width_px / set.scene.width as f32,
        blur_w: how.blur.hypot(how.shake.0 * STREAK) / w,
        tilt_deg: set.tilt_deg,
        glare_share: s.glare,
        ink_left: s.left,
        cut_share: s.cut,
        smear_w: trouble::smear_of(order),
        contrast_noise: contrast,
        deciding_visible: s.deciding,
        letter_px: posed.drawn.letter * unit_px * set.tilt_deg.to_radians().cos(),
        defocus_px: how.blur,
        moved_px: how.shake.0,
        moved_deg: how.shake.1.to_degrees(),
    }
}

fn code(set: &Set, order: &Order, measured: &Measured) -> Option<CodeTruth> {
    let (decal, posed) = own(set);
    let quad = quad_of(&set.scene, decal, posed.to_map, &posed.drawn.code?)?;
    Some(CodeTruth {
        text: posed.code.clone(),
        of_scheme: order.carried == Carried::Code,
        quad,
        legible: legible(set, &posed.code, &quad, measured),
    })
}

/// A code can be read where its letters stay this high (pixels) when two deviations of the blur are taken off,
/// where the mark stands out from noise as siblings' letters must, and where this share of its ink is left and
/// neither covered nor washed out, and this share of each sign's. Written down before any reader was tried on it.
const CODE_PX: f32 = 5.0;
const CODE_SHARE: f32 = 0.5;
const SIGN_SHARE: f32 = 0.3;

fn legible(set: &Set, text: &str, quad: &Quad, m: &Measured) -> bool {
    let blur = m.blur_w * m.stroke_px;
    let apart = |a: [f32; 2], b: [f32; 2]| (a[0] - b[0]).hypot(a[1] - b[1]);
    let high = (apart(quad[0], quad[3]) + apart(quad[1], quad[2])) / 2.0;
    let signs = text.trim().chars().count().max(1);
    // Signs, and a space among them, are taken for equally wide.
    let of_sign = |sign: usize| -> Vec<InkPoint> {
        let within = |p: &&InkPoint| {
            let at = set.scene.photo_of(p.x, p.y).and_then(|p| along(quad, p));
            at.is_some_and(|(u, v)| {
                let own = (u * signs as f32).clamp(0.0, signs as f32 - 1.0) as usize == sign;
                own && (0.0..=1.0).contains(&u) && (0.0..=1.0).contains(&v)
            })
        };
        let points = set.points.iter().filter(within);
        points
            .map(|p| InkPoint {
                deciding: true,
                ..*p
            })
            .collect()
    };
    let each: Vec<Vec<InkPoint>> = (0..signs).map(of_sign).collect();
    let seen = |points: &[InkPoint]| shares(&set.scene, points).deciding;
    high - 2.0 * blur >= CODE_PX
        && m.contrast_noise >= LEGIBLE_CONTRAST
        && seen(&each.concat()) >= CODE_SHARE
        && each.iter().all(|sign| seen(sign) >= SIGN_SHARE)
}

/// Where a place of the photo lies along and down a quad that is nearly a parallelogram, 0 to 1 within.
fn along(quad: &Quad, (x, y): (f32, f32)) -> Option<(f32, f32)> {
    let [a, b, _, d] = *quad;
    let (e, f) = ([b[0] - a[0], b[1] - a[1]], [d[0] - a[0], d[1] - a[1]]);
    let area = e[0] * f[1] - e[1] * f[0];
    let (dx, dy) = (x - a[0], y - a[1]);
    (area.abs() > 1e-6).then(|| {
        (
            (dx * f[1] - dy * f[0]) / area,
            (e[0] * dy - e[1] * dx) / area,
        )
    })
}

fn second_marks(set: &Set) -> Vec<SecondMark> {
    let quad = |i: &usize, b, to_map| quad_of(&set.scene, &set.scene.decals[*i], to_map, b);
    set.second
        .iter()
        .filter_map(|(what, i, b, to_map)| {
            Some(SecondMark {
                what: what.clone(),
                quad: quad(i, b, *to_map)?,
            })
        })
        .collect()
}

/// Siblings are told apart only by letters of this height (pixels), blurred by less than this share
/// of their height, of whose ink this share shows, over noise by this factor. Six pixels is where
/// small print of photographs stops being readable (from memory); the rest was judged by eye on
/// contact sheets of lots rendered for tuning.
pub const LEGIBLE_PX: f32 = 6.0;
pub const LEGIBLE_BLUR: f32 = 0.28;
pub const LEGIBLE_SHARE: f32 = 0.34;
pub const LEGIBLE_CONTRAST: f32 = 1.2;

fn decidable(m: &Measured) -> bool {
    let blur = m.blur_w * m.stroke_px;
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

//! The forms of one family - its main form and its variants - laid over one another and over the photo.

use std::borrow::Cow;
use std::sync::Arc;

use crate::alignment::{self, verifier};
use crate::descriptors::signature::MarkSignature;
use crate::examine::{Compared, Examined};
use crate::geometry::{Exemplar, Homography, Mark, Photo, Point, Quad};
use crate::ink::boxes::box_means;
use crate::ink::colour::lab_planes;
use crate::mark::cut;
use crate::mark::regions::{self, Region};
use crate::raster::Plane;
use crate::references::closer;
use crate::references::{PreparedExemplar, References};
use crate::view::View;

/// Side in pixels of the frame in which forms are compared. A mark fills it, so that letters a sixteenth of the mark
/// high are some 16 pixels high.
pub(super) const SIDE: usize = 288;
/// Exemplars of one family whose ink correlates less than this (-1 to 1) share too little to be laid over one another:
/// then only what was laid over the photo itself can tell them apart. Chance comes to 0.3.
const ALIKE: f32 = 0.4;
/// Room left around what all forms would cover, as a share of its radius.
const ROOM: f64 = 1.06;

/// A form of the family: its name and its ink where it would lie in the photo.
pub(super) struct Form {
    /// Folder of the variant; `None` for the main form.
    pub(super) variant: Option<String>,
    /// Ink 0 to 1 in the frame; 0 beyond what its picture shows.
    pub(super) ink: Plane,
}

/// A form's exemplar and where it lies in the photo.
struct Placed {
    variant: Option<String>,
    prepared: Arc<PreparedExemplar>,
    map: Homography<Photo, Exemplar>,
}

/// All forms in one frame with the photo.
pub(super) struct Laid {
    pub(super) forms: Vec<Form>,
    /// Forms that could not be laid over the one that fits best.
    pub(super) apart: Vec<Option<String>>,
    pub(super) ground: Ground,
    /// From the frame to the photo.
    pub(super) to_photo: Homography<Mark, Photo>,
    /// The box of the form that fits best, in the frame.
    pub(super) mark: Quad<Mark>,
}

impl Laid {
    /// The way the mark reads in the frame, in radians.
    pub(super) fn angle(&self) -> f64 {
        let [a, b, ..] = self.mark.0;
        (b.y - a.y).atan2(b.x - a.x)
    }
}

/// Lays the forms of the family of `best` over `photo`; `None` where it has one form only, or none can be had.
pub(super) fn laid(
    photo: &image::RgbImage,
    view: &View,
    examined: &Examined,
    best: &Compared,
    references: &References,
) -> Option<Laid> {
    let base = references.get(best.exemplar).prepared()?;
    let chosen = one_of_each(examined, best, references)?;
    let to_base = examined.cut.from_photo.then(&best.fit.map);
    let mut placed: Vec<Placed> = Vec::new();
    let mut apart = Vec::new();
    for (variant, at) in chosen {
        let Some(prepared) = references.get(at).prepared() else {
            continue;
        };
        let map = match at == best.exemplar {
            true => Some(to_base),
            false => between(&base, &prepared).map(|own| to_base.then(&own)),
        };
        match map {
            Some(map) => placed.push(Placed {
                variant,
                prepared,
                map,
            }),
            None => apart.push(variant),
        }
    }
    let region = region_of_all(&placed, view)?;
    let frame = cut::small_frame(&region, view.scale, SIDE);
    let to_photo = frame.inverse()?;
    let size = Size::of(&placed);
    let forms = placed.iter().filter_map(|p| {
        Some(Form {
            variant: p.variant.clone(),
            ink: ink_in_frame(&p.prepared, size, &to_photo.then(&p.map))?,
        })
    });
    let forms: Vec<Form> = forms.collect();
    let mark = to_base
        .inverse()?
        .then(&frame)
        .apply_quad(&base.signature.quad)?;
    Some(Laid {
        forms,
        apart,
        ground: Ground::of(photo, view, &region),
        to_photo,
        mark,
    })
}

/// One exemplar of each form: the one that was laid over the photo and fits best, or else the first. `None` for a
/// family with a single form.
fn one_of_each(
    examined: &Examined,
    best: &Compared,
    references: &References,
) -> Option<Vec<(Option<String>, usize)>> {
    let family = &references.get(best.exemplar).family;
    let odds = |at: usize| {
        let own = examined.compared.iter().find(|c| c.exemplar == at);
        own.map(|c| c.fit.correlation)
    };
    let mut chosen: Vec<(Option<String>, usize)> = Vec::new();
    for at in references.of_family(family) {
        let variant = &references.get(at).variant;
        match chosen.iter_mut().find(|(v, _)| v == variant) {
            Some((_, kept)) => {
                let better =
                    *kept != best.exemplar && (at == best.exemplar || odds(at) > odds(*kept));
                if better {
                    *kept = at;
                }
            }
            None => chosen.push((variant.clone(), at)),
        }
    }
    (chosen.len() > 1).then_some(chosen)
}

/// Lays one exemplar over another; `None` where they share too little.
fn between(
    base: &PreparedExemplar,
    other: &PreparedExemplar,
) -> Option<Homography<Exemplar, Exemplar>> {
    let mark = MarkSignature::of_exemplar(&base.signature);
    let exemplar = &other.signature;
    let poses = mark.codes.best(&exemplar.code, 0.0, std::f64::consts::PI);
    let draft = alignment::draft(&mark, exemplar, &poses)?;
    let fit = alignment::settle(&draft, &mark, exemplar);
    // A picture of the library stands in for the mark here.
    (fit.correlation >= ALIKE).then(|| Homography::new(fit.map.rows()))
}

/// The circle in the view around the boxes of all forms.
fn region_of_all(placed: &[Placed], view: &View) -> Option<Region> {
    let mut corners = Vec::new();
    for p in placed {
        let quad = p.map.inverse()?.apply_quad(&p.prepared.signature.quad)?;
        corners.extend(
            quad.0
                .map(|p| Point::new(p.x / view.scale, p.y / view.scale)),
        );
    }
    (!corners.is_empty()).then(|| regions::around(&corners).sized(ROOM))
}

/// The size at which the ink of forms is compared: all the same, or they would differ by it.
#[derive(Debug, Clone, Copy)]
enum Size {
    Verifier,
    Closer,
}

impl Size {
    fn of(placed: &[Placed]) -> Self {
        match placed.iter().all(|p| p.prepared.closer.is_some()) {
            true => Self::Closer,
            false => Self::Verifier,
        }
    }

    /// An exemplar's ink, and the side of its map in pixels.
    fn ink(self, prepared: &PreparedExemplar) -> (Cow<'_, Plane>, usize) {
        match (self, &prepared.closer) {
            (Self::Closer, Some(closer)) => (Cow::Owned(closer.plane()), closer::SIDE),
            _ => (Cow::Borrowed(&prepared.fine().ink), verifier::SIDE),
        }
    }
}

/// An exemplar's ink in the frame, inside its own box only.
fn ink_in_frame(
    prepared: &PreparedExemplar,
    size: Size,
    to_exemplar: &Homography<Mark, Exemplar>,
) -> Option<Plane> {
    let (ink, side) = size.ink(prepared);
    let to_map = to_exemplar.then(&cut::from_small::<Exemplar>(side).inverse()?);
    let within = &prepared.signature.within[1];
    let shrink = cut::SIDE as f64 / within.width() as f64;
    let to_within = to_exemplar.then(&Homography::<Exemplar, Exemplar>::affine([
        [1.0 / shrink, 0.0, 0.0],
        [0.0, 1.0 / shrink, 0.0],
    ]));
    let ink = ink.warp(&to_map, SIDE, SIDE, 0.0);
    let inside = within.warp(&to_within, SIDE, SIDE, 0.0);
    Some(ink.zip(&inside, |v, m| if m > 0.5 { v } else { 0.0 }))
}

/// The photo's colours in the frame.
pub(super) struct Ground {
    /// CIE L*, a*, b*.
    colour: [Plane; 3],
    /// 1 where the photo shows the place, and no reflection lies on it.
    pub(super) valid: Plane,
}

/// Weight of a* and b* against L*: they are quieter.
const CHROMA: f32 = 1.5;
/// Widths of the box means that make the glaze's colour, and the least weight with which it is known.
const BOXES: [usize; 3] = [41, 43, 41];
const LEAST_WEIGHT: f32 = 1e-3;

impl Ground {
    fn of(photo: &image::RgbImage, view: &View, region: &Region) -> Self {
        let valid = cut::small(photo, view, region, SIDE).valid;
        let (rgb, _) = cut::small_pixels(photo, view, region, SIDE);
        Self {
            colour: lab_planes(&rgb),
            valid,
        }
    }

    /// How far each pixel's colour lies from the glaze round it, along the way from glaze to ink: `strokes` weighs the
    /// places where ink is, `bare` is 1 where there is none. In units of L*; 0 where the photo shows nothing.
    pub(super) fn along(&self, strokes: &Plane, bare: &Plane) -> Plane {
        let weight = bare.zip(&self.valid, |b, v| b * v);
        let total = box_means(&weight, &BOXES);
        let off: Vec<Plane> = self
            .colour
            .iter()
            .zip([1.0, CHROMA, CHROMA])
            .map(|(plane, gain)| {
                let blurred = box_means(&plane.zip(&weight, |v, w| v * w), &BOXES);
                let ground = blurred.zip(&total, |b, t| b / t.max(LEAST_WEIGHT));
                let known = total.zip(&self.valid, |t, v| if t > LEAST_WEIGHT { v } else { 0.0 });
                plane
                    .zip(&ground, |v, g| gain * (v - g))
                    .zip(&known, |d, k| d * k)
            })
            .collect();
        let towards: Vec<f32> = off
            .iter()
            .map(|o| o.zip(strokes, |d, s| d * s).mean())
            .collect();
        let length = towards.iter().map(|t| t * t).sum::<f32>().sqrt().max(1e-9);
        let mut out = Plane::filled(SIDE, SIDE, 0.0);
        for (plane, t) in off.iter().zip(&towards) {
            out = out.zip(plane, |sum, d| sum + d * t / length);
        }
        out
    }
}

//! Describes the mark on an exemplar's picture.

use image::RgbImage;

use super::PreparedExemplar;
use super::closer::{self, Closer};
use crate::alignment::verifier;
use crate::descriptors::signature::ExemplarSignature;
use crate::geometry::{Exemplar, Photo, Point, Quad};
use crate::ink::small::{self, SmallInk};
use crate::mark::cut::{self, Cut};
use crate::mark::finder;
use crate::mark::propose;
use crate::mark::regions::{self, Region};
use crate::mark::second_look;
use crate::photo::UprightPhoto;
use crate::underside;
use crate::verdict::bareness;
use crate::view::{SEARCH_STEP, View};

/// How much of an exemplar is described.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Detail {
    /// By what families are told from one another.
    Family,
    /// Also by what forms of one family are.
    Form,
}

/// Describes an exemplar by what families are told. Without a `quad` its mark is found as in a photo.
pub fn prepare_exemplar(photo: &UprightPhoto, quad: Option<Quad<Photo>>) -> PreparedExemplar {
    prepare_in_detail(photo, quad, Detail::Family)
}

/// Describes an exemplar.
pub fn prepare_in_detail(
    photo: &UprightPhoto,
    quad: Option<Quad<Photo>>,
    detail: Detail,
) -> PreparedExemplar {
    let view = View::of(&photo.pixels);
    let (region, shows_nothing) = match &quad {
        Some(q) => (region_of_quad(q, view.scale), false),
        None => exemplar_region(&view, &photo.pixels),
    };
    let cut: Cut<Exemplar> = cut::cut(&photo.pixels, &view, &region).unwrap_or_else(|| {
        // A region found in this view always has an invertible frame; a hand-written quad that is
        // degenerate falls back to the whole picture.
        let whole = regions::whole_view(f64::from(view.rgb.width()), f64::from(view.rgb.height()));
        cut::whole(&photo.pixels, &whole, view.scale)
    });
    let quad = quad.unwrap_or_else(|| region.box_at(view.scale, 0.0));
    let in_frame = cut.from_photo.apply_quad(&quad).unwrap_or(Quad::upright(
        0.0,
        0.0,
        cut::SIDE as f64,
        cut::SIDE as f64,
    ));
    let small_at = |side| cut::small(&photo.pixels, &view, &region, side);
    let [small, fine] = [small::SIDE, verifier::SIDE].map(small_at);
    PreparedExemplar {
        quad,
        shows_nothing,
        signature: ExemplarSignature::of(&cut, in_frame, &small, &fine),
        closer: (detail == Detail::Form).then(|| Closer::of(&small_at(closer::SIDE))),
    }
}

/// The ink of an exemplar's mark as the imprint reads it.
pub fn small_ink(photo: &UprightPhoto, quad: Option<&Quad<Photo>>) -> SmallInk {
    let view = View::of(&photo.pixels);
    let region = match quad {
        Some(q) => region_of_quad(q, view.scale),
        None => exemplar_region(&view, &photo.pixels).0,
    };
    cut::small(&photo.pixels, &view, &region, small::SIDE)
}

/// Where a picture's mark lies: all of a scan's ink; in a photo what the finder sees, or else what
/// stands out as lettering does. And whether a photo shows nothing there.
fn exemplar_region(view: &View, pixels: &RgbImage) -> (Region, bool) {
    if is_scan(view)
        && let Some(all) = regions::all_ink(&view.contrast, SEARCH_STEP as f64)
    {
        return (all, false);
    }
    let underside = underside::find(&view.lab[0], SEARCH_STEP as f64);
    let step = SEARCH_STEP as f64;
    let (w, h) = (f64::from(view.rgb.width()), f64::from(view.rgb.height()));
    let (finds, scene) = finder::find(&view.overview, w, 1);
    let score = finds.first().map_or(0.0, |f| f.score);
    let seen = finds
        .into_iter()
        .next()
        .filter(|f| f.score >= FOUND)
        .map(|f| {
            // All of the circle belongs to the exemplar: a line of text left out could never tell it
            // from its siblings.
            let r = ROOM * f.radius;
            let corners = [(-r, -r), (r, -r), (r, r), (-r, r)]
                .map(|(dx, dy)| Point::new(f.centre.x + dx, f.centre.y + dy));
            regions::around(&corners).sized(std::f64::consts::FRAC_1_SQRT_2 * CUT_ROOM)
        });
    let lettering = || {
        propose::propose(&view.contrast, &underside, step, 1)
            .into_iter()
            .next()
    };
    let region = seen
        .or_else(lettering)
        .unwrap_or_else(|| regions::whole_view(w, h));
    let look = second_look::log_odds(pixels, view, &region);
    (region, bareness::shows_nothing(&scene, score, look))
}

/// The finder's score from which an exemplar's mark lies where it says.
const FOUND: f64 = 0.2;
/// Half the side of an exemplar's box, in radii of that circle.
const ROOM: f64 = 0.95;
/// Radius of what is cut out, in halves of that side.
const CUT_ROOM: f64 = 1.2;
/// Whether a picture shows a mark on its paper or glaze and nothing else: along its border the ground
/// is even and carries no ink.
fn is_scan(view: &View) -> bool {
    let lightness = &view.lab[0];
    let (w, h) = (lightness.width(), lightness.height());
    let strip = ((SCAN_BORDER * w.min(h) as f32).ceil() as usize).max(2);
    let mut grounds = vec![Vec::new(); 4 * SEGMENTS];
    for y in 0..h {
        for x in 0..w {
            let (along, side) = if y < strip {
                (x * SEGMENTS / w, 0)
            } else if y + strip >= h {
                (x * SEGMENTS / w, 1)
            } else if x < strip {
                (y * SEGMENTS / h, 2)
            } else if x + strip >= w {
                (y * SEGMENTS / h, 3)
            } else {
                continue;
            };
            grounds[side * SEGMENTS + along].push(lightness.get(x, y));
        }
    }
    let mut all = grounds.concat();
    let ground = crate::raster::quantile(&mut all, 0.5);
    let inked = all
        .iter()
        .filter(|v| (*v - ground).abs() > SCAN_INK)
        .count();
    let middles = grounds.iter_mut().map(|g| crate::raster::quantile(g, 0.5));
    let (least, most) = middles.fold((f32::INFINITY, f32::NEG_INFINITY), |(a, b), v| {
        (a.min(v), b.max(v))
    });
    (inked as f32) < SCAN_INKED * all.len() as f32 && most - least < SCAN_EVEN
}

/// Width of the border strip, as a share of the shorter side, and parts of each of its sides.
const SCAN_BORDER: f32 = 0.02;
const SEGMENTS: usize = 4;
/// L* by which ink differs from the strip's ground, and the share of the strip that may show it.
const SCAN_INK: f32 = 8.0;
const SCAN_INKED: f32 = 0.02;
/// L* by which the strip's parts may differ. Between blocks of a whole picture the paper of most clean
/// scans of fit and tune differs by 1 to 3 grey levels of 255, that of undersides by 6 and more; a
/// level is 0.4 of L*.
const SCAN_EVEN: f32 = 2.0;

fn region_of_quad(quad: &Quad<Photo>, scale: f64) -> Region {
    let hull: Vec<_> = quad
        .0
        .iter()
        .map(|p| crate::geometry::Point::new(p.x / scale, p.y / scale))
        .collect();
    regions::around(&hull)
}

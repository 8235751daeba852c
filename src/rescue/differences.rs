//! What only the photo shows, and what only the exemplar shows where the photo could have shown it.

use image::RgbImage;

use super::ink::LegibleInk;
use super::panels::{LACKING, PHOTO_INK, each, over, paper_at, tinted};
use super::places::{Line, Place, grown, opened, places, spots};
use super::words::Tint;
use crate::ink::box_min;
use crate::raster::Plane;
use crate::report::frame::SharedFrame;

/// Shade from which a stroke is surely there, and from which there may be one.
const SURE: f32 = 0.6;
const FAINT: f32 = 0.2;
/// How far a stroke may lie beside its like and still be the same one, as a share of the longer side: what
/// the alignment leaves, and edges that differ by strike. A blurred photo gets its blur on top.
const BESIDE: f32 = 0.007;
/// A spot smaller than this share of the squared longer side is no stroke: a quarter of a small letter.
const LEAST_SPOT: f32 = 0.000_12;
/// What the photo lacks counts only where it shows nearly all of the exemplar's strokes round about: within
/// this share of the longer side ...
const AROUND: f32 = 0.09;
/// ... at least this share of them, which a worn or half hidden strike does not reach (with the right mark laid
/// over the demo's 26 named photos, something is marked as lacking in two) ...
const SHOWN_AROUND: f32 = 0.9;
/// ... standing this many noise units from the glaze on average ...
const STRONG_AROUND: f32 = 3.0;
/// ... and there must be as many pixels of them as this share of the squared longer side.
const LEAST_AROUND: f32 = 0.000_6;
/// At the place itself the photo must lack at least this share of the exemplar's strokes: where it shows some
/// and lacks others between them, the strike is worn.
const LOST_THERE: f32 = 0.6;
/// A faint patch wider than this share of the longer side is a label's edge or a shadow, no stroke, unless
/// the exemplar has one as wide.
const PATCH: f32 = 0.03;
/// What a label covers lies between its edges: patches are joined over this share of the longer side. A place
/// of which they cover more than this share may be covered as a whole.
const COVER: f32 = 0.1;
const COVERED: f32 = 0.1;
/// Room around the exemplar's box, as a share of the longer side: what lies further out is another matter.
const ROOM: f64 = 0.03;
/// Spots nearer than this share of the longer side get one frame, and at most so many frames are drawn.
const ONE_FRAME: f32 = 0.02;
const MOST_FRAMES: usize = 10;
/// With more places than this that only the photo has, cracks, dirt or the shadows of a pressed mark lie over
/// all of it, and pass for strokes of the exemplar where they meet them.
const CLUTTER: usize = 6;
/// Blur (sigma, as a share of the longer side) from which strokes of ordinary lettering run into one another.
/// Sharp photos of the demo have up to 0.0025, its blurred one has 0.01.
const UNSHARP: f32 = 0.006;

/// What the differences come to, in places.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Told {
    /// Places where only the photo has a stroke.
    pub more: usize,
    /// Places where only the exemplar has one and the photo could have shown it.
    pub less: usize,
    /// Share of the exemplar's strokes, in whole per cent, that the photo shows.
    pub shown: u8,
    /// Share of the exemplar's strokes, in whole per cent, of which the photo cannot tell.
    pub untold: u8,
    /// Why nothing is said of what the photo lacks.
    pub silence: Option<Silence>,
}

/// Why nothing follows from what a photo lacks, wherever it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Silence {
    /// Much is only in the photo.
    Cluttered,
    /// Thin strokes are lost in its blur.
    Unsharp,
}

/// Strokes by what is known of them; all masks are of the frame's size.
struct Strokes {
    more: Vec<bool>,
    less: Vec<bool>,
    untold: Vec<bool>,
}

/// Compares the ink of photo and exemplar in their common frame. `blur` is in pixels of it.
pub(super) fn between(
    photo: &LegibleInk,
    exemplar: &LegibleInk,
    frame: &SharedFrame,
    blur: f32,
) -> (RgbImage, Told) {
    let masks = Masks::of(photo, exemplar, frame, blur);
    let w = frame.width as usize;
    let (spot, near) = masks.sizes();
    let more = spots(&masks.more(), w, spot);
    let more_places = places(&more, w, near);
    let silence = match blur > UNSHARP * masks.longer {
        true => Some(Silence::Unsharp),
        false => (more_places.len() > CLUTTER).then_some(Silence::Cluttered),
    };
    let lacking = masks.lacking();
    let mut less = vec![false; lacking.len()];
    let mut less_places = Vec::new();
    for place in places(&spots(&lacking, w, spot), w, near) {
        if silence.is_none() && masks.could_show(&place, &lacking) {
            place.each(w, |at| less[at] |= lacking[at] && masks.known[at]);
            less_places.push(place);
        }
    }
    let untold = lacking.iter().zip(&less).map(|(l, s)| *l && !s).collect();
    let strokes = Strokes { more, less, untold };
    let all = masks.sure_own.data().iter().filter(|v| **v > 0.5).count();
    let per_cent = |of: &[bool]| {
        let some = of.iter().filter(|v| **v).count();
        (100 * some / all.max(1)).min(100) as u8
    };
    let told = Told {
        more: more_places.len(),
        less: less_places.len(),
        shown: 100 - per_cent(&lacking),
        untold: per_cent(&strokes.untold),
        silence,
    };
    let mut picture = paint(photo, exemplar, &strokes);
    for place in more_places.iter().take(MOST_FRAMES) {
        place.draw(&mut picture, PHOTO_INK, Line::Solid);
    }
    for place in less_places.iter().take(MOST_FRAMES) {
        place.draw(&mut picture, LACKING, Line::Dashed);
    }
    (picture, told)
}

/// Where strokes are and may be: planes of the frame's size, 1 and 0.
pub(super) struct Masks {
    sure_photo: Plane,
    sure_own: Plane,
    /// Within reach of what may be a stroke.
    near_photo: Plane,
    near_own: Plane,
    /// Under what looks like a label.
    covered: Plane,
    /// The photo's ink in noise units, strongest within reach.
    standing: Plane,
    /// Whether both pictures have glaze to be seen there.
    known: Vec<bool>,
    longer: f32,
}

impl Masks {
    pub(super) fn of(
        photo: &LegibleInk,
        exemplar: &LegibleInk,
        frame: &SharedFrame,
        blur: f32,
    ) -> Self {
        let longer = frame.width.max(frame.height) as f32;
        let reach = (BESIDE * longer + blur).round().max(2.0) as usize;
        let inside = inside(frame, longer);
        let mask = |ink: &LegibleInk, least: f32| {
            let holds = |s, i| f32::from(u8::from(s >= least && i > 0.5));
            ink.shade.zip(&inside, holds)
        };
        let (faint_photo, faint_own) = (mask(photo, FAINT), mask(exemplar, FAINT));
        // Blur widens strokes, and joins lines that lie side by side.
        let patch = (PATCH * longer / 2.0 + blur) as usize;
        let wide_own = grown(&opened(&grown(&faint_own, reach), patch), reach);
        let patches = opened(&faint_photo, patch).zip(&wide_own, |p, o| p * (1.0 - o));
        let strokes = faint_photo.zip(&patches, |f, p| f * (1.0 - p));
        let cover = (COVER * longer) as usize;
        let known = photo.valid.zip(&exemplar.valid, f32::min);
        Self {
            sure_photo: mask(photo, SURE),
            sure_own: mask(exemplar, SURE),
            near_photo: grown(&strokes, reach),
            near_own: grown(&faint_own, reach),
            covered: box_min(&grown(&patches, cover), cover - cover / 4),
            standing: strongest(&photo.standing, reach),
            known: known.data().iter().map(|v| *v > 0.5).collect(),
            longer,
        }
    }

    /// What the photo surely shows, far from anything of the exemplar.
    pub(super) fn more(&self) -> Vec<bool> {
        let alone = alone(&self.sure_photo, &self.near_own);
        alone
            .iter()
            .zip(&self.known)
            .map(|(a, k)| *a && *k)
            .collect()
    }

    /// What the exemplar surely has, far from anything that the photo shows.
    fn lacking(&self) -> Vec<bool> {
        alone(&self.sure_own, &self.near_photo)
    }

    /// The same, where both pictures have glaze to be seen.
    pub(super) fn both_ways_lacking(&self) -> Vec<bool> {
        let lacking = self.lacking();
        lacking
            .iter()
            .zip(&self.known)
            .map(|(l, k)| *l && *k)
            .collect()
    }

    /// Least pixels of a spot, and how near spots lie that get one frame.
    pub(super) fn sizes(&self) -> (usize, usize) {
        let spot = (LEAST_SPOT * self.longer * self.longer) as usize;
        (spot, (ONE_FRAME * self.longer).ceil() as usize)
    }

    /// Share of the exemplar's strokes that the photo shows, in whole per cent.
    pub(super) fn shown_per_cent(&self) -> usize {
        let count = |some: &[bool]| some.iter().filter(|v| **v).count();
        let all = self.sure_own.data().iter().filter(|v| **v > 0.5).count();
        100 - (100 * count(&self.lacking()) / all.max(1)).min(100)
    }

    /// Whether the photo could have shown what it lacks at a place: it lies open there, and round about nearly
    /// all of the exemplar's strokes are seen, strongly enough.
    fn could_show(&self, place: &Place, lacking: &[bool]) -> bool {
        let (w, h) = (self.sure_own.width(), self.sure_own.height());
        let wider = place.grown((AROUND * self.longer) as u32, w, h);
        let (mut all, mut shown, mut strength) = (0_u32, 0_u32, 0.0_f32);
        let (mut there, mut lost, mut hidden) = (0_u32, 0_u32, 0_u32);
        wider.each(w, |at| {
            if place.holds(at, w) {
                let out_of_sight = self.covered.data()[at] > 0.5 || !self.known[at];
                there += u32::from(self.sure_own.data()[at] > 0.5);
                lost += u32::from(lacking[at]);
                hidden += u32::from(lacking[at] && out_of_sight);
            } else if self.sure_own.data()[at] > 0.5 {
                all += 1;
                if self.near_photo.data()[at] > 0.5 && self.known[at] {
                    shown += 1;
                    strength += self.standing.data()[at];
                }
            }
        });
        hidden as f32 <= COVERED * lost as f32
            && lost as f32 >= LOST_THERE * there as f32
            && all as f32 > LEAST_AROUND * self.longer * self.longer
            && shown as f32 >= SHOWN_AROUND * all as f32
            && strength >= STRONG_AROUND * shown as f32
    }
}

fn alone(a: &Plane, b: &Plane) -> Vec<bool> {
    let pairs = a.data().iter().zip(b.data());
    pairs.map(|(a, b)| *a > 0.5 && *b < 0.5).collect()
}

/// 1 in the exemplar's box and a little around it.
fn inside(frame: &SharedFrame, longer: f32) -> Plane {
    let (w, h) = (frame.width as usize, frame.height as usize);
    let room = ROOM * f64::from(longer);
    let (x0, y0, x1, y1) = frame.mark.bounds();
    let mut out = Plane::filled(w, h, 0.0);
    for y in 0..h {
        for x in 0..w {
            let (px, py) = (x as f64 + 0.5, y as f64 + 0.5);
            if px > x0 - room && px < x1 + room && py > y0 - room && py < y1 + room {
                out.set(x, y, 1.0);
            }
        }
    }
    out
}

/// Ink of the strongest neighbour within `reach` pixels: strokes of photo and exemplar lie a little beside
/// one another.
fn strongest(standing: &Plane, reach: usize) -> Plane {
    box_min(&standing.map(|v| -v), reach).map(|v| -v)
}

fn paint(photo: &LegibleInk, exemplar: &LegibleInk, strokes: &Strokes) -> RgbImage {
    let width = photo.valid.width();
    each(photo, |at| {
        let tint = |tint| tinted(tint, (at % width) as u32, (at / width) as u32);
        let paper = paper_at(&photo.valid, at);
        if strokes.more[at] {
            tint(Tint::OnlyPhoto)
        } else if strokes.less[at] {
            tint(Tint::OnlyLibrary)
        } else if strokes.untold[at] {
            over(paper, tint(Tint::NotTold), exemplar.shade.data()[at])
        } else {
            over(paper, tint(Tint::Both), photo.shade.data()[at])
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::{Photo, Quad};

    const SIDE: usize = 500;

    /// Ink of rows of bars as lettering is; those that `left_out` names are not there.
    fn bars(left_out: impl Fn(usize, usize) -> bool) -> LegibleInk {
        let mut shade = Plane::filled(SIDE, SIDE, 0.0);
        for (row, column) in (0..8).flat_map(|r| (0..12).map(move |c| (r, c))) {
            let (left, top) = (90 + 28 * column, 90 + 42 * row);
            if left_out(row, column) {
                continue;
            }
            for y in top..top + 26 {
                (left..left + 8).for_each(|x| shade.set(x, y, 1.0));
            }
        }
        LegibleInk {
            standing: shade.map(|s| 9.0 * s),
            valid: Plane::filled(SIDE, SIDE, 1.0),
            shade,
        }
    }

    fn frame() -> SharedFrame {
        let quad = Quad::<Photo>::upright(0.0, 0.0, 100.0, 100.0);
        SharedFrame::sized(&quad, SIDE as f64).expect("a box")
    }

    fn told(photo: &LegibleInk, exemplar: &LegibleInk) -> Told {
        between(photo, exemplar, &frame(), 0.0).1
    }

    #[test]
    fn equal_marks_do_not_differ() {
        let ink = bars(|_, _| false);
        let same = told(&ink, &ink);
        assert_eq!(
            (same.more, same.less, same.shown, same.untold),
            (0, 0, 100, 0)
        );
    }

    #[test]
    fn a_stroke_more_and_a_stroke_less_are_one_place_each() {
        let (photo, own) = (bars(|r, c| (r, c) == (3, 4)), bars(|r, c| (r, c) == (5, 8)));
        let both = told(&photo, &own);
        assert_eq!((both.more, both.less, both.untold), (1, 1, 0));
    }

    #[test]
    fn nothing_follows_from_a_lack_in_a_worn_part_or_under_glare() {
        let own = bars(|_, _| false);
        let worn = bars(|r, c| r > 4 && (r + c) % 2 == 0);
        let said = told(&worn, &own);
        assert_eq!((said.more, said.less), (0, 0));
        assert!(said.untold > 10, "{said:?}");
        let mut glare = bars(|r, c| (r, c) == (3, 4));
        for y in 200..270 {
            (190..230).for_each(|x| glare.valid.set(x, y, 0.0));
        }
        assert_eq!(told(&glare, &own).less, 0);
    }

    #[test]
    fn nothing_follows_from_a_lack_in_a_weak_strike() {
        let mut weak = bars(|r, c| (r, c) == (3, 4));
        weak.standing = weak.standing.map(|s| s / 4.0);
        let said = told(&weak, &bars(|_, _| false));
        assert_eq!((said.more, said.less), (0, 0));
    }
}

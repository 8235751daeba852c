//! Which part tells two siblings of the library apart.

use super::differences::Masks;
use super::places::{Place, places, spots};
use super::{Pictured, Size, Straight, settle};
use crate::report::frame::{ExemplarPhoto, MARGIN, SharedFrame};

/// A place where only one of two marks has a stroke: shares of the frame's width and height, 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ring {
    pub left: f64,
    pub top: f64,
    pub width: f64,
    pub height: f64,
    /// Whether the stroke is the first mark's; else it is the sibling's.
    pub own: bool,
}

/// What tells two marks of the library apart.
#[derive(Debug, Clone, PartialEq)]
pub enum Deciding {
    /// Here, the largest first; none where their pictures show no difference.
    Here(Vec<Ring>),
    /// They share too little for any one part to decide.
    AllOver,
}

/// Below this share of common strokes, in whole per cent, two marks are no siblings: with half of the strokes elsewhere
/// rings would lie over all of it. A choice for the eye; nothing is fitted and no verdict depends on it.
const AKIN: usize = 50;
/// With more places than this nothing stands out for the eye: dirt on one of the pictures, or no siblings.
const CLUTTER: usize = 12;
/// So many are ringed, the largest.
const MOST_RINGS: usize = 6;
/// A ring leaves this much room around what it rings, as a share of the frame's longer side.
const ROOM: f64 = 0.015;

/// Compares two exemplars in the frame of the first. `sibling` has its corners where its picture lies in the first
/// one's, and the same box. `None` where a box has no area.
pub fn deciding(
    own: Pictured<'_, ExemplarPhoto>,
    sibling: Pictured<'_, ExemplarPhoto>,
) -> Option<Deciding> {
    let native = own.native()? * (1.0 + 2.0 * MARGIN);
    let longest = native.clamp(Size::PAGE.least, Size::PAGE.most);
    let frame = SharedFrame::sized(&own.mark, longest)?;
    let first = Straight::of(own, &frame, None)?;
    let mut other = Straight::of(sibling, &frame, None)?;
    if let Some(place) = settle::settle(&other.ink, &first.ink) {
        other = Straight::of(sibling, &frame, Some(&place)).unwrap_or(other);
    }
    let masks = Masks::of(&other.ink, &first.ink, &frame, 0.0);
    if masks.shown_per_cent() < AKIN {
        return Some(Deciding::AllOver);
    }
    let (w, h) = (frame.width as usize, frame.height as usize);
    let (spot, near) = masks.sizes();
    let of = |mask: Vec<bool>, own: bool| {
        let found = places(&spots(&mask, w, spot), w, near).into_iter();
        found.map(move |place| (place, own)).collect::<Vec<_>>()
    };
    let mut all = of(masks.both_ways_lacking(), true);
    all.extend(of(masks.more(), false));
    all.sort_by_key(|(place, _)| std::cmp::Reverse(place.pixels()));
    if all.len() > CLUTTER {
        return Some(Deciding::AllOver);
    }
    let rings = all.into_iter().take(MOST_RINGS);
    Some(Deciding::Here(
        rings.map(|(place, own)| ring(&place, own, w, h)).collect(),
    ))
}

fn ring(place: &Place, own: bool, width: usize, height: usize) -> Ring {
    let room = ROOM * width.max(height) as f64;
    let [left, top, right, bottom] = place.corners().map(f64::from);
    let (w, h) = (width as f64, height as f64);
    let (x0, y0) = ((left - room).max(0.0), (top - room).max(0.0));
    let (x1, y1) = ((right + 1.0 + room).min(w), (bottom + 1.0 + room).min(h));
    Ring {
        left: x0 / w,
        top: y0 / h,
        width: (x1 - x0) / w,
        height: (y1 - y0) / h,
        own,
    }
}

#[cfg(test)]
mod tests {
    use image::{Rgb, RgbImage};

    use super::*;
    use crate::geometry::Quad;

    /// Rows of dark bars on a pale ground; one may be left out.
    fn mark(left_out: Option<(u32, u32)>) -> RgbImage {
        let mut picture = RgbImage::from_pixel(640, 640, Rgb([236, 234, 228]));
        for (row, column) in (0..8).flat_map(|r| (0..12).map(move |c| (r, c))) {
            if left_out == Some((row, column)) {
                continue;
            }
            let (x0, y0) = (130 + 32 * column, 130 + 48 * row);
            for (x, y) in (y0..y0 + 30).flat_map(|y| (x0..x0 + 9).map(move |x| (x, y))) {
                picture.put_pixel(x, y, Rgb([30, 40, 90]));
            }
        }
        picture
    }

    fn told(own: &RgbImage, sibling: &RgbImage) -> Option<Deciding> {
        let quad = Quad::<ExemplarPhoto>::upright(120.0, 120.0, 520.0, 520.0);
        deciding(Pictured::whole(own, quad), Pictured::whole(sibling, quad))
    }

    #[test]
    fn equal_marks_have_no_deciding_part() {
        let one = mark(None);
        assert_eq!(told(&one, &one), Some(Deciding::Here(Vec::new())));
    }

    #[test]
    fn the_one_bar_that_only_one_of_them_has_is_ringed_for_either() {
        let (full, lacking) = (mark(None), mark(Some((3, 4))));
        for (own, sibling, of_own) in [(&full, &lacking, true), (&lacking, &full, false)] {
            let Some(Deciding::Here(rings)) = told(own, sibling) else {
                panic!("they are alike");
            };
            assert_eq!(rings.len(), 1, "{rings:?}");
            assert_eq!(rings[0].own, of_own);
            assert!(rings[0].width < 0.2 && rings[0].height < 0.2, "{rings:?}");
        }
    }

    #[test]
    fn marks_that_have_nothing_in_common_are_no_siblings() {
        let mut other = RgbImage::from_pixel(640, 640, Rgb([236, 234, 228]));
        for (x, y) in (150..490_u32).flat_map(|x| (146..150_u32).map(move |y| (x, y))) {
            other.put_pixel(x, y, Rgb([30, 40, 90]));
        }
        assert_eq!(told(&mark(None), &other), Some(Deciding::AllOver));
    }
}

//! A part of a photo cut out straight, and the codes that are read in it.

use image::RgbImage;

use super::automaton::Automaton;
use super::decode::{DecodeSettings, Decoded, Look, Up, pooled};
use super::reader::Reader;
use super::reading::{CERTAIN, read_strip};
use super::region::{Area, Patch, size};
use super::strip::{around, cut, find_lines, grey_of};
use crate::geometry::{Homography, Photo, Point, Quad};
use crate::raster::{Plane, warp_rgb};

/// Share of an area that must lie in the photo.
const IN_VIEW: f64 = 0.6;
/// Height that a code gets where it is cut out, in pixels, at most [`ENLARGED`] times the photo's
/// own: a strip of the reader holds capitals 20 px high, and a second resampling wants some more.
const HIGH: f64 = 28.0;
const ENLARGED: f64 = 2.0;
/// Longer side of a cut-out area in pixels.
const LONGEST: f64 = 1000.0;
/// Lines of a place that are read.
const LINES: usize = 4;
/// How far the middle of a line may lie from that of the given corners, across it, and how its
/// height may differ, in heights of the code.
const OFF: f64 = 0.6;
const HEIGHTS: (f64, f64) = (0.55, 1.6);
/// What is added to given corners along the code on either side, in its heights and its widths: other
/// codes are longer than the one that they were drawn around.
const WIDER: (f64, f64) = (0.3, 0.25);
/// Where given corners read badly, they are tried so much higher and lower, in heights of the code: an
/// alignment is seldom worse.
const HIGHER: f64 = 0.45;
/// What a first reading has to reach for its place not to be tried elsewhere, and for given corners to
/// be taken as they are. Of 93 first readings above the second in two tune lots, all were right.
const GOOD: f64 = 0.5;
const BEYOND_DOUBT: f64 = 0.97;

/// What a code is read with.
pub(super) struct Want<'w> {
    pub(super) codes: Option<&'w Automaton>,
    pub(super) weight: &'w dyn Fn(&str) -> f64,
    pub(super) settings: &'w DecodeSettings,
}

/// Probability of all codes that were read.
fn as_code(decoded: &Decoded) -> f64 {
    decoded.readings.iter().map(|r| r.probability).sum()
}

/// Whether one account tells more of a code than another: by what it reads as codes; else what is
/// legible before what is not, and that before nothing.
pub(super) fn says_more(one: &Decoded, other: &Decoded) -> bool {
    let rank = |d: &Decoded| match d.look {
        Look::Read => 3,
        Look::Illegible => 2,
        Look::OutsideScheme => 1,
        Look::Absent | Look::NotLookedFor => 0,
    };
    let (a, b) = (rank(one), rank(other));
    a > b || (a == b && as_code(one) > as_code(other))
}

/// An area, cut out straight.
pub(super) struct CutOut {
    grey: Plane,
    code: Option<Quad<Patch>>,
    to_photo: Homography<Patch, Photo>,
}

impl CutOut {
    /// `None` where too much of the area lies outside the photo.
    pub(super) fn of(photo: &RgbImage, area: &Area) -> Option<Self> {
        let (wide, high) = size(&area.quad)?;
        let fits = LONGEST / wide.max(high);
        let wanted = match area.code.as_ref().and_then(size) {
            Some((_, code)) => (HIGH / code).min(ENLARGED),
            None => 1.0,
        };
        let scale = wanted.min(fits);
        let (w, h) = ((wide * scale).ceil(), (high * scale).ceil());
        let frame = Quad::<Patch>::upright(0.0, 0.0, w, h);
        let to_photo = Homography::between(&frame, &area.quad)?;
        let (rgb, seen) = warp_rgb(photo, &to_photo, w as usize, h as usize);
        if f64::from(seen.mean()) < IN_VIEW {
            return None;
        }
        let from_photo = to_photo.inverse()?;
        Some(Self {
            grey: grey_of(&rgb),
            code: area.code.and_then(|c| from_photo.apply_quad(&c)),
            to_photo,
        })
    }

    /// The code's own corners, where they are given.
    pub(super) fn code(&self) -> Option<&Quad<Patch>> {
        self.code.as_ref()
    }

    pub(super) fn in_photo(&self, quad: &Quad<Patch>) -> Option<Quad<Photo>> {
        self.to_photo.apply_quad(quad)
    }

    pub(super) fn whole(&self) -> Quad<Patch> {
        let (w, h) = (self.grey.width() as f64, self.grey.height() as f64);
        Quad::upright(0.0, 0.0, w, h)
    }

    /// Reads around given corners: the corners themselves, made wider, and the lines that are found
    /// there. `None` where nothing could be cut.
    pub(super) fn read_given(
        &self,
        code: &Quad<Patch>,
        upright: f64,
        want: &Want<'_>,
    ) -> Option<(Decoded, Quad<Patch>)> {
        let (wide, high) = size(code)?;
        let more = (WIDER.0 * high + WIDER.1 * wide) / wide;
        let place = along(code, more);
        let first = self.read(&place, upright, want);
        let likeliest = |d: &Decoded| d.readings.first().map_or(0.0, |r| r.probability);
        if first.as_ref().is_some_and(|d| likeliest(d) >= BEYOND_DOUBT) {
            return Some((first?, place));
        }
        // Which way up it stands is settled once.
        let upright = match &first {
            Some(d) if d.up == Up::AsFound => CERTAIN,
            _ => upright,
        };
        let middle = code.centre();
        let there = |line: &Quad<Patch>| {
            let centre = line.centre();
            let tall = size(line).map_or(0.0, |s| s.1) / high;
            (centre.y - middle.y).abs() <= OFF * high
                && (centre.x - middle.x).abs() <= wide
                && (HEIGHTS.0..=HEIGHTS.1).contains(&tall)
        };
        let read = |p: &Quad<Patch>| self.read(p, upright, want);
        let lines = find_lines(&self.grey).into_iter().filter(there).take(LINES);
        let mut strips: Vec<Decoded> = first
            .into_iter()
            .chain(lines.filter_map(|l| read(&l)))
            .collect();
        let mut best = pooled(&strips);
        if likeliest(&best) < GOOD && best.nothing < GOOD {
            let moved = [-HIGHER, HIGHER].map(|share| across(&place, share));
            strips.extend(moved.iter().filter_map(read));
            best = pooled(&strips);
        }
        (!strips.is_empty()).then_some((best, place))
    }

    /// Reads the lines of an area and keeps what tells most; `None` where there are none.
    pub(super) fn read_lines(
        &self,
        upright: f64,
        want: &Want<'_>,
    ) -> Option<(Decoded, Quad<Patch>)> {
        let mut best: Option<(Decoded, Quad<Patch>)> = None;
        for line in find_lines(&self.grey).into_iter().take(2 * LINES) {
            let Some(decoded) = self.read(&line, upright, want) else {
                continue;
            };
            if best.as_ref().is_none_or(|b| says_more(&decoded, &b.0)) {
                best = Some((decoded, line));
            }
        }
        best
    }

    fn read(&self, line: &Quad<Patch>, upright: f64, want: &Want<'_>) -> Option<Decoded> {
        let strip = cut(&self.grey, &around(line))?;
        let reader = Reader::shipped();
        let (codes, weight) = (want.codes, want.weight);
        Some(read_strip(
            &strip,
            reader,
            codes,
            upright,
            weight,
            want.settings,
        ))
    }
}

/// A box moved down by a share of its height.
fn across(quad: &Quad<Patch>, share: f64) -> Quad<Patch> {
    let [a, b, c, d] = quad.0;
    let moved = |p: Point<Patch>, (from, to): (Point<Patch>, Point<Patch>)| {
        Point::new(p.x + (to.x - from.x) * share, p.y + (to.y - from.y) * share)
    };
    Quad([
        moved(a, (a, d)),
        moved(b, (b, c)),
        moved(c, (b, c)),
        moved(d, (a, d)),
    ])
}

/// A box made longer by a share of its width on either side.
fn along(quad: &Quad<Patch>, share: f64) -> Quad<Patch> {
    let mix = |a: Point<Patch>, b: Point<Patch>, t: f64| {
        Point::new(a.x + (b.x - a.x) * t, a.y + (b.y - a.y) * t)
    };
    let [a, b, c, d] = quad.0;
    Quad([
        mix(a, b, -share),
        mix(a, b, 1.0 + share),
        mix(d, c, 1.0 + share),
        mix(d, c, -share),
    ])
}

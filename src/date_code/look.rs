//! Reads the codes of identified marks: goes where the schemes of a mark's families say that a
//! code stands, cuts strips there at the photo's own resolution, and weighs what they read.

use std::borrow::Cow;

use image::RgbImage;

use super::automaton::Automaton;
use super::book::{CodeBook, FamilyCodes, by_run};
use super::decode::{DecodeSettings, Decoded, Look, pooled};
use super::reader::Reader;
use super::reading::{codes_of, date_answer, read_strip};
use super::region::{Area, Laid, Patch, areas, size};
use super::scheme::{Place, Scheme};
use super::sense::{Bounds, compare_works, lacking};
use super::strip::{around, cut, find_lines};
use crate::answer::{Candidate, DateAnswer, MarkAnswer, Verdict};
use crate::geometry::{Homography, Photo, Point, Quad};
use crate::raster::{Plane, warp_rgb};
use crate::references::References;

/// Candidates of an undecided mark whose schemes are used, and the least probability of one.
const CANDIDATES: usize = 3;
const LIKELY: f64 = 0.1;
/// Strength of a strike from which a mark is clear enough for a missing code to mean something: that below
/// which a strike is called weak.
const CLEAR: f64 = 9.0;
/// Two places that overlap so much are one.
const SAME_PLACE: f64 = 0.5;
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

/// A code's place in the photo, with the schemes of all candidates that put their code there.
struct Spot<'b> {
    family: &'b str,
    areas: Vec<Area>,
    schemes: Vec<&'b Scheme>,
    bounds: Option<&'b Bounds>,
}

/// What can be said of the codes of a mark, in the order of its candidates; empty where none of
/// them has a scheme. Where several candidates put a code somewhere, the account that tells most is
/// kept: a piece has one code for each work that is dated. An unknown mark has no codes to look for, a photo to take again none to read.
pub fn read_codes(
    photo: &RgbImage,
    mark: &MarkAnswer,
    references: &References,
    book: &CodeBook,
) -> Vec<DateAnswer> {
    let leading = match mark.verdict {
        Verdict::Named => 1,
        Verdict::Choose => CANDIDATES,
        _ => 0,
    };
    let mut spots: Vec<Spot<'_>> = Vec::new();
    for candidate in mark.candidates.iter().take(leading) {
        let likely = mark.verdict == Verdict::Named || candidate.probability >= LIKELY;
        if let Some(codes) = book.of(&candidate.family).filter(|_| likely) {
            add_spots(&mut spots, candidate, codes, references);
        }
    }
    let settings = DecodeSettings::default();
    let mut told: Vec<(Decoded, DateAnswer)> = Vec::new();
    for spot in &spots {
        let (decoded, mut answer) = read_spot(photo, spot, &settings);
        if answer.state == Look::Absent && mark.verdict == Verdict::Named && mark.strike >= CLEAR {
            answer.against.extend(lacking(&spot.schemes));
        }
        // What another candidate's scheme makes of the same work is another account of one code.
        let rival = told
            .iter()
            .position(|t| t.1.dates == answer.dates && t.1.family != answer.family);
        match rival {
            Some(at) if says_more(&decoded, &told[at].0) => told[at] = (decoded, answer),
            Some(_) => {}
            None => told.push((decoded, answer)),
        }
    }
    let mut dates: Vec<DateAnswer> = told.into_iter().map(|t| t.1).collect();
    compare_works(&mut dates);
    dates
}

/// Adds the places of one candidate's codes; a place that is known already gets its schemes.
fn add_spots<'b>(
    spots: &mut Vec<Spot<'b>>,
    candidate: &'b Candidate,
    codes: &'b FamilyCodes,
    references: &References,
) {
    let of = |hash: &str| {
        let found = references.find(&candidate.family, hash)?;
        Some(&found.quad)
    };
    let Some(exemplar) = of(&candidate.exemplar) else {
        return;
    };
    let photo = Quad::from_array(candidate.quad);
    for known in &codes.schemes {
        let scheme = &known.scheme;
        let variant = (&scheme.applies.variant, &candidate.variant);
        if variant.0.is_some() && variant.0 != variant.1 {
            continue;
        }
        let other = known.picture.as_deref();
        let other = other.filter(|picture| *picture != candidate.exemplar);
        let laid = Laid {
            exemplar,
            photo: &photo,
            named: other.and_then(of),
        };
        let areas = areas(&scheme.place, scheme.turn, &laid);
        let same = |spot: &&mut Spot<'b>| {
            let ends = (spot.areas.first(), areas.first());
            let near = match ends {
                (Some(a), Some(b)) => a.quad.overlap(&b.quad) >= SAME_PLACE,
                (a, b) => a.is_none() && b.is_none(),
            };
            near && spot.schemes.iter().all(|s| s.dates == scheme.dates)
        };
        match spots.iter_mut().find(same) {
            Some(spot) => {
                spot.schemes.push(scheme);
                // Two families' runs are no prior for one code.
                if spot.family != candidate.family {
                    spot.bounds = None;
                }
            }
            None => spots.push(Spot {
                family: &candidate.family,
                areas,
                schemes: vec![scheme],
                bounds: Some(&codes.bounds),
            }),
        }
    }
}

/// What can be said of the code inside given corners of a photo, wherever they come from.
pub fn read_corners(
    photo: &RgbImage,
    corners: &Quad<Photo>,
    schemes: &[&Scheme],
    settings: &DecodeSettings,
) -> DateAnswer {
    let place = Place::Inside {
        quad: *corners,
        image: None,
    };
    let laid = Laid {
        exemplar: corners,
        photo: corners,
        named: None,
    };
    let spot = Spot {
        family: "",
        areas: areas(&place, None, &laid),
        schemes: schemes.to_vec(),
        bounds: None,
    };
    read_spot(photo, &spot, settings).1
}

/// What a code is read with.
struct Want<'w> {
    codes: Option<&'w Automaton>,
    weight: &'w dyn Fn(&str) -> f64,
    settings: &'w DecodeSettings,
}

fn read_spot(
    photo: &RgbImage,
    spot: &Spot<'_>,
    settings: &DecodeSettings,
) -> (Decoded, DateAnswer) {
    let codes = match spot.schemes.as_slice() {
        [one] => Some(Cow::Borrowed(one.automaton())),
        many => codes_of(many).map(Cow::Owned),
    };
    let run = spot.bounds.and_then(Bounds::run);
    let weight = |code: &str| by_run(code, &spot.schemes, run);
    let want = Want {
        codes: codes.as_deref(),
        weight: &weight,
        settings,
    };
    let mut best: Option<(Decoded, Quad<Photo>)> = None;
    for area in &spot.areas {
        let Some(patch) = CutOut::of(photo, area) else {
            continue;
        };
        let found = match &patch.code {
            Some(code) => patch.read_given(code, area.upright, &want),
            None => patch.read_lines(area.upright, &want),
        };
        let (decoded, quad) = found.unwrap_or_else(|| (Decoded::absent(), patch.whole()));
        let Some(quad) = patch.to_photo.apply_quad(&quad) else {
            continue;
        };
        if best.as_ref().is_none_or(|b| says_more(&decoded, &b.0)) {
            best = Some((decoded, quad));
        }
    }
    let (decoded, quad) = best.map_or((Decoded::not_looked_for(), None), |b| (b.0, Some(b.1)));
    let unknown = Bounds::default();
    let bounds = spot.bounds.unwrap_or(&unknown);
    let answer = date_answer(spot.family, &spot.schemes, &decoded, quad.as_ref(), bounds);
    (decoded, answer)
}

/// Probability of all codes that were read.
fn as_code(decoded: &Decoded) -> f64 {
    decoded.readings.iter().map(|r| r.probability).sum()
}

/// Whether one account tells more of a code than another: by what it reads as codes; else what is
/// legible before what is not, and that before nothing.
fn says_more(one: &Decoded, other: &Decoded) -> bool {
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
struct CutOut {
    grey: Plane,
    code: Option<Quad<Patch>>,
    to_photo: Homography<Patch, Photo>,
}

impl CutOut {
    /// `None` where too much of the area lies outside the photo.
    fn of(photo: &RgbImage, area: &Area) -> Option<Self> {
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
            grey: grey(&rgb),
            code: area.code.and_then(|c| from_photo.apply_quad(&c)),
            to_photo,
        })
    }

    fn whole(&self) -> Quad<Patch> {
        let (w, h) = (self.grey.width() as f64, self.grey.height() as f64);
        Quad::upright(0.0, 0.0, w, h)
    }

    /// Reads around given corners: the corners themselves, made wider, and the lines that are found
    /// there. `None` where nothing could be cut.
    fn read_given(
        &self,
        code: &Quad<Patch>,
        upright: f64,
        want: &Want<'_>,
    ) -> Option<(Decoded, Quad<Patch>)> {
        let (wide, high) = size(code)?;
        let more = (WIDER.0 * high + WIDER.1 * wide) / wide;
        let mut places = vec![along(code, more)];
        let middle = code.centre();
        let there = |line: &Quad<Patch>| {
            let centre = line.centre();
            let tall = size(line).map_or(0.0, |s| s.1) / high;
            (centre.y - middle.y).abs() <= OFF * high
                && (centre.x - middle.x).abs() <= wide
                && (HEIGHTS.0..=HEIGHTS.1).contains(&tall)
        };
        places.extend(find_lines(&self.grey).into_iter().filter(there).take(LINES));
        let strips: Vec<Decoded> = places
            .iter()
            .filter_map(|p| self.read(p, upright, want))
            .collect();
        (!strips.is_empty()).then(|| (pooled(&strips), places[0]))
    }

    /// Reads the lines of an area and keeps what tells most; `None` where there are none.
    fn read_lines(&self, upright: f64, want: &Want<'_>) -> Option<(Decoded, Quad<Patch>)> {
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

/// Luma (ITU-R BT.601), 0 to 1.
fn grey(rgb: &RgbImage) -> Plane {
    let luma = |p: &image::Rgb<u8>| {
        let [r, g, b] = p.0.map(f32::from);
        (0.299 * r + 0.587 * g + 0.114 * b) / 255.0
    };
    let data = rgb.pixels().map(luma).collect();
    Plane::from_vec(rgb.width() as usize, rgb.height() as usize, data)
}

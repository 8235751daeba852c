//! Reads the codes of identified marks: goes where the schemes of a mark's families say that a
//! code stands, cuts strips there at the photo's own resolution, and weighs what they read.

use std::borrow::Cow;

use image::RgbImage;

use super::book::{CodeBook, FamilyCodes, by_run};
use super::cut_out::{CutOut, Want, says_more};
use super::decode::{DecodeSettings, Decoded, Look};
use super::reading::{codes_of, date_answer};
use super::region::{Area, Laid, areas};
use super::scheme::{Place, Scheme};
use super::sense::{Bounds, compare_works, lacking};
use crate::answer::{Candidate, DateAnswer, MarkAnswer, UNDECIDED, Verdict};
use crate::geometry::{Photo, Quad};
use crate::references::References;
use crate::verdict::letters_are_legible;

/// Candidates of an undecided mark whose schemes are used, and the least probability of one, where the
/// family is among them and where it may be none of them.
const CANDIDATES: usize = 3;
const LIKELY: f64 = 0.1;
const POSSIBLE: f64 = 0.05;
/// What is read on a mark that was not identified is told from this probability: there a code speaks for
/// the family as much as the family for the code.
const TOLD_OF_UNKNOWN: f64 = 0.5;
/// Strength of a strike from which a mark is clear enough for a missing code to mean something: that below
/// which a strike is called weak.
const CLEAR: f64 = 9.0;
/// Share of a mark's own ink that may be gone where a missing code means something: sound marks lack up to a
/// quarter (`quality` of the tune lots).
const FADED: f64 = 0.35;
/// Two places that overlap so much are one.
const SAME_PLACE: f64 = 0.5;

/// A code's place in the photo, with the schemes of all candidates that put their code there.
struct Spot<'b> {
    family: &'b str,
    areas: Vec<Area>,
    schemes: Vec<&'b Scheme>,
    bounds: Option<&'b Bounds>,
}

/// What can be said of the codes of a mark, in the order of its candidates; empty where none of
/// them has a scheme. Where several candidates put a code somewhere, the account that tells most is
/// kept: a piece has one code for each work that is dated. Where the mark was not identified, only what is
/// legible is told.
pub fn read_codes(
    photo: &RgbImage,
    mark: &MarkAnswer,
    references: &References,
    book: &CodeBook,
) -> Vec<DateAnswer> {
    let (leading, least) = match mark.verdict {
        Verdict::Named => (1, 0.0),
        Verdict::Choose => (CANDIDATES, LIKELY),
        Verdict::Reshoot | Verdict::Unknown => (CANDIDATES, POSSIBLE),
        _ => return Vec::new(),
    };
    let mut spots: Vec<Spot<'_>> = Vec::new();
    for candidate in mark.candidates.iter().take(leading) {
        let likely = candidate.probability >= least;
        if let Some(codes) = book.of(&candidate.family).filter(|_| likely) {
            add_spots(&mut spots, candidate, codes, references);
        }
    }
    let identified = matches!(mark.verdict, Verdict::Named | Verdict::Choose);
    let settings = DecodeSettings::default();
    let mut told: Vec<(Decoded, DateAnswer)> = Vec::new();
    for spot in &spots {
        let (decoded, mut answer) = read_spot(photo, spot, &settings);
        let first = decoded.readings.first();
        if !identified && first.is_none_or(|r| r.probability < TOLD_OF_UNKNOWN) {
            continue;
        }
        // The rest of the base was not searched as thoroughly as the place of a code that has one.
        let placed = spot.schemes.iter().all(|s| s.place != Place::Elsewhere);
        if answer.state == Look::Absent {
            if !shows_all(mark) {
                // Where the mark's own letters cannot be read a code may have gone with them.
                answer.state = Look::Illegible;
            } else if mark.verdict == Verdict::Named && placed {
                answer.against.extend(lacking(&spot.schemes));
            }
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

/// Whether a mark is so clear and whole that a code beside it would have been seen.
fn shows_all(mark: &MarkAnswer) -> bool {
    let legible = mark.quality.as_ref().is_none_or(|here| {
        letters_are_legible(here) && here.cut.is_none_or(|cut| cut == 0.0) && here.glare == 0.0
    });
    let whole = mark
        .state
        .as_ref()
        .is_none_or(|s| s.faded < FADED && s.worn == 0.0 && s.covered == 0.0);
    mark.strike >= CLEAR && legible && whole
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
        let undecided = variant.1.as_deref() == Some(UNDECIDED);
        if variant.0.is_some() && variant.0 != variant.1 && !undecided {
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
        let found = match patch.code() {
            Some(code) => patch.read_given(code, area.upright, &want),
            None => patch.read_lines(area.upright, &want),
        };
        let (decoded, quad) = found.unwrap_or_else(|| (Decoded::absent(), patch.whole()));
        let Some(quad) = patch.in_photo(&quad) else {
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

//! What is measured in one photo, before any verdict: the stages up to the alignment, in their order.

use std::time::Instant;

use crate::alignment::contest::{self, Effort};
use crate::alignment::{Fit, verifier};
use crate::descriptors::imprint::Imprint;
use crate::descriptors::signature::MarkSignature;
use crate::geometry::{Mark, Photo, Quad};
use crate::identify::Observer;
use crate::ink::small::{self, SmallInk};
use crate::mark::cut::{self, Cut};
use crate::mark::finder::{self, Find, Scene};
use crate::mark::propose;
use crate::mark::regions::{self, Region, StandingInk};
use crate::mark::second_look;
use crate::mark::tiles;
use crate::photo::UprightPhoto;
use crate::references::References;
use crate::shortlist::Entry;
use crate::underside::{self, Underside, whole};
use crate::verdict::features::{Context, Features, features, odds};
use crate::view::{SEARCH_STEP, Shrunk, View};

/// Circles taken from the finder, and the least score of one.
const FINDS: usize = 4;
const FIND_LEAST: f64 = 0.03;
/// Regions added for their lettering.
const PROPOSALS: usize = 3;
/// Regions looked at closely.
const CLOSE: usize = 3;
/// A region is worth it from this share of the best one's score on; all are where the best one's is
/// itself doubtful. On tune (seeds 46 and 47, 840 known marks) the true place is the first one in 824, in 11 there is
/// none, and in 5 a further one has 0 to 0.58 of the first one's score; 1.7 % of the marks and 84 % of 200 bare bases
/// are doubtful.
const RIVAL: f64 = 0.5;
const DOUBTFUL: f64 = 0.3;
/// Log-odds of the verifier below which the likeliest mark is cut anew at another size: what is laid badly at one
/// size is often laid well at another. On tune (718 decidable looks, photos as exemplars) the right family comes first
/// in 90.4 % without and in 91.6 % with it; 23 % of the known marks and 91 % of the strangers are looked at again. From 1
/// down it would be 37 and 97 %, and not one more right.
const UNCONVINCED: f32 = 0.0;
/// Sizes tried of each: where much of a mark is gone, what is left looks like a smaller one.
const SIZES: [f64; 3] = [0.85, 1.0, 1.3];
/// A photo that hardly seems to show a mark (probability) gets no second round of comparisons.
const UNMARKED: f64 = 0.1;
/// A photo that shows a mark as surely as this (probability) gets no second look at its places: on tune (seeds 46
/// and 47, photos as exemplars) 44 % of the marked photos and none of 200 bare ones lie above it.
const SURELY_MARKED: f64 = 0.98;
/// A photo that shows a mark and no underside at all less surely than this (probabilities) is looked at tile by tile before
/// its base is called bare: the likelier of the two sides. One whose base is not all in the frame is never called so.
const SEEMS_BARE: f64 = 0.5;
/// Entries of the shortlist that are drafted, over all regions. On tune (seeds 46 and 47, 718 decidable looks) the
/// right family is among them in 98.5 % with clean scans as exemplars and in 98.1 % with ordinary photos; among 24 it
/// would be in 98.7 and 98.3, among 12 in 97.6 and 97.1.
const DRAFTS: usize = 18;

/// One compared candidate of a region.
#[derive(Debug, Clone)]
pub struct Compared {
    /// Index into the references.
    pub exemplar: usize,
    pub fit: Fit,
    pub features: Features,
}

/// A region of the photo and all that was compared there.
#[derive(Debug, Clone)]
pub struct Examined {
    pub region: Region,
    pub cut: Cut<Mark>,
    /// Ink as the verifier reads it.
    pub fine: SmallInk,
    /// Log-odds that a mark lies here; only looked for where the photo may show none.
    pub second_look: Option<f32>,
    pub compared: Vec<Compared>,
}

/// Everything measured in one photo, before any verdict.
#[derive(Debug, Clone)]
pub struct Examination {
    pub view: View,
    pub underside: Underside,
    pub examined: Vec<Examined>,
    /// No mark-like region was found; the whole view stands in for one.
    pub whole_view: bool,
    /// What the whole photo shows.
    pub scene: Scene,
    /// Log-odds that all of the base is in the frame; only looked for where the photo may show no mark.
    pub in_frame: Option<f32>,
    /// Log-odds that a mark too small for the first look lies on the base; only looked for where the photo seems to show none.
    pub small_mark: Option<f64>,
    pub tried: Vec<(usize, [f32; 5])>,
}

/// The regions to look at: where the finder sees a mark; where it is in doubt, also what stands out as
/// lettering does, and the whole view.
fn regions_of(view: &View, underside: &Underside, finds: &[Find]) -> (Vec<Region>, bool) {
    let step = SEARCH_STEP as f64;
    let (w, h) = (f64::from(view.rgb.width()), f64::from(view.rgb.height()));
    let mut found: Vec<Region> = Vec::new();
    let ink = StandingInk::of(&view.contrast, underside, step);
    for f in finds {
        if f.score >= FIND_LEAST {
            let region = regions::in_circle(f.centre, f.radius, &ink);
            found.push(Region {
                score: f.score,
                ..region
            });
        }
    }
    let doubtful = found.first().is_none_or(|r| r.score < DOUBTFUL);
    let proposals = if doubtful { PROPOSALS } else { 0 };
    for region in propose::propose(&view.contrast, underside, step, proposals) {
        if !found.iter().any(|r| regions::is_same(r, &region)) {
            found.push(Region {
                score: 0.0,
                ..region
            });
        }
    }
    let nothing = found.is_empty();
    if doubtful {
        // What looks like nothing that was learnt may still match as a whole.
        found.truncate(CLOSE - 1);
        found.push(regions::whole_view(w, h));
    }
    (found, nothing)
}

/// What is laid over the exemplars: regions, and entries whose marks are indices into them.
struct Shortlist {
    regions: Vec<Region>,
    entries: Vec<Entry>,
}

/// The regions worth a close look, the likeliest mark first, each at the size at which the library
/// knows it best; and that mark at the size at which the library knows it second best.
fn shortlist(
    photo: &UprightPhoto,
    view: &View,
    regions: &[Region],
    references: &References,
) -> (Shortlist, Option<Shortlist>) {
    let best = regions.first().map_or(0.0, |r| r.score);
    let worth = |r: &&Region| r.score >= RIVAL * best || best < DOUBTFUL;
    let mut sized: Vec<Region> = Vec::new();
    let mut entries: Vec<Entry> = Vec::new();
    let mut again = None;
    for region in regions.iter().filter(worth).take(CLOSE) {
        let sizes: Vec<Region> = match sized.len() {
            0 => SIZES.iter().map(|&k| region.sized(k)).collect(),
            _ => vec![region.clone()],
        };
        let imprints: Vec<Imprint> = sizes
            .iter()
            .map(|r| Imprint::of(&cut::small(&photo.pixels, view, r, small::SIDE)))
            .collect();
        let ranked = references.imprints().rank(&imprints);
        let size = ranked.first().map_or(0, |e| e.mark);
        let mark = sized.len();
        let at = |size: usize| ranked.iter().filter(move |e| e.mark == size).take(DRAFTS);
        entries.extend(at(size).map(|e| Entry { mark, ..*e }));
        if let Some(other) = ranked.iter().map(|e| e.mark).find(|&s| s != size) {
            again = Some(Shortlist {
                regions: vec![sizes[other].clone()],
                entries: at(other).map(|e| Entry { mark: 0, ..*e }).collect(),
            });
        }
        sized.push(sizes[size].clone());
    }
    // The likeliest mark keeps half of the places whatever resembles the others.
    entries.sort_by(|a, b| b.likeness.total_cmp(&a.likeness).then(a.mark.cmp(&b.mark)));
    let (first, others): (Vec<Entry>, Vec<Entry>) = entries.into_iter().partition(|e| e.mark == 0);
    let others_most = (DRAFTS / 2).min(others.len());
    let mut kept: Vec<Entry> = first.into_iter().take(DRAFTS - others_most).collect();
    kept.extend(others.into_iter().take(others_most));
    let first = Shortlist {
        regions: sized,
        entries: kept,
    };
    (first, again)
}

/// Measures everything in one photo: the stages up to the verdict.
pub fn examine(photo: &UprightPhoto, references: &References, observe: Observer) -> Examination {
    examine_at(photo, references, None, observe)
}

/// The same where the corners of the mark are `given` instead of sought.
pub fn examine_at(
    photo: &UprightPhoto,
    references: &References,
    given: Option<&Quad<Photo>>,
    observe: Observer,
) -> Examination {
    let mut clock = Clock::start(observe);
    let shrunk = Shrunk::of(&photo.pixels);
    clock.lap("shrink");
    let view = View::map(shrunk);
    clock.lap("ink");
    let (finds, scene) = match given {
        Some(_) => (Vec::new(), Scene::marked()),
        None => finder::find(&view.overview, f64::from(view.rgb.width()), FINDS),
    };
    clock.lap("mark");
    let underside = underside::find(&view.lab[0], SEARCH_STEP as f64);
    clock.lap("underside");
    let (regions, whole_view) = match given {
        Some(quad) => {
            let corners = quad
                .0
                .map(|p| crate::geometry::Point::new(p.x / view.scale, p.y / view.scale));
            (vec![regions::around(&corners)], false)
        }
        None => regions_of(&view, &underside, &finds),
    };
    clock.lap("mark");
    let (first, again) = shortlist(photo, &view, &regions, references);
    clock.lap("shortlist");
    let effort = match scene.marked > UNMARKED {
        true => Effort::Full,
        false => Effort::Brief,
    };
    let mut tried = Vec::new();
    let mut compare = |list: Shortlist, effort: Effort| {
        compared_in(
            photo, &view, references, list, effort, &mut tried, &mut clock,
        )
    };
    let mut examined = compare(first, effort);
    if let Some(again) = again
        && effort == Effort::Full
        && !convinces(&examined)
    {
        examined.extend(compare(again, Effort::Brief));
    }
    if scene.marked < SURELY_MARKED {
        for e in &mut examined {
            e.second_look = Some(second_look::log_odds(&photo.pixels, &view, &e.region));
        }
    }
    clock.lap("second look");
    let in_frame = (scene.marked < SURELY_MARKED).then(|| whole::log_odds(&view.coarser[1]));
    clock.lap("underside");
    let rim = underside.rim().map(|r| &r.ellipse);
    let is_whole = in_frame.is_some_and(|odds| odds > whole::IN_FRAME);
    let small_mark = (is_whole && scene.marked < SEEMS_BARE && scene.other < SEEMS_BARE)
        .then(|| tiles::small_mark(&photo.pixels, &view, rim))
        .flatten();
    clock.lap("tiles");
    Examination {
        view,
        underside,
        examined,
        whole_view,
        scene,
        in_frame,
        small_mark,
        tried,
    }
}

/// Whether anything that was compared fits so well that no other size need be tried.
fn convinces(examined: &[Examined]) -> bool {
    let mut compared = examined.iter().flat_map(|e| &e.compared);
    compared.any(|c| odds(&c.features) >= UNCONVINCED)
}

/// Cuts the regions of a shortlist out of a photo and lays its entries over them.
fn compared_in(
    photo: &UprightPhoto,
    view: &View,
    references: &References,
    list: Shortlist,
    effort: Effort,
    tried: &mut Vec<(usize, [f32; 5])>,
    clock: &mut Clock,
) -> Vec<Examined> {
    let marks: Vec<(Region, Cut<Mark>, MarkSignature)> = list
        .regions
        .into_iter()
        .filter_map(|r| {
            // A region has a radius, so that its frame can always be inverted: none is lost here.
            let cut = cut::cut(&photo.pixels, view, &r)?;
            let fine = cut::small(&photo.pixels, view, &r, verifier::SIDE);
            let signature = MarkSignature::of(&cut, fine);
            Some((r, cut, signature))
        })
        .collect();
    clock.lap("descriptors");
    let signatures: Vec<&MarkSignature> = marks.iter().map(|(_, _, s)| s).collect();
    let drafts = contest::draft_all(&list.entries, &signatures, references);
    clock.lap("drafts");
    tried.extend(drafts.iter().map(|d| {
        let e = &d.entry;
        let (draft, mark) = (&d.draft, e.mark as f32);
        let agreeing = draft.agreeing as f32;
        (
            e.exemplar,
            [draft.correlation, agreeing, e.likeness, e.standing, mark],
        )
    }));
    let settled = contest::settle_best(drafts, &signatures, references, effort);
    let mut examined: Vec<Examined> = marks
        .into_iter()
        .map(|(region, cut, signature)| Examined {
            region,
            cut,
            fine: signature.fine,
            second_look: None,
            compared: Vec::new(),
        })
        .collect();
    for s in settled {
        let context = Context {
            likeness: s.entry.likeness,
            standing: s.entry.standing,
            cohort: s.cohort,
            odds: s.odds,
            lead: s.lead,
        };
        examined[s.entry.mark].compared.push(Compared {
            exemplar: s.entry.exemplar,
            features: features(&s.fit, &context),
            fit: s.fit,
        });
    }
    clock.lap("alignment");
    examined
}

/// Tells an observer how long each stage took.
pub(crate) struct Clock<'a> {
    started: Instant,
    observe: Observer<'a>,
}

impl<'a> Clock<'a> {
    pub(crate) fn start(observe: Observer<'a>) -> Self {
        Self {
            started: Instant::now(),
            observe,
        }
    }

    pub(crate) fn lap(&mut self, stage: &'static str) {
        let now = Instant::now();
        (self.observe)(stage, now - self.started);
        self.started = now;
    }
}

#[cfg(test)]
mod tests {
    use image::RgbImage;

    use super::*;
    use crate::references::{Gist, PreparedExemplar, Reference, prepare_exemplar};

    /// Bars of irregular length on a pale ground, like lines of print.
    fn plate(turn: f64, seed: u32) -> UprightPhoto {
        let mut seed = seed;
        let mut next = |n: u32| {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (seed >> 16) % n
        };
        let bars: Vec<[f64; 4]> = (0..28)
            .map(|_| [next(150), next(150), 6 + next(40), 4 + next(9)].map(f64::from))
            .collect();
        let (s, c) = turn.sin_cos();
        let pixels = RgbImage::from_fn(640, 480, |x, y| {
            let (dx, dy) = (f64::from(x) - 320.0, f64::from(y) - 240.0);
            let (u, v) = (c * dx + s * dy + 90.0, -s * dx + c * dy + 90.0);
            let on = bars
                .iter()
                .any(|b| (b[0]..b[0] + b[2]).contains(&u) && (b[1]..b[1] + b[3]).contains(&v));
            let grain = ((x * 7 + y * 13) % 5) as u8;
            image::Rgb(if on {
                [40, 70, 60]
            } else {
                [225 + grain, 222 + grain, 210 + grain]
            })
        });
        UprightPhoto {
            pixels,
            taken: None,
        }
    }

    fn reference(name: &str, seed: u32) -> Reference {
        Reference::here(name, "", prepare_exemplar(&plate(0.0, seed), None))
    }

    #[test]
    fn a_turned_mark_is_found_among_others() {
        let references = References::new(
            (1..6)
                .map(|i| reference(&format!("pottery/f{i}"), i))
                .collect(),
        );
        let found = examine(&plate(2.0, 3), &references, &mut |_, _| {});
        let best = found
            .examined
            .iter()
            .flat_map(|e| &e.compared)
            .max_by(|a, b| a.fit.correlation.total_cmp(&b.fit.correlation))
            .expect("candidates");
        assert_eq!(references.get(best.exemplar).family, "pottery/f3");
        assert!(best.fit.correlation > 0.8, "{:?}", best.fit);
    }

    #[test]
    fn a_prepared_exemplar_survives_the_cache() {
        let made = prepare_exemplar(&plate(0.0, 1), None);
        let back = PreparedExemplar::from_bytes(&made.to_bytes()).expect("own bytes");
        assert_eq!(back.signature.points, made.signature.points);
        assert_eq!(back.signature.code, made.signature.code);
        assert_eq!(back.signature.levels[1].ink, made.signature.levels[1].ink);
        let mut cut = made.to_bytes();
        cut.truncate(cut.len() - 9);
        assert!(PreparedExemplar::from_bytes(&cut).is_none());
        let gist = made.gist();
        assert_eq!(Gist::from_bytes(&gist.to_bytes()), Some(gist.clone()));
        assert_eq!(Gist::from_bytes(&gist.to_bytes()[1..]), None);
    }
}

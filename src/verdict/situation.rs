//! The verdict on a whole photo, in a fixed order: named, choose, not an underside, no mark, reshoot,
//! unknown. What a defect hides is asked for again only where curing it could change the answer.

use crate::answer::{MarkAnswer, Quality, Reason, ReasonCode, Verdict};
use crate::examine::Examination;
use crate::mark::regions::Region;
use crate::raster::quantile;
use crate::references::References;
use crate::underside::Ring;
use crate::underside::whole::IN_FRAME;
use crate::verdict::bareness::{is_bare, is_surely_bare};
use crate::verdict::causes::{self, Cause, Cure, Seen, causes, in_order};
use crate::verdict::quality::{blur, is_overexposed, lean_of};

/// Probability from which a photo shows no underside at all: on tune seed 43 (690 photos) 2 % of the marked
/// undersides, no bare one and 96 % of the tops and papers lie above it.
const OTHER: f64 = 0.6;
/// For saying that there is no mark the photo must be sharper than this.
const SHARP: f64 = 0.0037;
/// For saying that there is no mark, at most this share of the base may be clipped: a disc a fifth as wide as the base
/// covers as much, and nine in ten marks are wider (36 sound photos of tune seeds 62 and 63 whose rim shows).
const GLARING_BARE: f64 = 0.04;
/// As [`IN_FRAME`] where the scene takes the photo for no underside: no top, detail or paper of tune seeds 46 and 47 lies
/// above it, and 95 % of the whole bases of tune seed 202.
const SURELY_IN_FRAME: f32 = 2.0;
/// Median L* of the base below which it is too dark, and above which it is burnt out.
const DARK: f64 = 9.0;
const BURNT: f64 = 99.2;
/// A family this probable, though not enough to be named, makes another photo worth while.
const PLAUSIBLE: f64 = 0.08;
/// How far a blur must depend on direction to be called a movement (0 to 1).
const MOVED: f32 = 0.55;
/// A cause of this weight hides the answer even where no family is plausible.
const SEVERE: f64 = 2.0;
/// Causes told of one photo.
const CAUSES: usize = 2;
/// A family leads from this many times the probability of the next one on: the sentence that both fit
/// almost equally well would not be true.
const LEADS: f64 = 3.0;
/// A mark whose box comes this near to the frame (share of the photo's shorter side) runs out of it.
const AT_FRAME: f64 = 0.008;
/// Share of a rim in the frame from which its axes tell a slant: less than a half of it fits ellipses of many shapes.
const RIM_SEEN: f64 = 0.55;
/// The same, and the share drawn by edges, of any other ring where no rim shows; and the lean in degrees from which a ring tells
/// a slant, as dishes are oval and rings are found amiss: on tune seed 64 (408 photos) six of 384 upright ones have a ring that
/// leans so, and seven of the ten that are slanted by 45 degrees and more.
const RING_SEEN: f64 = 0.7;
const RING_DRAWN: f64 = 0.7;
const LEANING: f64 = 40.0;
/// A place taken for a mark (score of the finder) that is no larger than this (radius, shares of the photo's longer side) is
/// about three cells of the finder wide, and the second look sees it through a few dozen pixels: it is ruled out only by
/// log-odds below the last. Of 295 bare bases of tune seed 48 five have one that is not, of six marks 28 to 44 px wide
/// (tune seeds 62 and 63) that were called bare five.
const PLACE: f64 = 0.25;
const SMALL_PLACE: f64 = 0.039;
const RULED_OUT: f32 = -2.6;
/// Nine in ten marks are wider than this share of their base; one that narrow and shorter than so many photo pixels is too
/// small to be told from a speck (`SMALL` of the causes), so that a base on which it would be is not called bare.
const NARROW_MARK: f64 = 0.2;
const NARROW_MARK_PX: f64 = 70.0;
/// Log-odds of the look at tiles from which something lies on the base that may be a small mark: of 129 bare bases of tune
/// seed 66 none lies above it (the highest at 0.7). Of 13 marks that tune seeds 64 and 65 (one fault each) had called bare, five
/// lie above 1.
const SMALL_MARK: f64 = 0.8;
/// L* that a fiftieth of the photo's pixels exceed, below which it is too dark to say that nothing is to be seen: three
/// stops below white. Of 248 bare bases and tops of tune seed 66, on dark glazes as well, none lies below 49.
const DIM: f32 = 40.0;
const BRIGHTEST: f32 = 0.98;
/// Share of the view that is clipped from which a photo without a ring may show a base all the same (nothing is clipped in the
/// 110 tops, details and papers of tune seed 66).
const BLINDED: f64 = 0.2;
const TINY: &str =
    "something too small or too faint to be told from a mark lies on the base: come closer";
const FAR_BASE: &str =
    "the base is so small in the frame that a mark would not be seen: come closer";

/// Says what the photo is worth, and why.
pub(super) fn of_photo(
    marks: &[MarkAnswer],
    examination: &Examination,
    references: &References,
    quality: &Quality,
) -> (Verdict, Vec<Reason>) {
    let best = marks
        .iter()
        .map(|m| m.verdict)
        .min()
        .unwrap_or(Verdict::Unknown);
    let seen = in_the_way(marks, examination, quality);
    let shot = shot_of(examination, quality);
    let unread = causes::illegible(marks.first(), shot);
    let unread = unread.or_else(|| causes::little_left(marks.first(), shot));
    let (verdict, code) = match best {
        Verdict::Named | Verdict::Choose if is_surely_bare(examination) => {
            bare(examination, quality)
        }
        Verdict::Named => (Verdict::Named, ReasonCode::Aligned),
        Verdict::Choose if one_leads(marks) => (Verdict::Choose, ReasonCode::OneLeads),
        Verdict::Choose => (Verdict::Choose, ReasonCode::CloseRace),
        // What is burnt out shows neither a base nor anything else.
        _ if quality.exposure > BURNT && is_burnt(marks) => {
            (Verdict::Reshoot, ReasonCode::TooBright)
        }
        _ if quality.exposure > BURNT => (Verdict::Reshoot, blinded_by(examination)),
        _ if is_other(examination) && is_dim(examination) => {
            (Verdict::Reshoot, ReasonCode::TooDark)
        }
        _ if is_other(examination) && is_blinded(examination, quality) => {
            (Verdict::Reshoot, blinded_by(examination))
        }
        _ if is_other(examination) => (Verdict::NotUnderside, other_kind(examination)),
        _ if is_bare(examination) => bare(examination, quality),
        _ if references.is_empty() => (Verdict::Unknown, ReasonCode::EmptyLibrary),
        _ if is_hidden(marks, examination, &seen) => {
            let told = seen.into_iter().take(CAUSES).map(|c| c.reason);
            return (Verdict::Reshoot, told.collect());
        }
        _ => (Verdict::Unknown, ReasonCode::NothingFits),
    };
    let mut reasons = vec![match (verdict, code) {
        (Verdict::Reshoot, ReasonCode::TooSmall) if is_far(examination) => {
            Reason::with(code, FAR_BASE)
        }
        (Verdict::Reshoot, ReasonCode::TooSmall) => Reason::with(code, TINY),
        _ => Reason::plain(code),
    }];
    if examination.whole_view && matches!(verdict, Verdict::Named | Verdict::Unknown) {
        reasons.push(Reason::plain(ReasonCode::WholeView));
    }
    if verdict == Verdict::Named {
        reasons.extend(unread);
        let defaced = seen.iter().find(|c| c.is_surely_defaced());
        reasons.extend(defaced.map(|c| c.reason.clone()));
    }
    if matches!(verdict, Verdict::Choose | Verdict::Unknown) {
        reasons.extend(seen.into_iter().take(CAUSES).map(|c| c.reason));
    }
    (verdict, reasons)
}

/// What may stand in the way of a surer answer, the worst first.
fn in_the_way(marks: &[MarkAnswer], examination: &Examination, quality: &Quality) -> Vec<Cause> {
    let mark = marks.first();
    let mut all = causes(mark, shot_of(examination, quality));
    let known = mark.is_some_and(|m| m.quality.is_some_and(|q| q.cut.is_some()));
    if !known && mark.is_some_and(|m| runs_out(m, size_of(examination))) {
        all.push(Cause::plain(ReasonCode::CutOff, 1.0));
    }
    in_order(all)
}

fn shot_of<'a>(examination: &Examination, quality: &'a Quality) -> Seen<'a> {
    let (w, h) = size_of(examination);
    let rim = examination.underside.rim();
    let rim = rim.filter(|r| r.visible >= RIM_SEEN);
    let clear = |r: &&Ring| r.visible >= RING_SEEN && r.support >= RING_DRAWN;
    let rings = examination.underside.rings.iter().filter(clear);
    let largest = rings.max_by(|a, b| a.ellipse.major.total_cmp(&b.ellipse.major));
    Seen {
        quality,
        side: w.max(h),
        lean: rim.or(largest).map(lean_of).filter(|l| *l >= LEANING),
    }
}

/// Whether another photo could change that no family fits: the worst that stands in the way can be cured, and
/// some family is plausible, or it hides whatever there is.
fn is_hidden(marks: &[MarkAnswer], examination: &Examination, seen: &[Cause]) -> bool {
    let plausible = marks
        .iter()
        .flat_map(|m| &m.candidates)
        .any(|c| c.probability >= PLAUSIBLE);
    seen.first().is_some_and(|worst| {
        let least = match plausible || examination.whole_view {
            true => 1.0,
            false => SEVERE,
        };
        let hides = worst.weight >= least;
        worst.cure == Cure::AnotherPhoto && hides
    })
}

/// Whether the first family is several times as probable as the second.
fn one_leads(marks: &[MarkAnswer]) -> bool {
    let candidates = marks.first().map_or(&[][..], |m| &m.candidates);
    let probability = |i: usize| candidates.get(i).map_or(0.0, |c| c.probability);
    probability(0) >= LEADS * probability(1)
}

/// Whether a photo shows no underside: by the scene, unless nothing like a mark lies there and all of a base is seen.
fn is_other(examination: &Examination) -> bool {
    examination.scene.other > OTHER
        && !(is_bare(examination) && is_in_frame(examination, SURELY_IN_FRAME))
}

fn is_in_frame(examination: &Examination, limit: f32) -> bool {
    examination.in_frame.is_some_and(|odds| odds > limit)
}

fn other_kind(examination: &Examination) -> ReasonCode {
    if examination.underside.rings.is_empty() {
        ReasonCode::NoBase
    } else {
        ReasonCode::LooksLikeTop
    }
}

/// Width and height of the photo in its pixels.
fn size_of(examination: &Examination) -> (f64, f64) {
    let (w, h) = examination.view.rgb.dimensions();
    let scale = examination.view.scale;
    (f64::from(w) * scale, f64::from(h) * scale)
}

fn runs_out(mark: &MarkAnswer, (w, h): (f64, f64)) -> bool {
    let near = AT_FRAME * w.min(h);
    mark.quad
        .iter()
        .any(|&[x, y]| x < near || y < near || x > w - near || y > h - near)
}

fn out_of_focus(examination: &Examination) -> ReasonCode {
    if blur(examination).directed > MOVED {
        ReasonCode::Moved
    } else {
        ReasonCode::Blurred
    }
}

fn relative_blur(examination: &Examination, quality: &Quality) -> f64 {
    let (w, h) = size_of(examination);
    quality.sharpness / w.max(h).max(1.0)
}

/// Whether the base is so small that a narrow mark on it would not be seen.
fn is_far(examination: &Examination) -> bool {
    let rim = examination.underside.rim();
    rim.is_some_and(|r| {
        let across = 2.0 * r.ellipse.major * examination.view.scale;
        NARROW_MARK * across < NARROW_MARK_PX
    })
}

/// Whether something lies there that is too small to be told from a mark.
fn has_small_place(examination: &Examination) -> bool {
    let (w, h) = size_of(examination);
    let side = w.max(h) / examination.view.scale;
    let mut all = examination.examined.iter();
    all.any(|e| may_be_small_mark(&e.region, e.second_look, side))
}

/// Whether a place was taken for a mark, is too small to be told from one and was not ruled out by a second look. `side` is
/// the photo's longer side in the region's pixels.
fn may_be_small_mark(region: &Region, second_look: Option<f32>, side: f64) -> bool {
    let likely = region.score >= PLACE && region.radius <= SMALL_PLACE * side;
    likely && second_look.is_some_and(|odds| odds >= RULED_OUT)
}

/// Whether nothing in the photo is bright: it was underexposed, whatever the glaze.
fn is_dim(examination: &Examination) -> bool {
    let mut lightness = examination.view.lab[0].data().to_vec();
    quantile(&mut lightness, BRIGHTEST) < DIM
}

/// Whether so much of a photo is clipped that it cannot be said to show no base, where no ring is drawn.
fn is_blinded(examination: &Examination, quality: &Quality) -> bool {
    examination.underside.rings.is_empty() && quality.glare > BLINDED
}

/// Whether the first mark is clipped where it lies, under no reflection.
fn is_burnt(marks: &[MarkAnswer]) -> bool {
    let here = marks.first().and_then(|m| m.quality);
    here.is_some_and(|q| q.clipped > q.glare)
}

fn blinded_by(examination: &Examination) -> ReasonCode {
    match is_overexposed(examination) {
        true => ReasonCode::TooBright,
        false => ReasonCode::Glare,
    }
}

/// No ink anywhere: a bare base, if all of it could have been seen.
fn bare(examination: &Examination, quality: &Quality) -> (Verdict, ReasonCode) {
    if quality.exposure < DARK || is_dim(examination) {
        (Verdict::Reshoot, ReasonCode::TooDark)
    } else if quality.exposure > BURNT {
        (Verdict::Reshoot, blinded_by(examination))
    } else if relative_blur(examination, quality) > SHARP {
        (Verdict::Reshoot, out_of_focus(examination))
    } else if quality.glare > GLARING_BARE {
        (Verdict::Reshoot, ReasonCode::Glare)
    } else if is_far(examination)
        || has_small_place(examination)
        || examination.small_mark.is_some_and(|odds| odds > SMALL_MARK)
    {
        (Verdict::Reshoot, ReasonCode::TooSmall)
    } else if is_in_frame(examination, IN_FRAME) {
        (Verdict::NoMark, ReasonCode::CleanBase)
    } else {
        (Verdict::Reshoot, ReasonCode::ShowWholeBase)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Point;

    #[test]
    fn a_place_may_be_a_small_mark_if_it_is_likely_small_and_not_ruled_out() {
        let side = 1000.0;
        let place = |score: f64, radius: f64| Region {
            centre: Point::new(500.0, 400.0),
            radius,
            score,
            hull: Vec::new(),
            parts: 1,
        };
        let (likely, tiny) = (PLACE + 0.1, SMALL_PLACE * side - 1.0);
        let seen = Some(RULED_OUT + 0.5);
        assert!(may_be_small_mark(&place(likely, tiny), seen, side));
        assert!(!may_be_small_mark(&place(PLACE - 0.1, tiny), seen, side));
        assert!(!may_be_small_mark(&place(likely, tiny + 2.0), seen, side));
        assert!(!may_be_small_mark(
            &place(likely, tiny),
            Some(RULED_OUT - 0.5),
            side
        ));
        // Nobody looked twice where the photo surely shows a mark.
        assert!(!may_be_small_mark(&place(likely, tiny), None, side));
        // The same place in a photo half as large is no longer small.
        assert!(!may_be_small_mark(&place(likely, tiny), seen, side / 2.0));
    }
}

//! Which photos of a lot show one piece: neighbours in the lot's order, compared by what is private to a piece.

use std::collections::{BTreeSet, VecDeque};
use std::ops::ControlFlow;

use super::intake::Watch;
use super::opened::Opened;
use crate::answer::{MarkAnswer, PhotoAnswer, Reason, ReasonCode, Verdict};
use crate::decision::{ContentHash, Region};
use crate::failure::Failure;
use crate::geometry::{Photo, Quad};
use crate::in_order::in_order;
use crate::photo::{self, DecodeLimits};
use crate::report::Sheet;
use crate::same_piece::{Evidence, Judged, Look, Nearness, compare, judge, version};

/// Photos further apart in a lot than this are not compared: those of one piece are taken soon after one another.
const NEIGHBOURS: usize = 12;

/// Two photos, the earlier one first, and what they say of one piece.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Alike {
    pub(crate) a: ContentHash,
    pub(crate) b: ContentHash,
    pub(crate) nearness: Nearness,
    /// `None` where the marks are not one, or one of the photos is so poor that no mark was found in it.
    pub(crate) evidence: Option<Evidence>,
}

impl Alike {
    pub(crate) fn judged(&self) -> Judged {
        match (&self.evidence, self.nearness) {
            (Some(evidence), nearness) => judge(evidence, nearness),
            (None, Nearness::Retake) => Judged::Asked,
            (None, Nearness::Next | Nearness::Apart) => Judged::Apart,
        }
    }

    /// Log-odds that both show one piece; `None` where nothing was compared.
    pub(crate) fn log_odds(&self) -> Option<f64> {
        self.evidence.as_ref().map(Evidence::log_odds)
    }
}

/// A photo that takes part.
struct Taken {
    photo: ContentHash,
    /// Its first mark; `None` in a photo that is to be taken again and shows none.
    mark: Option<FirstMark>,
    /// Families that it may be of; none where any may do.
    families: BTreeSet<String>,
    /// Those of them that are likely, by the same rule.
    likely: BTreeSet<String>,
    /// Whether another photo may have been taken because of this one.
    poor: bool,
    /// Its place in the lot.
    place: usize,
}

struct FirstMark {
    quad: Quad<Photo>,
    /// Exemplars that were laid over the mark, with their boxes.
    laid: Vec<(String, Quad<Photo>)>,
}

/// Least probability of a family by which two photos right after one another may be one piece. On tune (seed 502) no pair of
/// one piece is lost by it, and 4 questions about different ones; at 0.1 two pairs would be.
const LIKELY: f64 = 0.05;

impl Taken {
    /// Whether `next`, taken right after, may have been taken because of this photo, or this one was no good beside it.
    fn may_be_retaken_by(&self, next: &Self) -> bool {
        let unknown = self.likely.is_empty() || next.likely.is_empty();
        (self.poor || next.poor) && (unknown || !self.likely.is_disjoint(&next.likely))
    }

    fn may_be_one_with(&self, later: &Self) -> bool {
        let near = later.place - self.place <= NEIGHBOURS;
        let unknown = self.families.is_empty() || later.families.is_empty();
        near && (unknown || !self.families.is_disjoint(&later.families))
    }
}

/// What was found of a pair before: nothing, or evidence; `None` in it where the marks are not one.
type Kept = Option<Option<Evidence>>;

/// Compares the photos of a lot that were not compared before, under the eyes of `watch`.
pub(crate) fn watched(
    opened: &mut Opened,
    sheet: &Sheet,
    jobs: usize,
    watch: &dyn Watch,
) -> Result<Vec<Alike>, Failure> {
    let taken = taken(sheet);
    let open = pairs(&taken)
        .into_iter()
        .filter_map(|(a, b)| match known(opened, &taken[a], &taken[b]) {
            Ok(None) => Some(Ok((a, b))),
            Ok(Some(_)) => None,
            Err(e) => Some(Err(e)),
        })
        .collect::<Result<Vec<_>, _>>()?;
    let wanted: BTreeSet<usize> = open.iter().flat_map(|&(a, b)| [a, b]).collect();
    watch.total(wanted.len());
    let mut found: Vec<(String, Option<Evidence>)> = Vec::new();
    let mut window: VecDeque<(usize, Look)> = VecDeque::new();
    let mut order = wanted.iter().copied();
    let pictures = wanted.iter().map(|&at| {
        let bytes = opened.original(&taken[at].photo);
        (bytes, &taken[at])
    });
    let work = |(bytes, of): (Option<Vec<u8>>, &Taken)| {
        let bytes = bytes.filter(|_| watch.may_begin())?;
        let picture = photo::read_photo(&bytes, &DecodeLimits::default()).ok()?;
        let mark = of.mark.as_ref()?;
        Look::of(&picture, &mark.quad, &mark.laid)
    };
    let no_threads = |e| Failure::new(&format!("no threads to work with: {e}"), None);
    in_order(pictures, jobs, work, |look| {
        watch.step();
        let (Some(at), Some(look)) = (order.next(), look.ok().flatten()) else {
            return ControlFlow::<()>::Continue(());
        };
        while window
            .front()
            .is_some_and(|(first, _)| taken[at].place - taken[*first].place > NEIGHBOURS)
        {
            window.pop_front();
        }
        let beside = window
            .iter()
            .filter(|(first, _)| open.binary_search(&(*first, at)).is_ok());
        let compared = in_order(
            beside,
            jobs,
            |(first, earlier)| (*first, compare(earlier, &look)),
            |result| {
                if let Ok((first, evidence)) = result {
                    found.extend(key(&taken[first], &taken[at]).map(|key| (key, evidence)));
                }
                ControlFlow::<()>::Continue(())
            },
        );
        window.push_back((at, look));
        match compared {
            Ok(_) => ControlFlow::Continue(()),
            Err(_) => ControlFlow::Break(()),
        }
    })
    .map_err(no_threads)?;
    for (key, evidence) in &found {
        let text = serde_json::to_string(evidence).unwrap_or_default();
        opened.cache.keep_alike(key, &text)?;
    }
    if !watch.may_begin() {
        return Err(Failure::new(
            &"stopped before all photos were compared",
            None,
        ));
    }
    kept(opened, sheet)
}

/// What earlier comparisons found in a lot, and which poor photos follow one another.
pub(crate) fn kept(opened: &Opened, sheet: &Sheet) -> Result<Vec<Alike>, Failure> {
    let taken = taken(sheet);
    let mut all = Vec::new();
    for (a, b) in pairs(&taken) {
        let nearness = match b == a + 1 {
            true if taken[a].may_be_retaken_by(&taken[b]) => Nearness::Retake,
            true => Nearness::Next,
            false => Nearness::Apart,
        };
        // What was not compared yet is not asked about yet.
        let Some(evidence) = known(opened, &taken[a], &taken[b])? else {
            continue;
        };
        if evidence.is_some() || nearness == Nearness::Retake {
            all.push(Alike {
                a: taken[a].photo.clone(),
                b: taken[b].photo.clone(),
                nearness,
                evidence,
            });
        }
    }
    Ok(all)
}

fn taken(sheet: &Sheet) -> Vec<Taken> {
    let rows = sheet.shots.iter().enumerate().filter_map(|(place, shot)| {
        let answer = shot.answer.as_ref()?;
        let first = answer.marks.first();
        let mark = first.map(|_| 0);
        let row = sheet
            .rows
            .iter()
            .find(|r| r.shot == place && r.mark == mark)?;
        let shows = match row.holds {
            Verdict::NotUnderside | Verdict::NotAPicture => false,
            holds => first.is_some() || holds == Verdict::Reshoot,
        };
        let families = |least: f64| match (row.holds, &row.family) {
            (Verdict::Unknown | Verdict::Reshoot, _) => BTreeSet::new(),
            (_, Some(family)) if row.decision.is_some() => BTreeSet::from([family.clone()]),
            _ => first.map_or_else(BTreeSet::new, |mark| of_candidates(mark, least)),
        };
        shows.then(|| Taken {
            photo: shot.hash.clone(),
            mark: first.map(|mark| FirstMark {
                quad: Quad::from_array(mark.quad),
                laid: laid_over(mark),
            }),
            families: families(0.0),
            likely: families(LIKELY),
            poor: row.decision.is_none() && is_poor(answer),
            place,
        })
    });
    rows.collect()
}

/// Whether a photo is of the kind after which another one is taken: it goes back, or something stands in its way. A mark that is
/// only unknown is not.
fn is_poor(answer: &PhotoAnswer) -> bool {
    use ReasonCode::{
        Blurred, Covered, CutOff, Defaced, Glare, Moved, ShowWholeBase, Slanted, TooBright,
        TooDark, TooSmall, WeakStrike, Worn,
    };
    let in_the_way = |r: &Reason| {
        let photo = matches!(
            r.code,
            Blurred | Moved | TooSmall | TooDark | TooBright | Glare
        );
        let view = matches!(r.code, CutOff | ShowWholeBase | Slanted);
        photo || view || matches!(r.code, Covered | Defaced | WeakStrike | Worn)
    };
    answer.verdict == Verdict::Reshoot || answer.reasons.iter().any(in_the_way)
}

/// The exemplars that an answer says were laid over a mark, the best first.
pub(super) fn laid_over(mark: &MarkAnswer) -> Vec<(String, Quad<Photo>)> {
    let each = mark.candidates.iter();
    each.map(|c| (c.exemplar.clone(), Quad::from_array(c.quad)))
        .collect()
}

/// Families that an answer lists at `least` this probability.
fn of_candidates(mark: &MarkAnswer, least: f64) -> BTreeSet<String> {
    let listed = mark.candidates.iter().filter(|c| c.probability >= least);
    listed.map(|c| c.family.clone()).collect()
}

/// Pairs of places in `taken` that are compared, in order. A photo without a mark goes with its neighbours only.
fn pairs(taken: &[Taken]) -> Vec<(usize, usize)> {
    let mut all = Vec::new();
    for a in 0..taken.len() {
        let later = taken.iter().enumerate().skip(a + 1);
        let near = later.take_while(|(_, t)| t.place - taken[a].place <= NEIGHBOURS);
        let comparable = |b: usize, t: &Taken| {
            let unmarked = taken[a].mark.is_none() || t.mark.is_none();
            t.photo != taken[a].photo && taken[a].may_be_one_with(t) && (!unmarked || b == a + 1)
        };
        all.extend(near.filter(|(b, t)| comparable(*b, t)).map(|(b, _)| (a, b)));
    }
    all
}

/// Where one of them shows no mark there is nothing to compare, and that is known.
fn known(opened: &Opened, a: &Taken, b: &Taken) -> Result<Kept, Failure> {
    let Some(key) = key(a, b) else {
        return Ok(Some(None));
    };
    let text = opened.cache.alike(&key)?;
    Ok(text.and_then(|t| serde_json::from_str(&t).ok()))
}

/// What the comparison of two photos depends on; `None` where one of them shows no mark.
fn key(a: &Taken, b: &Taken) -> Option<String> {
    let mut hasher = blake3::Hasher::new();
    hasher.update(version().as_bytes());
    for t in [a, b] {
        let region = Region::new(&t.mark.as_ref()?.quad);
        hasher.update(format!("{} {region}\n", t.photo).as_bytes());
    }
    Some(hasher.finalize().to_hex().to_string())
}

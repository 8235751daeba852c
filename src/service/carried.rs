//! Answers of an earlier state of the library: which of them still hold, and which photos are to be looked at again.

use std::collections::{BTreeMap, BTreeSet};

use super::gathered::{each, straight};
use super::opened::Opened;
use crate::answer::{MarkAnswer, PhotoAnswer, Verdict};
use crate::decision::{ContentHash, History, Statement, Topic, about_photo, attach};
use crate::failure::Failure;
use crate::geometry::{Photo, Quad};
use crate::library::{Changes, Listing};
use crate::references::{Reference, References};
use crate::trial;
use crate::workspace::{CacheKey, Earlier, KeptCrop};

/// A mark of which the imprints are wanted, and the family that holds of it, if one does.
struct Asked {
    photo: ContentHash,
    mark: usize,
    quad: Quad<Photo>,
    held: Option<String>,
    library: String,
}

/// Carries the answers over to the present library that nothing of what changed can touch, and remembers what the
/// library holds now. Gives the photos whose answers may be other ones now, without those of which it is not known
/// what library answered them. A photo without a mark is neither carried nor given where an exemplar is new: nothing
/// is kept to tell by whether it fits, and its intake, run again, looks at it. Where `only` some photos matter, the
/// others are left as they are.
pub(super) fn carry(
    opened: &mut Opened,
    references: &References,
    key: &CacheKey,
    jobs: usize,
    only: Option<&BTreeSet<ContentHash>>,
) -> Result<BTreeSet<ContentHash>, Failure> {
    let text = opened.listing().to_text();
    opened.cache.keep_listing(&key.library, &text)?;
    let mut earlier = opened.cache.earlier(key)?;
    earlier.retain(|one| only.is_none_or(|only| only.contains(&one.photo)));
    let changes = changes(opened, &earlier)?;
    let mut open: BTreeSet<ContentHash> = BTreeSet::new();
    let mut bare: BTreeSet<ContentHash> = BTreeSet::new();
    let mut asked: Vec<Asked> = Vec::new();
    let history = opened.workspace.history()?;
    for one in &earlier {
        let Some(found) = changes.get(&one.library) else {
            continue;
        };
        if is_touched(&one.answer, found) {
            open.insert(one.photo.clone());
        } else if one.answer.marks.is_empty() && !found.come.is_empty() {
            bare.insert(one.photo.clone());
        } else if !found.come.is_empty() {
            asked.extend(marks(opened, &history, one));
        }
    }
    for (asked, imprints) in imprinted(opened, asked, key, jobs)? {
        let come = &changes[&asked.library].come;
        let is_new = |r: &Reference| come.contains(&(r.family.clone(), r.hash.clone()));
        // Without a picture of the mark nothing is known of what it is like.
        let may = imprints
            .is_none_or(|i| trial::may_claim(&i, references, &is_new, asked.held.as_deref()));
        if may {
            open.insert(asked.photo);
        }
    }
    let still = earlier.into_iter().filter_map(|one| {
        let found = changes.get(&one.library)?;
        let renamed = || renamed(one.answer, &found.renamed);
        let holds = !open.contains(&one.photo) && !bare.contains(&one.photo);
        holds.then(|| (one.photo, renamed()))
    });
    let still: Vec<(ContentHash, PhotoAnswer)> = still.collect();
    opened.cache.carry(key, &still)?;
    Ok(open)
}

/// What changed since each earlier state that is remembered.
fn changes(opened: &Opened, earlier: &[Earlier]) -> Result<BTreeMap<String, Changes>, Failure> {
    let states: BTreeSet<&String> = earlier.iter().map(|e| &e.library).collect();
    let mut found = BTreeMap::new();
    for state in states {
        let kept = opened.cache.listing(state)?;
        if let Some(old) = kept.and_then(|text| Listing::from_text(&text)) {
            let follow = |id: &str| opened.follow(id);
            found.insert(state.clone(), opened.listing().since(&old, &follow));
        }
    }
    Ok(found)
}

fn is_touched(answer: &PhotoAnswer, changes: &Changes) -> bool {
    let named = answer.marks.iter().flat_map(|m| &m.candidates);
    named
        .into_iter()
        .any(|c| changes.touched.contains(&c.family))
}

fn marks(opened: &Opened, history: &History, one: &Earlier) -> Vec<Asked> {
    let quad = |m: &MarkAnswer| Quad::from_array(m.quad);
    let quads: Vec<Quad<Photo>> = one.answer.marks.iter().map(quad).collect();
    let own = about_photo(history.holding(), &one.photo);
    let attachment = attach(&own, &quads);
    let asked = one.answer.marks.iter().enumerate().map(|(mark, answer)| {
        let decided = attachment.of_mark_on(mark, &Topic::Identity, &own);
        let held = match decided.map(|d| &d.statement) {
            Some(Statement::Family(id)) => Some(id.clone()),
            Some(_) => None,
            None => {
                let best = answer.candidates.first().map(|c| c.family.clone());
                best.filter(|_| answer.verdict == Verdict::Named)
            }
        };
        Asked {
            photo: one.photo.clone(),
            mark,
            quad: quads[mark],
            held: held.map(|id| opened.follow(&id)),
            library: one.library.clone(),
        }
    });
    asked.collect()
}

/// Of a mark at its sizes, one after the other; `None` where there is no crop.
type Imprints = Option<Vec<f32>>;

/// The marks with their imprints, kept or made from the kept crops.
fn imprinted(
    opened: &mut Opened,
    asked: Vec<Asked>,
    key: &CacheKey,
    jobs: usize,
) -> Result<Vec<(Asked, Imprints)>, Failure> {
    let (mut found, mut missing) = (Vec::new(), Vec::new());
    for one in asked {
        match opened.cache.imprints(&one.photo, one.mark, &key.engine)? {
            Some(kept) => found.push((one, Some(kept))),
            None => missing.push(one),
        }
    }
    let mut made: Vec<Imprints> = Vec::new();
    let crops = missing.iter().map(|m| {
        let crop = opened.cache.crop(&m.photo, m.mark).ok().flatten();
        crop.map(|crop| (crop, m.quad))
    });
    let work = |crop: Option<(KeptCrop, Quad<Photo>)>| {
        let (picture, quad) = straight(&crop?)?;
        Some(trial::imprints_of(&picture, &quad))
    };
    each(crops, jobs, work, |_, imprints| made.push(imprints))?;
    for (one, imprints) in missing.into_iter().zip(made) {
        if let Some(imprints) = &imprints {
            opened
                .cache
                .keep_imprints(&one.photo, one.mark, &key.engine, imprints)?;
        }
        found.push((one, imprints));
    }
    Ok(found)
}

/// An answer with the ids that its families have now.
fn renamed(mut answer: PhotoAnswer, now: &BTreeMap<String, String>) -> PhotoAnswer {
    let follow = |id: &mut String| {
        if let Some(new) = now.get(id) {
            id.clone_from(new);
        }
    };
    for mark in &mut answer.marks {
        mark.candidates
            .iter_mut()
            .for_each(|c| follow(&mut c.family));
        mark.twins.iter_mut().for_each(|t| follow(&mut t.family));
        mark.dates.iter_mut().for_each(|d| follow(&mut d.family));
    }
    answer
}

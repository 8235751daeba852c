//! Writes a lot of one pottery: lines under one emblem, some with variants, and photos that show by what the variants
//! differ, lose it, or had it taken away.

use crate::artwork::{Artwork, Split};
use crate::family::{Family, Means, single};
use crate::foot::Foot;
use crate::glaze::InkTone;
use crate::lot::{LotError, make_dir, write_clean, write_file, write_reference, write_truth};
use crate::mark::{CodeStyle, Layout};
use crate::random::Rng;
use crate::removal::Way;
use crate::shoot::{Order, photograph};
use crate::truth::{Condition, Kind, Severity, Truth};
use crate::variants::{Wordings, forms};
use crate::words::{Namer, slug};
use rayon::prelude::*;
use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};

/// What such a lot holds.
#[derive(Clone, Debug)]
pub struct PotterySettings {
    pub split: Split,
    pub seed: u64,
    /// Lines of the library, and how many of them, the first ones, have variants.
    pub lines: usize,
    pub with_variants: usize,
    /// Further lines that the library lacks.
    pub unknown_siblings: usize,
    /// Only every so many-th photo is taken (1 for all).
    pub every: usize,
}

/// A mark as it is printed: the form of a line.
struct Stamp {
    family: Family,
    /// Folder of its variant; None for the main form.
    variant: Option<String>,
}

/// Layouts with the name below the emblem or beside it and nothing under the name.
const LAYOUTS: [Layout; 4] = [
    Layout::Stacked,
    Layout::ArcOver,
    Layout::Ribbon,
    Layout::Beside,
];
/// Photos of each line that the library lacks.
const SIBLING_SHOTS: usize = 4;
/// Further good photos of each form of a family with variants.
const MORE_GOOD: usize = 2;

/// The marks of the library, those with variants first, and those that it lacks.
fn invent(artwork: &Artwork, settings: &PotterySettings, root: &Rng) -> (Vec<Stamp>, Vec<Stamp>) {
    let mut rng = root.fork("pottery", 0);
    let mut namer = Namer::new(artwork.words.clone());
    let head = head(artwork, &mut namer, &mut rng);
    let mut words = Wordings::draw(&artwork.words, &mut rng);
    let (mut known, mut unknown) = (Vec::new(), Vec::new());
    for line in 0..settings.lines + settings.unknown_siblings {
        let mut of_line = rng.fork("line", line as u64);
        let mut family = named(&head, &mut namer, &mut of_line);
        family.in_library = line < settings.lines;
        if line < settings.with_variants.min(settings.lines) {
            words = words.again(&artwork.words, &mut of_line);
            let all = forms(line, &words).into_iter();
            known.extend(all.map(|form| stamp(&family, form.variant, form.foot)));
        } else {
            let to = match family.in_library {
                true => &mut known,
                false => &mut unknown,
            };
            to.push(stamp(&family, None, words.plain()));
        }
    }
    (known, unknown)
}

/// What all lines of the pottery share.
fn head(artwork: &Artwork, namer: &mut Namer, rng: &mut Rng) -> Family {
    let mut head = single(artwork, namer, rng, Some(0));
    head.design.layout = *rng.pick(&LAYOUTS);
    head.design.country = String::new();
    head.design.code = CodeStyle::None;
    head.means = Means::Printed;
    head.dark = false;
    head
}

fn named(head: &Family, namer: &mut Namer, rng: &mut Rng) -> Family {
    let mut f = head.clone();
    let maker = &head.design.maker;
    f.design.line = namer.line(maker, rng);
    f.id = format!("{}/{}", slug(maker), slug(&f.design.line));
    f.name = format!("{maker} {}", f.design.line);
    f.ink = InkTone::on_light(rng);
    f
}

fn stamp(family: &Family, variant: Option<String>, foot: Foot) -> Stamp {
    let mut family = family.clone();
    family.design.foot = foot;
    Stamp { family, variant }
}

/// One photo to take.
struct Job<'a> {
    stamp: &'a Stamp,
    order: Order,
}

/// Writes both libraries, the photos and the truth. Returns how many photos there are.
pub fn write(
    artwork: &Artwork,
    settings: &PotterySettings,
    out: &Path,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<usize, LotError> {
    let root = Rng::new(settings.seed).fork(settings.split.name(), 0);
    let (known, unknown) = invent(artwork, settings, &root);
    let photos = out.join("photos");
    make_dir(&photos)?;
    let jobs: Vec<(usize, Job<'_>)> = jobs(&known, &unknown)
        .into_iter()
        .enumerate()
        .step_by(settings.every.max(1))
        .collect();
    let done = AtomicUsize::new(0);
    let total = jobs.len() + known.len();
    let tick = || progress(done.fetch_add(1, Ordering::Relaxed) + 1, total);
    known.par_iter().enumerate().try_for_each(|(i, stamp)| {
        let shelved = shelved(stamp);
        write_clean(artwork, &shelved, out, &root.fork("clean", i as u64))?;
        write_reference(artwork, &shelved, out, &root.fork("reference", i as u64))?;
        tick();
        Ok(())
    })?;
    let truths: Vec<Truth> = jobs
        .par_iter()
        .map(|(i, job)| {
            let truth = shoot(artwork, job, &photos, &root.fork("photo", *i as u64))?;
            tick();
            Ok(truth)
        })
        .collect::<Result<_, LotError>>()?;
    write_truth(&out.join("truth.jsonl"), truths)?;
    Ok(jobs.len())
}

/// The mark under the folder and name that it has in a library.
fn shelved(stamp: &Stamp) -> Family {
    let mut family = stamp.family.clone();
    if let Some(variant) = &stamp.variant {
        family.id = format!("{}/{variant}", family.id);
        family.name = format!("{}, {}", family.name, variant.replace('-', " "));
    }
    family
}

/// All photos of the lot; severities take turns, as in other lots.
fn jobs<'a>(known: &'a [Stamp], unknown: &'a [Stamp]) -> Vec<Job<'a>> {
    let level = |i: usize| Severity::ALL[i % Severity::ALL.len()];
    let mut ids: Vec<&String> = known.iter().map(|s| &s.family.id).collect();
    ids.dedup();
    let order = |kind, condition, i: usize, stamp: &Stamp| {
        let mut order = Order::plain(kind, condition, level(i));
        let others = ids.iter().filter(|id| ***id != stamp.family.id);
        order.siblings = others.map(|id| (*id).clone()).collect();
        order
    };
    let mut jobs = Vec::new();
    for (i, stamp) in known.iter().enumerate() {
        for (k, condition) in Condition::SEVEN.into_iter().enumerate() {
            let order = order(Kind::Known, condition, i + k, stamp);
            jobs.push(Job { stamp, order });
        }
        if stamp.family.design.foot.rivals.is_empty() {
            continue;
        }
        for k in 0..MORE_GOOD {
            let order = order(Kind::Known, Condition::Good, i + k, stamp);
            jobs.push(Job { stamp, order });
        }
        for (k, way) in Way::ALL.into_iter().enumerate() {
            let mut order = order(Kind::Known, Condition::Good, i + k, stamp);
            order.extras.removed = Some(way);
            jobs.push(Job { stamp, order });
        }
    }
    for (i, stamp) in unknown.iter().enumerate() {
        for k in 0..SIBLING_SHOTS {
            let condition = Condition::SEVEN[(i + k) % Condition::SEVEN.len()];
            let order = order(Kind::UnknownSibling, condition, i / 7 + k, stamp);
            jobs.push(Job { stamp, order });
        }
    }
    jobs
}

fn shoot(artwork: &Artwork, job: &Job<'_>, photos: &Path, rng: &Rng) -> Result<Truth, LotError> {
    let mut rng = rng.clone();
    let file = format!("{:012x}.jpg", rng.bits() >> 16);
    let path = photos.join(&file);
    let Job { stamp, order } = job;
    let taken = photograph(artwork, order, &stamp.family, &file, &mut rng);
    let shot = taken.map_err(|source| LotError::Jpeg {
        path: path.clone(),
        source,
    })?;
    write_file(&path, &shot.jpeg)?;
    let design = match stamp.variant {
        Some(_) => Some(shelved(stamp).id),
        None => shot.truth.design,
    };
    Ok(Truth {
        variant: stamp.variant.clone(),
        design,
        ..shot.truth
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::artwork::Icon;
    use crate::tests::{artwork, family};
    use crate::variants::SCHEMES;
    use std::collections::BTreeSet;

    fn settings() -> PotterySettings {
        PotterySettings {
            split: Split::Tune,
            seed: 3,
            lines: 8,
            with_variants: SCHEMES,
            unknown_siblings: 2,
            every: 1,
        }
    }

    #[test]
    fn lines_share_all_but_their_name_and_each_form_has_a_folder_of_its_own() {
        let mut artwork = artwork();
        artwork.icons.push(Icon::blank());
        artwork.words.lines = (0..40).map(|i| format!("Line {i}")).collect();
        let (known, unknown) = invent(&artwork, &settings(), &Rng::new(1));
        assert_eq!((known.len(), unknown.len()), (4 * SCHEMES + 3, 2));
        let seeds: BTreeSet<u64> = known.iter().map(|s| s.family.design.seed).collect();
        assert_eq!(seeds.len(), 1);
        let folders: BTreeSet<String> = known.iter().map(|s| shelved(s).id).collect();
        assert_eq!(folders.len(), known.len());
        assert!(unknown.iter().all(|s| !s.family.in_library));
    }

    #[test]
    fn each_form_is_taken_under_all_conditions_and_in_each_way_without_its_part() {
        let mut several = family(1);
        several.design.foot.rivals = vec![vec![None]];
        let known = [
            stamp(&family(1), None, Foot::default()),
            stamp(&several, None, several.design.foot.clone()),
        ];
        let unknown = [stamp(&family(2), None, Foot::default())];
        let jobs = jobs(&known, &unknown);
        let of = |job: &Job<'_>| (job.order.kind, job.order.extras.removed.is_some());
        let count = |what| jobs.iter().filter(|j| of(j) == what).count();
        assert_eq!(count((Kind::Known, false)), 7 + 7 + MORE_GOOD);
        assert_eq!(count((Kind::Known, true)), Way::ALL.len());
        assert_eq!(count((Kind::UnknownSibling, false)), SIBLING_SHOTS);
    }
}

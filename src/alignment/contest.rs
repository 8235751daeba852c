//! Rivals for one photo's marks: drafted, the best of them settled, each weighed against the others
//! in the parts where they differ.

use crate::alignment::parts::{self, Parts};
use crate::alignment::{self, Draft, Fit, compare};
use crate::descriptors::signature::{ExemplarSignature, MarkSignature};
use crate::geometry::{Exemplar, Homography, Mark};
use crate::raster::{Plane, quantile};
use crate::references::References;
use crate::shortlist::Entry;

/// Drafts that are settled and compared in full.
const FINALISTS: usize = 10;
/// Share of the inked parts that lie below the likeness counted as low.
const LOW_SHARE: f32 = 0.15;
/// Rivals that each is weighed against, the strongest first.
const RIVALS: usize = 3;
/// Radians around a shortlist entry's turn in which its pose is sought: half the step between the
/// imprints' turns, and as much again for an imprint that took the neighbouring one.
const TURN_REACH: f64 = 0.8;
/// Share of a normal distribution below one standard deviation, and the least spread of drafts.
const ONE_DEVIATION: f32 = 0.84;
const LEAST_SPREAD: f32 = 0.03;

/// A mark laid roughly over an exemplar.
#[derive(Debug, Clone)]
pub struct Drafted {
    pub entry: Entry,
    pub draft: Draft,
}

/// A mark laid finely over an exemplar, and how it stands among its rivals.
#[derive(Debug, Clone)]
pub struct Settled {
    pub entry: Entry,
    pub fit: Fit,
    /// How far its draft stands above the middle of all drafts, in their spread (test normalisation
    /// of speaker verification, Auckenthaler et al. 2000).
    pub cohort: f32,
    /// The worst lean against a rival in the parts where the two differ, -1 to 1.
    pub lean: f32,
    /// The likeness of its least like inked parts, -1 to 1.
    pub low: f32,
}

/// Lays the mark of each entry roughly over its exemplar.
pub fn draft_all(
    entries: &[Entry],
    marks: &[&MarkSignature],
    references: &References,
) -> Vec<Drafted> {
    entries
        .iter()
        .filter_map(|e| {
            let exemplar = &references.get(e.exemplar).prepared.signature;
            let mark = marks[e.mark];
            // The exemplar turned by `turn` lies like the mark; the mark is turned back.
            let pose = mark.codes.best(&exemplar.code, -e.turn, TURN_REACH);
            let poses: Vec<_> = pose.into_iter().map(|(p, _)| p).collect();
            let draft = alignment::draft(mark, exemplar, &poses)?;
            Some(Drafted { entry: *e, draft })
        })
        .collect()
}

/// Settles the best drafts and weighs each against its rivals.
pub fn settle_best(
    drafts: Vec<Drafted>,
    marks: &[&MarkSignature],
    references: &References,
) -> Vec<Settled> {
    let mut ranks: Vec<f32> = drafts.iter().map(|d| alignment::rank(&d.draft)).collect();
    let middle = quantile(&mut ranks, 0.5);
    let spread = (quantile(&mut ranks, ONE_DEVIATION) - middle).max(LEAST_SPREAD);
    let mut settled: Vec<Settled> = finalists(drafts)
        .into_iter()
        .filter_map(|d| {
            let exemplar = &references.get(d.entry.exemplar).prepared.signature;
            let template = alignment::template_of(exemplar);
            let fit = alignment::settle(&d.draft, marks[d.entry.mark], exemplar, &template)?;
            Some(Settled {
                entry: d.entry,
                fit,
                cohort: (alignment::rank(&d.draft) - middle) / spread,
                lean: 1.0,
                low: 0.0,
            })
        })
        .collect();
    weigh(&mut settled, marks, references);
    settled
}

/// The strongest drafts first, ties by exemplar and mark.
fn finalists(mut drafts: Vec<Drafted>) -> Vec<Drafted> {
    drafts.sort_by(|a, b| {
        alignment::rank(&b.draft)
            .total_cmp(&alignment::rank(&a.draft))
            .then(a.entry.exemplar.cmp(&b.entry.exemplar))
            .then(a.entry.mark.cmp(&b.entry.mark))
    });
    drafts.truncate(FINALISTS);
    drafts
}

/// Each settled exemplar part by part, and its worst lean against the strongest rivals of other
/// families on the same mark.
fn weigh(settled: &mut [Settled], marks: &[&MarkSignature], references: &References) {
    let pulled: Vec<Plane> = settled
        .iter()
        .map(|s| pull(&references.get(s.entry.exemplar).prepared.signature, &s.fit))
        .collect();
    let parts: Vec<Parts> = settled
        .iter()
        .zip(&pulled)
        .map(|(s, p)| {
            let level = &marks[s.entry.mark].levels[2];
            Parts::of(&level.ink, &level.valid, p)
        })
        .collect();
    let mut order: Vec<usize> = (0..settled.len()).collect();
    order.sort_by(|&a, &b| {
        let strength = |i: usize| settled[i].fit.evidence.tile_mean;
        strength(b).total_cmp(&strength(a)).then(a.cmp(&b))
    });
    let whose: Vec<(usize, &str)> = settled
        .iter()
        .map(|s| {
            (
                s.entry.mark,
                references.get(s.entry.exemplar).family.as_str(),
            )
        })
        .collect();
    for (k, s) in settled.iter_mut().enumerate() {
        s.low = parts[k].low(LOW_SHARE);
        s.lean = order
            .iter()
            .filter(|&&j| whose[j].0 == whose[k].0 && whose[j].1 != whose[k].1)
            .take(RIVALS)
            .map(|&j| {
                let differences = parts::differences(&pulled[k], &pulled[j]);
                parts::decide(&parts[k], &parts[j], &differences).lean
            })
            .fold(1.0f32, f32::min);
    }
}

/// The exemplar's ink, at the blur that met the photo, in the mark's own frame.
fn pull(exemplar: &ExemplarSignature, fit: &Fit) -> Plane {
    let side = compare::COMPARE_SIDE;
    let map: Homography<Mark, Exemplar> = alignment::compare_scale(&fit.map);
    let blurred = exemplar.levels[2]
        .ink
        .blur(compare::BLURS[fit.evidence.blur]);
    blurred.warp(&map, side, side, 0.0)
}

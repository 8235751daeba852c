//! Rivals for one photo's marks: drafted, the best of them settled and verified, each set against the
//! others.

use crate::alignment::{self, Draft, Fit, verifier};
use crate::descriptors::signature::MarkSignature;
use crate::raster::quantile;
use crate::references::References;
use crate::shortlist::Entry;

/// Drafts that are settled and verified at first, and further ones where none of them convinces. On tune (seeds 46
/// and 47, photos as exemplars, 718 decidable looks) the right family comes first in 91.6 % with eight further ones and
/// in 91.1 % with none, where the mark is cut anew as well; two are what the time allows.
const FINALISTS: usize = 6;
const FURTHER: usize = 2;
/// Log-odds of the verifier from which no further drafts are looked at: on the same lots 63 % of the known marks reach
/// them, with the right family in 97 of 100, and 0.3 % of 340 unknown marks.
const CONVINCING: f32 = 1.0;
/// What an exemplar's standing in the shortlist counts beside its draft's rank, when the finalists are
/// chosen. On tune (photo exemplars, 131 photos) the true one is among the best six of 24 drafts in 87 %
/// with it and in 83 % without.
const STANDING_WEIGHT: f32 = 0.1;
/// Lead of a family without a rival, in log-odds.
const ALONE: f32 = 8.0;
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
    /// Log-odds of the verifier, and by how much they exceed those of the best other family on the
    /// same mark (8 where there is none).
    pub odds: f32,
    pub lead: f32,
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
            let prepared = references.get(e.exemplar).prepared()?;
            let exemplar = &prepared.signature;
            let mark = marks[e.mark];
            // The exemplar turned by `turn` lies like the mark; the mark is turned back.
            let poses = mark.codes.best(&exemplar.code, -e.turn, TURN_REACH);
            let draft = alignment::draft(mark, exemplar, &poses)?;
            Some(Drafted { entry: *e, draft })
        })
        .collect()
}

/// How long a mark is looked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Effort {
    /// Among the best drafts only.
    Brief,
    /// Among further ones too, where none of the best convinces.
    Full,
}

/// Settles and verifies the best drafts, and further ones as `effort` says.
pub fn settle_best(
    drafts: Vec<Drafted>,
    marks: &[&MarkSignature],
    references: &References,
    effort: Effort,
) -> Vec<Settled> {
    let mut ranks: Vec<f32> = drafts.iter().map(|d| alignment::rank(&d.draft)).collect();
    let middle = quantile(&mut ranks, 0.5);
    let spread = (quantile(&mut ranks, ONE_DEVIATION) - middle).max(LEAST_SPREAD);
    let strongest = strongest_first(drafts);
    let mut settled: Vec<Settled> = Vec::new();
    let (first, others) = strongest.split_at(FINALISTS.min(strongest.len()));
    let more = match effort {
        Effort::Brief => 0,
        Effort::Full => FURTHER.min(others.len()),
    };
    let further = &others[..more];
    for wave in [first, further] {
        settled.extend(wave.iter().filter_map(|d| {
            let prepared = references.get(d.entry.exemplar).prepared()?;
            let exemplar = &prepared.signature;
            let mark = marks[d.entry.mark];
            let fit = alignment::settle(&d.draft, mark, exemplar);
            Some(Settled {
                entry: d.entry,
                cohort: (alignment::rank(&d.draft) - middle) / spread,
                odds: verifier::log_odds(&mark.fine, &exemplar.fine, &fit.map),
                lead: ALONE,
                fit,
            })
        }));
        if settled.iter().any(|s| s.odds >= CONVINCING) {
            break;
        }
    }
    let rivals: Vec<(usize, &str, f32)> = settled
        .iter()
        .map(|s| {
            let family = references.get(s.entry.exemplar).family.as_str();
            (s.entry.mark, family, s.odds)
        })
        .collect();
    for (s, own) in settled.iter_mut().zip(&rivals) {
        s.lead = rivals
            .iter()
            .filter(|r| r.0 == own.0 && r.1 != own.1)
            .fold(ALONE, |lead, r| lead.min(own.2 - r.2));
    }
    settled
}

/// The strongest first, ties by exemplar and mark.
fn strongest_first(mut drafts: Vec<Drafted>) -> Vec<Drafted> {
    let strength = |d: &Drafted| alignment::rank(&d.draft) + STANDING_WEIGHT * d.entry.standing;
    drafts.sort_by(|a, b| {
        strength(b)
            .total_cmp(&strength(a))
            .then(a.entry.exemplar.cmp(&b.entry.exemplar))
            .then(a.entry.mark.cmp(&b.entry.mark))
    });
    drafts
}

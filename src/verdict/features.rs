//! The numbers by which a candidate is judged.

use crate::alignment::Fit;
use crate::answer::Evidence;

/// Names of the features, in order; the weights of [`super::model`] run parallel.
pub const NAMES: [&str; COUNT] = [
    "correlation",
    "agreeing",
    "agreeing-many",
    "likeness",
    "standing",
    "cohort",
    "odds",
    "lead",
];

/// Number of features.
pub const COUNT: usize = 8;

/// One candidate's features.
pub type Features = [f32; COUNT];

/// What is known of a candidate beside its own fit.
#[derive(Debug, Clone, Copy, Default)]
pub struct Context {
    /// Cosine of the two imprints, -1 to 1.
    pub likeness: f32,
    /// How far that stands above the library's middle, in the library's own spread.
    pub standing: f32,
    /// How far its draft correlation stands above those of unrelated exemplars, in their spread
    /// (test normalisation of speaker verification, Auckenthaler et al. 2000).
    pub cohort: f32,
    /// Log-odds of the verifier.
    pub odds: f32,
    /// By how much they exceed those of the best other family on the same mark.
    pub lead: f32,
}

/// Log-odds beyond this tell nothing more.
const ODDS_MOST: f32 = 8.0;
/// Places of single features, and what log-odds are divided by.
pub(crate) const CORRELATION: usize = 0;
pub(crate) const LIKENESS: usize = 3;
const ODDS: usize = 6;
const LEAD: usize = 7;
const ODDS_UNIT: f32 = 4.0;

/// The verifier's log-odds, out of the features.
pub fn odds(features: &Features) -> f32 {
    features[ODDS] * ODDS_UNIT
}

/// What the features say, in the terms of the JSON contract.
pub fn evidence(features: &Features, fit: &Fit) -> Evidence {
    Evidence {
        correlation: f64::from(fit.correlation),
        points: u32::try_from(fit.agreeing).unwrap_or(u32::MAX),
        likeness: f64::from(features[LIKENESS]),
        odds: f64::from(odds(features)),
        lead: f64::from(features[LEAD] * ODDS_UNIT),
    }
}

/// Collects the features of a fit.
pub fn features(fit: &Fit, context: &Context) -> Features {
    let agreeing = fit.agreeing as f32;
    [
        fit.correlation,
        (1.0 + agreeing).ln(),
        (agreeing - 12.0).clamp(0.0, 60.0) / 30.0,
        context.likeness,
        context.standing.clamp(-2.0, 10.0) / 4.0,
        context.cohort.clamp(-2.0, 8.0) / 4.0,
        context.odds.clamp(-ODDS_MOST, ODDS_MOST) / ODDS_UNIT,
        context.lead.clamp(-ODDS_MOST, ODDS_MOST) / ODDS_UNIT,
    ]
}

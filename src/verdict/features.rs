//! The numbers by which a candidate is judged.

use crate::alignment::Fit;

/// Names of the features, in order; the weights of [`super::model`] run parallel.
pub const NAMES: [&str; COUNT] = [
    "correlation",
    "correlation-high",
    "tile-mean",
    "tile-low",
    "coverage",
    "extra",
    "visible",
    "agreeing",
    "agreeing-many",
    "likeness",
    "standing",
    "cohort",
    "lean",
    "low-part",
];

/// Number of features.
pub const COUNT: usize = 14;

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
    /// Likeness of the least like inked parts, -1 to 1.
    pub low: f32,
    /// The worst lean against a rival in the parts where the two differ, -1 to 1.
    pub lean: f32,
}

/// Collects the features of a fit.
pub fn features(fit: &Fit, context: &Context) -> Features {
    let e = &fit.evidence;
    let agreeing = fit.agreeing as f32;
    [
        e.correlation,
        (e.correlation - 0.55).max(0.0),
        e.tile_mean,
        e.tile_low,
        e.coverage,
        e.extra,
        e.visible,
        (1.0 + agreeing).ln(),
        (agreeing - 12.0).clamp(0.0, 60.0) / 30.0,
        context.likeness,
        context.standing.clamp(-2.0, 10.0) / 4.0,
        context.cohort.clamp(-2.0, 8.0) / 4.0,
        context.lean,
        context.low,
    ]
}

//! One photo's mark laid over another's.

use super::look::{Look, STRIKE_SHRINK};
use crate::alignment::consensus::{CUT_TO_CUT, is_plausible};
use crate::alignment::dense::{self, Freedom};
use crate::alignment::{draft, settle, verifier};
use crate::geometry::{Exemplar, Homography, Mark};
use crate::raster::Plane;
use crate::shortlist::ImprintTable;

/// Radians around the imprint's turn in which a pose is sought.
const TURN_REACH: f64 = 0.8;
/// What refinement at the finest size may lose in correlation against the size before: finer maps correlate less.
const LOSS: f32 = 0.15;

/// How the first mark lies over the second.
#[derive(Debug, Clone, Copy)]
pub struct Overlay {
    /// From the frame of the first mark to that of the second.
    pub map: Homography<Mark, Exemplar>,
    /// The verifier's log-odds that both are one mark.
    pub odds: f32,
    /// Correlation of their ink, -1 to 1.
    pub correlation: f32,
}

/// Lays the mark of `a` over that of `b`. `None` where no map is found.
pub fn overlay(a: &Look, b: &Look) -> Option<Overlay> {
    let exemplar = &b.prepared.signature;
    let table = ImprintTable::new(std::iter::once(exemplar.imprints.as_slice()));
    let entry = *table.rank(std::slice::from_ref(&a.imprint)).first()?;
    let poses = a
        .signature
        .codes
        .best(&exemplar.code, -entry.turn, TURN_REACH);
    let drafted = draft(&a.signature, exemplar, &poses)?;
    let fit = settle(&drafted, &a.signature, exemplar);
    let mut map = fit.map;
    let everywhere = Plane::filled(b.level.ink.width(), b.level.ink.height(), 1.0);
    let finer = dense::refine(
        &map,
        &a.slopes,
        &b.level,
        &everywhere,
        STRIKE_SHRINK as f64,
        Freedom::Projective,
    );
    if let Some(r) = finer
        && is_plausible(&r.map, CUT_TO_CUT)
        && r.correlation > fit.correlation - LOSS
    {
        map = r.map;
    }
    Some(Overlay {
        map,
        odds: verifier::log_odds(&a.signature.fine, &exemplar.fine, &map),
        correlation: fit.correlation,
    })
}

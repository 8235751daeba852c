//! One photo's mark laid over another's.

use super::look::{Look, STRIKE_SHRINK, as_exemplar};
use crate::alignment::consensus::{CUT_TO_CUT, is_plausible};
use crate::alignment::dense::{self, Freedom, Refined};
use crate::alignment::{draft, settle, verifier};
use crate::descriptors::signature::SHRINKS;
use crate::geometry::{Exemplar, Homography, Mark, Quad};
use crate::raster::Plane;
use crate::shortlist::ImprintTable;

/// Radians around the imprint's turn in which a pose is sought.
const TURN_REACH: f64 = 0.8;
/// Exemplars through which one mark is laid over the other, besides by itself.
const THROUGH: usize = 3;
/// The verifier's log-odds below which two marks that share no exemplar are not one.
const LEAST_ODDS: f32 = -2.0;

/// How the first mark lies over the second.
#[derive(Debug, Clone, Copy)]
pub struct Overlay {
    /// From the frame of the first mark to that of the second.
    pub map: Homography<Mark, Exemplar>,
    /// The verifier's log-odds that both are one mark.
    pub odds: f32,
    /// Correlation of their ink at the finest size, -1 to 1.
    pub correlation: f32,
}

/// Lays the mark of `a` over that of `b`, by itself and through exemplars that were laid over both, and keeps what
/// correlates best. `None` where no map is found, or the marks are not one.
pub fn overlay(a: &Look, b: &Look) -> Option<Overlay> {
    let shared: Vec<_> = a
        .laid
        .iter()
        .filter_map(|l| through(l, b))
        .take(THROUGH)
        .collect();
    let best = alone(a, b)
        .into_iter()
        .chain(shared.iter().copied())
        .filter_map(|start| refined(&start, a, b))
        .max_by(|x, y| x.correlation.total_cmp(&y.correlation))?;
    let exemplar = &b.prepared.signature;
    let odds = verifier::log_odds(&a.signature.fine, &exemplar.fine, &best.map);
    (!shared.is_empty() || odds >= LEAST_ODDS).then_some(Overlay {
        map: best.map,
        odds,
        correlation: best.correlation,
    })
}

/// The map through an exemplar that was laid over both marks.
fn through((name, quad): &(String, Quad<Mark>), b: &Look) -> Option<Homography<Mark, Exemplar>> {
    let (_, other) = b.laid.iter().find(|(n, _)| n == name)?;
    Homography::between(quad, &as_exemplar(other))
}

/// The map by the marks themselves.
fn alone(a: &Look, b: &Look) -> Option<Homography<Mark, Exemplar>> {
    let exemplar = &b.prepared.signature;
    let mut table = ImprintTable::default();
    table.add(&exemplar.imprints);
    let entry = *table.rank(std::slice::from_ref(&a.imprint)).first()?;
    let poses = a
        .signature
        .codes
        .best(&exemplar.code, -entry.turn, TURN_REACH);
    let drafted = draft(&a.signature, exemplar, &poses)?;
    Some(settle(&drafted, &a.signature, exemplar).map)
}

/// A map refined at two sizes; where the finer one goes astray, the coarser stands.
fn refined(start: &Homography<Mark, Exemplar>, a: &Look, b: &Look) -> Option<Refined> {
    let exemplar = &b.prepared.signature;
    let coarse = dense::refine(
        start,
        &a.signature.slopes[1],
        &exemplar.levels[1],
        &exemplar.within[1],
        SHRINKS[1] as f64,
        Freedom::Projective,
    );
    let start = coarse
        .filter(|r| is_plausible(&r.map, CUT_TO_CUT))
        .map_or(*start, |r| r.map);
    let everywhere = Plane::filled(b.level.ink.width(), b.level.ink.height(), 1.0);
    let fine = |freedom: Freedom, start: &Homography<Mark, Exemplar>| {
        let shrink = STRIKE_SHRINK as f64;
        dense::refine(start, &a.slopes, &b.level, &everywhere, shrink, freedom)
    };
    let found = fine(Freedom::Projective, &start)?;
    match is_plausible(&found.map, CUT_TO_CUT) {
        true => Some(found),
        false => fine(Freedom::Similarity, &start),
    }
}

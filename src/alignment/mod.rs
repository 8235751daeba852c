//! Laying a mark over an exemplar: consensus of local points, dense refinement, and whether the two are
//! one.

pub mod consensus;
pub mod contest;
pub mod dense;
pub mod verifier;

use crate::descriptors::shape::Pose;
use crate::descriptors::signature::{ExemplarSignature, MarkSignature, SHRINKS};
use crate::geometry::{Exemplar, Homography, Mark};
use crate::mark::cut::SIDE;
use dense::Freedom;

/// Points that must agree before their map is preferred to the coarse pose outright.
const TRUSTED_POINTS: usize = 8;

/// A mark laid roughly over an exemplar.
#[derive(Debug, Clone)]
pub struct Draft {
    pub map: Homography<Mark, Exemplar>,
    /// Local points that agree with the map (0 where none was found).
    pub agreeing: usize,
    /// Correlation of the ink at the coarsest size, -1 to 1.
    pub correlation: f32,
}

/// A mark laid finely over an exemplar.
#[derive(Debug, Clone)]
pub struct Fit {
    pub map: Homography<Mark, Exemplar>,
    /// Local points that agreed with the draft.
    pub agreeing: usize,
    /// Correlation of the ink at the finest refined size, -1 to 1.
    pub correlation: f32,
}

/// Tries the consensus of the mark's own points and the coarse `poses`, and keeps what correlates
/// best.
pub fn draft(mark: &MarkSignature, exemplar: &ExemplarSignature, poses: &[Pose]) -> Option<Draft> {
    let side = SIDE as f64;
    let limit = consensus::CUT_TO_CUT;
    let own = consensus::agree::<Mark>(&mark.points, &exemplar.points, side, limit);
    let mut starts: Vec<(Homography<Mark, Exemplar>, usize)> = Vec::new();
    starts.extend(own.iter().map(|c| (c.to_exemplar, c.agreeing)));
    if own.is_none_or(|c| c.agreeing < TRUSTED_POINTS) {
        starts.extend(poses.iter().map(|p| (p.to_map(side), 0)));
    }
    starts
        .into_iter()
        .filter_map(|(map, agreeing)| lay_roughly(&map, agreeing, mark, exemplar))
        .max_by(|a, b| rank(a).total_cmp(&rank(b)))
}

fn lay_roughly(
    map: &Homography<Mark, Exemplar>,
    agreeing: usize,
    mark: &MarkSignature,
    exemplar: &ExemplarSignature,
) -> Option<Draft> {
    let first = match agreeing {
        0 => at_level(map, mark, exemplar, 0, Freedom::Similarity)?,
        _ => at_level(map, mark, exemplar, 0, Freedom::Affine)?,
    };
    let better = match agreeing {
        0 => at_level(&first.map, mark, exemplar, 0, Freedom::Affine).unwrap_or(first),
        _ => first,
    };
    let kept = if consensus::is_plausible(&better.map, consensus::CUT_TO_CUT) {
        better
    } else {
        first
    };
    Some(Draft {
        map: kept.map,
        agreeing,
        correlation: kept.correlation,
    })
}

/// A consensus counts for as much as correlation where the ink itself is hard to see.
pub fn rank(d: &Draft) -> f32 {
    d.correlation + 0.02 * d.agreeing.min(25) as f32
}

/// Refines a draft at the finer of the two sizes.
pub fn settle(draft: &Draft, mark: &MarkSignature, exemplar: &ExemplarSignature) -> Fit {
    let mut fit = Fit {
        map: draft.map,
        agreeing: draft.agreeing,
        correlation: draft.correlation,
    };
    for freedom in [Freedom::Affine, Freedom::Projective] {
        if let Some(r) = at_level(&fit.map, mark, exemplar, 1, freedom)
            && consensus::is_plausible(&r.map, consensus::CUT_TO_CUT)
        {
            fit.map = r.map;
            fit.correlation = r.correlation;
        }
    }
    fit
}

fn at_level(
    map: &Homography<Mark, Exemplar>,
    mark: &MarkSignature,
    exemplar: &ExemplarSignature,
    level: usize,
    freedom: Freedom,
) -> Option<dense::Refined> {
    dense::refine(
        map,
        &mark.slopes[level],
        &exemplar.levels[level],
        &exemplar.within[level],
        SHRINKS[level] as f64,
        freedom,
    )
}

//! The shipped weights, fitted by `tools/tune` on the fit and tune splits.

use super::model::Model;

/// Weights in the order of [`super::features::NAMES`].
///
/// Maximum likelihood with a ridge of 0.6 on features scaled to unit spread, each weight held to
/// the sign that its meaning gives it, on 399 photos of the fit split (seed 11: 210 known marks, the
/// rest unknown marks, unknown siblings, bare bases and tops). `named_at` is the probability at
/// which about 2 % of the unknown marks and siblings of that lot would be named.
pub fn shipped() -> Model {
    Model {
        bias: -6.81,
        weights: [
            0.0, 0.0, 0.26, 2.026, 0.0, -2.633, 1.544, 0.967, 0.0, 0.433, 1.235, 2.937, 0.0,
        ],
        rest: -1.841,
        named_at: 0.75,
        choose_at: 0.75,
    }
}

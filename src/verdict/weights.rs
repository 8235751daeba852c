//! The shipped weights, fitted by `tools/tune` on the fit and tune splits.

use super::model::Model;

/// Weights in the order of [`super::features::NAMES`].
///
/// Maximum likelihood with a ridge of 0.6 on features scaled to unit spread, each weight held to
/// the sign that its meaning gives it, on 393 photos of the fit split (seed 11: 147 known marks, the
/// rest unknown marks, unknown siblings, bare bases and tops). `named_at` is the probability at
/// which about 2 % of the unknown marks and siblings of that lot would be named.
pub fn shipped() -> Model {
    Model {
        bias: -7.773,
        weights: [
            0.0, 0.0, 0.856, 0.787, 0.0, -0.044, 0.919, 0.851, 0.0, 0.611, 1.697, 3.383, 0.0,
        ],
        rest: -2.414,
        named_at: 0.72,
        choose_at: 0.72,
    }
}

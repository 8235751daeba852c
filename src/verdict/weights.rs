//! The shipped weights, fitted by `tools/tune` on the fit and tune splits.

use super::model::Model;

/// Weights in the order of [`super::features::NAMES`].
pub fn shipped() -> Model {
    Model {
        bias: -9.0,
        weights: [
            6.0, 4.0, 4.0, 2.0, 1.0, -3.0, 1.0, 0.8, 1.0, 2.0, 2.0, 2.0, 0.0,
        ],
        rest: -3.0,
        named_at: 0.8,
        choose_at: 0.8,
    }
}

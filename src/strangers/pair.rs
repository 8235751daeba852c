//! What two marks say of each other, as one number.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::compare::Seen;
use crate::verdict::features::{COUNT, Features};

/// Log-odds that two marks are one: a logistic regression on the means of both looks' features, and on whether
/// both were laid over one another.
#[derive(Debug, Clone, PartialEq)]
pub struct Weights {
    pub bias: f64,
    /// In the order of [`crate::verdict::features::NAMES`].
    pub features: [f64; COUNT],
    pub both: f64,
}

/// The weights among at least `MANY` marks.
///
/// Maximum likelihood with a ridge of 1 on features scaled to unit spread, on 8,852 pairs of two tune lots (seeds
/// 46 and 47, known marks, strangers and siblings, easy and medium, an empty library); 345 of them are one mark.
/// The verdict's own weights, fitted to photos beside clean exemplars, join fewer: at a B-cubed precision of 0.99 they
/// recall 0.82, these 0.85, each lot judged by weights fitted to the other. Correlation, points and likeness add
/// nothing to the rest.
const AMONG_MANY: Weights = Weights {
    bias: -3.702,
    features: [0.0, 0.0, 0.0, 0.0, 1.175, 2.372, 2.554, 1.508],
    both: 1.310,
};

/// The weights among fewer marks, without what only many others can tell: what is usual. Fitted to the same pairs;
/// the bias is 0.45 lower than the fit, so that the same limits hold: precision and recall 0.996 and 0.799.
const AMONG_FEW: Weights = Weights {
    bias: -2.699,
    features: [0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 3.124, 1.472],
    both: 1.775,
};

/// Marks from which the others tell what is usual. The lots that taught it have five hundred.
const MANY: usize = 100;

impl Weights {
    /// Those for so many marks.
    pub fn among(marks: usize) -> &'static Self {
        match marks {
            MANY.. => &AMONG_MANY,
            _ => &AMONG_FEW,
        }
    }

    /// The log-odds by one look.
    fn alone(&self, features: &Features) -> f64 {
        let weighed = self.features.iter().zip(features);
        self.bias + weighed.map(|(w, f)| w * f64::from(*f)).sum::<f64>()
    }
}

/// Two marks, and what both looks say of them.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Pair {
    /// The smaller index.
    pub a: usize,
    pub b: usize,
    /// Log-odds (natural) that they are one mark.
    pub log_odds: f64,
    /// Radians by which the picture of `a` is to be turned clockwise to lie like that of `b`.
    pub turn: f64,
}

/// Joins what two marks say of each other, or what one says where only one was laid over the other. In the
/// order of the indices.
pub fn pairs(seen: &[Seen], weights: &Weights) -> Vec<Pair> {
    let mut looks: BTreeMap<(usize, usize), Vec<&Seen>> = BTreeMap::new();
    for s in seen {
        let key = (s.mark.min(s.over), s.mark.max(s.over));
        looks.entry(key).or_default().push(s);
    }
    let joined = looks.into_iter().filter_map(|((a, b), looks)| {
        let odds = |s: &Seen| weights.alone(&s.features);
        let best = looks.iter().max_by(|x, y| odds(x).total_cmp(&odds(y)))?;
        let mean = looks.iter().map(|s| odds(s)).sum::<f64>() / looks.len() as f64;
        Some(Pair {
            a,
            b,
            log_odds: mean + if looks.len() > 1 { weights.both } else { 0.0 },
            turn: match best.mark == a {
                true => best.turn,
                false => -best.turn,
            },
        })
    });
    joined.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_looks_count_and_the_better_one_tells_the_turn() {
        let look = |mark, over, feature, turn| Seen {
            mark,
            over,
            features: [feature; COUNT],
            turn,
        };
        let looks = [
            look(2, 1, 1.0, 0.4),
            look(1, 2, 0.5, -0.1),
            look(0, 2, 0.25, 0.7),
        ];
        let weights = Weights::among(3);
        let joined = pairs(&looks, weights);
        let told: Vec<(usize, usize, f64)> = joined.iter().map(|p| (p.a, p.b, p.turn)).collect();
        assert_eq!(told, [(0, 2, 0.7), (1, 2, -0.4)]);
        let mean = weights.alone(&[0.75; COUNT]) + weights.both;
        assert!((joined[1].log_odds - mean).abs() < 1e-9);
        assert!((joined[0].log_odds - weights.alone(&[0.25; COUNT])).abs() < 1e-9);
    }

    #[test]
    fn few_marks_do_not_tell_what_is_usual() {
        let standing = [0.0, 0.0, 0.0, 0.0, 2.0, 2.0, 0.0, 0.0];
        let few = Weights::among(MANY - 1).alone(&standing);
        assert!(Weights::among(MANY).alone(&standing) > few);
        assert_eq!(few, AMONG_FEW.bias);
    }
}

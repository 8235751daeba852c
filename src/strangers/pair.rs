//! What two marks say of each other, as one number.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::compare::Seen;
use crate::verdict::features::{CORRELATION, Features, LIKENESS, odds};

/// Log-odds that two marks are one: a logistic regression on the means of both looks, and on whether both were laid
/// over one another. Only what one look says of the two counts. How far a mark stands out among others, or leads
/// before them, tells nothing here: in a group of forty each has thirty-nine rivals.
#[derive(Debug, Clone, PartialEq)]
pub struct Weights {
    bias: f64,
    likeness: f64,
    correlation: f64,
    /// Of the verifier's log-odds up to [`FAIR`], and of those above 0.
    doubt: f64,
    belief: f64,
    both: f64,
}

/// Log-odds from which the verifier does not doubt.
const FAIR: f64 = 4.8;

/// Maximum likelihood with a ridge of 10 on features scaled to unit spread, on 5,516 pairs of four seasons of tune (seeds
/// 60 to 63: one mark of 120 comes forty times, half of them once) and, at a tenth, 2,872 of seed 46, where a third of 338
/// marks are siblings; of a large group's pairs no more than twenty count in full.
pub const WEIGHTS: Weights = Weights {
    bias: -4.422,
    likeness: 5.530,
    correlation: 0.981,
    doubt: 0.782,
    belief: 0.855,
    both: 0.568,
};

impl Weights {
    /// The log-odds by one look.
    fn alone(&self, features: &Features) -> f64 {
        let odds = f64::from(odds(features));
        self.bias
            + self.likeness * f64::from(features[LIKENESS])
            + self.correlation * f64::from(features[CORRELATION])
            + self.doubt * odds.min(FAIR)
            + self.belief * odds.max(0.0)
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
pub fn pairs(seen: &[Seen]) -> Vec<Pair> {
    let weights = &WEIGHTS;
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
    use crate::verdict::features::{COUNT, NAMES};

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
        let joined = pairs(&looks);
        let told: Vec<(usize, usize, f64)> = joined.iter().map(|p| (p.a, p.b, p.turn)).collect();
        assert_eq!(told, [(0, 2, 0.7), (1, 2, -0.4)]);
        let mean = (WEIGHTS.alone(&[1.0; COUNT]) + WEIGHTS.alone(&[0.5; COUNT])) / 2.0;
        assert!((joined[1].log_odds - mean - WEIGHTS.both).abs() < 1e-9);
        assert!((joined[0].log_odds - WEIGHTS.alone(&[0.25; COUNT])).abs() < 1e-9);
    }

    #[test]
    fn rivals_tell_nothing() {
        let mut among_many = [0.5; COUNT];
        let alone = WEIGHTS.alone(&among_many);
        for (feature, name) in among_many.iter_mut().zip(NAMES) {
            if ["standing", "cohort", "lead"].contains(&name) {
                *feature = -2.0;
            }
        }
        assert!((WEIGHTS.alone(&among_many) - alone).abs() < 1e-9);
    }
}

//! A conditional logit over candidates and "none of these" (McFadden 1974).
//!
//! Every candidate has a score linear in its features; the library's unknown rest and "not in this
//! library" have scores of their own. Probabilities are the soft maximum over all of them, and sum
//! to one by construction.

use super::features::{COUNT, Features};

/// Weights of the scores.
#[derive(Debug, Clone, PartialEq)]
pub struct Model {
    pub bias: f32,
    pub weights: [f32; COUNT],
    /// Score of "a family of the library that was not compared to the end".
    pub rest: f32,
    /// A verdict is `named` at or above this probability ...
    pub named_at: f64,
    /// ... and `choose` where the best candidates together reach it.
    pub choose_at: f64,
}

/// Probabilities of one mark's candidates, of the rest and of none; they sum to 1.
#[derive(Debug, Clone, PartialEq)]
pub struct Posterior {
    pub candidates: Vec<f64>,
    pub rest: f64,
    pub none: f64,
}

impl Model {
    /// The linear score of a candidate.
    pub fn score(&self, features: &Features) -> f64 {
        let sum: f32 = self.weights.iter().zip(features).map(|(w, f)| w * f).sum();
        f64::from(self.bias + sum)
    }

    /// Soft maximum over the candidates' scores, the rest and none. `open` says whether families were
    /// left uncompared; `none` how many times likelier than usual it is that nothing in the library
    /// fits, whatever was compared: 1 for a photo that surely shows a mark.
    pub fn posterior(&self, scores: &[f64], open: bool, none: f64) -> Posterior {
        let rest = if open {
            f64::from(self.rest).exp()
        } else {
            0.0
        };
        let weights: Vec<f64> = scores.iter().map(|s| s.min(60.0).exp()).collect();
        let total = weights.iter().sum::<f64>() + rest + none;
        Posterior {
            candidates: weights.iter().map(|w| w / total).collect(),
            rest: rest / total,
            none: none / total,
        }
    }
}

impl Default for Model {
    fn default() -> Self {
        super::weights::shipped()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn probabilities_sum_to_one_and_follow_the_scores() {
        let model = Model {
            rest: -2.0,
            ..Model::default()
        };
        let p = model.posterior(&[3.0, 1.0], true, 1.0);
        assert!((p.candidates.iter().sum::<f64>() + p.rest + p.none - 1.0).abs() < 1e-12);
        assert!(p.candidates[0] > p.candidates[1] && p.candidates[1] > p.none);
        assert_eq!(model.posterior(&[], false, 1.0).none, 1.0);
        let doubtful = model.posterior(&[3.0, 1.0], true, 9.0);
        assert!(doubtful.none > 2.0 * p.none && doubtful.candidates[0] < p.candidates[0]);
    }
}

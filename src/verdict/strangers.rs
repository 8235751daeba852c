//! How common marks are that the library does not have, and what follows for the probabilities of an answer.
//!
//! The verdict's weights were fitted where somewhat under half of the marks were strangers. Who buys only what they
//! collect meets fewer, who empties houses more. A share learnt from the person's own finished lots changes nothing but
//! the odds of "none of these" (Bayes' rule for a prior that differs from that of the fit, as in Saerens et al. 2002).

use crate::answer::{MarkAnswer, Verdict};
use crate::verdict::model::Model;

/// Share of strangers among the marks that the weights were fitted to: 680 of 1,520 in the tune lots.
pub const USUAL: f64 = 0.447;
/// Marks that this share counts for beside the person's own: with as many of theirs the two weigh alike. A choice.
const WEIGHT: f64 = 40.0;
/// Marks in finished lots from which a share is learnt. A choice: fewer may be one odd lot.
pub const LEARNT_FROM: usize = 60;
/// A share is kept this far from none and from all: the next lot may be another kind of sale.
const LEAST: f64 = 0.05;
const MOST: f64 = 0.95;
/// Families of a list together must reach the limit of `choose`.
const LISTED: usize = 4;

/// The share of marks that the library does not have, 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Strangers(f64);

impl Default for Strangers {
    fn default() -> Self {
        Self(USUAL)
    }
}

impl Strangers {
    /// The share itself; anything but a number from 0.05 to 0.95 is none.
    pub fn of_share(share: f64) -> Option<Self> {
        (LEAST..=MOST).contains(&share).then_some(Self(share))
    }

    /// From what was met in finished lots, drawn towards the usual share; `None` where it is too little.
    pub fn learnt(strangers: usize, marks: usize) -> Option<Self> {
        let share = (strangers as f64 + WEIGHT * USUAL) / (marks as f64 + WEIGHT);
        (marks >= LEARNT_FROM).then(|| Self(share.clamp(LEAST, MOST)))
    }

    pub fn share(self) -> f64 {
        self.0
    }

    /// How many times likelier than usual it is that a mark is none of the library's.
    fn odds(self) -> f64 {
        (self.0 / (1.0 - self.0)) / (USUAL / (1.0 - USUAL))
    }

    /// Gives a mark the probabilities and the verdict that this share makes of the usual one; `named_at` is the limit
    /// from which a family is named. Marks that are neither named nor listed nor unknown stay as they are.
    pub fn weigh(self, mark: &mut MarkAnswer, named_at: f64) {
        if !matches!(
            mark.verdict,
            Verdict::Named | Verdict::Choose | Verdict::Unknown
        ) {
            return;
        }
        let none = mark.none * self.odds();
        let listed: f64 = mark.candidates.iter().map(|c| c.probability).sum();
        let all = listed + mark.rest + none;
        if all > 0.0 {
            mark.candidates
                .iter_mut()
                .for_each(|c| c.probability /= all);
            mark.rest /= all;
            mark.none = none / all;
        }
        let first = mark.candidates.first().map_or(0.0, |c| c.probability);
        let together: f64 = mark
            .candidates
            .iter()
            .take(LISTED)
            .map(|c| c.probability)
            .sum();
        mark.verdict = if first >= named_at && mark.twins.is_empty() {
            Verdict::Named
        } else if together >= Model::default().choose_at {
            Verdict::Choose
        } else {
            Verdict::Unknown
        };
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::answer::{Candidate, Means, Role};

    fn mark(probabilities: &[f64], none: f64) -> MarkAnswer {
        let candidate = |(n, &probability): (usize, &f64)| Candidate {
            family: format!("mill/{n}"),
            variant: None,
            probability,
            exemplar: String::new(),
            quad: [[0.0; 2]; 4],
            evidence: None,
        };
        MarkAnswer {
            quad: [[0.0; 2]; 4],
            role: Role::Undecided,
            means: Means::Undecided,
            verdict: Verdict::Named,
            strike: 1.0,
            quality: None,
            state: None,
            candidates: probabilities.iter().enumerate().map(candidate).collect(),
            rest: 1.0 - none - probabilities.iter().sum::<f64>(),
            none,
            forms: None,
            twins: Vec::new(),
            dates: Vec::new(),
        }
    }

    #[test]
    fn the_usual_share_changes_nothing() {
        let mut after = mark(&[0.9, 0.02], 0.07);
        Strangers::default().weigh(&mut after, 0.8);
        assert!((after.candidates[0].probability - 0.9).abs() < 1e-9);
        assert_eq!(after.verdict, Verdict::Named);
    }

    #[test]
    fn where_strangers_are_common_less_is_named_and_where_they_are_rare_more() {
        let mut among_many = mark(&[0.85, 0.05], 0.1);
        Strangers(0.8).weigh(&mut among_many, 0.8);
        // By hand: the odds of none are 4.95 times the usual ones, 0.495 beside 0.9.
        let expected = 0.85 / (0.9 + 0.1 * (4.0 / (0.447 / 0.553)));
        assert!((among_many.candidates[0].probability - expected).abs() < 1e-9);
        assert_eq!(among_many.verdict, Verdict::Choose);
        let mut among_few = mark(&[0.7, 0.05], 0.25);
        Strangers(0.1).weigh(&mut among_few, 0.8);
        assert_eq!(among_few.verdict, Verdict::Named);
        let sum: f64 = among_few.candidates.iter().map(|c| c.probability).sum();
        assert!((sum + among_few.rest + among_few.none - 1.0).abs() < 1e-9);
    }

    #[test]
    fn few_marks_teach_nothing_and_many_teach_their_share() {
        assert_eq!(Strangers::learnt(59, 59), None);
        let learnt = Strangers::learnt(60, 300).map(Strangers::share);
        assert!(
            learnt.is_some_and(|s| (0.2..0.25).contains(&s)),
            "{learnt:?}"
        );
        assert_eq!(
            Strangers::learnt(0, 5000).map(Strangers::share),
            Some(LEAST)
        );
    }
}

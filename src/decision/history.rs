//! Folding the records, in order, into what holds now.

use std::collections::{BTreeMap, BTreeSet};

use super::{ContentHash, Decision, Statement};

/// All decisions, oldest first, and which of them hold.
#[derive(Debug, Default, Clone)]
pub struct History {
    by_number: BTreeMap<i64, Decision>,
    /// Numbers of the decisions that hold.
    holding: BTreeSet<i64>,
}

impl History {
    /// `decisions` in any order; two of one number count once (the first).
    pub fn new(decisions: impl IntoIterator<Item = Decision>) -> Self {
        let mut history = Self::default();
        for decision in decisions {
            history.by_number.entry(decision.number).or_insert(decision);
        }
        let numbers: Vec<i64> = history.by_number.keys().copied().collect();
        for number in numbers {
            history.fold(number);
        }
        history
    }

    fn fold(&mut self, number: i64) {
        let decision = &self.by_number[&number];
        let replaced = decision.replaces.filter(|old| self.holding.contains(old));
        if decision.statement == Statement::Undo {
            // An undo of what does not hold (a journal edited by hand) changes nothing.
            let Some(taken_back) = replaced else { return };
            self.holding.remove(&taken_back);
            if let Some(earlier) = self.by_number[&taken_back].replaces
                && self.by_number.contains_key(&earlier)
            {
                self.holding.insert(earlier);
            }
        } else {
            if let Some(old) = replaced {
                self.holding.remove(&old);
            }
            self.holding.insert(number);
        }
    }

    /// Every record, oldest first.
    pub fn all(&self) -> impl Iterator<Item = &Decision> {
        self.by_number.values()
    }

    /// The decisions that hold, oldest first.
    pub fn holding(&self) -> impl Iterator<Item = &Decision> {
        self.holding.iter().filter_map(|n| self.by_number.get(n))
    }

    pub fn get(&self, number: i64) -> Option<&Decision> {
        self.by_number.get(&number)
    }

    pub fn is_holding(&self, number: i64) -> bool {
        self.holding.contains(&number)
    }

    /// The number that the next record gets.
    pub fn next_number(&self) -> i64 {
        self.by_number.keys().next_back().map_or(1, |n| n + 1)
    }
}

/// Those of `decisions` that are about the photo or a mark in it.
pub fn about_photo<'a>(
    decisions: impl Iterator<Item = &'a Decision>,
    photo: &ContentHash,
) -> Vec<&'a Decision> {
    decisions
        .filter(|d| d.about.photo() == Some(photo))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decision::{About, Certainty, Moment};

    fn decision(number: i64, statement: Statement, replaces: Option<i64>) -> Decision {
        Decision {
            number,
            time: Moment::new(jiff::Timestamp::UNIX_EPOCH),
            about: About::Photo(ContentHash::of(b"photo")),
            statement,
            certainty: Certainty::Sure,
            replaces,
        }
    }

    fn holding(records: Vec<Decision>) -> Vec<i64> {
        History::new(records).holding().map(|d| d.number).collect()
    }

    fn family(name: &str) -> Statement {
        Statement::Family(name.to_owned())
    }

    #[test]
    fn the_latest_word_holds_and_undo_goes_back_one_step_at_a_time() {
        let mut records = vec![
            decision(1, family("a/x"), None),
            decision(2, family("a/y"), Some(1)),
            decision(3, Statement::Unknown, Some(2)),
        ];
        assert_eq!(holding(records.clone()), [3]);
        records.push(decision(4, Statement::Undo, Some(3)));
        assert_eq!(holding(records.clone()), [2]);
        records.push(decision(5, Statement::Undo, Some(2)));
        assert_eq!(holding(records.clone()), [1]);
        records.push(decision(6, Statement::Undo, Some(1)));
        assert_eq!(holding(records.clone()), [] as [i64; 0]);
        records.push(decision(7, family("a/z"), None));
        assert_eq!(holding(records), [7]);
    }

    #[test]
    fn different_topics_stand_side_by_side() {
        let code = Statement::from_words("date-code", Some("7 C".into()));
        let records = vec![decision(1, family("a/x"), None), decision(2, code, None)];
        assert_eq!(holding(records), [1, 2]);
    }

    #[test]
    fn order_of_arrival_does_not_matter_and_stray_undo_is_harmless() {
        let records = vec![
            decision(3, Statement::Undo, Some(9)),
            decision(2, family("a/y"), Some(1)),
            decision(1, family("a/x"), None),
        ];
        assert_eq!(holding(records), [2]);
    }

    #[test]
    fn numbers_go_on_from_the_last() {
        assert_eq!(History::default().next_number(), 1);
        let history = History::new([decision(7, Statement::Again, None)]);
        assert_eq!(history.next_number(), 8);
        assert!(history.is_holding(7));
    }
}

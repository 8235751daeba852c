//! Folding the records, in order, into what holds now.

use super::{ContentHash, Decision, Statement};

/// All decisions, oldest first, and which of them hold.
#[derive(Debug, Default, Clone)]
pub struct History {
    /// By number, each number once. A plain list: a shop's history is some hundred thousand records, read at every start.
    records: Vec<Decision>,
    /// Which of the records hold, in the same order.
    holds: Vec<bool>,
}

impl History {
    /// `decisions` in any order; two of one number count once (the first).
    pub fn new(decisions: impl IntoIterator<Item = Decision>) -> Self {
        let mut records: Vec<Decision> = decisions.into_iter().collect();
        records.sort_by_key(|d| d.number);
        records.dedup_by_key(|d| d.number);
        let mut history = Self {
            holds: vec![false; records.len()],
            records,
        };
        for at in 0..history.records.len() {
            history.fold(at);
        }
        history
    }

    fn fold(&mut self, at: usize) {
        let decision = &self.records[at];
        let named = decision.replaces.and_then(|old| self.at(old));
        let replaced = named.filter(|old| self.holds[*old]);
        if decision.statement == Statement::Undo {
            // An undo of what does not hold (a journal edited by hand) changes nothing.
            let Some(taken_back) = replaced else { return };
            self.holds[taken_back] = false;
            let earlier = self.records[taken_back].replaces;
            if let Some(earlier) = earlier.and_then(|number| self.at(number)) {
                self.holds[earlier] = true;
            }
        } else {
            if let Some(old) = replaced {
                self.holds[old] = false;
            }
            self.holds[at] = true;
        }
    }

    fn at(&self, number: i64) -> Option<usize> {
        self.records
            .binary_search_by_key(&number, |d| d.number)
            .ok()
    }

    /// Every record, oldest first.
    pub fn all(&self) -> impl Iterator<Item = &Decision> {
        self.records.iter()
    }

    /// The decisions that hold, oldest first.
    pub fn holding(&self) -> impl Iterator<Item = &Decision> {
        let marked = self.records.iter().zip(&self.holds);
        marked.filter_map(|(decision, holds)| holds.then_some(decision))
    }

    pub fn get(&self, number: i64) -> Option<&Decision> {
        self.at(number).map(|at| &self.records[at])
    }

    pub fn is_holding(&self, number: i64) -> bool {
        self.at(number).is_some_and(|at| self.holds[at])
    }

    /// The number that the next record gets.
    pub fn next_number(&self) -> i64 {
        self.records.last().map_or(1, |d| d.number + 1)
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

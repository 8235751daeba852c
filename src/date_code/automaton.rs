//! The codes of a scheme as a finite automaton over ASCII, so that a search can follow it sign by
//! sign and never leave what the scheme allows.

use std::collections::VecDeque;

use regex_automata::dfa::{Automaton as _, StartKind, dense};
use regex_automata::util::primitives::StateID;
use regex_automata::util::{start, syntax};
use regex_automata::{Anchored, MatchKind, nfa::thompson};

/// The signs that a code may hold: printable ASCII without the space.
const FIRST: u8 = b'!';
const LAST: u8 = b'~';
const SIGNS: usize = (LAST - FIRST + 1) as usize;

/// Largest automaton in bytes while it is made. Schemes of a few patterns need some thousand; one
/// such as `[AB]*A[AB]{24}`, which must remember its last 24 signs, is refused and not followed.
const SIZE_LIMIT: usize = 4 << 20;

/// No state.
const NONE: u32 = u32::MAX;

/// Where a walk through the codes stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct State(u32);

impl State {
    /// Counts from 0, below [`Automaton::len`].
    pub fn index(self) -> usize {
        self.0 as usize
    }
}

/// Why patterns make no automaton.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum AutomatonError {
    #[error("the pattern holds `{0}`: only ASCII can be stamped into a scheme")]
    NotAscii(char),
    #[error("{0}")]
    Pattern(String),
    #[error("no code fits the pattern")]
    AcceptsNothing,
    #[error("the empty text fits the pattern: a code has one sign at least")]
    AcceptsEmpty,
}

/// A deterministic automaton that accepts exactly the texts that one of its patterns matches from
/// end to end. Every state of it leads to some accepted text.
#[derive(Debug, Clone)]
pub struct Automaton {
    /// `SIGNS` a state.
    next: Vec<u32>,
    accepts: Vec<bool>,
}

impl Automaton {
    /// The automaton of regular expressions in the syntax of the regex crate, each taken from end
    /// to end, without Unicode classes. `usable` tells the signs that codes are made of.
    ///
    /// # Errors
    /// Where a pattern is none, is not ASCII or too large, or no or every text fits.
    pub fn new<P: AsRef<str>>(
        patterns: &[P],
        usable: impl Fn(u8) -> bool,
    ) -> Result<Self, AutomatonError> {
        for pattern in patterns {
            if let Some(odd) = pattern.as_ref().chars().find(|c| !c.is_ascii()) {
                return Err(AutomatonError::NotAscii(odd));
            }
        }
        let whole: Vec<String> = patterns
            .iter()
            .map(|p| format!(r"\A(?:{})\z", p.as_ref()))
            .collect();
        let dfa = dense::Builder::new()
            .configure(
                dense::Config::new()
                    .start_kind(StartKind::Anchored)
                    .match_kind(MatchKind::All)
                    .accelerate(false)
                    .dfa_size_limit(Some(SIZE_LIMIT))
                    .determinize_size_limit(Some(SIZE_LIMIT)),
            )
            .syntax(syntax::Config::new().unicode(false).utf8(false))
            .thompson(thompson::Config::new().utf8(false))
            .build_many(&whole)
            .map_err(|e| AutomatonError::Pattern(innermost(&e)))?;
        let begin = dfa
            .start_state(&start::Config::new().anchored(Anchored::Yes))
            .map_err(|e| AutomatonError::Pattern(e.to_string()))?;
        let full = explore(&dfa, begin, usable);
        full.pruned()
    }

    /// Number of states.
    pub fn len(&self) -> usize {
        self.accepts.len()
    }

    pub fn is_empty(&self) -> bool {
        self.accepts.is_empty()
    }

    pub fn start(&self) -> State {
        State(0)
    }

    /// The state of a number, from 0.
    pub fn state(&self, index: usize) -> Option<State> {
        (index < self.len()).then_some(State(index as u32))
    }

    /// The state after one more sign; `None` where no code goes on so.
    pub fn step(&self, state: State, sign: u8) -> Option<State> {
        if !(FIRST..=LAST).contains(&sign) {
            return None;
        }
        let next = self.next[state.index() * SIGNS + usize::from(sign - FIRST)];
        (next != NONE).then_some(State(next))
    }

    /// Whether the signs up to here are a whole code.
    pub fn accepts(&self, state: State) -> bool {
        self.accepts[state.index()]
    }

    /// Whether `text` is a code.
    pub fn accepts_text(&self, text: &str) -> bool {
        text.bytes()
            .try_fold(self.start(), |state, sign| self.step(state, sign))
            .is_some_and(|state| self.accepts(state))
    }

    /// Codes in the order of their length, then of their signs; at most `most`.
    pub fn codes(&self, most: usize) -> Vec<String> {
        let mut found = Vec::new();
        let mut waiting = VecDeque::from([(self.start(), String::new())]);
        // A queue longer than what is wanted holds a code for every entry, sooner or later.
        while let Some((state, text)) = waiting.pop_front() {
            if self.accepts(state) {
                found.push(text.clone());
                if found.len() == most {
                    break;
                }
            }
            for sign in FIRST..=LAST {
                if waiting.len() > most {
                    break;
                }
                if let Some(next) = self.step(state, sign) {
                    waiting.push_back((next, format!("{text}{}", char::from(sign))));
                }
            }
        }
        found
    }
}

/// The message at the bottom of an error's chain: what is wrong with the pattern.
fn innermost(error: &dyn std::error::Error) -> String {
    let mut at = error;
    while let Some(source) = at.source() {
        at = source;
    }
    at.to_string()
}

/// Every state that signs lead to, dead ends included.
fn explore(dfa: &dense::DFA<Vec<u32>>, begin: StateID, usable: impl Fn(u8) -> bool) -> Automaton {
    let mut numbers = std::collections::BTreeMap::from([(begin, 0_u32)]);
    let mut order = vec![begin];
    let mut full = Automaton {
        next: Vec::new(),
        accepts: Vec::new(),
    };
    let mut at = 0;
    while at < order.len() {
        let state = order[at];
        at += 1;
        // A match shows one byte late: the end of the input tells whether the code is whole.
        full.accepts
            .push(dfa.is_match_state(dfa.next_eoi_state(state)));
        for sign in FIRST..=LAST {
            let next = dfa.next_state(state, sign);
            let number = if !usable(sign) || dfa.is_dead_state(next) || dfa.is_quit_state(next) {
                NONE
            } else {
                let fresh = numbers.len() as u32;
                *numbers.entry(next).or_insert_with(|| {
                    order.push(next);
                    fresh
                })
            };
            full.next.push(number);
        }
    }
    full
}

impl Automaton {
    /// Without the states from which no code can be reached.
    fn pruned(&self) -> Result<Self, AutomatonError> {
        let live = self.live();
        if !live[0] {
            return Err(AutomatonError::AcceptsNothing);
        }
        if self.accepts[0] {
            return Err(AutomatonError::AcceptsEmpty);
        }
        let mut numbers = vec![NONE; live.len()];
        for (number, state) in (0..live.len()).filter(|&s| live[s]).enumerate() {
            numbers[state] = number as u32;
        }
        let kept = |state: &usize| live[*state];
        Ok(Self {
            next: (0..live.len())
                .filter(kept)
                .flat_map(|s| &self.next[s * SIGNS..(s + 1) * SIGNS])
                .map(|&next| numbers.get(next as usize).copied().unwrap_or(NONE))
                .collect(),
            accepts: (0..live.len())
                .filter(kept)
                .map(|s| self.accepts[s])
                .collect(),
        })
    }

    /// Which states lead to an accepting one.
    fn live(&self) -> Vec<bool> {
        let mut before: Vec<Vec<u32>> = vec![Vec::new(); self.len()];
        for (state, nexts) in self.next.chunks_exact(SIGNS).enumerate() {
            for &next in nexts.iter().filter(|&&n| n != NONE) {
                before[next as usize].push(state as u32);
            }
        }
        let mut live = self.accepts.clone();
        let mut waiting: Vec<usize> = (0..live.len()).filter(|&s| live[s]).collect();
        while let Some(state) = waiting.pop() {
            for &earlier in &before[state] {
                if !std::mem::replace(&mut live[earlier as usize], true) {
                    waiting.push(earlier as usize);
                }
            }
        }
        live
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn of(patterns: &[&str]) -> Result<Automaton, AutomatonError> {
        Automaton::new(patterns, |_| true)
    }

    #[test]
    fn a_code_is_matched_from_end_to_end() {
        let codes = of(&["[A-L][0-9]{2}", r"(?<dots>\.{1,3})X"]).expect("good");
        for good in ["A00", "L99", ".X", "...X"] {
            assert!(codes.accepts_text(good), "{good}");
        }
        for bad in ["", "A0", "A000", "M00", "xA00", "....X", "a00", "A 00"] {
            assert!(!codes.accepts_text(bad), "{bad}");
        }
    }

    #[test]
    fn every_state_leads_to_a_code() {
        let codes = of(&["A(B|C)D", "AE[0-9]?"]).expect("good");
        for state in 0..codes.len() {
            let state = State(state as u32);
            let on = (FIRST..=LAST).any(|sign| codes.step(state, sign).is_some());
            assert!(on || codes.accepts(state));
        }
        assert_eq!(codes.codes(3), ["AE", "ABD", "ACD"]);
        assert_eq!(codes.codes(100).len(), 13);
    }

    #[test]
    fn signs_that_are_not_used_lead_nowhere() {
        let upper = |sign: u8| !sign.is_ascii_lowercase();
        let codes = Automaton::new(&["[A-Za-z][0-9]"], upper).expect("good");
        assert!(codes.accepts_text("B4") && !codes.accepts_text("b4"));
        let none = Automaton::new(&["[a-z][0-9]"], upper);
        assert_eq!(
            none.expect_err("small letters only"),
            AutomatonError::AcceptsNothing
        );
    }

    #[test]
    fn what_is_no_pattern_is_told() {
        assert_eq!(
            of(&["[0-9]*"]).expect_err("empty"),
            AutomatonError::AcceptsEmpty
        );
        assert_eq!(
            of(&["É"]).expect_err("not ASCII"),
            AutomatonError::NotAscii('É')
        );
        assert!(matches!(of(&["[A-"]), Err(AutomatonError::Pattern(_))));
        assert!(matches!(
            of(&["[AB]*A[AB]{24}"]),
            Err(AutomatonError::Pattern(_))
        ));
    }

    proptest! {
        /// The regex crate is the judge.
        #[test]
        fn the_automaton_agrees_with_the_regex(text in "[A-C0-3./]{0,6}") {
            let pattern = r"[A-B]?[0-2]{1,3}(/[A-C])?|\.+[A-C]|C(0|12|123)*3";
            let codes = of(&[pattern]).expect("good");
            let regex = regex::Regex::new(&format!(r"\A(?:{pattern})\z")).expect("good");
            prop_assert_eq!(codes.accepts_text(&text), regex.is_match(&text));
        }
    }
}

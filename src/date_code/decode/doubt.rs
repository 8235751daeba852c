//! Which signs of a reading could well be others.

use super::super::automaton::Automaton;
use super::super::glyphs::Glyphs;
use super::chances::{Chances, probability_of};

/// A sign is in doubt from this share of the readings that differ in it alone: where one in ten
/// such readings would be another, a person should look at just that sign.
const DOUBT_AT: f64 = 0.1;

/// A class that no column gives this probability replaces no sign.
const LEAST_CLASS: f64 = 1e-3;

/// Places of the signs in doubt, from 0, in order. Each sign is replaced, left out and doubled in
/// turn; what the codes allow weighs `odds` times as much as what they do not.
pub(super) fn doubtful(
    chances: &Chances,
    glyphs: &Glyphs,
    codes: Option<&Automaton>,
    odds: f64,
    text: &str,
) -> Vec<usize> {
    let Some(classes) = glyphs.classes_of(text) else {
        return Vec::new();
    };
    let weigh = |classes: &[usize]| {
        let text: Option<Vec<u8>> = classes.iter().map(|&c| glyphs.sign(c)).collect();
        let text = text.and_then(|t| String::from_utf8(t).ok());
        let code = codes
            .zip(text)
            .is_some_and(|(codes, text)| codes.accepts_text(&text));
        probability_of(chances, classes) * if code { odds } else { 1.0 }
    };
    let own = weigh(&classes);
    let seen: Vec<usize> = (1..chances.classes())
        .filter(|&class| chances.highest(class) >= LEAST_CLASS)
        .collect();
    let doubted = |at: &usize| {
        let mut others = 0.0;
        for &class in seen.iter().filter(|&&c| c != classes[*at]) {
            let mut changed = classes.clone();
            changed[*at] = class;
            others += weigh(&changed);
        }
        let mut shorter = classes.clone();
        shorter.remove(*at);
        let mut longer = classes.clone();
        longer.insert(*at, classes[*at]);
        others += weigh(&shorter) + weigh(&longer);
        others > DOUBT_AT * (own + others)
    };
    (0..classes.len()).filter(doubted).collect()
}

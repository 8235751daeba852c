//! Exact sums over a strip's scores: the probability of one text, and of all codes together, by
//! the forward recursion of Graves and others (2006), the second over the states of an automaton.

use super::super::automaton::Automaton;
use super::super::glyphs::{Glyphs, Posteriors};

/// Probabilities of the classes in each column; each column sums to 1.
#[derive(Debug, Clone, PartialEq)]
pub struct Chances {
    classes: usize,
    p: Vec<f64>,
}

impl Chances {
    /// `heat` divides the log probabilities; above 1 it makes the scores less sure of themselves.
    pub fn new(scores: &Posteriors, heat: f64) -> Self {
        let mut p = Vec::with_capacity(scores.len() * scores.classes());
        for column in scores.columns() {
            let begin = p.len();
            let top = column.iter().copied().fold(f32::NEG_INFINITY, f32::max);
            p.extend(column.iter().map(|&v| (f64::from(v - top) / heat).exp()));
            let sum: f64 = p[begin..].iter().sum();
            p[begin..].iter_mut().for_each(|v| *v /= sum);
        }
        Self {
            classes: scores.classes(),
            p,
        }
    }

    pub fn classes(&self) -> usize {
        self.classes
    }

    pub fn columns(&self) -> impl Iterator<Item = &[f64]> {
        self.p.chunks_exact(self.classes)
    }

    /// The highest probability that a class has in any column.
    pub fn highest(&self, class: usize) -> f64 {
        self.columns().map(|c| c[class]).fold(0.0, f64::max)
    }
}

/// A sum kept near 1, and the logarithm of what was taken out of it: over hundreds of columns the
/// products fall below what a float can hold.
fn rescale(values: &mut [&mut [f64]], log: &mut f64) {
    let top = values
        .iter()
        .flat_map(|v| v.iter())
        .copied()
        .fold(0.0, f64::max);
    if top > 0.0 {
        values
            .iter_mut()
            .flat_map(|v| v.iter_mut())
            .for_each(|v| *v /= top);
        *log += top.ln();
    }
}

/// The probability that the strip carries exactly the text of these classes, spelled without
/// "nothing".
pub fn probability_of(chances: &Chances, text: &[usize]) -> f64 {
    // Slots: nothing, first sign, nothing, second sign, ..., nothing.
    let slots = 2 * text.len() + 1;
    let class = |slot: usize| {
        if slot.is_multiple_of(2) {
            0
        } else {
            text[slot / 2]
        }
    };
    let (mut now, mut next) = (vec![0.0; slots], vec![0.0; slots]);
    now[0] = 1.0;
    let mut log = 0.0;
    for column in chances.columns() {
        for (slot, out) in next.iter_mut().enumerate() {
            let mut sum = now[slot];
            if slot > 0 {
                sum += now[slot - 1];
            }
            let skips = slot % 2 == 1 && slot > 2 && text[slot / 2] != text[slot / 2 - 1];
            if skips {
                sum += now[slot - 2];
            }
            *out = sum * column[class(slot)];
        }
        std::mem::swap(&mut now, &mut next);
        rescale(&mut [&mut now], &mut log);
    }
    let end = if slots > 1 { now[slots - 2] } else { 0.0 };
    let any = chances.columns().next().is_some();
    let total = now[slots - 1] + end;
    match any {
        true => (total.ln() + log).exp(),
        false => f64::from(u8::from(text.is_empty())),
    }
}

/// The ways into the states of an automaton: a pair is a state and the class it was reached by.
struct Arcs {
    /// State and class of each pair.
    pairs: Vec<(usize, usize)>,
    /// From state, the pair of that state with the same class (if any), to pair.
    arcs: Vec<(usize, Option<usize>, usize)>,
}

impl Arcs {
    fn new(glyphs: &Glyphs, codes: &Automaton) -> Self {
        let classes = glyphs.classes();
        let mut number = vec![None; codes.len() * classes];
        let (mut pairs, mut raw) = (Vec::new(), Vec::new());
        let mut seen = vec![false; codes.len()];
        let mut waiting = vec![codes.start()];
        seen[codes.start().index()] = true;
        while let Some(state) = waiting.pop() {
            for class in 1..classes {
                let next = glyphs.sign(class).and_then(|sign| codes.step(state, sign));
                let Some(next) = next else { continue };
                let slot = &mut number[next.index() * classes + class];
                let pair = *slot.get_or_insert_with(|| {
                    pairs.push((next.index(), class));
                    pairs.len() - 1
                });
                raw.push((state.index(), class, pair));
                if !std::mem::replace(&mut seen[next.index()], true) {
                    waiting.push(next);
                }
            }
        }
        let arcs = raw
            .into_iter()
            .map(|(from, class, pair)| (from, number[from * classes + class], pair))
            .collect();
        Self { pairs, arcs }
    }
}

/// The probability that the strip carries any text that the automaton accepts.
pub fn probability_of_all(chances: &Chances, glyphs: &Glyphs, codes: &Automaton) -> f64 {
    let arcs = Arcs::new(glyphs, codes);
    // Mass that ended in "nothing" at each state, and in the sign of each pair.
    let mut blank: Vec<f64> = vec![0.0; codes.len()];
    let mut sign: Vec<f64> = vec![0.0; arcs.pairs.len()];
    let mut total: Vec<f64> = vec![0.0; codes.len()];
    blank[codes.start().index()] = 1.0;
    let mut log = 0.0;
    for column in chances.columns() {
        total.copy_from_slice(&blank);
        for (mass, (state, _)) in sign.iter().zip(&arcs.pairs) {
            total[*state] += mass;
        }
        let mut next = sign.clone();
        for &(from, same, to) in &arcs.arcs {
            // A sign after itself needs "nothing" between.
            next[to] += (total[from] - same.map_or(0.0, |s| sign[s])).max(0.0);
        }
        for (mass, (_, class)) in next.iter_mut().zip(&arcs.pairs) {
            *mass *= column[*class];
        }
        for (mass, all) in blank.iter_mut().zip(&total) {
            *mass = all * column[0];
        }
        sign = next;
        rescale(&mut [&mut blank, &mut sign], &mut log);
    }
    let states = (0..codes.len()).map(|s| (s, blank[s]));
    let ends = arcs.pairs.iter().map(|p| p.0).zip(sign.iter().copied());
    let accepted = states.chain(ends).filter(|(s, _)| accepts(codes, *s));
    let sum: f64 = accepted.map(|(_, mass)| mass).sum();
    (sum.ln() + log).exp()
}

fn accepts(codes: &Automaton, state: usize) -> bool {
    codes.state(state).is_some_and(|s| codes.accepts(s))
}

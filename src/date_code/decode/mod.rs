//! From scores of a strip to at most five readings with probabilities.
//!
//! The scores of a strip give every text a probability, and all texts together one. What the
//! scheme allows is weighed against what it does not: a strip that reads `MADE` well must not
//! become a date because some date reads badly there. With `S` the probability of all codes of
//! the scheme together and `odds` how much more likely a code is here than the reader takes it
//! to be, a code of probability `p` gets `odds p / (odds S + (1 - S))`, summed over both ways up.

mod beam;
mod chances;
mod doubt;
mod pool;
#[cfg(test)]
mod tests;

use std::collections::BTreeMap;

pub use chances::{Chances, probability_of, probability_of_all};
pub use pool::pooled;

pub use crate::answer::Look;

use super::automaton::Automaton;
use super::glyphs::{Glyphs, Posteriors};

/// Readings that are told.
pub const MOST_READINGS: usize = 5;

/// Fewest signs of a text for which a strip is said to carry something else than a code: a single
/// sign is as often a spot or a scratch.
const LEAST_OTHER: usize = 2;
/// Probability from which the likeliest account of a strip is told as its state.
const TOLD_AT: f64 = 0.5;
/// Least probability of the first reading of a strip that counts as read, where nothing else is
/// likelier; below it a person is better told that it cannot be read.
const READ_AT: f64 = 0.1;
/// Readings below this are noise and not told.
const LEAST_READING: f64 = 0.001;

/// Which way up a strip was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Up {
    AsFound,
    /// Turned by 180 degrees.
    Turned,
}

/// A strip read one way up.
#[derive(Debug, Clone, Copy)]
pub struct Way<'p> {
    pub up: Up,
    pub scores: &'p Posteriors,
    /// How likely this way is before anything is read; the ways of a strip sum to 1.
    pub share: f64,
}

/// How a strip is searched and weighed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DecodeSettings {
    /// Beginnings of texts kept from column to column. Generous for codes of some ten signs: a place
    /// costs 14 ms with it, cutting and both ways up included; not tuned.
    pub beam: usize,
    /// Signs below this probability in a column do not begin there.
    pub least: f64,
    /// How much more likely a code of the scheme is, where its place was looked at, than the
    /// reader's training makes it. The reader saw codes of hundreds of kinds, a scheme has one. On 190
    /// places with a code and 107 without one (tune seeds 52 and 53), 30 to 10,000 read the same codes
    /// first; 100 and 300 give what is there the highest probability, and one place without a code gets a
    /// reading over 0.5.
    pub odds: f64,
    /// Softens (above 1) or sharpens the scores before anything is weighed. On the same places 1.0 states
    /// what comes true: of first readings given 0.5 to 0.7, 0.7 to 0.9 and more, 8 of 10, 15 of 18 and 113
    /// of 113 were right. 1.2 and 1.4 doubt them.
    pub heat: f64,
    /// How much more likely a bare strip is than the reader takes it to be: many a strip on which it was
    /// trained showed nothing of the text it bore. On the same places 1 calls 4 of 71 bare ones bare, 100
    /// calls 49 so, with 7 of 190 codes that hardly show; 1,000 calls 65 so, with 12.
    pub bare: f64,
}

impl Default for DecodeSettings {
    fn default() -> Self {
        Self {
            beam: 32,
            least: 1e-4,
            odds: 300.0,
            heat: 1.0,
            bare: 100.0,
        }
    }
}

/// One way to read a strip.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    pub text: String,
    pub probability: f64,
    pub up: Up,
    /// Places in `text`, from 0, of signs that could well be others.
    pub doubt: Vec<usize>,
}

/// All that is said of a strip.
#[derive(Debug, Clone, PartialEq)]
pub struct Decoded {
    pub look: Look,
    /// The way up of the likeliest account.
    pub up: Up,
    /// Codes of the scheme, likeliest first, at most [`MOST_READINGS`]; ties by text.
    pub readings: Vec<Reading>,
    /// The likeliest text that is no code of the scheme.
    pub other: Option<Reading>,
    /// Probability that the strip carries nothing.
    pub nothing: f64,
}

impl Decoded {
    /// What is said of a place without anything like a line of text.
    pub fn absent() -> Self {
        Self {
            look: Look::Absent,
            nothing: 1.0,
            ..Self::not_looked_for()
        }
    }

    /// What is said where no strip was looked at.
    pub fn not_looked_for() -> Self {
        Self {
            look: Look::NotLookedFor,
            up: Up::AsFound,
            readings: Vec::new(),
            other: None,
            nothing: 0.0,
        }
    }
}

/// Reads a strip, given the scores of each way up. `codes` are those of the schemes that may hold
/// here; without any, only what is there is told. `weight` is how likely a code is beside others
/// of the scheme, above 0 and at most 1: the production run weighs so, and rules nothing out.
pub fn decode(
    ways: &[Way<'_>],
    glyphs: &Glyphs,
    codes: Option<&Automaton>,
    weight: &dyn Fn(&str) -> f64,
    settings: &DecodeSettings,
) -> Decoded {
    let searched: Vec<Searched> = ways
        .iter()
        .map(|way| Searched::new(way, glyphs, codes, weight, settings))
        .collect();
    let all: f64 = searched.iter().map(|s| s.all).sum();
    if all <= 0.0 {
        return Decoded::not_looked_for();
    }
    let readings = ranked(&searched, all, |s| &s.codes);
    let other = ranked(&searched, all, |s| &s.others).into_iter().next();
    let nothing = searched.iter().map(|s| s.nothing).sum::<f64>() / all;
    let (look, up) = judge(&readings, other.as_ref(), nothing);
    let mut decoded = Decoded {
        look,
        up,
        readings,
        other,
        nothing,
    };
    decoded.mark_doubt(&searched, glyphs, codes, settings);
    decoded
}

/// What one way up offers, each with its unscaled weight.
struct Searched {
    up: Up,
    share: f64,
    chances: Chances,
    codes: Vec<(String, f64)>,
    others: Vec<(String, f64)>,
    nothing: f64,
    /// The weight of everything.
    all: f64,
}

impl Searched {
    fn new(
        way: &Way<'_>,
        glyphs: &Glyphs,
        codes: Option<&Automaton>,
        weight: &dyn Fn(&str) -> f64,
        settings: &DecodeSettings,
    ) -> Self {
        let chances = Chances::new(way.scores, settings.heat);
        let offer = |text: String| {
            let classes = glyphs.classes_of(&text).unwrap_or_default();
            let p = probability_of(&chances, &classes);
            (text, way.share * p)
        };
        let mut found = Vec::new();
        // The codes' mass, less what their weights take away.
        let mut mass = 0.0;
        let mut plain = 0.0;
        if let Some(codes) = codes {
            plain = way.share * probability_of_all(&chances, glyphs, codes);
            mass = plain * settings.odds;
            for (text, p) in beam::search(&chances, glyphs, Some(codes), settings)
                .into_iter()
                .map(offer)
            {
                let weight = weight(&text).clamp(f64::MIN_POSITIVE, 1.0);
                mass -= settings.odds * p * (1.0 - weight);
                found.push((text, settings.odds * p * weight));
            }
        }
        let is_code = |text: &str| codes.is_some_and(|c| c.accepts_text(text));
        let others = beam::search(&chances, glyphs, None, settings)
            .into_iter()
            .filter(|text| !text.is_empty() && !is_code(text))
            .map(offer)
            .collect();
        let bare = way.share * probability_of(&chances, &[]);
        let nothing = settings.bare * bare;
        Self {
            up: way.up,
            share: way.share,
            nothing,
            all: mass.max(0.0) + (way.share - plain - bare).max(0.0) + nothing,
            codes: found,
            others,
            chances,
        }
    }
}

/// The texts of all ways, likeliest first; a text found both ways up counts once, with both.
fn ranked(
    searched: &[Searched],
    all: f64,
    of: impl Fn(&Searched) -> &Vec<(String, f64)>,
) -> Vec<Reading> {
    let mut texts: BTreeMap<&str, (f64, f64, Up)> = BTreeMap::new();
    for way in searched {
        for (text, p) in of(way) {
            let entry = texts.entry(text).or_insert((0.0, 0.0, way.up));
            entry.0 += p;
            if *p > entry.1 {
                (entry.1, entry.2) = (*p, way.up);
            }
        }
    }
    let mut out: Vec<Reading> = texts
        .into_iter()
        .map(|(text, (p, _, up))| Reading {
            text: text.to_owned(),
            probability: (p / all).clamp(0.0, 1.0),
            up,
            doubt: Vec::new(),
        })
        .filter(|r| r.probability >= LEAST_READING)
        .collect();
    out.sort_by(|a, b| {
        b.probability
            .total_cmp(&a.probability)
            .then_with(|| a.text.cmp(&b.text))
    });
    out.truncate(MOST_READINGS);
    out
}

fn judge(readings: &[Reading], other: Option<&Reading>, nothing: f64) -> (Look, Up) {
    let codes: f64 = readings.iter().map(|r| r.probability).sum();
    let first = readings.first();
    let rival = other.map_or(0.0, |r| r.probability).max(nothing);
    let read = first.filter(|r| codes >= rival && r.probability >= READ_AT);
    let legible = other.filter(|r| r.probability >= TOLD_AT && r.text.len() >= LEAST_OTHER);
    let up = first
        .into_iter()
        .chain(other)
        .map(|r| (r.probability, r.up));
    let up = up
        .fold((0.0, Up::AsFound), |a, b| if b.0 > a.0 { b } else { a })
        .1;
    match (read, legible) {
        (Some(read), _) => (Look::Read, read.up),
        (None, Some(legible)) => (Look::OutsideScheme, legible.up),
        (None, None) if nothing >= TOLD_AT => (Look::Absent, up),
        (None, None) => (Look::Illegible, up),
    }
}

impl Decoded {
    fn mark_doubt(
        &mut self,
        searched: &[Searched],
        glyphs: &Glyphs,
        codes: Option<&Automaton>,
        settings: &DecodeSettings,
    ) {
        for reading in self.readings.iter_mut().chain(&mut self.other) {
            let Some(way) = searched
                .iter()
                .find(|s| s.up == reading.up && s.share > 0.0)
            else {
                continue;
            };
            reading.doubt =
                doubt::doubtful(&way.chances, glyphs, codes, settings.odds, &reading.text);
        }
    }
}

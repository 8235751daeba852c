//! Drawing invented names from a split's word lists so that none comes twice where it must not.

use crate::random::Rng;
use serde::Deserialize;
use std::collections::BTreeSet;

/// Word lists of one split, as the artwork's manifest writes them.
#[derive(Clone, Debug, Default, Deserialize)]
pub struct WordLists {
    pub potteries: Vec<String>,
    pub lines: Vec<String>,
    pub places: Vec<String>,
    pub extras: Vec<String>,
}

/// How many draws are tried before a name is put together from two lists.
const DRAWS: usize = 64;

/// Draws words so that no maker, and no line of one maker, comes twice.
pub struct Namer {
    lists: WordLists,
    used: BTreeSet<String>,
}

impl Namer {
    pub fn new(lists: WordLists) -> Self {
        Self {
            lists,
            used: BTreeSet::new(),
        }
    }

    /// A maker's name; where the potteries are used up, one "of" a place.
    pub fn maker(&mut self, rng: &mut Rng) -> String {
        for round in 0..DRAWS * 8 {
            let mut name = rng.pick(&self.lists.potteries).clone();
            if round >= DRAWS {
                name = format!("{name} of {}", rng.pick(&self.lists.places));
            }
            if self.used.insert(format!("maker {}", slug(&name))) {
                return name;
            }
        }
        format!("{} {}", rng.pick(&self.lists.potteries), self.used.len())
    }

    /// A line of `maker` not drawn before.
    pub fn line(&mut self, maker: &str, rng: &mut Rng) -> String {
        for _ in 0..DRAWS {
            let name = rng.pick(&self.lists.lines).clone();
            if self.used.insert(format!("{maker}/{}", slug(&name))) {
                return name;
            }
        }
        format!("{} {}", rng.pick(&self.lists.lines), self.used.len())
    }

    pub fn place(&self, rng: &mut Rng) -> String {
        rng.pick(&self.lists.places).clone()
    }

    pub fn extra(&self, rng: &mut Rng) -> String {
        rng.pick(&self.lists.extras).clone()
    }
}

/// `text` as a folder name: lower-case letters and digits joined by hyphens.
pub fn slug(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars() {
        if c.is_ascii_alphanumeric() {
            out.push(c.to_ascii_lowercase());
        } else if !out.is_empty() && !out.ends_with('-') {
            out.push('-');
        }
    }
    out.trim_end_matches('-').to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn makers_and_lines_come_once() {
        let words = |w: &[&str]| w.iter().map(|s| (*s).to_string()).collect::<Vec<_>>();
        let mut namer = Namer::new(WordLists {
            potteries: words(&["Elver", "Gritten"]),
            lines: words(&["Plum", "Dew"]),
            places: words(&["Wick", "Tarn", "Holt"]),
            extras: words(&["Fine"]),
        });
        let mut rng = Rng::new(3);
        let makers: BTreeSet<String> = (0..8).map(|_| namer.maker(&mut rng)).collect();
        assert_eq!(makers.len(), 8);
        let lines: BTreeSet<String> = (0..4).map(|_| namer.line("Elver", &mut rng)).collect();
        assert_eq!(lines.len(), 4);
    }

    #[test]
    fn slugs_are_plain() {
        assert_eq!(
            slug("Abberdale & Daughters, Ltd."),
            "abberdale-daughters-ltd"
        );
    }
}

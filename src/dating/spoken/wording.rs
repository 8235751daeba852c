//! One wording of the table, and whether it is what was said.

use super::figures::Figure;
use super::table::Words;

/// A wording with its figures.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Wording {
    text: String,
    parts: Vec<Part>,
}

#[derive(Debug, Clone, PartialEq)]
enum Part {
    Literal(String),
    Figure(Figure),
}

impl Wording {
    /// # Errors
    /// With the first `{...}` that is no figure.
    pub(super) fn read(text: &str) -> Result<Self, String> {
        let said = plain(text);
        let mut parts = Vec::new();
        let mut rest = said.as_str();
        while let Some(at) = rest.find('{') {
            let (literal, from) = rest.split_at(at);
            let figure = Figure::ALL
                .into_iter()
                .find(|figure| from.starts_with(figure.word()));
            let Some(figure) = figure else {
                let end = from.find('}').map_or(from.len(), |end| end + 1);
                return Err(from[..end].to_owned());
            };
            if !literal.is_empty() {
                parts.push(Part::Literal(literal.to_owned()));
            }
            parts.push(Part::Figure(figure));
            rest = &from[figure.word().len()..];
        }
        if !rest.is_empty() {
            parts.push(Part::Literal(rest.to_owned()));
        }
        Ok(Self {
            text: text.to_owned(),
            parts,
        })
    }

    pub(super) fn as_str(&self) -> &str {
        &self.text
    }

    /// Whether it names a year to count from.
    pub(super) fn has_figure(&self) -> bool {
        self.parts.iter().any(|p| matches!(p, Part::Figure(_)))
    }

    /// The years named, in order, where the wording is all that was said.
    pub(super) fn years_in(&self, said: &str, words: &Words) -> Option<Vec<i64>> {
        let mut years = Vec::new();
        let mut rest = said;
        for part in &self.parts {
            rest = match part {
                Part::Literal(text) => rest.strip_prefix(text.as_str())?,
                Part::Figure(figure) => {
                    let (year, rest) = figure.read(rest, years.last().copied(), words)?;
                    years.push(year);
                    rest
                }
            };
        }
        rest.is_empty().then_some(years)
    }
}

/// In lower case, single spaces, plain dashes and apostrophes, without "the".
pub(super) fn plain(text: &str) -> String {
    let text = text
        .to_lowercase()
        .replace(['‘', '’', 'ʼ'], "'")
        .replace(['–', '—', '‒'], "-");
    let words = text.split_whitespace().filter(|word| *word != "the");
    words.collect::<Vec<_>>().join(" ")
}

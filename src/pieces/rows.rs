//! Rows of an existing spreadsheet as pieces: which column is which fact, and what cannot be taken.

use super::attribution::Attribution;
use super::values::check;
use crate::decision::PieceFact;

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Column {
    Fact(PieceFact),
    /// A photo that was taken in, by its file name.
    Photo,
    /// Nothing that is taken.
    Left,
}

/// A row, ready to be made a piece.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Row {
    /// Line of the file, from 1.
    pub line: usize,
    pub photo: Option<String>,
    pub facts: Vec<(PieceFact, String)>,
}

/// A cell that cannot be taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BadCell {
    pub line: usize,
    pub column: String,
    pub why: String,
}

/// What a person asked for that is no column or no fact.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BadMap {
    #[error("`{0}` is no `COLUMN=FACT`")]
    Form(String),
    #[error("there is no column `{column}`; there are: {}", .known.join(", "))]
    NoColumn { column: String, known: Vec<String> },
    #[error("there is no fact `{0}`")]
    NoFact(String),
    #[error("two columns hold `{0}`")]
    Twice(String),
}

/// The words of facts that a column may hold, and `photo`.
pub fn fact_words() -> Vec<&'static str> {
    let facts = PieceFact::ALL.into_iter().filter(|fact| {
        !matches!(
            fact,
            PieceFact::Photos | PieceFact::Withdrawn | PieceFact::SetNeeds
        )
    });
    facts.map(PieceFact::word).chain(["photo"]).collect()
}

fn column(word: &str) -> Option<Column> {
    match word {
        "photo" => Some(Column::Photo),
        word if fact_words().contains(&word) => PieceFact::from_word(word).map(Column::Fact),
        _ => None,
    }
}

/// What each column holds: as the person says, else by its name where that is the word of a fact.
///
/// # Errors
/// Where the person names a column or a fact that there is not, or two columns for one fact.
pub fn columns(headers: &[String], given: &[String]) -> Result<Vec<Column>, BadMap> {
    let plain = |text: &str| text.trim().to_lowercase().replace([' ', '_'], "-");
    let mut columns: Vec<Column> = headers
        .iter()
        .map(|name| column(&plain(name)).unwrap_or(Column::Left))
        .collect();
    for map in given {
        let (name, word) = map
            .rsplit_once('=')
            .ok_or_else(|| BadMap::Form(map.clone()))?;
        let at = headers.iter().position(|h| plain(h) == plain(name));
        let at = at.ok_or_else(|| BadMap::NoColumn {
            column: name.to_owned(),
            known: headers.to_vec(),
        })?;
        columns[at] = match word {
            "" => Column::Left,
            word => column(&plain(word)).ok_or_else(|| BadMap::NoFact(word.to_owned()))?,
        };
    }
    for (at, one) in columns.iter().enumerate() {
        if *one != Column::Left && columns[..at].contains(one) {
            let word = match one {
                Column::Fact(fact) => fact.word(),
                Column::Photo | Column::Left => "photo",
            };
            return Err(BadMap::Twice(word.to_owned()));
        }
    }
    Ok(columns)
}

/// Reads one row. A plain name in a column of makers becomes a judgement whose reason is the
/// spreadsheet: that it stood there is no mark.
pub fn row(
    line: usize,
    cells: &[String],
    headers: &[String],
    columns: &[Column],
) -> (Row, Vec<BadCell>) {
    let mut row = Row {
        line,
        ..Row::default()
    };
    let mut bad = Vec::new();
    for ((cell, header), column) in cells.iter().zip(headers).zip(columns) {
        let text = cell.trim();
        if text.is_empty() {
            continue;
        }
        let fact = match column {
            Column::Left => continue,
            Column::Photo => {
                row.photo = Some(text.to_owned());
                continue;
            }
            Column::Fact(fact) => *fact,
        };
        let text = match fact {
            PieceFact::MadeBy | PieceFact::DecoratedBy | PieceFact::MadeFor
                if Attribution::read(text).is_err() =>
            {
                format!(
                    "judgement: {}: so in a spreadsheet",
                    text.replace(": ", " ")
                )
            }
            // Tables write lines within a cell; a fact is one line.
            _ => text.replace(['\r', '\n', '\t'], " "),
        };
        match check(fact, &text) {
            Ok(value) => row.facts.push((fact, value)),
            Err(why) => bad.push(BadCell {
                line,
                column: header.clone(),
                why: why.why,
            }),
        }
    }
    (row, bad)
}

/// The sign between cells: the one that stands most often in the first line.
pub fn separator(text: &str) -> u8 {
    let first = text.lines().next().unwrap_or_default();
    let count = |sign: u8| first.bytes().filter(|b| *b == sign).count();
    let signs = [b',', b';', b'\t'];
    // The first of equals: a file with one column has none of them.
    let most = signs.into_iter().rev().max_by_key(|sign| count(*sign));
    most.unwrap_or(b',')
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    fn texts(list: &[&str]) -> Vec<String> {
        list.iter().map(|t| (*t).to_owned()).collect()
    }

    #[test]
    fn columns_are_known_by_name_or_as_told() {
        let headers = texts(&["Form", "Pattern", "Made by", "Box", "Photo"]);
        let columns = columns(&headers, &texts(&["pattern=decoration", "Box=place"])).unwrap();
        assert_eq!(
            columns,
            [
                Column::Fact(PieceFact::Form),
                Column::Fact(PieceFact::Decoration),
                Column::Fact(PieceFact::MadeBy),
                Column::Fact(PieceFact::Place),
                Column::Photo,
            ]
        );
    }

    #[test]
    fn what_cannot_be_mapped_is_said() {
        let headers = texts(&["form", "b"]);
        let told = |map: &str| columns(&headers, &texts(&[map])).unwrap_err();
        assert!(matches!(told("c=form"), BadMap::NoColumn { .. }));
        assert!(matches!(told("b=shape"), BadMap::NoFact(_)));
        assert!(matches!(told("b=form"), BadMap::Twice(_)));
        assert!(matches!(told("b"), BadMap::Form(_)));
        assert_eq!(
            columns(&headers, &texts(&["form="])).unwrap(),
            [Column::Left; 2]
        );
    }

    #[test]
    fn a_name_in_a_spreadsheet_is_no_mark() {
        let headers = texts(&["made-by", "cost", "form"]);
        let columns = columns(&headers, &[]).unwrap();
        let cells = texts(&["Hollin Vale", "12,50", "cup"]);
        let (row, bad) = row(4, &cells, &headers, &columns);
        assert_eq!(
            row.facts,
            [
                (
                    PieceFact::MadeBy,
                    "judgement: Hollin Vale: so in a spreadsheet".to_owned()
                ),
                (PieceFact::Form, "cup".to_owned()),
            ]
        );
        assert_eq!(
            (bad.len(), bad[0].line, bad[0].column.as_str()),
            (1, 4, "cost")
        );
    }

    #[test]
    fn the_separator_is_the_commonest_sign() {
        assert_eq!(separator("a,b;c,d\n"), b',');
        assert_eq!(separator("a;b;c,d\n"), b';');
        assert_eq!(separator("a\tb\n"), b'\t');
        assert_eq!(separator("a\n"), b',');
    }
}

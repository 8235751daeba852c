//! What may be written into a maker's or a line's file, and what is wrong with the rest.

use super::fields::{Field, Holds, Shape};
use super::written::{Written, WrittenEntry, Wrong};
use super::{Edtf, Habit};

/// Longest text of a key, in characters.
const LONGEST: usize = 4000;
/// Most entries of a list: a page with more would be slow to draw.
const MOST_ENTRIES: usize = 400;

/// What is wrong with what changed; both are tidied, `knows` tells whether a line has a file.
pub(super) fn check(
    before: &Written,
    after: &Written,
    fields: &[Field],
    knows: &dyn Fn(&str) -> bool,
) -> Vec<Wrong> {
    let mut wrong = Vec::new();
    for field in fields {
        let key = field.key;
        match field.holds {
            Holds::One(shape) => {
                let (text, old) = (after.text(key), before.text(key));
                let says = (text != old).then(|| wrong_with(text, shape, knows));
                wrong.extend(says.flatten().map(|says| Wrong::new(key, says)));
            }
            Holds::Entries { .. } => wrong.extend(check_entries(before, after, field, knows)),
        }
    }
    wrong
}

fn check_entries(
    before: &Written,
    after: &Written,
    field: &Field,
    knows: &dyn Fn(&str) -> bool,
) -> Vec<Wrong> {
    let (key, Holds::Entries { columns, named }) = (field.key, field.holds) else {
        return Vec::new();
    };
    let entries = after.entries(key);
    let known = |entry: &WrittenEntry| {
        let from = entry.from?;
        before.entries(key).iter().find(|e| e.from == Some(from))
    };
    let mut places: Vec<usize> = entries.iter().filter_map(|e| e.from).collect();
    let from_file = places.len();
    places.sort_unstable();
    places.dedup();
    let strange = entries
        .iter()
        .any(|e| e.from.is_some() && known(e).is_none());
    if entries.len() > MOST_ENTRIES || places.len() < from_file || strange {
        let says = "is not the list that the file has: load the page again".to_owned();
        return vec![Wrong::new(key, says)];
    }
    let mut wrong = Vec::new();
    for (at, entry) in entries.iter().enumerate() {
        for column in columns {
            let (text, old) = (entry.cell(column.key), known(entry));
            if text == old.map_or("", |old| old.cell(column.key)) {
                continue;
            }
            let says = wrong_with(text, column.shape, knows);
            wrong.extend(says.map(|says| Wrong::new(&format!("{key}.{at}.{}", column.key), says)));
        }
        if named && entry.cell(columns[0].key).is_empty() {
            let says = "is missing: say it, or leave the entry out".to_owned();
            wrong.push(Wrong::new(&format!("{key}.{at}.{}", columns[0].key), says));
        }
    }
    wrong
}

fn wrong_with(text: &str, shape: Shape, knows: &dyn Fn(&str) -> bool) -> Option<String> {
    let bad = |c: char| c.is_control() && !(shape == Shape::List && matches!(c, '\n' | '\r'));
    if text.chars().count() > LONGEST || text.chars().any(bad) {
        return Some(format!(
            "is longer than {LONGEST} characters, or holds control characters: shorten it"
        ));
    }
    if text.is_empty() {
        return None;
    }
    let says = match shape {
        Shape::Date if Edtf::parse(text).is_none() => {
            "is no date of the record: write 1931, 1928/1935, 193X, 1925/.., or 1930~ for about 1930".to_owned()
        }
        Shape::Habit if Habit::from_word(text).is_none() => {
            let words = Habit::ALL.map(Habit::word).join(", ");
            format!("is none of the words that are known: {words}")
        }
        Shape::Line if !knows(text) => {
            "has no file: write the line's own page first, or name another (`line`, or `maker/line`)".to_owned()
        }
        _ => return None,
    };
    Some(says)
}

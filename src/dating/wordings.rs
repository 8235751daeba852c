//! Words in a mark that bound its date by law: country of origin, care of the ware.

use std::sync::OnceLock;

use serde::Deserialize;

use super::published::{Published, PublishedKeys, table};

const TABLE: &str = include_str!("tables/wordings.toml");
const COUNTRY: &str = "{country}";
/// Words that the name of a country has at most ("made in the ... of ...").
const MOST_NAME_WORDS: usize = 5;

/// What a wording is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Subject {
    Country,
    Care,
}

/// A wording and the bounds that published law gives for it.
#[derive(Debug, Clone, PartialEq)]
pub struct Wording {
    pub id: String,
    pub subject: Subject,
    /// The texts, with `{country}` for any name.
    pub say: Vec<String>,
    pub not_before: Published,
    /// Only where the wording lapsed with a state of things.
    pub not_after: Option<Published>,
    /// What it does not prove.
    pub note: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    wording: Vec<Keys>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Keys {
    id: String,
    kind: Subject,
    say: Vec<String>,
    not_before: PublishedKeys,
    not_after: Option<PublishedKeys>,
    note: String,
}

/// All wordings, in the order of the table.
///
/// # Panics
/// Never: a test reads the table.
pub fn wordings() -> &'static [Wording] {
    static WORDINGS: OnceLock<Vec<Wording>> = OnceLock::new();
    WORDINGS.get_or_init(|| {
        let file: File = table(TABLE);
        let read = |keys: Keys| Wording {
            id: keys.id,
            subject: keys.kind,
            say: keys.say,
            not_before: keys.not_before.read(),
            not_after: keys.not_after.map(PublishedKeys::read),
            note: keys.note,
        };
        file.wording.into_iter().map(read).collect()
    })
}

/// The wording that a text is, or that has this id. Of two that fit, the one with more fixed words.
pub fn find_wording(subject: Subject, text: &str) -> Option<&'static Wording> {
    let said = plain(text);
    let fits = |wording: &&Wording| wording.subject == subject;
    let fixed = |wording: &Wording| {
        let say = wording.say.iter().map(|s| plain(s));
        say.filter(|s| is_said(s, &said))
            .map(|s| s.split(' ').filter(|word| *word != COUNTRY).count())
            .max()
    };
    let by_id = wordings().iter().filter(fits).find(|w| w.id == text.trim());
    by_id.or_else(|| {
        let fitting = wordings().iter().filter(fits);
        let rated = fitting.filter_map(|w| Some((fixed(w)?, w)));
        // The first of the best, in the order of the table.
        rated.rev().max_by_key(|(words, _)| *words).map(|(_, w)| w)
    })
}

fn is_said(say: &str, said: &str) -> bool {
    let Some((before, after)) = say.split_once(COUNTRY) else {
        return say == said;
    };
    let name = said
        .strip_prefix(before)
        .and_then(|rest| rest.strip_suffix(after));
    name.is_some_and(|name| (1..=MOST_NAME_WORDS).contains(&name.split_whitespace().count()))
}

/// In lower case, single spaces, without brackets, full stops, commas and quotes.
fn plain(text: &str) -> String {
    let text = text.to_lowercase().replace(['.', '!', '\'', '’'], "");
    let text = text.replace([',', ';', '(', ')', '"', '“', '”'], " ");
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use crate::dating::published::Checked;

    fn found(subject: Subject, text: &str) -> &'static str {
        find_wording(subject, text).map_or("none", |w| w.id.as_str())
    }

    #[test]
    fn wordings_are_found_however_they_are_set() {
        for (text, id) in [
            ("Made in Ardmoria", "country-name"),
            ("MADE IN ARDMORIA.", "country-name"),
            ("Made in Ardmoria (for U.S. market)", "country-name-us"),
            ("country-name-us", "country-name-us"),
            ("Made in Occupied Japan", "occupied-japan"),
            ("“Occupied Japan”", "occupied-japan"),
            ("Germany, U.S. Zone", "german-zone"),
            ("Made in (West) Germany", "west-germany"),
            ("Foreign", "foreign"),
            ("Made in", "none"),
            ("Best china", "none"),
        ] {
            assert_eq!(found(Subject::Country, text), id, "{text}");
        }
        assert_eq!(found(Subject::Care, "Not for food use!"), "not-for-food");
        assert_eq!(found(Subject::Care, "NOT FOR FOOD USE."), "not-for-food");
        assert_eq!(found(Subject::Care, "Foreign"), "none");
    }

    #[test]
    fn only_lapsed_wording_has_an_end_and_every_value_a_source() {
        for wording in wordings() {
            let lapsed = [
                "occupied-japan",
                "german-zone",
                "west-germany",
                "east-germany",
            ];
            let ends = lapsed.contains(&wording.id.as_str());
            assert_eq!(wording.not_after.is_some(), ends, "{}", wording.id);
            let values = [Some(&wording.not_before), wording.not_after.as_ref()];
            for value in values.into_iter().flatten() {
                assert!(!value.source.is_empty() && !wording.note.is_empty());
            }
        }
    }

    #[test]
    fn no_floor_of_1921_is_given_for_made_in() {
        let wording = find_wording(Subject::Country, "Made in Ardmoria").unwrap();
        assert_eq!(wording.not_before.date.to_string(), "1887~");
        assert_eq!(wording.not_before.state, Checked::Verified);
    }
}

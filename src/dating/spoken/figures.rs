//! Years, decades and centuries as figures and as words.

use super::table::Words;

/// A kind of figure that a wording may hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Figure {
    Year,
    Decade,
    Hundred,
    Century,
}

impl Figure {
    pub(super) const ALL: [Self; 4] = [Self::Year, Self::Decade, Self::Hundred, Self::Century];

    /// As it stands in a wording.
    pub(super) fn word(self) -> &'static str {
        match self {
            Self::Year => "{year}",
            Self::Decade => "{decade}",
            Self::Hundred => "{hundred}",
            Self::Century => "{century}",
        }
    }

    /// The first year that the beginning of `said` names, and what follows it. `before` is the year
    /// named earlier, whose century a short figure takes.
    pub(super) fn read<'s>(
        self,
        said: &'s str,
        before: Option<i64>,
        words: &Words,
    ) -> Option<(i64, &'s str)> {
        let (year, rest) = match self {
            Self::Year => year(said, before)?,
            Self::Decade => decade(said, before, words)?,
            Self::Hundred => hundred(said)?,
            Self::Century => century(said, words)?,
        };
        // `1920` is not named by `19205`, nor `twenties` by `twentieshood`.
        let ends = !rest.starts_with(|c: char| c.is_alphanumeric());
        ends.then_some((year, rest))
    }
}

fn digits(said: &str) -> (&str, &str) {
    let end = said
        .find(|c: char| !c.is_ascii_digit())
        .unwrap_or(said.len());
    said.split_at(end)
}

fn year(said: &str, before: Option<i64>) -> Option<(i64, &str)> {
    let (figures, rest) = digits(said);
    let number: i64 = figures.parse().ok()?;
    match (figures.len(), before) {
        (4, _) => Some((number, rest)),
        (2, Some(before)) => Some((before - before.rem_euclid(100) + number, rest)),
        _ => None,
    }
}

/// `s` or `'s`.
fn plural(rest: &str) -> Option<&str> {
    rest.strip_prefix('\'').unwrap_or(rest).strip_prefix('s')
}

fn decade<'s>(said: &'s str, before: Option<i64>, words: &Words) -> Option<(i64, &'s str)> {
    let century = before.map_or(words.short_decades_in, |y| y - y.rem_euclid(100));
    for (word, number) in &words.decades {
        if let Some(rest) = said.strip_prefix(word.as_str()) {
            return Some((century + number, rest));
        }
    }
    let (figures, rest) = digits(said.strip_prefix('\'').unwrap_or(said));
    let rest = plural(rest)?;
    let number: i64 = figures.parse().ok()?;
    match figures.len() {
        // `1900s` is a hundred, see there.
        4 if number % 10 == 0 && number % 100 != 0 => Some((number, rest)),
        2 if number % 10 == 0 => Some((century + number, rest)),
        _ => None,
    }
}

fn hundred(said: &str) -> Option<(i64, &str)> {
    let (figures, rest) = digits(said);
    let number: i64 = figures.parse().ok()?;
    (figures.len() == 4 && number % 100 == 0).then_some((number, plural(rest)?))
}

fn century<'s>(said: &'s str, words: &Words) -> Option<(i64, &'s str)> {
    let by_word = words
        .centuries
        .iter()
        .find_map(|(word, n)| Some((*n, said.strip_prefix(word.as_str())?)));
    let (number, rest) = by_word.or_else(|| {
        let (figures, rest) = digits(said);
        let ending = ["st", "nd", "rd", "th"];
        let rest = ending.iter().find_map(|e| rest.strip_prefix(e))?;
        Some((figures.parse().ok()?, rest))
    })?;
    let rest = rest.strip_prefix([' ', '-'])?.strip_prefix("century")?;
    (1..=99)
        .contains(&number)
        .then_some(((number - 1) * 100, rest))
}

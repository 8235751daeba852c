//! What the parts of a code are worth.

use std::collections::BTreeMap;

use super::super::spelling::value_of_roman;

/// The groups of a pattern that are numbers in time; every other group is kept as text.
pub(super) const TIMES: [&str; 4] = ["year", "month", "quarter", "decade"];

/// How the text of a group becomes a number.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Numbers {
    /// Figures. A year with fewer than four is every year of the window that ends so.
    Figures {
        window: Option<(i32, i32)>,
    },
    Roman,
    /// What stands for which; a letter that was used again stands for several.
    Table(BTreeMap<String, Vec<i32>>),
}

/// A group whose signs are counted and added to another: dots beside a year's letter.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Count {
    pub(super) sign: char,
    /// Name of the group that it adds to.
    pub(super) to: String,
    /// Worth of one sign.
    pub(super) each: i32,
}

/// Why a text has no number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum NoNumber {
    /// The table does not hold it, or it is no numeral.
    Unknown,
    /// A year with fewer than four figures and nothing to tell its century.
    NoWindow,
}

impl Numbers {
    /// The numbers that `text` stands for in the group `name`. Empty where it is a shortened year
    /// and no year of the window ends so.
    pub(super) fn of(&self, name: &str, text: &str) -> Result<Vec<i32>, NoNumber> {
        match self {
            Self::Table(table) => table.get(text).cloned().ok_or(NoNumber::Unknown),
            Self::Roman => value_of_roman(text)
                .map(|n| vec![n])
                .ok_or(NoNumber::Unknown),
            Self::Figures { window } => figures(name, text, *window),
        }
    }
}

fn figures(name: &str, text: &str, window: Option<(i32, i32)>) -> Result<Vec<i32>, NoNumber> {
    let plain = (1..=4).contains(&text.len()) && text.bytes().all(|b| b.is_ascii_digit());
    let number: i32 = match plain.then(|| text.parse()) {
        Some(Ok(number)) => number,
        _ => return Err(NoNumber::Unknown),
    };
    if name == "decade" {
        return Ok(vec![
            decade(number, text.len(), window).ok_or(NoNumber::NoWindow)?,
        ]);
    }
    if name != "year" || text.len() == 4 {
        return Ok(vec![number]);
    }
    let (first, last) = window.ok_or(NoNumber::NoWindow)?;
    let step = 10_i32.pow(text.len() as u32);
    let least = first + (number - first).rem_euclid(step);
    Ok((least..=last).step_by(step as usize).collect())
}

/// First year of a decade given as its tens (`4`) or its first year (`40`, `1940`).
fn decade(number: i32, figures: usize, window: Option<(i32, i32)>) -> Option<i32> {
    if figures == 4 {
        return Some(number.div_euclid(10) * 10);
    }
    let tens = if figures == 1 { number } else { number / 10 };
    let (first, last) = window?;
    (first..=last)
        .find(|y| y.div_euclid(10).rem_euclid(10) == tens % 10)
        .map(|y| y / 10 * 10)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shortened_years_are_looked_up_in_their_window() {
        let window = |a, b| Numbers::Figures {
            window: Some((a, b)),
        };
        assert_eq!(window(1930, 2029).of("year", "46"), Ok(vec![1946]));
        assert_eq!(window(1930, 2029).of("year", "12"), Ok(vec![2012]));
        assert_eq!(window(1946, 1958).of("year", "70"), Ok(vec![]));
        assert_eq!(window(1946, 1966).of("year", "8"), Ok(vec![1948, 1958]));
        assert_eq!(window(1946, 1958).of("year", "1952"), Ok(vec![1952]));
        assert_eq!(window(1946, 1958).of("decade", "5"), Ok(vec![1950]));
        let bare = Numbers::Figures { window: None };
        assert_eq!(bare.of("year", "46"), Err(NoNumber::NoWindow));
        assert_eq!(bare.of("month", "08"), Ok(vec![8]));
        assert_eq!(bare.of("month", "VIII"), Err(NoNumber::Unknown));
        assert_eq!(Numbers::Roman.of("month", "VIII"), Ok(vec![8]));
    }
}

//! Dates as the library's files write them: the Extended Date/Time Format (ISO 8601-2:2019,
//! annex A), kept as text.

use std::fmt;

/// A text that can be a date of the Extended Date/Time Format: only its letters and their rough
/// order are checked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Edtf(String);

impl Edtf {
    /// `None` for what is plainly no such date, such as `c. 1930` or `thirties`.
    pub fn parse(text: &str) -> Option<Self> {
        let text = text.trim();
        let ends: Vec<&str> = text.split('/').collect();
        let fits = match ends[..] {
            [one] => is_date(one) || is_set(one),
            [from, to] => is_end(from) && is_end(to) && (is_date(from) || is_date(to)),
            _ => false,
        };
        fits.then(|| Self(text.to_owned()))
    }

    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Edtf {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// An end of an interval may be unknown (empty) or open (two dots).
fn is_end(text: &str) -> bool {
    text.is_empty() || text == ".." || is_date(text)
}

/// `[..]` one of a set, `{..}` all of a set.
fn is_set(text: &str) -> bool {
    let inner = text
        .strip_prefix('[')
        .and_then(|t| t.strip_suffix(']'))
        .or_else(|| text.strip_prefix('{').and_then(|t| t.strip_suffix('}')));
    inner.is_some_and(|t| {
        t.split(',').all(|part| {
            part.split("..")
                .all(|d| d.trim().is_empty() || is_date(d.trim()))
        }) && t.bytes().any(|b| b.is_ascii_digit())
    })
}

fn is_date(text: &str) -> bool {
    let text = text.strip_prefix(['?', '~', '%']).unwrap_or(text);
    let digits = text.strip_prefix(['Y', '-']).unwrap_or(text);
    let year = digits
        .bytes()
        .take_while(|b| b.is_ascii_digit() || *b == b'X')
        .count();
    year >= 4
        && digits.starts_with(|c: char| c.is_ascii_digit())
        && digits[year..]
            .bytes()
            .all(|b| b.is_ascii_digit() || b"X-?~%:TZSE+".contains(&b))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_pass_and_plain_words_do_not() {
        for good in [
            "1931",
            "193X",
            "19XX",
            "1930~",
            "1930?",
            "1930%",
            "1925/1932",
            "1925/..",
            "../1932",
            "1925/",
            "1930-06",
            "1930-21",
            "1930-06-15",
            "[1925..1932]",
            "{1925,1926}",
            "-0044",
            "Y17000",
            "1950S2",
            "1930-?06",
            "?1930",
        ] {
            assert!(Edtf::parse(good).is_some(), "{good}");
        }
        for bad in [
            "",
            "c. 1930",
            "thirties",
            "1930s",
            "ca 1931",
            "193",
            "/",
            "1931 or so",
            "1/2/3",
        ] {
            assert!(Edtf::parse(bad).is_none(), "{bad}");
        }
    }
}

//! Dates as the library's files write them: the Extended Date/Time Format, kept as typed.

use std::fmt;

use crate::dating::edtf::Expression;

/// A date of the Extended Date/Time Format with the text that it was read from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Edtf {
    text: String,
    value: Expression,
}

impl Edtf {
    /// `None` for what is no such date, such as `c. 1930` or `thirties`. Spaces in a set, which
    /// the format does not have, are let pass.
    pub fn parse(text: &str) -> Option<Self> {
        let text = text.trim();
        let plain = match text.starts_with(['[', '{']) {
            true => text.replace(' ', ""),
            false => text.to_owned(),
        };
        Some(Self {
            value: Expression::parse(&plain).ok()?,
            text: text.to_owned(),
        })
    }

    /// As typed.
    pub fn as_str(&self) -> &str {
        &self.text
    }

    /// What it means.
    pub fn value(&self) -> &Expression {
        &self.value
    }
}

impl fmt::Display for Edtf {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
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
            "[1925, 1932]",
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

//! What the published tables share: values with a source, and whether that source was read.

use serde::Deserialize;

use super::edtf::Expression;

/// Whether a published value was seen in the source that is named with it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Checked {
    Verified,
    /// Known from elsewhere only.
    Unverified,
}

impl Checked {
    pub fn word(self) -> &'static str {
        match self {
            Self::Verified => "verified",
            Self::Unverified => "unverified",
        }
    }
}

/// A date that a source gives.
#[derive(Debug, Clone, PartialEq)]
pub struct Published {
    pub date: Expression,
    pub state: Checked,
    pub source: String,
}

/// The same as the tables write it.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct PublishedKeys {
    date: String,
    state: Checked,
    source: String,
}

impl PublishedKeys {
    /// # Panics
    /// Where a table inside the program holds no date; a test reads them all.
    pub(super) fn read(self) -> Published {
        Published {
            date: date(&self.date),
            state: self.state,
            source: self.source,
        }
    }
}

/// A date of a table inside the program.
///
/// # Panics
/// Where it is none; a test reads all tables.
pub(super) fn date(text: &str) -> Expression {
    Expression::parse(text).expect("the tables inside the program hold dates, as a test makes sure")
}

/// A table inside the program.
///
/// # Panics
/// Where it is damaged; a test reads all tables.
pub(super) fn table<T: serde::de::DeserializeOwned>(text: &str) -> T {
    toml_edit::de::from_str(text).expect("the tables inside the program read, as a test makes sure")
}

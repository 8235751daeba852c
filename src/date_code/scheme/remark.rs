//! What is wrong in a file of schemes: file, line, column, key, and a code that would do.

use std::fmt;
use std::path::{Path, PathBuf};

use super::super::automaton::AutomatonError;

/// What is wrong.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SchemeTrouble {
    /// The file could not be read.
    Unreadable {
        detail: String,
    },
    /// Not TOML; nothing of the file is used.
    Malformed {
        detail: String,
    },
    Missing,
    WrongKind {
        wanted: &'static str,
    },
    UnknownKey {
        nearest: String,
    },
    /// One of a few words is wanted.
    NotAWord {
        words: Vec<&'static str>,
    },
    Pattern {
        why: AutomatonError,
    },
    /// The pattern has no group of this name.
    NoGroup {
        groups: Vec<String>,
    },
    /// A shortened year with no window to place it in.
    NoWindow {
        text: String,
    },
    /// The pattern allows a text that stands for nothing.
    NoValue {
        text: String,
    },
    /// No month, quarter or year that there is.
    NoTime {
        text: String,
        number: i32,
    },
    NotYears {
        text: String,
    },
    NotAQuad,
    NotASign,
    /// What the file gives as an example means something else.
    Example {
        code: String,
        means: Option<String>,
    },
}

/// A remark about one place of a file of schemes. The scheme it lies in is left out, except for a
/// key that means nothing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SchemeRemark {
    pub path: PathBuf,
    /// From 1.
    pub line: Option<usize>,
    /// In characters, from 1.
    pub column: Option<usize>,
    pub key: Option<String>,
    /// Name of the scheme, where it has one.
    pub scheme: Option<String>,
    pub trouble: SchemeTrouble,
    /// A code that the scheme accepts, where its patterns make sense.
    pub accepts: Option<String>,
}

impl SchemeRemark {
    /// A file that could not be read.
    pub fn unreadable(path: &Path, detail: String) -> Self {
        Self {
            path: path.to_owned(),
            line: None,
            column: None,
            key: None,
            scheme: None,
            trouble: SchemeTrouble::Unreadable { detail },
            accepts: None,
        }
    }

    /// Whether the scheme is used in spite of the remark.
    pub fn harmless(&self) -> bool {
        matches!(self.trouble, SchemeTrouble::UnknownKey { .. })
    }
}

impl fmt::Display for SchemeRemark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.path.display())?;
        if let Some(line) = self.line {
            write!(f, ", line {line}")?;
        }
        if let Some(column) = self.column {
            write!(f, ", column {column}")?;
        }
        if let Some(key) = &self.key {
            write!(f, ", key `{key}`")?;
        }
        if let Some(scheme) = &self.scheme {
            write!(f, " of the scheme `{scheme}`")?;
        }
        write!(f, ": {}", self.trouble)?;
        match &self.accepts {
            Some(code) => write!(f, " (a code that the scheme accepts: `{code}`)"),
            None => Ok(()),
        }
    }
}

/// A pattern that works, for whoever wrote one that does not.
const SAMPLE: &str = "(?<month>[A-L])(?<year>[0-9]{2})` reads `C52";

impl fmt::Display for SchemeTrouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Unreadable { detail } => write!(f, "cannot be read ({detail})"),
            Self::Malformed { detail } => write!(f, "not TOML ({detail}): the file is left out"),
            Self::Missing => f.write_str("is missing"),
            Self::WrongKind { wanted } => write!(f, "must be {wanted}"),
            Self::UnknownKey { nearest } => {
                write!(
                    f,
                    "is neither a key nor a group of the pattern: nearest is `{nearest}`"
                )
            }
            Self::NotAWord { words } => write!(f, "must be one of `{}`", words.join("`, `")),
            Self::Pattern { why } => write!(f, "{why}: for example `{SAMPLE}`"),
            Self::NoGroup { groups } => match groups.is_empty() {
                true => write!(f, "the pattern has no named groups: for example `{SAMPLE}`"),
                false => write!(
                    f,
                    "the pattern has no group of this name, only `{}`",
                    groups.join("`, `")
                ),
            },
            Self::NoWindow { text } => write!(
                f,
                "the year `{text}` could be of any century: give `window = [1930, 2029]`, the \
                 first and the last year that are meant"
            ),
            Self::NoValue { text } => {
                write!(
                    f,
                    "the pattern allows `{text}`, which stands for nothing here"
                )
            }
            Self::NoTime { text, number } => {
                write!(f, "`{text}` would be {number}, which there is not")
            }
            Self::NotYears { text } => write!(
                f,
                "`{text}` is no run of years: write `1946`, `1946/1958`, `1946/..` or `../1958`"
            ),
            Self::NotAQuad => f.write_str(
                "must be four corners [[x, y], [x, y], [x, y], [x, y]] around the code, in pixels \
                 of the exemplar's upright picture",
            ),
            Self::NotASign => f.write_str("must be one printable ASCII character"),
            Self::Example { code, means } => match means {
                Some(means) => write!(f, "`{code}` means `{means}` by this scheme"),
                None => write!(f, "`{code}` tells no time by this scheme"),
            },
        }
    }
}

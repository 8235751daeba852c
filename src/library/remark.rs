//! What a person should know about their library: each remark names file, line and key.

use std::fmt;
use std::path::{Path, PathBuf};

use crate::photo::PhotoError;

/// Whether something in the library is lost until it is mended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Severity {
    Error,
    Warning,
}

/// What is wrong.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Trouble {
    /// The file or folder could not be read.
    Unreadable { detail: String },
    /// Not TOML; nothing of the file is used.
    Malformed { detail: String },
    /// A value of the wrong kind; the key is passed over.
    WrongKind { wanted: &'static str },
    /// A key that must be there is not.
    Missing,
    /// A key that means nothing here.
    UnknownKey { nearest: &'static str },
    /// Not a date of the Extended Date/Time Format.
    NotADate { value: String },
    /// Not four corners around some area.
    NotAQuad,
    /// An `[[image]]` names a file that is not in the family's folder.
    NoSuchImage { file: String },
    /// A picture could not be used as exemplar.
    BadPicture { why: PhotoError },
    /// No mark can be made out in a picture.
    NothingSeen,
    /// Neither images nor a mark.toml.
    EmptyFolder,
    /// A picture where none is looked for.
    StrayPicture,
    /// A folder inside a variant.
    TooDeep,
    /// A variant's folder called by the word that answers use for no variant.
    TakenName,
    /// A folder name that cannot be part of an id.
    BadName,
    /// A family that no longer exists is claimed by two.
    ClaimedTwice { old: String, by: String },
    /// A family says that it was another one, which still exists.
    StillThere { old: String },
    /// `confused_with` names no family.
    NoSuchFamily { id: String },
    /// A change of the library was cut short, and is made or taken back now.
    CutShort { what: String, made: bool },
    /// A change of the library was cut short and still is.
    Unsettled { detail: String },
    /// A rule speaks of a line that has no file.
    NoSuchLine { id: String },
    /// The same picture stands for two families.
    SharedPicture { other: String },
}

/// A remark about one place of the library.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Remark {
    pub path: PathBuf,
    /// From 1.
    pub line: Option<usize>,
    pub key: Option<String>,
    pub trouble: Trouble,
}

impl Remark {
    pub(super) fn about(path: &Path, trouble: Trouble) -> Self {
        Self {
            path: path.to_owned(),
            line: None,
            key: None,
            trouble,
        }
    }

    pub fn severity(&self) -> Severity {
        match self.trouble {
            Trouble::Unreadable { .. }
            | Trouble::Malformed { .. }
            | Trouble::WrongKind { .. }
            | Trouble::Missing
            | Trouble::NotAQuad
            | Trouble::BadPicture { .. }
            | Trouble::Unsettled { .. }
            | Trouble::BadName => Severity::Error,
            _ => Severity::Warning,
        }
    }
}

impl fmt::Display for Remark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.path.display())?;
        if let Some(line) = self.line {
            write!(f, ", line {line}")?;
        }
        if let Some(key) = &self.key {
            write!(f, ", key `{key}`")?;
        }
        write!(f, ": {}", self.trouble)
    }
}

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Unreadable { detail } => write!(f, "cannot be read ({detail})"),
            Self::Malformed { detail } => write!(f, "not TOML ({detail}): the file is left out"),
            Self::WrongKind { wanted } => write!(f, "must be {wanted}: the key is left out"),
            Self::Missing => f.write_str("is missing: the folder's name is used"),
            Self::UnknownKey { nearest } => {
                write!(f, "is not known here: the nearest known key is `{nearest}`")
            }
            Self::NotADate { value } => write!(
                f,
                "`{value}` is no EDTF date: write a year (`1931`), a decade (`193X`), \
                 a span (`1925/1932`) or an open one (`1925/..`)"
            ),
            Self::NotAQuad => f.write_str(
                "must be four corners [[x, y], [x, y], [x, y], [x, y]] around the mark, in pixels \
                 of the upright picture: the key is left out",
            ),
            Self::NoSuchImage { file } => {
                write!(f, "there is no picture `{file}` in this folder")
            }
            Self::BadPicture { why } => write!(f, "not used as exemplar: {why}"),
            Self::NothingSeen => f.write_str(
                "no mark can be made out in it, so that it is not used: give the mark's corners (`quad` of its \
                 `[[image]]` in mark.toml), or take a photo with light from the side",
            ),
            Self::EmptyFolder => f.write_str("has neither pictures nor a mark.toml: left out"),
            Self::StrayPicture => f.write_str(
                "belongs to no family: move it into a folder `<maker>/<family>` of the library",
            ),
            Self::TooDeep => f.write_str("lies deeper than a variant: left out"),
            Self::TakenName => f.write_str(
                "answers say `undecided` where no variant can be told: rename the folder, it is left out",
            ),
            Self::BadName => f.write_str(
                "this name cannot be part of a family's id: rename the folder in plain UTF-8",
            ),
            Self::ClaimedTwice { old, by } => {
                write!(f, "`{old}` is claimed by `{by}` already, which keeps it")
            }
            Self::StillThere { old } => write!(
                f,
                "`{old}` still has a folder of its own, which keeps the name: move its pictures \
                 here and delete it"
            ),
            Self::NoSuchFamily { id } => write!(f, "there is no family `{id}`"),
            Self::CutShort { what, made: true } => {
                write!(f, "`{what}` was cut short and is finished now")
            }
            Self::CutShort { what, made: false } => {
                write!(f, "`{what}` was cut short and is taken back: do it again")
            }
            Self::Unsettled { detail } => write!(f, "{detail}"),
            Self::NoSuchLine { id } => write!(f, "there is no line `{id}`"),
            Self::SharedPicture { other } => {
                write!(
                    f,
                    "the same picture stands for `{other}` too: delete one of the two"
                )
            }
        }
    }
}

//! A library, or some families of it, in one file for somebody else, and such a file opened.
//!
//! A pack is a plain zip with the folders of a library, and a list of every file with its content hash; of every
//! picture the list tells whom to credit and by what right it is passed on.

mod open;
mod pack;
mod stripped;

use std::io;
use std::path::{Component, Path, PathBuf};

use serde::{Deserialize, Serialize};

pub use open::{Parcel, open};
pub use pack::{LeftOut, Packed, Terms, pack};
pub use stripped::{Stripped, stripped};

use super::edit::EditError;
use crate::workspace::readable_path;

/// The list of what is in a pack, inside it.
const MANIFEST: &str = "pack.json";
/// Says that it is one of ours.
const FORMAT: &str = "footring-pack";
const VERSION: u32 = 1;
/// The folder of the library inside.
const INSIDE: &str = "library";

/// The list.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
struct Manifest {
    format: String,
    version: u32,
    time: String,
    files: Vec<Listed>,
}

/// A file of a pack.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
struct Listed {
    /// With `/` between folders.
    path: String,
    bytes: u64,
    /// BLAKE3, hex.
    hash: String,
    /// Of a picture: whom to name, and by what right it may be passed on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    credit: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    licence: Option<String>,
}

/// A pack that could not be made or used.
#[derive(Debug, thiserror::Error)]
pub enum ShareError {
    #[error("{}: {why}", readable_path(.path))]
    Refused { path: PathBuf, why: String },
    #[error("{} could not be {tried} ({source})", readable_path(.path))]
    Disk {
        path: PathBuf,
        tried: &'static str,
        source: io::Error,
    },
    #[error(transparent)]
    Edit(#[from] EditError),
}

fn refused(path: &Path, why: impl std::fmt::Display) -> ShareError {
    ShareError::Refused {
        path: path.to_owned(),
        why: why.to_string(),
    }
}

fn failed(path: &Path, tried: &'static str) -> impl Fn(io::Error) -> ShareError + use<> {
    let path = path.to_owned();
    move |source| ShareError::Disk {
        path: path.clone(),
        tried,
        source,
    }
}

/// Folders and a file in a path of a library: maker, family, variant, picture.
const DEEPEST: usize = 4;
/// Longest name of a folder or a file in bytes: what common file systems take.
const LONGEST: usize = 255;
/// Names that some systems keep for devices.
const DEVICES: [&str; 6] = ["con", "prn", "aux", "nul", "com", "lpt"];

/// The parts of a path inside the library, where it is written as it would be made and every system can make it; `None`
/// for anything else: absolute, leading out, hidden, too deep, with signs that mean something to some system.
fn parts(path: &str) -> Option<Vec<&str>> {
    let inside = path.strip_prefix(INSIDE)?.strip_prefix('/')?;
    let components = Path::new(inside).components().map(|c| match c {
        Component::Normal(name) => name.to_str(),
        _ => None,
    });
    let parts: Vec<&str> = components.collect::<Option<_>>()?;
    let whole = parts.join("/") == inside && (2..=DEEPEST).contains(&parts.len());
    (whole && parts.iter().all(|p| is_plain_name(p))).then_some(parts)
}

fn is_plain_name(name: &str) -> bool {
    let odd = |c: char| c.is_control() || "\\:*?\"<>|".contains(c) || is_turning(c);
    let stem = name.split('.').next().unwrap_or_default().to_lowercase();
    let device = DEVICES.iter().any(|d| {
        stem.strip_prefix(d)
            .is_some_and(|n| n.len() <= 1 && n.chars().all(|c| c.is_ascii_digit()))
    });
    !name.is_empty()
        && name.len() <= LONGEST
        && !name.starts_with('.')
        && !name.ends_with(['.', ' '])
        && !name.chars().any(odd)
        && !device
}

/// Signs that change the direction of what follows, by which a name can look like another one.
fn is_turning(c: char) -> bool {
    matches!(c, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_plain_places_of_a_library_are_taken() {
        for good in [
            "library/m/maker.toml",
            "library/m/crown/mark.toml",
            "library/m/crown/small/a.jpg",
            "library/m/konsole/a b (2).jpg",
            "library/mühle/krone/ä.png",
        ] {
            assert!(parts(good).is_some(), "{good}");
        }
        for bad in [
            "",
            "library",
            "library/",
            "library/stray.jpg",
            "/etc/passwd",
            "library/../../x",
            "library/a/../b",
            "library//a/b",
            "library/a/./b",
            "library/m/crown/small/deeper/a.jpg",
            "library/m/.changes/1",
            "library/.hidden/a.jpg",
            "library/m/c:a.jpg",
            "library/m/a\\..\\b",
            "library/m/aux.jpg",
            "library/m/com1",
            "library/m/a.",
            "library/m/a\u{202e}gpj.exe",
            "library/m/a\nb",
        ] {
            assert!(parts(bad).is_none(), "{bad:?}");
        }
    }
}

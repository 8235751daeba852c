//! Photos in their piles: told, linked or copied, and those to take again with a picture.

use std::collections::BTreeMap;
use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use serde_json::json;

use super::Failure;
use super::matching::raw_name;
use crate::report::Pile;
use crate::service::again::Sorted;
use crate::workspace::readable_path;

/// An existing folder with anything in it is not touched.
pub(super) fn check_empty(into: &Path) -> Result<(), Failure> {
    let taken = match fs::read_dir(into) {
        Ok(mut entries) => entries.next().is_some(),
        Err(e) => e.kind() != io::ErrorKind::NotFound,
    };
    if taken {
        let why = format!(
            "{} is no empty folder and was left as it is",
            readable_path(into)
        );
        return Err(Failure::new(&why, Some("name a new folder".to_owned())));
    }
    Ok(())
}

pub(super) fn write_json(one: &Sorted, out: &mut dyn Write) -> io::Result<()> {
    let mut line = json!({
        "photo": one.path.to_string_lossy(),
        "pile": one.pile.word(),
        "family": one.family,
        "reasons": one.reasons.photo,
        "piece": one.reasons.piece,
        "decided": one.decided,
    });
    if let (Some(raw), Some(fields)) = (raw_name(&one.path), line.as_object_mut()) {
        fields.insert("photo_raw".to_owned(), raw.into());
    }
    writeln!(out, "{line}")
}

pub(super) fn write_piles(sorted: &[Sorted], out: &mut dyn Write) -> io::Result<()> {
    for pile in Pile::ALL {
        let members: Vec<&Sorted> = sorted.iter().filter(|s| s.pile == pile).collect();
        if members.is_empty() {
            continue;
        }
        writeln!(out, "{} ({}): {}", pile.word(), members.len(), pile.says())?;
        for member in members {
            writeln!(out, "  {}  {}", member.name(), member.says())?;
        }
    }
    Ok(())
}

/// Links or copies every photo that is in reach into its pile's folder.
pub(super) fn file_away(sorted: &[Sorted], into: &Path, copy: bool) -> Result<(), Failure> {
    let mut taken: BTreeMap<PathBuf, usize> = BTreeMap::new();
    for one in sorted {
        let Some(original) = &one.original else {
            continue;
        };
        let folder = into.join(one.pile.word());
        let failed = |e: io::Error| {
            let why = format!("{} could not be filled: {e}", readable_path(&folder));
            Failure::new(&why, None)
        };
        fs::create_dir_all(&folder).map_err(failed)?;
        let target = free_name(&folder, original, &mut taken);
        let original = fs::canonicalize(original).map_err(failed)?;
        if copy {
            fs::copy(&original, &target).map(|_| ()).map_err(failed)?;
        } else {
            link(&original, &target).map_err(failed)?;
        }
    }
    Ok(())
}

/// The photo's own name; `IMG_1 (2).jpg` where a photo from another folder has it.
fn free_name(folder: &Path, photo: &Path, taken: &mut BTreeMap<PathBuf, usize>) -> PathBuf {
    let plain = folder.join(photo.file_name().unwrap_or(photo.as_os_str()));
    let count = taken.entry(plain.clone()).or_default();
    *count += 1;
    if *count == 1 {
        return plain;
    }
    let mut name = photo.file_stem().unwrap_or_default().to_owned();
    name.push(format!(" ({count})"));
    if let Some(ending) = photo.extension() {
        name.push(".");
        name.push(ending);
    }
    folder.join(name)
}

#[cfg(unix)]
fn link(original: &Path, target: &Path) -> io::Result<()> {
    std::os::unix::fs::symlink(original, target)
}

/// Elsewhere links need rights that few people have.
#[cfg(not(unix))]
fn link(original: &Path, target: &Path) -> io::Result<()> {
    fs::copy(original, target).map(|_| ())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn photos_of_one_name_get_names_of_their_own() {
        let mut taken = BTreeMap::new();
        let names: Vec<PathBuf> = ["a/IMG_1.jpg", "b/IMG_1.jpg", "b/IMG_2", "c/IMG_2"]
            .iter()
            .map(|p| free_name(Path::new("look"), Path::new(p), &mut taken))
            .collect();
        let wanted = [
            "look/IMG_1.jpg",
            "look/IMG_1 (2).jpg",
            "look/IMG_2",
            "look/IMG_2 (2)",
        ];
        assert_eq!(names, wanted.map(PathBuf::from));
    }

    #[test]
    fn a_folder_with_something_in_it_is_left_alone() {
        let folder = tempfile::tempdir().expect("a folder");
        assert!(check_empty(folder.path()).is_ok());
        assert!(check_empty(&folder.path().join("new")).is_ok());
        std::fs::write(folder.path().join("x"), b"").expect("a file");
        assert!(check_empty(folder.path()).is_err());
    }
}

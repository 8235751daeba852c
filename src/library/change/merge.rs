//! Two families turn out to be one.

use std::fs;
use std::path::{Path, PathBuf};

use super::disk::{fail, is_there};
use super::pictures::{drop_maker, family, free_name, relative, replace_mark};
use super::rename::was;
use super::{ChangeError, Draft, Kind};
use crate::library::edit::MarkText;
use crate::library::load::MARK_FILE;
use crate::library::{CODES_FILE, Family, FamilyId, Library};

/// Moves everything that lies in the folder of `from` into that of `into`, whose mark.toml keeps the old id under
/// `was`, the entries of the pictures, and the notes and sources of both. What else the first mark.toml said goes with
/// it to the trash: a name, a period and an ink cannot be those of both.
///
/// # Errors
/// Where one of them is not there, both are the same, both have date codes or a variant of one name, or a mark.toml
/// cannot be changed.
pub fn merge(library: &Library, from: &FamilyId, into: &FamilyId) -> Result<Draft, ChangeError> {
    let (from, into) = (family(library, from)?, family(library, into)?);
    if from.id == into.id {
        let id = into.id.clone();
        return Err(ChangeError::Same { id });
    }
    let [old, new] = [from, into].map(|f| f.id.folder(&library.root));
    let mut text = MarkText::read(&new.join(MARK_FILE), &into.name)?;
    let mut old_text = MarkText::read(&old.join(MARK_FILE), &from.name)?;
    let mut draft = Draft::of(Kind::Merge, format!("merge {} into {}", from.id, into.id));
    let contents = contents_of(from, &old, into, &new)?;
    let mut taken = Vec::new();
    let same = same_pictures(from, into);
    for (path, name) in contents {
        if same.contains(&path) {
            // Its like is there already; it goes to the trash with the folder.
            old_text.take_images(&name)?;
            continue;
        }
        let to = free_name(&new, &name, &mut taken);
        let entries = old_text.take_images(&name)?;
        if !entries.is_empty() {
            text.add_images(&entries, &to)?;
        }
        draft.go(relative(library, &path)?, format!("{}/{to}", into.id));
    }
    // What an entry says of pictures in variants' folders, which keep their names.
    for image in &from.record.images {
        let entries = old_text.take_images(&image.file)?;
        if !entries.is_empty() {
            text.add_images(&entries, &image.file)?;
        }
    }
    let mut ids = into.record.was.clone();
    ids.extend(was(from, &into.id));
    ids.sort();
    ids.dedup();
    text.set_texts("was", &ids);
    for (key, own, other) in [
        ("notes", &into.record.notes, &from.record.notes),
        ("sources", &into.record.sources, &from.record.sources),
    ] {
        let more: Vec<&String> = other.iter().filter(|t| !own.contains(t)).collect();
        if !more.is_empty() {
            let both: Vec<String> = own.iter().chain(more).cloned().collect();
            text.set_texts(key, &both);
        }
    }
    // A family is no near-twin of itself.
    text.drop_twins(|id| *id == *from.id.as_str() || from.record.was.iter().any(|w| w == id));
    replace_mark(&mut draft, library, into.id.as_str(), &text);
    draft.away(from.id.to_string());
    drop_maker(&mut draft, library, &from.id);
    Ok(draft)
}

/// What lies in the first folder and moves, with its name. A mark.toml stays, and so does what begins with a dot.
fn contents_of(
    from: &Family,
    old: &Path,
    into: &Family,
    new: &Path,
) -> Result<Vec<(PathBuf, String)>, ChangeError> {
    let entries = fs::read_dir(old).map_err(fail(old, "read"))?;
    let mut paths: Vec<PathBuf> = entries.flatten().map(|e| e.path()).collect();
    paths.sort();
    let mut found = Vec::new();
    for path in paths {
        let name = path.file_name().and_then(|n| n.to_str());
        let name = name.ok_or_else(|| ChangeError::BadName { path: path.clone() })?;
        if name.starts_with('.') || name == MARK_FILE {
            continue;
        }
        let name = name.to_owned();
        let there = is_there(&new.join(&name));
        if there && (path.is_dir() || name == CODES_FILE) {
            let what = match path.is_dir() {
                true => format!("a variant `{name}`"),
                false => format!("a {CODES_FILE}"),
            };
            let (from, into) = (from.id.clone(), into.id.clone());
            return Err(ChangeError::Both { from, into, what });
        }
        found.push((path, name));
    }
    Ok(found)
}

/// Pictures of the first family that the second one has byte for byte.
fn same_pictures(from: &Family, into: &Family) -> Vec<PathBuf> {
    let hash = |path: &PathBuf| fs::read(path).ok().map(|b| blake3::hash(&b));
    let own: Vec<_> = into.exemplars.iter().map(|e| hash(&e.path)).collect();
    let top = |e: &&crate::library::Exemplar| e.variant.is_none();
    let paths = from.exemplars.iter().filter(top).map(|e| &e.path);
    paths
        .filter(|p| hash(p).is_some_and(|h| own.contains(&Some(h))))
        .cloned()
        .collect()
}

//! A family gets another id: a better name, or its maker at last.

use super::pictures::{drop_maker, family, refuse_taken};
use super::{ChangeError, Content, Draft, Kind};
use crate::library::edit::MarkText;
use crate::library::load::MARK_FILE;
use crate::library::{Family, FamilyId, Library};

/// Moves the family's folder. Its mark.toml keeps the old id under `was`, so that decisions, citations and near-twins
/// follow. `name` is what to call it from now on.
///
/// # Errors
/// Where there is no such family, the new id is taken, or the mark.toml cannot be changed.
pub fn rename(
    library: &Library,
    from: &FamilyId,
    to: &FamilyId,
    name: Option<&str>,
) -> Result<Draft, ChangeError> {
    let family = family(library, from)?;
    // Back to what it was called before is no other family's name.
    if !library
        .find(to)
        .is_some_and(|f| f.id == family.id && f.id != *to)
    {
        refuse_taken(library, to)?;
    }
    let folder = family.id.folder(&library.root);
    let mut text = MarkText::read(&folder.join(MARK_FILE), &family.name)?;
    text.set_texts("was", &was(family, to));
    if let Some(name) = name {
        text.name(name);
    }
    let mut draft = Draft::of(Kind::Rename, format!("rename {} to {to}", family.id));
    if library.find(to).is_none() {
        draft.brings.push(to.to_string());
    }
    if folder.join(MARK_FILE).exists() {
        draft.away(format!("{}/{MARK_FILE}", family.id));
    }
    if !library.root.join(to.maker()).is_dir() {
        draft.folder(to.maker().to_owned());
    }
    draft.go(family.id.to_string(), to.to_string());
    draft.put(format!("{to}/{MARK_FILE}"), Content::Bytes(text.bytes()));
    if family.id.maker() != to.maker() {
        drop_maker(&mut draft, library, &family.id);
    }
    Ok(draft)
}

/// The old ids of a family that is called otherwise now.
pub(super) fn was(family: &Family, now: &FamilyId) -> Vec<String> {
    let mut was = family.record.was.clone();
    was.push(family.id.to_string());
    was.retain(|id| id != now.as_str());
    was.sort();
    was.dedup();
    was
}

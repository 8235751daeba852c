//! One family turns out to be two.

use std::path::Path;

use super::pictures::{
    Texts, exemplars_called, family, free_name, make_folders, pictures, refuse_taken, relative,
};
use super::{ChangeError, Content, Draft, Kind};
use crate::library::edit::MarkText;
use crate::library::load::MARK_FILE;
use crate::library::{FamilyId, Library};

/// Moves these pictures of a family into a new one of its own. Decisions stay with the first.
///
/// # Errors
/// Where there is no such family or picture, none would be left, the new id is taken, or a mark.toml cannot be changed.
pub fn split(
    library: &Library,
    from: &FamilyId,
    to: &FamilyId,
    name: &str,
    files: &[String],
) -> Result<Draft, ChangeError> {
    let family = family(library, from)?;
    refuse_taken(library, to)?;
    let going = exemplars_called(library, family, files)?;
    let stays = |path: &Path| !going.iter().any(|e| e.path == path);
    if !family.exemplars.iter().any(|e| stays(&e.path)) {
        let id = family.id.clone();
        return Err(ChangeError::NothingLeft { id });
    }
    let what = format!(
        "split {} of {} off as {to}",
        pictures(going.len()),
        family.id
    );
    let mut draft = Draft::of(Kind::Split, what);
    draft.brings.push(to.to_string());
    make_folders(&mut draft, library, to);
    let folder = to.folder(&library.root);
    let mut new = MarkText::named(&folder.join(MARK_FILE), name);
    let mut texts = Texts::default();
    let mut taken = Vec::new();
    for exemplar in going {
        let path = relative(library, &exemplar.path)?;
        let wanted = path.rsplit('/').next().unwrap_or(&path);
        let file = free_name(&folder, wanted, &mut taken);
        let entries = texts.take(library, family, exemplar)?;
        if !entries.is_empty() {
            new.add_images(&entries, &file)?;
        }
        draft.go(path, format!("{to}/{file}"));
    }
    draft.put(format!("{to}/{MARK_FILE}"), Content::Bytes(new.bytes()));
    texts.write(&mut draft, library);
    Ok(draft)
}

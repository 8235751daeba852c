//! Plans that bring pictures in or take them out.

use std::path::{Path, PathBuf};

use super::disk::is_there;
use super::{ChangeError, Draft, Kind};
use crate::geometry::{Photo, Quad};
use crate::library::edit::{ImageEntry, MarkText};
use crate::library::load::MARK_FILE;
use crate::library::{Exemplar, Family, FamilyId, Library};

/// What a new file holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Content {
    Bytes(Vec<u8>),
    /// The same as this file.
    CopyOf(PathBuf),
}

/// A picture that becomes an exemplar.
#[derive(Debug, Clone, PartialEq)]
pub struct NewExemplar {
    /// File name inside the family's folder; another one is found where it is taken.
    pub file: String,
    pub content: Content,
    /// Where the mark is, in pixels of the picture; without it the mark is looked for.
    pub quad: Option<Quad<Photo>>,
    /// Where the picture comes from, in words.
    pub source: Option<String>,
    /// Content hash of the photo that it was cut from.
    pub photo: Option<String>,
}

impl NewExemplar {
    pub(super) fn entry(&self, file: String) -> ImageEntry {
        ImageEntry {
            file,
            quad: self.quad,
            source: self.source.clone(),
            photo: self.photo.clone(),
            ..ImageEntry::default()
        }
    }
}

/// A path inside the library as a record writes it.
pub(super) fn relative(library: &Library, path: &Path) -> Result<String, ChangeError> {
    let bad = || ChangeError::BadName {
        path: path.to_owned(),
    };
    let inside = path.strip_prefix(&library.root).map_err(|_| bad())?;
    let parts: Option<Vec<&str>> = inside.iter().map(|part| part.to_str()).collect();
    parts.map(|parts| parts.join("/")).ok_or_else(bad)
}

/// The family of this id, by the name that it has now.
pub(super) fn family<'l>(library: &'l Library, id: &FamilyId) -> Result<&'l Family, ChangeError> {
    library
        .find(id)
        .ok_or_else(|| ChangeError::NoFamily { id: id.clone() })
}

/// Refuses an id that a family has or had, or whose folder is there.
pub(super) fn refuse_taken(library: &Library, id: &FamilyId) -> Result<(), ChangeError> {
    match library.find(id) {
        Some(family) if family.id == *id => return Err(ChangeError::Taken { id: id.clone() }),
        Some(family) => {
            let (id, now) = (id.clone(), family.id.clone());
            return Err(ChangeError::WasTaken { id, now });
        }
        None => {}
    }
    let path = id.folder(&library.root);
    match is_there(&path) {
        true => Err(ChangeError::InTheWay { path }),
        false => Ok(()),
    }
}

/// The folders of a family that is to be made.
pub(super) fn make_folders(draft: &mut Draft, library: &Library, id: &FamilyId) {
    if !library.root.join(id.maker()).is_dir() {
        draft.folder(id.maker().to_owned());
    }
    draft.folder(id.to_string());
}

/// Removes the maker's folder where nothing but this family lies in it.
pub(super) fn drop_maker(draft: &mut Draft, library: &Library, id: &FamilyId) {
    let entries = std::fs::read_dir(library.root.join(id.maker()));
    let others = entries.into_iter().flatten().flatten().any(|e| {
        let name = e.file_name();
        name != id.family() && !name.as_encoded_bytes().starts_with(b".")
    });
    if !others {
        draft.drop_empty(id.maker().to_owned());
    }
}

/// `wanted`, or the first of `wanted-2`, `-3`, … that is free in the folder and not among the `taken`, which gets it.
pub(super) fn free_name(folder: &Path, wanted: &str, taken: &mut Vec<String>) -> String {
    let (stem, end) = match wanted.rsplit_once('.') {
        Some((stem, end)) if !stem.is_empty() => (stem, format!(".{end}")),
        _ => (wanted, String::new()),
    };
    let names =
        std::iter::once(wanted.to_owned()).chain((2_u32..).map(|n| format!("{stem}-{n}{end}")));
    let free = |name: &String| !is_there(&folder.join(name)) && !taken.contains(name);
    let mut names = names.filter(free);
    let name = names.next().unwrap_or_else(|| wanted.to_owned());
    taken.push(name.clone());
    name
}

/// Puts a changed mark.toml in the place of the one that is there, if any.
pub(super) fn replace_mark(draft: &mut Draft, library: &Library, folder: &str, text: &MarkText) {
    let at = format!("{folder}/{MARK_FILE}");
    if is_there(&library.root.join(&at)) {
        draft.away(at.clone());
    }
    draft.put(at, Content::Bytes(text.bytes()));
}

/// A family that the library does not have.
///
/// # Errors
/// Where the id is taken.
pub fn new_family(
    library: &Library,
    id: &FamilyId,
    name: &str,
    exemplars: Vec<NewExemplar>,
) -> Result<Draft, ChangeError> {
    refuse_taken(library, id)?;
    let mut draft = Draft::of(Kind::New, format!("new {id}"));
    fill(&mut draft, library, id, name, exemplars)?;
    Ok(draft)
}

/// The folder of a new family and what lies in it.
pub(super) fn fill(
    draft: &mut Draft,
    library: &Library,
    id: &FamilyId,
    name: &str,
    exemplars: Vec<NewExemplar>,
) -> Result<(), ChangeError> {
    let folder = id.folder(&library.root);
    let mut text = MarkText::named(&folder.join(MARK_FILE), name);
    draft.brings.push(id.to_string());
    make_folders(draft, library, id);
    let mut taken = Vec::new();
    for exemplar in exemplars {
        let file = free_name(&folder, &exemplar.file, &mut taken);
        text.set_image(&exemplar.entry(file.clone()))?;
        draft.put(format!("{id}/{file}"), exemplar.content);
    }
    draft.put(format!("{id}/{MARK_FILE}"), Content::Bytes(text.bytes()));
    Ok(())
}

/// More exemplars of a family.
///
/// # Errors
/// Where there is no such family, or its mark.toml cannot be changed.
pub fn add_pictures(
    library: &Library,
    id: &FamilyId,
    exemplars: Vec<NewExemplar>,
) -> Result<Draft, ChangeError> {
    let family = family(library, id)?;
    let what = format!("add {} to {}", pictures(exemplars.len()), family.id);
    let mut draft = Draft::of(Kind::Add, what);
    add_to(&mut draft, library, family, exemplars)?;
    Ok(draft)
}

/// Puts pictures into the folder of a family and lists them.
pub(super) fn add_to(
    draft: &mut Draft,
    library: &Library,
    family: &Family,
    exemplars: Vec<NewExemplar>,
) -> Result<(), ChangeError> {
    let folder = family.id.folder(&library.root);
    let mut text = MarkText::read(&folder.join(MARK_FILE), &family.name)?;
    let mut taken = Vec::new();
    for exemplar in exemplars {
        let file = free_name(&folder, &exemplar.file, &mut taken);
        text.set_image(&exemplar.entry(file.clone()))?;
        draft.put(format!("{}/{file}", family.id), exemplar.content);
    }
    replace_mark(draft, library, family.id.as_str(), &text);
    Ok(())
}

pub(super) fn pictures(count: usize) -> String {
    match count {
        1 => "1 picture".to_owned(),
        n => format!("{n} pictures"),
    }
}

pub(super) fn families(count: usize) -> String {
    match count {
        1 => "1 family".to_owned(),
        n => format!("{n} families"),
    }
}

/// A whole family goes, with everything in its folder.
///
/// # Errors
/// Where there is no such family.
pub fn remove_family(library: &Library, id: &FamilyId) -> Result<Draft, ChangeError> {
    let family = family(library, id)?;
    let mut draft = Draft::of(Kind::Remove, format!("remove {}", family.id));
    draft.away(family.id.to_string());
    drop_maker(&mut draft, library, &family.id);
    Ok(draft)
}

/// Exemplars of a family go. A file is named as it lies in the family's folder (`IMG_1.jpg`, `variant/IMG_2.jpg`).
///
/// # Errors
/// Where there is no such family or picture, or a mark.toml cannot be changed.
pub fn remove_pictures(
    library: &Library,
    id: &FamilyId,
    files: &[String],
) -> Result<Draft, ChangeError> {
    let family = family(library, id)?;
    let what = format!("remove {} of {}", pictures(files.len()), family.id);
    let mut draft = Draft::of(Kind::Remove, what);
    let mut texts = Texts::default();
    for exemplar in exemplars_called(library, family, files)? {
        draft.away(relative(library, &exemplar.path)?);
        texts.take(library, family, exemplar)?;
    }
    texts.write(&mut draft, library);
    Ok(draft)
}

/// The exemplars of these files, each file once.
pub(super) fn exemplars_called<'l>(
    library: &Library,
    family: &'l Family,
    files: &[String],
) -> Result<Vec<&'l Exemplar>, ChangeError> {
    let folder = family.id.folder(&library.root);
    let mut found: Vec<&Exemplar> = Vec::new();
    for file in files {
        let called = |e: &&Exemplar| e.path == folder.join(file);
        let one = family.exemplars.iter().find(called);
        let one = one.ok_or_else(|| ChangeError::NoPicture {
            id: family.id.clone(),
            file: file.clone(),
            known: family
                .exemplars
                .iter()
                .filter_map(|e| e.path.strip_prefix(&folder).ok())
                .map(|p| p.display().to_string())
                .collect(),
        })?;
        if !found.iter().any(|e| e.path == one.path) {
            found.push(one);
        }
    }
    Ok(found)
}

/// The mark.toml files that speak of pictures which go: the family's, and those of its variants.
#[derive(Default)]
pub(super) struct Texts(Vec<(String, MarkText)>);

impl Texts {
    /// Takes out what is said of a picture, wherever it is said.
    pub(super) fn take(
        &mut self,
        library: &Library,
        family: &Family,
        exemplar: &Exemplar,
    ) -> Result<Vec<toml_edit::Table>, ChangeError> {
        let own = family.id.to_string();
        let path = relative(library, &exemplar.path)?;
        let inside = path.trim_start_matches(&own).trim_start_matches('/');
        let mut taken = self.take_in(library, &own, family, inside)?;
        if let Some((variant, file)) = inside.split_once('/') {
            taken.extend(self.take_in(library, &format!("{own}/{variant}"), family, file)?);
        }
        Ok(taken)
    }

    fn take_in(
        &mut self,
        library: &Library,
        folder: &str,
        family: &Family,
        file: &str,
    ) -> Result<Vec<toml_edit::Table>, ChangeError> {
        let path = library.root.join(folder).join(MARK_FILE);
        if !is_there(&path) {
            return Ok(Vec::new());
        }
        let at = match self.0.iter().position(|(f, _)| f == folder) {
            Some(at) => at,
            None => {
                let text = MarkText::read(&path, &family.name)?;
                self.0.push((folder.to_owned(), text));
                self.0.len() - 1
            }
        };
        Ok(self.0[at].1.take_images(file)?)
    }

    pub(super) fn write(&self, draft: &mut Draft, library: &Library) {
        for (folder, text) in &self.0 {
            replace_mark(draft, library, folder, text);
        }
    }
}

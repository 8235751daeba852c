//! Reads the folders of a library.

use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use rayon::prelude::*;

use super::id::{FamilyId, LINES};
use super::records::{ImageRecord, MarkRecord, read_line, read_maker, read_mark};
use super::remark::{Remark, Trouble};
use super::{Exemplar, Family, Library, Maker, change};
use crate::answer::UNDECIDED;
use crate::folder;

pub(super) const MAKER_FILE: &str = "maker.toml";
pub(super) const MARK_FILE: &str = "mark.toml";

/// The library's own folder could not be read.
#[derive(Debug, thiserror::Error)]
#[error("the library {} cannot be read ({source})", .path.display())]
pub struct LoadError {
    pub path: PathBuf,
    pub source: io::Error,
}

/// Reads the library at `root`. What is wrong inside it is told in the remarks, in the order of
/// the folders; everything else loads. A change that was cut short is brought to its end first.
pub fn load(root: &Path) -> Result<(Library, Vec<Remark>), LoadError> {
    let unsettled = settled(root);
    let entries = Entries::of(root).map_err(|source| LoadError {
        path: root.to_owned(),
        source,
    })?;
    let mut loader = Loader::at(root);
    loader.remarks.extend(unsettled);
    loader.strays(&entries.files);
    let makers: Vec<Loader> = entries
        .folders
        .par_iter()
        .map(|folder| {
            let mut loader = Loader::at(root);
            loader.maker(folder);
            loader
        })
        .collect();
    makers.into_iter().for_each(|maker| loader.join(maker));
    loader.resolve();
    Ok((loader.library, loader.remarks))
}

/// Brings a change that was cut short to its end before anything is read.
fn settled(root: &Path) -> Vec<Remark> {
    let told = |trouble| Remark::about(root, trouble);
    match change::settle(root, &mut |_| Ok(())) {
        Ok(settled) => settled
            .into_iter()
            .map(|s| {
                told(Trouble::CutShort {
                    what: s.what,
                    made: s.made,
                })
            })
            .collect(),
        Err(why) => vec![told(Trouble::Unsettled {
            detail: why.to_string(),
        })],
    }
}

/// What lies in a folder, sorted by name bytes, without names that begin with a dot.
struct Entries {
    folders: Vec<PathBuf>,
    files: Vec<PathBuf>,
}

impl Entries {
    fn of(folder: &Path) -> io::Result<Self> {
        let mut paths = fs::read_dir(folder)?
            .map(|entry| entry.map(|e| e.path()))
            .collect::<io::Result<Vec<_>>>()?;
        paths.retain(|p| !folder::is_hidden(p));
        paths.sort_by(|a, b| {
            let bytes = |p: &Path| p.file_name().map(|n| n.as_encoded_bytes().to_vec());
            bytes(a).cmp(&bytes(b))
        });
        let (folders, files) = paths.into_iter().partition(|p| p.is_dir());
        Ok(Self { folders, files })
    }
}

struct Loader {
    library: Library,
    remarks: Vec<Remark>,
}

impl Loader {
    fn at(root: &Path) -> Self {
        Self {
            library: Library {
                root: root.to_owned(),
                ..Library::default()
            },
            remarks: Vec::new(),
        }
    }

    /// Takes over what another one read.
    fn join(&mut self, other: Self) {
        self.library.makers.extend(other.library.makers);
        self.library.families.extend(other.library.families);
        self.remarks.extend(other.remarks);
    }

    fn remark(&mut self, path: &Path, trouble: Trouble) {
        self.remarks.push(Remark::about(path, trouble));
    }

    fn entries(&mut self, folder: &Path) -> Option<Entries> {
        Entries::of(folder)
            .map_err(|e| self.unreadable(folder, &e))
            .ok()
    }

    fn unreadable(&mut self, path: &Path, error: &io::Error) {
        let detail = error.to_string();
        self.remark(path, Trouble::Unreadable { detail });
    }

    /// The text of a record that may be absent.
    fn text(&mut self, path: &Path) -> Option<String> {
        match fs::read_to_string(path) {
            Ok(text) => Some(text),
            Err(e) if e.kind() == io::ErrorKind::NotFound => None,
            Err(e) => {
                self.unreadable(path, &e);
                None
            }
        }
    }

    fn name_of(&mut self, folder: &Path) -> Option<String> {
        let name = folder.file_name().and_then(|n| n.to_str());
        if name.is_none() {
            self.remark(folder, Trouble::BadName);
        }
        name.map(str::to_owned)
    }

    fn pictures(&mut self, files: &[PathBuf]) -> Vec<PathBuf> {
        let mut out = Vec::new();
        for path in files {
            match folder::sniff_file(path) {
                Ok(kind) if folder::is_picture_kind(kind) => out.push(path.clone()),
                Ok(_) => {}
                Err(e) => self.unreadable(path, &e),
            }
        }
        out
    }

    fn strays(&mut self, files: &[PathBuf]) {
        for path in self.pictures(files) {
            self.remark(&path, Trouble::StrayPicture);
        }
    }

    fn maker(&mut self, folder: &Path) {
        let (Some(name), Some(entries)) = (self.name_of(folder), self.entries(folder)) else {
            return;
        };
        self.strays(&entries.files);
        let mut maker = Maker::default();
        let file = folder.join(MAKER_FILE);
        if let Some(text) = self.text(&file) {
            maker.record = read_maker(&file, &text, &mut self.remarks).unwrap_or_default();
        }
        for inner in &entries.folders {
            if inner.file_name().is_some_and(|n| n == LINES) {
                self.lines(inner, &mut maker);
            } else {
                self.family(&name, inner);
            }
        }
        self.library.makers.insert(name, maker);
    }

    fn lines(&mut self, folder: &Path, maker: &mut Maker) {
        let Some(entries) = self.entries(folder) else {
            return;
        };
        for path in &entries.files {
            if path.extension().is_none_or(|e| e != "toml") {
                continue;
            }
            let stem = path.file_stem().and_then(|s| s.to_str()).map(str::to_owned);
            let (Some(stem), Some(text)) = (stem, self.text(path)) else {
                continue;
            };
            if let Some(record) = read_line(path, &text, &mut self.remarks) {
                maker.lines.insert(stem, record);
            }
        }
    }

    fn family(&mut self, maker: &str, folder: &Path) {
        let (Some(name), Some(entries)) = (self.name_of(folder), self.entries(folder)) else {
            return;
        };
        let Ok(id) = FamilyId::of(maker, &name) else {
            return self.remark(folder, Trouble::BadName);
        };
        let written = self.mark(folder);
        let mut family = Family {
            name: id.plain_name(),
            id: id.clone(),
            record: written.clone().unwrap_or_default(),
            variants: BTreeMap::new(),
            exemplars: Vec::new(),
        };
        let pictures = self.pictures(&entries.files);
        self.exemplars(folder, None, &family.record.clone(), pictures, &mut family);
        for inner in &entries.folders {
            self.variant(inner, &mut family);
        }
        family.exemplars.sort_by(|a, b| a.path.cmp(&b.path));
        if written.is_none() {
            if family.exemplars.is_empty() {
                return self.remark(folder, Trouble::EmptyFolder);
            }
        } else if let Some(name) = &family.record.name {
            family.name.clone_from(name);
        } else {
            self.remarks.push(Remark {
                path: folder.join(MARK_FILE),
                line: Some(1),
                key: Some("name".to_owned()),
                trouble: Trouble::Missing,
            });
        }
        self.library.families.insert(id, family);
    }

    fn mark(&mut self, folder: &Path) -> Option<MarkRecord> {
        let file = folder.join(MARK_FILE);
        let text = self.text(&file)?;
        read_mark(&file, &text, &mut self.remarks)
    }

    fn variant(&mut self, folder: &Path, family: &mut Family) {
        let (Some(name), Some(entries)) = (self.name_of(folder), self.entries(folder)) else {
            return;
        };
        for deeper in &entries.folders {
            self.remark(deeper, Trouble::TooDeep);
        }
        if name == UNDECIDED {
            self.remark(folder, Trouble::TakenName);
            return;
        }
        let record = self.mark(folder).unwrap_or_default();
        let pictures = self.pictures(&entries.files);
        self.exemplars(folder, Some(&name), &record, pictures, family);
        family.variants.insert(name, record);
    }

    /// Joins the pictures found in `folder` with what the record says of them.
    fn exemplars(
        &mut self,
        folder: &Path,
        variant: Option<&str>,
        record: &MarkRecord,
        found: Vec<PathBuf>,
        family: &mut Family,
    ) {
        for path in found {
            if !family.exemplars.iter().any(|e| e.path == path) {
                family.exemplars.push(Exemplar {
                    path,
                    variant: variant.map(str::to_owned),
                    quad: None,
                    source: None,
                    photo: None,
                    credit: None,
                    licence: None,
                });
            }
        }
        for image in &record.images {
            self.listed(folder, variant, image, family);
        }
    }

    /// Adds an `[[image]]`, or what it says of a picture that was found.
    fn listed(
        &mut self,
        folder: &Path,
        variant: Option<&str>,
        image: &ImageRecord,
        family: &mut Family,
    ) {
        let Some(path) = inside(folder, &image.file).filter(|p| p.is_file()) else {
            self.remarks.push(Remark {
                path: folder.join(MARK_FILE),
                line: image.at,
                key: Some("file".to_owned()),
                trouble: Trouble::NoSuchImage {
                    file: image.file.clone(),
                },
            });
            return;
        };
        let said = Exemplar {
            variant: image
                .variant
                .clone()
                .or_else(|| variant.map(str::to_owned))
                .or_else(|| sub_folder(&image.file)),
            path,
            quad: image.quad,
            source: image.source.clone(),
            photo: image.photo.clone(),
            credit: image.credit.clone(),
            licence: image.licence.clone(),
        };
        if let Some(name) = &said.variant {
            family.variants.entry(name.clone()).or_default();
        }
        // A picture with several marks of the family may be listed once for each.
        match family
            .exemplars
            .iter_mut()
            .find(|e| e.path == said.path && (e.quad.is_none() || e.quad == said.quad))
        {
            Some(known) => *known = said,
            None => family.exemplars.push(said),
        }
    }

    /// Checks the ties between families.
    fn resolve(&mut self) {
        self.lines_named();
        let families: Vec<Family> = self.library.families.values().cloned().collect();
        for family in &families {
            for old in &family.record.was {
                if let Some(trouble) = self.claim(&family.id, old) {
                    self.tie(&family.id, "was", trouble);
                }
            }
        }
        for family in &families {
            for other in &family.record.confused_with {
                let known =
                    FamilyId::parse(&other.family).is_ok_and(|o| self.library.find(&o).is_some());
                if !known {
                    let id = other.family.clone();
                    self.tie(&family.id, "confused_with", Trouble::NoSuchFamily { id });
                }
            }
        }
    }

    /// Checks that the lines that rules speak of have files.
    fn lines_named(&mut self) {
        let library = &self.library;
        let mut missing = Vec::new();
        for (name, maker) in &library.makers {
            let folder = library.root.join(name);
            let of_lines = maker.lines.iter().map(|(line, record)| {
                let file = folder.join(LINES).join(format!("{line}.toml"));
                (file, &record.facts)
            });
            let of_maker = (folder.join(MAKER_FILE), &maker.record.facts);
            for (file, facts) in of_lines.chain([of_maker]) {
                for (key, id, at) in facts.lines_named() {
                    if library.line(&library.line_id(name, id)).is_none() {
                        let trouble = Trouble::NoSuchLine { id: id.to_owned() };
                        missing.push(Remark {
                            path: file.clone(),
                            line: at,
                            key: Some(key.to_owned()),
                            trouble,
                        });
                    }
                }
            }
        }
        self.remarks.extend(missing);
    }

    /// Notes that `id` was called `old`, where nobody else is or was.
    fn claim(&mut self, id: &FamilyId, old: &str) -> Option<Trouble> {
        let Ok(old_id) = FamilyId::parse(old) else {
            return Some(Trouble::NoSuchFamily { id: old.to_owned() });
        };
        if self.library.families.contains_key(&old_id) {
            return (old_id != *id).then(|| Trouble::StillThere {
                old: old.to_owned(),
            });
        }
        let owner = self
            .library
            .renamed
            .entry(old_id)
            .or_insert_with(|| id.clone());
        (owner != id).then(|| Trouble::ClaimedTwice {
            old: old.to_owned(),
            by: owner.to_string(),
        })
    }

    fn tie(&mut self, id: &FamilyId, key: &str, trouble: Trouble) {
        self.remarks.push(Remark {
            path: id.folder(&self.library.root).join(MARK_FILE),
            line: None,
            key: Some(key.to_owned()),
            trouble,
        });
    }
}

/// `file` under `folder`; `None` where it points out of it.
fn inside(folder: &Path, file: &str) -> Option<PathBuf> {
    let relative = Path::new(file);
    relative
        .components()
        .all(|c| matches!(c, std::path::Component::Normal(_)))
        .then(|| folder.join(relative))
}

fn sub_folder(file: &str) -> Option<String> {
    file.split_once('/').map(|(folder, _)| folder.to_owned())
}

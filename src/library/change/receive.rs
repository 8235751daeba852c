//! What somebody else's library brings: the same content once, what differs side by side, nothing overwritten.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use super::disk::{fail, is_there};
use super::pictures::{free_name, refuse_taken, replace_mark};
use super::{ChangeError, Content, Draft, Kind};
use crate::decision::ContentHash;
use crate::library::edit::MarkText;
use crate::library::load::{MAKER_FILE, MARK_FILE};
use crate::library::share::stripped;
use crate::library::{CODES_FILE, Exemplar, Family, FamilyId, LINES, Library, MarkRecord};

/// What stands behind the name of a file that is laid beside one's own.
const BESIDE: &str = "received";

/// What receiving would come to.
#[derive(Debug, Default)]
pub struct Received {
    /// Families that are new, with their number of pictures.
    pub new: Vec<(String, usize)>,
    /// Families of one's own that get pictures.
    pub more: Vec<(String, usize)>,
    /// Pictures that the library has already.
    pub known: usize,
    /// What differs, and what becomes of it.
    pub conflicts: Vec<String>,
    /// Records of makers and lines that are new.
    pub records: usize,
}

impl Received {
    pub fn brings_nothing(&self, draft: &Draft) -> bool {
        draft.steps.is_empty()
    }
}

/// Plans to take in what `theirs` has, a library that lies in a folder of its own.
///
/// # Errors
/// Where something cannot be read, or one's own mark.toml cannot be changed.
pub fn receive(
    ours: &Library,
    theirs: &Library,
    what: &str,
) -> Result<(Draft, Received), ChangeError> {
    let mut taking = Taking {
        ours,
        theirs,
        known: contents(ours)?,
        draft: Draft::of(Kind::Receive, what.to_owned()),
        made: Vec::new(),
        told: Received::default(),
    };
    for maker in theirs.makers.keys() {
        taking.records(maker)?;
    }
    for family in theirs.families.values() {
        taking.family(family)?;
    }
    Ok((taking.draft, taking.told))
}

/// The families that have each picture, by its hash and by that of what is left of it when it leaves.
fn contents(library: &Library) -> Result<BTreeMap<ContentHash, Vec<FamilyId>>, ChangeError> {
    let mut known: BTreeMap<ContentHash, Vec<FamilyId>> = BTreeMap::new();
    for family in library.families.values() {
        for exemplar in &family.exemplars {
            let bytes = fs::read(&exemplar.path).map_err(fail(&exemplar.path, "read"))?;
            let mut note = |bytes: &[u8]| {
                let families = known.entry(ContentHash::of(bytes)).or_default();
                families.push(family.id.clone());
            };
            note(&bytes);
            if let Ok(bare) = stripped(&bytes) {
                note(&bare.bytes);
            }
        }
    }
    Ok(known)
}

struct Taking<'l> {
    ours: &'l Library,
    theirs: &'l Library,
    known: BTreeMap<ContentHash, Vec<FamilyId>>,
    draft: Draft,
    /// Folders that the draft makes.
    made: Vec<String>,
    told: Received,
}

impl Taking<'_> {
    fn folder(&mut self, at: &str) {
        if !self.ours.root.join(at).is_dir() && !self.made.iter().any(|m| m == at) {
            self.draft.folder(at.to_owned());
            self.made.push(at.to_owned());
        }
    }

    /// The records of a maker and its lines.
    fn records(&mut self, maker: &str) -> Result<(), ChangeError> {
        let mut files: Vec<String> = [MAKER_FILE, CODES_FILE].map(str::to_owned).to_vec();
        let lines = self.theirs.makers.get(maker).map(|m| &m.lines);
        let names = lines.into_iter().flat_map(BTreeMap::keys);
        files.extend(names.map(|line| format!("{LINES}/{line}.toml")));
        for file in files {
            let at = format!("{maker}/{file}");
            let from = self.theirs.root.join(&at);
            if !from.is_file() {
                continue;
            }
            self.folder(maker);
            if file.starts_with(LINES) {
                self.folder(&format!("{maker}/{LINES}"));
            }
            match self.ours.root.join(&at).exists() {
                true => self.beside(&at, &from)?,
                false => {
                    self.draft.put(at, Content::CopyOf(from));
                    self.told.records += 1;
                }
            }
        }
        Ok(())
    }

    /// Lays a file beside one's own of the same name, where it differs and does not lie there already.
    fn beside(&mut self, at: &str, from: &Path) -> Result<(), ChangeError> {
        let read = |path: &Path| fs::read(path).map_err(fail(path, "read"));
        let (own, new) = (self.ours.root.join(at), read(from)?);
        if read(&own)? == new {
            return Ok(());
        }
        let number = |n: u32| match n {
            1 => format!("{at}.{BESIDE}"),
            n => format!("{at}.{BESIDE}-{n}"),
        };
        for name in (1..).map(number) {
            let path = self.ours.root.join(&name);
            if !is_there(&path) {
                let told = format!("{at} differs: theirs is laid beside it, as {name}");
                self.told.conflicts.push(told);
                self.draft.put(name, Content::Bytes(new));
                break;
            }
            if read(&path)? == new {
                break;
            }
        }
        Ok(())
    }

    fn family(&mut self, family: &Family) -> Result<(), ChangeError> {
        let was = family.record.was.iter();
        let was = was.filter_map(|id| FamilyId::parse(id).ok());
        let mut ids = std::iter::once(family.id.clone()).chain(was);
        let ours = self.ours;
        let own = ids.find_map(|id| ours.find(&id));
        let mut fresh: Vec<&Exemplar> = Vec::new();
        let mut elsewhere: Vec<FamilyId> = Vec::new();
        for exemplar in &family.exemplars {
            let bytes = fs::read(&exemplar.path).map_err(fail(&exemplar.path, "read"))?;
            match self.known.get(&ContentHash::of(&bytes)) {
                Some(others) if own.is_some_and(|o| others.contains(&o.id)) => self.told.known += 1,
                Some(others) => elsewhere.extend(others.first().cloned()),
                None if fresh.iter().any(|e| e.path == exemplar.path) => {}
                None => fresh.push(exemplar),
            }
        }
        elsewhere.sort();
        elsewhere.dedup();
        for other in &elsewhere {
            self.told.conflicts.push(format!(
                "pictures that they have in {} are in {other} here: they stay there",
                family.id
            ));
        }
        match own {
            Some(own) => self.known_family(own, family, &fresh),
            // All of it is here under another name.
            None if fresh.is_empty() && !elsewhere.is_empty() => Ok(()),
            None => self.new_family(family, &fresh),
        }
    }

    fn new_family(&mut self, family: &Family, fresh: &[&Exemplar]) -> Result<(), ChangeError> {
        if let Err(why) = refuse_taken(self.ours, &family.id) {
            self.told
                .conflicts
                .push(format!("{} is left out: {why}", family.id));
            return Ok(());
        }
        self.told.new.push((family.id.to_string(), fresh.len()));
        self.draft.brings.push(family.id.to_string());
        self.folder(family.id.maker());
        self.folder(family.id.as_str());
        let theirs = family.id.folder(&self.theirs.root);
        let mut text = MarkText::read(&theirs.join(MARK_FILE), &family.name)?;
        // What is said of pictures that stay where they are here goes.
        for exemplar in &family.exemplars {
            if !fresh.iter().any(|e| e.path == exemplar.path) {
                text.take_images(&inside(&theirs, &exemplar.path)?)?;
            }
        }
        for exemplar in fresh {
            let file = inside(&theirs, &exemplar.path)?;
            self.variant_folder(&family.id, &file);
            let content = Content::CopyOf(exemplar.path.clone());
            self.draft.put(format!("{}/{file}", family.id), content);
        }
        let at = format!("{}/{MARK_FILE}", family.id);
        self.draft.put(at, Content::Bytes(text.bytes()));
        for file in records_of(family, &theirs) {
            self.variant_folder(&family.id, &file);
            let content = Content::CopyOf(theirs.join(&file));
            self.draft.put(format!("{}/{file}", family.id), content);
        }
        Ok(())
    }

    fn variant_folder(&mut self, id: &FamilyId, file: &str) {
        if let Some((variant, _)) = file.split_once('/') {
            self.folder(&format!("{id}/{variant}"));
        }
    }

    fn known_family(
        &mut self,
        own: &Family,
        family: &Family,
        fresh: &[&Exemplar],
    ) -> Result<(), ChangeError> {
        let theirs = family.id.folder(&self.theirs.root);
        let ours = own.id.folder(&self.ours.root);
        if own.id != family.id {
            self.told.conflicts.push(format!(
                "they call it {}: what it brings goes to {}",
                family.id, own.id
            ));
        }
        let keys = differing(&own.record, &family.record);
        if !keys.is_empty() {
            let at = format!("{}/{MARK_FILE}", own.id);
            let before = self.told.conflicts.len();
            if ours.join(MARK_FILE).is_file() && theirs.join(MARK_FILE).is_file() {
                self.beside(&at, &theirs.join(MARK_FILE))?;
            }
            if let Some(told) = self.told.conflicts.get_mut(before) {
                *told += &format!(" ({})", keys.join("; "));
            }
        }
        for file in records_of(family, &theirs) {
            let at = format!("{}/{file}", own.id);
            self.variant_folder(&own.id, &file);
            match ours.join(&file).exists() {
                true => self.beside(&at, &theirs.join(&file))?,
                false => self.draft.put(at, Content::CopyOf(theirs.join(&file))),
            }
        }
        if fresh.is_empty() {
            return Ok(());
        }
        self.told.more.push((own.id.to_string(), fresh.len()));
        let mut text = MarkText::read(&ours.join(MARK_FILE), &own.name)?;
        let mut other = MarkText::read(&theirs.join(MARK_FILE), &family.name)?;
        let mut taken = Vec::new();
        for exemplar in fresh {
            let file = inside(&theirs, &exemplar.path)?;
            self.variant_folder(&own.id, &file);
            let to = free_name(&ours, &file, &mut taken);
            let said = other.take_images(&file)?;
            if !said.is_empty() {
                text.add_images(&said, &to)?;
            }
            let content = Content::CopyOf(exemplar.path.clone());
            self.draft.put(format!("{}/{to}", own.id), content);
        }
        replace_mark(&mut self.draft, self.ours, own.id.as_str(), &text);
        Ok(())
    }
}

/// The files of codes and of variants in a family's folder.
fn records_of(family: &Family, folder: &Path) -> Vec<String> {
    let variants = family.variants.keys().map(|v| format!("{v}/{MARK_FILE}"));
    let all = std::iter::once(CODES_FILE.to_owned()).chain(variants);
    all.filter(|file| folder.join(file).is_file()).collect()
}

fn inside(folder: &Path, path: &Path) -> Result<String, ChangeError> {
    let bad = || ChangeError::BadName {
        path: path.to_owned(),
    };
    let inside = path.strip_prefix(folder).map_err(|_| bad())?;
    let parts: Option<Vec<&str>> = inside.iter().map(|part| part.to_str()).collect();
    parts.map(|parts| parts.join("/")).ok_or_else(bad)
}

/// What two records of one family say otherwise, as `used: 1950, theirs 1951`.
fn differing(own: &MarkRecord, other: &MarkRecord) -> Vec<String> {
    let text = |t: &Option<String>| t.clone().unwrap_or_default();
    let date = |r: &MarkRecord| r.used.as_ref().map(ToString::to_string);
    let said = |r: &MarkRecord| {
        [
            ("name", text(&r.name)),
            ("role", r.role.word().to_owned()),
            (
                "means",
                r.means.map_or_else(String::new, |m| m.word().to_owned()),
            ),
            ("used", text(&date(r))),
            ("ink", text(&r.ink)),
            ("line", r.lines.join(", ")),
            ("notes", r.notes.join(" ")),
            ("sources", r.sources.join("; ")),
        ]
    };
    let pairs = said(own).into_iter().zip(said(other));
    let unlike = pairs.filter(|(a, b)| a.1 != b.1 && !b.1.is_empty());
    unlike
        .map(|((key, a), (_, b))| match a.is_empty() {
            true => format!("{key}: nothing, theirs {b}"),
            false => format!("{key}: {a}, theirs {b}"),
        })
        .collect()
}

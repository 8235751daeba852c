//! A workspace opened for a command, with its library.

use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use super::remarks::tell_remarks;
use crate::console::warning;
use crate::decision::{ContentHash, Moment};
use crate::failure::Failure;
use crate::identify;
use crate::library::{self, FamilyId, FileCache, Library, Listing};
use crate::references::References;
use crate::report::{FamilyName, Names, Sheet, Shot};
use crate::workspace::{
    Cache, CacheKey, Sighting, Workspace, WorkspaceError, readable_file_name, readable_path,
};

impl From<WorkspaceError> for Failure {
    fn from(error: WorkspaceError) -> Self {
        Self::new(&error, error.hint())
    }
}

/// Which remarks on the library a command tells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Remarks {
    /// All: the command works with the library.
    All,
    /// What is lost only: the person heard the rest at the intake.
    Errors,
}

pub(crate) struct Opened {
    pub(crate) workspace: Workspace,
    pub(crate) library: Library,
    pub(crate) cache: Cache,
    /// Something of the library or the journal could not be read.
    pub(crate) gaps: bool,
    remarks: Remarks,
    /// `--workspace DIR` as given, for the commands that are proposed.
    given: Option<PathBuf>,
    listing: OnceLock<Listing>,
}

impl Opened {
    /// Opens the workspace at `given`, or the nearest one from the current folder upward, and
    /// tells what is wrong in it.
    pub(crate) fn new(given: Option<&Path>, tell: Remarks) -> Result<Self, Failure> {
        let root = match given {
            Some(root) => root.to_owned(),
            None => Workspace::find(Path::new("."))?,
        };
        let (workspace, warnings) = Workspace::open(&root)?;
        for told in &warnings {
            warning(told);
        }
        let (cache, emptied) = Cache::open(&workspace.cache())?;
        if let Some(told) = emptied {
            warning(&told);
        }
        let (library, remarks) = library::load(&workspace.library()).map_err(|e| {
            let next = format!(
                "`footring init {}` makes the folder again",
                quoted(&root.to_string_lossy())
            );
            Failure::new(&e, Some(next))
        })?;
        Ok(Self {
            gaps: told(tell, remarks),
            remarks: tell,
            workspace,
            library,
            cache,
            given: given.map(Path::to_owned),
            listing: OnceLock::new(),
        })
    }

    /// The library's exemplars, ready to be matched.
    pub(crate) fn references(&mut self, jobs: usize) -> References {
        let kept = FileCache::of_user();
        let kept = kept.as_ref().map(|c| c as &dyn library::ExemplarCache);
        let (references, remarks) = library::prepare(&self.library, kept, jobs);
        self.gaps |= told(self.remarks, remarks);
        references
    }

    /// The library as far as answers depend on it, as it was when it was first asked for.
    pub(super) fn listing(&self) -> &Listing {
        self.listing.get_or_init(|| Listing::of(&self.library))
    }

    /// What answers depend on now.
    pub(crate) fn key(&self) -> CacheKey {
        CacheKey {
            engine: identify::engine_version(),
            library: self.listing().fingerprint(),
        }
    }

    /// A lot with everything that is known of its photos.
    pub(crate) fn sheet(&self, lot: &str, key: &CacheKey) -> Result<Sheet, Failure> {
        let lot = self.workspace.lot(lot)?;
        let shots = self
            .workspace
            .photos(&lot.name)?
            .into_iter()
            .map(|s| self.shot(s, key))
            .collect::<Result<Vec<Shot>, WorkspaceError>>()?;
        let history = self.workspace.history()?;
        let follow = |id: &str| self.follow(id);
        Ok(Sheet::new(
            &lot,
            shots,
            &history,
            names(&self.library),
            &follow,
        ))
    }

    fn shot(&self, sighting: Sighting, key: &CacheKey) -> Result<Shot, WorkspaceError> {
        let answered = self.cache.answer(&sighting.hash, key)?;
        Ok(Shot {
            name: readable_file_name(&sighting.path),
            path: readable_path(&sighting.path),
            hash: sighting.hash,
            taken: sighting.taken,
            current: answered.as_ref().is_some_and(|a| a.current),
            answer: answered.map(|a| a.answer),
        })
    }

    /// The id that a family has now; the same where the library does not know it.
    pub(crate) fn follow(&self, id: &str) -> String {
        FamilyId::parse(id)
            .ok()
            .and_then(|id| self.library.find(&id))
            .map_or_else(|| id.to_owned(), |family| family.id.to_string())
    }

    /// A file of the photo that still has its content, if any is in reach.
    pub(crate) fn original(&self, photo: &ContentHash) -> Option<Vec<u8>> {
        self.original_file(photo).map(|(_, bytes)| bytes)
    }

    /// Where that file is.
    pub(crate) fn original_path(&self, photo: &ContentHash) -> Option<PathBuf> {
        self.original_file(photo).map(|(path, _)| path)
    }

    fn original_file(&self, photo: &ContentHash) -> Option<(PathBuf, Vec<u8>)> {
        let places = self.workspace.sightings_of(photo).ok()?;
        places.into_iter().find_map(|place| {
            let bytes = std::fs::read(&place.path).ok()?;
            (ContentHash::of(&bytes) == *photo).then_some((place.path, bytes))
        })
    }

    /// A command line to propose, with the workspace where it was named.
    pub(crate) fn command(&self, words: &[&str]) -> String {
        let mut line = "footring".to_owned();
        for word in words {
            line.push(' ');
            line += &quoted(word);
        }
        if let Some(given) = &self.given {
            line += " --workspace ";
            line += &quoted(&given.to_string_lossy());
        }
        line
    }
}

/// How the library calls its families.
pub(crate) fn names(library: &Library) -> Names {
    let named = |(id, family): (&FamilyId, &library::Family)| {
        let maker = library.makers.get(id.maker());
        let name = FamilyName {
            mark: family.name.clone(),
            maker: maker.and_then(|m| m.record.names.first().cloned()),
        };
        (id.to_string(), name)
    };
    library.families.iter().map(named).collect()
}

/// Tells the remarks that the command tells; true where something of the library is lost.
fn told(tell: Remarks, mut remarks: Vec<library::Remark>) -> bool {
    if tell == Remarks::Errors {
        remarks.retain(|r| r.severity() == library::Severity::Error);
    }
    tell_remarks(&remarks)
}

/// The present second.
pub(crate) fn now() -> Moment {
    Moment::new(jiff::Timestamp::now())
}

/// A word as a POSIX shell takes it.
pub(crate) fn quoted(word: &str) -> String {
    let plain = |c: char| c.is_alphanumeric() || "-_./:@%+,=~".contains(c);
    if !word.is_empty() && word.chars().all(plain) && !word.starts_with('~') {
        word.to_owned()
    } else {
        format!("'{}'", word.replace('\'', r"'\''"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_quoted_for_the_shell() {
        assert_eq!(quoted("sale/plate_1.jpg"), "sale/plate_1.jpg");
        assert_eq!(quoted("Mill fair"), "'Mill fair'");
        assert_eq!(quoted("it's $5"), r"'it'\''s $5'");
        assert_eq!(quoted(""), "''");
    }
}

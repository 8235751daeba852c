//! A workspace opened for a command, with its library.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use super::remarks::tell_remarks;
use crate::answer::{PhotoAnswer, Reason, ReasonCode, Verdict};
use crate::console::{hint, warning};
use crate::decision::{ContentHash, History, Moment, Statement};
use crate::failure::Failure;
use crate::identify;
use crate::library::{self, FamilyId, FileCache, Library, Listing};
use crate::references::References;
use crate::report::{FamilyName, Names, Sheet, Shot};
use crate::verdict::model::Model;
use crate::verdict::strangers::Strangers;
use crate::workspace::{
    Cache, CacheKey, Sighting, Workspace, WorkspaceError, other_journals, readable_file_name,
    readable_path, synchronised,
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
    /// From which probability on a family is named, where the person's own photos have told.
    named_at: Option<f64>,
    /// How common marks are that the library does not have, where the person's own lots have told.
    strangers: Option<Strangers>,
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
        if tell == Remarks::All {
            warn_of_copies(workspace.root());
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
        let named_at = library::named_at(&workspace.library());
        let strangers = library::strangers(&workspace.library()).and_then(Strangers::of_share);
        Ok(Self {
            gaps: told(tell, remarks),
            remarks: tell,
            workspace,
            library,
            cache,
            given: given.map(Path::to_owned),
            listing: OnceLock::new(),
            named_at,
            strangers,
        })
    }

    /// The library's exemplars, ready to be matched.
    pub(crate) fn references(&mut self, jobs: usize) -> References {
        let kept = FileCache::of_user();
        let (references, remarks) = library::prepare(&self.library, kept.as_ref(), jobs);
        self.gaps |= told(self.remarks, remarks);
        references
    }

    /// The library as far as answers depend on it, as it was when it was first asked for.
    pub(super) fn listing(&self) -> &Listing {
        self.listing
            .get_or_init(|| Listing::of(&self.library, FileCache::of_user().as_ref()))
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
        let history = self.workspace.history()?;
        let foreign = foreign(&history);
        let shots = self.workspace.photos(&lot.name)?.into_iter();
        let shots = shots.map(|s| {
            let is_foreign = foreign.contains(&s.hash);
            let mut shot = self.shot(s, key)?;
            // Nobody can take it again.
            if let Some(answer) = shot.answer.as_mut().filter(|_| is_foreign) {
                not_again(answer);
            }
            Ok(shot)
        });
        let shots = shots.collect::<Result<Vec<Shot>, WorkspaceError>>()?;
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
            answer: answered.map(|a| self.limited(a.answer)),
        })
    }

    /// From which probability on a family is named.
    pub(crate) fn named_at(&self) -> f64 {
        self.named_at.unwrap_or_else(|| Model::default().named_at)
    }

    /// How common marks are that the library does not have.
    pub(crate) fn strangers(&self) -> Strangers {
        self.strangers.unwrap_or_default()
    }

    /// An answer as the person's own limit and their own lots have it: with a higher limit, or more strangers, fewer marks
    /// are named; with a lower one, or fewer, more are, where no near-twin stands against it.
    fn limited(&self, answer: PhotoAnswer) -> PhotoAnswer {
        let mut answer = self.weighed(answer);
        self.library.tell_of(&mut answer);
        answer
    }

    fn weighed(&self, mut answer: PhotoAnswer) -> PhotoAnswer {
        if self.named_at.is_none() && self.strangers.is_none() {
            return answer;
        }
        let (limit, strangers) = (self.named_at(), self.strangers());
        for mark in &mut answer.marks {
            strangers.weigh(mark, limit);
        }
        let weighed = [Verdict::Named, Verdict::Choose, Verdict::Unknown];
        let best = answer.marks.iter().map(|m| m.verdict).min();
        if let Some(now) = best.filter(|now| *now != answer.verdict && weighed.contains(now))
            && weighed.contains(&answer.verdict)
        {
            answer.verdict = now;
            if let Some(first) = answer.reasons.first_mut() {
                *first = Reason::plain(match now {
                    Verdict::Named => ReasonCode::Aligned,
                    Verdict::Choose => ReasonCode::OneLeads,
                    _ => ReasonCode::NothingFits,
                });
            }
        }
        answer
    }

    /// The id that a family has now; the same where the library does not know it.
    pub(crate) fn follow(&self, id: &str) -> String {
        FamilyId::parse(id)
            .ok()
            .and_then(|id| self.library.find(&id))
            .map_or_else(|| id.to_owned(), |family| family.id.to_string())
    }

    /// Whether a photo is the person's own, and not one of others that they took in to look at.
    pub(crate) fn is_own(&self, photo: &ContentHash) -> Result<bool, Failure> {
        Ok(!self.foreign()?.contains(photo))
    }

    /// The photos that are somebody else's.
    pub(crate) fn foreign(&self) -> Result<BTreeSet<ContentHash>, Failure> {
        Ok(foreign(&self.workspace.history()?))
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

/// The photos that are somebody else's.
fn foreign(history: &History) -> BTreeSet<ContentHash> {
    let said = history.holding();
    let foreign = said.filter(|d| d.statement == Statement::NotMine);
    foreign.filter_map(|d| d.about.photo().cloned()).collect()
}

/// The answer where a better photo cannot be had.
fn not_again(answer: &mut PhotoAnswer) {
    let again = answer.marks.iter_mut().map(|m| &mut m.verdict);
    for verdict in again.chain([&mut answer.verdict]) {
        if *verdict == Verdict::Reshoot {
            *verdict = Verdict::Unknown;
        }
    }
}

/// Warns where another program copies the workspace between computers, and where it left a second journal.
pub(crate) fn warn_of_copies(root: &Path) {
    if let Some(folder) = synchronised(root) {
        warning(&format!(
            "{} is copied between computers: work on one of them at a time, and let the copying end first",
            readable_path(&folder)
        ));
    }
    for journal in other_journals(root) {
        warning(&format!(
            "{} is another journal: what was decided in it is not in this workspace",
            readable_path(&journal)
        ));
        hint(
            &"two computers wrote at once; its lines tell what to decide again here, then move it away",
        );
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

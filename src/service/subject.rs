//! The photo or mark that a person speaks of: found, named back, and what was said of it before.

use std::num::NonZeroUsize;
use std::path::Path;

use super::opened::Opened;
use crate::answer::MarkAnswer;
use crate::console::print;
use crate::decision::{
    About, Attachment, ContentHash, Decision, History, MIN_OVERLAP, Region, Statement, Topic,
    about_photo, attach,
};
use crate::failure::Failure;
use crate::geometry::{Photo, Quad};
use crate::report::say_decision;
use crate::workspace::{CacheKey, WorkspaceError, readable_file_name};

/// A photo with its marks and what was said of them.
pub(crate) struct Subject {
    pub(crate) photo: ContentHash,
    pub(crate) name: String,
    pub(crate) marks: Vec<MarkAnswer>,
    pub(crate) history: History,
}

/// Whether something said without `--mark` may be about the photo as a whole, though it has marks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Whole {
    Allowed,
    OnlyWithoutMarks,
}

impl Subject {
    /// The photo that a person means, with all that is known of it.
    pub(crate) fn find(opened: &Opened, given: &Path) -> Result<Self, Failure> {
        let photo = opened.workspace.find_photo(given)?;
        Self::of(opened, photo).map_err(Failure::from)
    }

    /// A photo by its content.
    pub(crate) fn of(opened: &Opened, photo: ContentHash) -> Result<Self, WorkspaceError> {
        Self::of_key(opened, photo, &opened.key())
    }

    /// The same where what answers depend on is known already.
    pub(crate) fn of_key(
        opened: &Opened,
        photo: ContentHash,
        key: &CacheKey,
    ) -> Result<Self, WorkspaceError> {
        let answered = opened.cache.answer(&photo, key)?;
        let places = opened.workspace.sightings_of(&photo)?;
        Ok(Self {
            name: places
                .first()
                .map_or_else(|| photo.short().to_owned(), |s| readable_file_name(&s.path)),
            marks: answered.map_or_else(Vec::new, |a| a.answer.marks),
            history: opened.workspace.history()?,
            photo,
        })
    }

    pub(crate) fn quads(&self) -> Vec<Quad<Photo>> {
        let quad = |m: &MarkAnswer| Quad::from_array(m.quad);
        self.marks.iter().map(quad).collect()
    }

    /// The decisions on the photo that hold, and to which of its marks they belong.
    pub(crate) fn own(&self) -> (Vec<&Decision>, Attachment) {
        let own = about_photo(self.history.holding(), &self.photo);
        let attachment = attach(&own, &self.quads());
        (own, attachment)
    }

    /// The mark named by `--mark`, counted from 0.
    pub(crate) fn marked(&self, mark: Option<NonZeroUsize>) -> Result<Option<usize>, Failure> {
        let Some(n) = mark else {
            return Ok(None);
        };
        match self.marks.len() {
            0 => Err(Failure::new(
                &format!("no mark was found in {}", self.name),
                Some("leave `--mark` away to decide on the whole photo".to_owned()),
            )),
            found if n.get() > found => Err(Failure::new(
                &format!("{} has {found} marks, no mark {n}", self.name),
                Some("the report counts the marks of a photo from 1".to_owned()),
            )),
            _ => Ok(Some(n.get() - 1)),
        }
    }

    /// The mark that is meant, or the whole photo.
    pub(crate) fn about(&self, mark: Option<NonZeroUsize>, whole: Whole) -> Result<About, Failure> {
        let of_mark = |at: usize| {
            let region = Region::new(&Quad::from_array(self.marks[at].quad));
            About::Mark(self.photo.clone(), region)
        };
        match (self.marked(mark)?, self.marks.len()) {
            (Some(at), _) => Ok(of_mark(at)),
            (None, _) if whole == Whole::Allowed => Ok(About::Photo(self.photo.clone())),
            (None, 0) => Ok(About::Photo(self.photo.clone())),
            (None, 1) => Ok(of_mark(0)),
            (None, found) => Err(Failure::new(
                &format!("{} has {found} marks: say which one by `--mark`", self.name),
                Some(list_marks(&self.marks)),
            )),
        }
    }

    /// The mark that something is about, counted from 0; `None` for the whole photo.
    pub(crate) fn mark_of(&self, about: &About) -> Option<usize> {
        let region = about.region()?;
        let same = |m: &MarkAnswer| Region::new(&Quad::from_array(m.quad)) == *region;
        self.marks.iter().position(same)
    }

    /// The decision on the same subject and topic that a new one takes the place of.
    pub(crate) fn replaced<'a>(
        &self,
        about: &About,
        topic: &Topic,
        own: &[&'a Decision],
        attachment: &Attachment,
    ) -> Option<&'a Decision> {
        let numbers = match about {
            About::Mark(..) => &attachment.of_mark[self.mark_of(about)?],
            About::Photo(_) | About::Piece(_) => &attachment.of_photo,
        };
        own.iter()
            .copied()
            .filter(|d| numbers.contains(&d.number))
            .rfind(|d| d.statement.topic().as_ref() == Some(topic))
    }

    /// Prints what was decided and what it took the place of; `more` stands behind the statement.
    pub(crate) fn tell(&self, decision: &Decision, more: &str) -> Result<(), Failure> {
        let earlier = decision.replaces.and_then(|n| self.history.get(n));
        let place = self.place(decision);
        let mut line = format!("{place}: {}{more}", say_decision(decision));
        match (&decision.statement, earlier) {
            (Statement::Undo, Some(taken_back)) => {
                line = format!("{place}: taken back: {}", say_decision(taken_back));
                let before = taken_back.replaces.and_then(|n| self.history.get(n));
                line += &before.map_or_else(String::new, |d| {
                    format!("; holds again: {}", say_decision(d))
                });
            }
            (_, Some(earlier)) => line += &format!(", in place of {}", say_decision(earlier)),
            (_, None) => {}
        }
        line += &format!(" (number {})", decision.number);
        print(|out| writeln!(out, "{line}"))
    }

    /// `IMG_2031.jpg`, or `IMG_2031.jpg, mark 2`.
    pub(crate) fn place(&self, decision: &Decision) -> String {
        let Some(region) = decision.about.region() else {
            return self.name.clone();
        };
        let quads = self.quads();
        let overlap = |at: usize| region.quad().overlap(&quads[at]);
        let best = (0..quads.len()).max_by(|&a, &b| overlap(a).total_cmp(&overlap(b)));
        match best {
            Some(at) if overlap(at) >= MIN_OVERLAP => format!("{}, mark {}", self.name, at + 1),
            _ => format!("{}, a mark not found now", self.name),
        }
    }
}

fn list_marks(marks: &[MarkAnswer]) -> String {
    let say = |(at, mark): (usize, &MarkAnswer)| {
        let best = mark.candidates.first().map(|c| format!(" ({})", c.family));
        format!(
            "{} {}{}",
            at + 1,
            mark.verdict.word(),
            best.unwrap_or_default()
        )
    };
    marks
        .iter()
        .enumerate()
        .map(say)
        .collect::<Vec<_>>()
        .join(", ")
}

//! A lot as a sheet to look through: what was found, what the person said, in a fixed order.
//!
//! Pure: records in, text, HTML or CSV out. Pictures are made by the caller with [`frame`].

mod book;
mod check;
mod codes;
pub mod copies;
mod evidence;
mod eye;
pub mod frame;
mod html;
mod piles;
mod strangers;
mod table;
mod text;
mod words;

#[cfg(test)]
mod tests;

use std::collections::BTreeMap;
use std::ops::Range;

pub use book::{BookFamily, BookMaker, book_page};
pub use check::{CheckPage, Pair, Rate, check_page};
pub use codes::{code_quad, readings, say_against, say_look, say_made, say_reading};
pub use evidence::say_evidence;
pub use eye::{EyeFamily, EyePictures, EyeRow, Legend, Task, eye_page};
pub use html::{Figure, RowPictures, html};
pub(crate) use html::{capitalised, image};
pub use piles::{AgainRow, Obstacles, Pile, again_page};
pub use strangers::{Likely, StrangerGroup, StrangerMark, strangers_page, write_strangers};
pub(crate) use table::defused;
pub use table::write_csv;
pub use text::write_text;
pub use words::{
    CAUTIONS, counts_line, file_stem, heading, per_cent, photos, say_decision, what_next,
};

use crate::answer::{Candidate, MarkAnswer, PhotoAnswer, Quality, Reason, Verdict};
use crate::decision::{
    Attachment, ContentHash, Decision, History, Statement, Topic, about_photo, attach,
};
use crate::geometry::Quad;

/// A photo of the lot and the last answer about it.
#[derive(Debug, Clone)]
pub struct Shot {
    pub hash: ContentHash,
    /// File name, readable.
    pub name: String,
    /// Whole path, readable.
    pub path: String,
    pub taken: Option<String>,
    /// `None` where it was never looked at, or the cache was deleted.
    pub answer: Option<PhotoAnswer>,
    /// Whether the answer was given by the current engine and library.
    pub current: bool,
}

/// How a family is called.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct FamilyName {
    pub mark: String,
    pub maker: Option<String>,
}

/// Names by family id.
pub type Names = BTreeMap<String, FamilyName>;

/// One mark, or one photo in which none was found.
#[derive(Debug, Clone)]
pub struct Row {
    /// Index into [`Sheet::shots`].
    pub shot: usize,
    /// Index into the answer's marks.
    pub mark: Option<usize>,
    /// How many marks the photo has.
    pub marks_in_photo: usize,
    /// What the program says.
    pub verdict: Option<Verdict>,
    /// What holds: the person's word where there is one, else the program's.
    pub holds: Verdict,
    /// The person's decision.
    pub decision: Option<Decision>,
    /// What the person said of its date code.
    pub code: Option<Decision>,
    /// The family that holds, if one does.
    pub family: Option<String>,
}

/// What is shown beside a photo.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Beside<'a> {
    /// An exemplar that the program laid over the photo.
    Fitted(&'a Candidate),
    /// A family that the person named and the program did not lay over the photo.
    Decided(&'a str),
}

impl Beside<'_> {
    pub fn family(&self) -> &str {
        match self {
            Self::Fitted(candidate) => &candidate.family,
            Self::Decided(family) => family,
        }
    }
}

/// A decision whose mark was not found this time.
#[derive(Debug, Clone)]
pub struct Unattached {
    pub shot: usize,
    pub decision: Decision,
}

/// A lot, ready to be written.
#[derive(Debug, Clone)]
pub struct Sheet {
    pub lot: String,
    pub date: Option<String>,
    pub place: Option<String>,
    pub shots: Vec<Shot>,
    /// Grouped by what holds, then by family, then in the lot's order.
    pub rows: Vec<Row>,
    pub unattached: Vec<Unattached>,
    pub names: Names,
}

/// The order of groups: what is settled, what needs a look, what needs a hand.
pub const GROUPS: [Verdict; 7] = [
    Verdict::Named,
    Verdict::Choose,
    Verdict::Unknown,
    Verdict::Reshoot,
    Verdict::NoMark,
    Verdict::NotUnderside,
    Verdict::NotAPicture,
];

impl Sheet {
    /// Lays the rows of a lot out. `follow` gives the id that a family has now.
    pub fn new(
        lot: &crate::workspace::Lot,
        shots: Vec<Shot>,
        history: &History,
        names: Names,
        follow: &dyn Fn(&str) -> String,
    ) -> Self {
        let holding: Vec<&Decision> = history.holding().collect();
        let mut rows = Vec::new();
        let mut unattached = Vec::new();
        for (at, shot) in shots.iter().enumerate() {
            let own = about_photo(holding.iter().copied(), &shot.hash);
            let attachment = attach(&own, &quads(shot.answer.as_ref()));
            rows.extend(rows_of(at, shot, &attachment, &own));
            let loose = own
                .iter()
                .filter(|d| attachment.unattached.contains(&d.number))
                // What the program once said of it is nothing to be found again.
                .filter(|d| d.statement.topic() != Some(Topic::Suggestion));
            unattached.extend(loose.map(|d| Unattached {
                shot: at,
                decision: (*d).clone(),
            }));
        }
        for family in rows.iter_mut().filter_map(|r| r.family.as_mut()) {
            *family = follow(family);
        }
        let group = |v: Verdict| GROUPS.iter().position(|&g| g == v);
        // Stable: within a family the lot's order stays.
        rows.sort_by(|a, b| {
            let key = |r: &Row| (group(r.holds), r.family.is_none());
            key(a).cmp(&key(b)).then_with(|| a.family.cmp(&b.family))
        });
        Self {
            lot: crate::workspace::readable(&lot.name),
            date: lot.date.as_deref().map(crate::workspace::readable),
            place: lot.place.as_deref().map(crate::workspace::readable),
            shots,
            rows,
            unattached,
            names,
        }
    }

    pub fn shot(&self, row: &Row) -> &Shot {
        &self.shots[row.shot]
    }

    /// The mark of a row, as answered.
    pub fn mark(&self, row: &Row) -> Option<&MarkAnswer> {
        self.shot(row).answer.as_ref()?.marks.get(row.mark?)
    }

    pub fn reasons(&self, row: &Row) -> &[Reason] {
        self.shot(row)
            .answer
            .as_ref()
            .map_or(&[], |a| a.reasons.as_slice())
    }

    pub fn quality(&self, row: &Row) -> Option<&Quality> {
        self.shot(row).answer.as_ref()?.quality.as_ref()
    }

    /// What is worth showing beside a row's photo: the family that holds, else the best ones.
    pub fn shown<'a>(&'a self, row: &'a Row) -> Vec<Beside<'a>> {
        let Some(mark) = self.mark(row) else {
            return Vec::new();
        };
        let many = match row.holds {
            Verdict::Choose => CHOICES_SHOWN,
            _ => 1,
        };
        if let (Verdict::Named, Some(family)) = (row.holds, &row.family) {
            let fitted = mark.candidates.iter().find(|c| c.family == *family);
            return vec![fitted.map_or(Beside::Decided(family), Beside::Fitted)];
        }
        if row.holds == Verdict::Unknown && mark.none >= SURELY_NONE {
            return Vec::new();
        }
        let best = mark.candidates.iter().take(many);
        best.map(Beside::Fitted).collect()
    }

    /// Which rows belong to each group that has any.
    pub fn groups(&self) -> Vec<(Verdict, Range<usize>)> {
        let mut groups = Vec::new();
        let mut from = 0;
        for rows in self.rows.chunk_by(|a, b| a.holds == b.holds) {
            groups.push((rows[0].holds, from..from + rows.len()));
            from += rows.len();
        }
        groups
    }

    /// How many rows each group has.
    pub fn counts(&self) -> Vec<(Verdict, usize)> {
        let groups = self.groups();
        groups
            .into_iter()
            .map(|(v, rows)| (v, rows.len()))
            .collect()
    }

    /// Name of a family as a person says it; the id where the library has no name for it.
    pub fn family_name(&self, id: &str) -> String {
        family_name(&self.names, id)
    }
}

/// Name of a family as a person says it; the id where there is no name for it.
pub fn family_name(names: &Names, id: &str) -> String {
    match names.get(id) {
        Some(FamilyName {
            mark,
            maker: Some(maker),
        }) if !mark.contains(maker.as_str()) => format!("{mark}, {maker}"),
        Some(FamilyName { mark, .. }) => mark.clone(),
        None => id.to_owned(),
    }
}

/// Exemplars shown beside a photo that several families fit. Three pairs are as many as fit a
/// printed page's width at a size at which letters can be told apart.
pub const CHOICES_SHOWN: usize = 3;

/// Probability of "not in this library" from which no family is shown beside a photo: it would only mislead.
const SURELY_NONE: f64 = 0.99;

fn quads(answer: Option<&PhotoAnswer>) -> Vec<Quad<crate::geometry::Photo>> {
    answer.map_or_else(Vec::new, |a| {
        a.marks.iter().map(|m| Quad::from_array(m.quad)).collect()
    })
}

fn rows_of(at: usize, shot: &Shot, attachment: &Attachment, own: &[&Decision]) -> Vec<Row> {
    let marks = shot.answer.as_ref().map_or(&[][..], |a| a.marks.as_slice());
    if marks.is_empty() {
        let decision = attachment.of_photo_on(&Topic::Identity, own);
        let code = attachment.of_photo_on(&Topic::DateCode, own);
        let verdict = shot.answer.as_ref().map(|a| a.verdict);
        let row = row(at, None, 0, verdict, decision, None);
        return vec![Row {
            code: code.cloned(),
            ..row
        }];
    }
    marks
        .iter()
        .enumerate()
        .map(|(m, mark)| {
            let decision = attachment.of_mark_on(m, &Topic::Identity, own);
            let best = mark.candidates.first().map(|c| c.family.as_str());
            let code = attachment.of_mark_on(m, &Topic::DateCode, own);
            let row = row(at, Some(m), marks.len(), Some(mark.verdict), decision, best);
            Row {
                code: code.cloned(),
                ..row
            }
        })
        .collect()
}

fn row(
    shot: usize,
    mark: Option<usize>,
    marks_in_photo: usize,
    verdict: Option<Verdict>,
    decision: Option<&Decision>,
    best: Option<&str>,
) -> Row {
    let answered = verdict.unwrap_or(Verdict::Unknown);
    let (holds, family) = match decision.map(|d| &d.statement) {
        Some(Statement::Family(family)) => (Verdict::Named, Some(family.clone())),
        Some(Statement::Unknown) => (Verdict::Unknown, None),
        Some(Statement::NoMark) => (Verdict::NoMark, None),
        Some(Statement::Again) => (Verdict::Reshoot, None),
        // Nothing of another topic is asked for.
        Some(_) | None => {
            let settled = matches!(answered, Verdict::Named | Verdict::Choose);
            (answered, best.filter(|_| settled).map(str::to_owned))
        }
    };
    Row {
        shot,
        mark,
        marks_in_photo,
        verdict,
        holds,
        decision: decision.cloned(),
        code: None,
        family,
    }
}

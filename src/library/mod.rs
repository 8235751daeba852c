//! The person's own library of marks: plain folders and files, read as they are.
//!
//! `<maker>/maker.toml`, `<maker>/lines/<line>.toml` and `<maker>/<family>/mark.toml` are records of
//! three different things; the pictures beside a mark.toml are its exemplars. Files whose names
//! begin with a dot are none of ours.

mod adopt;
mod arrays;
mod away;
mod cache;
pub mod change;
mod codes;
mod contents;
mod edit;
mod edtf;
mod facts;
mod fields;
mod id;
mod keys;
mod known;
mod limits;
mod listing;
mod load;
mod prepare;
mod read_facts;
mod records;
mod remark;
mod said;
mod sayable;
pub mod share;
mod written;

#[cfg(test)]
mod cache_tests;
#[cfg(test)]
mod tests;

pub use adopt::{Adopted, Adoption, LeftOut, slug, survey};
pub use cache::{FileCache, exemplar_key};
pub use codes::{CODES_FILE, CodeSchemes, bounds, code_book, load_code_schemes};
pub use edit::EditError;
pub use edtf::Edtf;
pub use facts::{
    BorrowFact, Conditions, DecorationFact, Facts, FormFact, Habit, PairFact, number_fits,
};
pub use fields::{Column, Field, Holds, LINE_FIELDS, MAKER_FIELDS, Shape};
use id::plain_name;
pub use id::{FamilyId, LINES, NotAnId};
pub use limits::{named_at, set_named_at, set_strangers, strangers};
pub use listing::{Changes, Listing};
pub use load::{LoadError, load};
pub use prepare::prepare;
pub use records::{
    ImageRecord, LineRecord, MakerRecord, MarkRecord, Plant, StampRole, read_line, read_maker,
    read_mark,
};
pub use remark::{Remark, Severity, Trouble};
pub use written::{Written, WrittenEntry, Wrong};

use std::collections::BTreeMap;
use std::path::PathBuf;

use crate::geometry::{Photo, Quad};

/// A library as it stands on disk, in the order of its folders' names.
#[derive(Debug, Default)]
pub struct Library {
    pub root: PathBuf,
    /// By folder name.
    pub makers: BTreeMap<String, Maker>,
    pub families: BTreeMap<FamilyId, Family>,
    /// Old ids and the families that took them over.
    renamed: BTreeMap<FamilyId, FamilyId>,
}

/// A maker's folder.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Maker {
    /// Empty where there is no maker.toml.
    pub record: MakerRecord,
    /// By file name without its ending.
    pub lines: BTreeMap<String, LineRecord>,
}

/// A stamp family's folder.
#[derive(Debug, Clone, PartialEq)]
pub struct Family {
    pub id: FamilyId,
    /// From mark.toml, or the folder's name.
    pub name: String,
    /// Empty where there is no mark.toml.
    pub record: MarkRecord,
    /// By folder name; a variant named by an `[[image]]` alone has an empty record.
    pub variants: BTreeMap<String, MarkRecord>,
    /// Sorted by path.
    pub exemplars: Vec<Exemplar>,
}

/// A picture of a family.
#[derive(Debug, Clone, PartialEq)]
pub struct Exemplar {
    pub path: PathBuf,
    pub variant: Option<String>,
    /// Where the mark is in the upright picture; without it the mark is looked for.
    pub quad: Option<Quad<Photo>>,
    pub source: Option<String>,
    /// Content hash of the photo that it was cut from.
    pub photo: Option<String>,
    /// Whom to name beside the picture, and by what right it may be passed on.
    pub credit: Option<String>,
    pub licence: Option<String>,
}

impl Library {
    /// The family of this id, or the one that took it over by `was`.
    ///
    /// A family that still has a folder keeps its id, so no chain of `was` can run in a circle:
    /// old ids lead to living families in one step.
    pub fn find(&self, id: &FamilyId) -> Option<&Family> {
        self.families
            .get(id)
            .or_else(|| self.families.get(self.renamed.get(id)?))
    }

    /// `maker/line` of a line as a maker's files name it: `line`, or `other-maker/line`.
    pub fn line_id(&self, maker: &str, line: &str) -> String {
        match line.contains('/') {
            true => line.to_owned(),
            false => format!("{maker}/{line}"),
        }
    }

    /// The record of a line, by `maker/line`.
    pub fn line(&self, id: &str) -> Option<&LineRecord> {
        let (maker, line) = id.split_once('/')?;
        self.makers.get(maker)?.lines.get(line)
    }

    /// What to call a line before a person: its name, or the id where it has none.
    pub fn line_name(&self, id: &str) -> String {
        let name = self.line(id).and_then(|line| line.name.clone());
        name.unwrap_or_else(|| id.to_owned())
    }

    /// What to call a maker before a person: its first name, or its folder's in plain words.
    pub fn maker_name(&self, maker: &str) -> String {
        let known = self.makers.get(maker);
        let name = known.and_then(|maker| maker.record.names.first().cloned());
        name.unwrap_or_else(|| plain_name(maker))
    }

    /// What to call this family before a person: its name, or the id where it is not here.
    pub fn name_of(&self, id: &str) -> String {
        FamilyId::parse(id)
            .ok()
            .and_then(|id| self.find(&id))
            .map_or_else(|| id.to_owned(), |family| family.name.clone())
    }
}

//! The pieces of a workspace, with all that they are judged by.

use std::collections::BTreeMap;
use std::io;
use std::path::Path;

use super::opened::{Opened, Remarks};
use crate::console::warning;
use crate::dating::ClueError;
use crate::dating::spoken::SpokenTable;
use crate::decision::{ContentHash, History};
use crate::failure::Failure;
use crate::handout::{LotTold, PieceRecord, With, record};
use crate::library::{CodeSchemes, load_code_schemes};
use crate::pieces::{Book, Known, Piece};
use crate::workspace::{Workspace, readable, readable_file_name, readable_path};

pub(crate) struct Collection {
    pub(crate) opened: Opened,
    pub(crate) history: History,
    pub(crate) book: Book,
    schemes: CodeSchemes,
    spoken: Option<SpokenTable>,
    /// File names of the photos, readable.
    files: BTreeMap<ContentHash, String>,
    lots: BTreeMap<String, LotTold>,
}

impl Collection {
    pub(crate) fn open(given: Option<&Path>) -> Result<Self, Failure> {
        let opened = Opened::new(given, Remarks::Errors)?;
        let history = opened.workspace.history()?;
        let entries = opened.workspace.pieces()?;
        let book = Book::new(entries, &history, &|id| opened.follow(id));
        let (schemes, remarks) = load_code_schemes(&opened.library);
        for remark in remarks {
            warning(&remark);
        }
        let sightings = opened.workspace.sightings()?.into_iter();
        let files = sightings.map(|s| (s.hash.clone(), readable_file_name(&s.path)));
        let lots = opened.workspace.lots()?.into_iter();
        let lots = lots.map(|lot| {
            let told = LotTold {
                date: lot.date,
                place: lot.place,
            };
            (lot.name, told)
        });
        Ok(Self {
            spoken: own_table(Some(opened.workspace.root()))?,
            files: files.collect(),
            lots: lots.collect(),
            schemes,
            book,
            history,
            opened,
        })
    }

    pub(crate) fn known(&self) -> Known<'_> {
        Known {
            library: &self.opened.library,
            schemes: &self.schemes,
            spoken: self
                .spoken
                .as_ref()
                .unwrap_or_else(|| SpokenTable::shipped()),
        }
    }

    /// The piece of this number.
    pub(crate) fn piece(&self, number: i64) -> Result<&Piece, Failure> {
        self.book.get(number).ok_or_else(|| {
            let none = format!("there is no piece {number}");
            let next = "`footring list` lists the pieces with their numbers";
            Failure::new(&none, Some(next.to_owned()))
        })
    }

    /// A photo's file name, or the first digits of its hash.
    pub(crate) fn file(&self, photo: &ContentHash) -> String {
        let known = self.files.get(photo).cloned();
        known.unwrap_or_else(|| photo.short().to_owned())
    }

    pub(crate) fn record(&self, piece: &Piece, with: With) -> PieceRecord {
        let none = LotTold::default();
        let lot = self.lots.get(&piece.lot).unwrap_or(&none);
        let file = |photo: &ContentHash| self.files.get(photo).cloned();
        record(piece, &self.book, &self.known(), lot, &file, with)
    }

    /// The id of a line that a person names: `maker/line`, or its file or name where that is one
    /// line's alone.
    pub(crate) fn line(&self, text: &str) -> Option<String> {
        let library = &self.opened.library;
        if library.line(text).is_some() {
            return Some(text.to_owned());
        }
        let plain = text.to_lowercase();
        let mut found = Vec::new();
        for (maker, record) in &library.makers {
            for (line, of_line) in &record.lines {
                let name = of_line.name.as_ref().map(|n| n.to_lowercase());
                if line.to_lowercase() == plain || name.as_ref() == Some(&plain) {
                    found.push(library.line_id(maker, line));
                }
            }
        }
        match found.as_slice() {
            [one] => Some(one.clone()),
            _ => None,
        }
    }
}

/// `piece 12 (coffee cup)`.
pub(crate) fn named(piece: &Piece) -> String {
    match piece.form() {
        Some(form) => format!("piece {} ({})", piece.number, readable(form)),
        None => format!("piece {}", piece.number),
    }
}

/// A person's own table of spoken dates, in their workspace.
const SPOKEN: &str = "spoken-dates.toml";

/// The shipped table with the workspace's own over it; `None` where there is none.
pub(crate) fn own_table(workspace: Option<&Path>) -> Result<Option<SpokenTable>, Failure> {
    let root = match workspace {
        Some(root) => root.to_owned(),
        None => match Workspace::find(Path::new(".")) {
            Ok(root) => root,
            Err(_) => return Ok(None),
        },
    };
    if !root.is_dir() {
        let none = format!("{}: there is no such folder", readable_path(&root));
        return Err(Failure::new(&none, None));
    }
    let path = root.join(SPOKEN);
    let failed = |why: &dyn std::fmt::Display| {
        let hint = "mend the file, or move it away to use the table inside the program";
        let told = format!("{}: {why}", readable_path(&path));
        Failure::new(&told, Some(hint.to_owned()))
    };
    match std::fs::read_to_string(&path) {
        Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(None),
        Err(e) => Err(failed(&e)),
        Ok(text) => match SpokenTable::shipped().with(&text) {
            Ok(table) => Ok(Some(table)),
            Err(why) => Err(failed(&why)),
        },
    }
}

impl From<ClueError> for Failure {
    fn from(error: ClueError) -> Self {
        Self::new(&error, error.hint())
    }
}

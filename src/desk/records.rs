//! Facts of makers and their lines, as they are shown and edited.

use std::sync::PoisonError;

use serde::{Deserialize, Serialize};

use super::acts::wrong;
use super::room::{Act, Room};
use crate::decision::ContentHash;
use crate::failure::Failure;
use crate::library::change::{self, Draft, Edited, RecordFile, RecordId};
use crate::library::{Field, Library, Written, Wrong, slug};
use crate::service::opened::now;
use crate::workspace::readable;

/// A name with the address that it leads to, as parts of ids.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Link {
    /// `maker/family` or `maker/line`.
    pub(super) id: String,
    pub(super) name: String,
    /// When it was made or used, where that is known.
    pub(super) when: String,
}

/// All that the page of a maker or a line shows.
#[derive(Debug)]
pub(super) struct Shown {
    /// `maker` or `maker/line`.
    pub(super) id: String,
    pub(super) name: String,
    pub(super) maker: Link,
    pub(super) is_line: bool,
    /// Whether the file is there.
    pub(super) written: bool,
    pub(super) file: String,
    pub(super) fields: &'static [Field],
    /// What the file says, or why it cannot be edited here.
    pub(super) says: Result<Written, String>,
    /// The maker's lines; of a line, none.
    pub(super) lines: Vec<Link>,
    /// The marks of the maker or the line.
    pub(super) marks: Vec<Link>,
    /// Lines that a rule may speak of.
    pub(super) known: Vec<String>,
    /// Stands for the file as it is shown: sent back with a change.
    pub(super) stamp: String,
}

/// The line of this name among a maker's, whether it has a file or not.
pub(super) fn line_called(maker: &str, name: &str) -> Option<RecordId> {
    RecordId::parse(&format!("{maker}/{}", slug(name)?))
}

/// A maker or a line as its page shows it; `None` where the library has no such maker. A line without a file is shown
/// empty, by the name that is wanted for it.
pub(super) fn shown(room: &Room, id: &RecordId, named: Option<&str>) -> Option<Shown> {
    let open = room.open();
    let library = &open.opened.library;
    let maker = library.makers.get(&id.maker)?;
    // The file as it is now, which may be younger than the library that is open.
    let file = RecordFile::read(library, id);
    let stamp = file.as_ref().map_or_else(|_| String::new(), stamp);
    let written = file.as_ref().map_or(true, |f| f.text.is_some());
    let says = file.map_err(|e| e.to_string()).map(|file| {
        let mut says = file.says;
        if let (Some(name), None) = (named, &file.text) {
            says.texts.insert("name".to_owned(), readable(name));
        }
        says
    });
    let maker_name = readable(&library.maker_name(&id.maker));
    let name = match &id.line {
        None => maker_name.clone(),
        Some(line) => line_name(library, &id.maker, line, named),
    };
    let lines = maker.lines.iter().map(|(line, record)| Link {
        id: format!("{}/{line}", id.maker),
        name: line_name(library, &id.maker, line, None),
        when: record.made.as_ref().map(said).unwrap_or_default(),
    });
    let others = library.makers.iter().flat_map(|(other, m)| {
        let own = *other == id.maker;
        m.lines.keys().map(move |line| match own {
            true => line.clone(),
            false => format!("{other}/{line}"),
        })
    });
    Some(Shown {
        id: id.to_string(),
        name,
        is_line: id.line.is_some(),
        written,
        file: id.file(),
        fields: id.fields(),
        says,
        lines: match id.line {
            None => lines.collect(),
            Some(_) => Vec::new(),
        },
        marks: marks_of(library, id),
        known: others.collect(),
        stamp,
        maker: Link {
            id: id.maker.clone(),
            name: maker_name,
            when: String::new(),
        },
    })
}

fn said(date: &crate::library::Edtf) -> String {
    readable(date.as_str())
}

/// The line's name, else what it is to be called, else its file's name.
fn line_name(library: &Library, maker: &str, line: &str, named: Option<&str>) -> String {
    let id = format!("{maker}/{line}");
    let known = library.line(&id).and_then(|record| record.name.as_deref());
    readable(known.or(named).unwrap_or(line))
}

fn marks_of(library: &Library, id: &RecordId) -> Vec<Link> {
    let own = library.families.values().filter(|family| {
        let maker = family.id.maker();
        match &id.line {
            None => maker == id.maker,
            Some(_) => {
                let mut lines = family.record.lines.iter();
                lines.any(|line| library.line_id(maker, line) == id.to_string())
            }
        }
    });
    own.map(|family| Link {
        id: family.id.to_string(),
        name: readable(&family.name),
        when: family.record.used.as_ref().map(said).unwrap_or_default(),
    })
    .collect()
}

/// Stands for what the file holds; no file is told from an empty one.
fn stamp(file: &RecordFile) -> String {
    match &file.text {
        Some(text) => ContentHash::of(text.as_bytes()).to_string(),
        None => "none".to_owned(),
    }
}

/// Facts of a maker or a line as the page sends them.
#[derive(Debug, Clone, Deserialize)]
pub(super) struct Edit {
    record: String,
    saw: String,
    #[serde(flatten)]
    says: Written,
}

/// A field that cannot be written as it is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct Mend {
    /// `used`, `plants.0.years`.
    pub(super) field: String,
    /// What is wrong and what to do, to stand behind the field's name.
    pub(super) says: String,
}

/// What became of facts that were sent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Kept {
    Told(String),
    /// The file says something else by now than the page showed.
    Stale,
    Wrong(Vec<Mend>),
}

/// Writes changed facts back into the file.
pub(super) fn edit(room: &Room, asked: &Edit) -> Result<Kept, Failure> {
    let id =
        RecordId::parse(&asked.record).ok_or_else(|| wrong("there is no such maker or line"))?;
    // The library may have changed on disk since it was read.
    let opened = room.fresh()?;
    if !opened.library.makers.contains_key(&id.maker) {
        return Err(wrong("the library has no such maker"));
    }
    let file = RecordFile::read(&opened.library, &id).map_err(|e| Failure::new(&e, None))?;
    if stamp(&file) != asked.saw {
        return Ok(Kept::Stale);
    }
    match file.edit(&opened.library, &asked.says)? {
        Edited::Nothing => Ok(Kept::Told("nothing new".to_owned())),
        Edited::Wrong(wrong) => Ok(Kept::Wrong(wrong.into_iter().map(mend).collect())),
        Edited::Draft(draft) => carry_out(room, draft).map(Kept::Told),
    }
}

fn mend(wrong: Wrong) -> Mend {
    let (field, says) = (wrong.field, wrong.says);
    Mend { field, says }
}

/// Makes the change, reads the library anew, and keeps what was done for undo.
pub(super) fn carry_out(room: &Room, draft: Draft) -> Result<String, Failure> {
    let root = room.open().opened.workspace.library();
    let told = format!("{} are written", draft.what());
    let done = change::carry_out(&root, draft, &now().to_string())?;
    room.reopen()?;
    let mut acts = room.acts.lock().unwrap_or_else(PoisonError::into_inner);
    acts.push(Act::Shelf(done.number));
    Ok(told)
}

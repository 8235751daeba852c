//! The plan that changes what a maker.toml or a line's file says, with its comments and order kept.

use std::fs;
use std::io;

use toml_edit::DocumentMut;

use super::disk::is_there;
use super::{ChangeError, Content, Draft, Kind};
use crate::library::edit::EditError;
use crate::library::id::is_folder_name;
use crate::library::load::MAKER_FILE;
use crate::library::sayable::check;
use crate::library::{Field, LINE_FIELDS, LINES, Library, MAKER_FIELDS, Written, Wrong};

/// Whose file it is: a maker's, `mill-lane`, or a line's, `mill-lane/harebell`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RecordId {
    pub maker: String,
    pub line: Option<String>,
}

impl RecordId {
    /// `None` where it is neither.
    pub fn parse(text: &str) -> Option<Self> {
        let (maker, line) = match text.split_once('/') {
            Some((maker, line)) => (maker, Some(line)),
            None => (text, None),
        };
        let good = is_folder_name(maker) && line.is_none_or(is_folder_name);
        good.then(|| Self {
            maker: maker.to_owned(),
            line: line.map(str::to_owned),
        })
    }

    /// The keys of its file.
    pub fn fields(&self) -> &'static [Field] {
        match self.line {
            Some(_) => LINE_FIELDS,
            None => MAKER_FIELDS,
        }
    }

    /// Where its file lies in the library, with `/` between folders.
    pub fn file(&self) -> String {
        match &self.line {
            Some(line) => format!("{}/{LINES}/{line}.toml", self.maker),
            None => format!("{}/{MAKER_FILE}", self.maker),
        }
    }
}

impl std::fmt::Display for RecordId {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.maker)?;
        self.line.iter().try_for_each(|line| write!(f, "/{line}"))
    }
}

/// A file as it was read.
#[derive(Debug, Clone)]
pub struct RecordFile {
    id: RecordId,
    /// Its text; `None` where there is no such file.
    pub text: Option<String>,
    /// What it says.
    pub says: Written,
    document: DocumentMut,
}

/// What became of an edit.
#[derive(Debug)]
pub enum Edited {
    Draft(Draft),
    /// The file says so already.
    Nothing,
    /// It cannot be written as it is.
    Wrong(Vec<Wrong>),
}

impl RecordFile {
    /// Reads the file as it lies on the disk now.
    ///
    /// # Errors
    /// Where it cannot be read, is not TOML, or holds something else under a key that a page edits.
    pub fn read(library: &Library, id: &RecordId) -> Result<Self, EditError> {
        let path = library.root.join(id.file());
        let text = match fs::read_to_string(&path) {
            Ok(text) => Some(text),
            Err(e) if e.kind() == io::ErrorKind::NotFound => None,
            Err(source) => return Err(EditError::Read { path, source }),
        };
        let document = text.as_deref().unwrap_or_default().parse();
        let document: DocumentMut = document.map_err(|source| EditError::Malformed {
            path: path.clone(),
            source: Box::new(source),
        })?;
        let says = Written::read(&document, id.fields());
        let says = says.map_err(|(key, wanted)| EditError::WrongKind {
            path: path.clone(),
            key,
            wanted,
        })?;
        Ok(Self {
            id: id.clone(),
            text,
            says,
            document,
        })
    }

    /// Writes it anew where `wanted` differs from what it says.
    ///
    /// # Errors
    /// Where a file is in the way of the folder of lines.
    pub fn edit(self, library: &Library, wanted: &Written) -> Result<Edited, ChangeError> {
        let fields = self.id.fields();
        let (before, after) = (self.says.tidied(fields), wanted.tidied(fields));
        if before == after {
            return Ok(Edited::Nothing);
        }
        let maker = &self.id.maker;
        let knows = |line: &str| library.line(&library.line_id(maker, line)).is_some();
        let wrong = check(&before, &after, fields, &knows);
        if !wrong.is_empty() {
            return Ok(Edited::Wrong(wrong));
        }
        let mut document = self.document;
        after.write(&before, &mut document, fields);
        let mut draft = Draft::of(Kind::Edit, format!("facts of {}", self.id));
        let folder = format!("{maker}/{LINES}");
        if self.id.line.is_some() && !library.root.join(&folder).is_dir() {
            let path = library.root.join(&folder);
            if is_there(&path) {
                return Err(ChangeError::InTheWay { path });
            }
            draft.folder(folder);
        }
        if self.text.is_some() {
            draft.away(self.id.file());
        }
        draft.put(
            self.id.file(),
            Content::Bytes(document.to_string().into_bytes()),
        );
        Ok(Edited::Draft(draft))
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use std::collections::BTreeMap;

    use super::*;
    use crate::library::change::{carry_out, undo};
    use crate::library::{WrittenEntry, load};

    const MAKER: &str = "# the mill
names = [\"Mill Lane\"] # as stamped
sources = [
  \"a book\", # lent
  \"a letter\",
]

[[plants]]
name = \"Upper works\"
years = 1901 # about
kiln = \"kept\"

# burnt down
[[plants]]
name = \"Lower works\"
";

    const LINE: &str = "name = \"Harebell\"
forms = [ # of the list
  { form = \"cup\", made = \"1928/1933\" }, # seen
  { form = \"saucer\" },
]
borrows = [{ body = \"round\", glaze = \"celadon\" }]
";

    fn shelf() -> tempfile::TempDir {
        let dir = tempfile::tempdir().unwrap();
        let put = |path: &str, text: &str| {
            let path = dir.path().join(path);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, text).unwrap();
        };
        put("mill-lane/maker.toml", MAKER);
        put("mill-lane/lines/harebell.toml", LINE);
        put(
            "mill-lane/lines/round.toml",
            "forms = [\"cup\", \"bowl\"]\n",
        );
        put("weir/crown/mark.toml", "name = \"Crown\"\n");
        dir
    }

    fn cells(said: &[(&str, &str)]) -> BTreeMap<String, String> {
        let own = said.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned()));
        own.collect()
    }

    /// The file after the change, or what is wrong with it.
    fn edited(
        dir: &tempfile::TempDir,
        id: &str,
        change: impl Fn(&mut Written),
    ) -> Result<String, Vec<Wrong>> {
        let (library, _) = load(dir.path()).unwrap();
        let id = RecordId::parse(id).unwrap();
        let file = RecordFile::read(&library, &id).unwrap();
        let mut wanted = file.says.clone();
        change(&mut wanted);
        match file.edit(&library, &wanted).unwrap() {
            Edited::Draft(draft) => drop(carry_out(dir.path(), draft, "").unwrap()),
            Edited::Nothing => {}
            Edited::Wrong(wrong) => return Err(wrong),
        }
        let (_, remarks) = load(dir.path()).unwrap();
        let known = remarks.iter().all(|r| r.key.as_deref() == Some("kiln"));
        assert!(known, "{remarks:?}");
        Ok(fs::read_to_string(dir.path().join(id.file())).unwrap())
    }

    #[test]
    fn a_makers_file_is_written_with_its_comments_and_unknown_keys() {
        let dir = shelf();
        let made = edited(&dir, "mill-lane", |w| {
            w.texts
                .insert("names".into(), "Mill Lane\n Mill Lane & Co ".into());
            w.texts
                .insert("sources".into(), "a book\na visit\na letter".into());
            let plants = w.entries.get_mut("plants").unwrap();
            plants[0].cells.insert("place".into(), "Wrayby".into());
            plants.remove(1);
            let new = cells(&[("name", "New works"), ("notes", "one\ntwo")]);
            plants.push(WrittenEntry {
                from: None,
                cells: new,
            });
        });
        let wanted = "# the mill
names = [\"Mill Lane\", \"Mill Lane & Co\"] # as stamped
sources = [
  \"a book\", # lent
  \"a visit\",
  \"a letter\",
]

[[plants]]
name = \"Upper works\"
years = 1901 # about
kiln = \"kept\"
place = \"Wrayby\"

[[plants]]
name = \"New works\"
notes = [\"one\", \"two\"]
";
        assert_eq!(made.unwrap(), wanted);
        undo(dir.path()).unwrap();
        let back = fs::read_to_string(dir.path().join("mill-lane/maker.toml")).unwrap();
        assert_eq!(back, MAKER);
    }

    #[test]
    fn a_lines_entries_keep_the_way_in_which_they_are_written() {
        let dir = shelf();
        let made = edited(&dir, "mill-lane/harebell", |w| {
            let forms = w.entries.get_mut("forms").unwrap();
            forms[1].cells.insert("marked".into(), "never".into());
            let new = cells(&[("form", "teapot"), ("borrowed_from", "round")]);
            forms.push(WrittenEntry {
                from: None,
                cells: new,
            });
            w.texts.insert("made".into(), "1928/1935".into());
        });
        let wanted = "name = \"Harebell\"
forms = [ # of the list
  { form = \"cup\", made = \"1928/1933\" }, # seen
  { form = \"saucer\", marked = \"never\" },
  { form = \"teapot\", borrowed_from = \"round\" },
]
borrows = [{ body = \"round\", glaze = \"celadon\" }]
made = \"1928/1935\"
";
        assert_eq!(made.unwrap(), wanted);
        // Plain names stay plain, until more is said of one.
        let more = |key: &'static str| {
            edited(&dir, "mill-lane/round", |w| {
                let cells = cells(&[("form", "jug"), (key, "1930")]);
                let entry = WrittenEntry { from: None, cells };
                w.entries.get_mut("forms").unwrap().push(entry);
            })
        };
        assert_eq!(
            more("no-key").unwrap(),
            "forms = [\"cup\", \"bowl\", \"jug\"]\n"
        );
        assert_eq!(
            more("made").unwrap(),
            "forms = [{ form = \"cup\" }, { form = \"bowl\" }, { form = \"jug\" }, { form = \"jug\", made = \"1930\" }]\n"
        );
    }

    #[test]
    fn a_file_that_is_not_there_yet_is_made_and_taken_back() {
        let dir = shelf();
        let named = |w: &mut Written| drop(w.texts.insert("name".into(), "Fern".into()));
        assert_eq!(
            edited(&dir, "weir/fern", named).unwrap(),
            "name = \"Fern\"\n"
        );
        undo(dir.path()).unwrap();
        assert!(!dir.path().join("weir/lines").exists());
    }

    #[test]
    fn what_is_wrong_is_told_of_the_very_field_and_nothing_is_written() {
        let dir = shelf();
        let wrong = edited(&dir, "mill-lane/harebell", |w| {
            w.texts.insert("made".into(), "about 1930".into());
            w.texts.insert("name".into(), "a\nb".into());
            let forms = w.entries.get_mut("forms").unwrap();
            forms[0]
                .cells
                .insert("borrowed_from".into(), "nowhere".into());
            forms[1].cells = cells(&[("marked", "often")]);
            let twice = w.entries.get_mut("borrows").unwrap();
            twice.push(twice[0].clone());
        });
        let fields: Vec<String> = wrong.unwrap_err().into_iter().map(|w| w.field).collect();
        let wanted = [
            "name",
            "made",
            "forms.0.borrowed_from",
            "forms.1.form",
            "forms.1.marked",
            "borrows",
        ];
        for field in wanted {
            assert!(fields.iter().any(|f| f == field), "{field} in {fields:?}");
        }
        assert_eq!(fields.len(), wanted.len());
        assert_eq!(edited(&dir, "mill-lane/harebell", |_| {}).unwrap(), LINE);
    }

    #[test]
    fn no_name_leads_out_of_the_library() {
        for bad in ["", "a/", "/a", "a/b/c", "../a", "a/..", ".a", "a/b\\c"] {
            assert!(RecordId::parse(bad).is_none(), "{bad}");
        }
    }
}

//! Changes to the text of a mark.toml, with its comments and order kept.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use toml_edit::{
    Array, ArrayOfTables, DocumentMut, Item, Table, TableLike, TomlError, Value, value,
};

use super::arrays::arrange_texts;
use crate::answer::Twin;
use crate::geometry::{Photo, Quad};

/// A text that was not changed.
#[derive(Debug, thiserror::Error)]
pub enum EditError {
    #[error("{} is not TOML ({source}): mend it first", .path.display())]
    Malformed {
        path: PathBuf,
        source: Box<TomlError>,
    },
    #[error("{}: `{key}` must be {wanted}: mend it first", .path.display())]
    WrongKind {
        path: PathBuf,
        key: &'static str,
        wanted: &'static str,
    },
    #[error("{} cannot be read ({source})", .path.display())]
    Read { path: PathBuf, source: io::Error },
}

/// What an `[[image]]` says of a picture.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct ImageEntry {
    pub(super) file: String,
    pub(super) quad: Option<Quad<Photo>>,
    pub(super) source: Option<String>,
    pub(super) photo: Option<String>,
    pub(super) credit: Option<String>,
    pub(super) licence: Option<String>,
}

/// A mark.toml that is being changed.
#[derive(Debug, Clone)]
pub(super) struct MarkText {
    path: PathBuf,
    document: DocumentMut,
}

impl MarkText {
    /// A new one.
    pub(super) fn named(path: &Path, name: &str) -> Self {
        let mut document = DocumentMut::new();
        document["name"] = value(name);
        Self {
            path: path.to_owned(),
            document,
        }
    }

    /// The one at `path`, or a new one where there is none. A name is given where it has none.
    pub(super) fn read(path: &Path, name: &str) -> Result<Self, EditError> {
        let text = match fs::read_to_string(path) {
            Ok(text) => text,
            Err(e) if e.kind() == io::ErrorKind::NotFound => return Ok(Self::named(path, name)),
            Err(source) => {
                let path = path.to_owned();
                return Err(EditError::Read { path, source });
            }
        };
        let mut document: DocumentMut = text.parse().map_err(|source| EditError::Malformed {
            path: path.to_owned(),
            source: Box::new(source),
        })?;
        if !document.contains_key("name") {
            document["name"] = value(name);
        }
        Ok(Self {
            path: path.to_owned(),
            document,
        })
    }

    pub(super) fn bytes(&self) -> Vec<u8> {
        self.document.to_string().into_bytes()
    }

    pub(super) fn size(&mut self, size: &str) {
        self.document["size"] = value(size);
    }

    pub(super) fn name(&mut self, name: &str) {
        self.document["name"] = value(name);
    }

    fn wrong(&self, key: &'static str, wanted: &'static str) -> EditError {
        EditError::WrongKind {
            path: self.path.clone(),
            key,
            wanted,
        }
    }

    /// The list of `[[image]]`; `image = [{ .. }]` says the same and is rewritten, as tables can be added to the
    /// former.
    fn images(&mut self) -> Result<&mut ArrayOfTables, EditError> {
        let wrong = self.wrong("image", "a list of tables");
        let list = self
            .document
            .entry("image")
            .or_insert(Item::ArrayOfTables(ArrayOfTables::new()));
        if let Item::Value(Value::Array(inline)) = list {
            let tables = inline
                .iter()
                .map(|v| v.as_inline_table().map(|t| t.clone().into_table()))
                .collect::<Option<ArrayOfTables>>();
            match tables {
                Some(tables) => *list = Item::ArrayOfTables(tables),
                None => return Err(wrong),
            }
        }
        list.as_array_of_tables_mut().ok_or(wrong)
    }

    /// Lists a picture: a new `[[image]]`, or what the one that names the file already says of it.
    pub(super) fn set_image(&mut self, entry: &ImageEntry) -> Result<(), EditError> {
        let list = self.images()?;
        let known = list
            .iter()
            .position(|t| t.get("file").and_then(Item::as_str) == Some(&entry.file));
        let at = known.unwrap_or_else(|| {
            let mut table = Table::new();
            table["file"] = value(&entry.file);
            list.push(table);
            list.len() - 1
        });
        if let Some(table) = list.get_mut(at) {
            if let Some(quad) = &entry.quad {
                table["quad"] = value(corners(quad));
            }
            for (key, text) in [
                ("source", &entry.source),
                ("photo", &entry.photo),
                ("credit", &entry.credit),
                ("licence", &entry.licence),
            ] {
                if let Some(text) = text {
                    table[key] = value(text);
                }
            }
        }
        Ok(())
    }

    /// Removes one thing that is said of a file.
    pub(super) fn forget(&mut self, file: &str, key: &str) -> Result<(), EditError> {
        let tables = self.images()?.iter_mut();
        for table in tables.filter(|t| t.get("file").and_then(Item::as_str) == Some(file)) {
            table.remove(key);
        }
        Ok(())
    }

    /// Takes out what is said of a file, once for each of its marks.
    pub(super) fn take_images(&mut self, file: &str) -> Result<Vec<Table>, EditError> {
        if !self.document.contains_key("image") {
            return Ok(Vec::new());
        }
        let list = self.images()?;
        let names = |t: &Table| t.get("file").and_then(Item::as_str) == Some(file);
        let taken: Vec<Table> = list.iter().filter(|t| names(t)).cloned().collect();
        list.retain(|t| !names(t));
        if list.is_empty() {
            self.document.remove("image");
        }
        Ok(taken)
    }

    /// Adds what another text said of a file, under the name that it has here.
    pub(super) fn add_images(&mut self, tables: &[Table], file: &str) -> Result<(), EditError> {
        let list = self.images()?;
        for table in tables {
            // A fresh table: one that was cut out of another text remembers where it stood there.
            let mut fresh = Table::new();
            for (key, item) in table {
                fresh.insert(key, item.clone());
            }
            fresh["file"] = value(file);
            list.push(fresh);
        }
        Ok(())
    }

    fn put(&mut self, key: &str, new: Value) {
        put(self.document.as_table_mut(), key, new);
    }

    /// Sets a text; an empty one goes.
    pub(super) fn set_text(&mut self, key: &str, text: &str) {
        match text {
            "" => drop(self.document.remove(key)),
            some => self.put(key, Value::from(some)),
        }
    }

    /// Sets what tells a family apart from each of these; one without a tell is named alone.
    pub(super) fn set_twins(&mut self, twins: &[Twin]) {
        let key = "confused_with";
        if let Some(Item::ArrayOfTables(list)) = self.document.get_mut(key) {
            let same = list.len() == twins.len()
                && list
                    .iter()
                    .zip(twins)
                    .all(|(t, twin)| t.get("family").and_then(Item::as_str) == Some(&twin.family));
            if same {
                for (table, twin) in list.iter_mut().zip(twins) {
                    match &twin.tell {
                        Some(tell) => table["tell"] = value(tell),
                        None => drop(table.remove("tell")),
                    }
                }
                return;
            }
        }
        let mut list: Array = twins.iter().map(|t| t.family.as_str()).collect();
        // A list is of one kind: texts, or tables.
        if twins.iter().any(|t| t.tell.is_some()) {
            let tables = twins.iter().map(|twin| {
                let mut table = toml_edit::InlineTable::new();
                table.insert("family", twin.family.as_str().into());
                if let Some(tell) = &twin.tell {
                    table.insert("tell", tell.as_str().into());
                }
                Value::from(table)
            });
            list = tables.collect();
        }
        match list.is_empty() {
            true => drop(self.document.remove(key)),
            false => self.put(key, Value::from(list)),
        }
    }

    /// Sets a list of texts, one an id or a sentence; an empty one goes.
    pub(super) fn set_texts(&mut self, key: &str, texts: &[String]) {
        match texts {
            [] => drop(self.document.remove(key)),
            some => put_texts(self.document.as_table_mut(), key, some),
        }
    }

    /// Takes out of `confused_with` what `goes` says of a family's id.
    pub(super) fn drop_twins(&mut self, goes: impl Fn(&str) -> bool) {
        let family = |t: Option<&str>| t.is_some_and(&goes);
        let empty = match self.document.get_mut("confused_with") {
            Some(Item::Value(Value::String(id))) => goes(id.value()),
            Some(Item::Value(Value::Array(list))) => {
                list.retain(|v| {
                    let table = v.as_inline_table().and_then(|t| t.get("family"));
                    !family(v.as_str().or(table.and_then(Value::as_str)))
                });
                list.is_empty()
            }
            Some(Item::ArrayOfTables(list)) => {
                list.retain(|t| !family(t.get("family").and_then(Item::as_str)));
                list.is_empty()
            }
            _ => false,
        };
        if empty {
            self.document.remove("confused_with");
        }
    }
}

/// Sets a value; what stands around the one that is there, a comment behind it among it, stays.
pub(super) fn put(table: &mut dyn TableLike, key: &str, mut new: Value) {
    match table.get_mut(key) {
        Some(Item::Value(known)) => {
            *new.decor_mut() = known.decor().clone();
            *known = new;
        }
        _ => drop(table.insert(key, Item::Value(new))),
    }
}

/// Sets a list of texts; a single text that is there stays one where one is said.
pub(super) fn put_texts(table: &mut dyn TableLike, key: &str, texts: &[String]) {
    match (table.get_mut(key), texts) {
        (Some(Item::Value(Value::Array(list))), texts) => arrange_texts(list, texts),
        (Some(Item::Value(Value::String(_))), [one]) => put(table, key, one.as_str().into()),
        (_, texts) => {
            let list: Array = texts.iter().map(String::as_str).collect();
            put(table, key, Value::from(list));
        }
    }
}

/// The maker.toml of a maker of whom the name is known.
pub(super) fn maker_text(name: &str) -> Vec<u8> {
    let mut document = DocumentMut::new();
    document["names"] = value([name].into_iter().collect::<Array>());
    document.to_string().into_bytes()
}

/// Corners to a tenth of a pixel, as the answers give them.
fn corners(quad: &Quad<Photo>) -> Array {
    let tenth = |v: f64| (v * 10.0).round() / 10.0;
    quad.0
        .iter()
        .map(|p| [tenth(p.x), tenth(p.y)].into_iter().collect::<Array>())
        .collect()
}

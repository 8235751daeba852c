//! A maker's or a line's file as a person edits it: its keys as texts, what may stand there, and the way back into the
//! file with its comments and order kept.

use std::collections::BTreeMap;

use serde::Deserialize;
use toml_edit::{Array, ArrayOfTables, DocumentMut, InlineTable, Item, Table, TableLike, Value};

use super::arrays::{self, arrange};
use super::edit::{put, put_texts};
use super::fields::{Column, Field, Holds, Shape};

/// What a file says, as texts; a list has one entry a line. What it does not say is empty or not there.
#[derive(Debug, Clone, Default, PartialEq, Eq, Deserialize)]
pub struct Written {
    pub texts: BTreeMap<String, String>,
    pub entries: BTreeMap<String, Vec<WrittenEntry>>,
}

/// An entry of a list, key by key.
#[derive(Debug, Clone, Default, PartialEq, Eq, Deserialize)]
pub struct WrittenEntry {
    /// Its place in the file, from 0; a new one has none.
    pub from: Option<usize>,
    pub cells: BTreeMap<String, String>,
}

/// What cannot be written: where it was said, `used` or `plants.0.years`, what is wrong and what to do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Wrong {
    pub field: String,
    pub says: String,
}

impl Wrong {
    pub(super) fn new(field: &str, says: String) -> Self {
        let field = field.to_owned();
        Self { field, says }
    }
}

impl Written {
    /// What the file says; the key and what it must be where it holds something else.
    pub(super) fn read(
        document: &DocumentMut,
        fields: &[Field],
    ) -> Result<Self, (&'static str, &'static str)> {
        let mut written = Self::default();
        for field in fields {
            let Some(item) = document.get(field.key) else {
                continue;
            };
            match field.holds {
                Holds::One(shape) => {
                    let text = item.as_value().and_then(|v| text_of(v, shape));
                    let text = text.ok_or((field.key, wanted(shape)))?;
                    written.texts.insert(field.key.to_owned(), text);
                }
                Holds::Entries { columns, .. } => {
                    let of = (field.key, "a list of tables");
                    let tables = tables_of(item, columns[0].key).ok_or(of)?;
                    let mut entries = Vec::new();
                    for (at, table) in tables.iter().enumerate() {
                        let mut cells = BTreeMap::new();
                        for column in columns {
                            if let Some(value) = table.get(column.key) {
                                let of = (column.key, wanted(column.shape));
                                let text = text_of(value, column.shape).ok_or(of)?;
                                cells.insert(column.key.to_owned(), text);
                            }
                        }
                        let from = Some(at);
                        entries.push(WrittenEntry { from, cells });
                    }
                    written.entries.insert(field.key.to_owned(), entries);
                }
            }
        }
        Ok(written)
    }

    pub fn text(&self, key: &str) -> &str {
        self.texts.get(key).map_or("", String::as_str)
    }

    pub fn entries(&self, key: &str) -> &[WrittenEntry] {
        self.entries.get(key).map_or(&[], Vec::as_slice)
    }

    /// The same as it would be read again: trimmed, without empty lines and entries.
    pub(super) fn tidied(&self, fields: &[Field]) -> Self {
        let tidy = |text: &str, shape: Shape| match shape {
            Shape::List => lines(text).join("\n"),
            _ => text.trim().to_owned(),
        };
        let mut tidied = Self::default();
        for field in fields {
            match field.holds {
                Holds::One(shape) => {
                    let text = tidy(self.text(field.key), shape);
                    tidied.texts.insert(field.key.to_owned(), text);
                }
                Holds::Entries { columns, .. } => {
                    let entries = self.entries(field.key).iter().map(|entry| {
                        let cells = columns
                            .iter()
                            .map(|c| (c.key.to_owned(), tidy(entry.cell(c.key), c.shape)));
                        let cells = cells.filter(|(_, text)| !text.is_empty()).collect();
                        let from = entry.from;
                        WrittenEntry { from, cells }
                    });
                    let said = entries.filter(|e| !e.cells.is_empty()).collect();
                    tidied.entries.insert(field.key.to_owned(), said);
                }
            }
        }
        tidied
    }

    /// Writes into the document what differs from what stands there; both are tidied.
    pub(super) fn write(&self, before: &Self, document: &mut DocumentMut, fields: &[Field]) {
        for field in fields {
            let key = field.key;
            match field.holds {
                Holds::One(shape) if self.text(key) != before.text(key) => {
                    set(document.as_table_mut(), key, shape, self.text(key));
                }
                Holds::Entries { columns, .. } if self.entries(key) != before.entries(key) => {
                    set_entries(document, key, columns, self.entries(key));
                }
                _ => {}
            }
        }
    }
}

impl WrittenEntry {
    pub fn cell(&self, key: &str) -> &str {
        self.cells.get(key).map_or("", String::as_str)
    }
}

fn lines(text: &str) -> Vec<String> {
    let lines = text.lines().map(str::trim).filter(|l| !l.is_empty());
    lines.map(str::to_owned).collect()
}

fn wanted(shape: Shape) -> &'static str {
    match shape {
        Shape::Date => "a date in quotes",
        Shape::List => "a text or a list of texts",
        _ => "a text in quotes",
    }
}

/// A value as text; `None` where it is of another kind.
fn text_of(value: &Value, shape: Shape) -> Option<String> {
    // A text of several lines is one all the same.
    let plain = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    match (value, shape) {
        (Value::String(text), _) => Some(plain(text.value())),
        (Value::Integer(year), Shape::Date) => Some(year.value().to_string()),
        (Value::Datetime(day), Shape::Date) => Some(day.value().to_string()),
        (Value::Array(list), Shape::List) => {
            let texts: Option<Vec<String>> = list.iter().map(|v| v.as_str().map(plain)).collect();
            Some(texts?.join("\n"))
        }
        _ => None,
    }
}

/// The entries of a list of tables, or of names alone.
fn tables_of(item: &Item, name: &str) -> Option<Vec<InlineTable>> {
    let named = |text: &str| InlineTable::from_iter([(name, text)]);
    match item {
        Item::Value(Value::String(text)) => Some(vec![named(text.value())]),
        Item::Value(Value::Array(list)) => list
            .iter()
            .map(|value| match value {
                Value::String(text) => Some(named(text.value())),
                other => other.as_inline_table().cloned(),
            })
            .collect(),
        Item::ArrayOfTables(list) => {
            Some(list.iter().map(|t| t.clone().into_inline_table()).collect())
        }
        _ => None,
    }
}

/// Sets a value of a table; an empty one goes.
fn set(table: &mut dyn TableLike, key: &str, shape: Shape, text: &str) {
    match shape {
        _ if text.is_empty() => drop(table.remove(key)),
        Shape::List => put_texts(table, key, &lines(text)),
        _ => put(table, key, text.into()),
    }
}

fn set_entries(
    document: &mut DocumentMut,
    key: &'static str,
    columns: &[Column],
    entries: &[WrittenEntry],
) {
    if entries.is_empty() {
        document.remove(key);
        return;
    }
    match document.get_mut(key) {
        Some(Item::ArrayOfTables(list)) => arrange_tables(list, columns, entries),
        Some(Item::Value(Value::Array(list))) => arrange_inline(list, columns, entries),
        Some(Item::Value(text @ Value::String(_))) => {
            let mut list = Array::new();
            list.push(text.clone());
            *list.decor_mut() = text.decor().clone();
            arrange_inline(&mut list, columns, entries);
            *text = Value::Array(list);
        }
        _ => {
            let mut list = ArrayOfTables::new();
            arrange_tables(&mut list, columns, entries);
            document.insert(key, Item::ArrayOfTables(list));
        }
    }
}

fn set_cells(table: &mut dyn TableLike, columns: &[Column], entry: &WrittenEntry) {
    for column in columns {
        let (key, shape) = (column.key, column.shape);
        let before = table.get(key).and_then(Item::as_value);
        let before = before.and_then(|value| text_of(value, shape));
        if before.unwrap_or_default() != entry.cell(key) {
            set(table, key, shape, entry.cell(key));
        }
    }
}

fn arrange_tables(list: &mut ArrayOfTables, columns: &[Column], entries: &[WrittenEntry]) {
    let tables = entries.iter().map(|entry| {
        let known = entry.from.and_then(|from| list.get(from)).cloned();
        let mut table = known.unwrap_or_else(Table::new);
        set_cells(&mut table, columns, entry);
        table
    });
    *list = tables.collect();
}

/// A list of names stays one as long as nothing else is said of any of them.
fn arrange_inline(list: &mut Array, columns: &[Column], entries: &[WrittenEntry]) {
    let name = columns[0].key;
    let plain = list.iter().all(Value::is_str)
        && entries
            .iter()
            .all(|e| e.cells.keys().all(|key| key == name));
    let made = entries.iter().map(|entry| {
        let known = entry.from.and_then(|from| list.get(from));
        let value = match known {
            _ if plain => Value::from(entry.cell(name)),
            Some(Value::InlineTable(known)) => {
                let mut table = known.clone();
                set_cells(&mut table, columns, entry);
                if !known
                    .iter()
                    .map(|(key, _)| key)
                    .eq(table.iter().map(|(key, _)| key))
                {
                    table.fmt();
                }
                Value::InlineTable(table)
            }
            _ => {
                let mut table = InlineTable::new();
                set_cells(&mut table, columns, entry);
                Value::InlineTable(table)
            }
        };
        let from = entry.from.filter(|_| known.is_some());
        arrays::Entry { from, value }
    });
    let made = made.collect();
    arrange(list, made);
}

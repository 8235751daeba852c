//! Reads typed values out of TOML and remembers where each remark belongs.

use std::ops::Range;
use std::path::Path;

use toml_edit::{Item, TableLike, Value};

use super::edtf::Edtf;
use super::remark::{Remark, Trouble};
use crate::geometry::{Photo, Quad};

/// Reads one file's keys; what is wrong goes to `remarks` and is left out of the record.
pub(super) struct Keys<'a> {
    pub(super) path: &'a Path,
    pub(super) text: &'a str,
    pub(super) remarks: &'a mut Vec<Remark>,
}

impl Keys<'_> {
    pub(super) fn remark(&mut self, key: &str, span: Option<Range<usize>>, trouble: Trouble) {
        self.remarks.push(Remark {
            path: self.path.to_owned(),
            line: span.map(|s| line_of(self.text, s.start)),
            key: Some(key.to_owned()),
            trouble,
        });
    }

    /// Warns of every key of `table` that is not in `known`.
    pub(super) fn only(&mut self, table: &dyn TableLike, known: &'static [&'static str]) {
        for (name, item) in table.iter() {
            if known.contains(&name) {
                continue;
            }
            let span = table.key(name).and_then(|k| k.span()).or(item.span());
            let nearest = nearest(name, known);
            self.remark(name, span, Trouble::UnknownKey { nearest });
        }
    }

    pub(super) fn text(&mut self, table: &dyn TableLike, key: &str) -> Option<String> {
        let item = table.get(key)?;
        let text = item.as_str().map(|s| s.trim().to_owned());
        if text.as_ref().is_none_or(String::is_empty) {
            let wanted = "a text in quotes, not empty";
            self.remark(key, span_of(table, key), Trouble::WrongKind { wanted });
            return None;
        }
        text
    }

    /// One text or a list of texts.
    pub(super) fn texts(&mut self, table: &dyn TableLike, key: &str) -> Vec<String> {
        let Some(item) = table.get(key) else {
            return Vec::new();
        };
        let list = match item {
            Item::Value(Value::String(s)) => Some(vec![s.value().clone()]),
            Item::Value(Value::Array(a)) => {
                a.iter().map(|v| v.as_str().map(str::to_owned)).collect()
            }
            _ => None,
        };
        list.unwrap_or_else(|| {
            let wanted = "a text or a list of texts";
            self.remark(key, span_of(table, key), Trouble::WrongKind { wanted });
            Vec::new()
        })
    }

    /// A date of the Extended Date/Time Format. Numbers are taken too: `made = 1931`.
    pub(super) fn date(&mut self, table: &dyn TableLike, key: &str) -> Option<Edtf> {
        let text = match table.get(key)? {
            Item::Value(Value::String(s)) => s.value().clone(),
            Item::Value(Value::Integer(n)) => n.value().to_string(),
            Item::Value(Value::Datetime(d)) => d.value().to_string(),
            _ => {
                let wanted = "a date in quotes";
                self.remark(key, span_of(table, key), Trouble::WrongKind { wanted });
                return None;
            }
        };
        let date = Edtf::parse(&text);
        if date.is_none() {
            self.remark(key, span_of(table, key), Trouble::NotADate { value: text });
        }
        date
    }

    pub(super) fn quad(&mut self, table: &dyn TableLike, key: &str) -> Option<Quad<Photo>> {
        let item = table.get(key)?;
        let quad = quad_of(item);
        if quad.is_none() {
            self.remark(key, span_of(table, key), Trouble::NotAQuad);
        }
        quad
    }

    /// The tables of `[[key]]`, or of `key = [{ .. }, { .. }]`, with their positions.
    pub(super) fn tables<'t>(
        &mut self,
        table: &'t dyn TableLike,
        key: &str,
    ) -> Vec<(&'t dyn TableLike, Option<Range<usize>>)> {
        let found: Option<Vec<(&dyn TableLike, _)>> = match table.get(key) {
            None => return Vec::new(),
            Some(Item::ArrayOfTables(list)) => Some(
                list.iter()
                    .map(|t| (t as &dyn TableLike, t.span()))
                    .collect(),
            ),
            Some(Item::Value(Value::Array(list))) => list
                .iter()
                .map(|v| Some((v.as_inline_table()? as &dyn TableLike, v.span())))
                .collect(),
            Some(_) => None,
        };
        found.unwrap_or_else(|| {
            let wanted = "a list of tables";
            self.remark(key, span_of(table, key), Trouble::WrongKind { wanted });
            Vec::new()
        })
    }
}

fn span_of(table: &dyn TableLike, key: &str) -> Option<Range<usize>> {
    table
        .get_key_value(key)
        .and_then(|(k, item)| k.span().or(item.span()))
}

fn quad_of(item: &Item) -> Option<Quad<Photo>> {
    let corners: Vec<[f64; 2]> = item
        .as_array()?
        .iter()
        .map(|corner| {
            let xy: Vec<f64> = corner
                .as_array()?
                .iter()
                .map(|v| v.as_float().or(v.as_integer().map(|n| n as f64)))
                .collect::<Option<_>>()?;
            <[f64; 2]>::try_from(xy).ok()
        })
        .collect::<Option<_>>()?;
    let quad = Quad::from_array(<[[f64; 2]; 4]>::try_from(corners).ok()?);
    let finite = quad.0.iter().all(|p| p.x.is_finite() && p.y.is_finite());
    (finite && quad.is_convex()).then_some(quad)
}

/// Line of a byte position, from 1.
pub(super) fn line_of(text: &str, at: usize) -> usize {
    1 + text
        .as_bytes()
        .iter()
        .take(at)
        .filter(|&&b| b == b'\n')
        .count()
}

fn nearest(name: &str, known: &'static [&'static str]) -> &'static str {
    known
        .iter()
        .copied()
        .min_by_key(|k| strsim::damerau_levenshtein(&name.to_lowercase(), k))
        .unwrap_or("")
}

//! Reads typed values out of TOML and remembers where each remark belongs.

use std::ops::Range;
use std::path::Path;

use toml_edit::{Item, TableLike, Value};

use super::super::made::Years;
use super::remark::{SchemeRemark, SchemeTrouble};
use crate::geometry::{Photo, Quad};

/// Reads one scheme's keys; what is wrong goes to `remarks`.
pub(super) struct Keys<'a> {
    pub(super) path: &'a Path,
    pub(super) text: &'a str,
    pub(super) scheme: Option<String>,
    pub(super) remarks: Vec<SchemeRemark>,
}

impl Keys<'_> {
    pub(super) fn remark(&mut self, key: &str, at: Option<Range<usize>>, trouble: SchemeTrouble) {
        let place = at.map(|span| line_and_column(self.text, span.start));
        self.remarks.push(SchemeRemark {
            path: self.path.to_owned(),
            line: place.map(|p| p.0),
            column: place.map(|p| p.1),
            key: Some(key.to_owned()),
            scheme: self.scheme.clone(),
            trouble,
            accepts: None,
        });
    }

    fn wrong(&mut self, table: &dyn TableLike, key: &str, wanted: &'static str) {
        self.remark(
            key,
            span_of(table, key),
            SchemeTrouble::WrongKind { wanted },
        );
    }

    pub(super) fn text(&mut self, table: &dyn TableLike, key: &str) -> Option<String> {
        let item = table.get(key)?;
        let text = item.as_str().map(|s| s.trim().to_owned());
        let text = text.filter(|t| !t.is_empty());
        if text.is_none() {
            self.wrong(table, key, "a text in quotes, not empty");
        }
        text
    }

    /// One text or a list of texts, each with its place.
    pub(super) fn texts(
        &mut self,
        table: &dyn TableLike,
        key: &str,
    ) -> Vec<(String, Option<Range<usize>>)> {
        let list = match table.get(key) {
            None => return Vec::new(),
            Some(Item::Value(Value::String(s))) => Some(vec![(
                s.value().clone(),
                table.get(key).and_then(Item::span),
            )]),
            Some(Item::Value(Value::Array(a))) => a
                .iter()
                .map(|v| v.as_str().map(|s| (s.to_owned(), v.span())))
                .collect(),
            Some(_) => None,
        };
        list.unwrap_or_else(|| {
            self.wrong(table, key, "a text or a list of texts");
            Vec::new()
        })
    }

    pub(super) fn flag(&mut self, table: &dyn TableLike, key: &str) -> Option<bool> {
        let flag = table.get(key)?.as_bool();
        if flag.is_none() {
            self.wrong(table, key, "true or false");
        }
        flag
    }

    pub(super) fn number(&mut self, table: &dyn TableLike, key: &str) -> Option<f64> {
        let item = table.get(key)?;
        let number = item.as_float().or(item.as_integer().map(|n| n as f64));
        if number.is_none() {
            self.wrong(table, key, "a number");
        }
        number
    }

    pub(super) fn whole(&mut self, table: &dyn TableLike, key: &str) -> Option<i32> {
        let whole = table
            .get(key)?
            .as_integer()
            .and_then(|n| i32::try_from(n).ok());
        if whole.is_none() {
            self.wrong(table, key, "a whole number");
        }
        whole
    }

    /// Two years, the first not after the last.
    pub(super) fn window(&mut self, table: &dyn TableLike, key: &str) -> Option<(i32, i32)> {
        let list = table.get(key)?.as_array();
        let years: Option<Vec<i32>> = list.and_then(|a| {
            a.iter()
                .map(|v| v.as_integer().and_then(|n| i32::try_from(n).ok()))
                .collect()
        });
        match years.as_deref() {
            Some(&[first, last]) if (0..=last).contains(&first) && last <= 9999 => {
                Some((first, last))
            }
            _ => {
                self.wrong(table, key, "two years [first, last] of four figures");
                None
            }
        }
    }

    pub(super) fn years(&mut self, table: &dyn TableLike, key: &str) -> Option<Years> {
        let text = match table.get(key)? {
            Item::Value(Value::String(s)) => s.value().clone(),
            Item::Value(Value::Integer(n)) => n.value().to_string(),
            _ => String::new(),
        };
        let years = Years::parse(&text);
        if years.is_none() {
            self.remark(key, span_of(table, key), SchemeTrouble::NotYears { text });
        }
        years
    }

    /// One of a few words; the place in `words`.
    pub(super) fn word(
        &mut self,
        table: &dyn TableLike,
        key: &str,
        words: &[&'static str],
    ) -> Option<usize> {
        let said = table.get(key)?.as_str();
        let found = said.and_then(|s| words.iter().position(|w| *w == s));
        if found.is_none() {
            let words = words.to_vec();
            self.remark(key, span_of(table, key), SchemeTrouble::NotAWord { words });
        }
        found
    }

    pub(super) fn quad(&mut self, table: &dyn TableLike, key: &str) -> Option<Quad<Photo>> {
        let quad = quad_of(table.get(key)?);
        if quad.is_none() {
            self.remark(key, span_of(table, key), SchemeTrouble::NotAQuad);
        }
        quad
    }
}

/// Where a key stands.
pub(super) fn span_of(table: &dyn TableLike, key: &str) -> Option<Range<usize>> {
    table
        .get_key_value(key)
        .and_then(|(k, item)| k.span().or(item.span()))
}

fn quad_of(item: &Item) -> Option<Quad<Photo>> {
    let number = |v: &Value| v.as_float().or(v.as_integer().map(|n| n as f64));
    let corners: Vec<[f64; 2]> = item
        .as_array()?
        .iter()
        .map(|corner| {
            let xy: Option<Vec<f64>> = corner.as_array()?.iter().map(number).collect();
            xy?.try_into().ok()
        })
        .collect::<Option<_>>()?;
    let quad = Quad::from_array(corners.try_into().ok()?);
    let finite = quad.0.iter().all(|p| p.x.is_finite() && p.y.is_finite());
    (finite && quad.is_convex()).then_some(quad)
}

/// Line and column (in characters) of a byte position, each from 1.
pub(super) fn line_and_column(text: &str, at: usize) -> (usize, usize) {
    let before = text.get(..at).unwrap_or(text);
    let begin = before.rfind('\n').map_or(0, |n| n + 1);
    let line = 1 + before.matches('\n').count();
    (line, 1 + before[begin..].chars().count())
}

/// The word most like `name`.
pub(super) fn nearest<'w>(name: &str, words: impl IntoIterator<Item = &'w str>) -> String {
    words
        .into_iter()
        .min_by_key(|w| strsim::damerau_levenshtein(&name.to_lowercase(), w))
        .unwrap_or_default()
        .to_owned()
}

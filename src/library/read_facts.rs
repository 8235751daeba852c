//! Reads the facts of lines and makers from their files.

use std::ops::Range;

use toml_edit::{Item, TableLike, Value};

use super::facts::{BorrowFact, Conditions, DecorationFact, Facts, FormFact, Habit, PairFact};
use super::keys::{Keys, line_of};
use super::remark::Trouble;

/// A list of tables of which each names what it speaks of.
struct Listed {
    list: &'static str,
    /// The key that must be there.
    name: &'static str,
    known: &'static [&'static str],
    /// What a table without it is told.
    wanted: &'static str,
}

const FORMS: Listed = Listed {
    list: "forms",
    name: "form",
    known: &[
        "form",
        "made",
        "marked",
        "except",
        "borrowed_from",
        "handle",
        "foot",
        "finial",
        "source",
    ],
    wanted: "tables with the `form` that they speak of, or a list of names",
};

const BORROWS: Listed = Listed {
    list: "borrows",
    name: "body",
    known: &[
        "body",
        "form",
        "glaze",
        "decoration",
        "customer",
        "years",
        "source",
    ],
    wanted: "tables with the line whose `body` it is",
};

const PAIRS: Listed = Listed {
    list: "pairs_with",
    name: "line",
    known: &[
        "line",
        "form",
        "glaze",
        "decoration",
        "customer",
        "years",
        "source",
    ],
    wanted: "tables with the other `line`",
};

const DECORATIONS: Listed = Listed {
    list: "decorations",
    name: "name",
    known: &[
        "name",
        "made",
        "colourway",
        "number",
        "customer",
        "decorated_by",
        "source",
    ],
    wanted: "tables with the decoration's `name`",
};

impl Facts {
    /// Reads the facts that stand in a maker's or a line's file.
    pub(super) fn read(keys: &mut Keys<'_>, table: &dyn TableLike) -> Self {
        Self {
            forms: forms(keys, table),
            borrows: borrows(keys, table),
            pairs: pairs(keys, table),
            decorations: decorations(keys, table),
        }
    }
}

type At = Option<Range<usize>>;

/// A table of a list, by the name that it must have.
struct Entry<'t> {
    name: String,
    table: &'t dyn TableLike,
    span: At,
    /// Line of the file, from 1.
    at: Option<usize>,
}

impl Listed {
    /// Reads the list, entry by entry; one without its name is told and left out.
    fn read<T>(
        &self,
        keys: &mut Keys<'_>,
        table: &dyn TableLike,
        entry: impl Fn(&mut Keys<'_>, Entry<'_>) -> T,
    ) -> Vec<T> {
        let mut out = Vec::new();
        for (table, span) in keys.tables(table, self.list) {
            keys.only(table, self.known);
            if !table.contains_key(self.name) {
                let wanted = self.wanted;
                keys.remark(self.name, span.clone(), Trouble::WrongKind { wanted });
                continue;
            }
            let Some(name) = keys.text(table, self.name) else {
                continue;
            };
            let at = span.as_ref().map(|span| line_of(keys.text, span.start));
            let one = Entry {
                name,
                table,
                span,
                at,
            };
            out.push(entry(keys, one));
        }
        out
    }
}

/// A list of names, or of tables.
fn forms(keys: &mut Keys<'_>, table: &dyn TableLike) -> Vec<FormFact> {
    let plain = match table.get(FORMS.list) {
        None => return Vec::new(),
        Some(Item::Value(Value::Array(list))) => list.iter().all(Value::is_str),
        Some(item) => item.is_str(),
    };
    if plain {
        let names = keys.texts(table, FORMS.list).into_iter();
        return names
            .map(|form| FormFact {
                form,
                ..FormFact::default()
            })
            .collect();
    }
    FORMS.read(keys, table, |keys, form| {
        let table = form.table;
        FormFact {
            made: keys.date(table, "made"),
            marked: habit(keys, table, &form.span),
            except: keys.text(table, "except"),
            borrowed_from: keys.text(table, "borrowed_from"),
            handle: keys.text(table, "handle"),
            foot: keys.text(table, "foot"),
            finial: keys.text(table, "finial"),
            source: keys.text(table, "source"),
            form: form.name,
            at: form.at,
        }
    })
}

fn habit(keys: &mut Keys<'_>, table: &dyn TableLike, at: &At) -> Option<Habit> {
    let word = keys.text(table, "marked")?;
    let habit = Habit::from_word(&word);
    if habit.is_none() {
        let wanted = "`always`, `generally`, `seldom` or `never`";
        keys.remark("marked", at.clone(), Trouble::WrongKind { wanted });
    }
    habit
}

fn conditions(keys: &mut Keys<'_>, table: &dyn TableLike) -> Conditions {
    Conditions {
        form: keys.text(table, "form"),
        glaze: keys.text(table, "glaze"),
        decoration: keys.text(table, "decoration"),
        customer: keys.text(table, "customer"),
        years: keys.date(table, "years"),
    }
}

fn borrows(keys: &mut Keys<'_>, table: &dyn TableLike) -> Vec<BorrowFact> {
    BORROWS.read(keys, table, |keys, borrow| BorrowFact {
        body: borrow.name,
        when: conditions(keys, borrow.table),
        source: keys.text(borrow.table, "source"),
        at: borrow.at,
    })
}

fn pairs(keys: &mut Keys<'_>, table: &dyn TableLike) -> Vec<PairFact> {
    PAIRS.read(keys, table, |keys, pair| PairFact {
        line: pair.name,
        when: conditions(keys, pair.table),
        source: keys.text(pair.table, "source"),
        at: pair.at,
    })
}

fn decorations(keys: &mut Keys<'_>, table: &dyn TableLike) -> Vec<DecorationFact> {
    DECORATIONS.read(keys, table, |keys, decoration| DecorationFact {
        name: decoration.name,
        made: keys.date(decoration.table, "made"),
        colourway: keys.text(decoration.table, "colourway"),
        number: keys.text(decoration.table, "number"),
        customer: keys.text(decoration.table, "customer"),
        decorated_by: keys.text(decoration.table, "decorated_by"),
        source: keys.text(decoration.table, "source"),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::library::{Holds, LINE_FIELDS};

    #[test]
    fn every_key_of_such_facts_can_be_edited() {
        for listed in [FORMS, BORROWS, PAIRS, DECORATIONS] {
            let field = LINE_FIELDS.iter().find(|f| f.key == listed.list);
            let Some(Holds::Entries { columns, named }) = field.map(|f| f.holds) else {
                panic!("{} is a list", listed.list);
            };
            assert!(named && columns[0].key == listed.name);
            assert!(columns.iter().map(|c| &c.key).eq(listed.known));
        }
    }
}

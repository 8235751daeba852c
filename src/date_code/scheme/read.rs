//! Reads files of schemes. TOML text in, schemes and remarks out.

use std::collections::BTreeMap;
use std::ops::Range;
use std::path::Path;

use toml_edit::{Document, Item, TableLike};

use super::super::automaton::{Automaton, AutomatonError};
use super::super::made::Years;
use super::keys::{Keys, line_and_column, nearest, span_of};
use super::numbers::{Count, NoNumber, Numbers, TIMES};
use super::remark::{SchemeRemark, SchemeTrouble};
use super::{Applies, Dates, Place, Scheme, Symbol, Usual};

/// How many codes of a scheme are tried against its tables, the shortest first. Every sign of a
/// code of up to three signs is among so many; longer ones are tried by their beginnings.
pub(super) const TRIED: usize = 4000;

const KEYS: [&str; 21] = [
    "name",
    "plant",
    "line",
    "family",
    "variant",
    "dates",
    "pattern",
    "small_letters",
    "valid",
    "codes_from",
    "codes_until",
    "codes_usual",
    "place",
    "box",
    "image",
    "turn",
    "symbol",
    "examples",
    "notes",
    "sources",
    "verified",
];
const GROUP_KEYS: [&str; 9] = [
    "values", "letters", "first", "window", "roman", "figures", "count", "adds_to", "each",
];
const SYMBOL_KEYS: [&str; 3] = ["name", "sign", "crop"];

/// Reads a file of `[[scheme]]` tables; `path` is only named in remarks. A scheme with anything
/// wrong in it is left out, and the others are read.
pub fn read_schemes(path: &Path, text: &str) -> (Vec<Scheme>, Vec<SchemeRemark>) {
    let mut keys = Keys {
        path,
        text,
        scheme: None,
        remarks: Vec::new(),
    };
    let document = match Document::parse(text) {
        Ok(document) => document,
        Err(error) => return (Vec::new(), vec![malformed(path, text, &error)]),
    };
    let root = document.as_table();
    let mut schemes = Vec::new();
    for (key, item) in root.iter() {
        if key != "scheme" {
            let at = span_of(root, key).or(item.span());
            let nearest = "scheme".to_owned();
            keys.remark(key, at, SchemeTrouble::UnknownKey { nearest });
        }
    }
    match root.get("scheme") {
        None => {}
        Some(Item::ArrayOfTables(list)) => {
            for table in list {
                schemes.extend(scheme(&mut keys, table, table.span()));
            }
        }
        Some(other) => {
            let wanted = "written as `[[scheme]]`";
            keys.remark("scheme", other.span(), SchemeTrouble::WrongKind { wanted });
        }
    }
    (schemes, keys.remarks)
}

fn malformed(path: &Path, text: &str, error: &toml_edit::TomlError) -> SchemeRemark {
    let at = error
        .span()
        .map(|s| line_and_column(text, s.start.min(text.len())));
    let line = at.and_then(|(line, _)| text.lines().nth(line - 1));
    let key = line.and_then(|l| Some(l.split_once('=')?.0.trim().to_owned()));
    SchemeRemark {
        path: path.to_owned(),
        line: at.map(|a| a.0),
        column: at.map(|a| a.1),
        key,
        scheme: None,
        trouble: SchemeTrouble::Malformed {
            detail: error.message().lines().collect::<Vec<_>>().join(", "),
        },
        accepts: None,
    }
}

/// One scheme, or `None` and at least one remark.
fn scheme(
    keys: &mut Keys<'_>,
    table: &dyn TableLike,
    span: Option<Range<usize>>,
) -> Option<Scheme> {
    let before = keys.remarks.len();
    keys.scheme = None;
    keys.scheme = keys.text(table, "name");
    if keys.scheme.is_none() && !table.contains_key("name") {
        keys.remark("name", span.clone(), SchemeTrouble::Missing);
    }
    let small_letters = keys.flag(table, "small_letters").unwrap_or(false);
    let (patterns, automaton) = patterns(keys, table, span, small_letters);
    let regexes: Vec<regex::Regex> = patterns.iter().filter_map(|p| whole(p).ok()).collect();
    let (numbers, counts) = groups(keys, table, &regexes);
    let made = automaton.map(|automaton| Scheme {
        name: keys.scheme.clone().unwrap_or_default(),
        applies: Applies {
            plant: keys.text(table, "plant"),
            line: keys.text(table, "line"),
            family: keys.text(table, "family"),
            variant: keys.text(table, "variant"),
        },
        dates: keys
            .word(table, "dates", &Dates::ALL.map(Dates::word))
            .map_or(Dates::Piece, |i| Dates::ALL[i]),
        place: place(keys, table),
        turn: keys.number(table, "turn"),
        symbols: symbols(keys, table),
        small_letters,
        valid: keys.years(table, "valid"),
        codes: codes(keys, table),
        codes_usual: keys
            .word(table, "codes_usual", &Usual::ALL.map(Usual::word))
            .map(|i| Usual::ALL[i]),
        notes: plain(keys, table, "notes"),
        sources: plain(keys, table, "sources"),
        verified: keys.flag(table, "verified").unwrap_or(true),
        patterns,
        regexes,
        numbers,
        counts,
        automaton,
    });
    if let Some(scheme) = &made {
        only(keys, table, scheme);
        if keys.remarks[before..].iter().all(SchemeRemark::harmless) {
            try_codes(keys, table, scheme);
        }
        if keys.remarks[before..].iter().all(SchemeRemark::harmless) {
            examples(keys, table, scheme);
        }
        let code = scheme.example();
        for remark in &mut keys.remarks[before..] {
            remark.accepts.clone_from(&code);
        }
    }
    let good = keys.remarks[before..].iter().all(SchemeRemark::harmless);
    made.filter(|_| good)
}

fn plain(keys: &mut Keys<'_>, table: &dyn TableLike, key: &str) -> Vec<String> {
    keys.texts(table, key).into_iter().map(|t| t.0).collect()
}

fn whole(pattern: &str) -> Result<regex::Regex, regex::Error> {
    regex::RegexBuilder::new(&format!(r"\A(?:{pattern})\z"))
        .unicode(false)
        .build()
}

/// The patterns, each one good by itself, and the automaton of them all.
fn patterns(
    keys: &mut Keys<'_>,
    table: &dyn TableLike,
    span: Option<Range<usize>>,
    small_letters: bool,
) -> (Vec<String>, Option<Automaton>) {
    let given = keys.texts(table, "pattern");
    if given.is_empty() && !table.contains_key("pattern") {
        keys.remark("pattern", span, SchemeTrouble::Missing);
    }
    let usable = |sign: u8| small_letters || !sign.is_ascii_lowercase();
    let mut patterns = Vec::new();
    for (pattern, at) in given {
        // Whatever the regex crate takes for groups must also make an automaton.
        let made = Automaton::new(&[&pattern], usable).and_then(|automaton| {
            whole(&pattern).map_err(|e| AutomatonError::Pattern(last_line(&e.to_string())))?;
            Ok(automaton)
        });
        match made {
            Ok(_) => patterns.push(pattern),
            Err(why) => keys.remark("pattern", at, SchemeTrouble::Pattern { why }),
        }
    }
    let automaton = match patterns.is_empty() {
        true => None,
        false => Automaton::new(&patterns, usable).ok(),
    };
    (patterns, automaton)
}

/// The regex crate draws the pattern and says on the last line what is wrong.
fn last_line(message: &str) -> String {
    let line = message.lines().last().unwrap_or_default();
    line.trim_start_matches("error: ").to_owned()
}

fn group_names(regexes: &[regex::Regex]) -> Vec<String> {
    let mut names: Vec<String> = regexes
        .iter()
        .flat_map(|r| r.capture_names().flatten().map(str::to_owned))
        .collect();
    names.sort();
    names.dedup();
    names
}

/// The tables named after groups, and plain figures for times without a table.
fn groups(
    keys: &mut Keys<'_>,
    table: &dyn TableLike,
    regexes: &[regex::Regex],
) -> (BTreeMap<String, Numbers>, BTreeMap<String, Count>) {
    let names = group_names(regexes);
    let (mut numbers, mut counts) = (BTreeMap::new(), BTreeMap::new());
    for name in TIMES.iter().filter(|t| names.iter().any(|n| n == *t)) {
        numbers.insert((*name).to_owned(), Numbers::Figures { window: None });
    }
    for (name, item) in table.iter() {
        let Some(inner) = item.as_table_like().filter(|_| !KEYS.contains(&name)) else {
            continue;
        };
        if !names.iter().any(|n| n == name) {
            if !regexes.is_empty() {
                let groups = names.clone();
                keys.remark(
                    name,
                    span_of(table, name),
                    SchemeTrouble::NoGroup { groups },
                );
            }
            continue;
        }
        for (key, item) in inner.iter().filter(|(k, _)| !GROUP_KEYS.contains(k)) {
            let at = span_of(inner, key).or(item.span());
            let nearest = nearest(key, GROUP_KEYS);
            keys.remark(key, at, SchemeTrouble::UnknownKey { nearest });
        }
        if inner.contains_key("count") {
            counts.extend(count(keys, inner, &names).map(|c| (name.to_owned(), c)));
        } else {
            numbers.extend(one_of(keys, inner).map(|n| (name.to_owned(), n)));
        }
    }
    (numbers, counts)
}

fn count(keys: &mut Keys<'_>, table: &dyn TableLike, names: &[String]) -> Option<Count> {
    let sign = sign(keys, table, "count");
    let to = keys
        .text(table, "adds_to")
        .unwrap_or_else(|| "year".to_owned());
    if !names.contains(&to) || !TIMES.contains(&to.as_str()) {
        let groups = names.to_vec();
        let at = span_of(table, "adds_to").or_else(|| span_of(table, "count"));
        keys.remark("adds_to", at, SchemeTrouble::NoGroup { groups });
        return None;
    }
    let each = keys.whole(table, "each").unwrap_or(1);
    Some(Count {
        sign: sign?,
        to,
        each,
    })
}

fn sign(keys: &mut Keys<'_>, table: &dyn TableLike, key: &str) -> Option<char> {
    let text = keys.text(table, key)?;
    let mut signs = text.chars();
    match (signs.next(), signs.next()) {
        (Some(sign), None) if sign.is_ascii_graphic() => Some(sign),
        _ => {
            keys.remark(key, span_of(table, key), SchemeTrouble::NotASign);
            None
        }
    }
}

/// What a group's table says of its numbers.
fn one_of(keys: &mut Keys<'_>, table: &dyn TableLike) -> Option<Numbers> {
    if keys.flag(table, "roman") == Some(true) {
        return Some(Numbers::Roman);
    }
    if table.contains_key("values") {
        return values(keys, table);
    }
    if table.contains_key("letters") {
        let letters = keys.text(table, "letters")?;
        let first = keys.whole(table, "first").unwrap_or(1);
        let row = letters.chars().filter(|c| !c.is_whitespace());
        return Some(Numbers::Table(
            row.zip(first..)
                .map(|(c, n)| (c.to_string(), vec![n]))
                .collect(),
        ));
    }
    let figures = keys.flag(table, "figures").unwrap_or(true);
    let window = keys.window(table, "window");
    figures.then_some(Numbers::Figures { window })
}

/// `values = { A = 1946, B = [1947, 1972] }`.
fn values(keys: &mut Keys<'_>, table: &dyn TableLike) -> Option<Numbers> {
    let small = |n: i64| i32::try_from(n).ok();
    let wrong = SchemeTrouble::WrongKind {
        wanted: "a table of whole numbers, `{ A = 1946, B = [1947, 1972] }`",
    };
    let Some(inner) = table.get("values").and_then(Item::as_table_like) else {
        keys.remark("values", span_of(table, "values"), wrong);
        return None;
    };
    let mut out = BTreeMap::new();
    for (text, item) in inner.iter() {
        let numbers: Option<Vec<i32>> = match item.as_array() {
            Some(list) => list
                .iter()
                .map(|v| v.as_integer().and_then(small))
                .collect(),
            None => item.as_integer().and_then(small).map(|n| vec![n]),
        };
        match numbers {
            Some(numbers) => out.insert(text.to_owned(), numbers),
            None => {
                keys.remark(text, span_of(inner, text), wrong.clone());
                None
            }
        };
    }
    Some(Numbers::Table(out))
}

fn place(keys: &mut Keys<'_>, table: &dyn TableLike) -> Place {
    let word = keys.word(table, "place", &Place::WORDS);
    let image = keys.text(table, "image");
    if let Some(quad) = keys.quad(table, "box") {
        return Place::Inside { quad, image };
    }
    match word {
        Some(0) => Place::Below,
        Some(1) => Place::Beside,
        Some(3) => Place::Elsewhere,
        _ => Place::Near,
    }
}

fn symbols(keys: &mut Keys<'_>, table: &dyn TableLike) -> Vec<Symbol> {
    let tables: Vec<&dyn TableLike> = match table.get("symbol") {
        None => Vec::new(),
        Some(Item::ArrayOfTables(list)) => list.iter().map(|t| t as &dyn TableLike).collect(),
        Some(other) => {
            let wanted = "written as `[[scheme.symbol]]`";
            keys.remark("symbol", other.span(), SchemeTrouble::WrongKind { wanted });
            Vec::new()
        }
    };
    let mut out = Vec::new();
    for symbol in tables {
        for (key, item) in symbol.iter().filter(|(k, _)| !SYMBOL_KEYS.contains(k)) {
            let at = span_of(symbol, key).or(item.span());
            let nearest = nearest(key, SYMBOL_KEYS);
            keys.remark(key, at, SchemeTrouble::UnknownKey { nearest });
        }
        let (name, sign) = (keys.text(symbol, "name"), sign(keys, symbol, "sign"));
        match (name, sign) {
            (Some(name), Some(sign)) => out.push(Symbol {
                name,
                sign,
                crop: keys.text(symbol, "crop"),
            }),
            _ => keys.remark("symbol", span_of(table, "symbol"), SchemeTrouble::Missing),
        }
    }
    out
}

/// `codes_from` and `codes_until` as one run.
fn codes(keys: &mut Keys<'_>, table: &dyn TableLike) -> Option<Years> {
    let from = keys.years(table, "codes_from").and_then(|y| y.first);
    let until = keys.years(table, "codes_until").and_then(|y| y.last);
    let backward = from.zip(until).is_some_and(|(a, b)| a > b);
    if backward {
        let wanted = "not before `codes_from`";
        let at = span_of(table, "codes_until");
        keys.remark("codes_until", at, SchemeTrouble::WrongKind { wanted });
    }
    let told = from.is_some() || until.is_some();
    told.then_some(Years {
        first: from,
        last: until,
    })
}

/// Warns of keys that mean nothing.
fn only(keys: &mut Keys<'_>, table: &dyn TableLike, scheme: &Scheme) {
    let groups = group_names(&scheme.regexes);
    for (key, item) in table.iter() {
        if KEYS.contains(&key) || item.is_table_like() {
            continue;
        }
        let known = KEYS.into_iter().chain(groups.iter().map(String::as_str));
        let nearest = nearest(key, known);
        let at = span_of(table, key).or(item.span());
        keys.remark(key, at, SchemeTrouble::UnknownKey { nearest });
    }
}

/// Tries codes that the patterns allow: each part must stand for something.
fn try_codes(keys: &mut Keys<'_>, table: &dyn TableLike, scheme: &Scheme) {
    let mut told: Vec<String> = Vec::new();
    for code in scheme.automaton.codes(TRIED) {
        for regex in &scheme.regexes {
            let Some(captures) = regex.captures(&code) else {
                continue;
            };
            let (group, trouble) = match scheme.told(&captures) {
                Err((group, text, NoNumber::NoWindow)) => (group, SchemeTrouble::NoWindow { text }),
                Err((group, text, NoNumber::Unknown)) => (group, SchemeTrouble::NoValue { text }),
                Ok(numbers) => match unreal(&numbers, &captures) {
                    Some(found) => found,
                    None => continue,
                },
            };
            if !told.contains(&group) {
                let at = span_of(table, &group).or_else(|| span_of(table, "pattern"));
                keys.remark(&group, at, trouble);
                told.push(group);
            }
        }
    }
}

/// A month after December, or a fifth quarter.
fn unreal(
    told: &BTreeMap<&'static str, Vec<i32>>,
    captures: &regex::Captures<'_>,
) -> Option<(String, SchemeTrouble)> {
    for (name, most) in [("month", 12), ("quarter", 4)] {
        let odd = told
            .get(name)
            .into_iter()
            .flatten()
            .find(|n| !(1..=most).contains(*n));
        if let Some(&number) = odd {
            let text = captures.name(name).map_or("", |m| m.as_str()).to_owned();
            return Some((name.to_owned(), SchemeTrouble::NoTime { text, number }));
        }
    }
    None
}

/// `examples = { C52 = "1952-03" }`: what the writer expects must come out.
fn examples(keys: &mut Keys<'_>, table: &dyn TableLike, scheme: &Scheme) {
    let Some(item) = table.get("examples") else {
        return;
    };
    let Some(inner) = item.as_table_like() else {
        let wanted = "a table of codes and dates, `{ C52 = \"1952-03\" }`";
        keys.remark(
            "examples",
            span_of(table, "examples"),
            SchemeTrouble::WrongKind { wanted },
        );
        return;
    };
    for (code, wanted) in inner.iter() {
        let made = scheme.parse(code).map(|fit| fit.made).unwrap_or_default();
        let means: Vec<&str> = made.iter().map(|m| m.as_str()).collect();
        let right = wanted.as_str().is_some_and(|w| means.contains(&w));
        if !right {
            let means = (!means.is_empty()).then(|| means.join("`, `"));
            let code = code.to_owned();
            let at = span_of(inner, &code);
            keys.remark("examples", at, SchemeTrouble::Example { code, means });
        }
    }
}

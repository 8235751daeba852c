//! The facts of a maker or of one of its lines, to be edited.

use maud::{Markup, html as markup};

use super::{Page, in_address};
use crate::desk::records::{Link, Shown};
use crate::library::{Column, Field, Habit, Holds, Shape, Written, WrittenEntry};

/// What a key is called, what may stand there, and how one more entry of it is asked for.
fn words(key: &str) -> (&'static str, &'static str, &'static str) {
    match key {
        "names" => ("Names", "the first one is shown", ""),
        "also_called" => ("Also called", "", ""),
        "notes" => ("Notes", "", ""),
        "sources" => ("Sources", "", ""),
        "plants" => ("Works", "", "Add works"),
        "forms" => ("Forms", "", "Add a form"),
        "decorations" => ("Decorations", "", "Add a decoration"),
        "borrows" => ("Bodies of other lines", "", "Add a body"),
        "pairs_with" => ("Went out together with", "", "Add a line"),
        "name" => ("Name", "", ""),
        "made" => ("Made", "1928/1935, 193X, 1930~", ""),
        "years" => ("Years", "1901/1938, 1925/..", ""),
        "place" => ("Place", "", ""),
        "form" => ("Form", "cup", ""),
        "marked" => ("Carries its mark", "", ""),
        "except" => ("But not", "export", ""),
        "borrowed_from" => ("Body of the line", "", ""),
        "handle" => ("Only with handle", "", ""),
        "foot" => ("Only with foot", "", ""),
        "finial" => ("Only with finial", "acorn", ""),
        "source" => ("Source", "", ""),
        "body" => ("Body of the line", "", ""),
        "line" => ("The other line", "", ""),
        "glaze" => ("Only in glaze", "", ""),
        "decoration" => ("Only with decoration", "", ""),
        "customer" => ("For", "whom it was made for", ""),
        "colourway" => ("Colours", "blue", ""),
        "number" => ("Number", "H####: # is a digit", ""),
        "decorated_by" => ("Decorated by", "", ""),
        _ => ("", "", ""),
    }
}

pub(in crate::desk) fn record(shown: &Shown, word: &str) -> String {
    let address = format!("/makers/{}", in_address(&shown.maker.id));
    let main = markup! {
        div #record data-record=(shown.id) data-saw=(shown.stamp) data-address={ "/makers/" (in_address(&shown.id)) } {
            div.head {
                h1 { (shown.name) }
                p.soft { @if shown.is_line { "a line of " a href=(address) { (shown.maker.name) } } @else { "a maker" } }
            }
            @if !shown.is_line { (lines(shown, &address)) }
            @if !shown.marks.is_empty() {
                section.group aria-labelledby="marks-title" {
                    h2 #marks-title { "Marks" }
                    ul.names { @for one in &shown.marks { li { (link("/marks/", one)) } } }
                }
            }
            @match &shown.says {
                Ok(says) => (facts(shown, says)),
                Err(why) => p.note { (why) ", then load this page again." },
            }
        }
    };
    let maker = [("Marks", "/marks".to_owned())];
    let line = [
        ("Marks", "/marks".to_owned()),
        (shown.maker.name.as_str(), address),
    ];
    let page = Page {
        title: &shown.name,
        script: Some("record.js"),
        way: if shown.is_line { &line } else { &maker },
        word,
    };
    page.with(&main)
}

fn link(place: &str, one: &Link) -> Markup {
    markup! {
        a href={ (place) (in_address(&one.id)) } { (one.name) }
        @if !one.when.is_empty() { span.soft { " " (one.when) } }
    }
}

fn lines(shown: &Shown, address: &str) -> Markup {
    markup! {
        section.group aria-labelledby="lines-title" {
            h2 #lines-title { "Lines" }
            @if !shown.lines.is_empty() {
                ul.names { @for one in &shown.lines { li { (link("/makers/", one)) } } }
            }
            form.search method="get" action=(address) {
                p.field { label for="line" { "Another line, by its name" } input #line name="line" type="text" maxlength="80" autocomplete="off" required; }
                p { button type="submit" { "Open its page" } }
            }
        }
    }
}

fn facts(shown: &Shown, says: &Written) -> Markup {
    markup! {
        section.card aria-labelledby="facts-title" {
            h2 #facts-title { "Facts" }
            p.soft {
                @if shown.written { "Written into " (shown.file) "; your comments there stay. Undo takes it back." }
                @else { "There is no " (shown.file) " yet: what you write here makes it. Undo takes it back." }
            }
            form #edit {
                datalist #known-lines { @for line in &shown.known { option value=(line) {} } }
                div.fields {
                    @for field in shown.fields {
                        @if let Holds::One(shape) = field.holds { (value(&format!("edit-{}", field.key), field.key, shape, says.text(field.key), "text")) }
                    }
                }
                @for field in shown.fields {
                    @if let Holds::Entries { columns, .. } = field.holds { (list(field, columns, says.entries(field.key))) }
                }
                p.acts { button.first #keep type="submit" { "Write the facts" } }
            }
        }
    }
}

/// One field; `kind` says whether it is a key of the file or of an entry.
fn value(id: &str, key: &str, shape: Shape, text: &str, kind: &str) -> Markup {
    let (label, hint, _) = words(key);
    let (in_file, in_entry) = match kind {
        "text" => (Some(key), None),
        _ => (None, Some(key)),
    };
    markup! {
        p.field {
            label for=(id) { (label) @if shape == Shape::List { span.soft { " one a line" @if !hint.is_empty() { ", " (hint) } } } }
            @match shape {
                Shape::List => textarea id=(id) rows=(text.lines().count().max(2)) maxlength="4000" data-text=[in_file] data-cell=[in_entry] { (text) },
                Shape::Habit => select id=(id) data-text=[in_file] data-cell=[in_entry] {
                    option value="" selected[text.is_empty()] { "not said" }
                    @for habit in Habit::ALL { option value=(habit.word()) selected[habit.word() == text] { (habit.word()) } }
                    @if !text.is_empty() && Habit::from_word(text).is_none() { option value=(text) selected { (text) } }
                },
                _ => input id=(id) type="text" maxlength="400" autocomplete="off" placeholder=(hint) value=(text)
                    list=[(shape == Shape::Line).then_some("known-lines")] data-text=[in_file] data-cell=[in_entry];,
            }
        }
    }
}

fn list(field: &Field, columns: &[Column], entries: &[WrittenEntry]) -> Markup {
    let (label, _, more) = words(field.key);
    markup! {
        fieldset.list data-list=(field.key) {
            legend { (label) @if !entries.is_empty() { " " span.count { (entries.len()) } } }
            div.entries {
                @for (at, one) in entries.iter().enumerate() { (entry(field.key, &at.to_string(), columns, one)) }
            }
            template { (entry(field.key, "new", columns, &WrittenEntry::default())) }
            p { button type="button" data-more=(field.key) { (more) } }
        }
    }
}

fn entry(key: &str, at: &str, columns: &[Column], one: &WrittenEntry) -> Markup {
    let said: Vec<&str> = columns.iter().map(|c| one.cell(c.key)).collect();
    let mut said = said.into_iter().filter(|text| !text.is_empty());
    let first = said.next().unwrap_or("new");
    let rest: Vec<String> = said.map(|text| text.replace('\n', "; ")).collect();
    markup! {
        details.entry data-from=[one.from] {
            summary { b { (first) } @if !rest.is_empty() { span.soft { " " (rest.join(" · ")) } } }
            div.fields {
                @for column in columns { (value(&format!("edit-{key}-{at}-{}", column.key), column.key, column.shape, one.cell(column.key), "cell")) }
            }
            p { button.plain type="button" data-leave-out { "Leave this out" } }
        }
    }
}

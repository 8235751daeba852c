//! The person's own marks: all families by maker and time, and one family with its facts.

use maud::{Markup, html as markup};

use super::{Page, in_address};
use crate::answer::Means;
use crate::desk::shelf::{Confused, Line, Maker, Shown};
use crate::library::StampRole;
use crate::workspace::readable;

pub(in crate::desk) fn marks(makers: &[Maker], search: &str, word: &str) -> String {
    let count: usize = makers.iter().map(|m| m.families.len()).sum();
    let main = markup! {
        div.head {
            h1 { "Marks" }
            p.soft { (count) @if count == 1 { " family" } @else { " families" } @if !search.is_empty() { " with these words" } }
        }
        form.search role="search" method="get" action="/marks" {
            p.field { label for="q" { "In names, lines, notes, years" } input #q name="q" type="search" maxlength="80" autocomplete="off" value=(readable(search)); }
            p { button type="submit" { "Search" } @if !search.is_empty() { a.button href="/marks" { "All" } } }
        }
        @if makers.is_empty() {
            p.lead { @if search.is_empty() { "Your library holds no marks yet. Name strangers to make families." } @else { "No family has all these words." } }
        }
        @for maker in makers {
            section.group {
                h2 { a href={ "/makers/" (in_address(&maker.id)) } { (maker.name) } }
                @if !maker.lines.is_empty() {
                    p.soft { "Lines: " @for (at, (id, name)) in maker.lines.iter().enumerate() { @if at > 0 { ", " } a href={ "/makers/" (in_address(id)) } { (name) } } }
                }
                @if maker.families.is_empty() { p.soft { "No marks yet." } }
                ul.tiles { @for line in &maker.families { (family(line)) } }
            }
        }
    };
    let page = Page {
        title: "Marks",
        script: None,
        way: &[("Marks", "/marks".to_owned())],
        word,
    };
    page.with(&main)
}

fn family(line: &Line) -> Markup {
    markup! {
        li {
            a.tile href={ "/marks/" (in_address(&line.id)) } {
                img loading="lazy" width="260" height="260" alt="" src={ "/exemplar/" (in_address(&line.id)) };
                span.line { span.what { (line.name) } }
                span.soft { @if let Some(used) = &line.used { (used) } @else { "no years known" } }
                span.soft {
                    @if line.exemplars == 1 { "1 exemplar" } @else { (line.exemplars) " exemplars" }
                    @if !line.lines.is_empty() { " · " (line.lines.join(", ")) }
                }
            }
        }
    }
}

pub(in crate::desk) fn mark(shown: &Shown, word: &str) -> String {
    let name = readable(&shown.name);
    let address = in_address(&shown.id);
    let main = markup! {
        div.mark-page #mark data-family=(shown.id) data-saw=(shown.stamp) {
            div.head {
                h1 { (name) }
                p.soft {
                    a href={ "/makers/" (in_address(&shown.maker_id)) } { (shown.maker) }
                    @for line in &shown.lines { " · " a href={ "/makers/" (in_address(&line_of(&shown.maker_id, line))) } { (readable(line)) } }
                    @if !shown.used.is_empty() { " · used " (readable(&shown.used)) }
                }
            }
            section.group aria-labelledby="exemplars-title" {
                h2 #exemplars-title { "Exemplars" }
                @if shown.exemplars.is_empty() { p { "None: the family cannot be matched. Copy a picture of the mark into its folder." } }
                ul.marks.exemplars {
                    @for one in &shown.exemplars {
                        li {
                            figure {
                                img loading="lazy" alt={ "Exemplar " (one.file) } src={ "/exemplar/" (address) "?content=" (one.content) };
                                figcaption { (one.file) @if !one.source.is_empty() { " · " (one.source) } }
                            }
                        }
                    }
                }
            }
            @if !shown.confused.is_empty() {
                section.group aria-labelledby="twins-title" {
                    h2 #twins-title { "Taken for" }
                    @for one in &shown.confused { (twin(one, &shown.id, &name)) }
                }
            }
            (facts(shown))
            @if !shown.decided.is_empty() {
                section.group aria-labelledby="decided-title" {
                    h2 #decided-title { "You decided so on" }
                    ul.marks.small {
                        @for (id, says) in &shown.decided {
                            li { figure { img loading="lazy" alt={ "Mark in " (says) } src={ "/picture/" (id) "/small" }; figcaption { (says) } } }
                        }
                    }
                }
            }
        }
    };
    let page = Page {
        title: &name,
        script: Some("shelf.js"),
        way: &[("Marks", "/marks".to_owned())],
        word,
    };
    page.with(&main)
}

/// `line` of the mark's maker, or `maker/line`.
fn line_of(maker: &str, line: &str) -> String {
    match line.contains('/') {
        true => line.to_owned(),
        false => format!("{maker}/{line}"),
    }
}

/// The two exemplars side by side, ringed where they part.
fn twin(one: &Confused, own: &str, name: &str) -> Markup {
    markup! {
        div.twins data-own=(own) data-against=[one.known.then_some(one.id.as_str())] {
            h3 {
                @if one.known { a href={ "/marks/" (in_address(&one.id)) } { (one.name) } } @else { (readable(&one.id)) " (not in your library)" }
            }
            p { @if one.tell.is_empty() { "Nothing is written of what tells them apart." } @else { (readable(&one.tell)) } }
            @if one.known {
                div.two {
                    figure { div.ringed { img alt={ "The library's " (name) } src={ "/exemplar/" (in_address(own)) }; } figcaption { (name) } }
                    figure { div.ringed.other { img alt={ "The library's " (one.name) } src={ "/exemplar/" (in_address(&one.id)) }; } figcaption { (one.name) } }
                }
                p.soft.rings-say role="status" { "Comparing…" }
            }
        }
    }
}

fn facts(shown: &Shown) -> Markup {
    let text = |id: &str, label: &str, value: &str, hint: &str| {
        markup! {
            p.field { label for={ "edit-" (id) } { (label) } input id={ "edit-" (id) } name=(id) type="text" maxlength="400" autocomplete="off" placeholder=(hint) value=(value); }
        }
    };
    let list = |id: &str, label: &str, lines: &[String]| {
        markup! {
            p.field { label for={ "edit-" (id) } { (label) span.soft { " one a line" } } textarea id={ "edit-" (id) } name=(id) rows=(lines.len().max(2)) maxlength="4000" { (lines.join("\n")) } }
        }
    };
    markup! {
        section.card aria-labelledby="facts-title" {
            h2 #facts-title { "Facts" }
            p.soft { "Written into its mark.toml; your comments there stay. Undo takes it back." }
            form #edit {
                div.fields {
                    (text("name", "Name", &shown.name, ""))
                    (text("used", "Stamp used", &shown.used, "1928/1935, 193X, 1930~"))
                    (text("ink", "Ink", &shown.ink, "green"))
                    p.field {
                        label for="edit-role" { "Whose stamp" }
                        select #edit-role name="role" {
                            @for role in StampRole::ALL { option value=(role.word()) selected[role == shown.role] { (role.word()) } }
                        }
                    }
                    p.field {
                        label for="edit-means" { "Put on" }
                        select #edit-means name="means" {
                            option value="" { "not said" }
                            @for means in Means::TOLD { option value=(means.word()) selected[Some(means) == shown.means] { (means.word()) } }
                        }
                    }
                    (list("lines", "Lines", &shown.lines))
                    (list("notes", "Notes", &shown.notes))
                    (list("sources", "Sources", &shown.sources))
                }
                @for (at, one) in shown.confused.iter().enumerate() {
                    p.field.tell {
                        label for={ "edit-tell-" (at) } { "What tells it from " (one.name) }
                        input id={ "edit-tell-" (at) } type="text" maxlength="400" autocomplete="off" data-twin=(one.id) value=(one.tell);
                    }
                }
                p.acts { button.first #keep type="submit" { "Write the facts" } }
            }
            @if !shown.was.is_empty() { p.soft { "Was called: " (readable(&shown.was.join(", "))) } }
        }
    }
}

//! The page of pieces: what the photos suggest, sets, and pieces in none.

use maud::{Markup, html as markup};

use super::{Page, as_value};
use crate::desk::pieces::{Overview, SetLine, Suggestion, Tile};
use crate::workspace::readable;

pub(in crate::desk) fn pieces(all: &Overview, word: &str) -> String {
    let nothing = all.suggestions.is_empty()
        && all.sets.is_empty()
        && all.alone.is_empty()
        && all.withdrawn.is_empty();
    let main = markup! {
        div.head { h1 { "Pieces" } p.soft #count {} }
        @if nothing { p.lead { "Take photos in first: each underside is a piece, and other views go with it." } }
        @if !all.suggestions.is_empty() { (suggested(&all.suggestions)) }
        @if !all.alone.is_empty() || !all.sets.is_empty() { (pairing(&all.free_name)) }
        @for set in &all.sets { (one_set(set)) }
        @if !all.alone.is_empty() {
            section.group aria-labelledby="alone-title" {
                h2 #alone-title { "In no set" }
                ul.marks.pieces { @for tile in &all.alone { (piece_tile(tile)) } }
            }
        }
        @if !all.withdrawn.is_empty() {
            details.withdrawn {
                summary { "Withdrawn: " (all.withdrawn.len()) }
                ul { @for (number, name, why) in &all.withdrawn { li { a href={ "/piece/" (number) } { (name) } ": " (why) } } }
            }
        }
        datalist #forms { @for form in FORMS { option value=(form) {} } }
    };
    let page = Page {
        title: "Pieces",
        script: Some("pieces.js"),
        way: &[("Pieces", "/pieces".to_owned())],
        word,
    };
    page.with(&main)
}

/// Forms that are offered while a person types; any other words will do.
const FORMS: [&str; 12] = [
    "cup",
    "coffee cup",
    "teacup",
    "saucer",
    "plate",
    "dinner plate",
    "bowl",
    "teapot",
    "coffee pot",
    "creamer",
    "sugar bowl",
    "platter",
];

fn suggested(all: &[Suggestion]) -> Markup {
    markup! {
        section.group aria-labelledby="suggested-title" {
            h2 #suggested-title { "Made of your photos" }
            p.soft { "Each underside is taken for a piece; other views go with the one nearest in time. Take out what is none, then approve the rest." }
            p.acts {
                button.first #approve type="button" data-key="a" { span #approve-says { "Approve all " (all.len()) } kbd aria-hidden="true" { "A" } }
            }
            ul.marks #suggestions {
                @for one in all {
                    @let first = &one.photos[0].0;
                    li.pick-and-say {
                        label.pick {
                            input type="checkbox" checked[one.likely] data-lot=(one.lot)
                                data-photos=(photos(one));
                            span.view { img.base loading="lazy" alt={ "The photo " (one.file) } src={ "/picture/" (first) @if first.contains('-') { "/small" } @else { "/whole" } }; }
                            @if one.photos.len() > 1 {
                                span.more {
                                    @for (hash, _) in &one.photos[1..] { img loading="lazy" width="64" height="64" alt="Another view of it" src={ "/picture/" (hash) "/whole" }; }
                                }
                            }
                            span.line { span.in { "✓ a piece" } span.out { "✕ left out" } }
                            span.soft { (one.says) }
                            span.soft.name { (one.file) " · " (readable(&one.lot)) }
                        }
                        @if one.marks > 1 {
                            label.check { input.each-mark type="checkbox" data-marks=(one.marks); "a piece for each of its " (one.marks) " marks" }
                        }
                        input.form-of type="text" list="forms" maxlength="80" autocomplete="off" placeholder="cup, plate …" aria-label={ "What the piece in " (one.file) " is" };
                    }
                }
            }
        }
    }
}

/// `role:hash` of each photo.
fn photos(one: &Suggestion) -> String {
    let each = one
        .photos
        .iter()
        .map(|(hash, role)| format!("{role}:{hash}"));
    each.collect::<Vec<_>>().join(" ")
}

fn pairing(free: &str) -> Markup {
    markup! {
        form.pinned.pairing #pairing {
            p.field { label for="set-name" { "Picked pieces become the set" } input #set-name type="text" required maxlength="80" autocomplete="off" value=(free); }
            p.acts {
                button.first #pair type="submit" data-key="s" { span #pair-says { "Pick two or more" } kbd aria-hidden="true" { "S" } }
                span.soft { "Space picks; or drag one piece onto another, or onto a set." }
            }
        }
    }
}

fn one_set(set: &SetLine) -> Markup {
    let id = as_value(&set.name);
    markup! {
        section.group.set aria-label={ "Set " (readable(&set.name)) } data-set=(set.name) {
            h2 { (readable(&set.name)) }
            p { (set.says) }
            ul.marks.pieces { @for tile in &set.members { (piece_tile(tile)) } }
            form.needs data-piece=(set.needs_on.0) data-saw=(set.needs_on.1) {
                p.field { label for={ "needs-" (id) } { "Complete with" } input id={ "needs-" (id) } name="needs" type="text" maxlength="200" autocomplete="off" placeholder="6 cup, 6 saucer, 1 teapot" value=(set.needs); }
                p { button type="submit" { "Keep" } }
            }
        }
    }
}

fn piece_tile(tile: &Tile) -> Markup {
    markup! {
        li draggable="true" data-piece=(tile.number) {
            label.pick {
                input type="checkbox" data-piece=(tile.number) data-saw=(tile.saw);
                span.view {
                    @if let Some(photo) = &tile.photo { img.base loading="lazy" draggable="false" alt={ "Photo of " (tile.name) } src={ "/picture/" (photo) @if photo.contains('-') { "/small" } @else { "/whole" } }; }
                }
                span.line { b { (tile.name) } @if tile.unmarked { span.soft { "unmarked" } } }
                span.soft { @if tile.made_by == "unknown" { "maker unknown" } @else { (tile.made_by) } }
                span.soft { @if tile.dated == "at any time" { "undated" } @else { (tile.dated) } }
            }
            p.tile-doors {
                a href={ "/piece/" (tile.number) } aria-label={ "Open " (tile.name) } { "Open" }
                @if tile.set.is_some() { button.plain type="button" data-out=(tile.number) data-saw=(tile.saw) aria-label={ "Take out " (tile.name) " of its set" } { "Take out" } }
            }
        }
    }
}

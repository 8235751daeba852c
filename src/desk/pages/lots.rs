//! The first page: the lots, and taking in a new one; the marks of one lot; and the beginning.

use std::path::Path;

use maud::{Markup, html as markup};

use super::{Page, as_value, marks_word};
use crate::answer::Verdict;
use crate::desk::job::Progress;
use crate::desk::mark_id::MarkId;
use crate::desk::order::{Order, Standing, ordered, standing};
use crate::report::{Row, Sheet, heading, photos};
use crate::workspace::readable_path;

/// A lot in the list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(in crate::desk) struct LotLine {
    name: String,
    told: Vec<String>,
    photos: usize,
    standing: Standing,
    /// Marks whose pictures stand for the lot.
    shown: Vec<String>,
}

/// Pictures beside a lot.
const SHOWN: usize = 4;

impl LotLine {
    pub(in crate::desk) fn of(sheet: &Sheet) -> Self {
        let told = [sheet.date.clone(), sheet.place.clone()];
        let with_mark = sheet.rows.iter().filter(|r| r.mark.is_some());
        Self {
            name: sheet.lot.clone(),
            told: told.into_iter().flatten().collect(),
            photos: sheet.shots.len(),
            standing: standing(sheet),
            shown: with_mark
                .take(SHOWN)
                .map(|r| MarkId::of(sheet, r).to_string())
                .collect(),
        }
    }
}

pub(in crate::desk) fn lots(
    all: &[LotLine],
    families: usize,
    progress: &Progress,
    word: &str,
) -> String {
    let main = markup! {
        h1 { "Lots" }
        (under_way(progress))
        @if families == 0 {
            p.note { "Your library has no marks yet, so every mark is a stranger: take a lot in, then name what you know under Strangers." }
        }
        @if all.is_empty() { p.lead { "No lot yet. Take in the photos of a sale below." } }
        ul.lots {
            @for (at, line) in all.iter().enumerate().rev() { (lot_line(at + 1, line)) }
        }
        section.new aria-labelledby="new-title" {
            h2 #new-title { "Take photos in" }
            (take_in())
        }
    };
    let page = Page {
        title: "Lots",
        script: Some("lots.js"),
        way: &[],
        word,
    };
    page.with(&main)
}

fn lot_line(number: usize, line: &LotLine) -> Markup {
    let s = &line.standing;
    markup! {
        li.lot {
            div.strip aria-hidden="true" {
                @for id in &line.shown {
                    img loading="lazy" alt="" src={ "/picture/" (id) "/small" };
                }
            }
            div {
                h2 { a href={ "/lot/" (number) } { (line.name) } }
                p.soft {
                    @for word in &line.told { (word) " · " }
                    (photos(line.photos)) " · " (marks_word(s.marks))
                }
                (meter(s))
                p.doors {
                    @if s.clear > 0 { a.door.first href={ "/lot/" (number) "/clear" } { "Clear ones" b { (s.clear) } } }
                    @if s.look + s.clear > 0 { a.door href={ "/lot/" (number) "/decide" } { "Decide one by one" b { (s.look + s.clear) } } }
                    @if s.codes > 0 { a.door href={ "/lot/" (number) "/codes" } { "Date codes" b { (s.codes) } } }
                    a.door.quiet href={ "/lot/" (number) "/report" } { "Report" }
                    a.door.quiet href={ "/lot/" (number) "/to-look-at" } { "Sheet to look at" }
                    a.door.quiet href={ "/lot/" (number) "/table" } { "Table" }
                }
            }
        }
    }
}

/// How far a lot is: a bar, and what its parts are.
fn meter(s: &Standing) -> Markup {
    let settled = s.decided + s.aside;
    let counts = [
        (s.decided, "decided"),
        (s.clear, "clear, to confirm"),
        (s.look, "need your eye"),
        (s.aside, "without a mark"),
    ];
    markup! {
        div.meter {
            progress max=(s.marks.max(1)) value=(settled) aria-label={ (settled) " of " (s.marks) " settled" } {}
            ul.counts { @for (count, says) in counts.into_iter().filter(|(n, _)| *n > 0) { li { b { (count) } " " (says) } } }
        }
    }
}

/// What is being done, filled by the page's code.
fn under_way(progress: &Progress) -> Markup {
    let idle = matches!(progress.state, "idle");
    markup! {
        section.way #under-way aria-labelledby="way-title" hidden[idle] {
            h2 #way-title { (progress.what) }
            progress #way-bar max="1" value="0" aria-labelledby="way-title" {}
            p #way-line {}
            p #way-piles.soft {}
            details #way-troubles hidden { summary {} ul {} }
            p { button #pause type="button" { "Pause" } }
        }
    }
}

fn take_in() -> Markup {
    markup! {
        form #take-in.form {
            div.drop #drop {
                p { "Drop a folder of photos here" }
                p.soft { "They are copied into your workspace. Or choose: " }
                label.button { "A folder…" input #pick-folder type="file" webkitdirectory multiple; }
                label.button { "Photos…" input #pick-files type="file" accept="image/*,.heic,.heif" multiple; }
                p #picked role="status" {}
            }
            div.or {
                p.field {
                    label for="folder" { "Or name a folder on this machine" }
                    input #folder name="folder" type="text" autocomplete="off" spellcheck="false" placeholder="/home/you/photos/mill-fair" aria-describedby="folder-note";
                    span.soft #folder-note { "The photos stay where they are and are only read." }
                }
                p.field {
                    label for="lot" { "Call the lot" }
                    input #lot name="lot" type="text" required maxlength="200" autocomplete="off";
                }
                div.two {
                    p.field { label for="date" { "When (may stay empty)" } input #date name="date" type="text" maxlength="200" autocomplete="off"; }
                    p.field { label for="place" { "Where (may stay empty)" } input #place name="place" type="text" maxlength="200" autocomplete="off"; }
                }
                p { button.first type="submit" { "Take in" } }
            }
        }
    }
}

/// All marks of a lot, small.
pub(in crate::desk) fn lot(
    number: usize,
    sheet: &Sheet,
    order: Order,
    fared: &str,
    word: &str,
) -> String {
    let s = standing(sheet);
    let rows = ordered(sheet, order);
    let main = markup! {
        div.head {
            h1 { (sheet.lot) }
            p.soft { (photos(sheet.shots.len())) " · " (marks_word(s.marks)) }
        }
        (meter(&s))
        @if s.clear + s.look == 0 && s.decided > 0 { p.note { b { "All marks of this lot are decided." } " " (fared) } }
        p.doors {
            @if s.clear > 0 { a.door.first href={ "/lot/" (number) "/clear" } { "Clear ones" b { (s.clear) } } }
            @if s.marks > 0 { a.door href={ "/lot/" (number) "/decide?order=" (order.word()) } { "Decide one by one" } }
            @if s.codes > 0 { a.door href={ "/lot/" (number) "/codes" } { "Date codes" b { (s.codes) } } }
            a.door.quiet href={ "/lot/" (number) "/report" } { "Report" }
            a.door.quiet href={ "/lot/" (number) "/to-look-at" } { "Sheet to look at" }
            a.door.quiet href={ "/lot/" (number) "/table" } { "Table" }
        }
        (order_links(&format!("/lot/{number}"), order))
        ul.tiles {
            @for row in rows { (tile(number, sheet, row, order)) }
        }
    };
    let page = Page {
        title: &sheet.lot,
        script: None,
        way: &[],
        word,
    };
    page.with(&main)
}

pub(super) fn order_links(to: &str, order: Order) -> Markup {
    markup! {
        nav.orders aria-label="Order" {
            @for one in Order::ALL.into_iter().filter(|o| *o != Order::Unprompted || to.ends_with("/decide")) {
                a href={ (to) "?order=" (one.word()) } aria-current=[(one == order).then_some("true")] { (one.says()) }
            }
        }
    }
}

/// A sign that tells states apart without colour.
pub(super) fn sign(row: &Row) -> &'static str {
    match (row.decision.is_some(), row.holds) {
        (true, _) => "✓",
        (_, Verdict::Named) => "●",
        (_, Verdict::Choose) => "◐",
        (_, Verdict::Unknown) => "○",
        (_, Verdict::Reshoot) => "↻",
        (_, Verdict::NoMark) => "–",
        (_, Verdict::NotUnderside) => "△",
        (_, Verdict::NotAPicture) => "×",
    }
}

fn tile(number: usize, sheet: &Sheet, row: &Row, order: Order) -> Markup {
    let id = MarkId::of(sheet, row).to_string();
    let shot = sheet.shot(row);
    let says = match (&row.family, row.holds) {
        (Some(family), Verdict::Named | Verdict::Choose) => sheet.family_name(family),
        (_, holds) => heading(holds).to_owned(),
    };
    let state = match row.decision.is_some() {
        true => "decided",
        false => row.verdict.map_or("not looked at", heading_word),
    };
    markup! {
        li {
            a.tile href={ "/lot/" (number) "/decide?order=" (order.word()) "&mark=" (as_value(&id)) } {
                // A file that is no picture has none to show.
                @if row.holds == Verdict::NotAPicture { img width="260" height="260" alt="" src="/front/nothing.svg"; }
                @else { img loading="lazy" width="260" height="260" alt="" src={ "/picture/" (id) "/small" }; }
                span.line {
                    span.sign aria-hidden="true" { (sign(row)) }
                    span.what { (crate::workspace::readable(&says)) }
                }
                span.soft { (state) " · " (shot.name) @if row.marks_in_photo > 1 { ", mark " (row.mark.map_or(0, |m| m + 1)) } }
            }
        }
    }
}

fn heading_word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Named => "clear",
        Verdict::Choose => "several fit",
        Verdict::Unknown => "open",
        Verdict::Reshoot => "to take again",
        Verdict::NoMark => "bare",
        Verdict::NotUnderside => "aside",
        Verdict::NotAPicture => "unread",
    }
}

/// Where there is no workspace yet.
pub(in crate::desk) fn welcome(root: &Path, word: &str) -> String {
    let main = markup! {
        h1 { "A desk for your marks" }
        p.lead { "Footring compares the marks under your plates with your own library of marks. It suggests; you decide. Nothing leaves this machine." }
        p { "Your library, your lots and your decisions will live in one folder:" }
        p.path { (readable_path(root)) }
        div.choice {
            div {
                button.first #begin-demo type="button" { "Begin with an invented sale" }
                p.soft { "41 photos and a library of invented potteries, to see how it works." }
            }
            div {
                button #begin-own type="button" { "Begin with my own photos" }
                p.soft { "An empty library: name the marks that you know as you go." }
            }
        }
        p #begin-told role="status" {}
    };
    let page = Page {
        title: "Welcome",
        script: Some("lots.js"),
        way: &[],
        word,
    };
    page.with(&main)
}

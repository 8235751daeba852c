//! The page of marks that the library does not know.

use maud::{Markup, html as markup};

use super::{Page, marks_word};
use crate::desk::job::Progress;
use crate::desk::strangers::{Group, Groups};

/// Groups shown with a form; marks alone come behind them in one list.
pub(in crate::desk) fn strangers(groups: &Groups, progress: &Progress, word: &str) -> String {
    let main = markup! {
        h1 { "Strangers" }
        @match groups {
            Groups::ToCompare(count) => {
                p.lead { (marks_word(*count)) " that your library does not know, not compared with each other yet." }
                p { button.first #compare type="button" { "Compare them" } }
                (waiting(progress))
            }
            Groups::Known(groups) if groups.is_empty() => {
                p.lead { "No mark is unknown to your library." }
            }
            Groups::Known(groups) => {
                p.lead { "Marks that your library does not know; those in one row look like one mark. Take out what does not belong, join what does, and name it: it becomes a family, and the open marks are looked at again with it." }
                div #groups {
                    @for (at, group) in groups.iter().enumerate() { (one(at, group)) }
                }
            }
        }
    };
    let page = Page {
        title: "Strangers",
        script: Some("strangers.js"),
        way: &[("Strangers", "/strangers".to_owned())],
        word,
    };
    page.with(&main)
}

fn waiting(progress: &Progress) -> Markup {
    let idle = !matches!(progress.state, "running" | "paused");
    markup! {
        section.way #under-way aria-labelledby="way-title" hidden[idle] {
            h2 #way-title { (progress.what) }
            progress #way-bar max="1" value="0" aria-labelledby="way-title" {}
            p #way-line {}
        }
    }
}

fn one(at: usize, group: &Group) -> Markup {
    let id = |what: &str| format!("{what}-{at}");
    markup! {
        section.stranger.alone[group.marks.len() == 1] id={ "group-" (group.name) } data-group=(group.name) aria-label={ "Group " (group.name) } {
            @if group.marks.len() > 1 { h2 { (marks_word(group.marks.len())) ", perhaps one" span.soft.name { "group " (group.name) } } }
            @else { h2.unseen { "A mark alone" } }
            ul.marks {
                @for mark in &group.marks {
                    li {
                        label.pick {
                            input type="checkbox" checked data-id=(mark.id) data-saw=(mark.saw);
                            span.view { img.base loading="lazy" alt={ "Mark in " (mark.photo) } data-turn=(mark.turn)
                                src={ "/picture/" (mark.id) "/turned?turn=" (mark.turn) }; }
                            span.line { span.in { "✓ belongs" } span.out { "✕ taken out" } span.soft { (mark.likely) } }
                            span.soft.name { (mark.photo) " · " (mark.lot) }
                        }
                    }
                }
            }
            @for (name, likely) in &group.perhaps {
                p.perhaps { button type="button" data-join=(name) { "Join with group " (name) } span.soft { " perhaps the same mark, " (likely) } }
            }
            form.form.naming data-turn="0" {
                p.field { label for=(id("maker")) { "Maker" span.soft { " if known" } } input id=(id("maker")) name="maker" type="text" maxlength="80" autocomplete="off"; }
                p.field { label for=(id("mark")) { "Call the mark" } input id=(id("mark")) name="name" type="text" required maxlength="80" autocomplete="off"; }
                p.acts {
                    button type="button" data-turn-by="-90" aria-label="Turn the pictures to the left" { "↺" }
                    button type="button" data-turn-by="90" aria-label="Turn the pictures to the right" { "↻" }
                    button.first type="submit" { "Make it a family" }
                }
            }
        }
    }
}

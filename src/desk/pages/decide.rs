//! The pages on which is decided: one mark at a time, all clear ones of a family, and date codes.

use maud::{Markup, html as markup};

use super::lots::order_links;
use super::{Page, as_value, in_address, marks_word};
use crate::desk::mark_id::MarkId;
use crate::desk::marks::listed;
use crate::desk::order::{Order, clear_families, clear_of, code_waits, ordered};
use crate::report::{Sheet, per_cent};
use crate::rescue::words::Tint;
use crate::workspace::readable;

/// What a picture shows until its page has filled it.
const NOTHING: &str = "/front/nothing.svg";

/// One mark at a time; its code fills the places.
pub(in crate::desk) fn decide(
    number: usize,
    sheet: &Sheet,
    order: Order,
    mark: Option<&MarkId>,
    word: &str,
) -> String {
    let to = format!("/lot/{number}/decide");
    let main = markup! {
        div.desk #desk data-lot=(number) data-order=(order.word()) data-start=[mark.map(ToString::to_string)] {
            div.head {
                h1 #name tabindex="-1" { "…" }
                p.soft #where {}
                (order_links(&to, order))
            }
            section.note.finished #finished tabindex="-1" aria-label="All decided" hidden {
                p { b { "All marks of this lot are decided." } }
                p #fared {}
                p.doors {
                    a.door href={ "/lot/" (number) "/codes" } { "Date codes" }
                    a.door href="/strangers" { "Strangers" }
                    a.door href="/pieces" { "Pieces" }
                    a.door href={ "/lot/" (number) "/report" } { "Report" }
                }
            }
            (glass())
            section.say aria-labelledby="say-title" {
                h2 #say-title { "What is it?" }
                p.state #state {}
                ol.choices #choices {}
                div.acts {
                    button.first #confirm type="button" data-key="Enter" { span #confirm-says { "Confirm" } kbd aria-hidden="true" { "Enter" } }
                    button #unknown type="button" data-key="u" { "Not in my library" kbd aria-hidden="true" { "U" } }
                    button #no-mark type="button" data-key="n" { "No mark" kbd aria-hidden="true" { "N" } }
                    button #again type="button" data-key="r" { "Take again" kbd aria-hidden="true" { "R" } }
                    button #probably type="button" data-key="p" aria-pressed="false" { "Only probably" kbd aria-hidden="true" { "P" } }
                    button #take-back type="button" data-key="x" hidden { "Take this back" kbd aria-hidden="true" { "X" } }
                }
                p.acts.steps {
                    button #previous type="button" data-key="ArrowLeft" { "Before" kbd aria-hidden="true" { "←" } }
                    button #next type="button" data-key="ArrowRight" { "Next" kbd aria-hidden="true" { "→" } }
                    a #to-code hidden data-key="c" { "Its date code" kbd aria-hidden="true" { "C" } }
                }
                ul.why #why {}
                details { summary { "What this rests on" } ul #evidence {} }
            }
        }
    };
    let page = Page {
        title: &sheet.lot,
        script: Some("decide.js"),
        way: &[(&sheet.lot, format!("/lot/{number}")), ("one by one", to)],
        word,
    };
    page.with(&main)
}

/// The two pictures and what can be done with them.
fn glass() -> Markup {
    let ways = [
        ("side", "s", "Side by side"),
        ("wipe", "w", "Wipe"),
        ("differences", "d", "Differences"),
        ("ink", "i", "Ink"),
        ("both", "o", "Both inks"),
        ("whole", "v", "Whole photo"),
    ];
    markup! {
        section.glass #glass aria-label="Pictures" data-way="side" {
            div.tools role="toolbar" aria-label="Ways to look" {
                @for (way, key, says) in ways {
                    button type="button" data-way=(way) data-key=(key) aria-pressed=(if way == "side" { "true" } else { "false" }) {
                        (says) kbd aria-hidden="true" { (key.to_uppercase()) }
                    }
                }
                button #rings type="button" data-key="k" aria-pressed="false" disabled { "Ring what decides" kbd aria-hidden="true" { "K" } }
                button #blink type="button" data-hold="b" { "Hold to blink" kbd aria-hidden="true" { "B" } }
                span.group {
                    button #closer type="button" data-key="+" aria-label="Closer" { "+" }
                    button #farther type="button" data-key="-" aria-label="Farther" { "−" }
                    button #turn-left type="button" data-key="[" aria-label="Turn to the left" { "↺" }
                    button #turn-right type="button" data-key="]" aria-label="Turn to the right" { "↻" }
                    button #as-it-was type="button" data-key="=" aria-label="1:1, as it was" { "1:1" }
                }
            }
            p.soft #rings-say role="status" {}
            ul.legend #legend hidden {
                @for tint in Tint::ALL { li { span class={ "tint " (tint.word()) } aria-hidden="true" {} (tint.says()) } }
            }
            div.panes {
                figure.pane #pane-photo {
                    div.view { div.turner { img.base alt="" src=(NOTHING); img.over alt="" aria-hidden="true" src=(NOTHING); } p.wait { "Drawing…" } }
                    figcaption #says-photo {}
                }
                figure.pane #pane-library {
                    div.view { div.turner { img.base alt="" src=(NOTHING); } p.wait { "Drawing…" } }
                    figcaption #says-library {}
                }
            }
            p.wipe #wipe-line hidden {
                label for="wipe" { "Photo" }
                input #wipe type="range" min="0" max="100" value="50" aria-label="How far the library's mark covers the photo";
                span { "Library" }
            }
        }
    }
}

/// The families with clear marks.
pub(in crate::desk) fn clear(number: usize, sheet: &Sheet, word: &str) -> String {
    let families = clear_families(sheet);
    let main = markup! {
        h1 { "Clear ones" }
        p.lead { "Marks that fit one family of your library and no other. Look through a family at a time: take out what does not belong, and confirm the rest with one key." }
        @if families.is_empty() {
            p { "None are waiting." }
            p { a.door href={ "/lot/" (number) "/decide" } { "Decide one by one" } }
        }
        ul.families {
            @for (family, count) in &families {
                @let name = readable(&sheet.family_name(family));
                li {
                    a.tile href={ "/lot/" (number) "/clear/" (in_address(family)) } {
                        img loading="lazy" alt="" width="260" height="260" src={ "/exemplar/" (in_address(family)) };
                        span.line { span.what { (name) } b { (count) } }
                        span.soft { (marks_word(*count)) " waiting" }
                    }
                }
            }
        }
    };
    let page = Page {
        title: "Clear ones",
        script: None,
        way: &[
            (&sheet.lot, format!("/lot/{number}")),
            ("clear ones", format!("/lot/{number}/clear")),
        ],
        word,
    };
    page.with(&main)
}

/// All clear marks of a family on one screen, the odd ones first.
pub(in crate::desk) fn family(number: usize, sheet: &Sheet, family: &str, word: &str) -> String {
    let rows = clear_of(sheet, family);
    let name = readable(&sheet.family_name(family));
    let next = clear_families(sheet).into_iter().find(|(f, _)| f != family);
    let next = next.map_or_else(
        || format!("/lot/{number}/decide"),
        |(f, _)| format!("/lot/{number}/clear/{}", in_address(&f)),
    );
    let main = markup! {
        div.family #family data-family=(family) data-next=(next) {
            div.head {
                h1 { (name) }
                p.soft #count { (marks_word(rows.len())) " waiting, the odd ones first" }
            }
            @if rows.is_empty() { p { "None are waiting here." } p { a.door href=(next) { "Go on" } } }
            @else {
                div.pinned {
                    figure {
                        img #exemplar alt={ "The library's " (name) } src={ "/exemplar/" (in_address(family)) };
                        figcaption { "From your library" }
                    }
                    div.acts {
                        button.first #confirm-rest type="button" data-key="Enter" { span #confirm-says { "Confirm all " (rows.len()) } kbd aria-hidden="true" { "Enter" } }
                        button #blink type="button" data-hold="b" { "Hold to blink all" kbd aria-hidden="true" { "B" } }
                        button #larger type="button" data-key="l" aria-pressed="false" { "Larger" kbd aria-hidden="true" { "L" } }
                        a.button href=(next) data-key="g" { "Leave them" kbd aria-hidden="true" { "G" } }
                        p.soft { "Space takes a mark out or puts it back; the arrow keys go from one to the next. What is taken out stays open." }
                    }
                }
                ul.marks #marks {
                    @for (at, row) in rows.iter().enumerate() {
                        @let one = listed(sheet, row);
                        @let mark = sheet.mark(row);
                        @let best = mark.and_then(|m| m.candidates.first());
                        li {
                            label.pick {
                                input type="checkbox" checked data-id=(one.id) data-saw=(one.saw);
                                span.view {
                                    img.base alt={ "Mark " (at + 1) " of " (rows.len()) ", " (one.photo) } loading=[(at > 11).then_some("lazy")]
                                        src={ "/picture/" (one.id) "/small?beside=" (as_value(family)) };
                                    @if let Some(best) = best {
                                        img.over alt="" aria-hidden="true" loading="lazy"
                                            src={ "/exemplar/" (in_address(family)) "?content=" (as_value(&best.exemplar)) };
                                    }
                                }
                                span.line {
                                    span.in { "✓ belongs" }
                                    span.out { "✕ taken out" }
                                    @if let Some(best) = best { span.soft { (per_cent(best.probability)) } }
                                }
                                span.soft.name { (one.photo) }
                            }
                        }
                    }
                }
            }
        }
    };
    let page = Page {
        title: &name,
        script: Some("family.js"),
        way: &[
            (&sheet.lot, format!("/lot/{number}")),
            ("clear ones", format!("/lot/{number}/clear")),
        ],
        word,
    };
    page.with(&main)
}

/// Date codes, one at a time.
pub(in crate::desk) fn codes(
    number: usize,
    sheet: &Sheet,
    mark: Option<&MarkId>,
    word: &str,
) -> String {
    let rows = ordered(sheet, Order::Taken);
    let wanted = |r: &&crate::report::Row| {
        code_waits(sheet, r) || mark.is_some_and(|id| MarkId::of(sheet, r) == *id)
    };
    let ids: Vec<String> = rows
        .into_iter()
        .filter(wanted)
        .map(|r| MarkId::of(sheet, r).to_string())
        .collect();
    let main = markup! {
        div.codes #codes data-lot=(number) data-ids=(ids.join(" ")) data-start=[mark.map(ToString::to_string)] {
            div.head { h1 #name tabindex="-1" { "Date codes" } p.soft #where {} }
            p #none hidden { "No date code is waiting in this lot." }
            div.code #code hidden {
                figure.strip { img #strip src=(NOTHING) alt="The place of the date code, straightened and enlarged"; figcaption #look {} }
                figure.mark { img #whole src=(NOTHING) alt=""; figcaption #of {} }
                section.say aria-labelledby="read-title" {
                    h2 #read-title { "What does it say?" }
                    ol.choices #readings {}
                    p.field {
                        label for="typed" { "As it stands on the piece" }
                        input #typed type="text" maxlength="60" autocomplete="off" spellcheck="false" aria-describedby="means";
                        span.soft { kbd { "T" } " to type, " kbd { "Esc" } " to leave" }
                    }
                    div.means #means role="status" {}
                    div.acts {
                        button.first #confirm type="button" data-key="Enter" { span #confirm-says { "Confirm" } kbd aria-hidden="true" { "Enter" } }
                        button #no-code type="button" data-key="n" { "No code" kbd aria-hidden="true" { "N" } }
                        button #illegible type="button" data-key="i" { "Not legible" kbd aria-hidden="true" { "I" } }
                        button #probably type="button" data-key="p" aria-pressed="false" { "Only probably" kbd aria-hidden="true" { "P" } }
                    }
                    p.acts.steps {
                        button #previous type="button" data-key="ArrowLeft" { "Before" kbd aria-hidden="true" { "←" } }
                        button #next type="button" data-key="ArrowRight" { "Next" kbd aria-hidden="true" { "→" } }
                    }
                    p.state #state {}
                }
            }
        }
    };
    let page = Page {
        title: "Date codes",
        script: Some("codes.js"),
        way: &[
            (&sheet.lot, format!("/lot/{number}")),
            ("date codes", format!("/lot/{number}/codes")),
        ],
        word,
    };
    page.with(&main)
}

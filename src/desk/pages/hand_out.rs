//! What can be handed out of lots and pieces.

use maud::html as markup;

use super::Page;
use crate::desk::leaving::Out;
use crate::handout::OPINION;
use crate::workspace::readable;

pub(in crate::desk) fn hand_out(out: &Out, word: &str) -> String {
    let main = markup! {
        h1 { "Hand out" }
        p.lead { "Each page is one file with its pictures inside: print it, keep it, or send it. Cost, owner, where a piece stands and notes stay here." }
        section.card aria-labelledby="pieces-title" {
            h2 #pieces-title { "Pieces" b.count { (out.pieces) } }
            @if out.pieces == 0 { p { "No pieces yet: " a href="/pieces" { "approve them" } " first." } }
            @else {
                p.doors {
                    @for volume in 1..=out.volumes {
                        a.door.first href={ "/hand-out/catalogue/" (volume) } { "Catalogue" @if out.volumes > 1 { ", volume " (volume) } }
                    }
                    a.door href="/hand-out/pieces.csv" { "Table (CSV)" }
                    a.door href="/hand-out/pieces.jsonl" { "Records (JSON Lines)" }
                }
                form.talk action="/hand-out/talk" method="get" {
                    label for="order" { "A talk: pieces by number, in the order in which you show them (all, where left empty)" }
                    p.doors {
                        input #order type="text" name="pieces" inputmode="numeric" autocomplete="off" maxlength="400";
                        button type="submit" { "Talk as a file" }
                    }
                }
            }
            p.soft { (OPINION) }
        }
        @for lot in &out.lots {
            section.card aria-label={ "Lot " (readable(&lot.name)) } {
                h2 { (readable(&lot.name)) }
                p.doors {
                    a.door href={ "/lot/" (lot.number) "/report" } { "Report" }
                    a.door href={ "/lot/" (lot.number) "/to-look-at" } { "Sheet to look at" }
                    a.door href={ "/lot/" (lot.number) "/table" } { "Table (CSV)" }
                    @if lot.again > 0 {
                        a.door href={ "/lot/" (lot.number) "/again" } { "To take again" b { (lot.again) } }
                        a.door.quiet href={ "/lot/" (lot.number) "/again?file=true" } { "The same as a file for your phone" }
                    } @else { span.soft { "Nothing is to be taken again." } }
                }
            }
        }
    };
    let page = Page {
        title: "Hand out",
        script: None,
        way: &[("Hand out", "/hand-out".to_owned())],
        word,
    };
    page.with(&main)
}

//! The page of one piece: what is known and how surely, why it is dated so, and what to say of it.

use maud::{Markup, html as markup};

use super::Page;
use crate::dating::tell;
use crate::dating::{Answer, Clue, Dating};
use crate::decision::{Certainty, PhotoRole, PieceFact};
use crate::desk::piece_photos::{Choice, Shown};
use crate::handout::{CAUTIONS, of_vessel, say_limits};
use crate::pieces::{Piece, Told, date, form, origin, say_opinion, tell_piece};
use crate::service::collection::{Collection, named};
use crate::workspace::readable;

/// Facts with a field of their own, and an example of each.
const FIELDS: [(PieceFact, &str, &str); 14] = [
    (PieceFact::Form, "What it is", "coffee cup"),
    (PieceFact::Body, "Line of its body", "mill-lane/round"),
    (PieceFact::Glaze, "Glaze", "celadon"),
    (PieceFact::Decoration, "Decoration", "blue band"),
    (PieceFact::Colourway, "Colourway", "green"),
    (PieceFact::Techniques, "Put on by", "decal; gold"),
    (PieceFact::Numbers, "Numbers on it", "4711; B 12"),
    (PieceFact::Lid, "Lid", "present, missing or never"),
    (PieceFact::Size, "Size in mm", "diameter 152, height 21"),
    (PieceFact::Condition, "Condition", "crazed; hairline to rim"),
    (PieceFact::Clues, "Clues to its date", "bought=1931"),
    (PieceFact::Asked, "Asked", "EUR 12.50"),
    (PieceFact::Place, "Where it stands", "cabinet 2"),
    (PieceFact::Notes, "Notes", ""),
];

const QUESTIONS: [(PieceFact, &str); 3] = [
    (PieceFact::MadeBy, "Made by"),
    (PieceFact::DecoratedBy, "Decorated by"),
    (PieceFact::MadeFor, "Made for"),
];

pub(in crate::desk) fn piece(
    piece: &Piece,
    collection: &Collection,
    shown: &[Shown],
    choices: &[Choice],
    word: &str,
) -> String {
    let known = collection.known();
    let dating = date(piece, &collection.book, &known, Vec::new());
    let title = named(piece);
    // The date has a card of its own.
    let all = tell_piece(piece, &collection.book, &known).into_iter();
    let all = all.filter(|(label, _)| label != "date");
    let (none, told): (Vec<_>, Vec<_>) = all.partition(|(_, text)| is_unknown(text));
    let open: Vec<String> = none.into_iter().map(|(label, _)| label).collect();
    let main = markup! {
        div.piece #piece data-piece=(piece.number) {
            div.head {
                h1 { (title) }
                p.soft { "lot " (readable(&piece.lot)) " · kept since " (piece.added.day()) }
            }
            @if let Some(told) = piece.told(PieceFact::Withdrawn) {
                form.note.acts #back data-saw=(told.number) {
                    p { "Withdrawn: " (readable(&told.text)) ". It is in no list and no catalogue." }
                    button type="submit" { "Bring it back" }
                }
            }
            div.columns {
                div {
                    (photos(piece, shown))
                    (more_photos(choices))
                }
                div {
                    section.card aria-labelledby="known-title" {
                        h2 #known-title { "What is known" }
                        dl.known { @for (label, text) in &told { dt { (label) } dd { (readable(text)) } } }
                        @if !open.is_empty() { p.soft { "Nothing is known yet of: " (open.join(", ")) "." } }
                    }
                    (chain(&dating))
                    (questions(piece, collection))
                }
            }
            (fields(piece))
            (withdraw(piece))
            (cautions(piece))
        }
    };
    let page = Page {
        title: &title,
        script: Some("piece.js"),
        way: &[("Pieces", "/pieces".to_owned())],
        word,
    };
    page.with(&main)
}

fn photos(piece: &Piece, shown: &[Shown]) -> Markup {
    let several = shown.len() > 1;
    markup! {
        div.photos data-saw=(saw(piece.told(PieceFact::Photos))) {
            @for (at, photo) in shown.iter().enumerate() {
                figure {
                    img alt={ "The photo " (photo.file) } src={ "/picture/" (photo.photo) "/whole" };
                    @if photo.mark.is_some() { img.own-mark alt="Its mark" src={ "/picture/" (photo.id) "/small" }; }
                    figcaption {
                        span {
                            @if photo.role != PhotoRole::NotSaid.word() { (photo.role) " · " }
                            (photo.file)
                            @if let Some((number, of)) = photo.mark { " · mark " (number) " of " (of) }
                            @for other in &photo.others { " · also " a href={ "/piece/" (other) } { "piece " (other) } }
                        }
                        @if several { button.plain type="button" data-leave=(at) aria-label={ "Take " (photo.file) " out" } { "Take out" } }
                    }
                }
            }
        }
        @if shown.is_empty() { p.soft { "None of its photos is known any more: piece " (piece.number) " has only its words." } }
    }
}

/// Another photo of the lot, or one mark of a photo in which several pieces lie.
fn more_photos(choices: &[Choice]) -> Markup {
    let roles = PhotoRole::ALL;
    markup! {
        @if !choices.is_empty() {
            form.more-photos #photos {
                p.field { label for="add" { "Another photo of it" } select #add { @for one in choices { option value=(one.id) { (one.says) } } } }
                p.field { label for="role" { "It shows" } select #role { @for role in roles { option value=(role.word()) { @if role == PhotoRole::NotSaid { "not said" } @else { (role.word()) } } } } }
                p { button type="submit" { "Add it" } }
            }
        }
    }
}

/// To leave the piece out from now on.
fn withdraw(piece: &Piece) -> Markup {
    markup! {
        @if !piece.is_withdrawn() {
            section.card aria-labelledby="withdraw-title" {
                h2 #withdraw-title { "Leave it out from now on" }
                form.needs #withdraw {
                    p.field { label for="why" { "Why" } input #why type="text" required maxlength="200" autocomplete="off" placeholder="sold, broken, the same as piece 9"; }
                    p { button type="submit" { "Withdraw the piece" } }
                }
                p.soft { "Nothing is erased: its photos are free again, and it can be brought back." }
            }
        }
    }
}

/// Whether a line of a piece only says that nothing is known.
fn is_unknown(text: &str) -> bool {
    ["unknown", "nothing said yet"].contains(&text)
}

/// Why it is dated so: each clue, which end it sets, and what cannot both be true.
fn chain(dating: &Dating) -> Markup {
    markup! {
        section.card aria-labelledby="date-title" {
            h2 #date-title { "When it was made" }
            p { b { (readable(&tell::tell_answer(dating))) } @if let Some(edtf) = dating.edtf() { " " span.soft { "EDTF " (edtf) } } }
            @if let Answer::Contradiction { pairs, .. } = &dating.answer {
                ul.against { @for pair in pairs { li { "! " (readable(&tell::tell_pair(dating, *pair))) } } }
            }
            @if !dating.clues.is_empty() {
                ol.chain {
                    @for (at, one) in dating.clues.iter().enumerate() { (clue(one, tell::tell_part(&dating.answer, at))) }
                }
            }
            @if !dating.apart.is_empty() {
                p.soft { "Apart, as you are not sure of them:" }
                ul.chain {
                    @for apart in &dating.apart { li { (readable(&tell::tell_clue(&apart.clue))) " " span.soft { (readable(&tell::tell_apart(dating, apart))) } } }
                }
            }
        }
    }
}

fn clue(clue: &Clue, part: Option<&'static str>) -> Markup {
    markup! {
        li {
            (readable(&tell::tell_clue(clue)))
            @if let Some(part) = part { " " b.part { (part) } }
            @for source in tell::tell_sources(clue) { span.soft.source { "source: " (readable(&source)) } }
            @for note in &clue.notes { span.soft.source { (readable(note)) } }
        }
    }
}

/// Who made it, decorated it, had it made: what holds, and the person's own word.
fn questions(piece: &Piece, collection: &Collection) -> Markup {
    let origin = origin(piece, &collection.book, &collection.opened.library);
    let holds = [&origin.made_by, &origin.decorated_by, &origin.made_for];
    markup! {
        section.card aria-labelledby="who-title" {
            h2 #who-title { "Who" }
            p.soft { "A mark on it says so by itself. What you say here is attributed, and by what." }
            @for ((fact, label), holds) in QUESTIONS.into_iter().zip(holds) {
                @let told = piece.told(fact);
                @let id = fact.word();
                form.who data-fact=(id) data-saw=(saw(told)) {
                    p { b { (label) } " " span.holds { (readable(&say_opinion(holds))) } }
                    div.three {
                        p.field {
                            label for={ (id) "-how" } { "How you know" }
                            select id={ (id) "-how" } name="how" {
                                option value="judgement" { "by judgement" }
                                option value="likeness" { "by likeness" }
                                option value="partner" { "by its partner" }
                                option value="marked" { "marked" }
                                option value="unknown" { "unknown" }
                            }
                        }
                        p.field { label for={ (id) "-name" } { "Name" } input id={ (id) "-name" } name="who" type="text" maxlength="80" autocomplete="off"; }
                        p.field { label for={ (id) "-why" } { "Why, or which piece" } input id={ (id) "-why" } name="why" type="text" maxlength="200" autocomplete="off"; }
                    }
                    p.acts {
                        button type="submit" { "Keep" }
                        label.check { input name="probably" type="checkbox"; "only probably" }
                        @if told.is_some() { button.plain type="button" data-forget=(id) { "Take my word back" } }
                        span.wording role="status" {}
                    }
                }
            }
        }
    }
}

fn saw(told: Option<&Told>) -> i64 {
    told.map_or(0, |told| told.number)
}

fn fields(piece: &Piece) -> Markup {
    markup! {
        section.card aria-labelledby="say-title" {
            h2 #say-title { "What you say of it" }
            form #facts {
                div.fields {
                    @for (fact, label, example) in FIELDS {
                        @let told = piece.told(fact);
                        @let doubt = told.is_some_and(|t| t.certainty != Certainty::Sure);
                        p.field {
                            label for={ "fact-" (fact.word()) } { (label) @if doubt { span.soft { " (probably)" } } }
                            input id={ "fact-" (fact.word()) } type="text" maxlength="2000" autocomplete="off" placeholder=(example)
                                data-fact=(fact.word()) data-saw=(saw(told)) value=(told.map_or("", |t| t.text.as_str()));
                        }
                    }
                }
                p.acts {
                    button.first #keep type="submit" { "Keep what changed" }
                    label.check { input #probably type="checkbox"; "only probably" }
                    span.soft { "An emptied field is forgotten." }
                }
            }
        }
    }
}

fn cautions(piece: &Piece) -> Markup {
    let vessel = piece.form().and_then(form).map(|f| f.vessel);
    let limit = vessel.and_then(|v| say_limits(&of_vessel(v)));
    markup! {
        section.card.cautions aria-labelledby="cautions-title" {
            h2 #cautions-title { "Before anybody eats from it, buys it or insures it" }
            ul {
                @for caution in CAUTIONS { li { (caution) } }
                @if let Some(limit) = limit { li { (limit) } }
            }
        }
    }
}

//! A catalogue as printable pages, one file a volume: no scripts, no outside files.

use maud::{DOCTYPE, Markup, PreEscaped, html as markup};

use super::cautions::{CAUTIONS, LIMITS_SOURCE, Limit, limits};
use super::describe::Sentence;
use crate::report::{Figure, image};

const STYLE: &str = concat!(
    include_str!("../report/style.css"),
    include_str!("catalogue.css")
);

/// Most pieces of one volume: a page of five hundred small pictures still opens on an old tablet.
pub const VOLUME: usize = 500;

/// One piece of a catalogue.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Entry {
    pub number: i64,
    /// What stands in bold: form, maker or line.
    pub title: String,
    /// What the maker's name rests on: `marked`, `attributed by …`, `maker unknown`.
    pub standing: String,
    pub sentences: Vec<Sentence>,
    /// Set, asked, and what else was asked for; label and text.
    pub more: Vec<(String, String)>,
    /// The row of the table of limits that it may fall under, in words.
    pub limit: Option<String>,
    pub figures: Vec<(String, Figure)>,
}

/// What stands at the head of a catalogue.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Heading {
    pub title: String,
    pub day: String,
    /// Pieces of all volumes.
    pub pieces: usize,
}

/// How many volumes so many pieces fill.
pub fn volumes(pieces: usize) -> usize {
    pieces.div_ceil(VOLUME).max(1)
}

/// One volume, counted from 1.
pub fn catalogue(heading: &Heading, volume: usize, entries: &[Entry]) -> String {
    let all = volumes(heading.pieces);
    let part = match all {
        1 => String::new(),
        _ => format!(", volume {volume} of {all}"),
    };
    let numbers = match (entries.first(), entries.last()) {
        (Some(first), Some(last)) if entries.len() > 1 => {
            format!("pieces {} to {}", first.number, last.number)
        }
        (Some(one), _) => format!("piece {}", one.number),
        _ => "no pieces".to_owned(),
    };
    let page = markup! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (heading.title) (part) }
                style { (PreEscaped(STYLE)) }
            }
            body.catalogue {
                header {
                    h1 { (heading.title) (part) }
                    p.told {
                        (entries.len()) @if entries.len() == 1 { " piece" } @else { " pieces" }
                        " · " (numbers) " · drawn up on " (heading.day)
                    }
                    p.key {
                        b { "Marked" } " means that a mark on the piece says so. "
                        b { "Attributed" } " means that something else says so, and what it is. "
                        b { "Possibly" } " means that it is not confirmed."
                    }
                }
                main { @for entry in entries { (article(entry)) } }
                (cautions())
            }
        }
    };
    page.into_string()
}

fn article(entry: &Entry) -> Markup {
    markup! {
        article.piece id={ "piece-" (entry.number) } {
            div.pictures {
                @for (caption, figure) in &entry.figures {
                    figure {
                        div.frame { (image(figure, &format!("piece {}, {caption}", entry.number))) }
                        figcaption { (caption) }
                    }
                }
                @if entry.figures.is_empty() {
                    figure { div.frame { p { "no picture in reach" } } }
                }
            }
            div.says {
                p.number { (entry.number) }
                h2.name { (entry.title) }
                p.standing { (entry.standing) }
                p {
                    @for sentence in &entry.sentences {
                        @if sentence.confirmed { (sentence.text) " " }
                        @else { em { (sentence.text) } " " }
                    }
                }
                @if !entry.more.is_empty() {
                    dl { @for (label, text) in &entry.more { div { dt { (label) } dd { (text) } } } }
                }
                @if let Some(limit) = &entry.limit { p.limit { (limit) } }
            }
        }
    }
}

fn cautions() -> Markup {
    let figure = |value: Option<f64>| value.map_or_else(|| "as hollowware".to_owned(), say_level);
    markup! {
        footer {
            h2 { "Before you use, sell or insure" }
            @for caution in CAUTIONS { p { (caution) } }
            table {
                thead { tr { th { "Kind of vessel" } th { "lead, mg/l" } th { "cadmium, mg/l" } } }
                tbody {
                    @for limit in limits() {
                        tr { td { (limit.vessel) } td { (say_level(limit.lead)) } td { (figure(limit.cadmium)) } }
                    }
                }
            }
            p { (LIMITS_SOURCE) " Nobody has measured these pieces unless it is said so." }
        }
    }
}

fn say_level(level: f64) -> String {
    match level < 0.3 {
        true => format!("{level:.2}"),
        false => format!("{level:.1}"),
    }
}

/// The limits that a piece may fall under, in one sentence; `None` where the table has none.
pub fn say_limits(rows: &[&Limit]) -> Option<String> {
    let lead = rows
        .iter()
        .map(|row| format!("{} {} mg/l", row.vessel, say_level(row.lead)));
    let lead: Vec<String> = lead.collect();
    (!lead.is_empty()).then(|| format!("FDA action level for leached lead: {}.", lead.join("; ")))
}

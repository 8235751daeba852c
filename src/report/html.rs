//! The sheet as one printable page: no scripts, no outside files.

use std::ops::Range;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use maud::{DOCTYPE, Markup, PreEscaped, html as markup};

use super::codes::{readings, say_look, say_reading};
use super::evidence::{say_evidence, say_form};
use super::words::{CAUTIONS, heading, per_cent, photos, say_decision, sign, what_next};
use super::{Beside, Row, Sheet};
use crate::answer::Verdict;
use crate::workspace::readable;

const STYLE: &str = include_str!("style.css");

/// Least probability at which another family is named beside the best: below half a per cent the
/// page would say `under 1 %`, which helps nobody.
const WORTH_SAYING: f64 = 0.005;

/// A picture for the page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Figure {
    pub jpeg: Vec<u8>,
    pub width: u32,
    pub height: u32,
}

/// The pictures of one row.
#[derive(Debug, Clone, Default)]
pub struct RowPictures {
    /// The mark in the photo, or the whole photo where no mark was found.
    pub photo: Option<Figure>,
    /// Parallel to [`Sheet::shown`]; `None` where the exemplar cannot be read.
    pub exemplars: Vec<Option<Figure>>,
    /// Parallel to it: whether the exemplar was cut from this very photo, so that there is nothing to compare.
    pub own: Vec<bool>,
    /// Parallel to the mark's places of date codes; `None` where a place was not looked at.
    pub codes: Vec<Option<Figure>>,
    /// The mark of the photo's piece, fused of all its photos, and what is said of it.
    pub fused: Option<(Figure, String)>,
}

/// The page. `pictures` runs parallel to the sheet's rows; `day` is printed as the day of making.
pub fn html(sheet: &Sheet, pictures: &[RowPictures], day: &str) -> String {
    let groups = markup! {
        @for (verdict, rows) in sheet.groups() {
            (group(sheet, verdict, rows, pictures))
        }
        @if !sheet.unattached.is_empty() { (unattached(sheet)) }
    };
    page(
        &format!("{} · marks", sheet.lot),
        &header(sheet, day),
        &groups,
    )
}

/// A whole page in the one style, with the cautions below.
pub(super) fn page(title: &str, head: &Markup, body: &Markup) -> String {
    page_with(title, &Markup::default(), head, body)
}

/// The same with `more` in its head.
pub(super) fn page_with(title: &str, more: &Markup, head: &Markup, body: &Markup) -> String {
    let page = markup! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) }
                style { (PreEscaped(STYLE)) }
                (more)
            }
            body {
                (head)
                main { (body) }
                footer { @for caution in CAUTIONS { p { (caution) } } }
            }
        }
    };
    page.into_string()
}

fn header(sheet: &Sheet, day: &str) -> Markup {
    let told: Vec<&str> = [sheet.date.as_deref(), sheet.place.as_deref()]
        .into_iter()
        .flatten()
        .collect();
    markup! {
        header {
            h1 { (sheet.lot) }
            p.told {
                @for word in told { (word) " · " }
                (photos(sheet.shots.len())) " · sheet of " (day)
            }
            nav aria-label="Groups" {
                ul {
                    @for (verdict, rows) in sheet.groups() {
                        li { a href={ "#" (verdict.word()) } {
                            span.sign aria-hidden="true" { (sign(verdict)) }
                            span { (heading(verdict)) } " "
                            b { (rows.len()) }
                        } }
                    }
                }
            }
        }
    }
}

fn group(sheet: &Sheet, verdict: Verdict, rows: Range<usize>, pictures: &[RowPictures]) -> Markup {
    let mut at = rows.start;
    let families: Vec<(usize, &[Row])> = sheet.rows[rows]
        .chunk_by(|a, b| a.family == b.family)
        .map(|rows| {
            at += rows.len();
            (at - rows.len(), rows)
        })
        .collect();
    markup! {
        section id=(verdict.word()) {
            h2 { span.sign aria-hidden="true" { (sign(verdict)) } (heading(verdict)) }
            p { (capitalised(what_next(verdict))) "." }
            @for (at, rows) in families {
                @if let (Verdict::Named, Some(family), 2..) = (verdict, &rows[0].family, rows.len()) {
                    h3 { (readable(&sheet.family_name(family))) " · " (rows.len()) " marks" }
                }
                @for (beyond, row) in rows.iter().enumerate() {
                    (article(sheet, row, pictures.get(at + beyond)))
                }
            }
        }
    }
}

fn article(sheet: &Sheet, row: &Row, pictures: Option<&RowPictures>) -> Markup {
    let shown = sheet.shown(row);
    let is_own = |at: usize| pictures.is_some_and(|p| p.own.get(at) == Some(&true));
    let compared = (0..shown.len()).filter(|at| !is_own(*at)).count();
    let many = match compared {
        0 | 1 => "pictures",
        2 => "pictures three",
        _ => "pictures four",
    };
    let frame = if row.mark.is_some() {
        "frame"
    } else {
        "frame whole"
    };
    let name = &sheet.shot(row).name;
    markup! {
        article {
            div class=(many) {
                figure {
                    div class=(frame) {
                        @match pictures.and_then(|p| p.photo.as_ref()) {
                            Some(f) => { (image(f, &photo_alt(row, name))) }
                            None => { p { "no picture kept: the photo is out of reach" } }
                        }
                    }
                    figcaption {
                        (if row.mark.is_some() { "the photo" } else { "the whole photo" })
                        @for (_, beside) in shown.iter().enumerate().filter(|(at, _)| is_own(*at)) {
                            ": it is itself the library's exemplar of " (readable(&sheet.family_name(beside.family())))
                        }
                    }
                }
                @for (at, beside) in shown.iter().enumerate().filter(|(at, _)| !is_own(*at)) {
                    @let exemplar = pictures.and_then(|p| p.exemplars.get(at)?.as_ref());
                    (exemplar_figure(sheet, row, beside, exemplar))
                }
            }
            (says(sheet, row, pictures))
        }
    }
}

fn photo_alt(row: &Row, name: &str) -> String {
    match row.mark {
        Some(mark) => format!("mark {} in {name}, straightened", mark + 1),
        None => format!("{name}, whole"),
    }
}

fn exemplar_figure(
    sheet: &Sheet,
    row: &Row,
    beside: &Beside<'_>,
    exemplar: Option<&Figure>,
) -> Markup {
    let name = readable(&sheet.family_name(beside.family()));
    let settled = matches!(row.holds, Verdict::Named | Verdict::Choose);
    let same_frame = match beside {
        Beside::Fitted(_) => ", from the library, in the same frame",
        Beside::Decided(_) => ", from the library",
    };
    markup! {
        figure {
            div.frame {
                @match exemplar {
                    Some(f) => { (image(f, &format!("{name}{same_frame}"))) }
                    None => { p { "the exemplar could not be read" } }
                }
            }
            figcaption {
                (if settled { "library: " } else { "nearest in the library, no match: " })
                (name)
                @if let (Verdict::Choose, Beside::Fitted(c)) = (row.holds, beside) {
                    ", " (share(c.probability))
                }
            }
        }
    }
}

fn says(sheet: &Sheet, row: &Row, pictures: Option<&RowPictures>) -> Markup {
    let shot = sheet.shot(row);
    markup! {
        div.says {
            p.name {
                @match (&row.family, row.holds) {
                    (Some(id), Verdict::Named) => { (readable(&sheet.family_name(id))) }
                    (_, holds) => { (heading(holds)) }
                }
            }
            @if let Some(decision) = &row.decision {
                p.yours {
                    "Decided by hand on " (decision.time.day()) ": " (quoted(&say_decision(decision))) ". "
                    "The program said: " (program_said(sheet, row)) "."
                }
            }
            (likelihood(sheet, row))
            (codes(sheet, row, pictures))
            @if let Some((figure, said)) = pictures.and_then(|p| p.fused.as_ref()) {
                div.fused {
                    (image(figure, "the mark fused of all photos of its piece"))
                    p { (said) }
                }
            }
            (evidence(sheet, row))
            ul.why {
                @for reason in sheet.reasons(row) { li { (capitalised(&readable(&reason.text))) } }
                @if row.verdict.is_none() { li { "Not looked at yet: run the intake again" } }
                @if !shot.current && row.verdict.is_some() && row.decision.is_none() {
                    li { "Answered with an earlier library" }
                }
            }
            p.file {
                (shot.name)
                @if let (Some(mark), true) = (row.mark, row.marks_in_photo > 1) {
                    " · mark " (mark + 1) " of " (row.marks_in_photo)
                }
                @if let Some(taken) = &shot.taken { " · " (readable(&taken.replace('T', " "))) }
                " · " (shot.hash.short())
            }
        }
    }
}

/// What the program's answer rests on: folded away on a screen, and left out on paper.
fn evidence(sheet: &Sheet, row: &Row) -> Markup {
    let Some(mark) = sheet.mark(row).filter(|m| !m.candidates.is_empty()) else {
        return markup! {};
    };
    markup! {
        details {
            summary { "What this rests on" }
            ul { @for line in say_evidence(mark) { li { (line) } } }
        }
    }
}

/// What the person said of the date code, then what the program read, as the suggestion it is.
fn codes(sheet: &Sheet, row: &Row, pictures: Option<&RowPictures>) -> Markup {
    let dates = sheet.mark(row).map_or(&[][..], |m| m.dates.as_slice());
    markup! {
        @if let Some(decision) = &row.code {
            p.yours {
                "Confirmed by hand on " (decision.time.day()) ": " (quoted(&say_decision(decision))) "."
            }
        }
        @for (at, date) in dates.iter().enumerate() {
            div.code {
                @if let Some(figure) = pictures.and_then(|p| p.codes.get(at)?.as_ref()) {
                    (image(figure, "the place of the date code, straightened"))
                }
                p { (capitalised(&quoted(&say_look(date)))) "." }
                ul.others {
                    @for reading in readings(date) { li { (quoted(&say_reading(reading))) } }
                }
            }
        }
    }
}

fn program_said(sheet: &Sheet, row: &Row) -> String {
    let best = sheet.mark(row).and_then(|m| m.candidates.first());
    match (row.verdict, best) {
        (Some(Verdict::Named), Some(best)) => readable(&sheet.family_name(&best.family)),
        (Some(verdict), _) => heading(verdict).to_lowercase(),
        (None, _) => "nothing yet".to_owned(),
    }
}

/// Probability of the best family, then the runner-up and what else is possible.
fn likelihood(sheet: &Sheet, row: &Row) -> Markup {
    let Some(mark) = sheet.mark(row) else {
        return markup! {};
    };
    let settled = matches!(row.verdict, Some(Verdict::Named | Verdict::Choose));
    let best = mark.candidates.first().filter(|_| settled);
    let others = mark
        .candidates
        .iter()
        .skip(usize::from(best.is_some()))
        .filter(|c| c.probability >= WORTH_SAYING)
        .take(super::CHOICES_SHOWN - 1);
    let none = markup! { li { "not in the library " (share(mark.none)) } };
    let form = best.and_then(|_| say_form(mark));
    markup! {
        @if let Some(best) = best {
            p.likely {
                @if row.holds != Verdict::Named || row.decision.is_some() {
                    (readable(&sheet.family_name(&best.family))) ": "
                }
                (share(best.probability))
                // No inline style, so that a page may be served under a strict policy.
                svg.bar viewBox="0 0 100 4" preserveAspectRatio="none" aria-hidden="true" {
                    rect width=(format!("{:.0}", best.probability * 100.0)) height="4" {}
                }
            }
        }
        @if let Some(form) = form { p { (form) } }
        ul.others {
            @if !settled { (none) }
            @for (at, other) in others.enumerate() {
                li {
                    @if at == 0 { (if settled { "next: " } else { "nearest: " }) }
                    (readable(&sheet.family_name(&other.family))) " "
                    (share(other.probability))
                }
            }
            @if settled { (none) }
        }
    }
}

fn unattached(sheet: &Sheet) -> Markup {
    markup! {
        section id="unattached" {
            h2 { "Decisions kept" }
            p { "Their marks were not found this time; nothing is lost." }
            ul {
                @for loose in &sheet.unattached {
                    li {
                        (sheet.shots[loose.shot].name) ": " (quoted(&say_decision(&loose.decision)))
                        ", " (loose.decision.time.day())
                    }
                }
            }
        }
    }
}

pub(crate) fn image(figure: &Figure, alt: &str) -> Markup {
    let data = STANDARD.encode(&figure.jpeg);
    markup! {
        img src={ "data:image/jpeg;base64," (data) } alt=(alt)
            width=(figure.width) height=(figure.height);
    }
}

/// A probability whose sign stays on the line of its number.
pub(super) fn share(probability: f64) -> String {
    per_cent(probability).replace(' ', "\u{a0}")
}

/// A sentence whose words between grave accents, as a terminal shows them, stand in quotation marks. A
/// last accent without a partner stays.
pub(super) fn quoted(text: &str) -> String {
    let parts: Vec<&str> = text.split('`').collect();
    let pairs = (parts.len() - 1) / 2;
    let mut out = parts[0].to_owned();
    for (at, part) in parts.iter().enumerate().skip(1) {
        out.push(match at {
            _ if at > 2 * pairs => '`',
            _ if at % 2 == 1 => '\u{201c}',
            _ => '\u{201d}',
        });
        out += part;
    }
    out
}

pub(crate) fn capitalised(sentence: &str) -> String {
    let mut chars = sentence.chars();
    match chars.next() {
        Some(first) => first.to_uppercase().collect::<String>() + chars.as_str(),
        None => String::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::quoted;

    #[test]
    fn accents_become_quotation_marks_in_pairs() {
        assert_eq!(
            quoted("code `f 52`: `6`"),
            "code \u{201c}f 52\u{201d}: \u{201c}6\u{201d}"
        );
        assert_eq!(quoted("`a` and `"), "\u{201c}a\u{201d} and `");
        assert_eq!(quoted("plain"), "plain");
    }
}

//! Marks that the library does not know, in groups, as text and as a contact sheet.

use std::io::{self, Write};

use maud::{Markup, html as markup};

use super::html::{Figure, image, page, share};
use super::words::{per_cent, photos};

/// Another group that is perhaps the same one.
#[derive(Debug, Clone, PartialEq)]
pub struct Likely {
    pub name: String,
    pub probability: f64,
    /// Its first mark, turned to lie like the first one here.
    pub picture: Option<Figure>,
}

/// A mark of a group.
#[derive(Debug, Clone, PartialEq)]
pub struct StrangerMark {
    /// The photo's file name, readable.
    pub photo: String,
    /// Its mark, counted from 1, where it has several.
    pub mark: Option<usize>,
    pub lot: String,
    /// How likely it is one with the others, on average.
    pub probability: f64,
    /// The mark, turned to lie like the group's first one.
    pub picture: Option<Figure>,
}

/// Marks that are one mark; one that is alone is a group of its own.
#[derive(Debug, Clone, PartialEq)]
pub struct StrangerGroup {
    pub name: String,
    /// The earliest first.
    pub marks: Vec<StrangerMark>,
    /// Likeliest first.
    pub perhaps: Vec<Likely>,
    /// The command that makes a family of it.
    pub command: String,
}

impl StrangerMark {
    fn place(&self) -> String {
        let mark = self.mark.map(|m| format!(", mark {m}"));
        format!("{}{}", self.photo, mark.unwrap_or_default())
    }
}

/// `31 unknown marks: 14 in 4 groups, 17 alone`.
fn counts(groups: &[StrangerGroup]) -> String {
    let all: usize = groups.iter().map(|g| g.marks.len()).sum();
    let several = groups.iter().filter(|g| g.marks.len() > 1).count();
    let alone = groups.len() - several;
    let marks = if all == 1 { "mark" } else { "marks" };
    let word = if several == 1 { "group" } else { "groups" };
    let grouped = all - alone;
    match (several, alone) {
        (0, 0 | 1) => format!("{all} unknown {marks}"),
        (0, _) => format!("{all} unknown {marks}, each alone"),
        (_, 0) => format!("{all} unknown {marks} in {several} {word}"),
        _ => format!("{all} unknown {marks}: {grouped} in {several} {word}, {alone} alone"),
    }
}

/// The groups as text, the largest first.
///
/// # Errors
/// Where it cannot be written.
pub fn write_strangers(groups: &[StrangerGroup], out: &mut dyn Write) -> io::Result<()> {
    writeln!(out, "{}", counts(groups))?;
    let (several, alone): (Vec<_>, Vec<_>) = groups.iter().partition(|g| g.marks.len() > 1);
    for group in several {
        writeln!(out, "{}  {}", group.name, photos(group.marks.len()))?;
        for mark in &group.marks {
            writeln!(out, "  {}  {}", mark.place(), mark.lot)?;
        }
        write_perhaps(group, "  ", out)?;
    }
    if !alone.is_empty() {
        writeln!(out, "alone")?;
    }
    for group in alone {
        for mark in &group.marks {
            writeln!(out, "  {}  {}  {}", group.name, mark.place(), mark.lot)?;
        }
        write_perhaps(group, "    ", out)?;
    }
    Ok(())
}

fn write_perhaps(group: &StrangerGroup, before: &str, out: &mut dyn Write) -> io::Result<()> {
    let told: Vec<String> = group
        .perhaps
        .iter()
        .map(|l| format!("{} ({})", l.name, per_cent(l.probability)))
        .collect();
    match told.is_empty() {
        true => Ok(()),
        false => writeln!(out, "{before}perhaps together with {}", told.join(", ")),
    }
}

/// The contact sheet; `day` is printed as the day of making.
pub fn strangers_page(groups: &[StrangerGroup], day: &str) -> String {
    let head = markup! {
        header {
            h1 { "Marks not in the library" }
            p.told { (counts(groups)) " · sheet of " (day) }
        }
    };
    let (several, alone): (Vec<_>, Vec<_>) = groups.iter().partition(|g| g.marks.len() > 1);
    let doubtful = doubtful(groups);
    let paired = |g: &StrangerGroup| {
        doubtful
            .iter()
            .any(|(a, b, _)| a.name == g.name || b.name == g.name)
    };
    let alone: Vec<&StrangerGroup> = alone.into_iter().filter(|g| !paired(g)).collect();
    let body = markup! {
        @if groups.is_empty() { p { "There is no mark that the library does not know." } }
        @if !several.is_empty() {
            section id="groups" {
                h2 { "One mark each" }
                p { "Each group is one mark, turned as in its first photo. Check that no other has slipped in." }
                @for group in several { (whole(group)) }
            }
        }
        @if !doubtful.is_empty() {
            section id="perhaps" {
                h2 { "Perhaps together" }
                p { "One mark, or two that differ in a word or a line: look closely." }
                div.pairs { @for (a, b, likely) in &doubtful { (side_by_side(a, b, likely)) } }
            }
        }
        @if !alone.is_empty() {
            section id="alone" {
                h2 { "Alone" }
                p { "No other photo shows these, as far as the program can tell." }
                p { "Each can begin a family under its own name: " code { "footring library new MAKER/MARK --from NAME" } }
                div.crops { @for group in alone { @for mark in &group.marks { (crop(mark, Some(&group.name))) } } }
            }
        }
    };
    page("Marks not in the library", &head, &body)
}

/// Each link between two groups once, the likeliest first.
fn doubtful(groups: &[StrangerGroup]) -> Vec<(&StrangerGroup, &StrangerGroup, &Likely)> {
    let mut links = Vec::new();
    for (at, group) in groups.iter().enumerate() {
        for likely in &group.perhaps {
            let other = groups.iter().skip(at + 1).find(|g| g.name == likely.name);
            links.extend(other.map(|other| (group, other, likely)));
        }
    }
    links.sort_by(|a, b| b.2.probability.total_cmp(&a.2.probability));
    links
}

fn whole(group: &StrangerGroup) -> Markup {
    markup! {
        div.group id=(group.name) {
            h3 { (group.name) " · " (photos(group.marks.len())) }
            code { (group.command) }
            div.crops { @for mark in &group.marks { (crop(mark, None)) } }
        }
    }
}

fn side_by_side(a: &StrangerGroup, b: &StrangerGroup, likely: &Likely) -> Markup {
    markup! {
        div.group {
            h3 { (a.name) " and " (b.name) " · " (share(likely.probability)) }
            div.crops {
                @if let [first, ..] = a.marks.as_slice() { (crop(first, Some(&a.name))) }
                @if let [first, ..] = b.marks.as_slice() {
                    (framed(likely.picture.as_ref().or(first.picture.as_ref()), first, Some(&b.name)))
                }
            }
        }
    }
}

fn crop(mark: &StrangerMark, name: Option<&str>) -> Markup {
    framed(mark.picture.as_ref(), mark, name)
}

fn framed(picture: Option<&Figure>, mark: &StrangerMark, name: Option<&str>) -> Markup {
    markup! {
        figure {
            div.frame {
                @match picture {
                    Some(figure) => { (image(figure, &format!("the mark in {}", mark.place()))) }
                    None => { p { "no picture kept" } }
                }
            }
            figcaption {
                @if let Some(name) = name { b { (name) } br; }
                (mark.place()) " · " (mark.lot)
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn group(name: &str, photos: &[&str], perhaps: &[(&str, f64)]) -> StrangerGroup {
        StrangerGroup {
            name: name.into(),
            marks: photos
                .iter()
                .map(|photo| StrangerMark {
                    photo: (*photo).into(),
                    mark: None,
                    lot: "Mill <fair>".into(),
                    probability: 0.9,
                    picture: None,
                })
                .collect(),
            perhaps: perhaps
                .iter()
                .map(|(name, probability)| Likely {
                    name: (*name).into(),
                    probability: *probability,
                    picture: None,
                })
                .collect(),
            command: format!("footring library new MAKER/MARK --from {name}"),
        }
    }

    fn groups() -> [StrangerGroup; 2] {
        [
            group("lusab-babad", &["a.jpg", "b.jpg"], &[("gutih-tugad", 0.6)]),
            group("gutih-tugad", &["c.jpg"], &[("lusab-babad", 0.6)]),
        ]
    }

    #[test]
    fn the_text_lists_groups_and_those_alone() {
        let mut text = Vec::new();
        write_strangers(&groups(), &mut text).expect("memory");
        assert_eq!(
            String::from_utf8(text).expect("text"),
            "3 unknown marks: 2 in 1 group, 1 alone\n\
             lusab-babad  2 photos\n  a.jpg  Mill <fair>\n  b.jpg  Mill <fair>\n  \
             perhaps together with gutih-tugad (60 %)\n\
             alone\n  gutih-tugad  c.jpg  Mill <fair>\n    \
             perhaps together with lusab-babad (60 %)\n"
        );
    }

    #[test]
    fn the_page_shows_a_doubtful_pair_once() {
        let page = strangers_page(&groups(), "2026-05-02");
        assert_eq!(page.matches("lusab-babad and gutih-tugad").count(), 1);
        assert!(page.contains("Mill &lt;fair&gt;") && page.contains("--from lusab-babad"));
        assert!(
            strangers_page(&[], "2026-05-02").contains("no mark that the library does not know")
        );
    }
}

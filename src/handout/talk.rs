//! A talk: pieces in a chosen order, each with its picture, its mark, its code and two lines. One page
//! for paper and for the wall; it holds its own pictures and its few lines of script.

use maud::{DOCTYPE, Markup, PreEscaped, html as markup};

use super::cautions::OPINION;
use crate::report::{Figure, image};

const STYLE: &str = concat!(
    include_str!("../report/style.css"),
    include_str!("talk.css")
);
const SCRIPT: &str = include_str!("talk.js");

/// Most lines below a piece: what a listener reads while they listen.
pub const LINES: usize = 2;

/// A piece of a talk.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Slide {
    pub number: i64,
    pub title: String,
    /// At most [`LINES`].
    pub lines: Vec<String>,
    /// Confirmed date codes.
    pub codes: Vec<String>,
    /// Itself, then its mark, each with what it is called; `None` where the picture is out of reach.
    pub pictures: Vec<(String, Option<Figure>)>,
}

/// The page. `day` is printed as the day of making.
pub fn talk(title: &str, day: &str, slides: &[Slide]) -> String {
    let page = markup! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) }
                style { (PreEscaped(STYLE)) }
            }
            body.talk {
                header {
                    h1 { (title) }
                    p.told {
                        (slides.len()) @if slides.len() == 1 { " piece" } @else { " pieces" }
                        " · drawn up on " (day)
                    }
                    p.begin {
                        button type="button" { "Show full-screen" }
                        " or " kbd { "F" } "; then " kbd { "→" } " and " kbd { "←" } ", "
                        kbd { "Space" } ", " kbd { "Home" } ", " kbd { "End" }
                        "; " kbd { "Esc" } " ends."
                    }
                }
                main { @for (at, slide) in (1..).zip(slides) { (article(slide, at, slides.len())) } }
                footer { p { (OPINION) } }
                script { (PreEscaped(SCRIPT)) }
            }
        }
    };
    page.into_string()
}

fn article(slide: &Slide, at: usize, all: usize) -> Markup {
    let alt = format!("piece {}", slide.number);
    markup! {
        article.slide id={ "piece-" (slide.number) } {
            h2 { (slide.title) }
            div.pictures {
                @for (caption, figure) in &slide.pictures {
                    figure {
                        div.frame {
                            @match figure {
                                Some(figure) => (image(figure, &format!("{alt}, {caption}"))),
                                None => p { "no picture in reach" },
                            }
                        }
                        figcaption { (caption) }
                    }
                }
            }
            div.lines {
                @for line in &slide.lines { p { (line) } }
                @if !slide.codes.is_empty() { p.codes { "code " (slide.codes.join(", ")) } }
            }
            p.place { "piece " (slide.number) " · " (at) " of " (all) }
        }
    }
}

/// What a person wrote for a talk: pieces in order, each with their own lines.
pub type Written = Vec<(i64, Vec<String>)>;

/// Why a text is no talk.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotATalk {
    #[error("line {line}: `{text}` stands before the first `piece N`")]
    NoPiece { line: usize, text: String },
    #[error("line {line}: `{text}` does not say which piece; write `piece 12`")]
    NoNumber { line: usize, text: String },
    #[error("line {line}: piece {piece} has more than two lines")]
    TooMany { line: usize, piece: i64 },
    #[error("it names no piece")]
    Empty,
}

/// Reads `piece 12` and up to two lines of one's own below it, piece after piece. Empty lines, and lines
/// that begin with `#`, are left out.
///
/// # Errors
/// Where a line cannot be such, by its number from 1.
pub fn read_talk(text: &str) -> Result<Written, NotATalk> {
    let mut talk: Written = Vec::new();
    for (line, text) in (1..).zip(text.trim_start_matches('\u{feff}').lines()) {
        let text = text.trim();
        if text.is_empty() || text.starts_with('#') {
            continue;
        }
        let owned = || text.to_owned();
        let begins = text.split_whitespace().next();
        if begins.is_some_and(|word| word.eq_ignore_ascii_case("piece"))
            && text.split_whitespace().count() == 2
        {
            let number = text.split_whitespace().nth(1).and_then(|n| n.parse().ok());
            let number = number.ok_or_else(|| NotATalk::NoNumber {
                line,
                text: owned(),
            })?;
            talk.push((number, Vec::new()));
            continue;
        }
        let Some((piece, lines)) = talk.last_mut() else {
            return Err(NotATalk::NoPiece {
                line,
                text: owned(),
            });
        };
        if lines.len() == LINES {
            return Err(NotATalk::TooMany {
                line,
                piece: *piece,
            });
        }
        lines.push(owned());
    }
    match talk.is_empty() {
        true => Err(NotATalk::Empty),
        false => Ok(talk),
    }
}

/// The text that [`read_talk`] reads.
pub fn write_talk(talk: &Written) -> String {
    let mut text = String::from(
        "# Pieces in the order of the talk. Write up to two lines of your own below each; where there\n\
         # are none, they come from confirmed facts.\n",
    );
    for (number, lines) in talk {
        text += &format!("\npiece {number}\n");
        for line in lines {
            text += line;
            text.push('\n');
        }
    }
    text
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    #[test]
    fn a_talk_written_reads_back() {
        let talk = vec![
            (12, vec!["The first cup.".to_owned(), "1931".to_owned()]),
            (7, vec![]),
        ];
        assert_eq!(read_talk(&write_talk(&talk)).unwrap(), talk);
        let own = "\u{feff}# mine\r\nPiece 3\r\n  Look at the handle. \r\n\r\n";
        assert_eq!(
            read_talk(own).unwrap(),
            [(3, vec!["Look at the handle.".to_owned()])]
        );
    }

    #[test]
    fn what_is_no_talk_is_told_by_its_line() {
        let told = |text: &str| read_talk(text).unwrap_err().to_string();
        assert_eq!(
            told("\na\n"),
            "line 2: `a` stands before the first `piece N`"
        );
        assert!(told("piece x\n").starts_with("line 1: `piece x` does not say which"));
        assert_eq!(
            told("piece 1\na\nb\nc\n"),
            "line 4: piece 1 has more than two lines"
        );
        assert_eq!(told("# nothing\n"), "it names no piece");
    }

    #[test]
    fn the_page_needs_nothing_from_outside() {
        let slide = Slide {
            number: 4,
            title: "Cup <1>".to_owned(),
            lines: vec!["Made in 1931.".to_owned()],
            codes: vec!["C31".to_owned()],
            ..Slide::default()
        };
        let page = talk("A talk", "2026-05-02", &[slide]);
        assert!(page.contains("Cup &lt;1&gt;") && page.contains("code C31"));
        assert!(!page.contains("http") && !page.contains("<1>"));
        assert_eq!(page.matches("<article").count(), 1);
    }
}

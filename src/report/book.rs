//! A library as a handbook to print: makers by name, their marks by date.

use maud::{Markup, PreEscaped, html as markup};

use super::html::{Figure, image, page_with};

/// A family begins on the page on which it ends, and a maker on a page of its own.
const STYLE: &str = "@media print { section { break-before: page } section:first-of-type { break-before: auto } \
                     article { break-inside: avoid } }";

/// A mark of the book.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct BookFamily {
    pub id: String,
    pub name: String,
    pub picture: Option<Figure>,
    /// A label and what stands behind it: used, ink, lines, told apart from, own photos, sources.
    pub facts: Vec<(String, String)>,
    pub notes: Vec<String>,
}

/// A maker of the book.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct BookMaker {
    pub id: String,
    pub name: String,
    pub facts: Vec<(String, String)>,
    pub notes: Vec<String>,
    /// The earliest first.
    pub families: Vec<BookFamily>,
}

/// The book; `day` is printed as the day of making.
pub fn book_page(title: &str, makers: &[BookMaker], day: &str) -> String {
    let marks: usize = makers.iter().map(|m| m.families.len()).sum();
    let head = markup! {
        header {
            h1 { (title) }
            p.told { (marks) @if marks == 1 { " mark of " } @else { " marks of " } (makers.len()) @if makers.len() == 1 { " maker" } @else { " makers" } " · printed from the library on " (day) }
            nav aria-label="Makers" {
                ul { @for maker in makers { li { a href={ "#" (anchor(&maker.id)) } { (maker.name) " " b { (maker.families.len()) } } } } }
            }
        }
    };
    let body = markup! {
        @for maker in makers { (of_maker(maker)) }
    };
    let style = markup! { style { (PreEscaped(STYLE)) } };
    page_with(title, &style, &head, &body)
}

fn anchor(id: &str) -> String {
    format!("maker-{id}")
}

fn of_maker(maker: &BookMaker) -> Markup {
    markup! {
        section id=(anchor(&maker.id)) {
            h2 { (maker.name) }
            (facts(&maker.facts))
            @for note in &maker.notes { p { (note) } }
            @for family in &maker.families { (of_family(family)) }
        }
    }
}

fn of_family(family: &BookFamily) -> Markup {
    markup! {
        article {
            div.pictures {
                figure {
                    div.frame {
                        @match &family.picture {
                            Some(figure) => { (image(figure, &family.name)) }
                            None => { p { "no picture" } }
                        }
                    }
                    figcaption { (family.id) }
                }
            }
            div.says {
                h3 { (family.name) }
                (facts(&family.facts))
                @for note in &family.notes { p { (note) } }
            }
        }
    }
}

fn facts(facts: &[(String, String)]) -> Markup {
    markup! {
        @if !facts.is_empty() {
            dl { @for (label, text) in facts { dt { (label) } dd { (text) } } }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn makers_and_marks_stand_in_their_order() {
        let family = |name: &str| BookFamily {
            id: format!("m/{name}"),
            name: name.into(),
            facts: vec![("used".into(), "1948/1962".into())],
            ..BookFamily::default()
        };
        let maker = BookMaker {
            id: "m".into(),
            name: "Mill <Lane>".into(),
            families: vec![family("crown"), family("anchor")],
            ..BookMaker::default()
        };
        let page = book_page("My marks", &[maker], "2026-05-02");
        let at = |text: &str| page.find(text).unwrap_or_else(|| panic!("no {text}"));
        assert!(at("<h3>crown") < at("<h3>anchor"));
        assert!(page.contains("Mill &lt;Lane&gt;") && page.contains("2 marks of 1 maker ·"));
        assert!(!page.contains("http"));
    }
}

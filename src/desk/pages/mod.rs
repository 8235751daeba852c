//! The pages, as HTML. Every text goes through the templates, which escape it.

mod decide;
mod hand_out;
mod lots;
mod marks;
mod piece;
mod pieces;
mod record;
mod strangers;

pub(super) use decide::{clear, codes, decide, family};
pub(super) use hand_out::hand_out;
pub(super) use lots::{LotLine, lot, lots, welcome};
pub(super) use marks::{mark, marks};
pub(super) use piece::piece;
pub(super) use pieces::pieces;
pub(super) use record::record;
pub(super) use strangers::strangers;

use maud::{DOCTYPE, Markup, html as markup};

/// A page: its title, its module of front-end code, the way back, and what it shows.
struct Page<'a> {
    title: &'a str,
    /// `lots.js`, or none.
    script: Option<&'a str>,
    /// Links from the lots down to this page, each a name and an address.
    way: &'a [(&'a str, String)],
    /// Sent along with every change.
    word: &'a str,
}

/// Where one can go from anywhere.
const PLACES: [(&str, &str); 5] = [
    ("Lots", "/"),
    ("Strangers", "/strangers"),
    ("Marks", "/marks"),
    ("Pieces", "/pieces"),
    ("Hand out", "/hand-out"),
];

fn is_place(address: &str) -> bool {
    PLACES.iter().any(|(_, place)| *place == address)
}

impl Page<'_> {
    /// Whether the page lies in this place; what is in no other lies among the lots.
    fn is_at(&self, place: &str) -> bool {
        let in_other = self.way.iter().find(|(_, to)| is_place(to));
        in_other.map_or("/", |(_, to)| to.as_str()) == place
    }

    fn with(&self, main: &Markup) -> String {
        let page = markup! {
            (DOCTYPE)
            html lang="en" {
                head {
                    meta charset="utf-8";
                    meta name="viewport" content="width=device-width, initial-scale=1";
                    meta name="footring-word" content=(self.word);
                    title { (self.title) " · Footring" }
                    link rel="icon" href="/front/footring.svg";
                    link rel="stylesheet" href="/front/desk.css";
                    script type="module" src="/front/desk.js" {}
                    @if let Some(script) = self.script {
                        script type="module" src={ "/front/" (script) } {}
                    }
                }
                body {
                    a.skip href="#main" { "Skip to the content" }
                    header.top {
                        a.brand href="/" { "Footring" }
                        @if self.way.iter().any(|(_, to)| !is_place(to)) {
                            nav.way-back aria-label="Where you are" {
                                @for (at, (name, address)) in self.way.iter().filter(|(_, to)| !is_place(to)).enumerate() {
                                    @if at > 0 { span aria-hidden="true" { "/" } }
                                    a href=(address) { (name) }
                                }
                            }
                        }
                        nav.places aria-label="Places" {
                            @for (name, address) in PLACES {
                                a href=(address) aria-current=[self.is_at(address).then_some("page")] { (name) }
                            }
                        }
                        div.right {
                            a.job #job-line href="/#under-way" hidden {}
                            button #undo type="button" data-key="z" { "Undo" kbd aria-hidden="true" { "Z" } }
                            button #keys type="button" data-key="?" aria-haspopup="dialog" { "Keys" kbd aria-hidden="true" { "?" } }
                        }
                    }
                    main #main tabindex="-1" { (main) }
                    div.told #told role="status" {}
                    div.alarm #alarm role="alert" hidden {}
                    dialog #help aria-labelledby="help-title" {
                        h2 #help-title { "Keys on this page" }
                        label.check {
                            input #keys-on type="checkbox" checked;
                            "Single keys work on this page"
                        }
                        dl #help-list {}
                        button type="button" id="help-close" { "Close" }
                    }
                }
            }
        };
        page.into_string()
    }
}

/// A page that needs no key: it says one thing.
fn bare(title: &str, refresh: bool, main: &Markup) -> String {
    let page = markup! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                @if refresh { meta http-equiv="refresh" content="0;url=/"; }
                title { (title) " · Footring" }
                link rel="icon" href="/front/footring.svg";
                link rel="stylesheet" href="/front/desk.css";
            }
            body.bare { main { (main) } }
        }
    };
    page.into_string()
}

/// Why a request was not answered.
pub(super) fn refusal(says: &str) -> String {
    let main = markup! {
        h1 { "Not here" }
        p { (says) }
        p { a href="/" { "To the lots" } }
    };
    bare("Not here", false, &main)
}

/// After the key was handed over.
pub(super) fn entered() -> String {
    let main = markup! {
        h1 { "Opening the desk" }
        p { a href="/" { "Go on" } }
    };
    bare("Opening", true, &main)
}

/// A family's id as part of an address.
fn in_address(family: &str) -> String {
    use percent_encoding::{NON_ALPHANUMERIC, utf8_percent_encode};
    let parts = family
        .split('/')
        .map(|p| utf8_percent_encode(p, NON_ALPHANUMERIC).to_string());
    parts.collect::<Vec<_>>().join("/")
}

/// The same as a value behind `?`.
fn as_value(text: &str) -> String {
    use percent_encoding::{NON_ALPHANUMERIC, utf8_percent_encode};
    utf8_percent_encode(text, NON_ALPHANUMERIC).to_string()
}

/// `1 mark`, `42 marks`.
fn marks_word(count: usize) -> String {
    match count {
        1 => "1 mark".to_owned(),
        n => format!("{n} marks"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_person_or_a_file_says_stays_text() {
        let page = Page {
            title: "<script>alert(1)</script>",
            script: None,
            way: &[("\"><img src=x>", "/lot/1".to_owned())],
            word: "w",
        }
        .with(&markup! { p { "<b>" } });
        assert!(!page.contains("<script>alert") && !page.contains("<img") && !page.contains("<b>"));
        assert!(page.contains("&lt;script&gt;alert(1)"));
        assert!(!page.contains(" style=") && !page.contains("<style"));
        assert!(refusal("<i>").contains("&lt;i&gt;"));
    }

    #[test]
    fn a_family_becomes_a_safe_address() {
        assert_eq!(in_address("mill lane/crown?x"), "mill%20lane/crown%3Fx");
        assert_eq!(as_value("a/b&c"), "a%2Fb%26c");
    }
}

//! Photos sorted into piles by what is to be done with them, and the page of those to take again.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use maud::{Markup, html as markup};

use super::html::{Figure, page};
use super::words::photos;
use crate::answer::Verdict;

/// What is to be done with a photo.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Pile {
    /// Named: check at a glance.
    Sure,
    /// Several fit or none does: a person must look.
    Look,
    /// To be taken again while the piece is at hand.
    Again,
    /// Undersides without a mark.
    Bare,
    /// No undersides.
    Aside,
    /// Files that could not be read.
    Unread,
}

impl Pile {
    pub const ALL: [Self; 6] = [
        Self::Sure,
        Self::Look,
        Self::Again,
        Self::Bare,
        Self::Aside,
        Self::Unread,
    ];

    pub fn of(verdict: Verdict) -> Self {
        match verdict {
            Verdict::Named => Self::Sure,
            Verdict::Choose | Verdict::Unknown => Self::Look,
            Verdict::Reshoot => Self::Again,
            Verdict::NoMark => Self::Bare,
            Verdict::NotUnderside => Self::Aside,
            Verdict::NotAPicture => Self::Unread,
        }
    }

    /// The word for it, which is its folder's name as well.
    pub fn word(self) -> &'static str {
        match self {
            Self::Sure => "sure",
            Self::Look => "look",
            Self::Again => "again",
            Self::Bare => "bare",
            Self::Aside => "aside",
            Self::Unread => "unread",
        }
    }

    /// What it holds, in a few words.
    pub fn says(self) -> &'static str {
        match self {
            Self::Sure => "named: check at a glance",
            Self::Look => "several families fit, or none: look yourself",
            Self::Again => "take again while you have the piece",
            Self::Bare => "undersides without a mark",
            Self::Aside => "no undersides",
            Self::Unread => "could not be read",
        }
    }
}

/// A photo to take again, as the page shows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AgainRow {
    pub photo: String,
    /// Why, and what to do.
    pub reasons: Vec<String>,
    /// The photos before and after it, by which the piece is found again.
    pub before: Option<String>,
    pub after: Option<String>,
    pub picture: Option<Figure>,
}

/// The page of photos to take again, to print and take along; `day` is printed as the day of making.
pub fn again_page(rows: &[AgainRow], day: &str) -> String {
    let head = markup! {
        header {
            h1 { "To take again" }
            p.told { (photos(rows.len())) " · sheet of " (day) }
        }
    };
    let body = markup! {
        @if rows.is_empty() { p { "Nothing needs to be taken again." } }
        @for row in rows { (again(row)) }
    };
    page("To take again", &head, &body)
}

fn again(row: &AgainRow) -> Markup {
    markup! {
        article.again {
            @if let Some(figure) = &row.picture {
                img width=(figure.width) height=(figure.height) alt={ "The photo " (row.photo) }
                    src={ "data:image/jpeg;base64," (STANDARD.encode(&figure.jpeg)) };
            }
            div {
                h3 { (row.photo) }
                @for reason in &row.reasons { p { (reason) } }
                p.told {
                    @if let Some(before) = &row.before { "after " (before) }
                    @if row.before.is_some() && row.after.is_some() { ", " }
                    @if let Some(after) = &row.after { "before " (after) }
                }
                p { "☐ taken again" }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_verdict_has_a_pile_and_every_pile_a_word_of_its_own() {
        let mut words: Vec<&str> = Pile::ALL.iter().map(|p| p.word()).collect();
        words.sort_unstable();
        words.dedup();
        assert_eq!(words.len(), Pile::ALL.len());
        for verdict in Verdict::ALL {
            assert!(Pile::ALL.contains(&Pile::of(verdict)));
        }
    }

    #[test]
    fn the_page_tells_why_and_where_the_piece_is() {
        let row = AgainRow {
            photo: "IMG_<7>.jpg".into(),
            reasons: vec!["moved: brace the phone".into()],
            before: Some("IMG_6.jpg".into()),
            after: None,
            picture: None,
        };
        let page = again_page(&[row], "2026-05-02");
        assert!(page.contains("IMG_&lt;7&gt;.jpg") && page.contains("moved: brace the phone"));
        assert!(page.contains("after IMG_6.jpg") && !page.contains("before "));
        assert!(again_page(&[], "2026-05-02").contains("Nothing needs to be taken again"));
    }
}

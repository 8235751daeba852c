//! Photos sorted into piles by what is to be done with them, and the page of those to take again.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use maud::{Markup, html as markup};

use super::html::{Figure, page};
use super::words::photos;
use super::{Row, Sheet};
use crate::answer::{PhotoAnswer, Reason, ReasonCode, Verdict};
use crate::decision::Statement;

/// What is to be done with a photo.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Pile {
    /// Named: check at a glance.
    Sure,
    /// Several fit or none does, or one does and its letters cannot be read or little of it is left: a person must look.
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

    /// The pile of a photo that nobody has decided on. What is named and cannot be read, or of which little
    /// is left, is looked at: the name rests on the rest of the mark.
    pub fn of_answer(answer: &PhotoAnswer) -> Self {
        let unread = |r: &Reason| {
            use ReasonCode::{Blurred, Covered, CutOff, Glare, Moved, TooSmall, WeakStrike, Worn};
            let unread = matches!(r.code, Blurred | Moved | TooSmall);
            unread || matches!(r.code, Covered | CutOff | Glare | WeakStrike | Worn)
        };
        match Self::of(answer.verdict) {
            Self::Sure if answer.reasons.iter().any(unread) => Self::Look,
            pile => pile,
        }
    }

    /// The pile of a photo of a lot. What the person said of any of its marks counts first: a family is
    /// `sure`, taken again is `again`. `None` where it was never looked at and nothing was said.
    pub fn of_shot(sheet: &Sheet, shot: usize) -> Option<Self> {
        let rows = || sheet.rows.iter().filter(|r| r.shot == shot);
        let said = |row: &Row| row.decision.as_ref().map(|d| d.statement.clone());
        if rows().any(|r| said(r) == Some(Statement::Again)) {
            return Some(Self::Again);
        }
        if rows().any(|r| matches!(said(r), Some(Statement::Family(_)))) {
            return Some(Self::Sure);
        }
        if rows().any(|r| said(r).is_some()) {
            return rows().map(|r| r.holds).min().map(Self::of);
        }
        let answer = sheet.shots[shot].answer.as_ref()?;
        Some(Self::of_answer(answer))
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
            Self::Look => {
                "several families fit, or none, or letters are not legible: look yourself"
            }
            Self::Again => "take again while you have the piece",
            Self::Bare => "undersides without a mark",
            Self::Aside => "no undersides",
            Self::Unread => "could not be read",
        }
    }
}

/// What stands in the way, the photo's faults and the piece's own state apart: only the first can be cured
/// by another photo.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Obstacles {
    pub photo: Vec<String>,
    pub piece: Vec<String>,
}

impl Obstacles {
    /// Sorts the reasons of an answer. `fills` is the mark's longer side as a share of the photo's, where
    /// both are known.
    pub fn of(reasons: &[Reason], fills: Option<f64>) -> Self {
        let mut sorted = Self::default();
        for reason in reasons {
            match (reason.code, fills) {
                (
                    ReasonCode::WeakStrike
                    | ReasonCode::Worn
                    | ReasonCode::Covered
                    | ReasonCode::Defaced,
                    _,
                ) => sorted.piece.push(reason.text.clone()),
                (ReasonCode::TooSmall, Some(share)) => sorted.photo.push(say_small(share)),
                _ => sorted.photo.push(reason.text.clone()),
            }
        }
        sorted
    }

    /// All on one line; what is said of the piece says so.
    pub fn line(&self) -> String {
        let piece = self.piece.iter().map(|p| format!("the piece: {p}"));
        let all: Vec<String> = self.photo.iter().cloned().chain(piece).collect();
        all.join("; ")
    }
}

/// `the mark fills only 3 % of the frame: come closer`.
fn say_small(share: f64) -> String {
    let share = match (100.0 * share).round() {
        n if n < 1.0 => "less than 1".to_owned(),
        n => format!("only {n:.0}"),
    };
    format!("the mark fills {share} % of the frame's length: come closer")
}

/// A photo to take again, as the page shows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AgainRow {
    pub photo: String,
    /// Why, and what to do.
    pub reasons: Obstacles,
    /// Where the piece is: `photo 17 of 41 of demo sale`.
    pub place: String,
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
                @for reason in &row.reasons.photo { p { (reason) } }
                @for state in &row.reasons.piece { p { "The piece itself: " (state) } }
                p.told {
                    (row.place)
                    @if row.before.is_some() || row.after.is_some() { ": " }
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
    fn what_is_named_and_cannot_be_read_is_looked_at() {
        let pile = |verdict, codes: &[ReasonCode]| {
            Pile::of_answer(&PhotoAnswer {
                schema: 1,
                photo: "IMG_7.jpg".into(),
                photo_raw: None,
                hash: None,
                verdict,
                reasons: codes.iter().copied().map(Reason::plain).collect(),
                quality: None,
                marks: Vec::new(),
                elapsed_ms: None,
                stages: None,
            })
        };
        use ReasonCode::Worn;
        use ReasonCode::{
            Aligned, Blurred, Covered, Glare, Moved, TooSmall, WeakStrike, WholeView,
        };
        assert_eq!(pile(Verdict::Named, &[Aligned]), Pile::Sure);
        assert_eq!(pile(Verdict::Named, &[Aligned, WholeView]), Pile::Sure);
        for unread in [Blurred, Moved, TooSmall, WeakStrike, Worn, Covered] {
            assert_eq!(pile(Verdict::Named, &[Aligned, unread]), Pile::Look);
        }
        // What is no name stays where its verdict puts it.
        assert_eq!(pile(Verdict::Reshoot, &[Blurred]), Pile::Again);
        assert_eq!(pile(Verdict::Unknown, &[Glare]), Pile::Look);
        assert_eq!(pile(Verdict::NoMark, &[]), Pile::Bare);
    }

    #[test]
    fn the_page_tells_why_and_where_the_piece_is() {
        let row = AgainRow {
            photo: "IMG_<7>.jpg".into(),
            reasons: Obstacles {
                photo: vec!["moved: brace the phone".into()],
                piece: Vec::new(),
            },
            place: "photo 7 of 9 of Mill fair".into(),
            before: Some("IMG_6.jpg".into()),
            after: None,
            picture: None,
        };
        let page = again_page(&[row], "2026-05-02");
        assert!(page.contains("IMG_&lt;7&gt;.jpg") && page.contains("moved: brace the phone"));
        assert!(page.contains("photo 7 of 9 of Mill fair: after IMG_6.jpg"));
        assert!(!page.contains("before "));
        assert!(again_page(&[], "2026-05-02").contains("Nothing needs to be taken again"));
    }

    #[test]
    fn what_another_photo_cannot_cure_is_said_apart() {
        let reasons = [ReasonCode::TooSmall, ReasonCode::WeakStrike].map(Reason::plain);
        let sorted = Obstacles::of(&reasons, Some(0.031));
        assert_eq!(
            sorted.photo,
            ["the mark fills only 3 % of the frame's length: come closer"]
        );
        assert_eq!(sorted.piece, [ReasonCode::WeakStrike.plain()]);
        assert!(
            sorted
                .line()
                .contains("come closer; the piece: weak strike")
        );
        let unknown_size = Obstacles::of(&reasons, None);
        assert_eq!(unknown_size.photo, [ReasonCode::TooSmall.plain()]);
    }
}

//! How the program's clear answers fare before the person, and what is put without an answer to learn it honestly.
//!
//! Whoever sees a suggestion leans towards it. So about one clear answer in twenty may be put without it; what the
//! person says then is compared with what the program would have said.

use std::fmt;

use super::{About, ContentHash, Decision, History, Statement, Topic};
use crate::answer::{MarkAnswer, Verdict};
use crate::trial::wilson;

/// One clear answer in so many is put without its suggestion.
pub const ONE_IN: u64 = 20;
/// Confirmed answers from which figures are told.
pub const TOLD_FROM: usize = 100;

/// Whether a mark, by its place in the photo from 0, is one of those: drawn by its hash, so that it is the same one
/// whenever it is asked.
pub fn is_blind(photo: &ContentHash, mark: usize) -> bool {
    let drawn = blake3::hash(format!("blind {photo} {mark}").as_bytes());
    let number = drawn
        .as_bytes()
        .first_chunk()
        .map_or(1, |b| u64::from_le_bytes(*b));
    number.is_multiple_of(ONE_IN)
}

/// What is recorded of a mark with a clear answer just before the person's decision on it; `seen` says whether they
/// saw the answer. `None` where there is no clear answer.
pub fn suggestion(mark: &MarkAnswer, seen: bool) -> Option<Statement> {
    let best = mark
        .candidates
        .first()
        .filter(|_| mark.verdict == Verdict::Named)?;
    Some(match seen {
        true => Statement::Suggested(best.family.clone()),
        false => Statement::Withheld(best.family.clone()),
    })
}

/// What became of the clear answers.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Fared {
    /// Decided as the program said, and otherwise, with its answer in sight.
    pub confirmed: usize,
    pub overruled: usize,
    /// Decided without the answer: how many, and how many of them as the program would have said.
    pub blind: usize,
    pub agreed: usize,
}

/// Counts the decisions that hold on marks with a clear answer; `follow` gives the id that a family has now.
pub fn fared(history: &History, follow: &dyn Fn(&str) -> String) -> Fared {
    let holding: Vec<&Decision> = history.holding().collect();
    let all: Vec<&Decision> = history.all().collect();
    let mut found = Fared::default();
    for said in &holding {
        let (family, seen) = match &said.statement {
            Statement::Suggested(family) => (family, true),
            Statement::Withheld(family) => (family, false),
            _ => continue,
        };
        // What was decided next about the same mark: blind, the first word counts, also where it was changed once the
        // answer was seen.
        let decisions = if seen { &holding } else { &all };
        let next = decisions.iter().find(|d| {
            d.number > said.number
                && d.statement.topic() == Some(Topic::Identity)
                && is_same(&d.about, &said.about)
        });
        let agrees = match next.map(|d| &d.statement) {
            Some(Statement::Family(decided)) => follow(decided) == follow(family),
            Some(Statement::Unknown | Statement::NoMark) => false,
            _ => continue,
        };
        match (seen, agrees) {
            (true, true) => found.confirmed += 1,
            (true, false) => found.overruled += 1,
            (false, _) => {
                found.blind += 1;
                found.agreed += usize::from(agrees);
            }
        }
    }
    found
}

fn is_same(a: &About, b: &About) -> bool {
    a.photo().is_some() && a == b
}

impl fmt::Display for Fared {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self {
            confirmed,
            overruled,
            blind,
            agreed,
        } = *self;
        if confirmed < TOLD_FROM {
            return write!(
                f,
                "on your own photos: no figure yet ({confirmed} of {TOLD_FROM} clear answers confirmed)"
            );
        }
        write!(
            f,
            "on your own photos: {confirmed} confirmed, {overruled} overruled, "
        )?;
        match blind {
            0 => write!(f, "none put blind yet"),
            _ => {
                let per_cent = |v: f64| 100.0 * v;
                let (low, high) = wilson(agreed, blind);
                write!(
                    f,
                    "blind agreement {:.0} % ({agreed} of {blind}; {:.0} to {:.0} %)",
                    per_cent(agreed as f64 / blind as f64),
                    per_cent(low),
                    per_cent(high)
                )
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decision::{Certainty, Moment};

    fn records(of: &[(u8, Statement)]) -> History {
        let record = |(at, (photo, statement)): (usize, &(u8, Statement))| Decision {
            number: at as i64 + 1,
            time: Moment::new(jiff::Timestamp::UNIX_EPOCH),
            about: About::Photo(ContentHash::of(&[*photo])),
            statement: statement.clone(),
            certainty: Certainty::Sure,
            replaces: None,
        };
        History::new(of.iter().enumerate().map(record))
    }

    #[test]
    fn each_decision_is_compared_with_what_was_said_before_it() {
        let family = |id: &str| Statement::Family(id.to_owned());
        let suggested = |id: &str| Statement::Suggested(id.to_owned());
        let withheld = |id: &str| Statement::Withheld(id.to_owned());
        let history = records(&[
            (1, suggested("m/a")),
            (1, family("m/a")),
            (2, suggested("m/a")),
            (2, family("m/b")),
            (3, withheld("m/old")),
            (3, family("m/a")),
            (4, withheld("m/a")),
            (4, Statement::Unknown),
            (5, suggested("m/a")),
            (6, family("m/a")),
            (7, suggested("m/a")),
            (7, Statement::Again),
        ]);
        let follow = |id: &str| id.replace("m/old", "m/a");
        let found = fared(&history, &follow);
        assert_eq!((found.confirmed, found.overruled), (1, 1));
        assert_eq!((found.blind, found.agreed), (2, 1));
        assert!(found.to_string().contains("no figure yet (1 of 100"));
        let many = Fared {
            confirmed: 412,
            overruled: 9,
            blind: 21,
            agreed: 20,
        };
        assert_eq!(
            many.to_string(),
            "on your own photos: 412 confirmed, 9 overruled, blind agreement 95 % (20 of 21; 77 to 99 %)"
        );
    }

    #[test]
    fn about_one_in_twenty_is_drawn_and_always_the_same() {
        let photos: Vec<ContentHash> = (0..2000_u32)
            .map(|n| ContentHash::of(&n.to_le_bytes()))
            .collect();
        let drawn = photos.iter().filter(|p| is_blind(p, 0)).count();
        assert!((70..=130).contains(&drawn), "{drawn}");
        assert!(photos.iter().all(|p| is_blind(p, 0) == is_blind(p, 0)));
    }
}

#![allow(clippy::unwrap_used)]

use proptest::prelude::*;

use super::*;
use crate::dating::clue::{ClueKind, Limits, Source};

fn clue(kind: ClueKind, text: &str) -> Clue {
    let meaning = Expression::parse(text).unwrap();
    Clue::new(kind, text, meaning, Source::Own("test".to_owned()))
}

fn written(clues: Vec<Clue>) -> String {
    reason(clues)
        .edtf()
        .map_or_else(|| "none".to_owned(), |e| e.to_string())
}

#[test]
fn the_answer_is_what_lies_in_all() {
    use ClueKind::{Absence, Code, CountryWording, Line, Partner, Patent, Seen, Used};
    for (clues, answer) in [
        (vec![], "none"),
        (vec![clue(Absence, "1921")], "none"),
        (vec![clue(Used, "1921/1935")], "[1921..1935]"),
        (
            vec![clue(Used, "1921/1935"), clue(Line, "1925/..")],
            "[1925..1935]",
        ),
        (
            vec![clue(Used, "1921/1935"), clue(Patent, "1900/1910")],
            "[1921..1935]",
        ),
        (
            vec![clue(Patent, "1931"), clue(CountryWording, "1891")],
            "[1931..]",
        ),
        (
            vec![clue(Used, "1921/1935"), clue(Code, "1931-04")],
            "1931-04",
        ),
        (
            vec![clue(Used, "1921/1935"), clue(Partner, "193X~")],
            "[1925..1935]",
        ),
        (vec![clue(Used, "1930/"), clue(Seen, "1939-12-31")], "193X"),
        (
            vec![clue(Used, "1921/1935"), clue(Line, "1936/1940")],
            "none",
        ),
    ] {
        let told: Vec<String> = clues.iter().map(|c| c.typed.clone()).collect();
        assert_eq!(written(clues), answer, "{told:?}");
    }
}

#[test]
fn the_clues_that_set_the_ends_are_named() {
    let dating = reason([
        clue(ClueKind::Used, "1921/1935"),
        clue(ClueKind::Line, "1925/1935"),
        clue(ClueKind::Patent, "1910"),
    ]);
    let Answer::Within {
        first_by, last_by, ..
    } = dating.answer
    else {
        panic!("{dating:?}");
    };
    assert_eq!((first_by, last_by), (vec![1], vec![0, 1]));
}

#[test]
fn a_contradiction_names_pairs_and_what_would_resolve_it() {
    let dating = reason([
        clue(ClueKind::Used, "1921/1935"),
        clue(ClueKind::Line, "1925/1932"),
        clue(ClueKind::Patent, "1940"),
        clue(ClueKind::Form, "1920/1950"),
    ]);
    let Answer::Contradiction { pairs, without } = dating.answer else {
        panic!("{dating:?}");
    };
    assert_eq!(pairs, [[0, 2], [1, 2]]);
    assert_eq!(without, [(2, Span::of_years(1925, 1932))]);
}

#[test]
fn an_unsure_clue_never_tightens() {
    let sure = || clue(ClueKind::Used, "1921/1935");
    let unsure = |text| clue(ClueKind::Code, text);
    for standing in [Standing::Probably, Standing::Unconfirmed] {
        for (text, effect) in [
            ("1931", Effect::Narrows(Span::of_years(1931, 1931))),
            ("1920/1940", Effect::Nothing),
            ("1946", Effect::Contradicts(vec![0])),
        ] {
            let dating = reason([unsure(text).standing(standing), sure()]);
            assert_eq!(dating.span(), Some(Span::of_years(1921, 1935)));
            assert_eq!(dating.apart[0].effect, effect, "{text}");
        }
    }
    let alone = reason([unsure("1931").standing(Standing::Unconfirmed)]);
    assert_eq!(alone.span(), Some(Span::ALWAYS));
    assert_eq!(alone.edtf(), None);
}

/// The years over which brute force looks. Clues lie inside, so that both ends are seen.
const YEARS: std::ops::RangeInclusive<i64> = 1890..=1970;

#[derive(Debug, Clone)]
struct Drawn {
    kind: ClueKind,
    first: Option<i64>,
    last: Option<i64>,
    standing: Standing,
}

impl Drawn {
    fn clue(&self) -> Clue {
        let end = |year: Option<i64>| year.map_or_else(|| "..".to_owned(), |y| y.to_string());
        let text = format!("{}/{}", end(self.first), end(self.last));
        clue(self.kind, &text).standing(self.standing)
    }

    /// By the meaning of the kinds alone, without spans.
    fn allows(&self, year: i64) -> bool {
        let limits = self.kind.limits();
        let begun = self.first.is_none_or(|first| first <= year);
        let not_ended = self.last.is_none_or(|last| year <= last);
        match limits {
            Limits::Both => begun && not_ended,
            Limits::NotBefore => begun,
            Limits::NotAfter => not_ended,
            Limits::Neither => true,
        }
    }
}

fn drawn() -> impl Strategy<Value = Drawn> {
    let kind = proptest::sample::select(ClueKind::ALL.to_vec());
    let standing = proptest::sample::select(vec![
        Standing::Sure,
        Standing::Sure,
        Standing::Sure,
        Standing::Probably,
        Standing::Unconfirmed,
    ]);
    (kind, 1900_i64..1960, 0_i64..25, 0_u8..5, standing).prop_map(
        |(kind, first, length, open, standing)| Drawn {
            kind,
            first: (open != 0).then_some(first),
            last: (open != 1).then_some(first + length),
            standing,
        },
    )
}

fn allowed(clues: &[&Drawn]) -> Vec<i64> {
    YEARS
        .filter(|year| clues.iter().all(|c| c.allows(*year)))
        .collect()
}

/// Every set of clues that cannot all be true and of which each part can.
fn smallest_contradictions(clues: &[&Drawn]) -> Vec<Vec<usize>> {
    let members = |set: u32| (0..clues.len()).filter(move |at| set & (1 << at) != 0);
    let empty = |set: u32| {
        let chosen: Vec<&Drawn> = members(set).map(|at| clues[at]).collect();
        allowed(&chosen).is_empty()
    };
    let smallest = |set: &u32| members(*set).all(|at| !empty(*set & !(1 << at)));
    (1..1_u32 << clues.len())
        .filter(|set| empty(*set))
        .filter(smallest)
        .map(|set| members(set).collect())
        .collect()
}

proptest! {
    #[test]
    fn reasoning_agrees_with_trying_every_year(all in proptest::collection::vec(drawn(), 0..7)) {
        let sure: Vec<&Drawn> = all.iter().filter(|c| c.standing == Standing::Sure).collect();
        let dating = reason(all.iter().map(Drawn::clue));
        prop_assert_eq!(dating.clues.len(), sure.len());
        let years = allowed(&sure);
        match &dating.answer {
            Answer::Within { span, .. } => {
                let inside: Vec<i64> = YEARS
                    .filter(|y| Span::of_years(*y, *y).and(*span).is_some())
                    .collect();
                prop_assert_eq!(&inside, &years);
                prop_assert!(!years.is_empty());
            }
            Answer::Contradiction { pairs, without } => {
                prop_assert!(years.is_empty());
                let mut by_force = smallest_contradictions(&sure);
                by_force.sort();
                let pairs: Vec<Vec<usize>> = pairs.iter().map(|p| p.to_vec()).collect();
                prop_assert_eq!(pairs, by_force);
                for left_out in 0..sure.len() {
                    let mut others = sure.clone();
                    others.remove(left_out);
                    let agree = !allowed(&others).is_empty();
                    prop_assert_eq!(without.iter().any(|(at, _)| *at == left_out), agree);
                }
            }
        }
    }

    #[test]
    fn one_more_sure_clue_never_widens(
        clues in proptest::collection::vec(drawn(), 1..6),
        more in drawn(),
    ) {
        let before = reason(clues.iter().map(Drawn::clue)).span();
        let after = reason(clues.iter().chain([&more]).map(Drawn::clue)).span();
        match (before, after) {
            (None, after) => prop_assert_eq!(after, None),
            (Some(before), Some(after)) => prop_assert_eq!(before.and(after), Some(after)),
            (Some(_), None) => prop_assert_eq!(more.standing, Standing::Sure),
        }
    }

    #[test]
    fn the_answer_written_reads_back(clues in proptest::collection::vec(drawn(), 1..5)) {
        let dating = reason(clues.iter().map(Drawn::clue));
        if let (Some(span), Some(edtf)) = (dating.span(), dating.edtf()) {
            let back = Expression::parse(&edtf.to_string()).unwrap();
            prop_assert_eq!(back.span(), span);
        }
    }
}

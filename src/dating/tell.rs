//! Clues and what follows from them, in plain words.

use super::Span;
use super::clue::{Clue, ClueKind, Limits, Source, Standing};
use super::edtf::Expression;
use super::published::Checked;
use super::reach::is_doubtful;
use super::reason::{Answer, Apart, Dating, Effect};
use super::words::{say, say_limits, say_run};

/// The answer in one sentence without a full stop.
pub fn tell_answer(dating: &Dating) -> String {
    let unverified = match dating.is_unverified() {
        true => "; this rests on a published value that was not checked",
        false => "",
    };
    match &dating.answer {
        Answer::Within { span, .. } if span.is_always() => {
            "no date: no clue that counts bounds it".to_owned()
        }
        Answer::Within { span, .. } => format!("made {}{unverified}", say(*span)),
        Answer::Contradiction { .. } => {
            format!("no date: these clues cannot all be true{unverified}")
        }
    }
}

/// `used=1921/1935`.
pub fn name(clue: &Clue) -> String {
    format!("{}={}", clue.kind.word(), clue.typed)
}

/// What a clue says, and what it bounds: `this stamp was in use from 1921 to 1935: not before 1921,
/// not after 1935`.
pub fn tell_clue(clue: &Clue) -> String {
    let Some(meaning) = &clue.meaning else {
        return format!("{}: bounds nothing", absent(clue.kind));
    };
    let limits = say_limits(clue.bounds());
    let side = match clue.kind.limits() {
        _ if clue.bounds().is_always() => "",
        Limits::NotBefore => " (it bounds the beginning only)",
        Limits::NotAfter => " (it bounds the end only)",
        Limits::Both | Limits::Neither => "",
    };
    format!("{}: {limits}{side}", says(clue.kind, meaning))
}

fn absent(kind: ClueKind) -> &'static str {
    match kind {
        ClueKind::Absence => "what is not there proves nothing",
        _ => "it holds no date",
    }
}

fn says(kind: ClueKind, meaning: &Expression) -> String {
    let span = meaning.span();
    let (run, at) = (say_run(span), say(span));
    let said = match kind {
        ClueKind::Line => format!("the line was made {run}"),
        ClueKind::Used => format!("this stamp was in use {run}"),
        ClueKind::Variant => format!("this variant of the stamp was in use {run}"),
        ClueKind::Code => format!("the date code says {}", at.trim_start_matches("in ")),
        ClueKind::Form => format!("this form was made {run}"),
        ClueKind::Decoration => format!("this decoration was put on {run}"),
        ClueKind::Partner => format!("a piece that belongs with it was made {at}"),
        ClueKind::LapsedWording => format!("this wording stood for a state of things {run}"),
        ClueKind::Registration | ClueKind::Diamond | ClueKind::RdNumber => {
            format!("the design was registered {at}")
        }
        ClueKind::Patent => format!("the patent was granted {at}"),
        ClueKind::CountryWording | ClueKind::CareWording => {
            format!(
                "this wording came into use {}",
                at.trim_end_matches(" or later")
            )
        }
        ClueKind::Seen => format!("a dated paper or picture shows it {at}"),
        ClueKind::Absence => "what is not there proves nothing".to_owned(),
    };
    match is_doubtful(meaning) {
        true => format!("{said}, in doubt ({meaning})"),
        false => said,
    }
}

/// Where it comes from, one text a source; published ones with whether they were checked.
pub fn tell_sources(clue: &Clue) -> Vec<String> {
    let told = clue.sources.iter().map(|source| match source {
        Source::Own(text) => text.clone(),
        Source::Published { text, state } => match state {
            Checked::Verified => format!("{text} (verified)"),
            Checked::Unverified => format!("{text} (unverified: not checked against this source)"),
        },
    });
    told.collect()
}

/// Which ends of the answer a counted clue sets: `sets the beginning`. `None` for neither.
pub fn tell_part(answer: &Answer, at: usize) -> Option<&'static str> {
    let Answer::Within {
        first_by, last_by, ..
    } = answer
    else {
        return None;
    };
    match (first_by.contains(&at), last_by.contains(&at)) {
        (true, true) => Some("sets beginning and end"),
        (true, false) => Some("sets the beginning"),
        (false, true) => Some("sets the end"),
        (false, false) => None,
    }
}

/// Two clues that cannot both be true: the one that ends first, then the one that begins too late.
pub fn tell_pair(dating: &Dating, pair: [usize; 2]) -> String {
    let [one, other] = pair.map(|at| &dating.clues[at]);
    let (early, late) = match one.bounds().not_after < other.bounds().not_before {
        true if one.bounds().not_after.is_some() => (one, other),
        _ => (other, one),
    };
    let only = |span: Span, limits: Limits| say_limits(limits.of(span));
    format!(
        "{} is {}, and {} is {}",
        name(early),
        only(early.bounds(), Limits::NotAfter),
        name(late),
        only(late.bounds(), Limits::NotBefore),
    )
}

/// What clues agree on: `made between 1921 and 1935`.
pub fn say_agreed(span: Span) -> String {
    format!("made {}", say(span))
}

/// What a clue that does not count would do: `would narrow it to 1931`.
pub fn tell_apart(dating: &Dating, apart: &Apart) -> String {
    let standing = match apart.clue.standing {
        Standing::Sure => "sure",
        Standing::Probably => "only probable",
        Standing::Unconfirmed => "not confirmed",
    };
    let effect = match &apart.effect {
        Effect::Nothing => "it fits, and would change nothing".to_owned(),
        Effect::Narrows(span) => format!("if it holds, made {}", say(*span)),
        Effect::Contradicts(against) => {
            let against: Vec<String> = against.iter().map(|at| name(&dating.clues[*at])).collect();
            format!("it cannot be true together with {}", against.join(" or "))
        }
        Effect::Open => "the clues that count contradict each other already".to_owned(),
    };
    format!("{standing}, so it does not count: {effect}")
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use crate::dating::read_clue::{read_clue, split_clue};
    use crate::dating::reason::reason;
    use crate::dating::spoken::SpokenTable;

    fn clue(text: &str, standing: Standing) -> Clue {
        let (kind, value) = split_clue(text).unwrap();
        read_clue(kind, value, standing, SpokenTable::shipped()).unwrap()
    }

    fn sure(text: &str) -> Clue {
        clue(text, Standing::Sure)
    }

    #[test]
    fn clues_are_told_in_plain_words() {
        for (text, told) in [
            (
                "used=1921/1935",
                "this stamp was in use from 1921 to 1935: not before 1921, not after 1935",
            ),
            (
                "line=1925/..",
                "the line was made from 1925 on: not before 1925",
            ),
            (
                "code=1931-04",
                "the date code says April 1931: not before April 1931, not after April 1931",
            ),
            (
                "patent=1931",
                "the patent was granted in 1931: not before 1931 (it bounds the beginning only)",
            ),
            (
                "form=about 1910",
                "this form was made in 1910, in doubt (1910~): not before 1905, not after 1915",
            ),
            (
                "seen=1934",
                "a dated paper or picture shows it in 1934: not after 1934 (it bounds the end only)",
            ),
            (
                "country-wording=1955",
                "this wording came into use in 1955: not before 1955 (it bounds the beginning only)",
            ),
            (
                "absence=country name",
                "what is not there proves nothing: bounds nothing",
            ),
            (
                "registration=../1888",
                "the design was registered in 1888 or earlier: bounds nothing",
            ),
        ] {
            assert_eq!(tell_clue(&sure(text)), told);
        }
    }

    #[test]
    fn a_contradiction_tells_what_ends_before_what() {
        for clues in [
            ["used=1921/1935", "patent=1940"],
            ["patent=1940", "used=1921/1935"],
        ] {
            let dating = reason(clues.map(sure));
            assert_eq!(
                tell_answer(&dating),
                "no date: these clues cannot all be true"
            );
            assert_eq!(
                tell_pair(&dating, [0, 1]),
                "used=1921/1935 is not after 1935, and patent=1940 is not before 1940"
            );
        }
    }

    #[test]
    fn unsure_clues_tell_what_they_would_do() {
        let dating = reason([
            sure("used=1921/1935"),
            clue("code=1931", Standing::Probably),
            clue("code=1946", Standing::Unconfirmed),
        ]);
        assert_eq!(tell_answer(&dating), "made between 1921 and 1935");
        let told: Vec<String> = dating
            .apart
            .iter()
            .map(|a| tell_apart(&dating, a))
            .collect();
        assert_eq!(
            told,
            [
                "only probable, so it does not count: if it holds, made in 1931",
                "not confirmed, so it does not count: it cannot be true together with used=1921/1935",
            ]
        );
    }

    #[test]
    fn an_unchecked_value_is_told_where_it_sets_an_end() {
        let dating = reason([sure("rd-number=630190"), sure("used=1921/1935")]);
        assert!(!tell_answer(&dating).contains("not checked"));
        let dating = reason([sure("rd-number=630190"), sure("used=1901/1935")]);
        assert!(tell_answer(&dating).contains("not checked"));
        assert!(tell_sources(&dating.clues[0])[0].contains("unverified"));
    }
}

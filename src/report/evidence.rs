//! What an answer rests on, in words.

use super::words::per_cent;
use crate::answer::{Candidate, Evidence, FormShare, Forms, MarkAnswer, PartSeen, UNDECIDED};
use crate::workspace::readable;

/// Candidates that are told of, and the least probability of a further one.
const TOLD: usize = 3;
const WORTH_SAYING: f64 = 0.01;
/// Log-odds from which two marks, seen side by side, are called alike or unlike, and plainly so: three to
/// one and twenty to one.
const ALIKE: f64 = 1.1;
const PLAINLY: f64 = 3.0;

/// The mark's candidates with what speaks for each, and how likely it is none of them; a line each.
pub fn say_evidence(mark: &MarkAnswer) -> Vec<String> {
    let worth = |(at, c): &(usize, &Candidate)| *at == 0 || c.probability >= WORTH_SAYING;
    let told = mark.candidates.iter().enumerate().filter(worth).take(TOLD);
    let mut lines: Vec<String> = told.map(|(_, c)| say_candidate(c)).collect();
    if let (Some(forms), false) = (&mark.forms, lines.is_empty()) {
        lines.insert(1, say_forms(forms, mark.candidates[0].variant.as_deref()));
    }
    lines.push(format!(
        "not in the library {}, other families {}",
        per_cent(mark.none),
        per_cent(mark.rest)
    ));
    lines
}

/// Which form of its family a mark is, or by which part it would be told: `variant: crowned 97 %`; `None` where the family has
/// one form only. (A form is also what a piece is, a cup or a plate, so that a person is told of variants.)
pub(super) fn say_form(mark: &MarkAnswer) -> Option<String> {
    let forms = mark.forms.as_ref()?;
    let first = forms.ranked.first()?;
    let said = mark.candidates.first()?.variant.as_deref();
    Some(match (said, &forms.decides) {
        (Some(UNDECIDED), Some(part)) => format!("variant undecided: look at the {}", part.place),
        (Some(UNDECIDED), None) => "variant undecided".to_owned(),
        _ => match first.variant {
            Some(_) => format!(
                "variant: {} {}",
                form_name(first),
                per_cent(first.probability)
            ),
            None => format!("{} {}", form_name(first), per_cent(first.probability)),
        },
    })
}

fn form_name(form: &FormShare) -> String {
    match &form.variant {
        Some(variant) => readable(variant),
        None => "the main form".to_owned(),
    }
}

/// `of its forms: crowned 97 %, the main form 3 %; what tells them apart stands at the foot, and its ink is seen`.
fn say_forms(forms: &Forms, said: Option<&str>) -> String {
    let worth = |(at, f): &(usize, &FormShare)| *at == 0 || f.probability >= WORTH_SAYING;
    let told = forms.ranked.iter().enumerate().filter(worth).take(TOLD);
    let told: Vec<String> = told
        .map(|(_, f)| format!("{} {}", form_name(f), per_cent(f.probability)))
        .collect();
    let undecided = if said == Some(UNDECIDED) {
        "undecided: "
    } else {
        ""
    };
    let why = match &forms.decides {
        Some(part) => format!(
            "what tells the first two apart stands at the {}: {}",
            part.place,
            say_seen(part.seen, said == Some(UNDECIDED))
        ),
        None => "what tells them apart could not be found".to_owned(),
    };
    format!("  of its forms: {undecided}{}; {why}", told.join(", "))
}

fn say_seen(seen: PartSeen, undecided: bool) -> &'static str {
    match seen {
        PartSeen::Ink if undecided => "there is ink, and not enough of it to be sure",
        PartSeen::Bare if undecided => {
            "hardly any ink, and what is near is not clear enough to be sure"
        }
        PartSeen::Ink => "its ink is seen",
        PartSeen::Bare => "bare glaze, beside ink that is clear",
        PartSeen::Hidden => "the photo does not show that place",
        PartSeen::Unclear => {
            "nothing that can be told there; another photo, closer and in even light, may show it"
        }
    }
}

fn say_candidate(candidate: &Candidate) -> String {
    let name = readable(&candidate.family);
    let said = candidate.evidence.as_ref().map_or_else(
        || "evidence not kept: look at the photo again".to_owned(),
        say,
    );
    format!("{name} {}: {said}", per_cent(candidate.probability))
}

/// `the ink lines up at 0.91, 41 points agree; side by side plainly one mark (+4.2), 5.1 ahead of the next`.
fn say(evidence: &Evidence) -> String {
    let points = match evidence.points {
        0 => "no local points agree".to_owned(),
        1 => "1 local point agrees".to_owned(),
        n => format!("{n} local points agree"),
    };
    let odds = evidence.odds;
    let side = match odds {
        o if o >= PLAINLY => "plainly one mark",
        o if o >= ALIKE => "like one mark",
        o if o > -ALIKE => "neither like nor unlike",
        o if o > -PLAINLY => "unlike",
        _ => "plainly unlike",
    };
    let lead = match evidence.lead {
        l if l >= 8.0 => "no rival near".to_owned(),
        l if l >= 0.0 => format!("{l:.1} ahead of the next family"),
        l => format!("{:.1} behind the best", -l),
    };
    format!(
        "the ink lines up at {:.2}, {points}; side by side {side} (log-odds {odds:+.1}), {lead}",
        evidence.correlation
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::answer::Deciding;

    #[test]
    fn the_form_is_told_or_where_to_look_for_it() {
        let share = |variant: Option<&str>, probability| FormShare {
            variant: variant.map(str::to_owned),
            probability,
        };
        let told = |said: Option<&str>, ranked: Vec<FormShare>| {
            let decides = Some(Deciding {
                quad: [[0.0; 2]; 4],
                place: "foot".to_owned(),
                seen: PartSeen::Ink,
            });
            let mut mark = super::super::tests::mark_of("hollin/fernway");
            mark.candidates[0].variant = said.map(str::to_owned);
            mark.forms = Some(Forms { ranked, decides });
            say_form(&mark)
        };
        let crowned = vec![share(Some("crowned"), 0.97), share(None, 0.03)];
        let main = vec![share(None, 0.97), share(Some("crowned"), 0.03)];
        let open = vec![share(None, 0.6), share(Some("crowned"), 0.4)];
        for (said, ranked, words) in [
            (Some("crowned"), crowned, "variant: crowned 97 %"),
            (None, main, "the main form 97 %"),
            (Some(UNDECIDED), open, "variant undecided: look at the foot"),
        ] {
            assert_eq!(told(said, ranked).as_deref(), Some(words));
        }
        assert_eq!(
            say_form(&super::super::tests::mark_of("hollin/fernway")),
            None
        );
    }

    #[test]
    fn evidence_is_told_in_words_and_numbers() {
        let evidence = |odds, lead| Evidence {
            correlation: 0.912,
            points: 41,
            likeness: 0.8,
            odds,
            lead,
        };
        assert_eq!(
            say(&evidence(4.21, 5.06)),
            "the ink lines up at 0.91, 41 local points agree; side by side plainly one mark \
             (log-odds +4.2), 5.1 ahead of the next family"
        );
        assert!(
            say(&evidence(-2.0, -3.5)).ends_with("unlike (log-odds -2.0), 3.5 behind the best")
        );
        assert!(say(&evidence(0.3, 8.0)).ends_with("(log-odds +0.3), no rival near"));
    }
}

//! The words of reports and summaries.

use crate::answer::Verdict;
use crate::decision::{Certainty, Decision, Statement};

/// What must be said under every report. The second is about use at the table, the third about
/// law; all three are common practice in the trade.
pub const CAUTIONS: [&str; 3] = [
    "An identification is an opinion. It is no authentication and no appraisal.",
    "Old glazes and colours can hold lead, cadmium or uranium. Not for food or drink until a \
     laboratory has tested the piece.",
    "Local rules decide what may be sold, exported or called antique.",
];

/// The heading of a group, in words.
pub fn heading(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Named => "Named",
        Verdict::Choose => "May fit",
        Verdict::Unknown => "Not in the library",
        Verdict::Reshoot => "Take again",
        Verdict::NoMark => "No mark",
        Verdict::NotUnderside => "Not an underside",
        Verdict::NotAPicture => "Could not be read",
    }
}

/// A sign that tells groups apart without colour.
pub(super) fn sign(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Named => "●",
        Verdict::Choose => "◐",
        Verdict::Unknown => "○",
        Verdict::Reshoot => "↻",
        Verdict::NoMark => "–",
        Verdict::NotUnderside => "△",
        Verdict::NotAPicture => "×",
    }
}

/// What a group means and what to do with it.
pub fn what_next(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Named => "one family fits: compare the two pictures",
        Verdict::Choose => "look at the parts that differ and decide",
        Verdict::Unknown => "no family fits: research it, then add it to the library",
        Verdict::Reshoot => "photograph these once more, as said beside each",
        Verdict::NoMark => "the whole base is in view and bare",
        Verdict::NotUnderside => "no base of a piece: nothing was looked up",
        Verdict::NotAPicture => "the file is damaged or no picture: copy it again",
    }
}

/// A probability as a person reads it: whole per cent. It never claims certainty: answers are
/// rounded to four decimals, so even 0 and 1 in them only mean very near.
pub fn per_cent(probability: f64) -> String {
    match (probability * 100.0).round() {
        whole if whole >= 100.0 => "over 99 %".to_owned(),
        whole if whole <= 0.0 => "under 1 %".to_owned(),
        whole => format!("{whole:.0} %"),
    }
}

/// `1 photo`, `42 photos`.
pub fn photos(count: usize) -> String {
    match count {
        1 => "1 photo".to_owned(),
        n => format!("{n} photos"),
    }
}

/// A lot's name as the beginning of a file name: letters and digits, joined by single dashes.
pub fn file_stem(lot: &str) -> String {
    let words: Vec<String> = lot
        .split(|c: char| !c.is_alphanumeric())
        .filter(|w| !w.is_empty())
        .map(str::to_lowercase)
        .collect();
    match words.is_empty() {
        true => "lot".to_owned(),
        false => words.join("-"),
    }
}

/// `18 named, 3 may fit, …`, in the order given.
pub fn counts_line(counts: &[(Verdict, usize)]) -> String {
    let parts: Vec<String> = counts
        .iter()
        .map(|(v, n)| format!("{n} {}", heading(*v).to_lowercase()))
        .collect();
    parts.join(", ")
}

/// A decision in words, without its day: `probably mill-lane/crown`.
pub fn say_decision(decision: &Decision) -> String {
    let said = match &decision.statement {
        Statement::Family(family) => family.clone(),
        Statement::Unknown => "not in the library".to_owned(),
        Statement::NoMark => "no mark".to_owned(),
        Statement::Again => "take again".to_owned(),
        Statement::DateCode(code) => format!("code `{code}`"),
        Statement::NoDateCode => "no date code".to_owned(),
        Statement::IllegibleDateCode => "date code not legible".to_owned(),
        Statement::Piece { fact, value } => match value {
            Some(value) => format!("{}: {value}", fact.word()),
            None => format!("{}: no longer said", fact.word()),
        },
        Statement::Scale(span) => format!("scale {span} mm"),
        Statement::NotMine => "a photo of somebody else's".to_owned(),
        Statement::Suggested(family) => format!("the program said {family}"),
        Statement::Withheld(family) => format!("the program would have said {family}"),
        Statement::Undo => match decision.replaces {
            Some(number) => format!("undo of decision {number}"),
            None => "undo".to_owned(),
        },
        Statement::NotStated { kind, value } => match value {
            Some(value) => format!("{kind}: {value}"),
            None => kind.clone(),
        },
    };
    let said = crate::workspace::readable(&said);
    match decision.certainty {
        Certainty::Probably => format!("probably {said}"),
        Certainty::Sure | Certainty::NotStated => said,
    }
}

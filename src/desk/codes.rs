//! What a typed date code would mean, while it is being typed.

use serde::Serialize;

use super::room::Shelf;
use crate::date_code::sense::objections;
use crate::date_code::{Fit, fits};
use crate::library::{FamilyId, bounds};
use crate::report::say_made;
use crate::service::codes::{LONGEST, of_family};
use crate::workspace::readable;

/// What is told of a code as it stands.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub(super) struct Meaning {
    /// Whether a scheme of the family knows the code.
    pub(super) known: bool,
    pub(super) says: String,
    /// What speaks against it, each a sentence.
    pub(super) against: Vec<String>,
    /// Codes that schemes of the family would accept.
    pub(super) examples: Vec<String>,
}

/// The meaning of `code` on a mark of `family`.
pub(super) fn meaning(shelf: &Shelf, family: &str, code: &str) -> Meaning {
    let code = code.trim();
    let id = FamilyId::parse(family).ok();
    let found = id.as_ref().and_then(|id| shelf.library.find(id));
    let Some(family) = found else {
        return plain(
            "The mark's family is not known, so no scheme of codes applies. The code is kept as typed.",
        );
    };
    let known = of_family(&shelf.schemes, &family.id);
    if known.is_empty() {
        return plain("No scheme of codes is known for this mark. The code is kept as typed.");
    }
    let examples = known
        .iter()
        .filter_map(|s| Some(format!("{} ({})", s.example()?, s.name)));
    let examples: Vec<String> = examples.collect();
    if code.is_empty() || code.chars().count() > LONGEST {
        return Meaning {
            examples,
            ..Meaning::default()
        };
    }
    let fitting = fits(known.iter().copied(), code);
    if fitting.is_empty() {
        return Meaning {
            says: "Fits no scheme of codes of this mark. It can be kept as typed.".to_owned(),
            examples,
            ..Meaning::default()
        };
    }
    let said: Vec<String> = fitting.iter().map(|fit| say(fit, fitting.len())).collect();
    let bounds = bounds(&shelf.library, &family.id, family);
    let against = objections(code, &known, &bounds);
    Meaning {
        known: true,
        says: format!("Would mean {}", said.join("; or ")),
        against: against
            .into_iter()
            .map(|o| format!("but {}", o.text))
            .collect(),
        examples,
    }
}

fn plain(says: &str) -> Meaning {
    Meaning {
        says: says.to_owned(),
        ..Meaning::default()
    }
}

/// One meaning; the scheme is named where several fit.
fn say(fit: &Fit<'_>, of: usize) -> String {
    let mut made: Vec<String> = fit.made.iter().map(|m| say_made(m.as_str())).collect();
    if made.is_empty() {
        made.push(match fit.outside {
            true => "a time outside the scheme's years".to_owned(),
            false => "no time".to_owned(),
        });
    }
    let mut said = made.join(" or ");
    if of > 1 {
        said += &format!(" by {}", readable(&fit.scheme.name));
    }
    if !fit.scheme.verified {
        said += " (unverified)";
    }
    said
}

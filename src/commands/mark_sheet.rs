//! The sheet of `show`: which pictures, and what is said with them.

use image::RgbImage;

use super::legible::Laid;
use super::opened::names;
use super::show::Shown;
use crate::answer::Verdict;
use crate::report::{family_name, heading, per_cent, say_decision};
use crate::rescue::Rescue;
use crate::rescue::poster::{self, Panel, Poster};
use crate::rescue::words::{
    NO_EXEMPLAR, NOTES, SAY_GHOST, SAY_INK, SAY_WHOLE, Tint, say_differences, say_exemplar,
    say_photo,
};
use crate::workspace::readable;

/// Draws the sheet.
pub(super) fn draw(shown: &Shown, made: &Rescue, laid: Option<&Laid>) -> RgbImage {
    let named = |id: &str| readable(&family_name(&names(&shown.library), id));
    let mut panels = vec![
        Panel {
            picture: &made.photo,
            says: match shown.mark {
                Some(_) => say_photo(made),
                None => "The whole photo: no mark was found in it".to_owned(),
            },
        },
        Panel {
            picture: &made.ink,
            says: match shown.mark {
                Some(_) => SAY_INK.to_owned(),
                None => SAY_WHOLE.to_owned(),
            },
        },
    ];
    let mut tints = &[][..];
    let mut notes: Vec<String> = Vec::new();
    if let (Some(beside), Some(laid)) = (&made.beside, laid) {
        let exemplar = Panel {
            picture: &beside.exemplar,
            says: say_exemplar(&named(&laid.family)),
        };
        panels.insert(1, exemplar);
        panels.push(Panel {
            picture: &beside.ghost,
            says: SAY_GHOST.to_owned(),
        });
        panels.push(Panel {
            picture: &beside.differences,
            says: say_differences(&beside.told),
        });
        tints = &Tint::ALL;
    } else {
        notes.push(NO_EXEMPLAR.to_owned());
    }
    if shown.ground.is_crop {
        notes.push(
            "The photo is out of reach: this was made from the picture kept of it.".to_owned(),
        );
    }
    notes.extend(NOTES.map(str::to_owned));
    poster::draw(&Poster {
        title: title(shown),
        lines: said(shown, &named),
        panels,
        tints,
        notes,
    })
}

/// The photo, and which of its marks.
pub(super) fn title(shown: &Shown) -> String {
    match (shown.mark, shown.answer.marks.len()) {
        (Some(mark), 2..) => format!(
            "{}, mark {} of {}",
            shown.name,
            mark + 1,
            shown.answer.marks.len()
        ),
        _ => shown.name.clone(),
    }
}

/// What the person decided, what the program says, and why.
fn said(shown: &Shown, named: &dyn Fn(&str) -> String) -> Vec<String> {
    let mut lines = Vec::new();
    if let Some(decision) = &shown.decision {
        lines.push(format!(
            "Decided by hand on {}: {}.",
            decision.time.day(),
            say_decision(decision)
        ));
    }
    let verdict = shown.mark().map_or(shown.answer.verdict, |m| m.verdict);
    let settled = matches!(verdict, Verdict::Named | Verdict::Choose);
    let likely = shown.mark().map_or(&[][..], |m| m.candidates.as_slice());
    let likely: Vec<String> = likely
        .iter()
        .take(if verdict == Verdict::Named { 1 } else { 3 })
        .filter(|_| settled)
        .map(|c| format!("{} {}", named(&c.family), per_cent(c.probability)))
        .collect();
    let said = heading(verdict).to_lowercase();
    lines.push(match likely.is_empty() {
        true => format!("The program says: {said}."),
        false => format!("The program says: {said}: {}.", likely.join("; ")),
    });
    let reasons = shown.answer.reasons.iter().map(|r| readable(&r.text));
    lines.push(format!("Why: {}.", reasons.collect::<Vec<_>>().join("; ")));
    lines
}

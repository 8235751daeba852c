//! After a new family: what is still open is looked at again, and what the family names is told.

use std::collections::BTreeSet;
use std::path::Path;

use super::intake::Bar;
use super::opened::{Opened, Remarks};
use super::{Failure, Outcome, hint, interrupt, print, warning};
use crate::answer::Verdict;
use crate::decision::ContentHash;
use crate::library::FamilyId;
use crate::report::{Sheet, photos};
use crate::service::look_again::{Again, look_again};

/// Looks again at every photo with a mark that is still open, and tells what the family names.
pub(super) fn match_again(
    workspace: Option<&Path>,
    id: &FamilyId,
    own: &BTreeSet<ContentHash>,
    jobs: usize,
) -> Result<Outcome, Failure> {
    interrupt::listen();
    interrupt::end_in_order();
    let mut opened = Opened::new(workspace, Remarks::Errors)?;
    let Again {
        stopped,
        away,
        looked_at,
    } = look_again(&mut opened, own, jobs, &Bar::new())?;
    if stopped {
        hint(&"stopped: the intakes, run again, look at the rest");
        return Ok(Outcome::Interrupted);
    }
    if away > 0 {
        let gone = photos(away);
        warning(&format!(
            "not where they were, and so not looked at again: {gone}"
        ));
    }
    let (key, lots) = (opened.key(), opened.workspace.lots()?);
    let sheets = lots.iter().map(|lot| opened.sheet(&lot.name, &key));
    let sheets = sheets.collect::<Result<Vec<Sheet>, Failure>>()?;
    tell_named(id, &sheets, looked_at)?;
    Ok(match opened.gaps || away > 0 {
        true => Outcome::Gaps,
        false => Outcome::Done,
    })
}

/// Photos that are listed by name.
const LISTED: usize = 12;

fn tell_named(id: &FamilyId, sheets: &[Sheet], looked_at: usize) -> Result<(), Failure> {
    let of = |verdict: Verdict| {
        let mut names: Vec<(&ContentHash, &str)> = Vec::new();
        for sheet in sheets {
            for row in &sheet.rows {
                let here = row.decision.is_none()
                    && row.holds == verdict
                    && row.family.as_deref() == Some(id.as_str());
                let shot = sheet.shot(row);
                if here && !names.iter().any(|n| *n.0 == shot.hash) {
                    names.push((&shot.hash, shot.name.as_str()));
                }
            }
        }
        names
    };
    let (named, may) = (of(Verdict::Named), of(Verdict::Choose));
    print(|out| {
        writeln!(out, "looked again at {}", photos(looked_at))?;
        match named.len() {
            0 => writeln!(out, "{id} names no other photo")?,
            n => writeln!(out, "{id} names {n} more: {}", listed(&named))?,
        }
        match may.len() {
            0 => Ok(()),
            n => writeln!(out, "{id} may fit {n}: {}", listed(&may)),
        }
    })
}

fn listed(found: &[(&ContentHash, &str)]) -> String {
    let names: Vec<&str> = found.iter().take(LISTED).map(|n| n.1).collect();
    let more = found.len().saturating_sub(LISTED);
    match more {
        0 => names.join(", "),
        n => format!("{} and {n} more", names.join(", ")),
    }
}

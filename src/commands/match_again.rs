//! After a change of the library: what it can have changed is looked at again, and what follows is told.

use std::collections::BTreeSet;
use std::path::Path;

use super::intake::Bar;
use super::opened::{Opened, Remarks};
use super::{Failure, Outcome, hint, interrupt, print, warning};
use crate::answer::{Candidate, Verdict};
use crate::decision::{ContentHash, Statement};
use crate::library::FamilyId;
use crate::report::{Row, Sheet, per_cent, photos};
use crate::service::look_again::{Again, Lost, look, look_again};

/// Looks again at the photos whose answers the change can have changed and at `own`, and tells what the family names
/// now, and where a decided photo fits another family better.
pub(super) fn match_again(
    workspace: Option<&Path>,
    id: Option<&FamilyId>,
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
        wanted,
    } = match id {
        Some(_) => look_again(&mut opened, own, jobs, &Bar::new()),
        None => look(&mut opened, own, jobs, &Bar::new(), Lost::Leave),
    }?;
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
    if looked_at > 0 || id.is_some() {
        print(|out| writeln!(out, "looked again at {}", photos(looked_at)))?;
    }
    if let Some(id) = id {
        tell_named(id, &sheets)?;
    }
    tell_better(&opened, &sheets, &wanted)?;
    Ok(match opened.gaps || away > 0 {
        true => Outcome::Gaps,
        false => Outcome::Done,
    })
}

/// Photos that are listed by name.
const LISTED: usize = 12;

fn tell_named(id: &FamilyId, sheets: &[Sheet]) -> Result<(), Failure> {
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

/// A decided mark that would be named by another family now: the decision stays.
fn better<'s>(opened: &Opened, sheet: &'s Sheet, row: &'s Row) -> Option<(&'s Candidate, f64)> {
    let decision = row.decision.as_ref()?;
    let Statement::Family(decided) = &decision.statement else {
        return None;
    };
    let mark = sheet.mark(row)?;
    let decided = opened.follow(decided);
    let best = mark.candidates.first()?;
    let own = mark
        .candidates
        .iter()
        .find(|c| opened.follow(&c.family) == decided);
    let other = mark.verdict == Verdict::Named && opened.follow(&best.family) != decided;
    other.then(|| (best, own.map_or(0.0, |c| c.probability)))
}

fn tell_better(
    opened: &Opened,
    sheets: &[Sheet],
    wanted: &BTreeSet<ContentHash>,
) -> Result<(), Failure> {
    let mut lines = Vec::new();
    for sheet in sheets {
        for row in &sheet.rows {
            let shot = sheet.shot(row);
            if let Some((best, own)) = better(opened, sheet, row)
                && wanted.contains(&shot.hash)
            {
                let decided = row.family.as_deref().unwrap_or_default();
                lines.push(format!(
                    "{}, decided as {decided}, fits {} better: {} against {}; what you decided stays",
                    shot.name,
                    opened.follow(&best.family),
                    per_cent(best.probability),
                    per_cent(own)
                ));
            }
        }
    }
    print(|out| {
        for line in lines.iter().take(LISTED) {
            writeln!(out, "{line}")?;
        }
        match lines.len().saturating_sub(LISTED) {
            0 => Ok(()),
            more => writeln!(
                out,
                "and {more} more decided photos fit another family better"
            ),
        }
    })
}

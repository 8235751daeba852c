//! After a new family: what is still open is looked at again, and what the family names is told.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use super::intake::{Bar, Each, Tally, Watch, each_photo};
use super::opened::{Opened, Remarks};
use super::{Failure, Outcome, hint, interrupt, print, warning};
use crate::answer::Verdict;
use crate::decision::ContentHash;
use crate::library::FamilyId;
use crate::report::{Row, Sheet, photos};

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

/// What looking again came to.
pub(crate) struct Again {
    pub(crate) stopped: bool,
    /// Photos that are not where they were.
    pub(crate) away: usize,
    pub(crate) looked_at: usize,
}

/// Looks again at every photo with a mark that is still open, and at `own`.
pub(crate) fn look_again(
    opened: &mut Opened,
    own: &BTreeSet<ContentHash>,
    jobs: usize,
    watch: &dyn Watch,
) -> Result<Again, Failure> {
    let key = opened.key();
    let lots = opened.workspace.lots()?;
    let (mut tally, mut away) = (Tally::default(), 0);
    for lot in &lots {
        let wanted = open_photos(&opened.sheet(&lot.name, &key)?, own);
        let places = opened.workspace.photos(&lot.name)?.into_iter();
        let (here, gone): (Vec<PathBuf>, Vec<PathBuf>) = places
            .filter(|s| wanted.contains(&s.hash))
            .map(|s| s.path)
            .partition(|path| path.is_file());
        away += gone.len();
        let each = Each {
            lot: &lot.name,
            key: &key,
            jobs,
        };
        if each_photo(opened, &each, here, &mut tally, watch)? {
            return Ok(Again {
                stopped: true,
                away,
                looked_at: tally.looked_at,
            });
        }
    }
    Ok(Again {
        stopped: false,
        away,
        looked_at: tally.looked_at,
    })
}

/// The photos of a lot with a mark that is open, and those of the new exemplars.
fn open_photos(sheet: &Sheet, own: &BTreeSet<ContentHash>) -> BTreeSet<ContentHash> {
    let open = |row: &&Row| {
        own.contains(&sheet.shot(row).hash)
            || matches!(row.holds, Verdict::Unknown | Verdict::Choose)
    };
    let rows = sheet.rows.iter().filter(open);
    rows.map(|row| sheet.shot(row).hash.clone()).collect()
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

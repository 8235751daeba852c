//! After a change of the library: what it can have changed is looked at again.

use std::collections::BTreeSet;
use std::path::PathBuf;

use super::carried::carry;
use super::intake::{Each, Tally, Watch, each_photo};
use super::opened::Opened;
use crate::answer::Verdict;
use crate::decision::ContentHash;
use crate::failure::Failure;
use crate::report::{Row, Sheet};

/// What looking again came to.
pub(crate) struct Again {
    pub(crate) stopped: bool,
    /// Photos that are not where they were.
    pub(crate) away: usize,
    pub(crate) looked_at: usize,
    /// Photos that were to be looked at.
    pub(crate) wanted: BTreeSet<ContentHash>,
}

/// Looks again at every photo whose answer can be another one with the present library, and at `own`. Of photos that
/// were answered nobody knows when, those with an open mark.
pub(crate) fn look_again(
    opened: &mut Opened,
    own: &BTreeSet<ContentHash>,
    jobs: usize,
    watch: &dyn Watch,
) -> Result<Again, Failure> {
    look(opened, own, jobs, watch, Lost::Look)
}

/// Photos with an open mark of which it is not known what library answered them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Lost {
    Look,
    Leave,
}

/// The same, with photos of which nothing is known treated as `lost` says.
pub(crate) fn look(
    opened: &mut Opened,
    own: &BTreeSet<ContentHash>,
    jobs: usize,
    watch: &dyn Watch,
    lost: Lost,
) -> Result<Again, Failure> {
    let key = opened.key();
    let references = opened.references(jobs);
    let mut all = carry(opened, &references, &key, jobs, None)?;
    drop(references);
    all.extend(own.iter().cloned());
    let lots = opened.workspace.lots()?;
    let (mut tally, mut away) = (Tally::default(), 0);
    let mut stopped = false;
    for lot in &lots {
        if lost == Lost::Look {
            all.extend(open_photos(&opened.sheet(&lot.name, &key)?));
        }
        let places = opened.workspace.photos(&lot.name)?.into_iter();
        let (here, gone): (Vec<PathBuf>, Vec<PathBuf>) = places
            .filter(|s| all.contains(&s.hash))
            .map(|s| s.path)
            .partition(|path| path.is_file());
        away += gone.len();
        let each = Each {
            lot: &lot.name,
            key: &key,
            jobs,
        };
        if !here.is_empty() && each_photo(opened, &each, here, &mut tally, watch)? {
            stopped = true;
            break;
        }
    }
    Ok(Again {
        stopped,
        away,
        looked_at: tally.looked_at,
        wanted: all,
    })
}

/// The photos of a lot with a mark that is open, answered with another library.
fn open_photos(sheet: &Sheet) -> BTreeSet<ContentHash> {
    let open = |row: &&Row| {
        !sheet.shot(row).current && matches!(row.holds, Verdict::Unknown | Verdict::Choose)
    };
    let rows = sheet.rows.iter().filter(open);
    rows.map(|row| sheet.shot(row).hash.clone()).collect()
}

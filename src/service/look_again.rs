//! After a new family: what is still open is looked at again.

use std::collections::BTreeSet;
use std::path::PathBuf;

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

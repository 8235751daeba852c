//! `rebuild`: makes footring.db anew from the journal.

use std::path::{Path, PathBuf};

use clap::Args;

use super::{Failure, Outcome, print, warning};
use crate::workspace::{self, DATABASE, JOURNAL, WorkspaceError, readable_path};

const EXAMPLES: &str = "\
Examples:
  footring rebuild             from the journal of the workspace that the current folder is in
  footring rebuild ~/ceramics  from the journal in that folder

The footring.db that is there is set aside under another name, never removed.";

/// What `rebuild` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct RebuildArgs {
    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(value_name = "DIR")]
    dir: Option<PathBuf>,
}

pub(super) fn run(args: &RebuildArgs) -> Result<Outcome, Failure> {
    let root = match &args.dir {
        Some(dir) => dir.clone(),
        None => nearest_journal()?,
    };
    let rebuilt = workspace::rebuild(&root)?;
    for skipped in &rebuilt.skipped {
        warning(skipped);
    }
    print(|out| {
        let database = readable_path(&root.join(DATABASE));
        writeln!(
            out,
            "{database} holds {} entries of the journal",
            rebuilt.entries
        )?;
        match &rebuilt.kept {
            Some(kept) => writeln!(out, "the one that was there is now {}", readable_path(kept)),
            None => Ok(()),
        }
    })?;
    Ok(match rebuilt.skipped.is_empty() {
        true => Outcome::Done,
        false => Outcome::Gaps,
    })
}

/// The nearest folder with a journal: the database may be what is missing.
fn nearest_journal() -> Result<PathBuf, WorkspaceError> {
    let here = std::path::absolute(".").unwrap_or_else(|_| PathBuf::from("."));
    here.ancestors()
        .find(|folder| folder.join(JOURNAL).is_file())
        .map(Path::to_owned)
        .ok_or_else(|| WorkspaceError::NotFound {
            from: readable_path(&here),
        })
}

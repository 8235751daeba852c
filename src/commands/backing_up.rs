//! `backup` and `restore`: a workspace in one file, and the way back.

use std::path::PathBuf;

use clap::Args;

use super::opened::{Opened, Remarks, now, quoted};
use super::{Failure, Outcome, hint, print, warning};
use crate::library::change;
use crate::workspace::{self, Kept, readable_path};

const EXAMPLES: &str = "\
Examples:
  footring backup ceramics-2026-05-02.zip
  footring restore ceramics-2026-05-02.zip ~/ceramics   the way back, into an empty folder

The file is a plain zip with the library, your lots and decisions, and a list with the hash of every file; it is read
again before it gets its name. Your photos are not in it, nor is cache.db, which holds the cut-out pictures of marks.";

/// What `backup` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct BackupArgs {
    /// The file to write; one that is there is never overwritten
    #[arg(value_name = "FILE")]
    file: PathBuf,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,
}

/// What `restore` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct RestoreArgs {
    /// The backup
    #[arg(value_name = "FILE")]
    file: PathBuf,

    /// The folder that becomes the workspace: one that is not there yet, or empty
    #[arg(value_name = "DIR")]
    dir: PathBuf,
}

fn said(kept: &Kept) -> String {
    format!("{} files, {:.1} MB", kept.files, kept.bytes as f64 / 1e6)
}

pub(super) fn backup(args: &BackupArgs) -> Result<Outcome, Failure> {
    let opened = Opened::new(args.workspace.as_deref(), Remarks::Errors)?;
    // Nobody changes the library while it is copied.
    let hold = change::hold(&opened.workspace.library())?;
    let kept = workspace::backup(&opened.workspace, &args.file, now())?;
    drop(hold);
    let file = readable_path(&args.file);
    print(|out| writeln!(out, "{file}: {}, read again and compared", said(&kept)))?;
    warning(&"your photos are not in it: keep them as you keep other pictures");
    Ok(Outcome::Done)
}

pub(super) fn restore(args: &RestoreArgs) -> Result<Outcome, Failure> {
    let kept = workspace::restore(&args.file, &args.dir)?;
    let dir = readable_path(&args.dir);
    let line = format!("{dir}: {}, as of {}", said(&kept), kept.time);
    print(|out| writeln!(out, "{line}"))?;
    let dir = quoted(&args.dir.to_string_lossy());
    hint(&format!(
        "the intakes of your photos, run again with --workspace {dir}, fill cache.db"
    ));
    Ok(Outcome::Done)
}

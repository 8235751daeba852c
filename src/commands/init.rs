//! `init`: makes a workspace.

use std::path::PathBuf;

use clap::Args;

use super::opened::quoted;
use super::{Failure, Outcome, hint, print, warning};
use crate::workspace::{DATABASE, JOURNAL, LIBRARY, README, Workspace, readable_path};

const EXAMPLES: &str = "\
Examples:
  footring init             makes the current folder a workspace
  footring init ~/ceramics  makes that folder one

What is there already stays as it is.";

/// What `init` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct InitArgs {
    /// The folder [default: the current one]
    #[arg(value_name = "DIR", default_value = ".")]
    dir: PathBuf,
}

pub(super) fn run(args: &InitArgs) -> Result<Outcome, Failure> {
    let (workspace, warnings) = Workspace::init(&args.dir)?;
    for told in &warnings {
        warning(told);
    }
    super::opened::warn_of_copies(workspace.root());
    let root = readable_path(workspace.root());
    print(|out| {
        writeln!(out, "workspace {root}")?;
        writeln!(
            out,
            "  {LIBRARY}/       your marks: <maker>/<mark>/photo.jpg"
        )?;
        writeln!(out, "  {DATABASE}    your lots and decisions")?;
        writeln!(out, "  {JOURNAL}    the same in plain text")?;
        writeln!(out, "  {README}     what lies here, and what to back up")
    })?;
    let enter = match args.dir.as_os_str() == "." {
        true => String::new(),
        false => format!("cd {} && ", quoted(&args.dir.to_string_lossy())),
    };
    hint(&format!("{enter}footring intake FOLDER --lot NAME"));
    Ok(Outcome::Done)
}

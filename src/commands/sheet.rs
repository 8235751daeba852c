//! `sheet`: all marks of a lot that need the eye, made legible on one page to print.

use std::path::PathBuf;

use clap::Args;

use super::opened::{Opened, Remarks};
use super::reporting::write;
use super::{Failure, Outcome, interrupt, print};
use crate::report::file_stem;
use crate::service::eye_sheet::page;
use crate::workspace::readable_path;

const EXAMPLES: &str = "\
Examples:
  footring sheet 'Mill fair'
      Writes mill-fair-to-look-at.html: every mark that needs your eye, what to do first.
  footring sheet 'Mill fair' --out mill-fair.html
      The same under a name of yours.

Marks that are named, or that you have decided, are left out. The pictures come from what the workspace
keeps, so the page can be made when the photos have gone.";

/// What `sheet` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct SheetArgs {
    /// The lot
    #[arg(value_name = "LOT")]
    lot: String,

    /// Write the page to this file [default: the lot's name with -to-look-at.html, in this folder]
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,
}

pub(super) fn run(args: &SheetArgs) -> Result<Outcome, Failure> {
    interrupt::listen();
    let mut opened = Opened::new(args.workspace.as_deref(), Remarks::Errors)?;
    let sheet = opened.sheet(&args.lot, &opened.key())?;
    let jobs = super::intake::jobs(None);
    let references = opened.references(jobs);
    let (page, rows) = page(&opened, &sheet, &references, jobs)?;
    let out = args
        .out
        .clone()
        .unwrap_or_else(|| PathBuf::from(format!("{}-to-look-at.html", file_stem(&args.lot))));
    write(&out, page.as_bytes())?;
    let marks = if rows == 1 { "mark" } else { "marks" };
    print(|to| writeln!(to, "{}: {rows} {marks} to look at", readable_path(&out),))?;
    Ok(match opened.gaps {
        true => Outcome::Gaps,
        false => Outcome::Done,
    })
}

//! `report`: a lot as text, as a printable page, as a table.

use std::io::{self, Write};
use std::path::{Path, PathBuf};

use clap::Args;

use super::opened::{Opened, Remarks};
use super::{Failure, Outcome, print};
use crate::folder;
use crate::photo::Kind;
use crate::report::{Sheet, write_csv, write_text};
use crate::service::report_page::page;
use crate::workspace::readable_path;

const EXAMPLES: &str = "\
Examples:
  footring report 'Mill fair'
      A line a mark, grouped by what was found.
  footring report 'Mill fair' --html mill-fair.html
      A page to look through and print: each mark beside the library's, in one file.
  footring report 'Mill fair' --csv mill-fair.csv
      One row a mark, for a spreadsheet.";

/// What `report` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct ReportArgs {
    /// The lot
    #[arg(value_name = "LOT")]
    lot: String,

    /// Write a page with pictures to this file
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,

    /// Write a table to this file
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,
}

pub(super) fn run(args: &ReportArgs) -> Result<Outcome, Failure> {
    let mut opened = Opened::new(args.workspace.as_deref(), Remarks::Errors)?;
    let sheet = opened.sheet(&args.lot, &opened.key())?;
    if args.html.is_none() && args.csv.is_none() {
        print(|out| write_text(&sheet, out))?;
    }
    if let Some(file) = &args.csv {
        let mut bytes = Vec::new();
        write_csv(&sheet, &mut bytes).map_err(|e| Failure::new(&e, None))?;
        write(file, &bytes)?;
        print(|out| writeln!(out, "{}: {} rows", readable_path(file), sheet.rows.len()))?;
    }
    if let Some(file) = &args.html {
        write_page(&mut opened, &sheet, file)?;
        print(|out| writeln!(out, "{}: {} rows", readable_path(file), sheet.rows.len()))?;
    }
    Ok(match opened.gaps {
        true => Outcome::Gaps,
        false => Outcome::Done,
    })
}

/// Makes the pictures and writes the page.
pub(super) fn write_page(opened: &mut Opened, sheet: &Sheet, file: &Path) -> Result<(), Failure> {
    let jobs = super::intake::jobs(None);
    let references = opened.references(jobs);
    write(file, page(opened, sheet, &references, jobs)?.as_bytes())
}

/// Writes the file whole or not at all, and never over a picture.
pub(super) fn write(file: &Path, bytes: &[u8]) -> Result<(), Failure> {
    let name = readable_path(file);
    if file.is_file() && !matches!(folder::sniff_file(file), Ok(Kind::NotAPicture)) {
        let why = format!("{name} is a picture and was left as it is");
        return Err(Failure::new(&why, Some("name another file".to_owned())));
    }
    let failed = |e: io::Error| Failure::new(&format!("{name} could not be written: {e}"), None);
    let parent = file.parent().filter(|p| !p.as_os_str().is_empty());
    let mut builder = tempfile::Builder::new();
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(std::fs::Permissions::from_mode(0o644));
    }
    let mut temporary = builder
        .tempfile_in(parent.unwrap_or(Path::new(".")))
        .map_err(failed)?;
    temporary.write_all(bytes).map_err(failed)?;
    temporary.persist(file).map_err(|e| failed(e.error))?;
    Ok(())
}

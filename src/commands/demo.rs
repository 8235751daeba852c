//! `demo`: an invented sale and a starter library, taken in and reported.

use std::path::PathBuf;

use clap::Args;

use super::intake::{Intake, jobs, take_in};
use super::opened::{Opened, Remarks};
use super::reporting::write_page;
use super::{Failure, Outcome, hint, interrupt, print};
use crate::demo::{DEMO, DemoError};
use crate::report::write_text;
use crate::workspace::{Workspace, readable_path};

const EXAMPLES: &str = "\
Examples:
  footring demo              writes ./footring-demo and looks at the photos in it
  footring demo ~/plates    the same in another folder

The potteries, marks and photos are invented. One photo is damaged on purpose.";

/// What `demo` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct DemoArgs {
    /// A new or empty folder, or one that an earlier demo wrote
    #[arg(value_name = "DIR", default_value = "footring-demo")]
    dir: PathBuf,
}

/// The demo's lot.
const LOT: &str = "demo sale";

/// Where the page goes, inside the demo folder.
const PAGE: &str = "demo-sale.html";

pub(super) fn run(args: &DemoArgs) -> Result<Outcome, Failure> {
    interrupt::listen();
    let sale = DEMO.write(&args.dir).map_err(|e| {
        let next = matches!(e, DemoError::Foreign { .. })
            .then(|| "name a new folder: footring demo DIR".to_owned());
        Failure::new(&e, next)
    })?;
    Workspace::init(&args.dir)?;
    let mut opened = Opened::new(Some(&args.dir), Remarks::All)?;
    let intake = Intake {
        seen: false,
        folder: &sale,
        lot: LOT,
        date: Some("2026-05-02"),
        place: Some("an invented barn"),
        jobs: jobs(None),
    };
    // A damaged photo is part of the demo, so only an interruption ends it early.
    if take_in(&mut opened, &intake)? == Outcome::Interrupted {
        return Ok(Outcome::Interrupted);
    }
    let sheet = opened.sheet(LOT, &opened.key())?;
    let page = opened.workspace.root().join(PAGE);
    write_page(&mut opened, &sheet, &page)?;
    print(|out| {
        writeln!(out)?;
        write_text(&sheet, out)?;
        writeln!(out, "\nreport: {}", readable_path(&page))
    })?;
    hint(&"open the report in a browser; then try your own photos: footring init --help");
    Ok(Outcome::Done)
}

//! `desk`: the local page on which a lot is looked through and decided.

use std::path::PathBuf;

use clap::Args;

use super::{Failure, Outcome, interrupt};
use crate::desk::{self, Opening};

const EXAMPLES: &str = "\
Examples:
  footring
      Opens the desk of the workspace around the current folder in your browser.
  footring desk ~/ceramics
      That of another workspace.
  footring desk --port 7300 --no-browser
      At this port; prints the address to open.

The desk answers to this machine only and needs no network. The address that it prints holds a key of this
start: whoever has it may decide in your name. Ctrl-C ends it; an intake that is under way goes on with the
next start.";

/// What `desk` is asked to do.
#[derive(Debug, Default, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct DeskArgs {
    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(value_name = "DIR")]
    dir: Option<PathBuf>,

    /// The port to listen at [default: any that is free]
    #[arg(long, value_name = "N")]
    port: Option<u16>,

    /// Print the address and open no browser
    #[arg(long)]
    no_browser: bool,
}

pub(super) fn run(args: &DeskArgs) -> Result<Outcome, Failure> {
    interrupt::listen();
    interrupt::end_in_order();
    desk::run(&Opening {
        dir: args.dir.as_deref(),
        port: args.port.unwrap_or(0),
        browser: !args.no_browser,
    })
}

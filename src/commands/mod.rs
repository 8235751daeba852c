//! The commands: words of the command line in, results on standard output, talk on standard error.

mod args;
mod backing_up;
mod blind;
mod carried;
mod catalogue;
mod check_told;
mod chosen;
mod collection;
pub(crate) mod confirm;
mod confirmed;
mod console;
mod date;
mod decide;
mod demo;
mod describe;
mod desk;
mod each;
mod explain;
pub(crate) mod gathered;
mod import;
mod init;
pub(crate) mod intake;
mod interrupt;
pub(crate) mod legible;
mod library;
mod library_add;
mod library_adopt;
mod library_book;
mod library_check;
mod library_cite;
mod library_list;
mod library_share;
mod list;
pub(crate) mod look;
mod mark_sheet;
pub(crate) mod match_again;
mod matching;
mod measure;
pub(crate) mod new_family;
pub(crate) mod opened;
mod piece;
mod piece_facts;
mod piece_photos;
mod piles;
mod read;
mod rebuild;
pub(crate) mod reporting;
mod reshape;
mod rounding;
mod sets;
pub(crate) mod sheet;
mod show;
mod sort;
pub(crate) mod strangers;
pub(crate) mod subject;
mod table;
mod teaching;
mod timeline;

use std::ffi::OsString;
use std::fmt::Display;
use std::io::{self, BufWriter, Write};
use std::process::ExitCode;

use clap::Parser;

use args::{Arguments, Command};
pub use console::{clean, error, hint, warning};
pub use interrupt::interrupted;
pub use rounding::rounded;

/// How a command ended; the numbers are the tool's exit codes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// Everything was read. Unknown marks are answers too.
    Done = 0,
    /// A named file or a picture could not be read; the rest was done.
    Gaps = 1,
    /// Interrupted by the person.
    Interrupted = 130,
}

/// Why a command could not begin, or not go on: exit code 2.
#[derive(Debug, thiserror::Error)]
#[error("{message}")]
pub struct Failure {
    message: String,
    /// The next step, where one is known.
    pub(crate) hint: Option<String>,
}

impl Failure {
    pub fn new(message: &dyn Display, hint: Option<String>) -> Self {
        Self {
            message: message.to_string(),
            hint,
        }
    }
}

/// Exit code of usage, set-up and database errors.
const FAILED: u8 = 2;

/// Runs the command that `words` (with the program's name first) ask for.
pub fn run(words: impl IntoIterator<Item = OsString>) -> ExitCode {
    crate::photo::silence_guarded_panics();
    let arguments = match Arguments::try_parse_from(words) {
        Ok(arguments) => arguments,
        Err(error) => {
            // Help and version come this way too, with exit code 0. A closed pipe is no failure.
            let _ = error.print();
            return ExitCode::from(u8::try_from(error.exit_code()).unwrap_or(FAILED));
        }
    };
    let command = arguments
        .command
        .unwrap_or_else(|| Command::Desk(desk::DeskArgs::default()));
    let result = match command {
        Command::Demo(args) => demo::run(&args),
        Command::Init(args) => init::run(&args),
        Command::Intake(args) => intake::run(&args),
        Command::Report(args) => reporting::run(&args),
        Command::Decide(args) => decide::run(&args),
        Command::Confirm(args) => confirm::run(&args),
        Command::Blind(args) => blind::run(&args),
        Command::Measure(args) => measure::run(&args),
        Command::Match(args) => matching::run(&args),
        Command::Sheet(args) => sheet::run(&args),
        Command::Show(args) => show::run(&args),
        Command::Sort(args) => sort::run(&args),
        Command::Library(args) => library::run(&args),
        Command::Strangers(args) => strangers::run(&args),
        Command::Read(args) => read::run(&args),
        Command::Explain(args) => explain::run(&args),
        Command::Date(args) => date::run(&args),
        Command::Backup(args) => backing_up::backup(&args),
        Command::Restore(args) => backing_up::restore(&args),
        Command::Piece(args) => piece::run(&args),
        Command::Sets(args) => sets::run(&args),
        Command::List(args) => list::run(&args),
        Command::Describe(args) => describe::run(&args),
        Command::Catalogue(args) => catalogue::run(&args),
        Command::Timeline(args) => timeline::run(&args),
        Command::Import(args) => import::run(&args),
        Command::Rebuild(args) => rebuild::run(&args),
        Command::Desk(args) => desk::run(&args),
    };
    match result {
        Ok(outcome) => ExitCode::from(outcome as u8),
        Err(failure) => {
            error(&failure);
            if let Some(text) = &failure.hint {
                hint(text);
            }
            ExitCode::from(FAILED)
        }
    }
}

/// Writes results to standard output. Whoever reads them may go at any time: no failure.
pub(crate) fn print(write: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> Result<(), Failure> {
    let mut out = BufWriter::new(anstream::stdout());
    match write(&mut out).and_then(|()| out.flush()) {
        Err(e) if e.kind() != io::ErrorKind::BrokenPipe => {
            Err(Failure::new(&format!("results not written: {e}"), None))
        }
        _ => Ok(()),
    }
}

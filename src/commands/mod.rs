//! The commands: words of the command line in, results on standard output, talk on standard error.

mod args;
mod backing_up;
mod blind;
mod catalogue;
mod check_fit;
mod check_told;
mod chosen;
mod confirm;
mod date;
mod decide;
mod demo;
mod describe;
mod desk;
mod each;
mod explain;
mod import;
mod init;
mod intake;
mod labels;
mod library;
mod library_add;
mod library_adopt;
mod library_book;
mod library_check;
mod library_cite;
mod library_list;
mod library_share;
mod lido;
mod list;
mod mark_sheet;
mod match_again;
mod matching;
mod measure;
mod new_family;
mod piece;
mod piece_facts;
mod piece_mark;
mod piece_photos;
mod piece_propose;
mod piles;
mod read;
mod rebuild;
mod reporting;
mod reshape;
mod sets;
mod sheet;
mod show;
mod sort;
mod strangers;
mod table;
mod talk;
mod teaching;
mod timeline;
mod xmp;

use std::ffi::OsString;
use std::process::ExitCode;

use clap::Parser;

use crate::console::{self, error, hint, print, warning};
pub use crate::failure::{Failure, Outcome};
use crate::interrupt::{self, interrupted};
use crate::service::{collection, confirmed, gathered, legible, look, met, opened, subject};
use args::{Arguments, Command};

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
        Command::Talk(args) => talk::run(&args),
        Command::Timeline(args) => timeline::run(&args),
        Command::Labels(args) => labels::run(&args),
        Command::Xmp(args) => xmp::run(&args),
        Command::Lido(args) => lido::run(&args),
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

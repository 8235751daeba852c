//! The words of the command line.

use std::num::NonZeroUsize;
use std::path::{Path, PathBuf};

use clap::{Args, Parser, Subcommand};

/// Names the backstamps on photographs of old dinnerware from your own library of marks.
#[derive(Debug, Parser)]
#[command(name = "footring", version, max_term_width = 100)]
#[command(
    after_help = "Exit codes: 0 everything was read; 1 a named file or a picture could not be \
    read, the rest was done; 2 usage or set-up; 130 interrupted."
)]
pub(super) struct Arguments {
    /// Without one, the desk is opened.
    #[command(subcommand)]
    pub(super) command: Option<Command>,
}

#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// Write an invented sale, look at it, and report.
    Demo(super::demo::DemoArgs),
    /// Make a workspace: a folder for your library, lots and decisions.
    Init(super::init::InitArgs),
    /// Take a folder of photos into a lot.
    Intake(super::intake::IntakeArgs),
    /// Show a lot: as text, as a page to print, as a table.
    Report(super::reporting::ReportArgs),
    /// Say what a mark is, or take that back.
    Decide(super::decide::DecideArgs),
    /// Say what date code a piece carries, or that it carries none.
    Confirm(super::confirm::ConfirmArgs),
    /// Name the marks on photos, and keep nothing.
    Match(MatchArgs),
    /// Sort photos into piles by what is to be done with them, and move none.
    Sort(super::sort::SortArgs),
    /// Draw all marks of a lot that need your eye, on a page to print.
    Sheet(super::sheet::SheetArgs),
    /// Draw one mark so that it can be read, beside the library's.
    Show(super::show::ShowArgs),
    /// Group the marks that the library does not know by which are one mark.
    Strangers(super::strangers::StrangersArgs),
    /// Grow and mend your library: make, name, join, show and check families.
    Library(super::library::LibraryArgs),
    /// Read the date codes of marks, to be confirmed, and keep nothing.
    Read(super::read::ReadArgs),
    /// Tell what the answer about a photo rests on, and keep nothing.
    Explain(super::explain::ExplainArgs),
    /// Make pieces of photos, and keep what you say of them.
    Piece(Box<super::piece::PieceArgs>),
    /// Put pieces together: a cup with its saucer, a service.
    Sets(super::sets::SetsArgs),
    /// List pieces: all, some, doubles, what lacks, as text or table.
    List(super::list::ListArgs),
    /// Say when a piece was made, from clues, and why.
    Date(super::date::DateArgs),
    /// Write library, lots and decisions into one file.
    Backup(super::backing_up::BackupArgs),
    /// Put some clear answers without what the program says, to learn how often you agree.
    Blind(super::blind::BlindArgs),
    /// Measure the marks of a photo by a ruler, a coin or a foot ring in it.
    Measure(super::measure::MeasureArgs),
    /// Make a workspace of a backup.
    Restore(super::backing_up::RestoreArgs),
    /// Write a piece in words, for a sale or a label.
    Describe(super::describe::DescribeArgs),
    /// Write a catalogue of pieces to print.
    Catalogue(super::catalogue::CatalogueArgs),
    /// Show pieces to people: a page for paper and for the wall.
    Talk(super::talk::TalkArgs),
    /// Draw runs of lines, and pieces, along a line of time.
    Timeline(super::timeline::TimelineArgs),
    /// Write labels with a code to print, or find them in photos.
    Labels(super::labels::LabelsArgs),
    /// Write sidecars for photo managers, beside copies or originals.
    Xmp(super::xmp::XmpArgs),
    /// Write pieces in the format that museums exchange.
    Lido(super::lido::LidoArgs),
    /// Take pieces over from a spreadsheet.
    Import(super::import::ImportArgs),
    /// Make footring.db anew from the journal.
    Rebuild(super::rebuild::RebuildArgs),
    /// Open the desk: look, compare and decide in a browser on this machine.
    Desk(super::desk::DeskArgs),
}

const MATCH_EXAMPLES: &str = "\
Examples:
  footring match sale/ --library marks
      A table: one photo a line, the best family and why.
  footring match plate.jpg cup.heic --library marks --json
      One JSON object a line, in the order of the photos.
  footring match sale/ --library marks --json --top 10 --jobs 2 > answers.jsonl
      Ten candidates a mark, two photos at a time.

Folders are searched to the bottom; files in them that are no pictures by their content are skipped
and counted, hidden ones are left out. Photos are only read, never written.";

/// What `match` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = MATCH_EXAMPLES)]
pub(super) struct MatchArgs {
    /// Photos, and folders of photos
    #[arg(value_name = "PATH", required = true)]
    pub(super) paths: Vec<PathBuf>,

    /// The library: a folder of makers, each a folder of stamp families
    #[arg(long, value_name = "DIR")]
    pub(super) library: PathBuf,

    /// How many candidates to list for each mark
    #[arg(long, value_name = "K", default_value = "5")]
    pub(super) top: NonZeroUsize,

    /// Print one JSON object a photo and line instead of a table
    #[arg(long)]
    pub(super) json: bool,

    /// Photos worked on at the same time [default: one a core]
    #[arg(long, value_name = "N")]
    pub(super) jobs: Option<NonZeroUsize>,

    /// Tell how long each photo took, and with --json each stage too
    #[arg(long)]
    pub(super) timings: bool,

    /// Neither use nor write the cache of prepared exemplars in your cache folder
    #[arg(long)]
    pub(super) no_cache: bool,
}

impl MatchArgs {
    /// As another command matches: without timings, with the cache.
    pub(super) fn plain(
        paths: &[PathBuf],
        library: &Path,
        top: NonZeroUsize,
        jobs: Option<NonZeroUsize>,
    ) -> Self {
        Self {
            paths: paths.to_vec(),
            library: library.to_owned(),
            top,
            json: false,
            jobs,
            timings: false,
            no_cache: false,
        }
    }

    pub(super) fn jobs(&self) -> usize {
        self.jobs
            .or_else(|| std::thread::available_parallelism().ok())
            .map_or(1, NonZeroUsize::get)
    }
}

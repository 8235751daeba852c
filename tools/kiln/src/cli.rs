//! The command line.

use crate::artwork::{Artwork, ArtworkError, Split};
use crate::lot::{self, LotError, LotSettings, Shots};
use crate::pottery::{self, PotterySettings};
use crate::repeats::{self, RepeatSettings};
use crate::sheet::{self, Choice};
use crate::truth::Condition;
use crate::{sale, starter};
use clap::{Args, Parser, Subcommand};
use std::io::{IsTerminal, Write};
use std::path::{Path, PathBuf};

/// Draws invented marks and renders undersides as phone photos with exact truth.
#[derive(Debug, Parser)]
#[command(name = "kiln", version)]
pub struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Write a lot: a library of clean scans, one of photos, photos, and truth.jsonl.
    Lot(LotArgs),
    /// Write a lot of services: runs of different pieces with one stamp and glaze, and pieces photographed again.
    Repeats(RepeatArgs),
    /// Write a lot of one pottery whose lines share an emblem, some of them with variants.
    Pottery(PotteryArgs),
    /// Write the library that is shipped, all of it invented.
    Starter(FolderArgs),
    /// Write the invented demo sale of the shipped library's marks.
    Sale(SaleArgs),
    /// Lay photos on one sheet with their true quads drawn in.
    Sheet(SheetArgs),
    /// Lay the clean scans of a lot's library on one sheet.
    Marks(SheetArgs),
}

#[derive(Debug, Args)]
struct Source {
    /// Folder that holds icons/ and fonts/.
    #[arg(long, default_value = "target/artwork")]
    artwork: PathBuf,
    /// Which drawing, design and word belongs to which split.
    #[arg(long, default_value = "tools/artwork/splits.json")]
    splits: PathBuf,
}

#[derive(Debug, Args)]
struct LotArgs {
    #[command(flatten)]
    source: Source,
    #[arg(long, value_enum)]
    split: Split,
    #[arg(long)]
    seed: u64,
    /// Families of the library; each is photographed once a condition.
    #[arg(long, default_value_t = 120)]
    families: usize,
    /// Where the lot is written.
    #[arg(long)]
    out: PathBuf,
    /// Marks that the library has nothing like.
    #[arg(long, default_value_t = 0)]
    unknown: usize,
    /// Marks that differ from a family of the library in one line.
    #[arg(long, default_value_t = 0)]
    unknown_siblings: usize,
    /// Photos of each of these marks.
    #[arg(long, default_value_t = 1)]
    shots: usize,
    /// Instead: photos of them as a season of sales brings them, one mark in forty, most in one.
    #[arg(long, conflicts_with = "shots")]
    season: bool,
    /// Photos of unmarked undersides.
    #[arg(long, default_value_t = 0)]
    bare: usize,
    /// Photos of tops, boxes, receipts and details.
    #[arg(long, default_value_t = 0)]
    tops: usize,
    /// Also small, hollow, across the ring, impressed and with distractors.
    #[arg(long)]
    extras: bool,
    /// Draw tables and glazes from beyond the split's own, of kinds that no split has: to train on.
    #[arg(long)]
    wide: bool,
    /// Leave the known families' photos out.
    #[arg(long)]
    no_known: bool,
    /// Photos with one fault of each cause, from hardly there to beyond rescue, and four times as many
    /// without one.
    #[arg(long, default_value_t = 0)]
    faults: usize,
    /// Photograph only families with codes; not every piece carries its code.
    #[arg(long)]
    codes: bool,
    /// Take only every so many-th photo, the same ones as in the whole lot. The three severities take
    /// turns: a multiple of 3 takes only one of them.
    #[arg(long, default_value_t = 1)]
    every: usize,
    /// Take only photos under this condition (may be given again), the same as in the whole lot.
    #[arg(long, value_enum)]
    only: Vec<Condition>,
    /// Pictures rendered at a time; 0 for one a core.
    #[arg(long, default_value_t = 0)]
    jobs: usize,
}

#[derive(Debug, Args)]
struct RepeatArgs {
    #[command(flatten)]
    source: Source,
    #[arg(long, value_enum)]
    split: Split,
    #[arg(long)]
    seed: u64,
    /// Families of the library; the services take them in turn.
    #[arg(long, default_value_t = 40)]
    families: usize,
    /// Runs of 2 to 12 different pieces.
    #[arg(long, default_value_t = 8)]
    runs: usize,
    /// Services of which pieces were photographed two to four times.
    #[arg(long, default_value_t = 10)]
    repeats: usize,
    /// Pieces with three hard photos each.
    #[arg(long, default_value_t = 16)]
    triples: usize,
    /// Where the lot is written.
    #[arg(long)]
    out: PathBuf,
    /// Pictures rendered at a time; 0 for one a core.
    #[arg(long, default_value_t = 0)]
    jobs: usize,
}

#[derive(Debug, Args)]
struct PotteryArgs {
    #[command(flatten)]
    source: Source,
    #[arg(long, value_enum)]
    split: Split,
    #[arg(long)]
    seed: u64,
    /// Lines of the library, all under one emblem.
    #[arg(long, default_value_t = 40)]
    lines: usize,
    /// Lines with three variants each beside the main form.
    #[arg(long, default_value_t = 5)]
    with_variants: usize,
    /// Further lines of the pottery that the library lacks.
    #[arg(long, default_value_t = 12)]
    unknown_siblings: usize,
    /// Where the lot is written.
    #[arg(long)]
    out: PathBuf,
    /// Take only every so many-th photo, the same ones as in the whole lot.
    #[arg(long, default_value_t = 1)]
    every: usize,
    /// Pictures rendered at a time; 0 for one a core.
    #[arg(long, default_value_t = 0)]
    jobs: usize,
}

#[derive(Debug, Args)]
struct FolderArgs {
    /// Folder that holds fonts/.
    #[arg(long, default_value = "target/artwork")]
    artwork: PathBuf,
    #[arg(long)]
    out: PathBuf,
}

#[derive(Debug, Args)]
struct SaleArgs {
    #[command(flatten)]
    folder: FolderArgs,
    /// The shipped library; every family of the sale must be in it.
    #[arg(long)]
    library: PathBuf,
}

#[derive(Debug, Args)]
struct SheetArgs {
    #[arg(long)]
    lot: PathBuf,
    /// The PNG to write.
    #[arg(long)]
    out: PathBuf,
    /// Only photos of this kind or condition.
    #[arg(long)]
    only: Option<String>,
    #[arg(long, default_value_t = 42)]
    most: usize,
    /// Side of one picture in pixels.
    #[arg(long)]
    cell: Option<u32>,
}

#[derive(Debug, thiserror::Error)]
pub enum KilnError {
    #[error(transparent)]
    Artwork(#[from] ArtworkError),
    #[error(transparent)]
    Lot(#[from] LotError),
    #[error("{folder}: no mark.toml; write the library with `kiln starter` first")]
    Lacks { folder: PathBuf },
    #[error("cannot start {jobs} threads: {source}")]
    Threads {
        jobs: usize,
        source: rayon::ThreadPoolBuildError,
    },
}

/// Runs the command line and says what it did on stderr.
pub fn run(cli: Cli) -> Result<(), KilnError> {
    match cli.command {
        Command::Lot(args) => write_lot(&args),
        Command::Repeats(args) => write_repeats(&args),
        Command::Pottery(args) => write_pottery(&args),
        Command::Starter(args) => write_starter(&args),
        Command::Sale(args) => write_sale(&args),
        Command::Sheet(args) => write_sheet(&args, sheet::photos),
        Command::Marks(args) => write_sheet(&args, sheet::marks),
    }
}

fn pool(jobs: usize) -> Result<rayon::ThreadPool, KilnError> {
    rayon::ThreadPoolBuilder::new()
        .num_threads(jobs)
        .build()
        .map_err(|source| KilnError::Threads { jobs, source })
}

fn write_lot(args: &LotArgs) -> Result<(), KilnError> {
    let artwork = Artwork {
        wide: args.wide,
        ..load(&args.source, args.split)?
    };
    let settings = LotSettings {
        split: args.split,
        seed: args.seed,
        families: args.families,
        unknown: args.unknown,
        unknown_siblings: args.unknown_siblings,
        shots: match args.season {
            true => Shots::Season,
            false => Shots::Each(args.shots),
        },
        bare: args.bare,
        tops: args.tops,
        extras: args.extras,
        known: !args.no_known,
        faults: args.faults,
        codes: args.codes,
        every: args.every,
        only: args.only.clone(),
    };
    let started = std::time::Instant::now();
    let threads = pool(args.jobs)?;
    let photos = threads.install(|| lot::write(&artwork, &settings, &args.out, &show))?;
    let seconds = started.elapsed().as_secs_f64();
    say(&format!(
        "{photos} photos of {} families in {seconds:.1} s",
        settings.families
    ));
    Ok(())
}

fn write_repeats(args: &RepeatArgs) -> Result<(), KilnError> {
    let artwork = load(&args.source, args.split)?;
    let settings = RepeatSettings {
        split: args.split,
        seed: args.seed,
        families: args.families,
        runs: args.runs,
        repeats: args.repeats,
        triples: args.triples,
    };
    let threads = pool(args.jobs)?;
    let photos = threads.install(|| repeats::write(&artwork, &settings, &args.out, &show))?;
    say(&format!("{photos} photos of services"));
    Ok(())
}

fn write_pottery(args: &PotteryArgs) -> Result<(), KilnError> {
    let artwork = load(&args.source, args.split)?;
    let settings = PotterySettings {
        split: args.split,
        seed: args.seed,
        lines: args.lines,
        with_variants: args.with_variants,
        unknown_siblings: args.unknown_siblings,
        every: args.every,
    };
    let threads = pool(args.jobs)?;
    let photos = threads.install(|| pottery::write(&artwork, &settings, &args.out, &show))?;
    say(&format!("{photos} photos of one pottery"));
    Ok(())
}

fn write_starter(args: &FolderArgs) -> Result<(), KilnError> {
    let artwork = starter::artwork(&args.artwork)?;
    let count = starter::write(&artwork, &args.out)?;
    say(&format!("{count} families in {}", args.out.display()));
    Ok(())
}

fn write_sale(args: &SaleArgs) -> Result<(), KilnError> {
    let artwork = starter::artwork(&args.folder.artwork)?;
    for stamp in starter::stamps(&artwork) {
        let folder = args.library.join(&stamp.family.id);
        if !folder.join("mark.toml").is_file() {
            return Err(KilnError::Lacks { folder });
        }
    }
    let (photos, bytes) = sale::write(&artwork, &args.folder.out)?;
    say(&format!("{photos} photos, {:.1} MB", bytes as f64 / 1e6));
    Ok(())
}

fn write_sheet(
    args: &SheetArgs,
    lay: fn(&Path, &Choice<'_>) -> Result<image::RgbImage, LotError>,
) -> Result<(), KilnError> {
    let choice = Choice {
        named: args.only.as_deref(),
        most: args.most,
        cell: args.cell,
    };
    let sheet = lay(&args.lot, &choice)?;
    sheet.save(&args.out).map_err(|source| LotError::Png {
        path: args.out.clone(),
        source,
    })?;
    Ok(())
}

fn load(source: &Source, split: Split) -> Result<Artwork, KilnError> {
    Ok(Artwork::load(
        &source.artwork,
        Path::new(&source.splits),
        split,
    )?)
}

fn show(done: usize, total: usize) {
    if std::io::stderr().is_terminal() {
        // Progress that cannot be written is no reason to stop.
        let _ = write!(std::io::stderr(), "\r{done}/{total}");
    }
}

fn say(text: &str) {
    let _ = writeln!(std::io::stderr(), "{text}");
}

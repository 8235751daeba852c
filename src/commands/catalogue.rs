//! `catalogue`: pieces as printable pages.

use std::path::{Path, PathBuf};

use clap::Args;

use super::chosen::{Chosen, WithArgs};
use super::collection::Collection;
use super::opened::now;
use super::{Failure, Outcome, print, warning};
use crate::handout::{Entry, Heading, VOLUME, catalogue, volumes};
use crate::service::catalogue::{Prices, entry};
use crate::workspace::{readable, readable_path};

const EXAMPLES: &str = "\
Examples:
  footring catalogue --title \"Blue and white\" --html blue.html --form plate
  footring catalogue --lot \"Mill fair\" --html fair.html --prices
  footring catalogue --html all.html --with cost,place      for an insurer: cost and where it stands

More than 500 pieces go into volumes: all-1.html, all-2.html. Pictures are drawn anew and small, so that
where and with what they were taken does not leave with them. Cost, owner, places and notes are there
only when you ask for them.";

/// What `catalogue` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct CatalogueArgs {
    /// The page to write
    #[arg(long, value_name = "FILE")]
    html: PathBuf,

    /// What stands at its head
    #[arg(long, value_name = "TEXT", default_value = "Catalogue")]
    title: String,

    /// Print what you ask for each piece
    #[arg(long)]
    prices: bool,

    #[command(flatten)]
    with: WithArgs,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,

    #[command(flatten)]
    chosen: Chosen,
}

pub(super) fn run(args: &CatalogueArgs) -> Result<Outcome, Failure> {
    let collection = Collection::open(args.workspace.as_deref())?;
    let pieces = args.chosen.pieces(&collection)?;
    let with = args.with.with()?;
    if pieces.is_empty() {
        let next = "`footring list` with the same choice shows what there is";
        return Err(Failure::new(&"no pieces to write", Some(next.to_owned())));
    }
    let heading = Heading {
        title: readable(&args.title),
        day: now().day(),
        pieces: pieces.len(),
    };
    let prices = match args.prices {
        true => Prices::Shown,
        false => Prices::LeftOut,
    };
    let all = volumes(pieces.len());
    let mut missing = 0;
    for (volume, pieces) in (1..).zip(pieces.chunks(VOLUME)) {
        let entries: Vec<Entry> = pieces
            .iter()
            .map(|piece| entry(piece, prices, with, &collection, &mut missing))
            .collect();
        let path = file_of(&args.html, volume, all);
        std::fs::write(&path, catalogue(&heading, volume, &entries)).map_err(|e| {
            Failure::new(
                &format!("{} could not be written: {e}", readable_path(&path)),
                None,
            )
        })?;
        print(|out| writeln!(out, "catalogue: {}", readable_path(&path)))?;
    }
    if missing == 0 {
        return Ok(Outcome::Done);
    }
    warning(&format!(
        "{missing} photos are out of reach or cannot be read and were left out"
    ));
    Ok(Outcome::Gaps)
}

/// `all.html`, or `all-2.html` where there are several volumes.
fn file_of(path: &Path, volume: usize, all: usize) -> PathBuf {
    if all == 1 {
        return path.to_owned();
    }
    let stem = path.file_stem().map(|s| s.to_string_lossy().into_owned());
    let end = path
        .extension()
        .map(|e| format!(".{}", e.to_string_lossy()));
    let name = format!(
        "{}-{volume}{}",
        stem.unwrap_or_default(),
        end.unwrap_or_default()
    );
    path.with_file_name(name)
}

//! `lido`: pieces for a museum's catalogue.

use std::path::PathBuf;

use clap::Args;

use super::chosen::Chosen;
use super::collection::Collection;
use super::{Failure, Outcome, print};
use crate::handout::{Described, With, describe, lido, title};
use crate::workspace::{readable, readable_path};

const EXAMPLES: &str = "\
Examples:
  footring lido --xml harebell.xml --line harebell
  footring lido --xml all.xml --source \"Ferryside Society\"

LIDO 1.1 is what museums exchange. Forms have their ids of the Getty Art & Architecture Thesaurus, dates
their first and last day, and each name says whether it is marked or attributed, and by what. Cost, owner,
places and notes are never in it.";

/// What `lido` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct LidoArgs {
    /// The file to write
    #[arg(long, value_name = "FILE")]
    xml: PathBuf,

    /// Who keeps these records; the standard asks for it
    #[arg(long, value_name = "NAME", default_value = "private collection")]
    source: String,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,

    #[command(flatten)]
    chosen: Chosen,
}

pub(super) fn run(args: &LidoArgs) -> Result<Outcome, Failure> {
    let collection = Collection::open(args.workspace.as_deref())?;
    let pieces = args.chosen.pieces(&collection)?;
    let (book, known) = (&collection.book, collection.known());
    let described: Vec<Described> = pieces
        .into_iter()
        .map(|piece| Described {
            record: collection.record(piece, With::default()),
            title: readable(&title(piece, book, &known)),
            description: describe(piece, book, &known),
        })
        .collect();
    std::fs::write(&args.xml, lido(&described, &readable(&args.source))).map_err(|e| {
        let path = readable_path(&args.xml);
        Failure::new(&format!("{path} could not be written: {e}"), None)
    })?;
    let some = if described.len() == 1 {
        "piece"
    } else {
        "pieces"
    };
    let path = readable_path(&args.xml);
    print(|out| writeln!(out, "{} {some}: {path}", described.len()))?;
    Ok(Outcome::Done)
}

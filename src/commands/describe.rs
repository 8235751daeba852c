//! `describe`: a piece in words.

use std::path::PathBuf;

use clap::Args;

use super::collection::Collection;
use super::{Failure, Outcome, print};
use crate::handout::describe;
use crate::workspace::readable;

const EXAMPLES: &str = "\
Examples:
  footring describe 12            for a sale or a label
  footring describe 12 13 14 > labels.txt

No sentence stands there without a confirmed fact behind it; what you said `--probably` begins with
\"Possibly\". A name that no mark says is attributed, and it is said by what. Cost, owner, places and
notes never stand in a description.";

/// What `describe` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct DescribeArgs {
    /// The pieces, by their numbers
    #[arg(value_name = "PIECE", required = true)]
    pieces: Vec<i64>,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,
}

pub(super) fn run(args: &DescribeArgs) -> Result<Outcome, Failure> {
    let collection = Collection::open(args.workspace.as_deref())?;
    let mut texts = Vec::new();
    for number in &args.pieces {
        let piece = collection.piece(*number)?;
        let text = describe(piece, &collection.book, &collection.known());
        let lines: Vec<String> = text.lines().map(readable).collect();
        texts.push(lines.join("\n"));
    }
    print(|out| writeln!(out, "{}", texts.join("\n\n")))?;
    Ok(Outcome::Done)
}

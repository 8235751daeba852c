//! `blind`: clear answers to decide on without what the program says of them.

use std::path::PathBuf;

use clap::Args;

use super::opened::{Opened, Remarks};
use super::{Failure, Outcome, hint, print};
use crate::answer::Verdict;
use crate::decision::blind::{ONE_IN, fared, is_blind};
use crate::report::photos;

const EXAMPLES: &str = "\
Examples:
  footring blind 'Mill fair'
      About one in twenty of the photos with a clear answer that you have not decided on yet. Look at each photo itself,
      and decide without having seen the report:
  footring decide IMG_2031.jpg --family mill-lane/crown --blind
  footring blind
      The same of all lots, and how often you and the program agreed so far.";

/// What `blind` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct BlindArgs {
    /// The lot [default: all of them]
    #[arg(value_name = "LOT")]
    lot: Option<String>,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,
}

pub(super) fn run(args: &BlindArgs) -> Result<Outcome, Failure> {
    let opened = Opened::new(args.workspace.as_deref(), Remarks::Errors)?;
    let key = opened.key();
    let lots = match &args.lot {
        Some(lot) => vec![opened.workspace.lot(lot)?],
        None => opened.workspace.lots()?,
    };
    let mut found = Vec::new();
    for lot in lots {
        let sheet = opened.sheet(&lot.name, &key)?;
        for row in &sheet.rows {
            let clear = row.decision.is_none() && row.verdict == Some(Verdict::Named);
            if let (true, Some(mark)) = (clear, row.mark)
                && is_blind(&sheet.shot(row).hash, mark)
            {
                let shot = sheet.shot(row);
                let place = match row.marks_in_photo {
                    1 => String::new(),
                    _ => format!(", mark {}", mark + 1),
                };
                found.push((
                    shot.name.clone(),
                    format!("{}{place}  {}", shot.path, sheet.lot),
                ));
            }
        }
    }
    // The order of a sheet goes by family, which would tell too much.
    found.sort();
    let history = opened.workspace.history()?;
    let so_far = fared(&history, &|id| opened.follow(id));
    print(|out| {
        match found.len() {
            0 => writeln!(
                out,
                "nothing to decide blind: about one clear answer in {ONE_IN} would be"
            )?,
            n => writeln!(out, "to be decided blind: {}", photos(n))?,
        }
        for (_, line) in &found {
            writeln!(out, "  {line}")?;
        }
        writeln!(out, "{so_far}")
    })?;
    if let Some((name, _)) = found.first() {
        let line = opened.command(&["decide", name, "--family", "MAKER/MARK", "--blind"]);
        hint(&format!("look at the photo itself, then: {line}"));
    }
    Ok(Outcome::Done)
}

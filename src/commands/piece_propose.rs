//! `piece propose`: which pieces the photos of a lot may be.

use std::io::{self, Write};
use std::num::NonZeroUsize;
use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use super::collection::Collection;
use super::intake::{Bar, jobs};
use super::{Failure, Outcome, print};
use crate::decision::ContentHash;
use crate::report::Sheet;
use crate::same_piece::Judged;
use crate::service::alike::{Alike, watched};
use crate::service::proposed::{Proposed, proposed};
use crate::workspace::readable;

const EXAMPLES: &str = "\
Examples:
  footring piece propose --lot \"Saturday sale\"
      Which pieces the photos may be; the desk's page of pieces lets you approve them with one key.
  footring piece propose --lot \"Saturday sale\" --pairs
      What every two photos with one mark that lie near each other in the lot say of one piece, as JSON Lines.

Photos are taken for one piece only by what is private to it: how the mark stands to the foot ring, specks, stilt marks
and crazing, and what its strike left out. Six saucers in a row are six pieces. Photos must be where they were taken in.

With --json each line has `lot`, `photos`, `family` and `by` (`joined`, `asked`, or null where nothing but one underside
or your word makes it one piece).";

/// What `piece propose` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct ProposeArgs {
    /// Only this lot (may be given again) [default: all lots]
    #[arg(long, value_name = "NAME")]
    lot: Vec<String>,

    /// Print one JSON object a piece and line
    #[arg(long)]
    json: bool,

    /// Print one JSON object for every two photos that were compared instead
    #[arg(long, conflicts_with = "json")]
    pairs: bool,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,

    /// Photos worked on at the same time [default: one a core]
    #[arg(long, value_name = "N")]
    jobs: Option<NonZeroUsize>,
}

pub(super) fn propose(args: &ProposeArgs) -> Result<Outcome, Failure> {
    let mut collection = Collection::open(args.workspace.as_deref())?;
    let lots = match args.lot.is_empty() {
        true => {
            let all = collection.opened.workspace.lots()?;
            all.into_iter().map(|lot| lot.name).collect()
        }
        false => args.lot.clone(),
    };
    let key = collection.opened.key();
    for lot in &lots {
        let sheet = collection.opened.sheet(lot, &key)?;
        let alike = watched(&mut collection.opened, &sheet, jobs(args.jobs), &Bar::new())?;
        if args.pairs {
            print(|out| write_pairs(&alike, &collection, out))?;
            continue;
        }
        let found = proposed(&collection.opened, &sheet, &collection.book, &alike)?;
        match args.json {
            true => print(|out| write_json(&found, &collection, out))?,
            false => print(|out| write_text(&sheet, &found, &collection, out))?,
        }
    }
    Ok(Outcome::Done)
}

fn word(judged: Judged) -> &'static str {
    match judged {
        Judged::Joined => "joined",
        Judged::Asked => "asked",
        Judged::Apart => "apart",
    }
}

fn files(one: &Proposed, collection: &Collection) -> Vec<String> {
    let each = one.photos.iter().map(|(hash, _)| collection.file(hash));
    each.collect()
}

fn write_pairs(alike: &[Alike], collection: &Collection, out: &mut dyn Write) -> io::Result<()> {
    let file = |hash: &ContentHash| collection.file(hash);
    for pair in alike {
        let line = json!({
            "photos": [file(&pair.a), file(&pair.b)],
            "judged": word(pair.judged()),
            "log_odds": pair.log_odds(),
            "evidence": pair.evidence,
        });
        writeln!(out, "{line}")?;
    }
    Ok(())
}

fn write_json(found: &[Proposed], collection: &Collection, out: &mut dyn Write) -> io::Result<()> {
    for one in found {
        let line = json!({
            "lot": one.lot,
            "photos": files(one, collection),
            "family": one.family,
            "by": one.by_evidence.map(word),
        });
        writeln!(out, "{line}")?;
    }
    Ok(())
}

fn write_text(
    sheet: &Sheet,
    found: &[Proposed],
    collection: &Collection,
    out: &mut dyn Write,
) -> io::Result<()> {
    let parts = [
        (Some(Judged::Joined), "One piece, by base and strike"),
        (
            Some(Judged::Asked),
            "Perhaps one piece: look at them side by side",
        ),
        (None, "A piece each"),
    ];
    writeln!(out, "{}", readable(&sheet.lot))?;
    for (by, title) in parts {
        let own: Vec<&Proposed> = found.iter().filter(|p| p.by_evidence == by).collect();
        if own.is_empty() {
            continue;
        }
        writeln!(out, "\n{title}")?;
        for one in own {
            let family = one.family.as_deref();
            let family = family.map_or_else(String::new, |f| format!("  {}", readable(f)));
            writeln!(out, "  {}{family}", files(one, collection).join(" "))?;
        }
    }
    Ok(())
}

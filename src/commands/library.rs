//! `library`: makes a family of marks that the person knows now, and lists the families.

use std::collections::BTreeMap;
use std::path::PathBuf;

use clap::{Args, Subcommand};

use super::opened::{Opened, Remarks};
use super::{Failure, Outcome, new_family, print};
use crate::decision::Statement;
use crate::workspace::readable;

const EXAMPLES: &str = "\
Examples:
  footring library new mill-lane/crown --from lusab-babad
      A family of the group that `footring strangers` calls so, from its best picture.
  footring library new unattributed/crown-over-bird --from IMG_2031.jpg IMG_2040.jpg --turn 180
      A family of the two photos, whose marks stand on their heads.
  footring library list
      The families by maker, with their pictures and the photos you decided on.";

/// What `library` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct LibraryArgs {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Make a family from unknown marks, and see what else it names.
    New(new_family::NewArgs),
    /// List the families by maker.
    List(ListArgs),
}

/// What `library list` is asked to do.
#[derive(Debug, Args)]
struct ListArgs {
    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,
}

pub(super) fn run(args: &LibraryArgs) -> Result<Outcome, Failure> {
    match &args.what {
        What::New(args) => new_family::run(args),
        What::List(args) => list(args),
    }
}

fn list(args: &ListArgs) -> Result<Outcome, Failure> {
    let opened = Opened::new(args.workspace.as_deref(), Remarks::All)?;
    let history = opened.workspace.history()?;
    let mut decided: BTreeMap<String, usize> = BTreeMap::new();
    for decision in history.holding() {
        if let Statement::Family(id) = &decision.statement {
            *decided.entry(opened.follow(id)).or_default() += 1;
        }
    }
    let families: Vec<_> = opened.library.families.values().collect();
    let widest = families.iter().map(|f| f.id.family().chars().count()).max();
    print(|out| {
        if families.is_empty() {
            writeln!(out, "the library has no families yet")?;
        }
        for of_maker in families.chunk_by(|a, b| a.id.maker() == b.id.maker()) {
            let maker = of_maker[0].id.maker();
            let names = opened.library.makers.get(maker).map(|m| &m.record.names);
            let called = names.and_then(|n| n.first()).map(|n| format!("  {n}"));
            writeln!(
                out,
                "{}",
                readable(&format!("{maker}{}", called.unwrap_or_default()))
            )?;
            for family in of_maker {
                let exemplars = family.exemplars.len();
                let photos = decided.get(family.id.as_str()).copied().unwrap_or(0);
                let (id, name) = (readable(family.id.family()), readable(&family.name));
                let width = widest.unwrap_or(0);
                let some = if exemplars == 1 {
                    "exemplar"
                } else {
                    "exemplars"
                };
                let line = format!("  {id:<width$}  {exemplars} {some}, {photos} decided  {name}");
                writeln!(out, "{line}")?;
            }
        }
        Ok(())
    })?;
    Ok(match opened.gaps {
        true => Outcome::Gaps,
        false => Outcome::Done,
    })
}

//! `sets`: cups with saucers, services, parts of services.

use std::path::PathBuf;

use clap::Args;

use super::collection::{Collection, named};
use super::piece::tell;
use super::{Failure, Outcome, print};
use crate::decision::{About, Certainty, PieceFact, Statement};
use crate::pieces::{beyond_set, check, origin, say_forms, say_opinion, say_set, set, sets};
use crate::workspace::{Said, readable};

const EXAMPLES: &str = "\
Examples:
  footring sets                                        every set, and whether it is complete
  footring sets \"cup of the bay window\" --add 12 13    a cup and its saucer
  footring sets \"blue service\" --add 20 21 22 --needs \"6 cup, 6 saucer, teapot, sugar bowl\"
  footring sets \"blue service\"                         its pieces, what it lacks, what does not match
  footring sets \"blue service\" --remove 22

Where all known pieces of a set are of one line, it is also told which forms that line had by your
library when the set was made, and the set has not. A piece is in one set at a time. An unmarked piece takes maker and line from the marked pieces of its
set, as attributed by its partner. Rules `pairs_with` in the files of lines say which lines went out
together.";

/// What `sets` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct SetsArgs {
    /// The set, by its name [default: all]
    #[arg(value_name = "NAME")]
    name: Option<String>,

    /// Pieces to put into it
    #[arg(long, value_name = "PIECE", num_args = 1.., requires = "name")]
    add: Vec<i64>,

    /// Pieces to take out of it
    #[arg(long, value_name = "PIECE", num_args = 1.., requires = "name")]
    remove: Vec<i64>,

    /// What makes it complete: "6 cup, 6 saucer, teapot"
    #[arg(long, value_name = "FORMS", requires = "name")]
    needs: Option<String>,

    /// You are not quite sure that these pieces belong in it
    #[arg(long, requires = "add")]
    probably: bool,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,
}

pub(super) fn run(args: &SetsArgs) -> Result<Outcome, Failure> {
    let mut collection = Collection::open(args.workspace.as_deref())?;
    let Some(name) = &args.name else {
        return list(&collection);
    };
    let said = said(args, name, &collection)?;
    if !said.is_empty() {
        return tell(&mut collection, said);
    }
    show(name, &collection)
}

/// What is to be kept.
fn said(args: &SetsArgs, name: &str, collection: &Collection) -> Result<Vec<Said>, Failure> {
    let wrong = |e| Failure::new(&e, None);
    let name = check(PieceFact::Set, name).map_err(wrong)?;
    let certainty = match args.probably {
        true => Certainty::Probably,
        false => Certainty::Sure,
    };
    let mut said = Vec::new();
    let mut say = |number: i64, fact, value: Option<String>, certainty| {
        let before = collection.piece(number)?.told(fact);
        said.push(Said {
            about: About::Piece(number),
            statement: Statement::Piece { fact, value },
            certainty,
            replaces: before.map(|told| told.number),
        });
        Ok::<(), Failure>(())
    };
    for number in &args.add {
        say(*number, PieceFact::Set, Some(name.clone()), certainty)?;
    }
    for number in &args.remove {
        let piece = collection.piece(*number)?;
        if piece.text(PieceFact::Set) != Some(name.as_str()) {
            let none = format!("piece {number} is not in this set");
            return Err(Failure::new(&none, None));
        }
        say(*number, PieceFact::Set, None, Certainty::Sure)?;
    }
    if let Some(needs) = &args.needs {
        let needs = check(PieceFact::SetNeeds, needs).map_err(wrong)?;
        let member = collection.book.set(&name).first().map(|p| p.number);
        let Some(member) = member.or(args.add.first().copied()) else {
            let next = "put pieces into it: `--add 12 13`";
            return Err(Failure::new(
                &"the set has no pieces yet",
                Some(next.to_owned()),
            ));
        };
        say(member, PieceFact::SetNeeds, Some(needs), Certainty::Sure)?;
    }
    Ok(said)
}

fn list(collection: &Collection) -> Result<Outcome, Failure> {
    let all = sets(&collection.book, &collection.known());
    print(|out| {
        if all.is_empty() {
            writeln!(out, "there are no sets yet")?;
        }
        for set in &all {
            let (name, count) = (readable(&set.name), set.members.len());
            writeln!(out, "{name}: {count} pieces; {}", readable(&say_set(set)))?;
        }
        Ok(())
    })?;
    Ok(Outcome::Done)
}

fn show(name: &str, collection: &Collection) -> Result<Outcome, Failure> {
    let set = set(name, &collection.book, &collection.known());
    if set.members.is_empty() {
        let known: Vec<String> = collection.book.set_names().map(readable).collect();
        let none = format!("there is no set `{}`", readable(name));
        let next = match known.is_empty() {
            true => "`--add PIECE …` makes one".to_owned(),
            false => format!("there are: {}", known.join(", ")),
        };
        return Err(Failure::new(&none, Some(next)));
    }
    print(|out| {
        writeln!(out, "{}: {}", readable(name), readable(&say_set(&set)))?;
        for piece in &set.members {
            let origin = origin(piece, &collection.book, &collection.opened.library);
            let made_by = readable(&say_opinion(&origin.made_by));
            writeln!(out, "  {}: {made_by}", named(piece))?;
        }
        let library = &collection.opened.library;
        if let Some(run) = beyond_set(&set, &collection.book, library)
            && run.lacking().next().is_some()
        {
            let line = readable(&library.line_name(&run.line));
            let had = readable(&say_forms(run.lacking()));
            writeln!(out, "  {line} also had: {had}")?;
        }
        Ok(())
    })?;
    Ok(Outcome::Done)
}

//! `piece`: makes pieces of photos, and keeps what is said of them.

use std::path::PathBuf;

use clap::{Args, Subcommand};

use super::collection::{Collection, named};
use super::opened::now;
use super::piece_facts::FactArgs;
use super::piece_mark::{MarkArgs, mark};
use super::piece_photos::{lot_of, photo_of};
use super::piece_propose::{ProposeArgs, propose};
use super::{Failure, Outcome, print, warning};
use crate::decision::{About, Certainty, Decision, PieceFact, Statement, write_photos};
use crate::handout::With;
use crate::pieces::tell_piece;
use crate::report::say_decision;
use crate::workspace::{NewPiece, Said, readable};

const EXAMPLES: &str = "\
Examples:
  footring piece new underside=IMG_2031.jpg side=IMG_2032.jpg --form \"coffee cup\" --cost 4
      One piece of two photos. Roles: underside, top, side, inside, detail, damage, paper.
  footring piece new --each IMG_2033.jpg IMG_2034.jpg --condition crazed
      A piece for each photo.
  footring piece new underside=IMG_2040.jpg#2 --form saucer
      The second mark of a photo in which several pieces lie.
  footring piece propose --lot \"Saturday sale\"
      Which pieces the photos may be, and which photos show one piece.
  footring piece set 12 --body mill-lane/round --glaze celadon --probably
  footring piece set 12 --made-by \"likeness: Mill Lane: the handle of piece 7\"
  footring piece set 12 --forget glaze
  footring piece show 12
  footring piece undo 12               takes the last thing said of it back
  footring piece history 12

Marks and date codes that you decide on the photos of a piece are its own: what they say is *marked*.
What you say by --made-by and its like is *attributed*, and by what. Nothing but a photo is required.";

/// What `piece` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct PieceArgs {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Make a piece of photos that were taken in.
    New(NewArgs),
    /// Compare the photos of a lot and tell which pieces they may be.
    Propose(ProposeArgs),
    /// Match the mark of a piece from all its photos at once.
    Mark(MarkArgs),
    /// Say something of pieces.
    Set(SetArgs),
    /// Tell all that is known of pieces.
    Show(ShowArgs),
    /// Take the last thing said of a piece back.
    Undo(UndoArgs),
    /// Print all that was ever said of a piece.
    History(OfArgs),
    /// Leave a piece out from now on: it was none, or it has gone.
    Withdraw(WithdrawArgs),
}

#[derive(Debug, Args)]
struct NewArgs {
    /// Photos: a path, a file name in a lot, or the first digits of a hash; `ROLE=` before it says
    /// what it shows, `#N` behind it which of its marks is the piece's
    #[arg(value_name = "[ROLE=]PHOTO[#N]", required = true)]
    photos: Vec<String>,

    /// A piece for each photo, not one of all
    #[arg(long)]
    each: bool,

    /// The lot, where the photo is in several
    #[arg(long, value_name = "NAME")]
    lot: Option<String>,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,

    #[command(flatten)]
    facts: FactArgs,
}

#[derive(Debug, Args)]
struct SetArgs {
    /// The pieces, by their numbers
    #[arg(value_name = "PIECE", required = true)]
    pieces: Vec<i64>,

    /// A photo to add, or to give another role: [ROLE=]PHOTO[#N]; may be repeated
    #[arg(long, value_name = "PHOTO")]
    photo: Vec<String>,

    /// A fact that you no longer say, by its word: `glaze`, `made-by`; may be repeated
    #[arg(long, value_name = "FACT")]
    forget: Vec<String>,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,

    #[command(flatten)]
    facts: FactArgs,
}

#[derive(Debug, Args)]
struct ShowArgs {
    /// The pieces, by their numbers
    #[arg(value_name = "PIECE", required = true)]
    pieces: Vec<i64>,

    /// One JSON object a piece, as `footring list --jsonl` writes it, with everything
    #[arg(long)]
    json: bool,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,
}

#[derive(Debug, Args)]
struct UndoArgs {
    #[command(flatten)]
    of: OfArgs,

    /// The last word on this fact, not the last word of all
    #[arg(long, value_name = "FACT")]
    fact: Option<String>,
}

#[derive(Debug, Args)]
struct OfArgs {
    /// The piece, by its number
    #[arg(value_name = "PIECE")]
    piece: i64,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,
}

#[derive(Debug, Args)]
struct WithdrawArgs {
    #[command(flatten)]
    of: OfArgs,

    /// Why: "sold", "broken", "the same as piece 9"
    #[arg(long, value_name = "TEXT")]
    why: String,
}

pub(super) fn run(args: &PieceArgs) -> Result<Outcome, Failure> {
    match &args.what {
        What::New(args) => new(args),
        What::Mark(args) => mark(args),
        What::Propose(args) => propose(args),
        What::Set(args) => set(args),
        What::Show(args) => show(args),
        What::Undo(args) => undo(args),
        What::History(args) => history(args),
        What::Withdraw(args) => withdraw(args),
    }
}

fn new(args: &NewArgs) -> Result<Outcome, Failure> {
    let mut collection = Collection::open(args.workspace.as_deref())?;
    let facts = args.facts.facts(&collection)?;
    let certainty = args.facts.certainty();
    let mut photos = Vec::new();
    for text in &args.photos {
        photos.push(photo_of(text, &collection)?);
    }
    for photo in photos.iter().filter(|p| p.mark.is_none()) {
        for piece in collection.book.of_photo(&photo.photo) {
            let (file, number) = (collection.file(&photo.photo), piece.number);
            warning(&format!(
                "{file} belongs to piece {number} too: `#N` behind it says which mark is whose"
            ));
        }
    }
    let piles: Vec<Vec<_>> = match args.each {
        true => photos.into_iter().map(|p| vec![p]).collect(),
        false => vec![photos],
    };
    let mut pieces = Vec::new();
    for photos in piles {
        let lot = lot_of(&photos[0], args.lot.as_deref(), &collection)?;
        let told = (PieceFact::Photos, write_photos(&photos), Certainty::Sure);
        let said = facts.iter().map(|(f, text)| (*f, text.clone(), certainty));
        pieces.push(NewPiece {
            lot,
            facts: [told].into_iter().chain(said).collect(),
        });
    }
    let numbers = collection.opened.workspace.add_pieces(now(), pieces)?;
    print(|out| {
        for number in &numbers {
            writeln!(out, "piece {number}")?;
        }
        Ok(())
    })?;
    Ok(Outcome::Done)
}

/// The fact of this word.
fn fact(word: &str) -> Result<PieceFact, Failure> {
    PieceFact::from_word(word).ok_or_else(|| {
        let words: Vec<&str> = PieceFact::ALL.iter().map(|f| f.word()).collect();
        let none = format!("there is no fact `{}`", readable(word));
        Failure::new(&none, Some(format!("facts: {}", words.join(", "))))
    })
}

fn set(args: &SetArgs) -> Result<Outcome, Failure> {
    let mut collection = Collection::open(args.workspace.as_deref())?;
    let given = args.facts.facts(&collection)?;
    let forgotten: Vec<PieceFact> = args
        .forget
        .iter()
        .map(|word| fact(word))
        .collect::<Result<_, _>>()?;
    if given.is_empty() && forgotten.is_empty() && args.photo.is_empty() {
        let next = "say something of it: `footring piece set 12 --form cup`";
        return Err(Failure::new(&"nothing to say", Some(next.to_owned())));
    }
    let mut photos = Vec::new();
    for text in &args.photo {
        photos.push(photo_of(text, &collection)?);
    }
    let mut said = Vec::new();
    for number in &args.pieces {
        let piece = collection.piece(*number)?;
        let mut facts: Vec<(PieceFact, Option<String>)> = given
            .iter()
            .map(|(f, text)| (*f, Some(text.clone())))
            .collect();
        facts.extend(forgotten.iter().map(|f| (*f, None)));
        if !photos.is_empty() {
            let mut all = piece.photos.clone();
            all.retain(|p| !photos.iter().any(|new| new.photo == p.photo));
            all.extend(photos.iter().cloned());
            facts.push((PieceFact::Photos, Some(write_photos(&all))));
        }
        for (fact, value) in facts {
            let before = piece.told(fact);
            let certainty = match fact {
                PieceFact::Photos => Certainty::Sure,
                _ => args.facts.certainty(),
            };
            let same =
                before.is_some_and(|b| value.as_ref() == Some(&b.text) && b.certainty == certainty);
            if same || (value.is_none() && before.is_none()) {
                continue;
            }
            said.push(Said {
                about: About::Piece(*number),
                statement: Statement::Piece { fact, value },
                certainty,
                replaces: before.map(|b| b.number),
            });
        }
    }
    tell(&mut collection, said)
}

/// Keeps what was said and prints it, with what it took the place of.
pub(super) fn tell(collection: &mut Collection, said: Vec<Said>) -> Result<Outcome, Failure> {
    let written = collection.opened.workspace.decide_all(now(), said)?;
    let told = |decision: &Decision| {
        let number = match decision.about {
            About::Piece(number) => number,
            About::Photo(_) | About::Mark(..) => 0,
        };
        let before = decision.replaces.and_then(|n| collection.history.get(n));
        let said = match &decision.statement {
            Statement::Piece {
                fact: PieceFact::Photos,
                ..
            } => "photos".to_owned(),
            _ => say_decision(decision),
        };
        let before = before
            .filter(|d| d.statement.value().is_some())
            .filter(|d| {
                !matches!(
                    &d.statement,
                    Statement::Piece {
                        fact: PieceFact::Photos,
                        ..
                    }
                )
            });
        let before = before.map_or_else(String::new, |d| {
            format!(", in place of {}", say_decision(d))
        });
        format!(
            "piece {number}: {said}{before} (number {})",
            decision.number
        )
    };
    print(|out| {
        if written.is_empty() {
            writeln!(out, "nothing new")?;
        }
        for decision in &written {
            writeln!(out, "{}", told(decision))?;
        }
        Ok(())
    })?;
    Ok(Outcome::Done)
}

fn show(args: &ShowArgs) -> Result<Outcome, Failure> {
    let collection = Collection::open(args.workspace.as_deref())?;
    let all = With {
        cost: true,
        owner: true,
        place: true,
        lot_place: true,
        notes: true,
    };
    for (at, number) in args.pieces.iter().enumerate() {
        let piece = collection.piece(*number)?;
        if args.json {
            let record = collection.record(piece, all);
            let line = serde_json::to_string(&record).unwrap_or_default();
            print(|out| writeln!(out, "{line}"))?;
            continue;
        }
        let lines = tell_piece(piece, &collection.book, &collection.known());
        print(|out| {
            if at > 0 {
                writeln!(out)?;
            }
            let lot = readable(&piece.lot);
            writeln!(
                out,
                "{}, lot {lot}, kept since {}",
                named(piece),
                piece.added.day()
            )?;
            for photo in &piece.photos {
                let mark = photo.mark.as_ref().map_or("", |_| ", one mark of it");
                let file = collection.file(&photo.photo);
                writeln!(
                    out,
                    "  {:<14} {file}{mark}",
                    photo.role.word().replace("not-said", "photo")
                )?;
            }
            for (label, text) in &lines {
                writeln!(out, "  {label:<14} {}", readable(text))?;
            }
            Ok(())
        })?;
    }
    Ok(Outcome::Done)
}

fn undo(args: &UndoArgs) -> Result<Outcome, Failure> {
    let mut collection = Collection::open(args.of.workspace.as_deref())?;
    let number = args.of.piece;
    collection.piece(number)?;
    let wanted = args.fact.as_deref().map(fact).transpose()?;
    let of_fact = |d: &&Decision| match (&d.statement, wanted) {
        (Statement::Piece { fact, .. }, Some(wanted)) => *fact == wanted,
        (Statement::Piece { .. }, None) => true,
        _ => false,
    };
    let own = collection
        .history
        .holding()
        .filter(|d| d.about == About::Piece(number));
    let Some(last) = own.filter(of_fact).max_by_key(|d| d.number).cloned() else {
        return Err(Failure::new(
            &format!("nothing like it is said of piece {number}"),
            None,
        ));
    };
    let said = Said {
        about: last.about.clone(),
        statement: Statement::Undo,
        certainty: Certainty::Sure,
        replaces: Some(last.number),
    };
    let undo = collection.opened.workspace.decide(now(), said)?;
    let before = last.replaces.and_then(|n| collection.history.get(n));
    let holds = before.map_or_else(String::new, |d| {
        format!("; holds again: {}", say_decision(d))
    });
    let taken = say_decision(&last);
    print(|out| {
        writeln!(
            out,
            "piece {number}: taken back: {taken}{holds} (number {})",
            undo.number
        )
    })?;
    Ok(Outcome::Done)
}

fn history(args: &OfArgs) -> Result<Outcome, Failure> {
    let collection = Collection::open(args.workspace.as_deref())?;
    collection.piece(args.piece)?;
    let history = &collection.history;
    let own = history
        .all()
        .filter(|d| d.about == About::Piece(args.piece));
    print(|out| {
        for record in own {
            let state = match (&record.statement, history.is_holding(record.number)) {
                (Statement::Undo, _) => "",
                (_, true) => "  holds",
                (_, false) => "  no longer holds",
            };
            let said = say_decision(record);
            writeln!(out, "{:>4}  {}  {said}{state}", record.number, record.time)?;
        }
        Ok(())
    })?;
    Ok(Outcome::Done)
}

fn withdraw(args: &WithdrawArgs) -> Result<Outcome, Failure> {
    let mut collection = Collection::open(args.of.workspace.as_deref())?;
    let piece = collection.piece(args.of.piece)?;
    let why = crate::pieces::check(PieceFact::Withdrawn, &args.why);
    let said = Said {
        about: About::Piece(args.of.piece),
        statement: Statement::Piece {
            fact: PieceFact::Withdrawn,
            value: Some(why.map_err(|e| Failure::new(&e, None))?),
        },
        certainty: Certainty::Sure,
        replaces: piece.told(PieceFact::Withdrawn).map(|told| told.number),
    };
    tell(&mut collection, vec![said])
}

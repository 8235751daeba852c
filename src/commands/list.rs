//! `list`: pieces as text, as a table, as lines for programs; doubles, what lacks, sums.

use std::collections::BTreeSet;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use clap::{ArgGroup, Args};

use super::chosen::{Chosen, WithArgs};
use super::collection::Collection;
use super::{Failure, Outcome, hint, print};
use crate::dating::words::say;
use crate::handout::{With, write_csv};
use crate::library::FormFact;
use crate::pieces::{
    Attribution, Piece, RunAsked, across, date, duplicates, general_form, lot_money, odd_pairings,
    origin, proposals, runs, say_forms, say_sums,
};
use crate::workspace::{readable, readable_path};

const EXAMPLES: &str = "\
Examples:
  footring list --form cup --known-by attributed
  footring list --line harebell --made 1925/1935 --csv harebell.csv
  footring list --jsonl - --with cost,place | …        one JSON object a piece
  footring list --doubles                              several of one kind
  footring list --lacking                              what the lines you hold had, and you have not
  footring list --lacking --line harebell --made 1930/1932    of one line, held or not, in those years
  footring list --across saucer                        one form in all lines: had it, marked it
  footring list --money                                cost against asked, lot by lot
  footring list --odd                                  stamps on bodies of other lines, and proposed rules

In CSV and JSON Lines cost, owner, places and notes are there only when you ask `--with` for them, and
where a photo was taken never is. The fields of the lines are in README.md.";

/// What `list` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
#[command(group = ArgGroup::new("as"))]
pub(super) struct ListArgs {
    /// Write a table for a spreadsheet; `-` is standard output
    #[arg(long, value_name = "FILE", group = "as")]
    csv: Option<PathBuf>,

    /// Write one JSON object a piece; `-` is standard output
    #[arg(long, value_name = "FILE", group = "as")]
    jsonl: Option<PathBuf>,

    /// Several of one kind: form, line, decoration and glaze alike
    #[arg(long, group = "as")]
    doubles: bool,

    /// What the lines that you hold had by your library, and you have not; with `--line` that line,
    /// with `--made` what was made then. What sets lack is told by `footring sets`
    #[arg(long, group = "as")]
    lacking: bool,

    /// One form across all lines of the library
    #[arg(long, value_name = "FORM", group = "as")]
    across: Option<String>,

    /// What each lot cost, and what is asked
    #[arg(long, group = "as")]
    money: bool,

    /// Odd pairings of body and stamp or of partners, and rules that they propose
    #[arg(long, group = "as")]
    odd: bool,

    #[command(flatten)]
    with: WithArgs,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,

    #[command(flatten)]
    chosen: Chosen,
}

pub(super) fn run(args: &ListArgs) -> Result<Outcome, Failure> {
    let collection = Collection::open(args.workspace.as_deref())?;
    let pieces = args.chosen.pieces(&collection)?;
    let with = args.with.with()?;
    if let Some(path) = &args.csv {
        let records = pieces.iter().map(|p| collection.record(p, with));
        write(path, |out| {
            write_csv(records, with, out).map_err(io::Error::other)
        })?;
    } else if let Some(path) = &args.jsonl {
        write(path, |out| json_lines(&pieces, with, &collection, out))?;
    } else if args.doubles {
        print(|out| tell_doubles(&pieces, &collection, out))?;
    } else if args.lacking {
        let asked = args.chosen.run_asked(&collection)?;
        print(|out| tell_lacking(&pieces, &asked, &collection, out))?;
    } else if let Some(form) = &args.across {
        print(|out| tell_across(form, &collection, out))?;
    } else if args.money {
        print(|out| tell_money(&pieces, out))?;
    } else if args.odd {
        print(|out| tell_odd(&collection, out))?;
    } else {
        if pieces.is_empty() {
            tell_none(&collection)?;
        } else {
            print(|out| tell_pieces(&pieces, &collection, out))?;
        }
    }
    Ok(Outcome::Done)
}

/// Writes to a file that is complete or not there, or to standard output for `-`.
fn write(path: &Path, make: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> Result<(), Failure> {
    if path == Path::new("-") {
        return print(make);
    }
    let failed = |e: io::Error| {
        Failure::new(
            &format!("{} could not be written: {e}", readable_path(path)),
            None,
        )
    };
    let mut bytes = Vec::new();
    make(&mut bytes).map_err(failed)?;
    std::fs::write(path, bytes).map_err(failed)
}

fn json_lines(
    pieces: &[&Piece],
    with: With,
    collection: &Collection,
    out: &mut dyn Write,
) -> io::Result<()> {
    for piece in pieces {
        serde_json::to_writer(&mut *out, &collection.record(piece, with))?;
        writeln!(out)?;
    }
    Ok(())
}

/// That nothing was found, and what there is to choose from.
fn tell_none(collection: &Collection) -> Result<(), Failure> {
    let all: Vec<&Piece> = collection.book.pieces().collect();
    print(|out| writeln!(out, "0 pieces so chosen, of {}", all.len()))?;
    let forms: BTreeSet<&str> = all.iter().filter_map(|p| p.form()).collect();
    if !forms.is_empty() {
        let forms: Vec<String> = forms.into_iter().map(readable).collect();
        hint(&format!("forms that you have: {}", forms.join(", ")));
    }
    Ok(())
}

/// Widest cell of the list; what is longer is cut.
const WIDEST: usize = 30;

fn tell_pieces(pieces: &[&Piece], collection: &Collection, out: &mut dyn Write) -> io::Result<()> {
    let mut rows =
        vec![["no", "form", "made by", "", "line", "made", "set", "lot"].map(str::to_owned)];
    let known = collection.known();
    for piece in pieces {
        let origin = origin(piece, &collection.book, known.library);
        let dating = date(piece, &collection.book, &known, Vec::new());
        let status = match origin.made_by.says {
            Attribution::Unknown => String::new(),
            ref says => says.word().to_owned(),
        };
        let made = match dating.span() {
            None => "contradiction".to_owned(),
            Some(span) if span.is_always() => String::new(),
            Some(span) => say(span),
        };
        rows.push([
            piece.number.to_string(),
            piece.form().unwrap_or_default().to_owned(),
            origin.made_by.says.who().unwrap_or("unknown").to_owned(),
            status,
            origin
                .line
                .map_or_else(String::new, |l| known.library.line_name(&l.id)),
            made,
            piece
                .text(crate::decision::PieceFact::Set)
                .unwrap_or_default()
                .to_owned(),
            piece.lot.clone(),
        ]);
    }
    let rows = rows
        .into_iter()
        .map(|row| row.map(|cell| cut(&readable(&cell))));
    let rows: Vec<[String; 8]> = rows.collect();
    let wide = |text: &String| unicode_width::UnicodeWidthStr::width(text.as_str());
    let mut widths = [0; 8];
    for row in &rows {
        for (width, cell) in widths.iter_mut().zip(row) {
            *width = (*width).max(wide(cell));
        }
    }
    for row in &rows {
        let mut line = String::new();
        for (width, cell) in widths.iter().zip(row) {
            line += cell;
            line.extend(std::iter::repeat_n(' ', width - wide(cell) + 2));
        }
        writeln!(out, "{}", line.trim_end())?;
    }
    let some = if pieces.len() == 1 { "piece" } else { "pieces" };
    writeln!(out, "{} {some}", pieces.len())
}

fn cut(text: &str) -> String {
    match text.chars().count() > WIDEST {
        true => text.chars().take(WIDEST - 1).chain(['…']).collect(),
        false => text.to_owned(),
    }
}

fn numbers(pieces: &[i64]) -> String {
    let numbers: Vec<String> = pieces.iter().map(ToString::to_string).collect();
    numbers.join(", ")
}

fn tell_doubles(pieces: &[&Piece], collection: &Collection, out: &mut dyn Write) -> io::Result<()> {
    let found = duplicates(pieces, &collection.book, &collection.opened.library);
    if found.is_empty() {
        writeln!(
            out,
            "nothing is held twice, as far as form and line are known"
        )?;
    }
    for several in found {
        let (count, kind) = (several.pieces.len(), readable(&several.kind));
        writeln!(out, "{count} x {kind}: pieces {}", numbers(&several.pieces))?;
    }
    Ok(())
}

fn tell_lacking(
    pieces: &[&Piece],
    asked: &RunAsked,
    collection: &Collection,
    out: &mut dyn Write,
) -> io::Result<()> {
    let library = &collection.opened.library;
    let found = runs(pieces, &collection.book, library, asked);
    if found.is_empty() {
        let which = match asked.line {
            Some(_) => "the line's file does not say which forms it had then",
            None => "no line is held whose file says which forms it had",
        };
        writeln!(out, "{which}")?;
    }
    for run in found {
        let lacking = run.lacking().count();
        let (held, all) = (run.forms.len() - lacking, run.forms.len());
        let name = readable(&library.line_name(&run.line));
        let said = readable(&say_forms(run.lacking()));
        match lacking {
            0 => writeln!(out, "{name}: {held} of {all} forms; nothing is lacking")?,
            _ => writeln!(out, "{name}: {held} of {all} forms; lacks {said}")?,
        }
    }
    Ok(())
}

/// What a line's file says of a form: `seldom marked, borrowed from round, 1928/1933`.
fn habits(fact: Option<&FormFact>) -> String {
    let Some(fact) = fact else {
        return "not in its file".to_owned();
    };
    let parts = [
        fact.marked.map(|habit| format!("{} marked", habit.word())),
        fact.except
            .as_ref()
            .map(|except| format!("except {except}")),
        fact.borrowed_from
            .as_ref()
            .map(|from| format!("borrowed from {from}")),
        fact.made.as_ref().map(|made| format!("made {made}")),
        fact.source
            .as_ref()
            .map(|source| format!("source: {source}")),
    ];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    match parts.is_empty() {
        true => "had it".to_owned(),
        false => parts.join(", "),
    }
}

fn tell_across(form: &str, collection: &Collection, out: &mut dyn Write) -> io::Result<()> {
    let library = &collection.opened.library;
    let found = across(form, &collection.book, &collection.known());
    writeln!(out, "{}", readable(&general_form(form)))?;
    for line in found {
        let held = match line.pieces.is_empty() {
            true => "none held".to_owned(),
            false => format!("held: {}", numbers(&line.pieces)),
        };
        let dated = match line.dated.is_empty() {
            true => String::new(),
            false => format!("; dated {}", line.dated.join(", ")),
        };
        let name = readable(&library.line_name(&line.line));
        writeln!(
            out,
            "  {name}: {}; {held}{dated}",
            readable(&habits(line.fact))
        )?;
    }
    Ok(())
}

fn tell_money(pieces: &[&Piece], out: &mut dyn Write) -> io::Result<()> {
    for lot in lot_money(pieces) {
        writeln!(
            out,
            "{}: {} pieces; cost {} ({} said); asked {} ({} said)",
            readable(&lot.lot),
            lot.pieces,
            say_sums(&lot.cost),
            lot.costed,
            say_sums(&lot.asked),
            lot.priced,
        )?;
    }
    Ok(())
}

fn tell_odd(collection: &Collection, out: &mut dyn Write) -> io::Result<()> {
    let (book, known) = (&collection.book, collection.known());
    let span = |piece: &Piece| date(piece, book, &known, Vec::new()).span();
    let odd = odd_pairings(book, known.library, &span);
    if odd.is_empty() {
        writeln!(
            out,
            "no odd pairings, as far as bodies, stamps and sets are said"
        )?;
    }
    for pairing in &odd {
        let said = readable(&pairing.key.say(known.library));
        writeln!(
            out,
            "piece {} ({}): {said}",
            pairing.piece,
            readable(&pairing.lot)
        )?;
    }
    for proposal in proposals(&odd) {
        let (file, rule) = proposal.rule();
        let said = readable(&proposal.key.say(known.library));
        let lots: Vec<String> = proposal.lots.iter().map(|l| readable(l)).collect();
        writeln!(out, "\nproposed, as {} lots have it: {said}", lots.len())?;
        writeln!(
            out,
            "  pieces {} ({})",
            numbers(&proposal.pieces),
            lots.join("; ")
        )?;
        writeln!(
            out,
            "  if you think so too, write into {}:",
            readable(&file)
        )?;
        writeln!(out, "  {}", readable(&rule))?;
    }
    Ok(())
}

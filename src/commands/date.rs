//! `date`: what clues to a piece's date say together, given by hand or gathered from a piece.

use std::io::{self, Write};
use std::path::PathBuf;

use anstyle::Style;
use clap::{ArgGroup, Args};
use serde_json::{Value, json};

use super::collection::{Collection, own_table};
use super::console::clean;
use super::{Failure, Outcome, hint, print};
use crate::dating::spoken::SpokenTable;
use crate::dating::tell;
use crate::dating::{
    Answer, Clue, ClueError, Dating, Effect, Source, Span, Standing, read_clue, reason, split_clue,
};
use crate::pieces;

/// Version of the JSON; a changed meaning raises it, a new field does not.
const SCHEMA: u32 = 1;

const EXAMPLES: &str = "\
Examples:
  footring date --clue used=1921/1935 --clue country-wording=\"Made in Ardmoria\"
      The stamp's years bound both ends, the wording the beginning only.
  footring date --clue line=\"late 1920s\" --clue code=1928 --probably form=1929/..
      Dates as people say them; a clue you are not sure of is shown apart and changes nothing.
  footring date --clue used=1921/1935 --clue patent=1940
      These cannot both be true, and the answer says so.
  footring date --clue diamond=\"top Z, right 4, left K\" --json
  footring date 12
      All clues to piece 12: its line's run, its stamp, its codes, form, decoration and partner.
  footring date 12 --clue seen=1934
      The same with one more; `footring piece set 12 --clue seen=1934` keeps it.

Kinds that bound both ends: line, used, variant, code, form, decoration, partner, lapsed-wording.
The beginning only: registration, diamond, rd-number, patent, country-wording, care-wording.
The end only: seen (a dated receipt, gift or picture). Nothing: absence.

Dates are of the Extended Date/Time Format (1931, 193X, 1925/1932, 1925/.., 1910~) or as people say
them (about 1910, late 1920s, before the war). A file spoken-dates.toml in your workspace overrides
what those mean, or adds to it. ~ and ? count as five years either way.

Exit codes: 0 also where the clues contradict each other; 2 a clue could not be read.";

/// What `date` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
#[command(group = ArgGroup::new("clues").required(true).multiple(true))]
pub(super) struct DateArgs {
    /// A piece of the workspace, by its number
    #[arg(value_name = "PIECE", group = "clues")]
    piece: Option<i64>,

    /// A clue that you stand behind
    #[arg(long, value_name = "KIND=VALUE", group = "clues")]
    clue: Vec<String>,

    /// A clue that you are not sure of
    #[arg(long, value_name = "KIND=VALUE", group = "clues")]
    probably: Vec<String>,

    /// Print one JSON object
    #[arg(long)]
    json: bool,

    /// The workspace with your own spoken-dates.toml [default: the nearest one from the current
    /// folder upward, where there is one]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,
}

pub(super) fn run(args: &DateArgs) -> Result<Outcome, Failure> {
    let collection = match args.piece {
        Some(_) => Some(Collection::open(args.workspace.as_deref())?),
        None => None,
    };
    let own = match &collection {
        Some(_) => None,
        None => own_table(args.workspace.as_deref())?,
    };
    let spoken = match &collection {
        Some(collection) => collection.known().spoken,
        None => own.as_ref().unwrap_or_else(|| SpokenTable::shipped()),
    };
    let sure = args.clue.iter().map(|text| (text, Standing::Sure));
    let unsure = args.probably.iter().map(|t| (t, Standing::Probably));
    let clues = sure
        .chain(unsure)
        .map(|(text, standing)| {
            let (kind, value) = split_clue(text)?;
            read_clue(kind, value, standing, spoken)
        })
        .collect::<Result<Vec<Clue>, ClueError>>()?;
    let dating = match (&collection, args.piece) {
        (Some(collection), Some(number)) => {
            let piece = collection.piece(number)?;
            pieces::date(piece, &collection.book, &collection.known(), clues)
        }
        _ => reason(clues),
    };
    print(|out| match args.json {
        true => writeln!(out, "{}", as_json(&dating)),
        false => as_text(out, &dating),
    })?;
    if let (Some(number), Some(span)) = (args.piece, dating.span())
        && span.is_always()
    {
        hint(&format!(
            "a clue of yours bounds it: `footring piece set {number} --clue used=1921/1935`; \
             `used` in mark.toml and `made` of its line count for every piece"
        ));
    }
    Ok(Outcome::Done)
}

fn as_text(out: &mut dyn Write, dating: &Dating) -> io::Result<()> {
    let bold = Style::new().bold();
    writeln!(out, "{bold}{}{bold:#}", clean(&tell::tell_answer(dating)))?;
    if let Some(edtf) = dating.edtf() {
        writeln!(out, "EDTF {edtf}")?;
    }
    if let Answer::Contradiction { pairs, without } = &dating.answer {
        writeln!(out)?;
        writeln!(out, "{bold}Cannot both be true{bold:#}")?;
        for pair in pairs {
            writeln!(out, "  {}", clean(&tell::tell_pair(dating, *pair)))?;
        }
        for (at, span) in without {
            let name = tell::name(&dating.clues[*at]);
            let others = tell::say_agreed(*span);
            writeln!(
                out,
                "  {}",
                clean(&format!("without {name} the others agree: {others}"))
            )?;
        }
    }
    if !dating.clues.is_empty() {
        writeln!(out, "\n{bold}Clues{bold:#}")?;
    }
    for (at, clue) in dating.clues.iter().enumerate() {
        let part = tell::tell_part(&dating.answer, at);
        let part = part.map_or_else(String::new, |part| format!("; {part}"));
        clue_lines(out, clue, &format!("{}{part}", tell::tell_clue(clue)))?;
    }
    if !dating.apart.is_empty() {
        writeln!(out, "\n{bold}Apart, as you are not sure of them{bold:#}")?;
    }
    for apart in &dating.apart {
        clue_lines(out, &apart.clue, &tell::tell_clue(&apart.clue))?;
        writeln!(out, "    {}", clean(&tell::tell_apart(dating, apart)))?;
    }
    Ok(())
}

fn clue_lines(out: &mut dyn Write, clue: &Clue, told: &str) -> io::Result<()> {
    writeln!(out, "  {}", clean(&tell::name(clue)))?;
    writeln!(out, "    {}", clean(told))?;
    for source in tell::tell_sources(clue) {
        writeln!(out, "    source: {}", clean(&source))?;
    }
    for note in &clue.notes {
        writeln!(out, "    note: {}", clean(note))?;
    }
    Ok(())
}

fn as_json(dating: &Dating) -> Value {
    let edtf = dating.edtf().map(|e| e.to_string());
    let mut value = json!({
        "schema": SCHEMA,
        "answer": tell::tell_answer(dating),
        "edtf": edtf,
        "unverified": dating.is_unverified(),
        "contradictions": [],
        "without": [],
        "clues": dating.clues.iter().enumerate().map(|(at, clue)| {
            let mut value = clue_json(clue);
            value["part"] = json!(tell::tell_part(&dating.answer, at));
            value
        }).collect::<Vec<_>>(),
        "apart": dating.apart.iter().map(|apart| {
            let mut value = clue_json(&apart.clue);
            value["effect"] = effect_json(&apart.effect);
            value["text"] = json!(tell::tell_apart(dating, apart));
            value
        }).collect::<Vec<_>>(),
    });
    ends(&mut value, dating.span().unwrap_or(Span::ALWAYS));
    if let Answer::Contradiction { pairs, without } = &dating.answer {
        let pairs = pairs
            .iter()
            .map(|pair| json!({ "clues": pair, "text": tell::tell_pair(dating, *pair) }));
        value["contradictions"] = pairs.collect();
        let without = without.iter().map(|(at, span)| {
            let mut value = json!({ "clue": at });
            ends(&mut value, *span);
            value
        });
        value["without"] = without.collect();
    }
    value
}

/// First and last day of a span; null is no limit.
fn ends(value: &mut Value, span: Span) {
    value["earliest"] = json!(span.not_before.map(|day| day.to_string()));
    value["latest"] = json!(span.not_after.map(|day| day.to_string()));
}

fn clue_json(clue: &Clue) -> Value {
    let sources = clue.sources.iter().map(|source| match source {
        Source::Own(text) => json!({ "text": text, "state": null }),
        Source::Published { text, state } => json!({ "text": text, "state": state.word() }),
    });
    let mut value = json!({
        "kind": clue.kind.word(),
        "typed": clue.typed,
        "edtf": clue.meaning.as_ref().map(ToString::to_string),
        "standing": clue.standing.word(),
        "reason": tell::tell_clue(clue),
        "sources": sources.collect::<Vec<_>>(),
        "notes": clue.notes,
    });
    ends(&mut value, clue.bounds());
    value
}

fn effect_json(effect: &Effect) -> Value {
    match effect {
        Effect::Nothing => json!({ "does": "nothing" }),
        Effect::Narrows(span) => {
            let mut value = json!({ "does": "narrows" });
            ends(&mut value, *span);
            value
        }
        Effect::Contradicts(clues) => json!({ "does": "contradicts", "clues": clues }),
        Effect::Open => json!({ "does": "open" }),
    }
}

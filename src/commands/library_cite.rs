//! `library cite`: where a family or a picture is known from, and by what right a picture may be passed on.

use std::path::PathBuf;

use clap::Args;

use super::opened::{Opened, Remarks};
use super::reshape::{carry_out, id_of};
use super::{Failure, Outcome, print};
use crate::library::Edtf;
use crate::library::change::{self, Citation};

const EXAMPLES: &str = "\
Examples:
  footring library cite mill-lane/crown --book 'Potteries of Norvast, second edition' --page 12
  footring library cite mill-lane/crown --record 'works register of 1911, entry 40'
  footring library cite mill-lane/crown --observed 'on a dated jug' --on 2026-05-02
  footring library cite mill-lane/crown crown.jpg --credit 'J. Wren' --licence 'CC BY 4.0'
      Of a picture: whom to name beside it, and by what right it may be passed on.
  footring library cite mill-lane/crown crown.jpg --own
      It is a photo or a scan of your own.";

/// What `library cite` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct CiteArgs {
    /// The family
    #[arg(value_name = "FAMILY")]
    family: String,

    /// Pictures, as their files are called in the family's folder [default: the family itself]
    #[arg(value_name = "FILE")]
    files: Vec<String>,

    /// A book, a catalogue, a page of the web
    #[arg(long, value_name = "TITLE", conflicts_with_all = ["record", "observed", "own"])]
    book: Option<String>,

    /// The page in the book
    #[arg(long, value_name = "P", requires = "book")]
    page: Option<String>,

    /// A record: a register, an archive, an advertisement
    #[arg(long, value_name = "TEXT", conflicts_with_all = ["observed", "own"])]
    record: Option<String>,

    /// What you have seen yourself
    #[arg(long, value_name = "TEXT", conflicts_with = "own")]
    observed: Option<String>,

    /// The day on which you saw it, as 2026-05-02, 2026-05 or 2026
    #[arg(long, value_name = "DATE", requires = "observed")]
    on: Option<String>,

    /// The pictures are photos or scans of your own
    #[arg(long, requires = "files")]
    own: bool,

    /// Whom to name beside the pictures
    #[arg(long, value_name = "NAME", requires = "files")]
    credit: Option<String>,

    /// By what right the pictures may be used and passed on
    #[arg(long, value_name = "TEXT", requires = "files")]
    licence: Option<String>,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,
}

pub(super) fn run(args: &CiteArgs) -> Result<Outcome, Failure> {
    let opened = Opened::new(args.workspace.as_deref(), Remarks::Errors)?;
    let id = id_of(&args.family)?;
    let said = Citation {
        source: source(args)?,
        credit: args.credit.clone(),
        licence: args.licence.clone(),
    };
    if said == Citation::default() {
        let next = "give `--book`, `--record`, `--observed`, or of pictures `--own`, `--credit` and `--licence`";
        return Err(Failure::new(&"nothing is cited", Some(next.to_owned())));
    }
    let draft = change::cite(&opened.library, &id, &args.files, &said)?;
    let what = draft.what().to_owned();
    carry_out(&opened, draft)?;
    let parts = [said.source, said.credit, said.licence];
    let told: Vec<String> = parts.into_iter().flatten().collect();
    print(|out| writeln!(out, "{what}: {}", told.join("; ")))?;
    Ok(Outcome::Done)
}

fn source(args: &CiteArgs) -> Result<Option<String>, Failure> {
    if args.own {
        return Ok(Some("own photo".to_owned()));
    }
    if let Some(book) = &args.book {
        let page = args.page.as_ref().map(|p| format!(", p. {p}"));
        return Ok(Some(format!("{book}{}", page.unwrap_or_default())));
    }
    if let Some(record) = &args.record {
        return Ok(Some(format!("record: {record}")));
    }
    let Some(seen) = &args.observed else {
        return Ok(None);
    };
    let day = match &args.on {
        None => super::opened::now().day(),
        Some(day) => {
            let read = Edtf::parse(day);
            let wrong = || {
                let why = format!("`{day}` is no date");
                Failure::new(
                    &why,
                    Some("write it as 2026-05-02, 2026-05 or 2026".to_owned()),
                )
            };
            read.ok_or_else(wrong)?.as_str().to_owned()
        }
    };
    Ok(Some(format!("own observation, {day}: {seen}")))
}

//! `confirm`: the person's word on a date code.

use std::num::NonZeroUsize;
use std::path::PathBuf;

use clap::{ArgGroup, Args};

use super::opened::{Opened, Remarks, now};
use super::subject::{Subject, Whole};
use super::{Failure, Outcome, hint, print, warning};
use crate::date_code::sense::objections;
use crate::date_code::{Fit, fits};
use crate::decision::{About, Attachment, Certainty, Decision, Statement, Topic};
use crate::library::{CodeSchemes, FamilyId, Library, bounds, load_code_schemes};
use crate::report::say_decision;
use crate::service::codes::{LONGEST, of_family};
use crate::workspace::{Said, readable};

const EXAMPLES: &str = "\
Examples:
  footring confirm IMG_2031.jpg --code \"C 52\"
  footring confirm IMG_2031.jpg --mark 2 --code 3/48 --probably
  footring confirm 9f3a61c2 --none       no code, on a clear and complete mark
  footring confirm IMG_2031.jpg --illegible
  footring decide IMG_2031.jpg --history  all that was ever said of the photo

A code is kept as you type it. What it means in time comes from the codes.toml of its maker or
family; a code that none of its schemes knows is kept all the same, with a warning.";

/// What `confirm` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
#[command(group = ArgGroup::new("what").required(true))]
pub(super) struct ConfirmArgs {
    /// The photo: a path, its file name in a lot, or the first digits of its hash
    #[arg(value_name = "PHOTO")]
    photo: PathBuf,

    /// The mark, counted from 1 as in the report
    #[arg(long, value_name = "N")]
    mark: Option<NonZeroUsize>,

    /// The code, as it stands on the piece
    #[arg(long, value_name = "TEXT", group = "what", allow_hyphen_values = true)]
    code: Option<String>,

    /// There is no code
    #[arg(long, group = "what")]
    none: bool,

    /// There is a code, and it cannot be read
    #[arg(long, group = "what")]
    illegible: bool,

    /// You are not quite sure
    #[arg(long)]
    probably: bool,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,
}

pub(super) fn run(args: &ConfirmArgs) -> Result<Outcome, Failure> {
    let mut opened = Opened::new(args.workspace.as_deref(), Remarks::Errors)?;
    let subject = Subject::find(&opened, &args.photo)?;
    let (own, attachment) = subject.own();
    let statement = statement(args)?;
    let about = subject.about(args.mark, Whole::OnlyWithoutMarks)?;
    let before = subject.replaced(&about, &Topic::DateCode, &own, &attachment);
    let certainty = match args.probably {
        true => Certainty::Probably,
        false => Certainty::Sure,
    };
    let meaning = match &statement {
        Statement::DateCode(code) => {
            let family = family(&subject, &about, &own, &attachment);
            let family = family.map(|id| opened.follow(&id));
            let (schemes, remarks) = load_code_schemes(&opened.library);
            for remark in remarks {
                warning(&remark);
            }
            let said = meaning(code, family.as_deref(), &schemes);
            warn_against(code, family.as_deref(), &schemes, &opened.library);
            said
        }
        _ => String::new(),
    };
    let same = |d: &&Decision| d.statement == statement && d.certainty == certainty;
    if let Some(same) = before.filter(same) {
        let (name, said) = (&subject.name, say_decision(same));
        let number = same.number;
        let line = format!("{name}: {said}{meaning}, as confirmed before (number {number})");
        print(|out| writeln!(out, "{line}"))?;
        return Ok(Outcome::Done);
    }
    let said = Said {
        about,
        statement,
        certainty,
        replaces: before.map(|d| d.number),
    };
    let decision = opened.workspace.decide(now(), said)?;
    subject.tell(&decision, &meaning)?;
    Ok(Outcome::Done)
}

/// What the options say.
fn statement(args: &ConfirmArgs) -> Result<Statement, Failure> {
    let Some(code) = &args.code else {
        return Ok(match args.none {
            true => Statement::NoDateCode,
            false => Statement::IllegibleDateCode,
        });
    };
    let code = code.trim();
    let wrong = |what: &str| {
        let next = "type the code as it stands on the piece, or give `--none` or `--illegible`";
        Err(Failure::new(&what, Some(next.to_owned())))
    };
    match code.chars().count() {
        0 => wrong("the code is empty"),
        n if n > LONGEST => wrong(&format!("a code of {n} characters is none")),
        _ if code.chars().any(char::is_control) => wrong("the code holds control characters"),
        _ => Ok(Statement::DateCode(code.to_owned())),
    }
}

/// The family of the mark: as decided, else the likeliest found.
fn family(
    subject: &Subject,
    about: &About,
    own: &[&Decision],
    attachment: &Attachment,
) -> Option<String> {
    let at = subject.mark_of(about);
    let decided = match at {
        Some(at) => attachment.of_mark_on(at, &Topic::Identity, own),
        None => attachment.of_photo_on(&Topic::Identity, own),
    };
    match decided.map(|d| &d.statement) {
        Some(Statement::Family(id)) => Some(id.clone()),
        Some(_) => None,
        None => Some(subject.marks[at?].candidates.first()?.family.clone()),
    }
}

/// Warns of what speaks against a code; it is kept all the same.
fn warn_against(code: &str, family: Option<&str>, schemes: &CodeSchemes, library: &Library) {
    let id = family.and_then(|f| FamilyId::parse(f).ok());
    let known = id.and_then(|id| Some((library.families.get(&id)?, id)));
    let Some((record, id)) = known else { return };
    let bounds = bounds(library, &id, record);
    for objection in objections(code, &of_family(schemes, &id), &bounds) {
        warning(&format!("`{}`: {}", readable(code), objection.text));
    }
}

/// What the code means, in the words that follow it: `: 1952-03`. Warns where no scheme knows it.
fn meaning(code: &str, family: Option<&str>, schemes: &CodeSchemes) -> String {
    let shown = readable(code);
    let id = family.and_then(|f| FamilyId::parse(f).ok());
    let Some(id) = id else {
        warning(&format!(
            "`{shown}` is kept as typed: the mark's family is not known, so no scheme applies"
        ));
        return String::new();
    };
    let known = of_family(schemes, &id);
    if known.is_empty() {
        warning(&format!(
            "`{shown}` is kept as typed: no scheme of codes is known for `{id}`"
        ));
        hint(&format!(
            "describe its codes in `{}/codes.toml` of the library",
            id.maker()
        ));
        return String::new();
    }
    let found = fits(known.iter().copied(), code);
    if found.is_empty() {
        warning(&format!(
            "`{shown}` is kept as typed: it fits no scheme of codes of `{id}`"
        ));
        let examples = known
            .iter()
            .filter_map(|s| Some(format!("`{}` ({})", s.example()?, s.name)));
        hint(&format!(
            "accepted: {}",
            examples.collect::<Vec<_>>().join(", ")
        ));
        return String::new();
    }
    let said: Vec<String> = found.iter().map(|fit| say(fit, found.len())).collect();
    format!(": {}", said.join("; or "))
}

/// One meaning; the scheme is named where several fit.
pub(crate) fn say(fit: &Fit<'_>, of: usize) -> String {
    let mut made: Vec<&str> = fit.made.iter().map(|m| m.as_str()).collect();
    if made.is_empty() {
        made.push(match fit.outside {
            true => "a time outside the scheme's years",
            false => "no time",
        });
    }
    let mut said = made.join(" or ");
    if of > 1 {
        said += &format!(" by `{}`", fit.scheme.name);
    }
    if !fit.scheme.verified {
        said += " (unverified)";
    }
    said
}

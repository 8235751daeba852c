//! `decide`: the person's word on a photo or a mark in it.

use std::num::NonZeroUsize;
use std::path::PathBuf;

use clap::{ArgGroup, Args};

use super::opened::{Opened, Remarks, now};
use super::subject::{Subject, Whole};
use super::{Failure, Outcome, print};
use crate::decision::blind::suggestion;
use crate::decision::{
    Attachment, Certainty, ContentHash, Decision, Statement, Topic, about_photo,
};
use crate::library::{FamilyId, Library};
use crate::report::say_decision;
use crate::service::gathered::Gathered;
use crate::workspace::{Said, readable};

const EXAMPLES: &str = "\
Examples:
  footring decide IMG_2031.jpg --family mill-lane/crown --probably
  footring decide IMG_2031.jpg --mark 2 --unknown
  footring decide 9f3a61c2 --again     by the first digits of the photo's hash
  footring decide IMG_2031.jpg --undo  takes the last decision on the photo back
  footring decide IMG_2031.jpg --family mill-lane/crown --blind
      Without having seen the program's answer: see `footring blind`.
  footring decide lusab-babad --family mill-lane/crown
      Every mark of the group that `footring strangers` calls so.
  footring decide IMG_2031.jpg --history

Your decisions stay when the program's answers change. Nothing but you changes them, and none is
ever forgotten.";

/// What `decide` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
#[command(group = ArgGroup::new("what").required(true))]
pub(super) struct DecideArgs {
    /// The photo: a path, its file name in a lot, or the first digits of its hash; or a group of unknown marks, which
    /// is given a family or left unknown
    #[arg(value_name = "PHOTO|GROUP")]
    photo: PathBuf,

    /// The mark, counted from 1 as in the report
    #[arg(long, value_name = "N", conflicts_with = "history")]
    mark: Option<NonZeroUsize>,

    /// The mark is of this family of the library
    #[arg(long, value_name = "ID", group = "what")]
    family: Option<String>,

    /// The mark is of no family in the library
    #[arg(long, group = "what")]
    unknown: bool,

    /// There is no mark
    #[arg(long, group = "what")]
    no_mark: bool,

    /// The photo is to be taken again
    #[arg(long, group = "what")]
    again: bool,

    /// The photo is somebody else's: what it shows is no piece of yours
    #[arg(long, group = "what")]
    not_mine: bool,

    /// Take the last decision back; the one before it holds again
    #[arg(long, group = "what")]
    undo: bool,

    /// Print all that was ever decided on the photo
    #[arg(long, group = "what")]
    history: bool,

    /// You have not seen what the program says of the mark
    #[arg(long, conflicts_with_all = ["undo", "history"])]
    blind: bool,

    /// You are not quite sure
    #[arg(long, conflicts_with_all = ["undo", "history"])]
    probably: bool,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,
}

pub(super) fn run(args: &DecideArgs) -> Result<Outcome, Failure> {
    let mut opened = Opened::new(args.workspace.as_deref(), Remarks::Errors)?;
    let subject = match Subject::find(&opened, &args.photo) {
        Ok(subject) => subject,
        Err(why) => match group(&opened, args)? {
            Some(marks) => return decide_group(&mut opened, args, &marks),
            None => return Err(why),
        },
    };
    if args.history {
        return tell_history(&subject);
    }
    if args.undo {
        let (own, attachment) = subject.own();
        let said = undo(args, &subject, &own, &attachment)?;
        let decision = opened.workspace.decide(now(), said)?;
        subject.tell(&decision, "")?;
        return Ok(Outcome::Done);
    }
    let (statement, note) = statement(args, &opened.library)?;
    if let Some(note) = note {
        super::warning(&note);
    }
    decide_one(&mut opened, args, &subject, args.mark, &statement)?;
    Ok(Outcome::Done)
}

/// The marks of the group of this name; `None` where no group is called so.
fn group(opened: &Opened, args: &DecideArgs) -> Result<Option<Vec<(ContentHash, usize)>>, Failure> {
    let Ok(gathered) = Gathered::kept(opened)? else {
        return Ok(None);
    };
    let groups = gathered.called(&args.photo.to_string_lossy());
    let [group] = groups[..] else {
        return Ok(None);
    };
    if args.mark.is_some() || (args.family.is_none() && !args.unknown) {
        let why = format!("`{}` is a group of unknown marks", gathered.name(group));
        let next = "give all of it a family, or leave it unknown: --family ID or --unknown";
        return Err(Failure::new(&why, Some(next.to_owned())));
    }
    let marks = gathered.grouping.groups[group].marks.iter();
    let marks = marks.map(|&at| (gathered.marks[at].photo.clone(), gathered.marks[at].mark));
    Ok(Some(marks.collect()))
}

fn decide_group(
    opened: &mut Opened,
    args: &DecideArgs,
    marks: &[(ContentHash, usize)],
) -> Result<Outcome, Failure> {
    let (statement, note) = statement(args, &opened.library)?;
    if let Some(note) = note {
        super::warning(&note);
    }
    for (photo, at) in marks {
        let subject = Subject::of(opened, photo.clone())?;
        let mark = NonZeroUsize::MIN.saturating_add(*at);
        decide_one(opened, args, &subject, Some(mark), &statement)?;
    }
    Ok(Outcome::Done)
}

/// Decides a mark of a photo, unless the same was decided before.
fn decide_one(
    opened: &mut Opened,
    args: &DecideArgs,
    subject: &Subject,
    mark: Option<NonZeroUsize>,
    statement: &Statement,
) -> Result<(), Failure> {
    let (own, attachment) = subject.own();
    let said = {
        let whole = match statement {
            Statement::NoMark | Statement::Again | Statement::NotMine => Whole::Allowed,
            _ => Whole::OnlyWithoutMarks,
        };
        let about = subject.about(mark, whole)?;
        let topic = statement.topic().unwrap_or(Topic::Identity);
        let before = subject.replaced(&about, &topic, &own, &attachment);
        let certainty = match args.probably {
            true => Certainty::Probably,
            false => Certainty::Sure,
        };
        let same = |d: &&Decision| d.statement == *statement && d.certainty == certainty;
        if let Some(same) = before.filter(same) {
            let (name, said) = (&subject.name, say_decision(same));
            let line = format!("{name}: {said}, as decided before (number {})", same.number);
            return print(|out| writeln!(out, "{line}"));
        }
        Said {
            about,
            statement: statement.clone(),
            certainty,
            replaces: before.map(|d| d.number),
        }
    };
    note_suggestion(opened, subject, &said, args.blind)?;
    let decision = opened.workspace.decide(now(), said)?;
    subject.tell(&decision, "")
}

/// Records what the program says of the mark, so that its clear answers can be counted.
fn note_suggestion(
    opened: &mut Opened,
    subject: &Subject,
    said: &Said,
    blind: bool,
) -> Result<(), Failure> {
    let mark = subject.mark_of(&said.about).map(|at| &subject.marks[at]);
    let Some(statement) = mark.and_then(|m| suggestion(m, !blind)) else {
        return Ok(());
    };
    let (own, attachment) = subject.own();
    let before = subject.replaced(&said.about, &Topic::Suggestion, &own, &attachment);
    // What was told once of a mark is not told again, and what was decided blind first stays so.
    if before.is_some_and(|d| d.statement.value() == statement.value()) {
        return Ok(());
    }
    let note = Said {
        about: said.about.clone(),
        statement,
        certainty: Certainty::Sure,
        replaces: before.map(|d| d.number),
    };
    opened.workspace.decide(now(), note)?;
    Ok(())
}

/// What the options say, and a note where a family's old id was given.
fn statement(args: &DecideArgs, library: &Library) -> Result<(Statement, Option<String>), Failure> {
    let plain = match (args.unknown, args.no_mark) {
        _ if args.not_mine => Statement::NotMine,
        (true, _) => Statement::Unknown,
        (_, true) => Statement::NoMark,
        _ => Statement::Again,
    };
    let Some(given) = &args.family else {
        return Ok((plain, None));
    };
    let id = FamilyId::parse(given).map_err(|e| Failure::new(&e, nearest(given, library)))?;
    let Some(family) = library.find(&id) else {
        let none = format!("the library has no family `{}`", readable(given));
        let new = format!("`footring library new {id} --from PHOTO` makes one");
        let next = match nearest(given, library) {
            Some(near) => format!("{near}; {new}"),
            None => new,
        };
        return Err(Failure::new(&none, Some(next)));
    };
    let now = family.id.to_string();
    let note = (now != *given).then(|| format!("`{given}` is now `{now}`"));
    Ok((Statement::Family(now), note))
}

/// How many near ids an error offers.
const NEAR_IDS: usize = 3;

/// The ids most like what was given; a mark's name alone counts as much as the whole id.
fn nearest(given: &str, library: &Library) -> Option<String> {
    let like = |id: &FamilyId| {
        strsim::jaro_winkler(given, id.as_str()).max(strsim::jaro_winkler(given, id.family()))
    };
    let mut ids: Vec<&FamilyId> = library.families.keys().collect();
    ids.sort_by(|a, b| like(b).total_cmp(&like(a)).then_with(|| a.cmp(b)));
    let near: Vec<String> = ids
        .iter()
        .take(NEAR_IDS)
        .map(|id| format!("`{id}`"))
        .collect();
    Some(match near.is_empty() {
        true => "the library is empty: give the mark a folder <maker>/<mark> in it".to_owned(),
        false => format!("nearest: {}", near.join(", ")),
    })
}

/// Takes back the decision that counts for the mark, or the last one on the photo.
fn undo(
    args: &DecideArgs,
    subject: &Subject,
    own: &[&Decision],
    attachment: &Attachment,
) -> Result<Said, Failure> {
    let last = match subject.marked(args.mark)? {
        Some(at) => attachment.of_mark_on(at, &Topic::Identity, own),
        None => {
            let said = own
                .iter()
                .filter(|d| d.statement.topic() != Some(Topic::Suggestion));
            said.copied().max_by_key(|d| d.number)
        }
    };
    let Some(last) = last else {
        let none = format!("nothing is decided on {}", subject.name);
        return Err(Failure::new(&none, None));
    };
    Ok(Said {
        about: last.about.clone(),
        statement: Statement::Undo,
        certainty: Certainty::Sure,
        replaces: Some(last.number),
    })
}

fn tell_history(subject: &Subject) -> Result<Outcome, Failure> {
    let records = about_photo(subject.history.all(), &subject.photo);
    print(|out| {
        if records.is_empty() {
            writeln!(out, "nothing was ever decided on {}", subject.name)?;
        }
        for record in records {
            let state = match (&record.statement, subject.history.is_holding(record.number)) {
                (Statement::Undo, _) => "",
                (_, true) => "  holds",
                (_, false) => "  no longer holds",
            };
            writeln!(
                out,
                "{:>4}  {}  {}: {}{state}",
                record.number,
                record.time,
                subject.place(record),
                say_decision(record),
            )?;
        }
        Ok(())
    })?;
    Ok(Outcome::Done)
}

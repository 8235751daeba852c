//! `decide`: the person's word on a photo or a mark in it.

use std::num::NonZeroUsize;
use std::path::PathBuf;

use clap::{ArgGroup, Args};

use super::opened::{Opened, Remarks, now};
use super::{Failure, Outcome, print};
use crate::answer::MarkAnswer;
use crate::decision::{
    About, Attachment, Certainty, ContentHash, Decision, History, Region, Statement, Topic,
    about_photo, attach,
};
use crate::geometry::Quad;
use crate::library::{FamilyId, Library};
use crate::report::say_decision;
use crate::workspace::{Said, readable, readable_file_name};

const EXAMPLES: &str = "\
Examples:
  footring decide IMG_2031.jpg --family mill-lane/crown --probably
  footring decide IMG_2031.jpg --mark 2 --unknown
  footring decide 9f3a61c2 --again     by the first digits of the photo's hash
  footring decide IMG_2031.jpg --undo  takes the last decision on the photo back
  footring decide IMG_2031.jpg --history

Your decisions stay when the program's answers change. Nothing but you changes them, and none is
ever forgotten.";

/// What `decide` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
#[command(group = ArgGroup::new("what").required(true))]
pub(super) struct DecideArgs {
    /// The photo: a path, its file name in a lot, or the first digits of its hash
    #[arg(value_name = "PHOTO")]
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

    /// Take the last decision back; the one before it holds again
    #[arg(long, group = "what")]
    undo: bool,

    /// Print all that was ever decided on the photo
    #[arg(long, group = "what")]
    history: bool,

    /// You are not quite sure
    #[arg(long, conflicts_with_all = ["undo", "history"])]
    probably: bool,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,
}

/// A photo with its marks and what was said of them.
struct Subject {
    photo: ContentHash,
    name: String,
    marks: Vec<MarkAnswer>,
    history: History,
}

pub(super) fn run(args: &DecideArgs) -> Result<Outcome, Failure> {
    let mut opened = Opened::new(args.workspace.as_deref(), Remarks::Errors)?;
    let subject = subject(&opened, args)?;
    if args.history {
        return tell_history(&subject);
    }
    let holding: Vec<&Decision> = subject.history.holding().collect();
    let own = about_photo(holding.iter().copied(), &subject.photo);
    let quads: Vec<_> = subject
        .marks
        .iter()
        .map(|m| Quad::from_array(m.quad))
        .collect();
    let attachment = attach(&own, &quads);
    let said = if args.undo {
        undo(args, &subject, &own, &attachment)?
    } else {
        let (statement, note) = statement(args, &opened.library)?;
        let about = about(args, &subject, &statement)?;
        let before = replaced(&about, &subject, &own, &attachment);
        let certainty = match args.probably {
            true => Certainty::Probably,
            false => Certainty::Sure,
        };
        if let Some(note) = note {
            super::warning(&note);
        }
        let same = |d: &&Decision| d.statement == statement && d.certainty == certainty;
        if let Some(same) = before.filter(same) {
            let (name, said) = (&subject.name, say_decision(same));
            let line = format!("{name}: {said}, as decided before (number {})", same.number);
            print(|out| writeln!(out, "{line}"))?;
            return Ok(Outcome::Done);
        }
        Said {
            about,
            statement,
            certainty,
            replaces: before.map(|d| d.number),
        }
    };
    let decision = opened.workspace.decide(now(), said)?;
    tell(&subject, &decision)?;
    Ok(Outcome::Done)
}

fn subject(opened: &Opened, args: &DecideArgs) -> Result<Subject, Failure> {
    let photo = opened.workspace.find_photo(&args.photo)?;
    let answered = opened.cache.answer(&photo, &opened.key())?;
    let places = opened.workspace.sightings_of(&photo)?;
    Ok(Subject {
        name: places
            .first()
            .map_or_else(|| photo.short().to_owned(), |s| readable_file_name(&s.path)),
        marks: answered.map_or_else(Vec::new, |a| a.answer.marks),
        history: opened.workspace.history()?,
        photo,
    })
}

/// What the options say, and a note where a family's old id was given.
fn statement(args: &DecideArgs, library: &Library) -> Result<(Statement, Option<String>), Failure> {
    let plain = match (args.unknown, args.no_mark) {
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
        return Err(Failure::new(&none, nearest(given, library)));
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

/// The mark named by `--mark`, counted from 0.
fn marked(args: &DecideArgs, subject: &Subject) -> Result<Option<usize>, Failure> {
    let Some(n) = args.mark else {
        return Ok(None);
    };
    match subject.marks.len() {
        0 => Err(Failure::new(
            &format!("no mark was found in {}", subject.name),
            Some("leave `--mark` away to decide on the whole photo".to_owned()),
        )),
        found if n.get() > found => Err(Failure::new(
            &format!("{} has {found} marks, no mark {n}", subject.name),
            Some("the report counts the marks of a photo from 1".to_owned()),
        )),
        _ => Ok(Some(n.get() - 1)),
    }
}

/// The mark that is meant, or the whole photo.
fn about(args: &DecideArgs, subject: &Subject, statement: &Statement) -> Result<About, Failure> {
    let marks = &subject.marks;
    let of_mark = |at: usize| {
        let region = Region::new(&Quad::from_array(marks[at].quad));
        About::Mark(subject.photo.clone(), region)
    };
    match (marked(args, subject)?, marks.len()) {
        (Some(at), _) => Ok(of_mark(at)),
        (None, _) if matches!(statement, Statement::NoMark | Statement::Again) => {
            Ok(About::Photo(subject.photo.clone()))
        }
        (None, 0) => Ok(About::Photo(subject.photo.clone())),
        (None, 1) => Ok(of_mark(0)),
        (None, found) => Err(Failure::new(
            &format!(
                "{} has {found} marks: say which one by `--mark`",
                subject.name
            ),
            Some(list_marks(marks)),
        )),
    }
}

fn list_marks(marks: &[MarkAnswer]) -> String {
    let say = |(at, mark): (usize, &MarkAnswer)| {
        let best = mark.candidates.first().map(|c| format!(" ({})", c.family));
        format!(
            "{} {}{}",
            at + 1,
            mark.verdict.word(),
            best.unwrap_or_default()
        )
    };
    marks
        .iter()
        .enumerate()
        .map(say)
        .collect::<Vec<_>>()
        .join(", ")
}

/// The decision on the same subject that a new one takes the place of.
fn replaced<'a>(
    about: &About,
    subject: &Subject,
    own: &[&'a Decision],
    attachment: &Attachment,
) -> Option<&'a Decision> {
    let numbers = match about {
        About::Mark(_, region) => {
            let at = subject
                .marks
                .iter()
                .position(|m| Region::new(&Quad::from_array(m.quad)) == *region)?;
            &attachment.of_mark[at]
        }
        About::Photo(_) | About::Piece(_) => &attachment.of_photo,
    };
    own.iter()
        .copied()
        .filter(|d| numbers.contains(&d.number))
        .rfind(|d| d.statement.topic() == Some(Topic::Identity))
}

/// Takes back the decision that counts for the mark, or the last one on the photo.
fn undo(
    args: &DecideArgs,
    subject: &Subject,
    own: &[&Decision],
    attachment: &Attachment,
) -> Result<Said, Failure> {
    let last = match marked(args, subject)? {
        Some(at) => attachment.of_mark_on(at, &Topic::Identity, own),
        None => own.iter().copied().max_by_key(|d| d.number),
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

fn tell(subject: &Subject, decision: &Decision) -> Result<(), Failure> {
    let earlier = decision.replaces.and_then(|n| subject.history.get(n));
    let mut line = format!("{}: {}", place(subject, decision), say_decision(decision));
    match (&decision.statement, earlier) {
        (Statement::Undo, Some(taken_back)) => {
            line = format!(
                "{}: taken back: {}",
                place(subject, decision),
                say_decision(taken_back)
            );
            let before = taken_back.replaces.and_then(|n| subject.history.get(n));
            line += &before.map_or_else(String::new, |d| {
                format!("; holds again: {}", say_decision(d))
            });
        }
        (_, Some(earlier)) => line += &format!(", in place of {}", say_decision(earlier)),
        (_, None) => {}
    }
    line += &format!(" (number {})", decision.number);
    print(|out| writeln!(out, "{line}"))
}

/// `IMG_2031.jpg`, or `IMG_2031.jpg, mark 2`.
fn place(subject: &Subject, decision: &Decision) -> String {
    let Some(region) = decision.about.region() else {
        return subject.name.clone();
    };
    let quads: Vec<_> = subject
        .marks
        .iter()
        .map(|m| Quad::from_array(m.quad))
        .collect();
    let overlap = |at: usize| region.quad().overlap(&quads[at]);
    let best = (0..quads.len()).max_by(|&a, &b| overlap(a).total_cmp(&overlap(b)));
    match best {
        Some(at) if overlap(at) >= crate::decision::MIN_OVERLAP => {
            format!("{}, mark {}", subject.name, at + 1)
        }
        _ => format!("{}, a mark not found now", subject.name),
    }
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
                place(subject, record),
                say_decision(record),
            )?;
        }
        Ok(())
    })?;
    Ok(Outcome::Done)
}

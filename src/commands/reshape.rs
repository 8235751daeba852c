//! `library rename`, `merge`, `split`, `remove` and `undo`: the families' folders change, and what was decided
//! follows.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use clap::Args;

use super::match_again::match_again;
use super::new_family::exemplars_word;
use super::opened::{Opened, Remarks, now};
use super::{Failure, Outcome, hint, print, warning};
use crate::decision::{Certainty, Decision, Statement};
use crate::library::change::{self, CHANGES, ChangeError, Draft, Kind};
use crate::library::{self, Family, FamilyId, Library};
use crate::workspace::{Said, readable_path};

/// What `library rename` is asked to do.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  footring library rename unattributed/crown-over-bird mill-lane/crown-over-bird\n      Its maker is known at last; what you decided, and the old id, follow."
)]
pub(super) struct RenameArgs {
    /// The family
    #[arg(value_name = "FAMILY")]
    from: String,

    /// Its new id: MAKER/MARK
    #[arg(value_name = "ID")]
    to: String,

    /// What to call the mark from now on [default: as before]
    #[arg(long, value_name = "NAME")]
    name: Option<String>,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,
}

/// What `library merge` is asked to do.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  footring library merge mill-lane/crown-b mill-lane/crown\n      Its pictures and your decisions go to `mill-lane/crown`."
)]
pub(super) struct MergeArgs {
    /// The family that goes
    #[arg(value_name = "FAMILY")]
    from: String,

    /// The family that takes it over, and keeps its own name and period
    #[arg(value_name = "INTO")]
    into: String,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,
}

/// What `library split` is asked to do.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  footring library split mill-lane/crown mill-lane/crown-star IMG_2040.jpg\n      One picture becomes a family; what you decided stays with the first."
)]
pub(super) struct SplitArgs {
    /// The family
    #[arg(value_name = "FAMILY")]
    from: String,

    /// The new family: MAKER/MARK
    #[arg(value_name = "ID")]
    to: String,

    /// The pictures that go, as their files are called in the family's folder
    #[arg(value_name = "FILE", required = true)]
    files: Vec<String>,

    /// What to call the new mark [default: the second name of the id]
    #[arg(long, value_name = "NAME")]
    name: Option<String>,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,
}

/// What `library remove` is asked to do.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  footring library remove mill-lane/crown IMG_2041.jpg\n      Takes one picture out; without a file, the family. Both are kept in `library/.changes`."
)]
pub(super) struct RemoveArgs {
    /// The family
    #[arg(value_name = "FAMILY")]
    family: String,

    /// Pictures, as their files are called in the family's folder [default: the whole family]
    #[arg(value_name = "FILE")]
    files: Vec<String>,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,
}

/// What `library undo` is asked to do.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  footring library undo\n      Takes the last change back; once more, the one before it."
)]
pub(super) struct UndoArgs {
    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,
}

pub(super) fn id_of(text: &str) -> Result<FamilyId, Failure> {
    FamilyId::parse(text).map_err(|e| Failure::new(&e, None))
}

fn open(workspace: Option<&Path>) -> Result<Opened, Failure> {
    Opened::new(workspace, Remarks::Errors)
}

pub(super) fn carry_out(opened: &Opened, draft: Draft) -> Result<(), Failure> {
    change::carry_out(&opened.workspace.library(), draft, &now().to_string())?;
    Ok(())
}

fn tell(line: &str) -> Result<(), Failure> {
    print(|out| writeln!(out, "{line}"))
}

/// How many decisions that hold name the family, by any of its ids.
fn decided(opened: &Opened, id: &FamilyId) -> Result<usize, Failure> {
    let history = opened.workspace.history()?;
    let names = |d: &&crate::decision::Decision| match &d.statement {
        Statement::Family(named) => opened.follow(named) == id.as_str(),
        _ => false,
    };
    Ok(history.holding().filter(names).count())
}

/// `1 mark`, `3 marks`.
pub(super) fn counted(count: usize, one: &str, many: &str) -> String {
    match count {
        1 => format!("1 {one}"),
        n => format!("{n} {many}"),
    }
}

pub(super) fn rename(args: &RenameArgs) -> Result<Outcome, Failure> {
    let opened = open(args.workspace.as_deref())?;
    let (from, to) = (id_of(&args.from)?, id_of(&args.to)?);
    let draft = change::rename(&opened.library, &from, &to, args.name.as_deref())?;
    let Some(family) = opened.library.find(&from) else {
        return Err(ChangeError::NoFamily { id: from }.into());
    };
    let follow = counted(
        decided(&opened, &family.id)?,
        "decision follows",
        "decisions follow",
    );
    lost_lines(&opened.library, family, &to);
    let exemplars = exemplars_word(family.exemplars.len());
    let line = format!("{to}: was {}; {exemplars}; {follow}", family.id);
    carry_out(&opened, draft)?;
    tell(&line)?;
    drop(opened);
    again(args.workspace.as_deref())
}

/// Looks again at what the change can have changed.
fn again(workspace: Option<&Path>) -> Result<Outcome, Failure> {
    let jobs = super::intake::jobs(None);
    match_again(workspace, None, &BTreeSet::new(), jobs)
}

/// Lines belong to a maker: the new one may not have those that the family names.
fn lost_lines(library: &Library, family: &Family, to: &FamilyId) {
    let known = library.makers.get(to.maker());
    let has = |line: &String| known.is_some_and(|m| m.lines.contains_key(line));
    for line in family.record.lines.iter().filter(|line| !has(line)) {
        if family.id.maker() != to.maker() {
            warning(&format!("{} has no line `{line}`", to.maker()));
        }
    }
}

pub(super) fn merge(args: &MergeArgs) -> Result<Outcome, Failure> {
    let opened = open(args.workspace.as_deref())?;
    let (from, into) = (id_of(&args.from)?, id_of(&args.into)?);
    let draft = change::merge(&opened.library, &from, &into)?;
    let old = opened.follow(from.as_str());
    let count = decided(&opened, &id_of(&old)?)?;
    let follow = counted(count, "decision follows", "decisions follow");
    carry_out(&opened, draft)?;
    let (library, _) =
        library::load(&opened.workspace.library()).map_err(|e| Failure::new(&e, None))?;
    let count = library.find(&into).map_or(0, |f| f.exemplars.len());
    let into = opened.follow(into.as_str());
    let exemplars = exemplars_word(count);
    tell(&format!(
        "{into}: {exemplars} now, was {old} as well; {follow}"
    ))?;
    hint(&format!(
        "what else was written of {old} (its name, period and ink) is kept in {}",
        readable_path(&opened.workspace.library().join(CHANGES))
    ));
    drop(opened);
    again(args.workspace.as_deref())
}

pub(super) fn split(args: &SplitArgs) -> Result<Outcome, Failure> {
    let opened = open(args.workspace.as_deref())?;
    let (from, to) = (id_of(&args.from)?, id_of(&args.to)?);
    let name = args.name.clone().unwrap_or_else(|| to.plain_name());
    let draft = change::split(&opened.library, &from, &to, &name, &args.files)?;
    let old = opened.follow(from.as_str());
    let stay = decided(&opened, &id_of(&old)?)?;
    let what = draft.what().to_owned();
    carry_out(&opened, draft)?;
    tell(&what)?;
    if stay > 0 {
        let stay = counted(stay, "decision stays", "decisions stay");
        warning(&format!("{stay} with {old}"));
        let next = opened.command(&["decide", "PHOTO", "--family", to.as_str()]);
        hint(&format!("where a photo shows the new one: {next}"));
    }
    drop(opened);
    again(args.workspace.as_deref())
}

pub(super) fn remove(args: &RemoveArgs) -> Result<Outcome, Failure> {
    let opened = open(args.workspace.as_deref())?;
    let id = id_of(&args.family)?;
    let draft = match args.files.as_slice() {
        [] => change::remove_family(&opened.library, &id)?,
        files => change::remove_pictures(&opened.library, &id, files)?,
    };
    let now = id_of(&opened.follow(id.as_str()))?;
    let named = decided(&opened, &now)?;
    let what = draft.what().to_owned();
    carry_out(&opened, draft)?;
    tell(&format!(
        "{what}; {} brings it back",
        opened.command(&["library", "undo"])
    ))?;
    if args.files.is_empty() && named > 0 {
        let named = counted(named, "decision names", "decisions name");
        warning(&format!("{named} {now}, which the library lacks now"));
    }
    drop(opened);
    again(args.workspace.as_deref())
}

pub(super) fn undo(args: &UndoArgs) -> Result<Outcome, Failure> {
    let mut opened = open(args.workspace.as_deref())?;
    let root = opened.workspace.library();
    let next = change::next_undo(&root)?.ok_or(ChangeError::NothingToUndo)?;
    let lost = named_as(&opened, &next.brings)?;
    if let (Some((id, count)), Kind::Rename | Kind::Split) = (lost.first(), next.kind) {
        let why = format!(
            "`{}` cannot be taken back: {} {id}, which would be no family any more",
            next.what,
            counted(
                *count,
                "decision made since names",
                "decisions made since name"
            )
        );
        let way = match next.kind {
            Kind::Rename => "give it its old id by `footring library rename`: decisions follow",
            _ => "make the two one by `footring library merge`: decisions follow",
        };
        return Err(Failure::new(&why, Some(way.to_owned())));
    }
    let own = match next.kind {
        Kind::New => own_decisions(&opened, &next.brings, &next.what)?,
        _ => Vec::new(),
    };
    let done = change::undo(&root)?;
    tell(&format!("taken back: {}", done.change.what))?;
    for decision in &own {
        let said = Said {
            about: decision.about.clone(),
            statement: Statement::Undo,
            certainty: Certainty::Sure,
            replaces: Some(decision.number),
        };
        opened.workspace.decide(now(), said)?;
    }
    if !own.is_empty() {
        let decisions = counted(own.len(), "decision", "decisions");
        tell(&format!(
            "taken back with it: {decisions} that its exemplars' photos show it"
        ))?;
    }
    for (id, count) in named_as(&opened, &next.brings)? {
        let named = counted(count, "decision names", "decisions name");
        warning(&format!("{named} {id}, which the library lacks now"));
    }
    drop(opened);
    again(args.workspace.as_deref())
}

/// Decisions that came with new families: that the photos of their exemplars show them.
///
/// # Errors
/// Where others name them: they would be lost.
fn own_decisions(opened: &Opened, ids: &[String], what: &str) -> Result<Vec<Decision>, Failure> {
    let families = ids.iter().filter_map(|id| FamilyId::parse(id).ok());
    let families: Vec<&Family> = families.filter_map(|id| opened.library.find(&id)).collect();
    let images = families.iter().flat_map(|f| &f.record.images);
    let photos: BTreeSet<&str> = images.filter_map(|i| i.photo.as_deref()).collect();
    let history = opened.workspace.history()?;
    let naming = history.holding().filter(|d| match &d.statement {
        Statement::Family(named) => ids.contains(named),
        _ => false,
    });
    let is_own = |d: &&Decision| d.about.photo().is_some_and(|p| photos.contains(p.as_str()));
    let (own, others): (Vec<&Decision>, Vec<&Decision>) = naming.partition(is_own);
    if others.is_empty() {
        return Ok(own.into_iter().cloned().collect());
    }
    let photos = others.iter().filter_map(|d| d.about.photo());
    let undo = photos.map(|p| opened.command(&["decide", p.short(), "--undo"]));
    let undo: BTreeSet<String> = undo.collect();
    let why = format!(
        "`{what}` cannot be taken back: {} it",
        counted(
            others.len(),
            "decision made since names",
            "decisions made since name"
        )
    );
    let way = undo.into_iter().collect::<Vec<String>>().join("; ");
    Err(Failure::new(
        &why,
        Some(format!("take them back first: {way}")),
    ))
}

/// How many decisions that hold name each of these very ids; none are left out.
fn named_as(opened: &Opened, ids: &[String]) -> Result<Vec<(String, usize)>, Failure> {
    let history = opened.workspace.history()?;
    let count = |id: &String| {
        let named = history.holding().filter(|d| match &d.statement {
            Statement::Family(named) => named == id,
            _ => false,
        });
        (id.clone(), named.count())
    };
    Ok(ids.iter().map(count).filter(|(_, n)| *n > 0).collect())
}

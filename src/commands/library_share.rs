//! `library pack` and `library receive`: families for somebody else, and somebody else's families.

use std::path::PathBuf;

use clap::Args;

use super::match_again::match_again;
use super::opened::{Opened, Remarks, now};
use super::reshape::{carry_out, counted, id_of};
use super::{Failure, Outcome, hint, print, warning};
use crate::library::change::{self, Received};
use crate::library::share::{self, LeftOut, Parcel, ShareError, Terms};
use crate::library::{Family, Severity};
use crate::workspace::{readable, readable_path};

const PACK_EXAMPLES: &str = "\
Examples:
  footring library pack marks-of-wren.zip --credit 'J. Wren' --licence 'CC BY 4.0'
  footring library pack mill-lane.zip mill-lane --credit 'J. Wren' --licence 'for your own use'
      Only the families of one maker.

The file is a plain zip with the folders of the library and a list with the hash of every file. Pictures lose what tells
of their owner: place, camera, names, times. A picture goes if it is your own, cut from a photo of a lot of yours, or if
it states a credit and a licence (`footring library cite`). The photos themselves, your lots and decisions stay here.";

const RECEIVE_EXAMPLES: &str = "\
Examples:
  footring library receive marks-of-wren.zip
      Tells what it would bring, and changes nothing.
  footring library receive marks-of-wren.zip --take
      Takes it in. The same picture comes once; where a record differs, theirs is laid beside yours; nothing of yours
      is overwritten, and `footring library undo` takes it back.";

/// What `library pack` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = PACK_EXAMPLES)]
pub(super) struct PackArgs {
    /// The file to write; one that is there is never overwritten
    #[arg(value_name = "FILE")]
    file: PathBuf,

    /// Families, or makers' folders with all of theirs [default: the whole library]
    #[arg(value_name = "FAMILY|MAKER")]
    only: Vec<String>,

    /// Whom to name beside your own pictures
    #[arg(long, value_name = "NAME")]
    credit: String,

    /// By what right your own pictures may be used and passed on
    #[arg(long, value_name = "TEXT")]
    licence: String,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,
}

/// What `library receive` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = RECEIVE_EXAMPLES)]
pub(super) struct ReceiveArgs {
    /// The pack
    #[arg(value_name = "FILE")]
    file: PathBuf,

    /// Take it in
    #[arg(long)]
    take: bool,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,
}

impl From<ShareError> for Failure {
    fn from(error: ShareError) -> Self {
        Self::new(&error, None)
    }
}

/// Things that are told by name.
const LISTED: usize = 12;

pub(super) fn pack(args: &PackArgs) -> Result<Outcome, Failure> {
    let opened = Opened::new(args.workspace.as_deref(), Remarks::Errors)?;
    let (credit, licence) = (args.credit.trim(), args.licence.trim());
    if credit.is_empty() || licence.is_empty() {
        return Err(Failure::new(
            &"say whom to credit and by what licence",
            None,
        ));
    }
    let only = wanted(&opened, &args.only)?;
    let wanted = |f: &Family| {
        only.is_empty() || only.iter().any(|o| o == f.id.as_str() || o == f.id.maker())
    };
    let terms = Terms {
        credit: credit.to_owned(),
        licence: licence.to_owned(),
    };
    // Nobody changes the library while it is copied.
    let hold = change::hold(&opened.workspace.library())?;
    let packed = share::pack(
        &opened.library,
        &wanted,
        &terms,
        &args.file,
        &now().to_string(),
    )?;
    drop(hold);
    print(|out| {
        writeln!(
            out,
            "{}: {}, {}, {:.1} MB",
            readable_path(&args.file),
            counted(packed.families, "family", "families"),
            counted(packed.pictures, "picture", "pictures"),
            packed.bytes as f64 / 1e6
        )?;
        if !packed.left_out.is_empty() {
            writeln!(out, "left out: {}", packed.left_out.len())?;
        }
        for LeftOut { family, file, why } in packed.left_out.iter().take(LISTED) {
            writeln!(out, "  {}: {why}", readable(&format!("{family}/{file}")))?;
        }
        match packed.left_out.len().saturating_sub(LISTED) {
            0 => Ok(()),
            more => writeln!(out, "  and {more} more"),
        }
    })?;
    if let Some(left) = packed.left_out.first() {
        let line = opened.command(&[
            "library",
            "cite",
            &left.family,
            &left.file,
            "--credit",
            "NAME",
            "--licence",
            "TEXT",
        ]);
        hint(&format!("where you may pass a picture on, say so: {line}"));
    }
    Ok(Outcome::Done)
}

/// The families and makers by the names that they have now.
fn wanted(opened: &Opened, only: &[String]) -> Result<Vec<String>, Failure> {
    let known = |text: &String| {
        if opened.library.makers.contains_key(text) {
            return Ok(text.clone());
        }
        let id = id_of(text)?;
        match opened.library.find(&id) {
            Some(family) => Ok(family.id.to_string()),
            None => Err(change::ChangeError::NoFamily { id }.into()),
        }
    };
    only.iter().map(known).collect()
}

pub(super) fn receive(args: &ReceiveArgs) -> Result<Outcome, Failure> {
    let opened = Opened::new(args.workspace.as_deref(), Remarks::Errors)?;
    let parcel = share::open(&args.file)?;
    let name = readable_path(&args.file);
    let (draft, told) =
        change::receive(&opened.library, &parcel.library, &format!("receive {name}"))?;
    let odd = parcel
        .remarks
        .iter()
        .filter(|r| r.severity() == Severity::Error);
    odd.take(LISTED).for_each(|remark| warning(remark));
    tell(&name, &parcel, &told)?;
    if told.brings_nothing(&draft) {
        print(|out| writeln!(out, "there is nothing to take in"))?;
        return Ok(Outcome::Done);
    }
    if !args.take {
        print(|out| writeln!(out, "nothing is changed yet"))?;
        let file = args.file.to_string_lossy();
        hint(&opened.command(&["library", "receive", &file, "--take"]));
        return Ok(Outcome::Done);
    }
    carry_out(&opened, draft)?;
    print(|out| writeln!(out, "taken in"))?;
    drop((opened, parcel));
    let jobs = super::intake::jobs(None);
    match_again(
        args.workspace.as_deref(),
        None,
        &std::collections::BTreeSet::new(),
        jobs,
    )
}

fn tell(name: &str, parcel: &Parcel, told: &Received) -> Result<(), Failure> {
    let all = |texts: &std::collections::BTreeSet<String>| {
        let some: Vec<String> = texts.iter().take(LISTED).map(|t| readable(t)).collect();
        some.join("; ")
    };
    print(|out| {
        writeln!(
            out,
            "{name}: {}, {}, packed {}",
            counted(parcel.library.families.len(), "family", "families"),
            counted(parcel.pictures, "picture", "pictures"),
            readable(&parcel.time)
        )?;
        if parcel.pictures > 0 {
            writeln!(out, "credit: {}", all(&parcel.credits))?;
            writeln!(out, "licence: {}", all(&parcel.licences))?;
        }
        for (heading, list) in [("new", &told.new), ("more pictures", &told.more)] {
            if !list.is_empty() {
                writeln!(out, "{heading}:")?;
            }
            for (id, count) in list {
                let count = counted(*count, "picture", "pictures");
                writeln!(out, "  {}  {count}", readable(id))?;
            }
        }
        if told.records > 0 {
            writeln!(out, "new records of makers and lines: {}", told.records)?;
        }
        if told.known > 0 {
            let known = counted(told.known, "picture", "pictures");
            writeln!(out, "here already: {known}")?;
        }
        if !told.conflicts.is_empty() {
            writeln!(out, "side by side:")?;
        }
        for line in &told.conflicts {
            writeln!(out, "  {}", readable(line))?;
        }
        Ok(())
    })
}

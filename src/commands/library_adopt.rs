//! `library adopt`: families from an archive that is sorted by maker and line.

use std::collections::BTreeSet;
use std::num::NonZeroUsize;
use std::path::{Path, PathBuf};

use clap::Args;

use super::gathered::each;
use super::intake::progress;
use super::match_again::match_again;
use super::opened::{Opened, Remarks};
use super::reshape::{carry_out, counted};
use super::{Failure, Outcome, hint, print};
use crate::library::change::{self, Arrival, Content, NewExemplar};
use crate::library::{Adopted, Adoption, LeftOut, Library, slug, survey};
use crate::photo::{self, DecodeLimits};
use crate::report::copies::{Glimpse, copies};
use crate::workspace::{readable, readable_path};

const EXAMPLES: &str = "\
Examples:
  footring library adopt ~/pictures/marks
      Tells which families the folder would make, and changes nothing.
  footring library adopt ~/pictures/marks --copy
      Makes them, of copies; nothing in the folder is moved or changed. `footring library undo` takes it back.

The folder holds a folder for each maker, and each of these one for each line or mark:
marks/Mill Lane/Blue Harebell/IMG_1.jpg becomes mill-lane/blue-harebell. What is a picture is told by its content.";

/// What `library adopt` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct AdoptArgs {
    /// The archive
    #[arg(value_name = "FOLDER")]
    folder: PathBuf,

    /// Copy the pictures into the library; else it is only told what would be copied
    #[arg(long)]
    copy: bool,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,

    /// Photos worked on at the same time [default: one a core]
    #[arg(long, value_name = "N")]
    jobs: Option<NonZeroUsize>,
}

pub(super) fn run(args: &AdoptArgs) -> Result<Outcome, Failure> {
    let opened = Opened::new(args.workspace.as_deref(), Remarks::Errors)?;
    let shown = readable_path(&args.folder);
    let failed = |e: std::io::Error| Failure::new(&format!("{shown} cannot be read ({e})"), None);
    let archive = std::fs::canonicalize(&args.folder).map_err(failed)?;
    let library = std::fs::canonicalize(opened.workspace.library()).map_err(failed)?;
    if archive.starts_with(&library) || library.starts_with(&archive) {
        let why = format!("{shown} and the library lie in one another");
        let next = "name a folder outside the workspace".to_owned();
        return Err(Failure::new(&why, Some(next)));
    }
    let mut found = survey(&opened.library, &archive).map_err(failed)?;
    let mut left: Vec<(PathBuf, String)> = std::mem::take(&mut found.left_out)
        .into_iter()
        .map(|(path, why)| (path, say(&why, &archive)))
        .collect();
    let jobs = super::intake::jobs(args.jobs);
    left.extend(sift(&mut found, &opened.library, &archive, jobs)?);
    let pictures: usize = found.families.values().map(|f| f.pictures.len()).sum();
    tell(&opened, &found, &left, &archive)?;
    if pictures == 0 {
        print(|out| writeln!(out, "there is nothing to adopt"))?;
        return Ok(Outcome::Done);
    }
    let count = format!(
        "{} of {}",
        counted(pictures, "picture", "pictures"),
        counted(found.families.len(), "family", "families")
    );
    if !args.copy {
        print(|out| writeln!(out, "to be copied: {count}; nothing is changed yet"))?;
        let given = args.folder.to_string_lossy();
        hint(&opened.command(&["library", "adopt", &given, "--copy"]));
        return Ok(Outcome::Done);
    }
    let arrivals = found.families.into_values().map(|f| arrival(f, &archive));
    let draft = change::gather(&opened.library, arrivals.collect())?;
    carry_out(&opened, draft)?;
    print(|out| writeln!(out, "copied: {count}"))?;
    drop(opened);
    match_again(args.workspace.as_deref(), None, &BTreeSet::new(), jobs)
}

/// Takes out what is no good picture, and what is another one of its family saved again.
fn sift(
    found: &mut Adoption,
    library: &Library,
    archive: &Path,
    jobs: usize,
) -> Result<Vec<(PathBuf, String)>, Failure> {
    let mut left = Vec::new();
    let total = found.families.values().map(|f| f.pictures.len()).sum();
    let bar = progress(total);
    for family in found.families.values_mut() {
        // The library's own come first, so that what repeats one of them is told to.
        let known = library.find(&family.id).map(|f| f.exemplars.as_slice());
        let mut pictures: Vec<PathBuf> = known
            .unwrap_or_default()
            .iter()
            .map(|e| e.path.clone())
            .collect();
        let own = pictures.len();
        pictures.append(&mut family.pictures);
        let mut glimpses: Vec<Result<Glimpse, String>> = Vec::new();
        each(
            &pictures,
            jobs,
            |path| Some(glimpse(path)),
            |_, made| {
                bar.inc(1);
                glimpses.push(made.unwrap_or_else(|| Err("it cannot be read".to_owned())));
            },
        )?;
        let seen: Vec<Option<Glimpse>> = glimpses.iter().map(|g| g.clone().ok()).collect();
        let repeats = copies(&seen);
        for (at, path) in pictures.iter().enumerate().skip(own) {
            if let Err(why) = &glimpses[at] {
                left.push((path.clone(), why.clone()));
            } else if let Some((_, first)) = repeats.iter().find(|(copy, _)| *copy == at) {
                let first = inside(&pictures[*first], archive);
                left.push((path.clone(), format!("is {first} saved again")));
            } else {
                family.pictures.push(path.clone());
            }
        }
    }
    found.families.retain(|_, f| !f.pictures.is_empty());
    bar.finish_and_clear();
    Ok(left)
}

fn glimpse(path: &Path) -> Result<Glimpse, String> {
    let bytes = std::fs::read(path).map_err(|e| e.to_string())?;
    let picture = photo::read_photo(&bytes, &DecodeLimits::default());
    picture
        .map(|p| Glimpse::of(&p.pixels))
        .map_err(|e| e.to_string())
}

fn inside(path: &Path, archive: &Path) -> String {
    readable_path(path.strip_prefix(archive).unwrap_or(path))
}

fn say(why: &LeftOut, archive: &Path) -> String {
    match why {
        LeftOut::NoFolder => "lies in no folder of a maker and a line".to_owned(),
        LeftOut::NoName => "no id can be made of the folders' names: rename them".to_owned(),
        LeftOut::Known { family } => format!("the library has it in {family}"),
        LeftOut::Twice { first } => format!("is the same as {}", inside(first, archive)),
        LeftOut::Unreadable { detail } => format!("cannot be read ({detail})"),
    }
}

/// Things left out that are told by name.
const LISTED: usize = 20;

fn tell(
    opened: &Opened,
    found: &Adoption,
    left: &[(PathBuf, String)],
    archive: &Path,
) -> Result<(), Failure> {
    print(|out| {
        for family in found.families.values() {
            let has = opened.library.find(&family.id).map(|f| f.exemplars.len());
            let what = match has {
                Some(n) => format!("more, the library has {n}"),
                None => "new".to_owned(),
            };
            let from: Vec<String> = family.folders.iter().map(|f| inside(f, archive)).collect();
            let count = family.pictures.len();
            let from = from.join(" and ");
            writeln!(
                out,
                "{}  {count} {what}, from {from}",
                readable(family.id.as_str())
            )?;
            if family.folders.len() > 1 {
                writeln!(
                    out,
                    "  several folders come to this id, and become one family"
                )?;
            }
        }
        if !left.is_empty() {
            writeln!(out, "left out: {}", left.len())?;
        }
        for (path, why) in left.iter().take(LISTED) {
            writeln!(out, "  {}: {why}", inside(path, archive))?;
        }
        match left.len().saturating_sub(LISTED) {
            0 => Ok(()),
            more => writeln!(out, "  and {more} more"),
        }
    })
}

fn arrival(family: Adopted, archive: &Path) -> Arrival {
    let exemplars = family.pictures.iter().map(|path| {
        let stem = path.file_stem().unwrap_or_default().to_string_lossy();
        let end = path.extension().unwrap_or_default().to_string_lossy();
        let stem = slug(&stem).unwrap_or_else(|| "picture".to_owned());
        let file = match slug(&end) {
            Some(end) => format!("{stem}.{end}"),
            None => stem,
        };
        NewExemplar {
            file,
            content: Content::CopyOf(path.clone()),
            quad: None,
            source: Some(format!("own archive, {}", inside(path, archive))),
            photo: None,
        }
    });
    Arrival {
        exemplars: exemplars.collect(),
        id: family.id,
        name: family.name,
        maker: Some(family.maker),
    }
}

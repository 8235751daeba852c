//! `sort`: piles of photos by what is to be done with them; the photos stay where they are.

use std::collections::BTreeMap;
use std::fs;
use std::io::{self, Write};
use std::num::NonZeroUsize;
use std::path::{Path, PathBuf};

use clap::Args;
use serde_json::json;

use super::args::MatchArgs;
use super::each::each_answer;
use super::matching::Ready;
use super::opened::now;
use super::reporting::write;
use super::{Failure, Outcome, interrupt, print};
use crate::answer::PhotoAnswer;
use crate::photo::{self, DecodeLimits};
use crate::report::{AgainRow, Figure, Pile, again_page, frame};
use crate::workspace::{readable, readable_file_name, readable_path};

const EXAMPLES: &str = "\
Examples:
  footring sort sale/ --library marks
      How many photos are named, need your eye, are to be taken again, are bare, and which.
  footring sort sale/ --library marks --into piles
      The same as folders of links, and again.html: what to take again, and why, to print.
  footring sort sale/ --library marks --into piles --copy
      Copies in place of links, for a memory stick.

Photos are only read: nothing is moved, and the folder for the piles must be new or empty.";

/// What `sort` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct SortArgs {
    /// Photos, and folders of photos
    #[arg(value_name = "PATH", required = true)]
    paths: Vec<PathBuf>,

    /// The library: a folder of makers
    #[arg(long, value_name = "DIR")]
    library: PathBuf,

    /// Make a folder of links for each pile in this new folder, and the page of photos to take again
    #[arg(long, value_name = "DIR")]
    into: Option<PathBuf>,

    /// Copy the photos there in place of linking them
    #[arg(long, requires = "into")]
    copy: bool,

    /// Print one JSON object a photo and line instead of the piles
    #[arg(long)]
    json: bool,

    /// Photos worked on at the same time [default: one a core]
    #[arg(long, value_name = "N")]
    jobs: Option<NonZeroUsize>,
}

/// Longer side of a picture on the page of photos to take again, in pixels, and its JPEG quality.
const PICTURE: u32 = 320;
const QUALITY: u8 = 82;

/// A photo and the pile it belongs to.
struct Sorted {
    path: PathBuf,
    pile: Pile,
    family: Option<String>,
    reasons: Vec<String>,
}

impl Sorted {
    fn of(path: &Path, answer: &PhotoAnswer) -> Self {
        let best = answer.marks.first().and_then(|m| m.candidates.first());
        let pile = Pile::of(answer.verdict);
        Self {
            path: path.to_owned(),
            pile,
            family: best
                .filter(|_| pile == Pile::Sure)
                .map(|c| c.family.clone()),
            reasons: answer.reasons.iter().map(|r| r.text.clone()).collect(),
        }
    }

    fn name(&self) -> String {
        readable_file_name(&self.path)
    }
}

pub(super) fn run(args: &SortArgs) -> Result<Outcome, Failure> {
    interrupt::listen();
    if let Some(into) = &args.into {
        check_empty(into)?;
    }
    let as_match = MatchArgs::plain(&args.paths, &args.library, NonZeroUsize::MIN, args.jobs);
    let ready = Ready::new(&as_match)?;
    let mut sorted: Vec<Sorted> = Vec::new();
    let outcome = each_answer(&as_match, &ready, |path, answer| {
        sorted.push(Sorted::of(path, answer));
        match (args.json, sorted.last()) {
            (true, Some(one)) => print(|out| write_json(one, out)),
            _ => Ok(()),
        }
    })?;
    if outcome == Outcome::Interrupted {
        return Ok(outcome);
    }
    if !args.json {
        print(|out| write_piles(&sorted, out))?;
    }
    if let Some(into) = &args.into {
        file_away(&sorted, into, args.copy)?;
        let page = into.join("again.html");
        write(
            &page,
            again_page(&again_rows(&sorted), &now().day()).as_bytes(),
        )?;
        if !args.json {
            print(|out| writeln!(out, "piles: {}", readable_path(into)))?;
        }
    }
    Ok(outcome)
}

/// An existing folder with anything in it is not touched.
fn check_empty(into: &Path) -> Result<(), Failure> {
    let taken = match fs::read_dir(into) {
        Ok(mut entries) => entries.next().is_some(),
        Err(e) => e.kind() != io::ErrorKind::NotFound,
    };
    if taken {
        let why = format!(
            "{} is no empty folder and was left as it is",
            readable_path(into)
        );
        return Err(Failure::new(&why, Some("name a new folder".to_owned())));
    }
    Ok(())
}

fn write_json(one: &Sorted, out: &mut dyn Write) -> io::Result<()> {
    let line = json!({
        "photo": one.path.to_string_lossy(),
        "pile": one.pile.word(),
        "family": one.family,
        "reasons": one.reasons,
    });
    writeln!(out, "{line}")
}

fn write_piles(sorted: &[Sorted], out: &mut dyn Write) -> io::Result<()> {
    for pile in Pile::ALL {
        let members: Vec<&Sorted> = sorted.iter().filter(|s| s.pile == pile).collect();
        if members.is_empty() {
            continue;
        }
        writeln!(out, "{} ({}): {}", pile.word(), members.len(), pile.says())?;
        for member in members {
            let what = member.family.as_ref().or(member.reasons.first());
            let what = what.map_or_else(String::new, |w| format!("  {}", readable(w)));
            writeln!(out, "  {}{what}", member.name())?;
        }
    }
    Ok(())
}

/// Links or copies every photo that could be read into its pile's folder.
fn file_away(sorted: &[Sorted], into: &Path, copy: bool) -> Result<(), Failure> {
    let mut taken: BTreeMap<PathBuf, usize> = BTreeMap::new();
    for one in sorted.iter().filter(|s| s.pile != Pile::Unread) {
        let folder = into.join(one.pile.word());
        let failed = |e: io::Error| {
            let why = format!("{} could not be filled: {e}", readable_path(&folder));
            Failure::new(&why, None)
        };
        fs::create_dir_all(&folder).map_err(failed)?;
        let target = free_name(&folder, &one.path, &mut taken);
        let original = fs::canonicalize(&one.path).map_err(failed)?;
        if copy {
            fs::copy(&original, &target).map(|_| ()).map_err(failed)?;
        } else {
            link(&original, &target).map_err(failed)?;
        }
    }
    Ok(())
}

/// The photo's own name; `IMG_1 (2).jpg` where a photo from another folder has it.
fn free_name(folder: &Path, photo: &Path, taken: &mut BTreeMap<PathBuf, usize>) -> PathBuf {
    let plain = folder.join(photo.file_name().unwrap_or(photo.as_os_str()));
    let count = taken.entry(plain.clone()).or_default();
    *count += 1;
    if *count == 1 {
        return plain;
    }
    let mut name = photo.file_stem().unwrap_or_default().to_owned();
    name.push(format!(" ({count})"));
    if let Some(ending) = photo.extension() {
        name.push(".");
        name.push(ending);
    }
    folder.join(name)
}

#[cfg(unix)]
fn link(original: &Path, target: &Path) -> io::Result<()> {
    std::os::unix::fs::symlink(original, target)
}

/// Elsewhere links need rights that few people have.
#[cfg(not(unix))]
fn link(original: &Path, target: &Path) -> io::Result<()> {
    fs::copy(original, target).map(|_| ())
}

fn again_rows(sorted: &[Sorted]) -> Vec<AgainRow> {
    let name = |at: usize| sorted.get(at).map(Sorted::name);
    let again = sorted
        .iter()
        .enumerate()
        .filter(|(_, s)| s.pile == Pile::Again);
    again
        .map(|(at, one)| AgainRow {
            photo: one.name(),
            reasons: one.reasons.clone(),
            before: at.checked_sub(1).and_then(name),
            after: name(at + 1),
            picture: picture(&one.path),
        })
        .collect()
}

fn picture(path: &Path) -> Option<Figure> {
    let limits = DecodeLimits::default();
    let bytes = crate::folder::read_bytes(path, &limits).ok()?;
    let pixels = frame::small(&photo::read_photo(&bytes, &limits).ok()?.pixels, PICTURE);
    Some(Figure {
        jpeg: frame::jpeg(&pixels, QUALITY)?,
        width: pixels.width(),
        height: pixels.height(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn photos_of_one_name_get_names_of_their_own() {
        let mut taken = BTreeMap::new();
        let names: Vec<PathBuf> = ["a/IMG_1.jpg", "b/IMG_1.jpg", "b/IMG_2", "c/IMG_2"]
            .iter()
            .map(|p| free_name(Path::new("look"), Path::new(p), &mut taken))
            .collect();
        let wanted = [
            "look/IMG_1.jpg",
            "look/IMG_1 (2).jpg",
            "look/IMG_2",
            "look/IMG_2 (2)",
        ];
        assert_eq!(names, wanted.map(PathBuf::from));
    }

    #[test]
    fn a_folder_with_something_in_it_is_left_alone() {
        let folder = tempfile::tempdir().expect("a folder");
        assert!(check_empty(folder.path()).is_ok());
        assert!(check_empty(&folder.path().join("new")).is_ok());
        std::fs::write(folder.path().join("x"), b"").expect("a file");
        assert!(check_empty(folder.path()).is_err());
    }
}

//! `library add`: more exemplars of a family, where they teach something.

use std::collections::BTreeSet;
use std::num::NonZeroUsize;
use std::path::{Path, PathBuf};

use clap::Args;

use super::confirmed::{Confirmed, glimpse};
use super::match_again::match_again;
use super::new_family::{Chosen, exemplars_word, picture};
use super::opened::{Opened, Remarks};
use super::reshape::{carry_out, id_of};
use super::teaching::{Bench, Candidate, Declined};
use super::{Failure, Outcome, hint, print};
use crate::decision::{Certainty, ContentHash};
use crate::library::FamilyId;
use crate::library::change::{self, ChangeError, Content, NewExemplar};
use crate::photo::{self, DecodeLimits};
use crate::report::copies::Glimpse;
use crate::report::file_stem;
use crate::workspace::{readable, readable_file_name, readable_path};

const EXAMPLES: &str = "\
Examples:
  footring library add mill-lane/crown IMG_2040.jpg
      A photo of which you decided that it shows the mark. It is judged by your other confirmed photos of the mark:
      where they are recognised no better with it, it is not taken, and the reason is told.
  footring library add mill-lane/crown scans/crown.png --anyway
      A picture of your own, whatever it teaches.";

/// What `library add` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct AddArgs {
    /// The family
    #[arg(value_name = "FAMILY")]
    family: String,

    /// Photos of lots (a path, a file name, the first digits of a hash), or files with a picture of the mark
    #[arg(value_name = "PHOTO|FILE", required = true)]
    pictures: Vec<PathBuf>,

    /// Take them whatever they teach
    #[arg(long)]
    anyway: bool,

    /// By how many degrees the pictures are to be turned clockwise to be read
    #[arg(
        long,
        value_name = "DEGREES",
        default_value = "0",
        allow_negative_numbers = true
    )]
    turn: f64,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,

    /// Photos worked on at the same time [default: one a core]
    #[arg(long, value_name = "N")]
    jobs: Option<NonZeroUsize>,
}

pub(super) fn run(args: &AddArgs) -> Result<Outcome, Failure> {
    let mut opened = Opened::new(args.workspace.as_deref(), Remarks::Errors)?;
    let id = id_of(&args.family)?;
    let jobs = super::intake::jobs(args.jobs);
    if !args.turn.is_finite() {
        return Err(Failure::new(&"--turn is no number of degrees", None));
    }
    let references = opened.references(jobs);
    let opened = opened;
    let family = opened
        .library
        .find(&id)
        .ok_or(ChangeError::NoFamily { id })?;
    let given: Vec<Option<ContentHash>> = args
        .pictures
        .iter()
        .map(|text| opened.workspace.find_photo(text).ok())
        .collect();
    let mut bench = Bench::new(&opened, family, references, &given, jobs)?;
    let mut taken: Vec<Candidate> = Vec::new();
    let mut declined = 0;
    for (text, photo) in args.pictures.iter().zip(given) {
        let candidate = match photo {
            Some(photo) => of_photo(&bench, photo, args),
            None => of_file(text, args.turn).map(Ok),
        }?;
        let judged = candidate.and_then(|c| match args.anyway {
            true => Ok((c, "taken as you wish".to_owned())),
            false => bench.judge(c, &taken),
        });
        match judged {
            Ok((candidate, why)) => {
                tell(&candidate.name, &why)?;
                bench.learn(&candidate);
                taken.push(candidate);
            }
            Err(Declined { name, why }) => {
                tell(&name, &format!("not taken: {why}"))?;
                declined += 1;
            }
        }
    }
    if declined > 0 && !args.anyway {
        hint(&"`--anyway` takes a picture whatever it teaches");
    }
    if taken.is_empty() {
        return Ok(Outcome::Done);
    }
    keep(&opened, &family.id, taken, args, jobs)
}

fn tell(name: &str, what: &str) -> Result<(), Failure> {
    print(|out| writeln!(out, "{}: {what}", readable(name)))
}

/// Adds them, and looks at what is open again.
fn keep(
    opened: &Opened,
    id: &FamilyId,
    taken: Vec<Candidate>,
    args: &AddArgs,
    jobs: usize,
) -> Result<Outcome, Failure> {
    let own: BTreeSet<ContentHash> = taken.iter().filter_map(|c| c.photo.clone()).collect();
    let pictures: Vec<NewExemplar> = taken.into_iter().map(|c| c.exemplar).collect();
    let before = opened.library.find(id).map_or(0, |f| f.exemplars.len());
    let count = exemplars_word(before + pictures.len());
    let draft = change::add_pictures(&opened.library, id, pictures)?;
    carry_out(opened, draft)?;
    print(|out| writeln!(out, "{id}: {count} now"))?;
    match_again(args.workspace.as_deref(), Some(id), &own, jobs)
}

/// The mark of a photo as the person decided on it.
fn of_photo(
    bench: &Bench<'_>,
    photo: ContentHash,
    args: &AddArgs,
) -> Result<Result<Candidate, Declined>, Failure> {
    let id = bench.family.id.as_str();
    let own: Vec<&Confirmed> = bench.decided.iter().filter(|c| c.photo == photo).collect();
    let places = bench.opened.workspace.sightings_of(&photo)?;
    let name = places
        .first()
        .map_or_else(|| photo.short().to_owned(), |s| readable_file_name(&s.path));
    if bench.is_cut(&photo) && !args.anyway {
        let why = "an exemplar was cut from this photo already".to_owned();
        return Ok(Err(Declined { name, why }));
    }
    let Some(found) = own.iter().find(|c| c.family == id) else {
        let why = match own.first() {
            Some(other) => format!("you decided that it shows {}", other.family),
            None => format!(
                "you have not decided that it shows {id}: {}",
                bench.opened.command(&["decide", &name, "--family", id])
            ),
        };
        return Ok(Err(Declined { name, why }));
    };
    if found.certainty != Certainty::Sure && !args.anyway {
        let why = "you decided `probably`, and what is not sure teaches nothing".to_owned();
        return Ok(Err(Declined { name, why }));
    }
    let crop = found.crop(bench.opened);
    let gone = || {
        let next = "run the intake of its folder again".to_owned();
        Failure::new(
            &format!("no picture of the mark in {name} is kept"),
            Some(next),
        )
    };
    let chosen = Chosen {
        photo: photo.clone(),
        name: found.name.clone(),
        lot: found.lot.clone(),
        mark: found.mark,
        crop: crop.ok_or_else(gone)?,
        turn: 0.0,
        is_own: bench.opened.is_own(&photo)?,
    };
    let exemplar = picture(&chosen, args.turn.to_radians()).ok_or_else(gone)?;
    let mut candidate = read(name, exemplar).map_err(|why| Failure::new(&why, None))?;
    candidate.glimpses.extend(glimpse(bench.opened, &photo));
    candidate.photo = Some(photo);
    Ok(Ok(candidate))
}

/// A file that the person has.
fn of_file(path: &Path, turn: f64) -> Result<Candidate, Failure> {
    let shown = readable_path(path);
    if turn != 0.0 {
        let why = format!("{shown} is a file of yours, and --turn is for photos of lots");
        return Err(Failure::new(&why, Some("turn it, then add it".to_owned())));
    }
    let bytes = std::fs::read(path).map_err(|e| {
        let why = format!("`{shown}` is no photo of a lot, and as a file it cannot be read ({e})");
        Failure::new(&why, None)
    })?;
    let name = readable_file_name(path);
    let (stem, end) = name.rsplit_once('.').unwrap_or((&name, "jpg"));
    let exemplar = NewExemplar {
        file: format!("{}.{}", file_stem(stem), file_stem(end)),
        content: Content::Bytes(bytes),
        quad: None,
        source: Some(format!("file {name}")),
        photo: None,
    };
    read(name, exemplar).map_err(|why| Failure::new(&why, None))
}

fn read(name: String, exemplar: NewExemplar) -> Result<Candidate, String> {
    let Content::Bytes(bytes) = &exemplar.content else {
        return Err(format!("{name} has no bytes"));
    };
    let picture = photo::read_photo(bytes, &DecodeLimits::default())
        .map_err(|e| format!("{name} cannot be used: {e}"))?;
    Ok(Candidate {
        hash: ContentHash::of(bytes).to_string(),
        glimpses: vec![Glimpse::of(&picture.pixels)],
        quad: exemplar.quad,
        photo: None,
        name,
        exemplar,
        picture,
    })
}

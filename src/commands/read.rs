//! `read`: reads date codes from photos, and keeps nothing.

use std::io::{self, Write};
use std::num::NonZeroUsize;
use std::path::{Path, PathBuf};

use clap::Args;
use image::ImageFormat;

use super::args::MatchArgs;
use super::each::each_answer;
use super::matching::Ready;
use super::opened::quoted;
use super::{Failure, Outcome, hint, interrupt, print, warning};
use crate::answer::{DateAnswer, MarkAnswer, PhotoAnswer, Verdict};
use crate::folder;
use crate::geometry::{Photo, Quad};
use crate::library::CODES_FILE;
use crate::photo::{self, DecodeLimits};
use crate::report::frame::{self, SharedFrame};
use crate::report::{self, readings, say_look, say_reading};
use crate::workspace::{readable, readable_path};

const EXAMPLES: &str = "\
Examples:
  footring read plate.jpg --library marks
      What the code of the mark may be, how likely each reading is, and what it would mean.
  footring read plate.jpg --library marks --crop code.png
      The same, and the code itself, straightened and enlarged.
  footring read sale/ --library marks --json
      One JSON object a line, as `footring match --json` prints it.

A code is looked for where the mark's codes.toml says that it stands. What the program reads is a
suggestion: look at the crop, then say what it is with `footring confirm`.";

/// What `read` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct ReadArgs {
    /// Photos, and folders of photos
    #[arg(value_name = "PHOTO", required = true)]
    paths: Vec<PathBuf>,

    /// The library: a folder of makers, with codes.toml where codes are known
    #[arg(long, value_name = "DIR")]
    library: PathBuf,

    /// Print one JSON object a photo and line
    #[arg(long)]
    json: bool,

    /// Write the code, straightened and enlarged, to this PNG; further ones get a number
    #[arg(long, value_name = "FILE")]
    crop: Option<PathBuf>,

    /// Photos worked on at the same time [default: one a core]
    #[arg(long, value_name = "N")]
    jobs: Option<NonZeroUsize>,
}

pub(super) fn run(args: &ReadArgs) -> Result<Outcome, Failure> {
    interrupt::listen();
    let as_match = MatchArgs::plain(
        &args.paths,
        &args.library,
        NonZeroUsize::MIN.saturating_add(4),
        args.jobs,
    );
    let ready = Ready::new(&as_match)?;
    if ready.settings.codes.is_empty() {
        tell_no_schemes(&args.library);
    }
    let mut crops = 0;
    each_answer(&as_match, &ready, |path, answer| {
        tell(args, path, answer, &mut crops)
    })
}

fn tell_no_schemes(library: &Path) {
    warning(&"no family of the library has a scheme of date codes, so none is looked for");
    hint(&format!(
        "describe a maker's codes in {}",
        readable_path(&library.join("MAKER").join(CODES_FILE))
    ));
}

/// Prints one photo's answer and writes its crops.
fn tell(
    args: &ReadArgs,
    path: &Path,
    answer: &PhotoAnswer,
    crops: &mut usize,
) -> Result<(), Failure> {
    if args.json {
        let line = serde_json::to_string(answer).map_err(|e| Failure::new(&e, None))?;
        print(|out| writeln!(out, "{line}"))?;
    } else {
        print(|out| write_words(answer, out))?;
    }
    let dates: Vec<&DateAnswer> = answer.marks.iter().flat_map(|m| &m.dates).collect();
    match &args.crop {
        Some(file) if dates.iter().any(|d| d.quad.is_some()) => {
            write_crops(file, path, &dates, crops)
        }
        _ => Ok(()),
    }
}

fn write_words(answer: &PhotoAnswer, out: &mut dyn Write) -> io::Result<()> {
    let name = readable(&answer.photo);
    if answer.verdict == Verdict::NotAPicture {
        return Ok(());
    }
    if answer.marks.is_empty() {
        return writeln!(out, "{name}: no mark found, so no code was looked for");
    }
    for (at, mark) in answer.marks.iter().enumerate() {
        let mut begin = name.clone();
        if answer.marks.len() > 1 {
            begin += &format!(", mark {}", at + 1);
        }
        if mark.dates.is_empty() {
            writeln!(out, "{begin}: {}", why_none(mark))?;
        }
        for date in &mark.dates {
            writeln!(out, "{begin} ({}): {}", date.family, say_look(date))?;
            for reading in readings(date) {
                writeln!(out, "    {}", say_reading(reading))?;
            }
            if let Some(first) = readings(date).next() {
                let code = quoted(&first.text);
                let photo = quoted(&name);
                writeln!(out, "    if so: footring confirm {photo} --code {code}")?;
            }
        }
    }
    Ok(())
}

fn why_none(mark: &MarkAnswer) -> String {
    let family = mark.candidates.first().map(|c| c.family.as_str());
    match (mark.verdict, family) {
        (Verdict::Named | Verdict::Choose, Some(family)) => {
            format!("no scheme of codes is known for `{family}`")
        }
        _ => "the mark is not identified, so no code was looked for".to_owned(),
    }
}

/// Writes every code of a photo. The first of all goes to the named file, the others beside it.
fn write_crops(
    file: &Path,
    path: &Path,
    dates: &[&DateAnswer],
    crops: &mut usize,
) -> Result<(), Failure> {
    let failed = |e: &dyn std::fmt::Display| {
        let why = format!("no crop of {}: {e}", readable_path(path));
        Failure::new(&why, None)
    };
    let bytes = folder::read_bytes(path, &DecodeLimits::default()).map_err(|e| failed(&e))?;
    let photo = photo::read_photo(&bytes, &DecodeLimits::default()).map_err(|e| failed(&e))?;
    let (w, h) = photo.pixels.dimensions();
    let whole = Quad::<Photo>::upright(0.0, 0.0, f64::from(w), f64::from(h));
    for date in dates {
        let quad = report::code_quad(date);
        let frame = quad.as_ref().and_then(SharedFrame::of);
        let crop = quad.zip(frame);
        let crop = crop.and_then(|(q, f)| frame::photo_mark(&photo.pixels, &whole, &q, f));
        let Some(crop) = crop else { continue };
        *crops += 1;
        let to = match *crops {
            1 => file.to_owned(),
            n => numbered(file, n),
        };
        let mut png = io::Cursor::new(Vec::new());
        crop.write_to(&mut png, ImageFormat::Png)
            .map_err(|e| failed(&e))?;
        super::reporting::write(&to, png.get_ref())?;
    }
    Ok(())
}

/// `code.png` as `code-2.png`.
fn numbered(file: &Path, number: usize) -> PathBuf {
    let part = |p: Option<&std::ffi::OsStr>| p.unwrap_or_default().to_os_string();
    let mut name = part(file.file_stem());
    name.push(format!("-{number}"));
    if let Some(end) = file.extension() {
        name.push(".");
        name.push(end);
    }
    file.with_file_name(name)
}

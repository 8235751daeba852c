//! `piece mark`: the mark of a piece from all its photos.

use std::path::PathBuf;

use clap::Args;
use image::RgbImage;
use image::imageops::{self, FilterType};
use serde_json::json;

use super::collection::Collection;
use super::intake::jobs;
use super::reporting::write;
use super::{Failure, Outcome, print};
use crate::report::per_cent;
use crate::service::fused::{FusedMark, fused_mark, undersides};
use crate::workspace::{readable, readable_path};

const EXAMPLES: &str = "\
Examples:
  footring piece mark 12
      Fuses the marks of all photos of piece 12 and matches the result once.
  footring piece mark 12 --out mark-12.png
      Also writes the single marks and the fused one side by side.

It tells the surer of two answers: that to the fused mark, and that to the surest of the single photos. With --json each
line has `piece`, `photos` (the one in whose frame the others were laid first), and the answers `fused` and `surest` as
`footring match --json` writes them; null where nothing can be fused. Nothing is decided by it: `footring decide` keeps your
word.";

/// What `piece mark` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct MarkArgs {
    /// The pieces, by their numbers
    #[arg(value_name = "PIECE", required = true)]
    pieces: Vec<i64>,

    /// Write the single marks and the fused one of a piece to this PNG file
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,

    /// Print one JSON object a piece and line
    #[arg(long)]
    json: bool,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,
}

pub(super) fn mark(args: &MarkArgs) -> Result<Outcome, Failure> {
    if args.out.is_some() && args.pieces.len() > 1 {
        return Err(Failure::new(
            &"--out takes the mark of one piece",
            Some("name one piece, or leave --out away".to_owned()),
        ));
    }
    let mut collection = Collection::open(args.workspace.as_deref())?;
    let references = collection.opened.references(jobs(None));
    for number in &args.pieces {
        let piece = collection.piece(*number)?;
        let found = fused_mark(&collection.opened, &references, &undersides(piece))?;
        tell(*number, found.as_ref(), &collection, args.json)?;
        if let (Some(file), Some(found)) = (&args.out, &found) {
            write(file, &png(&side_by_side(found))?)?;
            print(|out| writeln!(out, "  {}", readable_path(file)))?;
        }
    }
    Ok(Outcome::Done)
}

fn tell(
    number: i64,
    found: Option<&FusedMark>,
    collection: &Collection,
    as_json: bool,
) -> Result<(), Failure> {
    let files = |found: &FusedMark| -> Vec<String> {
        let each = found.photos.iter().map(|hash| collection.file(hash));
        each.collect()
    };
    if as_json {
        let line = json!({
            "piece": number,
            "photos": found.map(files),
            "fused": found.map(|f| &f.answer),
            "surest": found.map(FusedMark::surest),
        });
        return print(|out| writeln!(out, "{line}"));
    }
    let Some(found) = found else {
        let why = "fewer than two of its photos show a mark, are in reach, and can be laid over one another";
        return print(|out| writeln!(out, "piece {number}: nothing to fuse: {why}"));
    };
    print(|out| {
        let verdict = found.surest().verdict.word();
        writeln!(
            out,
            "piece {number}: {verdict}, from {}",
            files(found).join(" ")
        )?;
        for candidate in found
            .surest()
            .marks
            .iter()
            .take(1)
            .flat_map(|m| &m.candidates)
        {
            let family = readable(&candidate.family);
            let sure = per_cent(candidate.probability);
            writeln!(out, "  {sure:>9}  {family}")?;
        }
        Ok(())
    })
}

/// Side of one picture in pixels, and the gap between two.
const SIDE: u32 = 420;
const GAP: u32 = 8;

/// The middle of each single picture, and of the fused one last.
fn side_by_side(found: &FusedMark) -> RgbImage {
    let all: Vec<RgbImage> = found.singles().chain([found.picture()]).collect();
    let wide = all.len() as u32 * (SIDE + GAP) - GAP;
    let mut sheet = RgbImage::from_pixel(wide, SIDE, image::Rgb([255; 3]));
    for (at, picture) in all.iter().enumerate() {
        let small = imageops::resize(picture, SIDE, SIDE, FilterType::Triangle);
        imageops::replace(&mut sheet, &small, i64::from(at as u32 * (SIDE + GAP)), 0);
    }
    sheet
}

fn png(sheet: &RgbImage) -> Result<Vec<u8>, Failure> {
    let mut bytes = std::io::Cursor::new(Vec::new());
    sheet
        .write_to(&mut bytes, image::ImageFormat::Png)
        .map_err(|e| Failure::new(&e, None))?;
    Ok(bytes.into_inner())
}

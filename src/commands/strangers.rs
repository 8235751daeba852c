//! `strangers`: the marks that the library does not know, sorted into those that are one mark.

use std::io::{self, Write};
use std::num::NonZeroUsize;
use std::ops::ControlFlow;
use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use super::gathered::{Gathered, as_taken, crops, straight};
use super::intake::Bar;
use super::opened::{Opened, Remarks, now};
use super::reporting::write;
use super::{Failure, Outcome, print};
use crate::geometry::{Photo, Quad};
use crate::in_order::in_order;
use crate::report::frame::{self, SharedFrame};
use crate::report::{Figure, Likely, StrangerGroup, StrangerMark, strangers_page, write_strangers};
use crate::strangers::{Group, Grouping, Turned, turned};
use crate::workspace::{KeptCrop, readable_path};

const EXAMPLES: &str = "\
Examples:
  footring strangers
      Which photos show the same unknown mark, of all lots: the largest group first.
  footring strangers --html strangers.html
      The same as a contact sheet, in one file.
  footring library new mill-lane/crown --from lusab-babad
      Makes a family of a group that you know now.

A group is called after its earliest photo, whatever joins it later. Marks that you decided on are left out.
Groups that may be one are told apart and named as such: nothing is joined on a guess.

With --json each line has `group`, `marks` (`photo`, `hash`, `mark`, `lot`, the `probability` that it is one with the
others, and by how many degrees to `turn` it clockwise to lie like the first) and `perhaps` (`group`, `probability`).";

/// What `strangers` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct StrangersArgs {
    /// Only the marks of this lot (may be given again) [default: those of all lots]
    #[arg(long, value_name = "NAME")]
    lot: Vec<String>,

    /// Write a contact sheet to this file
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,

    /// Print one JSON object a group and line instead of text
    #[arg(long)]
    json: bool,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,

    /// Marks worked on at the same time [default: one a core]
    #[arg(long, value_name = "N")]
    jobs: Option<NonZeroUsize>,
}

/// Longer side of a picture on the contact sheet in pixels, and its JPEG quality: about 15 kB each.
const PICTURE: u32 = 320;
const QUALITY: u8 = 82;

pub(super) fn run(args: &StrangersArgs) -> Result<Outcome, Failure> {
    let mut opened = Opened::new(args.workspace.as_deref(), Remarks::Errors)?;
    let jobs = super::intake::jobs(args.jobs);
    let gathered = Gathered::watched(&mut opened, &args.lot, jobs, &Bar::new())?;
    if args.json {
        print(|out| write_json(&gathered, out))?;
    }
    let mut groups = told(&opened, &gathered);
    if !args.json && args.html.is_none() {
        print(|out| {
            write_strangers(&groups, out)?;
            next_steps(&opened, &groups, out)
        })?;
    }
    if let Some(file) = &args.html {
        add_pictures(&opened, &gathered, &mut groups, jobs)?;
        write(file, strangers_page(&groups, &now().day()).as_bytes())?;
        if !args.json {
            let marks = gathered.marks.len();
            print(|out| writeln!(out, "{}: {marks} marks", readable_path(file)))?;
        }
    }
    Ok(match opened.gaps {
        true => Outcome::Gaps,
        false => Outcome::Done,
    })
}

/// Probability of natural log-odds.
fn probability(log_odds: f64) -> f64 {
    1.0 / (1.0 + (-log_odds).exp())
}

/// The groups in words.
fn told(opened: &Opened, gathered: &Gathered) -> Vec<StrangerGroup> {
    let groups = gathered.grouping.groups.iter().enumerate();
    groups
        .map(|(at, group)| {
            let marks = group.marks.iter().zip(&group.ties);
            StrangerGroup {
                name: gathered.name(at),
                marks: marks
                    .map(|(&m, &tie)| {
                        let stranger = &gathered.marks[m];
                        StrangerMark {
                            photo: stranger.name.clone(),
                            mark: (stranger.marks_in_photo > 1).then_some(stranger.mark + 1),
                            lot: stranger.lot.clone(),
                            probability: probability(tie),
                            picture: None,
                        }
                    })
                    .collect(),
                perhaps: perhaps(gathered, at),
                command: opened.command(&[
                    "library",
                    "new",
                    "MAKER/MARK",
                    "--from",
                    &gathered.name(at),
                ]),
            }
        })
        .collect()
}

fn perhaps(gathered: &Gathered, group: usize) -> Vec<Likely> {
    let links = gathered.grouping.perhaps.iter();
    links
        .filter_map(|link| {
            let other = match link.groups {
                (a, b) if a == group => b,
                (a, b) if b == group => a,
                _ => return None,
            };
            Some(Likely {
                name: gathered.name(other),
                probability: probability(link.log_odds),
                picture: None,
            })
        })
        .collect()
}

fn next_steps(opened: &Opened, groups: &[StrangerGroup], out: &mut dyn Write) -> io::Result<()> {
    let Some(first) = groups.first() else {
        return Ok(());
    };
    let sheet = opened.command(&["strangers", "--html", "strangers.html"]);
    writeln!(out, "next:\n  {sheet}\n  {}", first.command)
}

/// To a thousandth: the pictures tell no more.
fn rounded(value: f64) -> f64 {
    (value * 1000.0).round() / 1000.0
}

fn write_json(gathered: &Gathered, out: &mut dyn Write) -> io::Result<()> {
    for (at, group) in gathered.grouping.groups.iter().enumerate() {
        let marks: Vec<_> = group
            .marks
            .iter()
            .zip(group.ties.iter().zip(&group.turns))
            .map(|(&m, (&tie, &turn))| {
                let stranger = &gathered.marks[m];
                json!({
                    "photo": stranger.name,
                    "hash": stranger.photo.as_str(),
                    "mark": stranger.mark + 1,
                    "lot": stranger.lot,
                    "probability": (group.marks.len() > 1).then(|| rounded(probability(tie))),
                    "turn": rounded(turn.to_degrees().rem_euclid(360.0)),
                })
            })
            .collect();
        let perhaps: Vec<_> = perhaps(gathered, at)
            .into_iter()
            .map(|l| json!({ "group": l.name, "probability": rounded(l.probability) }))
            .collect();
        let line = json!({ "group": gathered.name(at), "marks": marks, "perhaps": perhaps });
        writeln!(out, "{line}")?;
    }
    Ok(())
}

/// Makes the picture of every mark, and for each doubtful link one more of the second group's first mark.
fn add_pictures(
    opened: &Opened,
    gathered: &Gathered,
    groups: &mut [StrangerGroup],
    jobs: usize,
) -> Result<(), Failure> {
    let Grouping {
        groups: found,
        perhaps,
    } = &gathered.grouping;
    // Each group lies as its first mark was taken.
    let firsts = crops(opened, found.iter().map(|g| &gathered.marks[g.marks[0]]));
    let taken: Vec<f64> = firsts
        .map(|c| c.map_or(0.0, |(crop, _)| as_taken(&crop)))
        .collect();
    let lying = |(at, group): (usize, &Group)| {
        let turns = group.turns.iter().map(|turn| turn + taken[at]);
        group.marks.iter().copied().zip(turns).collect::<Vec<_>>()
    };
    let own = found.iter().enumerate().flat_map(lying);
    let other = perhaps
        .iter()
        .map(|p| (found[p.groups.1].marks[0], p.turn + taken[p.groups.0]));
    let (marks, turns): (Vec<usize>, Vec<f64>) = own.chain(other).unzip();
    let materials = crops(opened, marks.iter().map(|&m| &gathered.marks[m])).zip(turns);
    let mut made: Vec<Option<Figure>> = Vec::with_capacity(marks.len());
    let make = |(crop, turn): (Option<(KeptCrop, Quad<Photo>)>, f64)| picture(&crop?, turn);
    in_order(materials, jobs, make, |result| {
        made.push(result.ok().flatten());
        ControlFlow::<()>::Continue(())
    })
    .map_err(|e| Failure::new(&format!("no threads to work with: {e}"), None))?;
    let mut made = made.into_iter();
    for mark in groups.iter_mut().flat_map(|g| &mut g.marks) {
        mark.picture = made.next().flatten();
    }
    for (link, picture) in perhaps.iter().zip(made) {
        let name = gathered.name(link.groups.1);
        let mut likely = groups[link.groups.0].perhaps.iter_mut();
        if let Some(likely) = likely.find(|l| l.name == name) {
            likely.picture = picture;
        }
    }
    Ok(())
}

/// The mark with a margin, turned.
fn picture(crop: &(KeptCrop, Quad<Photo>), turn: f64) -> Option<Figure> {
    let (picture, quad) = straight(crop)?;
    let w = picture.pixels.width();
    // Turning needs no more than what is shown.
    let pixels = frame::small(&picture.pixels, 3 * PICTURE);
    let k = f64::from(pixels.width()) / f64::from(w.max(1));
    let quad = Quad::from_array(quad.to_array().map(|[x, y]| [x * k, y * k]));
    let Turned { pixels, quad } = turned(&pixels, &quad, turn);
    let (w, h) = pixels.dimensions();
    let whole = Quad::upright(0.0, 0.0, f64::from(w), f64::from(h));
    let shown = frame::photo_mark(&pixels, &whole, &quad, SharedFrame::of(&quad)?)?;
    let shown = frame::small(&shown, PICTURE);
    Some(Figure {
        jpeg: frame::jpeg(&shown, QUALITY)?,
        width: shown.width(),
        height: shown.height(),
    })
}

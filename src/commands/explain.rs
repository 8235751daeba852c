//! `explain`: tells what an answer rests on.

use std::io::{self, Write};
use std::num::NonZeroUsize;
use std::path::PathBuf;

use clap::Args;

use super::args::MatchArgs;
use super::each::each_answer;
use super::matching::Ready;
use super::{Failure, Outcome, interrupt, print};
use crate::answer::{MarkQuality, MarkState, PhotoAnswer, Quality, Verdict};
use crate::report::{heading, say_evidence, what_next};
use crate::workspace::readable;

const EXAMPLES: &str = "\
Examples:
  footring explain plate.jpg --library marks
      Which families were laid over the mark, how well each fits, and why not the next one.

Ink that lines up at 1.00 is one and the same; siblings that share an emblem reach 0.9 as well. What
decides among them is the look at both side by side: log-odds of +3 are twenty to one for one mark.";

/// What `explain` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct ExplainArgs {
    /// Photos, and folders of photos
    #[arg(value_name = "PHOTO", required = true)]
    paths: Vec<PathBuf>,

    /// The library: a folder of makers
    #[arg(long, value_name = "DIR")]
    library: PathBuf,

    /// Photos worked on at the same time [default: one a core]
    #[arg(long, value_name = "N")]
    jobs: Option<NonZeroUsize>,
}

pub(super) fn run(args: &ExplainArgs) -> Result<Outcome, Failure> {
    interrupt::listen();
    let as_match = MatchArgs::plain(
        &args.paths,
        &args.library,
        NonZeroUsize::MIN.saturating_add(4),
        args.jobs,
    );
    let ready = Ready::new(&as_match)?;
    each_answer(&as_match, &ready, |_, answer| {
        print(|out| write_words(answer, out))
    })
}

fn write_words(answer: &PhotoAnswer, out: &mut dyn Write) -> io::Result<()> {
    if answer.verdict == Verdict::NotAPicture {
        return Ok(());
    }
    let said = heading(answer.verdict).to_lowercase();
    writeln!(out, "{}: {said}", readable(&answer.photo))?;
    for reason in &answer.reasons {
        writeln!(out, "  {}", reason.text)?;
    }
    for (at, mark) in answer.marks.iter().enumerate() {
        writeln!(
            out,
            "  mark {}, strength of the strike {:.1}:",
            at + 1,
            mark.strike
        )?;
        if let Some(here) = &mark.quality {
            writeln!(out, "    here: {}", say_here(here))?;
        }
        for line in say_state(mark.state.as_ref()) {
            writeln!(out, "    the piece: {line}")?;
        }
        for line in say_evidence(mark) {
            writeln!(out, "    {line}")?;
        }
    }
    if let Some(quality) = &answer.quality {
        writeln!(out, "  {}", say_quality(quality))?;
    }
    writeln!(out, "  next: {}", what_next(answer.verdict))
}

/// `blur 2.4 px beyond that of a sharp photo, moved by 9 px, letters 18 px high, 12 % under reflections`.
fn say_here(here: &MarkQuality) -> String {
    let mut said = vec![match here.defocus {
        sigma if sigma >= 0.1 => format!("blur {sigma:.1} px beyond that of a sharp photo"),
        _ => "sharp".to_owned(),
    }];
    if here.motion >= 1.0 {
        said.push(format!("moved by {:.0} px", here.motion));
    }
    if let Some(high) = here.letters {
        said.push(format!("letters {high:.0} px high"));
    }
    said.push(format!("{:.0} % under reflections", 100.0 * here.glare));
    if let Some(cut) = here.cut.filter(|c| *c >= 0.005) {
        said.push(format!("{:.0} % outside the frame", 100.0 * cut));
    }
    if let Some(tilt) = here.tilt.filter(|t| *t > 0.0) {
        said.push(format!("seen at {tilt:.0}\u{b0} from straight above"));
    }
    if here.hole > 0.0 {
        said.push(format!(
            "a hole {:.0} % as wide as the mark",
            100.0 * here.hole
        ));
    }
    if here.label > 0.0 {
        said.push(format!("a label over {:.0} % of it", 100.0 * here.label));
    }
    said.join(", ")
}

/// What the strike lacks or bears beside the exemplar; nothing where no exemplar fits.
fn say_state(state: Option<&MarkState>) -> Vec<String> {
    let Some(state) = state else {
        return Vec::new();
    };
    let lost = state.faded.max(state.worn);
    let mut said = vec![match lost > 0.0 {
        true => format!("{:.0} % of the ink is not there", 100.0 * lost),
        false => "hardly any ink lacks".to_owned(),
    }];
    if state.covered >= 0.01 {
        said.push(format!("{:.0} % is covered", 100.0 * state.covered));
    }
    said
}

fn say_quality(quality: &Quality) -> String {
    let mut said = format!(
        "photo: blur {:.1} px, lightness {:.0} of 100, {:.1} % under reflections",
        quality.sharpness,
        quality.exposure,
        100.0 * quality.glare
    );
    if quality.scale > 0.0 {
        said += &format!(", mark {:.0} px long", quality.scale);
    }
    said
}

//! `show`: one mark made legible, beside the library's, on one sheet.

use std::ffi::OsString;
use std::io::Cursor;
use std::num::NonZeroUsize;
use std::path::{Path, PathBuf};

use clap::Args;
use image::{ImageFormat, RgbImage};

use super::args::MatchArgs;
use super::legible::{Ground, Laid, lay, views};
use super::mark_sheet::{draw, title};
use super::matching::{Ready, examine};
use super::opened::{Opened, Remarks, quoted};
use super::reporting::write;
use super::subject::Subject;
use super::{Failure, Outcome, hint, print};
use crate::answer::{MarkAnswer, PhotoAnswer, Verdict};
use crate::decision::{Decision, Statement, Topic};
use crate::folder;
use crate::identify::Settings;
use crate::library::{FamilyId, Library};
use crate::photo::{self, DecodeLimits};
use crate::references::References;
use crate::report::frame;
use crate::rescue::words::say_differences;
use crate::rescue::{Rescue, Size};
use crate::service::eye_sheet::WORTH_LAYING;
use crate::workspace::{WorkspaceError, readable, readable_file_name, readable_path};

const EXAMPLES: &str = "\
Examples:
  footring show plate.jpg --library marks
      Writes plate-mark.png: the mark, its ink made legible, the library's mark, and where they differ.
  footring show IMG_2031.jpg
      The same for a photo of a lot; its kept crop will do where the photo itself is gone.
  footring show IMG_2031.jpg --against mill-lane/crown --out crown.jpg
      Beside a family that you name.

The sheet is for your eye. It says where strokes differ, not what that means.";

/// What `show` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct ShowArgs {
    /// The photo: a file, or for a lot its name or the first digits of its hash
    #[arg(value_name = "PHOTO")]
    photo: PathBuf,

    /// Look at the photo with this library and keep nothing
    #[arg(long, value_name = "DIR", conflicts_with = "workspace")]
    library: Option<PathBuf>,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,

    /// Which mark of the photo, from 1 [default: the first]
    #[arg(long, value_name = "N")]
    mark: Option<NonZeroUsize>,

    /// Lay this family's mark beside it, whatever the program says
    #[arg(long, value_name = "FAMILY")]
    against: Option<String>,

    /// The picture to write, .png or .jpg [default: the photo's name with -mark.png, in this folder]
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

/// JPEG quality of the sheet: small letters stay clean.
const QUALITY: u8 = 92;

/// A photo with its answer, and the library to compare with.
pub(super) struct Shown {
    pub(super) name: String,
    pub(super) answer: PhotoAnswer,
    /// The mark that is meant, counted from 0.
    pub(super) mark: Option<usize>,
    pub(super) decision: Option<Decision>,
    pub(super) ground: Ground,
    pub(super) library: Library,
    references: References,
    gaps: bool,
}

impl Shown {
    pub(super) fn mark(&self) -> Option<&MarkAnswer> {
        self.answer.marks.get(self.mark?)
    }

    /// The family to lay beside: the named one, the person's, or what the program says.
    fn family(&self, against: Option<&str>) -> Result<Option<String>, Failure> {
        if let Some(named) = against {
            return find_family(&self.library, named).map(Some);
        }
        if let Some(Statement::Family(family)) = self.decision.as_ref().map(|d| &d.statement) {
            let known = FamilyId::parse(family)
                .ok()
                .and_then(|id| self.library.find(&id));
            return Ok(known.map(|f| f.id.to_string()));
        }
        let Some(mark) = self.mark() else {
            return Ok(None);
        };
        let best = mark.candidates.first().filter(|c| match mark.verdict {
            Verdict::Named | Verdict::Choose => true,
            Verdict::Reshoot => c.probability >= WORTH_LAYING,
            _ => false,
        });
        Ok(best.map(|c| c.family.clone()))
    }
}

pub(super) fn run(args: &ShowArgs) -> Result<Outcome, Failure> {
    let shown = match &args.library {
        Some(library) => of_library(args, library)?,
        None => of_workspace(args)?,
    };
    let out = out_file(args, &shown)?;
    let format = format_of(&out)?;
    let family = shown.family(args.against.as_deref())?;
    let laid = match (&family, shown.mark()) {
        (Some(family), Some(mark)) => lay(
            &shown.library,
            &shown.references,
            &shown.ground,
            mark,
            family,
        ),
        _ => None,
    };
    if let (Some(family), None, Some(_)) = (&args.against, &laid, shown.mark()) {
        let why = format!(
            "no picture of `{}` could be laid over this mark",
            readable(family)
        );
        return Err(Failure::new(&why, None));
    }
    let made = views(
        &shown.ground,
        &shown.answer,
        shown.mark(),
        laid.as_ref(),
        Size::CLOSE,
    )
    .ok_or_else(|| Failure::new(&format!("the mark in {} has no area", shown.name), None))?;
    let sheet = draw(&shown, &made, laid.as_ref());
    write(&out, &encoded(&sheet, format)?)?;
    tell(&shown, laid.as_ref(), &made, &out)?;
    Ok(match shown.gaps {
        true => Outcome::Gaps,
        false => Outcome::Done,
    })
}

fn of_library(args: &ShowArgs, library: &Path) -> Result<Shown, Failure> {
    let photos = [args.photo.clone()];
    let as_match = MatchArgs::plain(&photos, library, NonZeroUsize::MIN.saturating_add(4), None);
    afresh(args, Ready::new(&as_match)?)
}

/// A photo of a lot as it was answered; another file is looked at with the workspace's library.
fn of_workspace(args: &ShowArgs) -> Result<Shown, Failure> {
    let mut opened = Opened::new(args.workspace.as_deref(), Remarks::Errors)?;
    let references = opened.references(super::intake::jobs(None));
    let photo = match opened.workspace.find_photo(&args.photo) {
        Ok(photo) => photo,
        Err(WorkspaceError::NotTakenIn { .. }) => {
            let ready = Ready {
                library: opened.library,
                references,
                settings: Settings::default(),
                gaps: opened.gaps,
            };
            return afresh(args, ready);
        }
        Err(other) => return Err(other.into()),
    };
    let subject = Subject::find(&opened, &args.photo)?;
    let mark = match subject.marked(args.mark)? {
        None if !subject.marks.is_empty() => Some(0),
        other => other,
    };
    let (own, attachment) = subject.own();
    let decision = match mark {
        Some(mark) => attachment.of_mark_on(mark, &Topic::Identity, &own),
        None => attachment.of_photo_on(&Topic::Identity, &own),
    };
    let decision = decision.cloned();
    let answered = opened.cache.answer(&photo, &opened.key())?;
    let answer = answered.map(|a| a.answer).ok_or_else(|| {
        let why = format!("{} was not looked at yet", subject.name);
        Failure::new(&why, Some("run the intake again".to_owned()))
    })?;
    let ground = Ground::of(&opened, &photo, mark).ok_or_else(|| {
        let why = format!(
            "{} is out of reach, and no picture of it is kept",
            subject.name
        );
        Failure::new(
            &why,
            Some("bring the photo back and name its file".to_owned()),
        )
    })?;
    Ok(Shown {
        name: subject.name,
        answer,
        mark,
        decision,
        ground,
        gaps: opened.gaps,
        library: opened.library,
        references,
    })
}

fn afresh(args: &ShowArgs, ready: Ready) -> Result<Shown, Failure> {
    let (answer, failure) = examine(&args.photo, &ready, false);
    let failed = |e: &dyn std::fmt::Display| {
        Failure::new(&format!("{}: {e}", readable_path(&args.photo)), None)
    };
    if let Some(failure) = failure {
        return Err(failed(&failure));
    }
    let limits = DecodeLimits::default();
    let bytes = folder::read_bytes(&args.photo, &limits).map_err(|e| failed(&e))?;
    let pixels = photo::read_photo(&bytes, &limits)
        .map_err(|e| failed(&e))?
        .pixels;
    let found = answer.marks.len();
    let mark = match args.mark.map(NonZeroUsize::get) {
        Some(n) if n > found => {
            let marks = if found == 1 { "mark" } else { "marks" };
            return Err(failed(&format!("{found} {marks} found, no mark {n}")));
        }
        Some(n) => Some(n - 1),
        None => (found > 0).then_some(0),
    };
    Ok(Shown {
        name: readable_file_name(&args.photo),
        answer,
        mark,
        decision: None,
        ground: Ground::whole(pixels),
        library: ready.library,
        references: ready.references,
        gaps: ready.gaps,
    })
}

fn find_family(library: &Library, named: &str) -> Result<String, Failure> {
    let found = FamilyId::parse(named).ok().and_then(|id| library.find(&id));
    found.map(|f| f.id.to_string()).ok_or_else(|| {
        let near = library
            .families
            .keys()
            .map(|id| (strsim::jaro_winkler(id.as_str(), named), id))
            .max_by(|a, b| a.0.total_cmp(&b.0));
        let next = near.map(|(_, id)| format!("the nearest name there is `{id}`"));
        Failure::new(
            &format!("the library has no family `{}`", readable(named)),
            next,
        )
    })
}

/// Where the sheet goes; a file of that name is left as it is unless the person named it.
fn out_file(args: &ShowArgs, shown: &Shown) -> Result<PathBuf, Failure> {
    if let Some(out) = &args.out {
        return Ok(out.clone());
    }
    let mut name = match args.photo.file_stem() {
        Some(stem) if args.photo.extension().is_some() => stem.to_owned(),
        _ => OsString::from(shown.answer.hash.as_deref().map_or("photo", |h| &h[..12])),
    };
    name.push("-mark");
    if let Some(n) = args.mark {
        name.push(n.to_string());
    }
    name.push(".png");
    let out = PathBuf::from(name);
    if out.exists() {
        let why = format!(
            "{} is there already and was left as it is",
            readable_path(&out)
        );
        return Err(Failure::new(
            &why,
            Some("name another file: --out FILE.png".to_owned()),
        ));
    }
    Ok(out)
}

fn format_of(out: &Path) -> Result<ImageFormat, Failure> {
    let ending = out.extension().map(|e| e.to_string_lossy().to_lowercase());
    match ending.as_deref() {
        Some("png") => Ok(ImageFormat::Png),
        Some("jpg" | "jpeg") => Ok(ImageFormat::Jpeg),
        _ => {
            let why = format!("{} is neither .png nor .jpg", readable_path(out));
            Err(Failure::new(
                &why,
                Some("name such a file: --out FILE.png".to_owned()),
            ))
        }
    }
}

fn encoded(sheet: &RgbImage, format: ImageFormat) -> Result<Vec<u8>, Failure> {
    if format == ImageFormat::Jpeg {
        return frame::jpeg(sheet, QUALITY)
            .ok_or_else(|| Failure::new(&"the sheet is too large for a JPEG: write a .png", None));
    }
    let mut bytes = Cursor::new(Vec::new());
    sheet
        .write_to(&mut bytes, format)
        .map_err(|e| Failure::new(&format!("the sheet could not be written: {e}"), None))?;
    Ok(bytes.into_inner())
}

fn tell(shown: &Shown, laid: Option<&Laid>, made: &Rescue, out: &Path) -> Result<(), Failure> {
    let beside = match (laid, shown.mark) {
        (Some(laid), _) => format!("beside {}", readable(&laid.family)),
        (None, Some(_)) => "alone: no mark of the library is laid over it".to_owned(),
        (None, None) => "whole: no mark was found in it".to_owned(),
    };
    let title = title(shown);
    print(|to| {
        writeln!(to, "{}: {title}, {beside}", readable_path(out))?;
        match &made.beside {
            Some(beside) => writeln!(to, "  {}", say_differences(&beside.told)),
            None => Ok(()),
        }
    })?;
    let nearest = shown.mark().and_then(|m| m.candidates.first());
    if let (None, Some(nearest)) = (laid, nearest) {
        hint(&format!(
            "the nearest of the library is no match; to see it all the same, add --against {}",
            quoted(&nearest.family)
        ));
    }
    Ok(())
}

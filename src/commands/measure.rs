//! `measure`: how large the marks of a photo are on the piece, and which variant that leaves.

use std::path::PathBuf;

use clap::Args;

use super::opened::{Opened, Remarks, now};
use super::reshape::{carry_out, id_of};
use super::subject::Subject;
use super::{Failure, Outcome, hint, print};
use crate::answer::{MarkAnswer, Verdict};
use crate::decision::{About, Certainty, Statement, Topic};
use crate::geometry::Quad;
use crate::library::{Family, FamilyId, change};
use crate::sizes::{Size, Span, read_point};
use crate::workspace::{Said, readable};

const EXAMPLES: &str = "\
Examples:
  footring measure IMG_2031.jpg --from 310,1422 --to 2210,1430 --mm 50 --error 0.3
      Two points of a ruler in the photo, in its pixels, and the length between them: marked once, it stays with the
      photo. A coin or the foot ring does as well: two points straight across, and the diameter.
  footring measure IMG_2031.jpg
      How large its marks are, and which variants of their families that leaves.
  footring measure IMG_2031.jpg --save mill-lane/crown --variant small
      The same, kept as the size of a variant.

A size is told with its error: that of the length, of the points, of a camera held askew, and of the mark's box. Variants
are told apart only where they differ by more than three times that.";

/// What `measure` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct MeasureArgs {
    /// The photo: a path, its file name in a lot, or the first digits of its hash
    #[arg(value_name = "PHOTO")]
    photo: PathBuf,

    /// One end of a known length, in pixels of the upright photo
    #[arg(long, value_name = "X,Y", requires_all = ["to", "mm"])]
    from: Option<String>,

    /// The other end
    #[arg(long, value_name = "X,Y", requires = "from")]
    to: Option<String>,

    /// The length between them
    #[arg(long, value_name = "MM", requires = "from")]
    mm: Option<f64>,

    /// By how much that may be off, in mm
    #[arg(long, value_name = "MM", default_value = "0.5", requires = "from")]
    error: f64,

    /// Keep the size of the photo's one mark as that of this family
    #[arg(long, value_name = "FAMILY")]
    save: Option<String>,

    /// Of this variant of the family
    #[arg(long, value_name = "VARIANT", requires = "save")]
    variant: Option<String>,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,
}

pub(super) fn run(args: &MeasureArgs) -> Result<Outcome, Failure> {
    let mut opened = Opened::new(args.workspace.as_deref(), Remarks::Errors)?;
    let subject = Subject::find(&opened, &args.photo)?;
    if let Some(span) = span(args)? {
        let (own, attachment) = subject.own();
        let about = About::Photo(subject.photo.clone());
        let before = subject.replaced(&about, &Topic::Scale, &own, &attachment);
        let said = Said {
            about,
            statement: Statement::Scale(span.to_string()),
            certainty: Certainty::Sure,
            replaces: before.map(|d| d.number),
        };
        let decision = opened.workspace.decide(now(), said)?;
        subject.tell(&decision, "")?;
    }
    let subject = Subject::find(&opened, &args.photo)?;
    let sizes = sizes(&opened, &subject, args)?;
    print(|out| {
        if sizes.is_empty() {
            writeln!(out, "{}: no mark was found to measure", subject.name)?;
        }
        for (at, size) in sizes.iter().enumerate() {
            writeln!(
                out,
                "{}, mark {}: {size} on its longer side",
                subject.name,
                at + 1
            )?;
            for line in variants(&opened, &subject, at, *size) {
                writeln!(out, "  {line}")?;
            }
        }
        Ok(())
    })?;
    match &args.save {
        Some(family) => save(&opened, family, args.variant.as_deref(), &sizes),
        None => Ok(Outcome::Done),
    }
}

/// What the options say of the photo's scale.
fn span(args: &MeasureArgs) -> Result<Option<Span>, Failure> {
    let (Some(from), Some(to), Some(mm)) = (&args.from, &args.to, args.mm) else {
        return Ok(None);
    };
    let point = |text: &String| {
        let wrong = || {
            let next = "write it as 310,1422: pixels from the left and from the top".to_owned();
            Failure::new(&format!("`{}` is no point", readable(text)), Some(next))
        };
        read_point(text).ok_or_else(wrong)
    };
    let length = Size::new(mm, args.error).ok_or_else(|| {
        Failure::new(&"the length must be above 0, and its error not below", None)
    })?;
    let span = Span {
        ends: [point(from)?, point(to)?],
        length,
    };
    match span.scale() {
        Some(_) => Ok(Some(span)),
        None => {
            let next = "take two points further apart: some hundred pixels at least".to_owned();
            Err(Failure::new(
                &"the points are too near to one another",
                Some(next),
            ))
        }
    }
}

/// The sizes of the photo's marks by the length that the person marked.
fn sizes(opened: &Opened, subject: &Subject, args: &MeasureArgs) -> Result<Vec<Size>, Failure> {
    let (own, attachment) = subject.own();
    let said = attachment.of_photo_on(&Topic::Scale, &own);
    let scale = said.and_then(|d| match &d.statement {
        Statement::Scale(span) => span.parse::<Span>().ok()?.scale(),
        _ => None,
    });
    let scale = scale.ok_or_else(|| {
        let why = format!("nothing of known length is marked in {}", subject.name);
        let photo = args.photo.to_string_lossy();
        let line = opened.command(&[
            "measure", &photo, "--from", "X,Y", "--to", "X,Y", "--mm", "LENGTH",
        ]);
        Failure::new(&why, Some(line))
    })?;
    let marks = subject.marks.iter();
    let sizes = marks.filter_map(|m| scale.of_mark(&Quad::from_array(m.quad)));
    Ok(sizes.collect())
}

/// The family of a mark: as decided, else as named.
fn family<'o>(opened: &'o Opened, subject: &Subject, at: usize) -> Option<&'o Family> {
    let (own, attachment) = subject.own();
    let mark: &MarkAnswer = subject.marks.get(at)?;
    let id = match attachment.of_mark_on(at, &Topic::Identity, &own) {
        Some(decision) => match &decision.statement {
            Statement::Family(id) => id.clone(),
            _ => return None,
        },
        None if mark.verdict == Verdict::Named => mark.candidates.first()?.family.clone(),
        None => return None,
    };
    opened.library.find(&FamilyId::parse(&id).ok()?)
}

/// What the size says of the variants of the mark's family.
fn variants(opened: &Opened, subject: &Subject, at: usize, size: Size) -> Vec<String> {
    let Some(family) = family(opened, subject, at) else {
        return Vec::new();
    };
    let own = family.record.size.map(|s| (family.name.clone(), s));
    let variants = family.variants.iter();
    let known = variants.filter_map(|(name, v)| Some((name.clone(), v.size?)));
    let told = own.into_iter().chain(known).map(|(name, known)| {
        let name = readable(&name);
        match size.is_apart(known) {
            true => format!("not {name}, which is {known}"),
            false => format!("may be {name}, which is {known}"),
        }
    });
    told.collect()
}

fn save(
    opened: &Opened,
    family: &str,
    variant: Option<&str>,
    sizes: &[Size],
) -> Result<Outcome, Failure> {
    let [size] = sizes else {
        let why = format!(
            "the photo has {} marks, and one is to be measured",
            sizes.len()
        );
        return Err(Failure::new(&why, None));
    };
    let id = id_of(family)?;
    let draft = change::measure(&opened.library, &id, variant, *size)?;
    let what = draft.what().to_owned();
    carry_out(opened, draft)?;
    print(|out| writeln!(out, "{what}"))?;
    hint(&opened.command(&["library", "show", id.as_str()]));
    Ok(Outcome::Done)
}

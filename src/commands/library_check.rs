//! `library check`: how good the library is, on the person's own photos.

use std::collections::{BTreeMap, BTreeSet};
use std::num::NonZeroUsize;
use std::path::PathBuf;

use super::check_fit::fit;
use super::check_told::Found;
use super::confirmed::{Confirmed, Origins, Pieces, decided};
use super::gathered::each;
use super::intake::progress;
use super::legible::{self, Ground};
use super::met::met;
use super::opened::{Opened, Remarks};
use super::reporting::write;
use super::reshape::counted;
use super::{Failure, Outcome, print};
use crate::answer::{MarkAnswer, Means, Role, Verdict};
use crate::decision::blind::fared;
use crate::decision::{Certainty, ContentHash};
use crate::geometry::{Photo, Quad};
use crate::library::{Exemplar, Library};
use crate::photo::{self, DecodeLimits, UprightPhoto};
use crate::references::References;
use crate::report::{Pair, check_page, per_cent};
use crate::rescue::{Beside, Size, Told};
use crate::service::report_page::{Wanted, exemplar_picture, figure};
use crate::trial::{self, Confusion, Source, Trial, tally};
use crate::workspace::{readable_file_name, readable_path};
use clap::Args;

const EXAMPLES: &str = "\
Examples:
  footring library check
      Every confirmed photo and every exemplar, each tried without what stems from its own piece.
  footring library check --most 50 --json
      Fifty of each, taken evenly, and everything as one JSON object.
  footring library check --html check.html
      A page to look at, with pictures.

A photo is tried twice: as one of its family, and as a stranger, with its family left out. Photos
that you decided `probably` are not tried. It takes as long as matching each twice.";

/// What `library check` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct CheckArgs {
    /// Try at most this many photos, and as many exemplars, taken evenly
    #[arg(long, value_name = "N")]
    most: Option<NonZeroUsize>,

    /// Print one JSON object
    #[arg(long)]
    json: bool,

    /// Write a page with pictures of where the most easily confused families differ
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,

    /// Set the limit from which on a family is named, and how common marks are that the library does not have, to what
    /// your photos and your finished lots say
    #[arg(long)]
    fit: bool,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,

    /// Photos worked on at the same time [default: one a core]
    #[arg(long, value_name = "N")]
    jobs: Option<NonZeroUsize>,
}

/// Something to try.
struct Probe {
    source: Source,
    family: String,
    name: String,
    /// The photo that it is, or that it was cut from.
    photo: Option<ContentHash>,
    /// Content hash of an exemplar.
    hash: Option<String>,
    from: From,
}

/// Where its picture is.
enum From {
    Lot(Confirmed),
    File(PathBuf, Quad<Photo>),
}

impl Probe {
    fn picture(&self, opened: &Opened) -> Option<(UprightPhoto, Quad<Photo>)> {
        match &self.from {
            From::Lot(confirmed) => confirmed.picture(opened),
            From::File(path, quad) => {
                let bytes = std::fs::read(path).ok()?;
                let picture = photo::read_photo(&bytes, &DecodeLimits::default()).ok()?;
                Some((picture, *quad))
            }
        }
    }
}

pub(super) fn run(args: &CheckArgs) -> Result<Outcome, Failure> {
    let mut opened = Opened::new(args.workspace.as_deref(), Remarks::Errors)?;
    let jobs = super::intake::jobs(args.jobs);
    let references = opened.references(jobs);
    let opened = opened;
    let decided = decided(&opened)?;
    let origins = Origins::new(&opened, &decided);
    let sure: Vec<Confirmed> = decided
        .into_iter()
        .filter(|c| c.certainty == Certainty::Sure)
        .collect();
    let mut probes = some(sure.iter().map(of_photo).collect(), args.most);
    probes.extend(some(
        of_exemplars(&opened, &references, &origins),
        args.most,
    ));
    let photos = sure.iter().map(|c| &c.photo);
    let photos = photos.chain(probes.iter().filter_map(|p| p.photo.as_ref()));
    let pieces = Pieces::new(&opened, photos)?;
    let trials = try_all(&opened, &references, &origins, &pieces, probes, jobs)?;
    let now = opened.named_at();
    let history = opened.workspace.history()?;
    let found = Found {
        limit: trial::limit(&trials, now),
        now,
        own: fared(&history, &|id| opened.follow(id)).to_string(),
        tally: tally(&trials),
        confirmed: sure.len(),
        exemplars: counts(&opened),
        unseen: unseen(&opened, &sure)?,
        met: met(&opened, &references, &origins)?,
        share: opened.strangers().share(),
    };
    if let Some(file) = &args.html {
        let pairs = pairs(&opened, &references, &found, jobs)?;
        let page = check_page(&found.page(pairs), &super::opened::now().day());
        write(file, page.as_bytes())?;
    }
    match (args.json, &args.html) {
        (true, _) => print(|out| writeln!(out, "{}", found.json()))?,
        (false, Some(file)) => print(|out| writeln!(out, "{}", readable_path(file)))?,
        (false, None) => print(|out| found.write(out))?,
    }
    if args.fit {
        fit(&opened, &found)?;
    }
    Ok(match opened.gaps {
        true => Outcome::Gaps,
        false => Outcome::Done,
    })
}

/// Pairs that are shown with pictures.
const SHOWN: usize = 12;

/// The pictures of the pairs that are most easily confused: an exemplar of each, and where they differ.
fn pairs(
    opened: &Opened,
    references: &References,
    found: &Found,
    jobs: usize,
) -> Result<Vec<Pair>, Failure> {
    let most = found.tally.confusions.iter().take(SHOWN);
    let library = &opened.library;
    let mut made: Vec<Pair> = Vec::new();
    let work = |c: &Confusion| Some(pair(library, references, c));
    each(most, jobs, work, |_, pair| made.extend(pair))?;
    Ok(made)
}

fn pair(library: &Library, references: &References, confusion: &Confusion) -> Pair {
    let (mut a, mut b) = (&confusion.families.0, &confusion.families.1);
    let times = counted(confusion.times, "mark", "marks");
    let mut shown = differences(library, references, a, b);
    if shown
        .as_ref()
        .is_none_or(|(_, beside)| places_of(&beside.told) == 0)
    {
        // What one has outside the other's picture shows the other way round only.
        let turned = differences(library, references, b, a);
        if turned
            .as_ref()
            .is_some_and(|(_, beside)| places_of(&beside.told) > 0)
        {
            (a, b) = (b, a);
            shown = turned;
        }
    }
    let (pictures, differences, said) = match shown {
        Some((photo, beside)) => {
            let said = say_differences(&beside.told);
            let pictures = [figure(&photo), figure(&beside.exemplar)];
            (pictures, figure(&beside.differences), said)
        }
        None => {
            let said = "no exemplar of the one can be laid over one of the other";
            ([None, None], None, said.to_owned())
        }
    };
    Pair {
        families: [library.name_of(a), library.name_of(b)],
        told: format!(
            "{times} of one would be taken for the other, at most with {}; {a} and {b}",
            per_cent(confusion.most)
        ),
        pictures,
        differences,
        said,
    }
}

/// The first exemplar of one family, as a photo, with one of the other laid over it.
fn differences(
    library: &Library,
    references: &References,
    a: &str,
    b: &str,
) -> Option<(image::RgbImage, Beside)> {
    let (pixels, quad) = exemplar_picture(library, references, &Wanted::any(a))?;
    let ground = Ground::whole(pixels);
    let mark = mark_at(quad.to_array());
    let laid = legible::lay(library, references, &ground, &mark, b)?;
    let views = legible::views_of(&ground, &mark, &laid, Size::PAGE)?;
    Some((views.photo, views.beside?))
}

/// A mark of which nothing is known but where it lies.
fn mark_at(quad: [[f64; 2]; 4]) -> MarkAnswer {
    MarkAnswer {
        quad,
        role: Role::Undecided,
        means: Means::Undecided,
        verdict: Verdict::Unknown,
        strike: 0.0,
        quality: None,
        state: None,
        candidates: Vec::new(),
        rest: 0.0,
        none: 1.0,
        forms: None,
        twins: Vec::new(),
        dates: Vec::new(),
    }
}

fn places_of(told: &Told) -> usize {
    told.more + told.less
}

fn say_differences(told: &Told) -> String {
    if places_of(told) == 0 {
        let untold = match told.untold {
            0 => String::new(),
            share => {
                format!("; of {share} % of the second's strokes the first picture does not tell")
            }
        };
        return format!("no stroke that only one of them has was found{untold}");
    }
    let places = |n: usize| counted(n, "place", "places");
    let silent = match told.silence {
        Some(_) => "; of what the first lacks nothing can be said".to_owned(),
        None => format!("; in {} only the second has a stroke", places(told.less)),
    };
    format!(
        "in {} only the first has a stroke{silent}",
        places(told.more)
    )
}

/// At most this many of them, taken evenly.
fn some<T>(all: Vec<T>, most: Option<NonZeroUsize>) -> Vec<T> {
    let most = most.map_or(all.len(), NonZeroUsize::get);
    let step = all.len().div_ceil(most.max(1)).max(1);
    all.into_iter().step_by(step).collect()
}

fn of_photo(confirmed: &Confirmed) -> Probe {
    Probe {
        source: Source::Confirmed,
        family: confirmed.family.clone(),
        name: confirmed.name.clone(),
        photo: Some(confirmed.photo.clone()),
        hash: None,
        from: From::Lot(confirmed.clone()),
    }
}

/// The pictures of the library, each with the place of its mark.
fn of_exemplars(opened: &Opened, references: &References, origins: &Origins) -> Vec<Probe> {
    let mut files: BTreeMap<(String, String), &Exemplar> = BTreeMap::new();
    for family in opened.library.families.values() {
        for exemplar in &family.exemplars {
            if let Ok(bytes) = std::fs::read(&exemplar.path) {
                let hash = ContentHash::of(&bytes).to_string();
                files.insert((family.id.to_string(), hash), exemplar);
            }
        }
    }
    let all = (0..references.len()).map(|at| references.get(at));
    all.filter_map(|r| {
        let exemplar = files.get(&(r.family.clone(), r.hash.clone()))?;
        let name = readable_file_name(&exemplar.path);
        Some(Probe {
            source: Source::Exemplar,
            family: r.family.clone(),
            name: format!("{}/{name}", r.family),
            photo: origins.of(r).cloned(),
            hash: Some(r.hash.clone()),
            from: From::File(exemplar.path.clone(), r.quad),
        })
    })
    .collect()
}

fn try_all(
    opened: &Opened,
    references: &References,
    origins: &Origins,
    pieces: &Pieces,
    probes: Vec<Probe>,
    jobs: usize,
) -> Result<Vec<Trial>, Failure> {
    let mut trials = Vec::new();
    let limit = opened.named_at();
    let bar = progress(probes.len());
    let work = |(probe, picture): (Probe, Option<(UprightPhoto, Quad<Photo>)>)| {
        let (picture, quad) = picture?;
        let others = references.filtered(|r| {
            let itself = probe.hash.as_ref() == Some(&r.hash);
            let origin = probe.photo.as_ref().zip(origins.of(r));
            !itself && !origin.is_some_and(|(photo, origin)| pieces.same(photo, origin))
        });
        let has_more = (0..others.len()).any(|at| others.get(at).family == probe.family);
        let strangers = references.filtered(|r| r.family != probe.family);
        Some(Trial {
            known: has_more.then(|| trial::look(&picture, &quad, &others).at_limit(limit)),
            stranger: trial::look(&picture, &quad, &strangers).at_limit(limit),
            source: probe.source,
            family: probe.family,
            name: probe.name,
        })
    };
    let items = probes.into_iter().map(|probe| {
        let picture = probe.picture(opened);
        (probe, picture)
    });
    each(items, jobs, work, |_, tried| {
        bar.inc(1);
        trials.extend(tried);
    })?;
    bar.finish_and_clear();
    Ok(trials)
}

fn counts(opened: &Opened) -> BTreeMap<String, usize> {
    let families = opened.library.families.values();
    families
        .map(|f| (f.id.to_string(), f.exemplars.len()))
        .collect()
}

/// Families of which no photo was ever confirmed or named.
fn unseen(opened: &Opened, sure: &[Confirmed]) -> Result<Vec<String>, Failure> {
    let mut seen: BTreeSet<String> = sure.iter().map(|c| c.family.clone()).collect();
    let key = opened.key();
    for lot in opened.workspace.lots()? {
        let sheet = opened.sheet(&lot.name, &key)?;
        let named = sheet.rows.iter().filter(|r| r.holds == Verdict::Named);
        seen.extend(named.filter_map(|r| r.family.clone()));
    }
    let all = opened.library.families.keys().map(ToString::to_string);
    Ok(all.filter(|id| !seen.contains(id)).collect())
}

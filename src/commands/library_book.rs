//! `library book`: one's own handbook of marks, to print.

use std::path::PathBuf;

use clap::Args;

use super::gathered::each;
use super::intake::progress;
use super::opened::{Opened, Remarks, now};
use super::reporting::write;
use super::{Failure, Outcome, print};
use crate::answer::Means;
use crate::dating::reach::reach;
use crate::decision::Statement;
use crate::geometry::Quad;
use crate::library::{Edtf, Exemplar, Family, Library, Maker};
use crate::photo::{self, DecodeLimits};
use crate::references::References;
use crate::report::frame::{self, ExemplarPhoto};
use crate::report::{BookFamily, BookMaker, Figure, book_page};
use crate::service::report_page::figure;
use crate::workspace::{readable, readable_path};

const EXAMPLES: &str = "\
Examples:
  footring library book marks.html
      The whole library, makers by name, the marks of each by date. One file that loads nothing; print it from any
      browser.
  footring library book mill-lane.html --maker mill-lane --title 'Marks of Mill Lane'";

/// What `library book` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct BookArgs {
    /// The page to write
    #[arg(value_name = "FILE")]
    file: PathBuf,

    /// Only this maker, by the name of its folder; may be repeated
    #[arg(long, value_name = "MAKER")]
    maker: Vec<String>,

    /// What stands on its first page
    #[arg(long, value_name = "TEXT", default_value = "A handbook of marks")]
    title: String,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,
}

pub(super) fn run(args: &BookArgs) -> Result<Outcome, Failure> {
    let mut opened = Opened::new(args.workspace.as_deref(), Remarks::Errors)?;
    let jobs = super::intake::jobs(None);
    if let Some(unknown) = args
        .maker
        .iter()
        .find(|m| !opened.library.makers.contains_key(*m))
    {
        let why = format!("the library has no maker `{}`", readable(unknown));
        let next = "`footring library list` tells the makers".to_owned();
        return Err(Failure::new(&why, Some(next)));
    }
    let references = opened.references(jobs);
    let opened = opened;
    let library = &opened.library;
    let wanted =
        |f: &&Family| args.maker.is_empty() || args.maker.iter().any(|m| m == f.id.maker());
    let mut families: Vec<&Family> = library.families.values().filter(wanted).collect();
    families.sort_by_key(|f| {
        (
            library.maker_name(f.id.maker()).to_lowercase(),
            begins(f),
            f.id.clone(),
        )
    });
    let mut pictures: Vec<Option<Figure>> = Vec::new();
    let bar = progress(families.len());
    each(
        &families,
        jobs,
        |family| picture(family, &references),
        |_, made| {
            bar.inc(1);
            pictures.push(made);
        },
    )?;
    bar.finish_and_clear();
    let decided = decided(&opened)?;
    let mut makers: Vec<BookMaker> = Vec::new();
    for (family, picture) in families.iter().zip(pictures) {
        let id = family.id.maker();
        if makers.last().is_none_or(|m| m.id != id) {
            makers.push(maker(library, id));
        }
        let count = decided.iter().filter(|d| *d == family.id.as_str()).count();
        if let Some(last) = makers.last_mut() {
            last.families.push(told(library, family, picture, count));
        }
    }
    write(
        &args.file,
        book_page(&args.title, &makers, &now().day()).as_bytes(),
    )?;
    print(|out| {
        let (file, count) = (readable_path(&args.file), families.len());
        writeln!(out, "{file}: {count} marks of {} makers", makers.len())
    })?;
    Ok(Outcome::Done)
}

/// The families of all decisions that hold, once for each.
fn decided(opened: &Opened) -> Result<Vec<String>, Failure> {
    let history = opened.workspace.history()?;
    let families = history.holding().filter_map(|d| match &d.statement {
        Statement::Family(id) => Some(opened.follow(id)),
        _ => None,
    });
    Ok(families.collect())
}

/// The first year of use; marks of no known time stand last.
fn begins(family: &Family) -> i64 {
    let used = family.record.used.as_ref().map(|d| reach(d.value()));
    let first = used.and_then(|span| span.not_before.or(span.not_after));
    first.map_or(i64::MAX, |day| day.year())
}

/// The first exemplar that can be read, straight in its frame.
fn picture(family: &Family, references: &References) -> Option<Figure> {
    family
        .exemplars
        .iter()
        .find_map(|e| straight(family, e, references))
}

fn straight(family: &Family, exemplar: &Exemplar, references: &References) -> Option<Figure> {
    let bytes = std::fs::read(&exemplar.path).ok()?;
    let hash = blake3::hash(&bytes).to_hex();
    let reference = references.find(family.id.as_str(), hash.as_str())?;
    let quad = Quad::<ExemplarPhoto>::from_array(reference.quad.to_array());
    let photo = photo::read_photo(&bytes, &DecodeLimits::default()).ok()?;
    let (_, pixels) = frame::exemplar(&photo.pixels, &quad)?;
    figure(&pixels)
}

fn push(facts: &mut Vec<(String, String)>, label: &str, text: &str) {
    if !text.is_empty() {
        facts.push((label.to_owned(), readable(text)));
    }
}

fn dated(date: Option<&Edtf>) -> String {
    date.map(ToString::to_string).unwrap_or_default()
}

fn maker(library: &Library, id: &str) -> BookMaker {
    let none = Maker::default();
    let record = &library.makers.get(id).unwrap_or(&none).record;
    let mut facts = Vec::new();
    let others = record.names.iter().skip(1).chain(&record.also_called);
    let others: Vec<String> = others.cloned().collect();
    push(&mut facts, "also called", &others.join(", "));
    for plant in &record.plants {
        let parts = [
            plant.name.clone(),
            plant.place.clone(),
            Some(dated(plant.years.as_ref())),
        ];
        let parts: Vec<String> = parts
            .into_iter()
            .flatten()
            .filter(|p| !p.is_empty())
            .collect();
        push(&mut facts, "works", &parts.join(", "));
    }
    push(&mut facts, "sources", &record.sources.join("; "));
    BookMaker {
        id: id.to_owned(),
        name: readable(&library.maker_name(id)),
        facts,
        notes: record.notes.iter().map(|n| readable(n)).collect(),
        families: Vec::new(),
    }
}

fn told(library: &Library, family: &Family, picture: Option<Figure>, decided: usize) -> BookFamily {
    let record = &family.record;
    let mut facts = Vec::new();
    push(&mut facts, "used", &dated(record.used.as_ref()));
    push(&mut facts, "ink", record.ink.as_deref().unwrap_or_default());
    push(&mut facts, "put on", record.means.map_or("", Means::word));
    let lines: Vec<String> = record
        .lines
        .iter()
        .map(|line| library.line_name(&library.line_id(family.id.maker(), line)))
        .collect();
    push(&mut facts, "lines", &lines.join(", "));
    for (name, variant) in &family.variants {
        let called = variant.name.clone().unwrap_or_else(|| name.clone());
        let used = dated(variant.used.as_ref());
        let used = if used.is_empty() {
            used
        } else {
            format!(", used {used}")
        };
        push(&mut facts, "variant", &format!("{called}{used}"));
    }
    for twin in &record.confused_with {
        let name = library.name_of(&twin.family);
        let tell = twin.tell.as_ref().map(|t| format!(": {t}"));
        let tell = tell.unwrap_or_default();
        push(&mut facts, "not to be taken for", &format!("{name}{tell}"));
    }
    if decided > 0 {
        push(&mut facts, "photos decided", &decided.to_string());
    }
    push(&mut facts, "sources", &record.sources.join("; "));
    BookFamily {
        id: readable(family.id.as_str()),
        name: readable(&family.name),
        picture,
        facts,
        notes: record.notes.iter().map(|n| readable(n)).collect(),
    }
}

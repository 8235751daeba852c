//! `library list` and `library show`: what the library holds.

use std::collections::BTreeMap;
use std::io::{self, Write};
use std::path::PathBuf;

use clap::Args;
use serde_json::{Value, json};

use super::confirmed::{Confirmed, decided};
use super::opened::{Opened, Remarks};
use super::reshape::id_of;
use super::{Failure, Outcome, print};
use crate::answer::Means;
use crate::decision::{Certainty, Statement};
use crate::library::change::ChangeError;
use crate::library::{Family, Library, MakerRecord};
use crate::workspace::{readable, readable_path};

const LIST_EXAMPLES: &str = "\
Examples:
  footring library list
  footring library list crown ribbon   families in whose id, name, line or notes both words stand
  footring library list --at-most 1    families with one exemplar or none
  footring library list --undecided    families of which you have decided on no photo";

/// What `library list` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = LIST_EXAMPLES)]
pub(super) struct ListArgs {
    /// Only families in whose id, name, lines, notes or sources all these words stand
    #[arg(value_name = "WORD")]
    words: Vec<String>,

    /// Only families of this maker, by folder or name
    #[arg(long, value_name = "MAKER")]
    maker: Option<String>,

    /// Only families with at most this many exemplars
    #[arg(long, value_name = "N")]
    at_most: Option<usize>,

    /// Only families of which no photo is decided
    #[arg(long)]
    undecided: bool,

    /// Print one JSON object a family
    #[arg(long)]
    json: bool,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,
}

/// What `library show` is asked to do.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  footring library show mill-lane/crown\n      Its records, pictures, the photos you decided on, and what it is confused with."
)]
pub(super) struct ShowArgs {
    /// The family, by any id that it ever had
    #[arg(value_name = "FAMILY")]
    family: String,

    /// Print one JSON object
    #[arg(long)]
    json: bool,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,
}

pub(super) fn list(args: &ListArgs) -> Result<Outcome, Failure> {
    let opened = Opened::new(args.workspace.as_deref(), Remarks::All)?;
    let history = opened.workspace.history()?;
    let mut decided: BTreeMap<String, usize> = BTreeMap::new();
    for decision in history.holding() {
        if let Statement::Family(id) = &decision.statement {
            *decided.entry(opened.follow(id)).or_default() += 1;
        }
    }
    let decided = |f: &Family| decided.get(f.id.as_str()).copied().unwrap_or(0);
    let library = &opened.library;
    let wanted = |f: &&Family| args.is_wanted(library, f) && !(args.undecided && decided(f) > 0);
    let families: Vec<&Family> = library.families.values().filter(wanted).collect();
    print(|out| match args.json {
        true => families.iter().try_for_each(|f| {
            let line = json!({
                "id": f.id.as_str(),
                "name": f.name,
                "maker": maker_name(library, f),
                "lines": f.record.lines,
                "exemplars": f.exemplars.len(),
                "decided": decided(f),
            });
            writeln!(out, "{line}")
        }),
        false => write_list(library, &families, &decided, out),
    })?;
    Ok(match opened.gaps {
        true => Outcome::Gaps,
        false => Outcome::Done,
    })
}

impl ListArgs {
    fn is_wanted(&self, library: &Library, family: &Family) -> bool {
        let record = &family.record;
        let mut text = vec![family.id.to_string(), family.name.clone()];
        for more in [&record.was, &record.lines, &record.notes, &record.sources] {
            text.extend(more.iter().cloned());
        }
        let text = text.join("\n").to_lowercase();
        let has_words = self.words.iter().all(|w| text.contains(&w.to_lowercase()));
        let maker = self.maker.as_ref().is_none_or(|wanted| {
            let wanted = wanted.to_lowercase();
            let known = library.makers.get(family.id.maker());
            let names = known.map(|m| m.record.names.iter().chain(&m.record.also_called));
            family.id.maker().to_lowercase() == wanted
                || names
                    .into_iter()
                    .flatten()
                    .any(|n| n.to_lowercase() == wanted)
        });
        has_words && maker && self.at_most.is_none_or(|n| family.exemplars.len() <= n)
    }
}

fn maker_name<'l>(library: &'l Library, family: &Family) -> Option<&'l String> {
    maker_of(library, family)?.names.first()
}

fn maker_of<'l>(library: &'l Library, family: &Family) -> Option<&'l MakerRecord> {
    library.makers.get(family.id.maker()).map(|m| &m.record)
}

fn write_list(
    library: &Library,
    families: &[&Family],
    decided: &dyn Fn(&Family) -> usize,
    out: &mut dyn Write,
) -> io::Result<()> {
    if families.is_empty() {
        return match library.families.is_empty() {
            true => writeln!(out, "the library has no families yet"),
            false => writeln!(out, "no family of the library is so"),
        };
    }
    let widest = families.iter().map(|f| f.id.family().chars().count()).max();
    for of_maker in families.chunk_by(|a, b| a.id.maker() == b.id.maker()) {
        let called = maker_name(library, of_maker[0]).map(|n| format!("  {n}"));
        let maker = of_maker[0].id.maker();
        let heading = format!("{maker}{}", called.unwrap_or_default());
        writeln!(out, "{}", readable(&heading))?;
        for family in of_maker {
            let exemplars = family.exemplars.len();
            let (id, name) = (readable(family.id.family()), readable(&family.name));
            let width = widest.unwrap_or(0);
            let some = if exemplars == 1 {
                "exemplar"
            } else {
                "exemplars"
            };
            let photos = decided(family);
            writeln!(
                out,
                "  {id:<width$}  {exemplars} {some}, {photos} decided  {name}"
            )?;
        }
    }
    Ok(())
}

pub(super) fn show(args: &ShowArgs) -> Result<Outcome, Failure> {
    let opened = Opened::new(args.workspace.as_deref(), Remarks::Errors)?;
    let id = id_of(&args.family)?;
    let family = opened.library.find(&id);
    let family = family.ok_or(ChangeError::NoFamily { id })?;
    let photos: Vec<Confirmed> = decided(&opened)?
        .into_iter()
        .filter(|c| c.family == family.id.as_str())
        .collect();
    print(|out| match args.json {
        true => writeln!(out, "{}", shown(&opened, family, &photos)),
        false => write_family(&opened, family, &photos, out),
    })?;
    Ok(Outcome::Done)
}

/// A heading and what stands under it; nothing where there is nothing.
fn section(out: &mut dyn Write, heading: &str, lines: &[String]) -> io::Result<()> {
    if lines.is_empty() {
        return Ok(());
    }
    writeln!(out, "{heading}:")?;
    lines
        .iter()
        .try_for_each(|line| writeln!(out, "  {}", readable(line)))
}

fn write_family(
    opened: &Opened,
    family: &Family,
    photos: &[Confirmed],
    out: &mut dyn Write,
) -> io::Result<()> {
    let record = &family.record;
    writeln!(out, "{}  {}", family.id, readable(&family.name))?;
    let maker = maker_name(&opened.library, family).cloned();
    let used = record.used.as_ref().map(ToString::to_string);
    for (what, said) in [
        ("maker", maker),
        ("used", used),
        ("ink", record.ink.clone()),
        ("put on", record.means.map(|m| m.word().to_owned())),
        ("size", record.size.map(|s| s.to_string())),
    ] {
        if let Some(said) = said {
            writeln!(out, "{what}: {}", readable(&said))?;
        }
    }
    section(out, "lines", &record.lines)?;
    section(out, "was", &record.was)?;
    let twins: Vec<String> = record
        .confused_with
        .iter()
        .map(|t| match &t.tell {
            Some(tell) => format!("{}: {tell}", t.family),
            None => t.family.clone(),
        })
        .collect();
    section(out, "confused with", &twins)?;
    section(out, "notes", &record.notes)?;
    section(out, "sources", &record.sources)?;
    let variants = family.variants.iter().map(|(name, record)| {
        let used = record.used.as_ref().map(|u| format!("used {u}"));
        let size = record.size.map(|s| s.to_string());
        let facts: Vec<String> = [used, size].into_iter().flatten().collect();
        match facts.is_empty() {
            true => name.clone(),
            false => format!("{name}  {}", facts.join(", ")),
        }
    });
    let variants: Vec<String> = variants.collect();
    section(out, "variants", &variants)?;
    let folder = family.id.folder(&opened.library.root);
    let exemplars: Vec<String> = family
        .exemplars
        .iter()
        .map(|e| {
            let file = e.path.strip_prefix(&folder).unwrap_or(&e.path);
            let said = [&e.source, &e.credit, &e.licence].into_iter().flatten();
            let said: Vec<&str> = said.map(String::as_str).collect();
            match said.is_empty() {
                true => file.display().to_string(),
                false => format!("{}  {}", file.display(), said.join("; ")),
            }
        })
        .collect();
    section(out, "exemplars", &exemplars)?;
    let decided: Vec<String> = photos
        .iter()
        .map(|c| {
            let doubt = match c.certainty {
                Certainty::Sure => "",
                Certainty::Probably | Certainty::NotStated => "  probably",
            };
            format!("{}, {}{doubt}", c.name, c.lot)
        })
        .collect();
    section(out, "photos decided", &decided)?;
    writeln!(out, "folder: {}", readable_path(&folder))
}

fn shown(opened: &Opened, family: &Family, photos: &[Confirmed]) -> Value {
    let record = &family.record;
    let folder = family.id.folder(&opened.library.root);
    let exemplars: Vec<Value> = family
        .exemplars
        .iter()
        .map(|e| {
            let file = e.path.strip_prefix(&folder).unwrap_or(&e.path);
            json!({
                "file": file.to_string_lossy(),
                "variant": e.variant,
                "quad": e.quad.map(|q| q.to_array()),
                "source": e.source,
                "photo": e.photo,
                "credit": e.credit,
                "licence": e.licence,
            })
        })
        .collect();
    let decided: Vec<Value> = photos
        .iter()
        .map(|c| {
            json!({
                "photo": c.name,
                "hash": c.photo.as_str(),
                "mark": c.mark + 1,
                "lot": c.lot,
                "certainty": c.certainty.word(),
            })
        })
        .collect();
    let twins: Vec<Value> = record
        .confused_with
        .iter()
        .map(|t| json!({ "family": t.family, "tell": t.tell }))
        .collect();
    json!({
        "id": family.id.as_str(),
        "name": family.name,
        "maker": maker_name(&opened.library, family),
        "lines": record.lines,
        "used": record.used.as_ref().map(ToString::to_string),
        "ink": record.ink,
        "means": record.means.map(Means::word),
        "size": record.size.map(|s| json!({ "mm": s.mm, "error": s.error })),
        "was": record.was,
        "confused_with": twins,
        "notes": record.notes,
        "sources": record.sources,
        "variants": family.variants.keys().collect::<Vec<_>>(),
        "exemplars": exemplars,
        "decided": decided,
    })
}

//! The person's own library: families by maker and time, and their facts as they are edited.

use serde::Deserialize;

use super::acts::wrong;
use super::records::{self, Kept, Mend};
use super::room::Room;
use crate::answer::{Means, Twin};
use crate::dating::Day;
use crate::dating::reach::reach;
use crate::decision::{Certainty, ContentHash};
use crate::failure::Failure;
use crate::library::change::{self, MarkFacts};
use crate::library::{Edtf, Family, FamilyId, Library, StampRole, read_mark};
use crate::service::confirmed::decided;
use crate::workspace::readable;

/// A family in the list of all.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Line {
    pub(super) id: String,
    pub(super) name: String,
    pub(super) used: Option<String>,
    pub(super) exemplars: usize,
    pub(super) lines: Vec<String>,
    first: Option<Day>,
}

/// A maker with its families, the earliest first.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Maker {
    pub(super) id: String,
    pub(super) name: String,
    /// Its lines, each an id and a name.
    pub(super) lines: Vec<(String, String)>,
    pub(super) families: Vec<Line>,
}

/// The families in whose names, lines, notes or sources all words of `search` stand, by maker and by the time in which
/// the stamp was used; those without a time come last.
pub(super) fn makers(library: &Library, search: &str) -> Vec<Maker> {
    let words: Vec<String> = search.split_whitespace().map(str::to_lowercase).collect();
    let mut makers: Vec<Maker> = Vec::new();
    let wanted = library
        .families
        .values()
        .filter(|f| words.iter().all(|w| text_of(library, f).contains(w)));
    let families: Vec<&Family> = wanted.collect();
    for of_maker in families.chunk_by(|a, b| a.id.maker() == b.id.maker()) {
        let mut families: Vec<Line> = of_maker.iter().map(|f| line(library, f)).collect();
        families.sort_by(|a, b| {
            let key = |l: &Line| (l.first.is_none(), l.first);
            key(a).cmp(&key(b)).then_with(|| a.name.cmp(&b.name))
        });
        makers.push(maker(library, of_maker[0].id.maker(), families));
    }
    // A maker without marks has facts all the same.
    let bare = library.makers.keys().filter(|_| words.is_empty());
    let bare = bare.filter(|id| !makers.iter().any(|m| m.id == **id));
    let bare: Vec<Maker> = bare.map(|id| maker(library, id, Vec::new())).collect();
    makers.extend(bare);
    makers.sort_by(|a, b| a.id.cmp(&b.id));
    makers
}

fn maker(library: &Library, id: &str, families: Vec<Line>) -> Maker {
    let lines = library
        .makers
        .get(id)
        .into_iter()
        .flat_map(|m| m.lines.keys());
    let lines = lines.map(|line| {
        let line = format!("{id}/{line}");
        let name = readable(&library.line_name(&line));
        (line, name)
    });
    Maker {
        id: id.to_owned(),
        name: readable(&library.maker_name(id)),
        lines: lines.collect(),
        families,
    }
}

fn text_of(library: &Library, family: &Family) -> String {
    let record = &family.record;
    let mut text = vec![
        family.id.to_string(),
        family.name.clone(),
        library.maker_name(family.id.maker()),
    ];
    text.extend(record.used.as_ref().map(ToString::to_string));
    for more in [&record.was, &record.lines, &record.notes, &record.sources] {
        text.extend(more.iter().cloned());
    }
    text.join("\n").to_lowercase()
}

fn line(library: &Library, family: &Family) -> Line {
    let used = family.record.used.as_ref();
    let lines = family.record.lines.iter();
    Line {
        id: family.id.to_string(),
        name: readable(&family.name),
        first: used.and_then(|u| reach(u.value()).not_before),
        used: used.map(|u| readable(u.as_str())),
        exemplars: family.exemplars.len(),
        lines: lines
            .map(|l| readable(&library.line_name(&library.line_id(family.id.maker(), l))))
            .collect(),
    }
}

/// A family that it is confused with.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Confused {
    pub(super) id: String,
    pub(super) name: String,
    pub(super) tell: String,
    /// Whether the library has it.
    pub(super) known: bool,
}

/// A picture of a family.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Pictured {
    /// Content hash.
    pub(super) content: String,
    pub(super) file: String,
    pub(super) source: String,
}

/// All that the page of a family shows.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Shown {
    pub(super) id: String,
    pub(super) name: String,
    pub(super) maker: String,
    pub(super) maker_id: String,
    pub(super) used: String,
    pub(super) ink: String,
    pub(super) role: StampRole,
    pub(super) means: Option<Means>,
    pub(super) lines: Vec<String>,
    pub(super) notes: Vec<String>,
    pub(super) sources: Vec<String>,
    pub(super) was: Vec<String>,
    pub(super) confused: Vec<Confused>,
    pub(super) exemplars: Vec<Pictured>,
    /// Content of a photo that the person gave to this family, its name and lot, and how surely.
    pub(super) decided: Vec<(String, String)>,
    /// Stands for the record as it is shown: sent back with a change.
    pub(super) stamp: String,
}

/// A family as its page shows it; `None` where the library has none of this id.
pub(super) fn shown(room: &Room, id: &str) -> Result<Option<Shown>, Failure> {
    let open = room.open();
    let library = &open.opened.library;
    let found = FamilyId::parse(id).ok().and_then(|id| library.find(&id));
    let Some(family) = found else {
        return Ok(None);
    };
    let text = text_of_record(library, family);
    let folder = family.id.folder(&library.root);
    let now = text
        .as_deref()
        .and_then(|text| read_mark(&folder.join("mark.toml"), text, &mut Vec::new()));
    let record = now.as_ref().unwrap_or(&family.record);
    let confused = record.confused_with.iter().map(|twin| {
        let known = FamilyId::parse(&twin.family).ok();
        Confused {
            id: twin.family.clone(),
            name: readable(&library.name_of(&twin.family)),
            tell: twin.tell.clone().unwrap_or_default(),
            known: known.is_some_and(|id| library.find(&id).is_some()),
        }
    });
    let exemplars = family.exemplars.iter().filter_map(|e| {
        let bytes = std::fs::read(&e.path).ok()?;
        let file = e.path.strip_prefix(&folder).unwrap_or(&e.path);
        Some(Pictured {
            content: ContentHash::of(&bytes).to_string(),
            file: readable(&file.to_string_lossy()),
            source: readable(e.source.as_deref().unwrap_or_default()),
        })
    });
    let photos = decided(&open.opened)?.into_iter();
    let photos = photos.filter(|c| c.family == family.id.as_str()).map(|c| {
        let doubt = match c.certainty {
            Certainty::Sure => "",
            Certainty::Probably | Certainty::NotStated => ", probably",
        };
        let id = format!("{}-{}", c.photo, c.mark + 1);
        (id, format!("{}, {}{doubt}", c.name, c.lot))
    });
    Ok(Some(Shown {
        id: family.id.to_string(),
        name: record.name.clone().unwrap_or_else(|| family.name.clone()),
        maker_id: family.id.maker().to_owned(),
        maker: readable(&library.maker_name(family.id.maker())),
        used: record
            .used
            .as_ref()
            .map(ToString::to_string)
            .unwrap_or_default(),
        ink: record.ink.clone().unwrap_or_default(),
        role: record.role,
        means: record.means,
        lines: record.lines.clone(),
        notes: record.notes.clone(),
        sources: record.sources.clone(),
        was: record.was.clone(),
        confused: confused.collect(),
        exemplars: exemplars.collect(),
        decided: photos.collect(),
        stamp: stamp(text.as_deref()),
    }))
}

/// What mark.toml holds now, which may be younger than the library that is open.
fn text_of_record(library: &Library, family: &Family) -> Option<String> {
    std::fs::read_to_string(family.id.folder(&library.root).join("mark.toml")).ok()
}

/// Stands for the text of a record.
fn stamp(text: Option<&str>) -> String {
    ContentHash::of(text.unwrap_or_default().as_bytes()).to_string()
}

/// A near-twin as the page sends it.
#[derive(Debug, Clone, Deserialize)]
pub(super) struct Tell {
    family: String,
    tell: String,
}

/// Facts of a family as the page sends them. A list has one entry a line.
#[derive(Debug, Clone, Deserialize)]
pub(super) struct Edit {
    family: String,
    saw: String,
    name: String,
    role: String,
    /// Empty where nothing is said.
    #[serde(default)]
    means: String,
    used: String,
    ink: String,
    lines: String,
    notes: String,
    sources: String,
    confused: Vec<Tell>,
}

/// Longest text of a fact, in characters.
const LONGEST: usize = 4000;

/// Writes changed facts back into mark.toml.
pub(super) fn edit(room: &Room, asked: &Edit) -> Result<Kept, Failure> {
    let id = FamilyId::parse(&asked.family).map_err(|e| Failure::new(&e, None))?;
    // The library may have changed on disk since it was read.
    let opened = room.fresh()?;
    let family = opened.library.find(&id);
    let family = family.ok_or_else(|| wrong("the library has no such family"))?;
    if stamp(text_of_record(&opened.library, family).as_deref()) != asked.saw {
        return Ok(Kept::Stale);
    }
    let mend = what_is_wrong(asked);
    if !mend.is_empty() {
        return Ok(Kept::Wrong(mend));
    }
    let facts = facts(asked, family)?;
    if facts == MarkFacts::default() {
        return Ok(Kept::Told("nothing new".to_owned()));
    }
    let draft = change::edit_facts(&opened.library, &family.id, &facts)?;
    records::carry_out(room, draft).map(Kept::Told)
}

/// The fields that cannot be written as they are.
fn what_is_wrong(asked: &Edit) -> Vec<Mend> {
    let own = [
        ("name", &asked.name),
        ("used", &asked.used),
        ("ink", &asked.ink),
        ("lines", &asked.lines),
        ("notes", &asked.notes),
        ("sources", &asked.sources),
    ];
    let own = own.map(|(field, text)| (field.to_owned(), text));
    let tells = asked.confused.iter().enumerate();
    let tells = tells.map(|(at, twin)| (format!("tell.{at}"), &twin.tell));
    let bad = |c: char| c.is_control() && c != '\n' && c != '\r';
    let mut mend = Vec::new();
    for (field, text) in own.into_iter().chain(tells) {
        let says = match field.as_str() {
            _ if text.chars().count() > LONGEST || text.chars().any(bad) => {
                "is longer than 4000 characters, or holds control characters: shorten it"
            }
            "name" if text.trim().is_empty() => "is missing: the mark needs a name",
            "used" if !text.trim().is_empty() && Edtf::parse(text.trim()).is_none() => {
                "is no date of the record: write 1931, 1928/1935, 193X, or 1930~ for about 1930"
            }
            _ => continue,
        };
        let says = says.to_owned();
        mend.push(Mend { field, says });
    }
    mend
}

/// What differs from the record.
fn facts(asked: &Edit, family: &Family) -> Result<MarkFacts, Failure> {
    let record = &family.record;
    let (used, name) = (asked.used.trim(), asked.name.trim());
    let role = StampRole::ALL.into_iter().find(|r| r.word() == asked.role);
    let role = role.ok_or_else(|| wrong("whose stamp it is: maker, decorator or customer"))?;
    let means = Means::TOLD.into_iter().find(|m| m.word() == asked.means);
    if means.is_none() && !asked.means.is_empty() {
        return Err(wrong("how the mark was put on: a word of the list"));
    }
    let changed =
        |new: &str, old: Option<&str>| (new != old.unwrap_or_default()).then(|| new.to_owned());
    let list = |text: &str, old: &[String]| {
        let new = text.lines().map(str::trim).filter(|l| !l.is_empty());
        let new: Vec<String> = new.map(str::to_owned).collect();
        (new != old).then_some(new)
    };
    let twins = asked.confused.iter().map(|t| Twin {
        family: t.family.clone(),
        tell: Some(t.tell.trim().to_owned()).filter(|t| !t.is_empty()),
    });
    let twins: Vec<Twin> = twins.collect();
    for twin in &twins {
        FamilyId::parse(&twin.family).map_err(|e| Failure::new(&e, None))?;
    }
    Ok(MarkFacts {
        name: changed(name, Some(&family.name)),
        role: (role != record.role).then_some(role),
        means: (means != record.means).then(|| asked.means.clone()),
        used: changed(used, record.used.as_ref().map(Edtf::as_str)),
        ink: changed(asked.ink.trim(), record.ink.as_deref()),
        lines: list(&asked.lines, &record.lines),
        confused_with: (twins != record.confused_with).then_some(twins),
        notes: list(&asked.notes, &record.notes),
        sources: list(&asked.sources, &record.sources),
    })
}

//! The marks that the library does not know: their groups, and a family made of one.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::acts::{self, Decide, Decided, Seen, wrong};
use super::job::{Jobs, Work};
use super::mark_id::MarkId;
use super::room::Room;
use crate::failure::Failure;
use crate::library::FamilyId;
use crate::report::per_cent;
use crate::service::gathered::Gathered;
use crate::service::new_family::write_of_strangers;
use crate::workspace::readable;

/// A mark of a group.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct Member {
    pub(super) id: String,
    pub(super) photo: String,
    pub(super) lot: String,
    /// How likely it is one with the others; empty for a mark alone.
    pub(super) likely: String,
    /// Number of the decision that counts for it, 0 for none.
    pub(super) saw: i64,
    /// Degrees clockwise by which its picture lies like the first one's.
    pub(super) turn: f64,
}

/// A group, with what it may be one with.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct Group {
    pub(super) name: String,
    pub(super) marks: Vec<Member>,
    /// Names of other groups, and how likely.
    pub(super) perhaps: Vec<(String, String)>,
}

/// The groups as far as they are known.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Groups {
    /// Nothing was compared since the marks changed; there are so many.
    ToCompare(usize),
    Known(Vec<Group>),
}

fn probability(log_odds: f64) -> f64 {
    1.0 / (1.0 + (-log_odds).exp())
}

pub(super) fn groups(room: &Room) -> Result<Groups, Failure> {
    let mut open = room.open();
    let gathered = match Gathered::kept(&open.opened)? {
        Ok(gathered) => gathered,
        Err(0) => return Ok(Groups::Known(Vec::new())),
        Err(marks) => return Ok(Groups::ToCompare(marks)),
    };
    let mut saw = BTreeMap::new();
    for lot in open.opened.workspace.lots()? {
        let sheet = open.sheet(&lot.name)?;
        let decided = sheet
            .rows
            .iter()
            .filter_map(|r| Some((MarkId::of(&sheet, r), r.decision.as_ref()?.number)));
        saw.extend(decided);
    }
    let groups = gathered
        .grouping
        .groups
        .iter()
        .enumerate()
        .map(|(at, group)| {
            let members = group.marks.iter().zip(group.ties.iter().zip(&group.turns));
            let marks = members.map(|(&m, (&tie, &turn))| {
                let stranger = &gathered.marks[m];
                let id = MarkId {
                    photo: stranger.photo.clone(),
                    mark: Some(stranger.mark),
                };
                Member {
                    saw: saw.get(&id).copied().unwrap_or(0),
                    id: id.to_string(),
                    photo: stranger.name.clone(),
                    lot: stranger.lot.clone(),
                    likely: match group.marks.len() {
                        1 => String::new(),
                        _ => per_cent(probability(tie)),
                    },
                    turn: turn.to_degrees().rem_euclid(360.0).round(),
                }
            });
            Group {
                name: gathered.name(at),
                marks: marks.collect(),
                perhaps: perhaps(&gathered, at),
            }
        });
    Ok(Groups::Known(groups.collect()))
}

fn perhaps(gathered: &Gathered, group: usize) -> Vec<(String, String)> {
    let links = gathered.grouping.perhaps.iter();
    let others = links.filter_map(|link| {
        let other = match link.groups {
            (a, b) if a == group => b,
            (a, b) if b == group => a,
            _ => return None,
        };
        Some((gathered.name(other), per_cent(probability(link.log_odds))))
    });
    others.collect()
}

/// A family to make.
#[derive(Debug, Clone, Deserialize)]
pub(super) struct NewFamily {
    pub(super) marks: Vec<Seen>,
    /// Empty where nobody knows.
    #[serde(default)]
    pub(super) maker: String,
    pub(super) name: String,
    /// Degrees clockwise by which the first picture is to be turned to be read.
    #[serde(default)]
    pub(super) turn: f64,
}

/// Longest name of a maker or mark, in characters.
const LONGEST_NAME: usize = 80;

/// Makes the family, decides the picked marks, and has the open ones looked at again.
pub(super) fn make(room: &Room, jobs: &Jobs, asked: &NewFamily) -> Result<Decided, Failure> {
    let id = id_of(&asked.maker, &asked.name)?;
    if !asked.turn.is_finite() {
        return Err(wrong("the turn is no number of degrees"));
    }
    let picked = asked.marks.iter().map(|m| {
        let id = MarkId::parse(&m.id)?;
        Some((id.photo, id.mark?))
    });
    let picked: Vec<_> = picked
        .collect::<Option<_>>()
        .ok_or_else(|| wrong("this names no mark"))?;
    if picked.is_empty() {
        return Err(wrong("pick at least one mark"));
    }
    let name = match readable(asked.name.trim()) {
        name if name.is_empty() => id.plain_name(),
        name => name,
    };
    let known = room.open().opened.library.find(&id).map(|f| f.id.clone());
    if let Some(known) = known {
        return join(room, asked, &known);
    }
    let exemplars = write_of_strangers(&room.open().opened, &id, &name, &picked, asked.turn)?;
    room.reopen()?;
    let mut decided = join(room, asked, &id)?;
    jobs.add(Work::LookAgain(id.to_string()));
    let pictures = if exemplars == 1 {
        "picture"
    } else {
        "pictures"
    };
    decided.told = format!(
        "{name} is a family now, with {exemplars} {pictures}. {}",
        decided.told
    );
    Ok(decided)
}

/// Decides that the picked marks show a family that there is.
fn join(room: &Room, asked: &NewFamily, id: &FamilyId) -> Result<Decided, Failure> {
    acts::decide(
        room,
        &Decide {
            marks: asked.marks.clone(),
            what: "family".to_owned(),
            value: Some(id.to_string()),
            probably: false,
            unprompted: false,
        },
    )
}

/// The id made of what a person typed.
fn id_of(maker: &str, name: &str) -> Result<FamilyId, Failure> {
    if maker.chars().count() > LONGEST_NAME || name.chars().count() > LONGEST_NAME {
        return Err(wrong("a name has at most 80 characters"));
    }
    let maker = match slug(maker) {
        empty if empty.is_empty() => "unattributed".to_owned(),
        maker => maker,
    };
    let mark = slug(name);
    if mark.is_empty() {
        return Err(wrong("give the mark a name"));
    }
    FamilyId::parse(&format!("{maker}/{mark}")).map_err(|e| Failure::new(&e, None))
}

/// Letters and digits in lower case, joined by single dashes: a folder's name.
fn slug(text: &str) -> String {
    let words = text
        .split(|c: char| !c.is_alphanumeric())
        .filter(|w| !w.is_empty());
    words.map(str::to_lowercase).collect::<Vec<_>>().join("-")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_become_folder_names_and_nothing_leads_out() {
        let id = |maker, name| id_of(maker, name).map(|id| id.to_string()).ok();
        assert_eq!(
            id("Mill Lane", "Crown over bird!"),
            Some("mill-lane/crown-over-bird".into())
        );
        assert_eq!(id("", "Bell"), Some("unattributed/bell".into()));
        assert_eq!(id("../..", "../x"), Some("unattributed/x".into()));
        assert_eq!(id("weir", "Lines"), None);
        assert_eq!(id("weir", " / "), None);
    }
}

//! The plan that changes what a mark.toml says, with its comments and order kept.

use super::pictures::{family, replace_mark};
use super::{ChangeError, Draft, Kind};
use crate::answer::Twin;
use crate::library::edit::MarkText;
use crate::library::load::MARK_FILE;
use crate::library::{FamilyId, Library, StampRole};

/// What is to stand in a family's record from now on. What is `None` stays as it is; an empty text or list goes.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct MarkFacts {
    pub name: Option<String>,
    pub role: Option<StampRole>,
    /// A word of [`Means`](crate::answer::Means), or nothing.
    pub means: Option<String>,
    /// A date of the Extended Date/Time Format.
    pub used: Option<String>,
    pub ink: Option<String>,
    pub lines: Option<Vec<String>>,
    pub confused_with: Option<Vec<Twin>>,
    pub notes: Option<Vec<String>>,
    pub sources: Option<Vec<String>>,
}

/// Writes facts of a family anew.
///
/// # Errors
/// Where there is no such family, or its mark.toml cannot be changed.
pub fn edit_facts(
    library: &Library,
    id: &FamilyId,
    facts: &MarkFacts,
) -> Result<Draft, ChangeError> {
    let family = family(library, id)?;
    let path = family.id.folder(&library.root).join(MARK_FILE);
    let mut text = MarkText::read(&path, &family.name)?;
    let role = facts.role.map(|role| match role {
        StampRole::Maker => "",
        other => other.word(),
    });
    let texts = [
        ("name", facts.name.as_deref()),
        ("role", role),
        ("means", facts.means.as_deref()),
        ("used", facts.used.as_deref()),
        ("ink", facts.ink.as_deref()),
    ];
    for (key, value) in texts {
        if let Some(value) = value {
            text.set_text(key, value);
        }
    }
    let lists = [
        ("line", &facts.lines),
        ("notes", &facts.notes),
        ("sources", &facts.sources),
    ];
    for (key, list) in lists {
        if let Some(list) = list {
            text.set_texts(key, list);
        }
    }
    if let Some(twins) = &facts.confused_with {
        text.set_twins(twins);
    }
    let mut draft = Draft::of(Kind::Edit, format!("facts of {}", family.id));
    replace_mark(&mut draft, library, family.id.as_str(), &text);
    Ok(draft)
}

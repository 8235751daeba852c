//! Many families and pictures that come in as one change.

use super::pictures::{add_to, families, fill, pictures, refuse_taken};
use super::{ChangeError, Content, Draft, Kind, NewExemplar};
use crate::library::edit::maker_text;
use crate::library::load::MAKER_FILE;
use crate::library::{FamilyId, Library};

/// Pictures that come in for one family.
#[derive(Debug, Clone, PartialEq)]
pub struct Arrival {
    pub id: FamilyId,
    /// What to call it where the library does not have it.
    pub name: String,
    /// What to call its maker where the library has no such folder.
    pub maker: Option<String>,
    pub exemplars: Vec<NewExemplar>,
}

/// Makes the families that the library lacks and adds to those that it has.
///
/// # Errors
/// Where something other than a family lies at the place of one, or a mark.toml cannot be changed.
pub fn gather(library: &Library, arrivals: Vec<Arrival>) -> Result<Draft, ChangeError> {
    let count: usize = arrivals.iter().map(|a| a.exemplars.len()).sum();
    let what = format!("adopt {} for {}", pictures(count), families(arrivals.len()));
    let mut draft = Draft::of(Kind::Adopt, what);
    let mut makers: Vec<String> = Vec::new();
    for arrival in arrivals {
        let Arrival {
            id,
            name,
            maker,
            exemplars,
        } = arrival;
        if let Some(family) = library.find(&id) {
            add_to(&mut draft, library, family, exemplars)?;
            continue;
        }
        refuse_taken(library, &id)?;
        let folder = id.maker().to_owned();
        let is_new = !library.root.join(&folder).is_dir() && !makers.contains(&folder);
        fill(&mut draft, library, &id, &name, exemplars)?;
        if let Some(maker) = maker.filter(|name| is_new && *name != folder) {
            let text = Content::Bytes(maker_text(&maker));
            draft.put(format!("{folder}/{MAKER_FILE}"), text);
        }
        makers.push(folder);
    }
    Ok(draft)
}

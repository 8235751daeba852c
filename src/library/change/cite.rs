//! What is said of a family besides its pictures: where it or a picture is known from, by what right a picture may be
//! passed on, how large it is.

use super::pictures::{exemplars_called, family, pictures, relative, replace_mark};
use super::{ChangeError, Draft, Kind};
use crate::library::edit::{ImageEntry, MarkText};
use crate::library::load::MARK_FILE;
use crate::library::{FamilyId, Library};
use crate::sizes::Size;

/// What is said.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Citation {
    /// Added to what is said already.
    pub source: Option<String>,
    /// Takes the place of what was said; of pictures only.
    pub credit: Option<String>,
    pub licence: Option<String>,
}

/// Writes it into the family's mark.toml: of the family, or of the `files` where any are named.
///
/// # Errors
/// Where there is no such family or picture, or the mark.toml cannot be changed.
pub fn cite(
    library: &Library,
    id: &FamilyId,
    files: &[String],
    said: &Citation,
) -> Result<Draft, ChangeError> {
    let family = family(library, id)?;
    let folder = family.id.folder(&library.root);
    let mut text = MarkText::read(&folder.join(MARK_FILE), &family.name)?;
    let what = match files {
        [] => format!("cite a source of {}", family.id),
        some => format!("cite for {} of {}", pictures(some.len()), family.id),
    };
    if let (true, Some(source)) = (files.is_empty(), &said.source) {
        let mut sources = family.record.sources.clone();
        if !sources.contains(source) {
            sources.push(source.clone());
        }
        text.set_texts("sources", &sources);
    }
    for exemplar in exemplars_called(library, family, files)? {
        let path = relative(library, &exemplar.path)?;
        let own = format!("{}/", family.id);
        let before = exemplar.source.clone();
        let source = match (before, &said.source) {
            (Some(before), Some(more)) if !before.contains(more.as_str()) => {
                Some(format!("{before}; {more}"))
            }
            (Some(before), _) => Some(before),
            (None, more) => more.clone(),
        };
        text.set_image(&ImageEntry {
            file: path.trim_start_matches(&own).to_owned(),
            quad: exemplar.quad,
            source,
            photo: exemplar.photo.clone(),
            credit: said.credit.clone().or_else(|| exemplar.credit.clone()),
            licence: said.licence.clone().or_else(|| exemplar.licence.clone()),
        })?;
    }
    let mut draft = Draft::of(Kind::Cite, what);
    replace_mark(&mut draft, library, family.id.as_str(), &text);
    Ok(draft)
}

/// Writes the size of a family, or of one of its variants, into its mark.toml.
///
/// # Errors
/// Where there is no such family or variant, or the mark.toml cannot be changed.
pub fn measure(
    library: &Library,
    id: &FamilyId,
    variant: Option<&str>,
    size: Size,
) -> Result<Draft, ChangeError> {
    let family = family(library, id)?;
    let (at, name) = match variant {
        None => (family.id.to_string(), family.name.clone()),
        Some(variant) if family.variants.contains_key(variant) => {
            (format!("{}/{variant}", family.id), variant.to_owned())
        }
        Some(variant) => {
            let (id, variant) = (family.id.clone(), variant.to_owned());
            return Err(ChangeError::NoVariant { id, variant });
        }
    };
    let mut text = MarkText::read(&library.root.join(&at).join(MARK_FILE), &name)?;
    text.size(&size.to_string());
    let mut draft = Draft::of(Kind::Size, format!("size of {at}: {size}"));
    if !library.root.join(&at).is_dir() {
        draft.folder(at.clone());
    }
    replace_mark(&mut draft, library, &at, &text);
    Ok(draft)
}

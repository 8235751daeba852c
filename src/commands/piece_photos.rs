//! Photos of pieces as a person names them: `underside=IMG_2031.jpg#2`.

use std::num::NonZeroUsize;
use std::path::Path;

use super::Failure;
use super::collection::Collection;
use super::subject::{Subject, Whole};
use crate::decision::{PhotoRole, PiecePhoto};
use crate::workspace::readable;

/// The photo that is meant, its role, and which of its marks.
pub(super) fn photo_of(text: &str, collection: &Collection) -> Result<PiecePhoto, Failure> {
    let found = meant(text, collection)?;
    if !collection.opened.is_own(&found.photo)? {
        let file = collection.file(&found.photo);
        let why =
            format!("{file} is a photo of somebody else's: what it shows is no piece of yours");
        let next = collection.opened.command(&["decide", &file, "--undo"]);
        return Err(Failure::new(
            &why,
            Some(format!("where it is yours: {next}")),
        ));
    }
    Ok(found)
}

fn meant(text: &str, collection: &Collection) -> Result<PiecePhoto, Failure> {
    let (role, photo) = match text.split_once('=') {
        Some((word, rest)) => match PhotoRole::from_word(word) {
            Some(role) => (role, rest),
            // An equals sign may be part of a file's name.
            None if Path::new(text).exists() => (PhotoRole::NotSaid, text),
            None => return Err(no_role(word)),
        },
        None => (PhotoRole::NotSaid, text),
    };
    let number = photo.rsplit_once('#').and_then(|(path, mark)| {
        let mark: NonZeroUsize = mark.parse().ok()?;
        Some((path, mark))
    });
    let opened = &collection.opened;
    let Some((path, mark)) = number else {
        return Ok(PiecePhoto {
            photo: opened.workspace.find_photo(Path::new(photo))?,
            role,
            mark: None,
        });
    };
    let subject = Subject::find(opened, Path::new(path))?;
    let about = subject.about(Some(mark), Whole::Allowed)?;
    Ok(PiecePhoto {
        mark: about.region().copied(),
        photo: subject.photo,
        role,
    })
}

fn no_role(word: &str) -> Failure {
    let said = PhotoRole::ALL.iter().filter(|r| **r != PhotoRole::NotSaid);
    let roles: Vec<&str> = said.map(|r| r.word()).collect();
    let none = format!("`{}` is no role of a photo", readable(word));
    Failure::new(&none, Some(format!("roles: {}", roles.join(", "))))
}

/// The lot of a piece: the one named, or the first in which its photo was seen.
pub(super) fn lot_of(
    photo: &PiecePhoto,
    named: Option<&str>,
    collection: &Collection,
) -> Result<String, Failure> {
    let workspace = &collection.opened.workspace;
    if let Some(name) = named {
        return Ok(workspace.lot(name)?.name);
    }
    let lots: Vec<String> = workspace
        .sightings_of(&photo.photo)?
        .into_iter()
        .map(|s| s.lot)
        .collect();
    match lots.as_slice() {
        [one] => Ok(one.clone()),
        [] => Err(Failure::new(
            &format!("{} is in no lot", collection.file(&photo.photo)),
            None,
        )),
        several => {
            let several: Vec<String> = several.iter().map(|l| readable(l)).collect();
            let file = collection.file(&photo.photo);
            Err(Failure::new(
                &format!("{file} is in several lots: {}", several.join(", ")),
                Some("say which one by `--lot`".to_owned()),
            ))
        }
    }
}

//! What an archive of pictures, sorted into folders by maker and line, would be as families.

use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use super::Library;
use super::id::FamilyId;
use crate::folder::{self, Obstacle};

/// A family that an archive has pictures of.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Adopted {
    pub id: FamilyId,
    /// As the folder of the line is called.
    pub name: String,
    /// As the folder of the maker is called.
    pub maker: String,
    /// Folders that come to this id, the first one first.
    pub folders: Vec<PathBuf>,
    /// Whether the library has the family already.
    pub is_known: bool,
    pub pictures: Vec<PathBuf>,
}

/// Why something of the archive is left out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LeftOut {
    /// It lies in no folder of a maker, or in no folder of a line.
    NoFolder,
    /// A folder whose name has neither letters nor digits, or is reserved.
    NoName,
    /// The library has the very same picture.
    Known { family: FamilyId },
    /// The archive has the very same picture in another place before.
    Twice { first: PathBuf },
    /// It cannot be read.
    Unreadable { detail: String },
}

/// What an archive would be.
#[derive(Debug, Default)]
pub struct Adoption {
    /// In the order of their ids.
    pub families: BTreeMap<FamilyId, Adopted>,
    pub left_out: Vec<(PathBuf, LeftOut)>,
    /// Files that are no pictures.
    pub skipped: usize,
}

/// Looks through an archive whose folders are makers and whose folders in these are lines; what lies deeper belongs to
/// the line. Nothing is written, and what is a picture is told by content.
///
/// # Errors
/// Where the archive's own folder cannot be read.
pub fn survey(library: &Library, archive: &Path) -> io::Result<Adoption> {
    let mut known: BTreeMap<Content, FamilyId> = BTreeMap::new();
    for family in library.families.values() {
        for exemplar in &family.exemplars {
            if let Ok(bytes) = fs::read(&exemplar.path) {
                known.insert(content(&bytes), family.id.clone());
            }
        }
    }
    let mut survey = Survey {
        library,
        known,
        seen: BTreeMap::new(),
        found: Adoption::default(),
    };
    for maker in survey.folders(archive)? {
        for line in survey.folders(&maker)? {
            survey.line(&maker, &line);
        }
    }
    Ok(survey.found)
}

/// BLAKE3 of a picture's bytes.
type Content = [u8; 32];

fn content(bytes: &[u8]) -> Content {
    *blake3::hash(bytes).as_bytes()
}

struct Survey<'l> {
    library: &'l Library,
    known: BTreeMap<Content, FamilyId>,
    seen: BTreeMap<Content, PathBuf>,
    found: Adoption,
}

impl Survey<'_> {
    /// The folders in a folder; pictures beside them have no folder of their own.
    fn folders(&mut self, folder: &Path) -> io::Result<Vec<PathBuf>> {
        let mut folders = Vec::new();
        let mut paths = fs::read_dir(folder)?
            .map(|e| e.map(|e| e.path()))
            .collect::<io::Result<Vec<_>>>()?;
        paths.retain(|p| !folder::is_hidden(p));
        paths.sort();
        for path in paths {
            if path.is_dir() {
                folders.push(path);
            } else if folder::sniff_file(&path).is_ok_and(folder::is_picture_kind) {
                self.found.left_out.push((path, LeftOut::NoFolder));
            } else {
                self.found.skipped += 1;
            }
        }
        Ok(folders)
    }

    fn line(&mut self, maker: &Path, line: &Path) {
        let names = (name_of(maker), name_of(line));
        let id = slug(&names.0)
            .zip(slug(&names.1))
            .and_then(|(maker, family)| FamilyId::of(&maker, &family).ok());
        let Some(id) = id else {
            let folder = line.to_owned();
            return self.found.left_out.push((folder, LeftOut::NoName));
        };
        let listing = folder::list(&[line.to_owned()]);
        self.found.skipped += listing.skipped;
        for obstacle in listing.obstacles {
            if let Obstacle::Closed { path, detail } = obstacle {
                let why = LeftOut::Unreadable { detail };
                self.found.left_out.push((path, why));
            }
        }
        let new: Vec<PathBuf> = listing
            .photos
            .into_iter()
            .filter(|path| self.is_new(path))
            .collect();
        if new.is_empty() {
            return;
        }
        // What a family was called before leads to it.
        let now = self.library.find(&id).map(|f| f.id.clone());
        let is_known = now.is_some();
        let id = now.unwrap_or(id);
        let adopted = self.found.families.entry(id.clone()).or_insert(Adopted {
            id,
            name: names.1,
            maker: names.0,
            folders: Vec::new(),
            is_known,
            pictures: Vec::new(),
        });
        adopted.folders.push(line.to_owned());
        adopted.pictures.extend(new);
    }

    /// Whether neither the library nor the archive before has this very picture.
    fn is_new(&mut self, path: &Path) -> bool {
        let why = match fs::read(path) {
            Err(e) => LeftOut::Unreadable {
                detail: e.to_string(),
            },
            Ok(bytes) => {
                let hash = content(&bytes);
                if let Some(family) = self.known.get(&hash) {
                    let family = family.clone();
                    LeftOut::Known { family }
                } else if let Some(first) = self.seen.get(&hash) {
                    let first = first.clone();
                    LeftOut::Twice { first }
                } else {
                    self.seen.insert(hash, path.to_owned());
                    return true;
                }
            }
        };
        self.found.left_out.push((path.to_owned(), why));
        false
    }
}

fn name_of(folder: &Path) -> String {
    let name = folder.file_name().unwrap_or_default();
    name.to_string_lossy().trim().to_owned()
}

/// Letters and digits in small letters, joined by single dashes; `None` where there are none.
pub fn slug(name: &str) -> Option<String> {
    let words: Vec<String> = name
        .split(|c: char| !c.is_alphanumeric())
        .filter(|w| !w.is_empty())
        .map(str::to_lowercase)
        .collect();
    (!words.is_empty()).then(|| words.join("-"))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::library::load;

    #[test]
    fn folders_become_families_and_every_picture_is_taken_once() {
        let dir = tempfile::tempdir().unwrap();
        let put = |path: &str, bytes: &[u8]| {
            let path = dir.path().join(path);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, bytes).unwrap();
        };
        put(
            "library/mill-lane/crown/mark.toml",
            b"name = \"Crown\"\nwas = \"mill-lane/ring\"\n",
        );
        put("library/mill-lane/crown/a.gif", b"GIF89a a");
        put("old/Mill Lane/Ring/b.gif", b"GIF89a b");
        put("old/Mill Lane/Ring/a copy.gif", b"GIF89a a");
        put("old/Mill Lane/Blue Bell/deep/c.dat", b"GIF89a c");
        put("old/Mill Lane/Blue Bell/notes.txt", b"no picture");
        put("old/mill.lane/blue-bell/d.gif", b"GIF89a d");
        put("old/mill.lane/blue-bell/b again.gif", b"GIF89a b");
        put("old/Mill Lane/loose.gif", b"GIF89a l");
        put("old/???/x/e.gif", b"GIF89a e");
        put("old/.thumbs/x/f.gif", b"GIF89a f");
        let (library, _) = load(&dir.path().join("library")).unwrap();
        let found = survey(&library, &dir.path().join("old")).unwrap();
        let families: Vec<(&str, &str, usize, bool)> = found
            .families
            .values()
            .map(|f| (f.id.as_str(), f.name.as_str(), f.pictures.len(), f.is_known))
            .collect();
        assert_eq!(
            families,
            [
                ("mill-lane/blue-bell", "Blue Bell", 2, false),
                ("mill-lane/crown", "Ring", 1, true)
            ]
        );
        let blue = &found.families[&FamilyId::parse("mill-lane/blue-bell").unwrap()];
        assert_eq!(blue.folders.len(), 2);
        let left: Vec<String> = found
            .left_out
            .iter()
            .map(|(path, _)| path.file_name().unwrap().to_string_lossy().into_owned())
            .collect();
        assert_eq!(left, ["x", "loose.gif", "a copy.gif", "b again.gif"]);
        assert!(matches!(found.left_out[2].1, LeftOut::Known { .. }));
        assert!(matches!(found.left_out[3].1, LeftOut::Twice { .. }));
        assert_eq!(found.skipped, 1);
    }
}

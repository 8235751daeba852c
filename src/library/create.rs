//! A whole new family in one step: its folder is there with everything in it, or not at all.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use toml_edit::{DocumentMut, value};

use super::edit::{EditError, set_image};
use super::id::FamilyId;
use super::load::MARK_FILE;
use crate::geometry::{Photo, Quad};

/// A picture of a new family.
#[derive(Debug, Clone, PartialEq)]
pub struct NewExemplar {
    /// File name inside the family's folder.
    pub file: String,
    pub bytes: Vec<u8>,
    /// Where the mark is, in pixels of the picture.
    pub quad: Quad<Photo>,
    /// Where the picture comes from, in words.
    pub source: String,
}

/// Writes the family beside the library's folders under a name that nobody reads, then moves it to its
/// place: one that dies midway leaves nothing that counts. Returns the folder.
///
/// # Errors
/// `Exists` where the folder is there already, even empty; `Write` where the disk refuses.
pub fn write_family(
    root: &Path,
    id: &FamilyId,
    name: &str,
    exemplars: &[NewExemplar],
) -> Result<PathBuf, EditError> {
    let folder = id.folder(root);
    if folder.symlink_metadata().is_ok() {
        let id = id.clone();
        return Err(EditError::Exists { id, folder });
    }
    let fail = |path: &Path| {
        let path = path.to_owned();
        move |source| EditError::Write { path, source }
    };
    // Names that begin with a dot are none of the library's.
    let stage = tempfile::Builder::new()
        .prefix(".new-")
        .tempdir_in(root)
        .map_err(fail(root))?;
    let inner = stage.path().join(id.family());
    fill(&inner, name, exemplars).map_err(fail(&folder))?;
    let maker = root.join(id.maker());
    // A new maker's folder comes with its first family in it: one step as well.
    let moved = match maker.is_dir() {
        true => fs::rename(&inner, &folder),
        false => open_to_all(stage.path()).and_then(|()| fs::rename(stage.path(), &maker)),
    };
    moved.map_err(fail(&folder))?;
    Ok(folder)
}

fn fill(folder: &Path, name: &str, exemplars: &[NewExemplar]) -> io::Result<()> {
    fs::create_dir_all(folder)?;
    let mut document = DocumentMut::new();
    document["name"] = value(name);
    for exemplar in exemplars {
        // A new document has no `image` that could be anything but a list.
        let _ = set_image(
            &mut document,
            &exemplar.file,
            Some(exemplar.quad),
            Some(&exemplar.source),
        );
        put(&folder.join(&exemplar.file), &exemplar.bytes)?;
    }
    put(&folder.join(MARK_FILE), document.to_string().as_bytes())
}

fn put(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let mut file = File::create_new(path)?;
    file.write_all(bytes)?;
    file.sync_all()
}

/// A temporary folder is closed to others; a library's is like any that a person makes.
fn open_to_all(folder: &Path) -> io::Result<()> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        fs::set_permissions(folder, fs::Permissions::from_mode(0o755))?;
    }
    let _ = folder;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::library::load;

    fn exemplar(file: &str) -> NewExemplar {
        NewExemplar {
            file: file.into(),
            bytes: b"GIF89a of no account".to_vec(),
            quad: Quad::upright(10.0, 20.04, 110.0, 90.0),
            source: "own photo".into(),
        }
    }

    #[test]
    fn a_family_comes_whole_and_a_second_one_is_refused() {
        let root = tempfile::tempdir().expect("a folder");
        let id = FamilyId::parse("mill-lane/crown").expect("legal");
        let made = write_family(
            root.path(),
            &id,
            "Crown",
            &[exemplar("a.gif"), exemplar("b.gif")],
        );
        assert_eq!(made.expect("made"), id.folder(root.path()));
        let (library, _) = load(root.path()).expect("reads");
        let family = &library.families[&id];
        assert_eq!(family.name, "Crown");
        assert_eq!(family.exemplars.len(), 2);
        assert_eq!(
            family.exemplars[1].quad,
            Some(Quad::upright(10.0, 20.0, 110.0, 90.0))
        );
        let again = write_family(root.path(), &id, "Crown", &[]);
        assert!(matches!(again, Err(EditError::Exists { .. })));
        // A sister joins the maker's folder, and nothing is left beside it.
        let sister = FamilyId::parse("mill-lane/anchor").expect("legal");
        write_family(root.path(), &sister, "Anchor", &[exemplar("a.gif")]).expect("made");
        let left = fs::read_dir(root.path()).expect("reads").count();
        assert_eq!(left, 1);
    }

    #[test]
    fn what_fails_midway_leaves_nothing() {
        let root = tempfile::tempdir().expect("a folder");
        let id = FamilyId::parse("mill-lane/crown").expect("legal");
        let twice = [exemplar("a.gif"), exemplar("a.gif")];
        assert!(write_family(root.path(), &id, "Crown", &twice).is_err());
        assert_eq!(fs::read_dir(root.path()).expect("reads").count(), 0);
    }
}

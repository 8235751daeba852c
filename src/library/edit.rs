//! Changes to the person's files, with their comments and order kept.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use toml_edit::{Array, ArrayOfTables, DocumentMut, Item, Table, TomlError, value};

use super::Family;
use super::id::FamilyId;
use super::load::MARK_FILE;
use crate::geometry::{Photo, Quad};

/// A change that was not made; the file stands as it was.
#[derive(Debug, thiserror::Error)]
pub enum EditError {
    #[error("the family `{id}` exists already in {}", .folder.display())]
    Exists { id: FamilyId, folder: PathBuf },
    #[error("{} is not TOML ({source}): mend it first", .path.display())]
    Malformed {
        path: PathBuf,
        source: Box<TomlError>,
    },
    #[error("{}: `image` must be a list of tables: mend it first", .path.display())]
    NotAList { path: PathBuf },
    #[error("{} cannot be written ({source})", .path.display())]
    Write { path: PathBuf, source: io::Error },
}

/// Makes the folder of a new family with a mark.toml that holds its name, and returns the folder.
/// Pictures that lie there already stay.
pub fn create_family(root: &Path, id: &FamilyId, name: &str) -> Result<PathBuf, EditError> {
    let folder = id.folder(root);
    let file = folder.join(MARK_FILE);
    if file.exists() {
        return Err(EditError::Exists {
            id: id.clone(),
            folder,
        });
    }
    fs::create_dir_all(&folder).map_err(|source| EditError::Write {
        path: folder.clone(),
        source,
    })?;
    let mut document = DocumentMut::new();
    document["name"] = value(name);
    write(&file, &document.to_string())?;
    Ok(folder)
}

/// Lists a picture that lies in the family's folder as an exemplar: a new `[[image]]`, or the
/// quad and source of the one that names the file already. `file` is relative to the folder.
pub fn add_exemplar(
    root: &Path,
    family: &Family,
    file: &str,
    quad: Option<Quad<Photo>>,
    source: Option<&str>,
) -> Result<(), EditError> {
    let path = family.id.folder(root).join(MARK_FILE);
    let text = match fs::read_to_string(&path) {
        Ok(text) => text,
        Err(e) if e.kind() == io::ErrorKind::NotFound => String::new(),
        Err(source) => return Err(EditError::Write { path, source }),
    };
    let mut document: DocumentMut = text.parse().map_err(|source| EditError::Malformed {
        path: path.clone(),
        source: Box::new(source),
    })?;
    if !document.contains_key("name") {
        document["name"] = value(&family.name);
    }
    set_image(&mut document, file, quad, source)
        .ok_or_else(|| EditError::NotAList { path: path.clone() })?;
    write(&path, &document.to_string())
}

pub(super) fn set_image(
    document: &mut DocumentMut,
    file: &str,
    quad: Option<Quad<Photo>>,
    source: Option<&str>,
) -> Option<()> {
    let list = document
        .entry("image")
        .or_insert(Item::ArrayOfTables(ArrayOfTables::new()));
    if let Item::Value(toml_edit::Value::Array(inline)) = list {
        // `image = [{ .. }]` says the same as `[[image]]`, and tables can be added to the latter.
        let tables = inline
            .iter()
            .map(|v| v.as_inline_table().map(|t| t.clone().into_table()))
            .collect::<Option<ArrayOfTables>>()?;
        *list = Item::ArrayOfTables(tables);
    }
    let list = list.as_array_of_tables_mut()?;
    let known = list
        .iter()
        .position(|t| t.get("file").and_then(Item::as_str) == Some(file));
    let at = known.unwrap_or_else(|| {
        let mut table = Table::new();
        table["file"] = value(file);
        list.push(table);
        list.len() - 1
    });
    let table = list.get_mut(at)?;
    if let Some(quad) = quad {
        table["quad"] = value(corners(&quad));
    }
    if let Some(source) = source {
        table["source"] = value(source);
    }
    Some(())
}

/// Corners to a tenth of a pixel, as the answers give them.
fn corners(quad: &Quad<Photo>) -> Array {
    let tenth = |v: f64| (v * 10.0).round() / 10.0;
    quad.0
        .iter()
        .map(|p| [tenth(p.x), tenth(p.y)].into_iter().collect::<Array>())
        .collect()
}

/// Writes beside the file first, so that a power cut leaves the old or the new text.
fn write(path: &Path, text: &str) -> Result<(), EditError> {
    let fail = |source| EditError::Write {
        path: path.to_owned(),
        source,
    };
    let folder = path.parent().unwrap_or(Path::new("."));
    let mut builder = tempfile::Builder::new();
    let permissions = fs::metadata(path).ok().map(|m| m.permissions());
    #[cfg(unix)]
    let permissions = permissions.or_else(|| {
        use std::os::unix::fs::PermissionsExt;
        // Like a file that an editor makes; the umask takes its share.
        Some(fs::Permissions::from_mode(0o644))
    });
    if let Some(permissions) = permissions {
        builder.permissions(permissions);
    }
    let mut file = builder.tempfile_in(folder).map_err(fail)?;
    file.write_all(text.as_bytes()).map_err(fail)?;
    file.as_file().sync_all().map_err(fail)?;
    file.persist(path).map_err(|e| fail(e.error))?;
    Ok(())
}

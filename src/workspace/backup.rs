//! A workspace in one file, and back: a plain zip of what a person would miss, with the hash of every file.
//!
//! The database is copied by SQLite itself, so that it is whole whoever is writing. Photos are not in it, and neither
//! is what can be computed again.

use std::collections::{BTreeMap, BTreeSet};
use std::fs::{self, File};
use std::io::{self, BufReader, BufWriter, Write};
use std::path::{Component, Path, PathBuf};

use serde::{Deserialize, Serialize};
use walkdir::WalkDir;

use super::error::WorkspaceError;
use super::paths::readable_path;
use super::{DATABASE, JOURNAL, LIBRARY, README, Workspace, file_error};
use crate::archive::{Reader, Writer};
use crate::decision::Moment;
use crate::library::change::CHANGES;

/// The list of what is in a backup, inside it.
const MANIFEST: &str = "backup.json";
/// Says that it is one of ours.
const FORMAT: &str = "footring-backup";
const VERSION: u32 = 1;
/// Bytes of a manifest that are read: a million files have 200 MB.
const MOST_MANIFEST: u64 = 256 << 20;

#[derive(Debug, Serialize, Deserialize)]
struct Manifest {
    format: String,
    version: u32,
    time: String,
    files: Vec<Entry>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
struct Entry {
    /// With `/` between folders.
    path: String,
    bytes: u64,
    /// BLAKE3, hex.
    hash: String,
}

/// What a backup holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Kept {
    pub files: usize,
    pub bytes: u64,
    /// When it was made.
    pub time: String,
}

impl Kept {
    fn of(manifest: &Manifest) -> Self {
        Self {
            files: manifest.files.len(),
            bytes: manifest.files.iter().map(|f| f.bytes).sum(),
            time: manifest.time.clone(),
        }
    }
}

/// Why a backup cannot be made or used.
fn refused(path: &Path, why: impl std::fmt::Display) -> WorkspaceError {
    WorkspaceError::Backup {
        path: readable_path(path),
        why: why.to_string(),
    }
}

/// Writes a backup of the workspace to `file`, reads it again and compares every hash before it gets its name.
///
/// # Errors
/// Where `file` is there already, something cannot be read or written, or the library changes meanwhile.
pub fn backup(workspace: &Workspace, file: &Path, time: Moment) -> Result<Kept, WorkspaceError> {
    if file.symlink_metadata().is_ok() {
        return Err(refused(file, "it is there already: give another name"));
    }
    let absolute = std::path::absolute(file).unwrap_or_else(|_| file.to_owned());
    if absolute.starts_with(workspace.library()) {
        return Err(refused(file, "it would lie inside the library"));
    }
    let folder = absolute.parent().unwrap_or(Path::new("."));
    let part = tempfile::Builder::new()
        .prefix(".backup-")
        .tempdir_in(folder)
        .map_err(|e| file_error(folder, "written to", e))?;
    let database = part.path().join(DATABASE);
    workspace.copy_database(&database)?;
    let mut sources = vec![(DATABASE.to_owned(), database)];
    // After the database: entries that are written meanwhile are taken in when the copy is opened.
    for name in [JOURNAL, README] {
        let path = workspace.root().join(name);
        if path.is_file() {
            sources.push((name.to_owned(), path));
        }
    }
    sources.extend(library_files(&workspace.library())?);
    let archive = part.path().join("archive.zip");
    let manifest = pack(&archive, &sources, time)?;
    let (_, checked) = open(&archive)?;
    if checked.files != manifest.files {
        return Err(refused(file, "what was written does not read back"));
    }
    verify(&archive, &manifest)?;
    // A link, as it fails where somebody else has taken the name; some file systems have none.
    let named = fs::hard_link(&archive, &absolute).or_else(|e| match e.kind() {
        io::ErrorKind::AlreadyExists => Err(e),
        _ => fs::rename(&archive, &absolute),
    });
    named.map_err(|e| file_error(file, "written", e))?;
    Ok(Kept::of(&manifest))
}

/// The files of the library, in a fixed order, without the folder of its changes.
fn library_files(library: &Path) -> Result<Vec<(String, PathBuf)>, WorkspaceError> {
    let mut found = Vec::new();
    let entries = WalkDir::new(library)
        .follow_links(true)
        .sort_by_file_name()
        .into_iter()
        .filter_entry(|e| e.file_name() != CHANGES);
    for entry in entries {
        let entry = entry.map_err(|e| refused(library, e))?;
        if !entry.file_type().is_file() {
            continue;
        }
        let path = entry.into_path();
        let inside = path.strip_prefix(library).unwrap_or(&path);
        let parts: Option<Vec<&str>> = inside.iter().map(|p| p.to_str()).collect();
        let parts = parts.ok_or_else(|| refused(&path, "its name is not UTF-8: rename it"))?;
        found.push((format!("{LIBRARY}/{}", parts.join("/")), path));
    }
    Ok(found)
}

fn pack(
    archive: &Path,
    sources: &[(String, PathBuf)],
    time: Moment,
) -> Result<Manifest, WorkspaceError> {
    let failed = |e| file_error(archive, "written", e);
    let file = File::create_new(archive).map_err(failed)?;
    let mut zip = Writer::new(BufWriter::new(file));
    let mut files = Vec::new();
    for (name, path) in sources {
        let mut source = File::open(path).map_err(|e| file_error(path, "read", e))?;
        let (mut hasher, mut bytes) = (blake3::Hasher::new(), 0);
        zip.add(name, &mut source, |passing| {
            hasher.update(passing);
            bytes += passing.len() as u64;
        })
        .map_err(|e| file_error(path, "copied", e))?;
        files.push(Entry {
            path: name.clone(),
            bytes,
            hash: hasher.finalize().to_hex().to_string(),
        });
    }
    let manifest = Manifest {
        format: FORMAT.to_owned(),
        version: VERSION,
        time: time.to_string(),
        files,
    };
    let text = serde_json::to_vec_pretty(&manifest).map_err(|e| refused(archive, e))?;
    zip.add(MANIFEST, &mut text.as_slice(), |_| {})
        .map_err(failed)?;
    let out = zip.finish().map_err(failed)?;
    let file = out.into_inner().map_err(|e| failed(e.into_error()))?;
    file.sync_all().map_err(failed)?;
    Ok(manifest)
}

type Archive = Reader<BufReader<File>>;

/// Opens a backup and checks its list.
fn open(path: &Path) -> Result<(Archive, Manifest), WorkspaceError> {
    let file = File::open(path).map_err(|e| file_error(path, "read", e))?;
    let mut archive = Reader::new(BufReader::new(file))
        .map_err(|e| refused(path, format!("it is no backup ({e})")))?;
    let manifest = read_manifest(&mut archive, path)?;
    let mut listed: BTreeSet<&str> = manifest.files.iter().map(|f| f.path.as_str()).collect();
    if listed.len() != manifest.files.len() {
        return Err(refused(path, "a file is listed twice"));
    }
    listed.insert(MANIFEST);
    let entries = archive.entries();
    let is_listed = entries.iter().all(|e| listed.contains(e.name.as_str()));
    if entries.len() != listed.len() || !is_listed {
        return Err(refused(path, "it does not hold what its list says"));
    }
    if let Some(bad) = manifest.files.iter().find(|f| !is_ours(&f.path)) {
        let why = format!("it names a place of its own: {:?}", bad.path);
        return Err(refused(path, why));
    }
    Ok((archive, manifest))
}

fn read_manifest(archive: &mut Archive, path: &Path) -> Result<Manifest, WorkspaceError> {
    let entry = archive.entries().iter().find(|e| e.name == MANIFEST);
    if entry.is_none_or(|e| e.bytes > MOST_MANIFEST) {
        let why = format!("it is no backup: it has no {MANIFEST}");
        return Err(refused(path, why));
    }
    let mut text = Vec::new();
    archive
        .copy(MANIFEST, &mut text)
        .map_err(|e| refused(path, format!("{MANIFEST}: {e}")))?;
    let manifest: Manifest =
        serde_json::from_slice(&text).map_err(|e| refused(path, format!("its list: {e}")))?;
    if manifest.format != FORMAT {
        return Err(refused(path, "it is no backup of a workspace"));
    }
    match manifest.version <= VERSION {
        true => Ok(manifest),
        false => Err(refused(
            path,
            "a newer Footring wrote it: use the newer program",
        )),
    }
}

/// Whether a path of the list lies where a workspace has its files.
fn is_ours(path: &str) -> bool {
    match path.strip_prefix(LIBRARY).and_then(|p| p.strip_prefix('/')) {
        None => [DATABASE, JOURNAL, README].contains(&path),
        Some(inside) => {
            // Written as it would be made, so that no two names are one file.
            let parts = Path::new(inside).components();
            let names = parts.map(|part| match part {
                Component::Normal(name) => name.to_str(),
                _ => None,
            });
            let plain: Option<Vec<&str>> = names.collect();
            plain.is_some_and(|names| !names.is_empty() && names.join("/") == inside)
        }
    }
}

/// Hashes what passes.
struct Hashing<W> {
    to: W,
    hasher: blake3::Hasher,
}

impl<W: Write> Write for Hashing<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let n = self.to.write(bytes)?;
        self.hasher.update(&bytes[..n]);
        Ok(n)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.to.flush()
    }
}

/// Reads every file and hands it on, and compares its hash with the list's.
fn each_file(
    path: &Path,
    manifest: &Manifest,
    archive: &mut Archive,
    mut out: impl FnMut(&str) -> Result<Box<dyn Write>, WorkspaceError>,
) -> Result<(), WorkspaceError> {
    for listed in &manifest.files {
        let mut to = Hashing {
            to: out(&listed.path)?,
            hasher: blake3::Hasher::new(),
        };
        let copied = archive.copy(&listed.path, &mut to);
        copied
            .and_then(|()| to.flush())
            .map_err(|e| refused(path, format!("{}: {e}", listed.path)))?;
        if to.hasher.finalize().to_hex().as_str() != listed.hash {
            let why = format!("{} is damaged: its hash is another one", listed.path);
            return Err(refused(path, why));
        }
    }
    Ok(())
}

fn verify(path: &Path, manifest: &Manifest) -> Result<(), WorkspaceError> {
    let (mut archive, _) = open(path)?;
    each_file(path, manifest, &mut archive, |_| Ok(Box::new(io::sink())))
}

/// Makes the workspace of a backup in a folder that is not there yet, or empty. It gets its name when every hash was
/// compared and the database opens: before that nothing is there.
///
/// # Errors
/// Where the folder holds something, or the backup is damaged or none.
pub fn restore(file: &Path, into: &Path) -> Result<Kept, WorkspaceError> {
    if into.symlink_metadata().is_ok() {
        let mut entries = fs::read_dir(into).map_err(|e| file_error(into, "read", e))?;
        if entries.next().is_some() {
            return Err(refused(
                into,
                "it is not empty: a backup is only brought back into an empty folder",
            ));
        }
    }
    let (mut archive, manifest) = open(file)?;
    let into = std::path::absolute(into).unwrap_or_else(|_| into.to_owned());
    let parent = into.parent().unwrap_or(Path::new("/"));
    fs::create_dir_all(parent).map_err(|e| file_error(parent, "made", e))?;
    let stage = tempfile::Builder::new()
        .prefix(".restore-")
        .tempdir_in(parent)
        .map_err(|e| file_error(parent, "written to", e))?;
    let root = stage.path().join("workspace");
    let mut made: BTreeMap<String, PathBuf> = BTreeMap::new();
    fs::create_dir_all(root.join(LIBRARY)).map_err(|e| file_error(&root, "made", e))?;
    each_file(file, &manifest, &mut archive, |name| {
        let path = root.join(name);
        let failed = |e| file_error(&path, "written", e);
        fs::create_dir_all(path.parent().unwrap_or(&root)).map_err(failed)?;
        let out = File::create_new(&path).map_err(failed)?;
        made.insert(name.to_owned(), path.clone());
        Ok(Box::new(BufWriter::new(out)))
    })?;
    for path in made.values() {
        let synced = File::open(path).and_then(|f| f.sync_all());
        synced.map_err(|e| file_error(path, "written", e))?;
    }
    drop(Workspace::open(&root)?);
    if into.is_dir() {
        fs::remove_dir(&into).map_err(|e| file_error(&into, "replaced", e))?;
    }
    fs::rename(&root, &into).map_err(|e| file_error(&into, "made", e))?;
    Ok(Kept::of(&manifest))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_places_of_a_workspace_are_ours() {
        for good in [
            "footring.db",
            "journal.txt",
            "README.txt",
            "library/m/crown/a.jpg",
        ] {
            assert!(is_ours(good), "{good}");
        }
        for bad in [
            "",
            "cache.db",
            "/etc/passwd",
            "library",
            "library/",
            "library/../../x",
            "library//x",
            "library/a/./x",
            "../library/x",
        ] {
            assert!(!is_ours(bad), "{bad}");
        }
    }
}

//! A pack that somebody sent: believed in nothing, and laid out as a library of its own when all of it is as it should
//! be.

use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{self, BufReader, Write};
use std::path::Path;

use tempfile::TempDir;

use super::{
    FORMAT, INSIDE, Listed, MANIFEST, Manifest, ShareError, VERSION, failed, parts, refused,
};
use crate::archive::{Entry, Reader};
use crate::folder::is_picture_kind;
use crate::library::load::{MAKER_FILE, MARK_FILE};
use crate::library::{CODES_FILE, LINES, Library, Remark, load};
use crate::photo;

/// Bytes of a list that are read: 200,000 files have 50 MB.
const MOST_LIST: u64 = 64 << 20;
/// Bytes of a text: the largest of the shipped library have 3 kB.
const MOST_TEXT: u64 = 1 << 20;
/// Bytes of a picture: a straightened mark has 400 kB, a whole scan of a page some 30 MB.
const MOST_PICTURE: u64 = 64 << 20;
/// Bytes of all that is unpacked: 20,000 pictures of 400 kB.
const MOST_ALL: u64 = 8 << 30;
/// Unpacked, a pack may be this many times as long as packed, and some more: pictures hardly shrink, texts to a tenth.
const MOST_TIMES: u64 = 20;
const MOST_MORE: u64 = 4 << 20;

/// An opened pack.
#[derive(Debug)]
pub struct Parcel {
    pub library: Library,
    /// What is odd in its records.
    pub remarks: Vec<Remark>,
    /// When it was made, as it says.
    pub time: String,
    pub pictures: usize,
    /// Whom its pictures credit, and the licences.
    pub credits: BTreeSet<String>,
    pub licences: BTreeSet<String>,
    /// Where it lies while it is looked at.
    _folder: TempDir,
}

/// Opens a pack: compares every hash before anything is written, then lays it out in a temporary folder.
///
/// # Errors
/// Where it is no pack, or anything in it is not as its list says or not as a library has it. Nothing is written then.
pub fn open(path: &Path) -> Result<Parcel, ShareError> {
    let file = File::open(path).map_err(failed(path, "read"))?;
    let length = file.metadata().map_err(failed(path, "read"))?.len();
    let mut archive = Reader::new(BufReader::new(file))
        .map_err(|e| refused(path, format!("it is no pack ({e})")))?;
    let manifest = manifest(&mut archive, path)?;
    check(&manifest, archive.entries(), length).map_err(|why| refused(path, why))?;
    for listed in &manifest.files {
        let mut head = Head::default();
        copy(&mut archive, listed, &mut head, path)?;
        let picture = is_picture_kind(photo::sniff(&head.0));
        if picture == is_record(listed) {
            let why = match picture {
                true => format!("{} is a picture and not a record", listed.path),
                false => format!("{} is no picture", listed.path),
            };
            return Err(refused(path, why));
        }
    }
    lay_out(path, &mut archive, manifest)
}

type Archive = Reader<BufReader<File>>;

fn manifest(archive: &mut Archive, path: &Path) -> Result<Manifest, ShareError> {
    let entry = archive.entries().iter().find(|e| e.name == MANIFEST);
    if entry.is_none_or(|e| e.bytes > MOST_LIST) {
        return Err(refused(
            path,
            format!("it is no pack: it has no {MANIFEST}"),
        ));
    }
    let mut text = Vec::new();
    let copied = archive.copy(MANIFEST, &mut text);
    copied.map_err(|e| refused(path, format!("{MANIFEST}: {e}")))?;
    let manifest: Manifest =
        serde_json::from_slice(&text).map_err(|e| refused(path, format!("its list: {e}")))?;
    if manifest.format != FORMAT {
        return Err(refused(path, "it is no pack of a library"));
    }
    match manifest.version <= VERSION {
        true => Ok(manifest),
        false => Err(refused(
            path,
            "a newer Footring wrote it: use the newer program",
        )),
    }
}

/// Whether a path is that of a text.
fn is_record(listed: &Listed) -> bool {
    let name = listed.path.rsplit('/').next().unwrap_or_default();
    let lines = parts(&listed.path).is_some_and(|p| p.len() == 3 && p[1] == LINES);
    lines || [MAKER_FILE, MARK_FILE, CODES_FILE].contains(&name)
}

/// Whether a library has such a file at such a place.
fn has_place(path: &str) -> bool {
    let Some(parts) = parts(path) else {
        return false;
    };
    match parts.as_slice() {
        [_, file] => [MAKER_FILE, CODES_FILE].contains(file),
        [_, folder, file] if *folder == LINES => file.ends_with(".toml"),
        [_, folder, _, _] => *folder != LINES,
        _ => true,
    }
}

/// Compares the list with what is there, before any of it is unpacked.
fn check(manifest: &Manifest, entries: &[Entry], length: u64) -> Result<(), String> {
    let mut names = BTreeSet::new();
    let mut all = 0_u64;
    for listed in &manifest.files {
        if !has_place(&listed.path) {
            return Err(format!("it names a place of its own: {:?}", listed.path));
        }
        // Names that some systems take for one.
        if !names.insert(listed.path.to_lowercase()) {
            return Err(format!("a file is listed twice: {:?}", listed.path));
        }
        let most = match is_record(listed) {
            true => MOST_TEXT,
            false => MOST_PICTURE,
        };
        if listed.bytes > most {
            return Err(format!("{:?} is too large", listed.path));
        }
        if !is_record(listed) && (listed.credit.is_none() || listed.licence.is_none()) {
            return Err(format!("{:?} has no credit and licence", listed.path));
        }
        all = all.saturating_add(listed.bytes);
    }
    if all > MOST_ALL || all > length.saturating_mul(MOST_TIMES).saturating_add(MOST_MORE) {
        return Err("unpacked it would be far larger than it is".to_owned());
    }
    let sizes: std::collections::BTreeMap<&str, u64> =
        entries.iter().map(|e| (e.name.as_str(), e.bytes)).collect();
    let there = |l: &Listed| sizes.get(l.path.as_str()) == Some(&l.bytes);
    match entries.len() == manifest.files.len() + 1 && manifest.files.iter().all(there) {
        true => Ok(()),
        false => Err("it does not hold what its list says".to_owned()),
    }
}

/// Keeps the first bytes of what passes.
#[derive(Default)]
struct Head(Vec<u8>);

impl Write for Head {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let room = photo::SNIFF_BYTES - self.0.len();
        self.0.extend(&bytes[..bytes.len().min(room)]);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// Passes bytes on and hashes them.
struct Hashing<'w> {
    to: &'w mut dyn Write,
    hasher: blake3::Hasher,
}

impl Write for Hashing<'_> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let n = self.to.write(bytes)?;
        self.hasher.update(&bytes[..n]);
        Ok(n)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.to.flush()
    }
}

fn copy(
    archive: &mut Archive,
    listed: &Listed,
    to: &mut dyn Write,
    path: &Path,
) -> Result<(), ShareError> {
    let mut hashing = Hashing {
        to,
        hasher: blake3::Hasher::new(),
    };
    let copied = archive.copy(&listed.path, &mut hashing);
    copied.map_err(|e| refused(path, format!("{}: {e}", listed.path)))?;
    match hashing.hasher.finalize().to_hex().as_str() == listed.hash {
        true => Ok(()),
        false => {
            let why = format!("{} is damaged: its hash is another one", listed.path);
            Err(refused(path, why))
        }
    }
}

/// Unpacks what was compared, comparing once more, and reads it as a library.
fn lay_out(path: &Path, archive: &mut Archive, manifest: Manifest) -> Result<Parcel, ShareError> {
    let folder = TempDir::new().map_err(failed(&std::env::temp_dir(), "written to"))?;
    let root = folder.path().join(INSIDE);
    fs::create_dir(&root).map_err(failed(&root, "made"))?;
    for listed in &manifest.files {
        let to = folder.path().join(&listed.path);
        if let Some(parent) = to.parent() {
            fs::create_dir_all(parent).map_err(failed(parent, "made"))?;
        }
        let mut out = File::create_new(&to).map_err(failed(&to, "written"))?;
        copy(archive, listed, &mut out, path)?;
    }
    let (library, remarks) = load(&root).map_err(|e| refused(path, e))?;
    let pictures = manifest.files.iter().filter(|l| !is_record(l));
    Ok(Parcel {
        library,
        remarks,
        time: manifest.time,
        pictures: pictures.count(),
        credits: manifest
            .files
            .iter()
            .filter_map(|l| l.credit.clone())
            .collect(),
        licences: manifest
            .files
            .iter()
            .filter_map(|l| l.licence.clone())
            .collect(),
        _folder: folder,
    })
}

//! Finds the photos that a person named, and reads their bytes. Originals are opened for reading
//! only.

use std::collections::BTreeMap;
use std::ffi::OsString;
use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use walkdir::WalkDir;

use crate::photo::{self, DecodeLimits, Excess, Format, Kind, PhotoError, SNIFF_BYTES};

/// Endings that cameras, phones and messengers give to photos. Names are only asked where the
/// content tells nothing: an empty file, or one that may not be opened.
const PHOTO_ENDINGS: [&str; 13] = [
    "jpg", "jpeg", "jpe", "jfif", "png", "webp", "tif", "tiff", "heic", "heif", "hif", "gif", "bmp",
];

/// Something in a folder that could not be entered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Obstacle {
    /// A folder (or what may be one) that could not be read.
    Closed { path: PathBuf, detail: String },
    /// A link that leads back to a folder above it.
    Loop { path: PathBuf, above: PathBuf },
    /// Called like a photo, and by its content none.
    Mislabelled { path: PathBuf },
    /// A HEIC whose shot is there as a JPEG of the same name.
    SameShot { path: PathBuf, kept: PathBuf },
}

/// What the named paths hold, in the order named, folders by name bytes.
#[derive(Debug, Default)]
pub struct Listing {
    /// As named, or the named folder joined with what was found in it. A named file is here
    /// whatever it holds.
    pub photos: Vec<PathBuf>,
    pub obstacles: Vec<Obstacle>,
    /// Files in folders that are no pictures by their content.
    pub skipped: usize,
}

/// Whether a file's name begins with a dot: previews, trash and notes of other programs.
pub fn is_hidden(path: &Path) -> bool {
    path.file_name()
        .is_some_and(|n| n.as_encoded_bytes().starts_with(b"."))
}

/// Whether this is a picture, of a kind that is read or not.
pub fn is_picture_kind(kind: Kind) -> bool {
    kind != Kind::NotAPicture
}

/// What the first bytes of a file say.
pub fn sniff_file(path: &Path) -> io::Result<Kind> {
    let mut head = Vec::with_capacity(SNIFF_BYTES);
    File::open(path)?
        .take(SNIFF_BYTES as u64)
        .read_to_end(&mut head)?;
    Ok(photo::sniff(&head))
}

/// Lists every photo under `paths`. Folders are walked to the bottom, links are followed, hidden
/// entries are left out.
pub fn list(paths: &[PathBuf]) -> Listing {
    let mut listing = Listing::default();
    for path in paths {
        if path.is_dir() {
            let from = listing.photos.len();
            walk(path, &mut listing);
            drop_same_shots(from, &mut listing);
        } else {
            listing.photos.push(path.clone());
        }
    }
    listing
}

fn walk(folder: &Path, listing: &mut Listing) {
    let entries = WalkDir::new(folder)
        .follow_links(true)
        .sort_by(|a, b| {
            let bytes = |e: &walkdir::DirEntry| e.file_name().as_encoded_bytes().to_vec();
            bytes(a).cmp(&bytes(b))
        })
        .into_iter()
        .filter_entry(|e| e.depth() == 0 || !is_hidden(e.path()));
    for entry in entries {
        match entry {
            Ok(entry) if entry.file_type().is_file() => consider(entry.into_path(), listing),
            // Folders are walked; pipes, sockets and devices hold no photos.
            Ok(_) => {}
            Err(error) => obstacle(&error, folder, listing),
        }
    }
}

fn consider(path: PathBuf, listing: &mut Listing) {
    let photo = match sniff_file(&path) {
        Ok(kind) if is_picture_kind(kind) => true,
        Ok(_) if !is_called_photo(&path) => false,
        Ok(_) if is_empty(&path) => true,
        Ok(_) => {
            listing
                .obstacles
                .push(Obstacle::Mislabelled { path: path.clone() });
            false
        }
        Err(_) => is_called_photo(&path),
    };
    if photo {
        listing.photos.push(path);
    } else {
        listing.skipped += 1;
    }
}

fn obstacle(error: &walkdir::Error, folder: &Path, listing: &mut Listing) {
    let path = error.path().unwrap_or(folder).to_owned();
    if let Some(above) = error.loop_ancestor() {
        let above = above.to_owned();
        listing.obstacles.push(Obstacle::Loop { path, above });
    } else if is_called_photo(&path) {
        // A link to a photo that is gone: reading it says why.
        listing.photos.push(path);
    } else {
        let detail = error
            .io_error()
            .map_or_else(|| error.to_string(), io_detail);
        listing.obstacles.push(Obstacle::Closed { path, detail });
    }
}

fn is_called_photo(path: &Path) -> bool {
    path.extension()
        .and_then(|e| e.to_str())
        .is_some_and(|e| PHOTO_ENDINGS.contains(&e.to_ascii_lowercase().as_str()))
}

fn is_empty(path: &Path) -> bool {
    fs::metadata(path).is_ok_and(|m| m.len() == 0)
}

/// Leaves out each HEIC of `listing.photos[from..]` that has a whole JPEG of the same name beside
/// it, unless the two tell different capture times.
fn drop_same_shots(from: usize, listing: &mut Listing) {
    let mut by_stem: BTreeMap<(PathBuf, OsString), Vec<usize>> = BTreeMap::new();
    for (i, path) in listing.photos.iter().enumerate().skip(from) {
        let folder = path.parent().unwrap_or(Path::new("")).to_owned();
        if let Some(stem) = path.file_stem() {
            by_stem
                .entry((folder, stem.to_owned()))
                .or_default()
                .push(i);
        }
    }
    let mut dropped = BTreeMap::new();
    for group in by_stem.values().filter(|g| g.len() > 1) {
        let of = |format| {
            group.iter().copied().find(
                |&i| matches!(sniff_file(&listing.photos[i]), Ok(Kind::Readable(f)) if f == format),
            )
        };
        if let (Some(heic), Some(jpeg)) = (of(Format::Heic), of(Format::Jpeg))
            && is_same_shot(&listing.photos[heic], &listing.photos[jpeg])
        {
            dropped.insert(heic, listing.photos[jpeg].clone());
        }
    }
    for (&i, kept) in dropped.iter().rev() {
        let path = listing.photos.remove(i);
        let kept = kept.clone();
        listing.obstacles.push(Obstacle::SameShot { path, kept });
    }
}

fn is_same_shot(heic: &Path, jpeg: &Path) -> bool {
    let (Ok(heic), Ok(jpeg)) = (fs::read(heic), fs::read(jpeg)) else {
        return false;
    };
    let times = (photo::taken(&heic), photo::taken(&jpeg));
    photo::is_whole(&jpeg) && !matches!(times, (Some(a), Some(b)) if a != b)
}

/// The bytes of a photo; nothing beyond the limit is read into memory.
pub fn read_bytes(path: &Path, limits: &DecodeLimits) -> Result<Vec<u8>, PhotoError> {
    let fail = |e: io::Error| PhotoError::CannotOpen {
        detail: io_detail(&e),
    };
    let file = File::open(path).map_err(fail)?;
    let limit = limits.max_file_bytes;
    let have = file.metadata().map_err(fail)?.len();
    if have > limit {
        return Err(PhotoError::TooLarge(Excess::Bytes { have, limit }));
    }
    let mut bytes = Vec::with_capacity(have as usize);
    file.take(limit + 1).read_to_end(&mut bytes).map_err(fail)?;
    Ok(bytes)
}

/// An error of the system in its own words, without its number.
fn io_detail(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::NotFound => "no such file".to_owned(),
        io::ErrorKind::PermissionDenied => "permission denied".to_owned(),
        _ => error.to_string(),
    }
}

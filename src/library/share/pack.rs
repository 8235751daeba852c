//! Families in one file for somebody else.

use std::fs::{self, File};
use std::io::BufWriter;
use std::path::{Path, PathBuf};

use super::{
    FORMAT, INSIDE, Listed, MANIFEST, Manifest, ShareError, VERSION, failed, refused, stripped,
};
use crate::archive::Writer;
use crate::library::edit::{ImageEntry, MarkText};
use crate::library::load::{MAKER_FILE, MARK_FILE};
use crate::library::{CODES_FILE, Exemplar, Family, LINES, Library};

/// How the source of a picture begins that is one's own.
const OWN: [&str; 2] = ["own photo", "own scan"];

/// What one's own pictures are passed on by.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Terms {
    pub credit: String,
    pub licence: String,
}

/// A picture that does not go.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LeftOut {
    pub family: String,
    /// As it lies in the family's folder.
    pub file: String,
    pub why: String,
}

/// What was packed.
#[derive(Debug, Default)]
pub struct Packed {
    pub families: usize,
    pub pictures: usize,
    pub bytes: u64,
    pub left_out: Vec<LeftOut>,
}

/// Writes the families that are `wanted` to a new `file`, with the records of their makers and lines.
///
/// A picture goes if it is one's own, by its source, or if its entry states a credit and a licence. It is rid of what
/// tells of its owner, and of the name of the lot that it came from.
///
/// # Errors
/// Where `file` is there already, something cannot be read or written, or a mark.toml cannot be changed.
pub fn pack(
    library: &Library,
    wanted: &dyn Fn(&Family) -> bool,
    terms: &Terms,
    file: &Path,
    time: &str,
) -> Result<Packed, ShareError> {
    if file.symlink_metadata().is_ok() {
        return Err(refused(file, "it is there already: give another name"));
    }
    let absolute = std::path::absolute(file).map_err(failed(file, "found"))?;
    if absolute.starts_with(&library.root) {
        return Err(refused(file, "it would lie inside the library"));
    }
    let folder = absolute.parent().unwrap_or(Path::new("."));
    let part = tempfile::NamedTempFile::new_in(folder).map_err(failed(folder, "written to"))?;
    let out = part.reopen().map_err(failed(file, "written"))?;
    let mut packing = Packing {
        library,
        terms,
        file,
        zip: Writer::new(BufWriter::new(out)),
        files: Vec::new(),
        told: Packed::default(),
    };
    let families: Vec<&Family> = library.families.values().filter(|f| wanted(f)).collect();
    for of_maker in families.chunk_by(|a, b| a.id.maker() == b.id.maker()) {
        packing.maker(of_maker[0].id.maker())?;
        for family in of_maker {
            packing.family(family)?;
        }
    }
    let told = packing.finish(time)?;
    part.persist_noclobber(&absolute)
        .map_err(|e| failed(file, "written")(e.error))?;
    Ok(told)
}

struct Packing<'p> {
    library: &'p Library,
    terms: &'p Terms,
    file: &'p Path,
    zip: Writer<BufWriter<File>>,
    files: Vec<Listed>,
    told: Packed,
}

impl Packing<'_> {
    fn add(&mut self, inside: &str, bytes: &[u8], terms: Option<&Terms>) -> Result<(), ShareError> {
        let path = format!("{INSIDE}/{inside}");
        if super::parts(&path).is_none() {
            let own = self.library.root.join(inside);
            let why = "its name cannot be used on every system: rename it (a plain name without \\ : * ? \" < > |)";
            return Err(refused(&own, why));
        }
        let mut rest = bytes;
        let write = self.zip.add(&path, &mut rest, |_| {});
        write.map_err(failed(self.file, "written"))?;
        self.told.bytes += bytes.len() as u64;
        self.files.push(Listed {
            path,
            bytes: bytes.len() as u64,
            hash: blake3::hash(bytes).to_hex().to_string(),
            credit: terms.map(|t| t.credit.clone()),
            licence: terms.map(|t| t.licence.clone()),
        });
        Ok(())
    }

    /// A text as it is, where it is there.
    fn text(&mut self, inside: &str) -> Result<(), ShareError> {
        let path = self.library.root.join(inside);
        if !path.is_file() {
            return Ok(());
        }
        let bytes = fs::read(&path).map_err(failed(&path, "read"))?;
        self.add(inside, &bytes, None)
    }

    fn maker(&mut self, maker: &str) -> Result<(), ShareError> {
        self.text(&format!("{maker}/{MAKER_FILE}"))?;
        self.text(&format!("{maker}/{CODES_FILE}"))?;
        let lines = self.library.makers.get(maker).map(|m| &m.lines);
        for line in lines.into_iter().flat_map(|lines| lines.keys()) {
            self.text(&format!("{maker}/{LINES}/{line}.toml"))?;
        }
        Ok(())
    }

    fn family(&mut self, family: &Family) -> Result<(), ShareError> {
        let folder = family.id.folder(&self.library.root);
        let mut texts = Texts::of(&folder, family)?;
        self.told.families += 1;
        let mut done: Vec<PathBuf> = Vec::new();
        for exemplar in &family.exemplars {
            // A picture with several marks is one file.
            if done.contains(&exemplar.path) {
                continue;
            }
            done.push(exemplar.path.clone());
            let file = inside(&folder, &exemplar.path)?;
            match self.picture(family, exemplar, &file, &mut texts)? {
                None => self.told.pictures += 1,
                Some(why) => {
                    texts.drop(&file)?;
                    let family = family.id.to_string();
                    self.told.left_out.push(LeftOut { family, file, why });
                }
            }
        }
        for (file, text) in texts.0 {
            self.add(&format!("{}/{file}", family.id), &text.bytes(), None)?;
        }
        self.text(&format!("{}/{CODES_FILE}", family.id))
    }

    /// Packs a picture; gives the reason where it does not go.
    fn picture(
        &mut self,
        family: &Family,
        exemplar: &Exemplar,
        file: &str,
        texts: &mut Texts,
    ) -> Result<Option<String>, ShareError> {
        let source = exemplar.source.as_deref().unwrap_or_default();
        let own = own(source);
        let terms = match (&exemplar.credit, &exemplar.licence, own) {
            (Some(credit), Some(licence), _) => Terms {
                credit: credit.clone(),
                licence: licence.clone(),
            },
            (_, _, Some(_)) => self.terms.clone(),
            _ => {
                let why = "it is not your own photo, and no credit and licence are stated";
                return Ok(Some(why.to_owned()));
            }
        };
        let bytes = fs::read(&exemplar.path).map_err(failed(&exemplar.path, "read"))?;
        let bare = match stripped(&bytes) {
            Ok(bare) => bare,
            Err(why) => return Ok(Some(format!("it cannot be read: {why}"))),
        };
        let name = match bare.ending {
            None => file.to_owned(),
            Some(ending) => format!("{}-{ending}.{ending}", file.replace('.', "-")),
        };
        let said = ImageEntry {
            file: name.clone(),
            quad: exemplar.quad,
            // Which lot it lay in is nobody's business.
            source: own.map(|own| format!("{own} of {}", terms.credit)),
            photo: None,
            credit: Some(terms.credit.clone()),
            licence: Some(terms.licence.clone()),
        };
        texts.set(file, &said)?;
        self.add(&format!("{}/{name}", family.id), &bare.bytes, Some(&terms))?;
        Ok(None)
    }

    fn finish(mut self, time: &str) -> Result<Packed, ShareError> {
        let manifest = Manifest {
            format: FORMAT.to_owned(),
            version: VERSION,
            time: time.to_owned(),
            files: self.files,
        };
        let text = serde_json::to_vec_pretty(&manifest).map_err(|e| refused(self.file, e))?;
        let wrong = failed(self.file, "written");
        let mut rest = text.as_slice();
        self.zip.add(MANIFEST, &mut rest, |_| {}).map_err(&wrong)?;
        let out = self.zip.finish().map_err(&wrong)?;
        let file = out.into_inner().map_err(|e| wrong(e.into_error()))?;
        file.sync_all().map_err(&wrong)?;
        Ok(self.told)
    }
}

/// The mark.toml of a family and those of its variants, by their place in its folder.
struct Texts(Vec<(String, MarkText)>);

impl Texts {
    fn of(folder: &Path, family: &Family) -> Result<Self, ShareError> {
        let read = |file: String| {
            let text = MarkText::read(&folder.join(&file), &family.name)?;
            Ok((file, text))
        };
        let variants = family.variants.keys().map(|v| format!("{v}/{MARK_FILE}"));
        let there = variants.filter(|file| folder.join(file).is_file());
        let files = std::iter::once(MARK_FILE.to_owned()).chain(there);
        let texts: Result<Vec<_>, ShareError> = files.map(read).collect();
        Ok(Self(texts?))
    }

    /// The text that speaks of a picture, and what it calls it: its variant's own, where it has one.
    fn about<'t>(&mut self, file: &'t str) -> (&mut MarkText, &'t str) {
        let own = file.split_once('/').and_then(|(variant, name)| {
            let mark = format!("{variant}/{MARK_FILE}");
            let at = self.0.iter().position(|(f, _)| *f == mark)?;
            Some((at, name))
        });
        let (at, name) = own.unwrap_or((0, file));
        (&mut self.0[at].1, name)
    }

    fn set(&mut self, file: &str, said: &ImageEntry) -> Result<(), ShareError> {
        let (text, name) = self.about(file);
        let folder = file.len() - name.len();
        let now = said.file[folder..].to_owned();
        if now != name {
            let tables = text.take_images(name)?;
            if !tables.is_empty() {
                text.add_images(&tables, &now)?;
            }
        }
        let quad = None;
        let file = now.clone();
        // What is said of each of its marks stays; where nothing is said, the entry is new.
        text.set_image(&ImageEntry {
            quad,
            file,
            ..said.clone()
        })?;
        text.forget(&now, "photo")?;
        Ok(())
    }

    fn drop(&mut self, file: &str) -> Result<(), ShareError> {
        let (text, name) = self.about(file);
        text.take_images(name)?;
        Ok(())
    }
}

/// What makes a picture one's own among the sources that are told of it.
fn own(source: &str) -> Option<&'static str> {
    let begins = |own: &&&str| source.split("; ").any(|s| s.starts_with(**own));
    OWN.iter().find(begins).copied()
}

fn inside(folder: &Path, path: &Path) -> Result<String, ShareError> {
    let inside = path.strip_prefix(folder).unwrap_or(path);
    let parts: Option<Vec<&str>> = inside.iter().map(|p| p.to_str()).collect();
    let parts = parts.ok_or_else(|| refused(path, "its name is not UTF-8: rename it"))?;
    Ok(parts.join("/"))
}

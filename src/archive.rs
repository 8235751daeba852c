//! Plain zip files: what the program writes and reads of them.
//!
//! Written are stored files with 64-bit sizes and no time, so that equal contents give equal bytes. Read is what any
//! program packed, as long as it holds plain files only, each name once and no byte in two of them.

use std::io::{self, Read, Seek, Write};

use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipArchive, ZipWriter};

/// Entries of a zip that are read at most: a hundred times the pictures of a large library.
const MOST_ENTRIES: usize = 1_000_000;

/// One file inside.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    pub name: String,
    /// Length when unpacked, as the zip says.
    pub bytes: u64,
    /// Length in the zip.
    pub packed: u64,
    at: usize,
}

fn bad(why: &str) -> io::Error {
    io::Error::new(io::ErrorKind::InvalidData, why.to_owned())
}

/// Writes a zip.
pub struct Writer<W: Write + Seek>(ZipWriter<W>);

impl<W: Write + Seek> Writer<W> {
    /// `out` is empty.
    pub fn new(out: W) -> Self {
        Self(ZipWriter::new(out))
    }

    /// Adds a file with all that `from` holds; `seen` is shown the bytes as they pass.
    ///
    /// # Errors
    /// Where reading or writing fails, or the name was given before.
    pub fn add(
        &mut self,
        name: &str,
        from: &mut impl Read,
        mut seen: impl FnMut(&[u8]),
    ) -> io::Result<()> {
        let options = SimpleFileOptions::default()
            .compression_method(CompressionMethod::Stored)
            .large_file(true);
        self.0.start_file(name, options)?;
        let mut buffer = vec![0; 1 << 16];
        loop {
            let n = match from.read(&mut buffer) {
                Ok(0) => return Ok(()),
                Ok(n) => n,
                Err(e) if e.kind() == io::ErrorKind::Interrupted => continue,
                Err(e) => return Err(e),
            };
            seen(&buffer[..n]);
            self.0.write_all(&buffer[..n])?;
        }
    }

    /// Writes the list and gives the file back.
    ///
    /// # Errors
    /// Where writing fails.
    pub fn finish(self) -> io::Result<W> {
        let mut out = self.0.finish()?;
        out.flush()?;
        Ok(out)
    }
}

/// Reads a zip.
pub struct Reader<R> {
    zip: ZipArchive<R>,
    entries: Vec<Entry>,
}

impl<R: Read + Seek> Reader<R> {
    /// Reads the list.
    ///
    /// # Errors
    /// Where it cannot be read, or holds a folder, a link, an encrypted file, a name twice or one that is no text, or
    /// where two files share bytes.
    pub fn new(from: R) -> io::Result<Self> {
        let mut zip = ZipArchive::new(from)?;
        if zip.has_duplicate_names() {
            return Err(bad("it holds a name twice"));
        }
        if zip.len() > MOST_ENTRIES {
            return Err(bad("it holds more than a million files"));
        }
        let mut entries = Vec::with_capacity(zip.len());
        for at in 0..zip.len() {
            let file = zip.by_index_raw(at)?;
            let name = file.name()?.into_owned();
            let mode = file.unix_mode().unwrap_or(REGULAR) & KIND;
            let plain = file.is_file() && (mode == REGULAR || mode == 0) && !file.encrypted();
            if !plain {
                return Err(bad(&format!(
                    "it holds something else than plain files: {name:?}"
                )));
            }
            entries.push(Entry {
                name,
                bytes: file.size(),
                packed: file.compressed_size(),
                at,
            });
        }
        if zip.has_overlapping_entries()? {
            return Err(bad("two files of it share their bytes"));
        }
        Ok(Self { zip, entries })
    }

    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// Copies a file out, no byte more than its length as the list says.
    ///
    /// # Errors
    /// Where there is none of this name, it is longer or shorter, its check is wrong, or reading or writing fails.
    pub fn copy(&mut self, name: &str, to: &mut impl Write) -> io::Result<()> {
        let entry = self.entries.iter().find(|e| e.name == name);
        let entry = entry.ok_or_else(|| bad("it is not in the zip"))?;
        let file = self.zip.by_index(entry.at)?;
        // The byte more tells a file that is longer from one that ends there.
        let copied = io::copy(&mut file.take(entry.bytes.saturating_add(1)), to)?;
        match copied == entry.bytes {
            true => Ok(()),
            false => Err(bad("it is damaged: its length is another one")),
        }
    }
}

/// Bits of a Unix mode that tell the kind of a file, and those of a plain one.
const KIND: u32 = 0o170_000;
const REGULAR: u32 = 0o100_000;

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use std::io::Cursor;

    use super::*;

    fn packed(files: &[(&str, &[u8])]) -> Vec<u8> {
        let mut zip = Writer::new(Cursor::new(Vec::new()));
        for (name, bytes) in files {
            zip.add(name, &mut &bytes[..], |_| {}).unwrap();
        }
        zip.finish().unwrap().into_inner()
    }

    #[test]
    fn what_is_packed_comes_out_again() {
        let long = vec![7; 200_000];
        let files: [(&str, &[u8]); 3] = [("a.txt", b"123456789"), ("Ü/b", b""), ("c", &long)];
        assert_eq!(packed(&files), packed(&files));
        let mut zip = Reader::new(Cursor::new(packed(&files))).unwrap();
        assert_eq!(zip.entries()[2].bytes, 200_000);
        for (name, bytes) in files {
            let mut out = Vec::new();
            zip.copy(name, &mut out).unwrap();
            assert_eq!(out, bytes, "{name}");
        }
        assert!(zip.copy("d", &mut Vec::new()).is_err());
        let none = Reader::new(Cursor::new(packed(&[]))).unwrap();
        assert!(none.entries().is_empty());
    }

    #[test]
    fn a_cut_or_changed_content_is_noticed() {
        let whole = packed(&[("a.txt", b"some bytes"), ("b", b"more")]);
        let reads = |bytes: &[u8]| {
            let mut zip = Reader::new(Cursor::new(bytes.to_vec()))?;
            zip.copy("a.txt", &mut Vec::new())?;
            zip.copy("b", &mut Vec::new())
        };
        assert!(reads(&whole).is_ok());
        for at in 0..whole.len() {
            assert!(reads(&whole[..at]).is_err(), "cut at {at}");
        }
        let content = whole.windows(4).position(|w| w == b"some").unwrap();
        let mut changed = whole;
        changed[content] ^= 1;
        assert!(reads(&changed).is_err());
    }

    #[test]
    fn links_folders_and_names_given_twice_are_refused() {
        type Writing = ZipWriter<Cursor<Vec<u8>>>;
        let refused = |make: &dyn Fn(&mut Writing)| {
            let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
            make(&mut zip);
            let bytes = zip.finish().unwrap().into_inner();
            Reader::new(Cursor::new(bytes)).err().unwrap().to_string()
        };
        let plain = SimpleFileOptions::default();
        let link = refused(&|zip| zip.add_symlink("a", "/etc/passwd", plain).unwrap());
        let folder = refused(&|zip| zip.add_directory("a", plain).unwrap());
        for said in [link, folder] {
            assert!(said.contains("something else than plain files"), "{said}");
        }
        // A second file under the name of the first: the writer would not make it.
        let mut twice = packed(&[("a", b"one"), ("b", b"two")]);
        for at in 0..twice.len() {
            let before = &twice[at.saturating_sub(30)..at];
            let local = before.len() == 30 && before.starts_with(b"PK\x03\x04");
            let listed = at >= 46 && twice[at - 46..].starts_with(b"PK\x01\x02");
            if twice[at] == b'b' && (local || listed) {
                twice[at] = b'a';
            }
        }
        let said = Reader::new(Cursor::new(twice)).err().unwrap().to_string();
        assert!(said.contains("a name twice"), "{said}");
    }
}

//! Plain zip files: stored, not compressed, with 64-bit sizes throughout (PKWARE application note 6.3).
//!
//! Written so that any program unpacks them. Read are only files of the very form that is written here, entry by entry
//! without a gap: what another program packed is refused, and nothing can hide between the entries.

use std::io::{self, Read, Seek, SeekFrom, Write};

const LOCAL: u32 = 0x0403_4b50;
const CENTRAL: u32 = 0x0201_4b50;
const END_64: u32 = 0x0606_4b50;
const LOCATOR: u32 = 0x0706_4b50;
const END: u32 = 0x0605_4b50;
/// "Version needed": 4.5, the first with 64-bit sizes.
const NEEDED: u16 = 45;
/// "Version made by": the same, on Unix, so that the permissions below are read.
const MADE_BY: u16 = (3 << 8) | NEEDED;
/// Names are UTF-8.
const FLAGS: u16 = 1 << 11;
/// A file that its owner may write and all may read.
const PERMISSIONS: u32 = 0o100_644 << 16;
/// The first day that the format can tell, 1980-01-01: equal contents give equal files.
const DAY: u16 = (1 << 5) | 1;
/// Stands for "see the 64-bit field".
const SEE_64: u32 = u32::MAX;
/// Id of the field of 64-bit sizes.
const SIZES: u16 = 1;
/// Bytes of the parts of fixed length.
const LOCAL_LEN: usize = 30;
const CENTRAL_LEN: usize = 46;
const END_64_LEN: usize = 56;
const LOCATOR_LEN: usize = 20;
const END_LEN: usize = 22;
/// Bytes of the field of 64-bit sizes before an entry, and in the list, where the place is in it too.
const LOCAL_SIZES: usize = 20;
const CENTRAL_SIZES: usize = 28;
/// Bytes of the list of entries that are read.
const MOST_LIST: u64 = 256 << 20;

/// One file inside.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    pub name: String,
    pub bytes: u64,
    crc: u32,
    /// Where it begins.
    at: u64,
}

impl Entry {
    fn local(&self) -> Vec<u8> {
        let mut out = Vec::with_capacity(LOCAL_LEN + self.name.len() + LOCAL_SIZES);
        word(&mut out, LOCAL);
        self.common(&mut out, LOCAL_SIZES);
        out.extend(self.name.as_bytes());
        half(&mut out, SIZES);
        half(&mut out, (LOCAL_SIZES - 4) as u16);
        long(&mut out, self.bytes);
        long(&mut out, self.bytes);
        out
    }

    fn central(&self) -> Vec<u8> {
        let mut out = Vec::with_capacity(CENTRAL_LEN + self.name.len() + CENTRAL_SIZES);
        word(&mut out, CENTRAL);
        half(&mut out, MADE_BY);
        self.common(&mut out, CENTRAL_SIZES);
        // Comment, disk and inner attributes: none.
        [0; 3].iter().for_each(|n| half(&mut out, *n));
        word(&mut out, PERMISSIONS);
        word(&mut out, SEE_64);
        out.extend(self.name.as_bytes());
        half(&mut out, SIZES);
        half(&mut out, (CENTRAL_SIZES - 4) as u16);
        long(&mut out, self.bytes);
        long(&mut out, self.bytes);
        long(&mut out, self.at);
        out
    }

    /// What both headers say in the same order.
    fn common(&self, out: &mut Vec<u8>, sizes: usize) {
        // Version, flags, stored, midnight, day.
        for n in [NEEDED, FLAGS, 0, 0, DAY] {
            half(out, n);
        }
        for n in [self.crc, SEE_64, SEE_64] {
            word(out, n);
        }
        half(out, self.name.len() as u16);
        half(out, sizes as u16);
    }

    fn len(&self) -> u64 {
        (LOCAL_LEN + self.name.len() + LOCAL_SIZES) as u64 + self.bytes
    }
}

fn half(out: &mut Vec<u8>, n: u16) {
    out.extend(n.to_le_bytes());
}

fn word(out: &mut Vec<u8>, n: u32) {
    out.extend(n.to_le_bytes());
}

fn long(out: &mut Vec<u8>, n: u64) {
    out.extend(n.to_le_bytes());
}

/// The three parts behind the list: of 64 bits, where that is, and of old.
fn ending(entries: usize, list: u64, at: u64) -> Vec<u8> {
    let mut out = Vec::with_capacity(END_64_LEN + LOCATOR_LEN + END_LEN);
    word(&mut out, END_64);
    long(&mut out, END_64_LEN as u64 - 12);
    half(&mut out, MADE_BY);
    half(&mut out, NEEDED);
    [0; 2].iter().for_each(|n| word(&mut out, *n));
    for n in [entries as u64, entries as u64, list, at] {
        long(&mut out, n);
    }
    word(&mut out, LOCATOR);
    word(&mut out, 0);
    long(&mut out, at + list);
    word(&mut out, 1);
    word(&mut out, END);
    for n in [0, 0, u16::MAX, u16::MAX] {
        half(&mut out, n);
    }
    word(&mut out, SEE_64);
    word(&mut out, SEE_64);
    half(&mut out, 0);
    out
}

/// Cyclic redundancy check, a bit at a time over a table of bytes (Sarwate 1988).
#[derive(Debug, Clone, Copy)]
struct Crc(u32);

const TABLE: [u32; 256] = {
    let mut table = [0; 256];
    let mut byte = 0;
    while byte < 256 {
        let (mut value, mut bit) = (byte as u32, 0);
        while bit < 8 {
            value = (value >> 1) ^ if value & 1 == 1 { 0xedb8_8320 } else { 0 };
            bit += 1;
        }
        table[byte] = value;
        byte += 1;
    }
    table
};

impl Crc {
    fn new() -> Self {
        Self(u32::MAX)
    }

    fn add(&mut self, bytes: &[u8]) {
        for byte in bytes {
            let low = (self.0 ^ u32::from(*byte)) & 0xff;
            self.0 = TABLE[low as usize] ^ (self.0 >> 8);
        }
    }

    fn end(self) -> u32 {
        !self.0
    }
}

/// Writes a zip.
#[derive(Debug)]
pub struct Writer<W> {
    out: W,
    entries: Vec<Entry>,
    at: u64,
}

impl<W: Write + Seek> Writer<W> {
    /// `out` is empty.
    pub fn new(out: W) -> Self {
        Self {
            out,
            entries: Vec::new(),
            at: 0,
        }
    }

    /// Adds a file with all that `from` holds; `seen` is shown the bytes as they pass.
    ///
    /// # Errors
    /// Where reading or writing fails, and for names of more than 65,535 bytes.
    pub fn add(
        &mut self,
        name: &str,
        from: &mut impl Read,
        mut seen: impl FnMut(&[u8]),
    ) -> io::Result<()> {
        if name.len() > usize::from(u16::MAX) {
            return Err(io::Error::new(
                io::ErrorKind::InvalidInput,
                "a name too long",
            ));
        }
        let mut entry = Entry {
            name: name.to_owned(),
            bytes: 0,
            crc: 0,
            at: self.at,
        };
        self.out.write_all(&entry.local())?;
        let mut crc = Crc::new();
        let mut buffer = vec![0; 1 << 16];
        loop {
            let n = match from.read(&mut buffer) {
                Ok(0) => break,
                Ok(n) => n,
                Err(e) if e.kind() == io::ErrorKind::Interrupted => continue,
                Err(e) => return Err(e),
            };
            crc.add(&buffer[..n]);
            seen(&buffer[..n]);
            self.out.write_all(&buffer[..n])?;
            entry.bytes += n as u64;
        }
        entry.crc = crc.end();
        // Now that it is known, what stands before the bytes is written again.
        self.out.seek(SeekFrom::Start(entry.at))?;
        self.out.write_all(&entry.local())?;
        self.at += entry.len();
        self.out.seek(SeekFrom::Start(self.at))?;
        self.entries.push(entry);
        Ok(())
    }

    /// Writes the list and gives the file back.
    ///
    /// # Errors
    /// Where writing fails.
    pub fn finish(mut self) -> io::Result<W> {
        let mut list = Vec::new();
        for entry in &self.entries {
            list.extend(entry.central());
        }
        self.out.write_all(&list)?;
        let end = ending(self.entries.len(), list.len() as u64, self.at);
        self.out.write_all(&end)?;
        self.out.flush()?;
        Ok(self.out)
    }
}

/// Reads a zip of this form.
#[derive(Debug)]
pub struct Reader<R> {
    from: R,
    entries: Vec<Entry>,
}

fn bad(why: &str) -> io::Error {
    io::Error::new(io::ErrorKind::InvalidData, why.to_owned())
}

fn u64_at(bytes: &[u8], at: usize) -> Option<u64> {
    let bytes = bytes.get(at..at + 8)?;
    Some(u64::from_le_bytes(bytes.try_into().ok()?))
}

impl<R: Read + Seek> Reader<R> {
    /// Reads the list.
    ///
    /// # Errors
    /// Where it cannot be read, or is of another form.
    pub fn new(mut from: R) -> io::Result<Self> {
        let other = || bad("no zip, or one that another program packed");
        let len = from.seek(SeekFrom::End(0))?;
        let tail = (END_64_LEN + LOCATOR_LEN + END_LEN) as u64;
        let end_at = len.checked_sub(tail).ok_or_else(other)?;
        from.seek(SeekFrom::Start(end_at))?;
        let mut end = Vec::new();
        from.by_ref().take(tail).read_to_end(&mut end)?;
        let number = |at| u64_at(&end, at).ok_or_else(other);
        let (count, list_len, list_at) = (number(24)?, number(40)?, number(48)?);
        let fits = list_at.checked_add(list_len) == Some(end_at) && list_len <= MOST_LIST;
        let count = usize::try_from(count).map_err(|_| other())?;
        if !fits || end != ending(count, list_len, list_at) {
            return Err(other());
        }
        from.seek(SeekFrom::Start(list_at))?;
        let mut list = Vec::new();
        from.by_ref().take(list_len).read_to_end(&mut list)?;
        let mut reader = Self {
            from,
            entries: Vec::new(),
        };
        let (mut rest, mut at) = (list.as_slice(), 0);
        while !rest.is_empty() {
            let (entry, len) = entry_of(rest).ok_or_else(other)?;
            // One after the other, and what stands before the bytes says the same as the list.
            if entry.at != at || !reader.begins_so(&entry)? {
                return Err(other());
            }
            at = at.checked_add(entry.len()).ok_or_else(other)?;
            reader.entries.push(entry);
            rest = &rest[len..];
        }
        match at == list_at && reader.entries.len() == count {
            true => Ok(reader),
            false => Err(other()),
        }
    }

    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    fn begins_so(&mut self, entry: &Entry) -> io::Result<bool> {
        let wanted = entry.local();
        self.from.seek(SeekFrom::Start(entry.at))?;
        let mut found = Vec::new();
        let len = wanted.len() as u64;
        self.from.by_ref().take(len).read_to_end(&mut found)?;
        Ok(found == wanted)
    }

    /// Copies a file out.
    ///
    /// # Errors
    /// Where there is none of this name, its check is wrong, or reading or writing fails.
    pub fn copy(&mut self, name: &str, to: &mut impl Write) -> io::Result<()> {
        let entry = self.entries.iter().find(|e| e.name == name);
        let entry = entry.ok_or_else(|| bad("it is not in the zip"))?.clone();
        let begins = entry.at + entry.len() - entry.bytes;
        self.from.seek(SeekFrom::Start(begins))?;
        let mut left = entry.bytes;
        let mut crc = Crc::new();
        let mut buffer = vec![0; 1 << 16];
        while left > 0 {
            let most = usize::try_from(left).map_or(buffer.len(), |n| n.min(buffer.len()));
            self.from.read_exact(&mut buffer[..most])?;
            crc.add(&buffer[..most]);
            to.write_all(&buffer[..most])?;
            left -= most as u64;
        }
        match crc.end() == entry.crc {
            true => Ok(()),
            false => Err(bad("it is damaged: its check is another one")),
        }
    }
}

/// The first entry of a list and its length there; `None` where it is of another form.
fn entry_of(list: &[u8]) -> Option<(Entry, usize)> {
    let half_at = |at: usize| Some(u16::from_le_bytes([*list.get(at)?, *list.get(at + 1)?]));
    let crc = list.get(16..20)?;
    let name_len = usize::from(half_at(28)?);
    let name = list.get(CENTRAL_LEN..CENTRAL_LEN + name_len)?;
    let sizes = CENTRAL_LEN + name_len + 4;
    let entry = Entry {
        name: std::str::from_utf8(name).ok()?.to_owned(),
        bytes: u64_at(list, sizes)?,
        crc: u32::from_le_bytes(crc.try_into().ok()?),
        at: u64_at(list, sizes + 16)?,
    };
    entry.at.checked_add(entry.bytes)?.checked_add(1 << 20)?;
    let len = CENTRAL_LEN + name_len + CENTRAL_SIZES;
    (list.get(..len)? == entry.central()).then_some((entry, len))
}

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
        let mut zip = Reader::new(Cursor::new(packed(&files))).unwrap();
        assert_eq!(zip.entries()[0].crc, 0xcbf4_3926);
        for (name, bytes) in files {
            let mut out = Vec::new();
            zip.copy(name, &mut out).unwrap();
            assert_eq!(out, bytes, "{name}");
        }
        assert!(zip.copy("d", &mut Vec::new()).is_err());
        assert!(
            Reader::new(Cursor::new(packed(&[])))
                .unwrap()
                .entries()
                .is_empty()
        );
    }

    #[test]
    fn whatever_byte_is_changed_or_cut_is_noticed() {
        let whole = packed(&[("a.txt", b"some bytes"), ("b", b"more")]);
        let reads = |bytes: &[u8]| {
            let mut zip = Reader::new(Cursor::new(bytes))?;
            zip.copy("a.txt", &mut Vec::new())?;
            zip.copy("b", &mut Vec::new())
        };
        assert!(reads(&whole).is_ok());
        for at in 0..whole.len() {
            let mut changed = whole.clone();
            changed[at] ^= 0x41;
            assert!(reads(&changed).is_err(), "byte {at}");
            assert!(reads(&whole[..at]).is_err(), "cut at {at}");
        }
        let more = [&whole[..], b"x"].concat();
        assert!(reads(&more).is_err());
    }
}

//! Paths as bytes and back.

use std::path::{Path, PathBuf};

/// The bytes by which a path is stored. On Unix exactly its bytes; elsewhere UTF-8, with a
/// replacement character for what has none.
pub(crate) fn to_bytes(path: &Path) -> Vec<u8> {
    #[cfg(unix)]
    {
        use std::os::unix::ffi::OsStrExt;
        path.as_os_str().as_bytes().to_vec()
    }
    #[cfg(not(unix))]
    {
        path.to_string_lossy().into_owned().into_bytes()
    }
}

/// The path of stored bytes.
pub(crate) fn from_bytes(bytes: Vec<u8>) -> PathBuf {
    #[cfg(unix)]
    {
        use std::os::unix::ffi::OsStringExt;
        PathBuf::from(std::ffi::OsString::from_vec(bytes))
    }
    #[cfg(not(unix))]
    {
        PathBuf::from(String::from_utf8_lossy(&bytes).into_owned())
    }
}

/// A name for messages and pages: readable text on one line. Control characters, marks that turn
/// the direction of text and other invisible ones become `�`.
pub fn readable(name: &str) -> String {
    name.chars()
        .map(|c| if is_hostile(c) { '\u{fffd}' } else { c })
        .collect()
}

/// The file name of a path, readable.
pub fn readable_file_name(path: &Path) -> String {
    let name = path.file_name().unwrap_or(path.as_os_str());
    readable(&name.to_string_lossy())
}

/// A whole path, readable.
pub fn readable_path(path: &Path) -> String {
    readable(&path.to_string_lossy())
}

fn is_hostile(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hostile_names_become_one_readable_line() {
        assert_eq!(readable("plate 1.jpg"), "plate 1.jpg");
        assert_eq!(
            readable("a\nb\u{1b}[31m\u{202e}gpj"),
            "a\u{fffd}b\u{fffd}[31m\u{fffd}gpj"
        );
        assert_eq!(readable_file_name(Path::new("x/ü.jpg")), "ü.jpg");
    }

    #[cfg(unix)]
    #[test]
    fn bytes_that_are_no_text_read_back() {
        let bytes = b"/sale/\xff\xfe.jpg".to_vec();
        assert_eq!(to_bytes(&from_bytes(bytes.clone())), bytes);
    }
}

//! The schemes of date codes in a library: `<maker>/codes.toml` for a maker, and
//! `<maker>/<family>/codes.toml` for one family.

use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::Path;

use super::Library;
use crate::date_code::{Scheme, SchemeRemark, read_schemes};

/// The file of schemes in a folder of a maker or a family.
pub const CODES_FILE: &str = "codes.toml";

/// Schemes by the maker's folder.
pub type CodeSchemes = BTreeMap<String, Vec<Scheme>>;

/// Reads the schemes of every maker and family of a library, in the order of its folders; a
/// family's own schemes come after the maker's. What cannot be used is told and left out.
pub fn load_code_schemes(library: &Library) -> (CodeSchemes, Vec<SchemeRemark>) {
    let mut schemes = CodeSchemes::new();
    let mut remarks = Vec::new();
    for maker in library.makers.keys() {
        let found = read(&library.root.join(maker), &mut remarks);
        schemes.entry(maker.clone()).or_default().extend(found);
    }
    for id in library.families.keys() {
        let mut found = read(&id.folder(&library.root), &mut remarks);
        for scheme in &mut found {
            scheme.applies.family = Some(id.family().to_owned());
        }
        schemes
            .entry(id.maker().to_owned())
            .or_default()
            .extend(found);
    }
    schemes.retain(|_, found| !found.is_empty());
    (schemes, remarks)
}

fn read(folder: &Path, remarks: &mut Vec<SchemeRemark>) -> Vec<Scheme> {
    let path = folder.join(CODES_FILE);
    match fs::read_to_string(&path) {
        Ok(text) => {
            let (schemes, told) = read_schemes(&path, &text);
            remarks.extend(told);
            schemes
        }
        Err(e) if e.kind() == io::ErrorKind::NotFound => Vec::new(),
        Err(e) => {
            remarks.push(SchemeRemark::unreadable(&path, e.to_string()));
            Vec::new()
        }
    }
}

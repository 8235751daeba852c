//! The schemes of date codes in a library: `<maker>/codes.toml` for a maker, and
//! `<maker>/<family>/codes.toml` for one family.

use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::Path;

use super::{Edtf, Family, FamilyId, Library};
use crate::date_code::sense::Bounds;
use crate::date_code::{
    Applies, CodeBook, FamilyCodes, FamilyScheme, Place, Scheme, SchemeRemark, Years, read_schemes,
};
use crate::dating::Day;
use crate::dating::reach::reach;

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

/// The schemes of every family, ready to be looked for in photos; remarks as for
/// [`load_code_schemes`].
pub fn code_book(library: &Library) -> (CodeBook, Vec<SchemeRemark>) {
    let (schemes, remarks) = load_code_schemes(library);
    let mut book = CodeBook::default();
    for (id, family) in &library.families {
        let line = match family.record.lines.as_slice() {
            [one] => Some(one.clone()),
            _ => None,
        };
        let mark = Applies {
            family: Some(id.family().to_owned()),
            line,
            ..Applies::default()
        };
        let known = schemes.get(id.maker()).into_iter().flatten();
        let known = known.filter(|scheme| scheme.speaks_of(&mark));
        let found = known.map(|scheme| FamilyScheme {
            picture: picture(family, &scheme.place),
            scheme: scheme.clone(),
        });
        let codes = FamilyCodes {
            schemes: found.collect(),
            bounds: bounds(library, id, family),
        };
        book.add(id.as_str(), codes);
    }
    (book, remarks)
}

/// Content hash of the picture that a place's corners lie in.
fn picture(family: &Family, place: &Place) -> Option<String> {
    let Place::Inside { image, .. } = place else {
        return None;
    };
    // Paths of one family differ in their ends only; its own pictures come before its variants'.
    let mut named = family.exemplars.iter().filter(|e| match image {
        Some(image) => e.path.ends_with(image),
        None => true,
    });
    let own = named.clone().find(|e| e.variant.is_none());
    let exemplar = own.or_else(|| named.next())?;
    let bytes = fs::read(&exemplar.path).ok()?;
    Some(blake3::hash(&bytes).to_hex().to_string())
}

/// What the library knows of a family's time: the years of its one line and of its stamp, and of the works
/// of its maker.
pub fn bounds(library: &Library, id: &FamilyId, family: &Family) -> Bounds {
    let maker = library.makers.get(id.maker());
    let line = match family.record.lines.as_slice() {
        [one] => maker.and_then(|m| m.lines.get(one)),
        _ => None,
    };
    let plants = maker.map_or(&[][..], |m| &m.record.plants);
    let plants = plants.iter().filter_map(|plant| {
        let name = plant.name.clone().or_else(|| plant.place.clone())?;
        Some((name, years(plant.years.as_ref()?)?))
    });
    Bounds {
        line: line.and_then(|l| years(l.made.as_ref()?)),
        stamp: family.record.used.as_ref().and_then(years),
        plants: plants.collect(),
    }
}

fn years(date: &Edtf) -> Option<Years> {
    let span = reach(date.value());
    let year = |day: Option<Day>| day.and_then(|d| i32::try_from(d.year()).ok());
    let years = Years {
        first: year(span.not_before),
        last: year(span.not_after),
    };
    (years.first.is_some() || years.last.is_some()).then_some(years)
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

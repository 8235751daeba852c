//! What answers depend on in a library, and what differs between two states of it.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;

use serde::{Deserialize, Serialize};

use super::contents::contents;
use super::{CODES_FILE, Family, FileCache, Library, bounds};

/// A library as far as answers depend on it: its families, their pictures, and what their date codes are read by.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Listing {
    families: BTreeMap<String, Listed>,
}

#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
struct Listed {
    /// Content hash, place and variant of each exemplar.
    exemplars: BTreeSet<(String, String, String)>,
    /// Hash of the schemes and years; empty where there is no scheme.
    codes: String,
    /// Families that it is taken for, and what tells them apart.
    #[serde(default, skip_serializing_if = "BTreeSet::is_empty")]
    twins: BTreeSet<(String, Option<String>)>,
}

impl Listed {
    fn hashes(&self) -> BTreeSet<&str> {
        self.exemplars.iter().map(|e| e.0.as_str()).collect()
    }
}

/// What differs between two states of a library.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Changes {
    /// Families that are called otherwise and are the same else, by their old ids.
    pub renamed: BTreeMap<String, String>,
    /// Ids, old and new, of families that lost or exchanged something, or whose codes are read otherwise.
    pub touched: BTreeSet<String>,
    /// Families and content hashes of exemplars that are new to the library.
    pub come: BTreeSet<(String, String)>,
}

impl Changes {
    pub fn is_empty(&self) -> bool {
        self.renamed.is_empty() && self.touched.is_empty() && self.come.is_empty()
    }
}

impl Listing {
    /// Reads the pictures of the library that `cache` does not know unchanged.
    pub fn of(library: &Library, cache: Option<&FileCache>) -> Self {
        let contents = contents(library, cache);
        let listed = |family: &Family| {
            let one = |e: &super::Exemplar| {
                let content = contents.get(&e.path).and_then(|c| c.clone().ok());
                let quad = e.quad.map(|q| format!("{:?}", q.to_array()));
                let variant = e.variant.clone().unwrap_or_default();
                (
                    content.unwrap_or_default(),
                    quad.unwrap_or_default(),
                    variant,
                )
            };
            Listed {
                exemplars: family.exemplars.iter().map(one).collect(),
                codes: codes(library, family),
                twins: twins(family),
            }
        };
        let families = library.families.values();
        Self {
            families: families.map(|f| (f.id.to_string(), listed(f))).collect(),
        }
    }

    /// 32 hex digits: equal for equal libraries, wherever they lie.
    pub fn fingerprint(&self) -> String {
        let text = self.to_text();
        blake3::hash(text.as_bytes()).to_hex()[..32].to_owned()
    }

    pub fn to_text(&self) -> String {
        serde_json::to_string(self).unwrap_or_default()
    }

    /// `None` where the text is none of [`Listing::to_text`].
    pub fn from_text(text: &str) -> Option<Self> {
        serde_json::from_str(text).ok()
    }

    /// What became of the families since `old`; `follow` gives the id that a family has now.
    pub fn since(&self, old: &Self, follow: &dyn Fn(&str) -> String) -> Changes {
        let mut changes = Changes::default();
        let known: BTreeSet<&str> = old.families.values().flat_map(Listed::hashes).collect();
        for (id, listed) in &self.families {
            let before = old.families.get(id);
            let own = before.map(Listed::hashes).unwrap_or_default();
            for hash in listed.hashes() {
                if !known.contains(hash) {
                    changes.come.insert((id.clone(), hash.to_owned()));
                } else if !own.contains(hash) {
                    changes.touched.insert(id.clone());
                }
            }
            if before.is_some_and(|b| b.codes != listed.codes || b.twins != listed.twins) {
                changes.touched.insert(id.clone());
            }
        }
        for (id, listed) in &old.families {
            let now = follow(id);
            match self.families.get(&now) {
                Some(same) if same == listed => {
                    if now != *id {
                        changes.touched.remove(&now);
                        changes.renamed.insert(id.clone(), now);
                    }
                }
                // It has all that it had, and perhaps more: what is new is told above.
                Some(more) if now == *id && more.exemplars.is_superset(&listed.exemplars) => {}
                _ => {
                    changes.touched.extend([id.clone(), now]);
                }
            }
        }
        changes
    }
}

fn twins(family: &Family) -> BTreeSet<(String, Option<String>)> {
    let ties = family.record.confused_with.iter();
    ties.map(|t| (t.family.clone(), t.tell.clone())).collect()
}

/// Hash of the schemes that may hold for a family and of the years it is bounded by.
fn codes(library: &Library, family: &Family) -> String {
    let folders = [
        library.root.join(family.id.maker()),
        family.id.folder(&library.root),
    ];
    let texts = folders.map(|f| fs::read_to_string(f.join(CODES_FILE)).ok());
    if texts.iter().all(Option::is_none) {
        return String::new();
    }
    let known = bounds(library, &family.id, family);
    let all = format!("{texts:?} {known:?}");
    blake3::hash(all.as_bytes()).to_hex()[..32].to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn listing(families: &[(&str, &[&str])]) -> Listing {
        let listed = |hashes: &[&str]| Listed {
            exemplars: hashes
                .iter()
                .map(|h| ((*h).to_owned(), String::new(), String::new()))
                .collect(),
            codes: String::new(),
            twins: BTreeSet::new(),
        };
        let all = families.iter();
        Listing {
            families: all.map(|(id, h)| ((*id).to_owned(), listed(h))).collect(),
        }
    }

    fn changes(old: &[(&str, &[&str])], new: &[(&str, &[&str])], was: &[(&str, &str)]) -> Changes {
        let follow = |id: &str| {
            let now = was.iter().find(|w| w.0 == id);
            now.map_or(id, |w| w.1).to_owned()
        };
        listing(new).since(&listing(old), &follow)
    }

    #[test]
    fn a_new_name_changes_nothing_else() {
        let found = changes(
            &[("m/a", &["1"]), ("m/b", &["2"])],
            &[("k/a", &["1"]), ("m/b", &["2"])],
            &[("m/a", "k/a")],
        );
        assert_eq!(found.renamed["m/a"], "k/a");
        assert!(found.touched.is_empty() && found.come.is_empty());
    }

    #[test]
    fn what_a_change_touches_is_told_by_both_ids() {
        let old: [(&str, &[&str]); 3] = [("m/a", &["1", "2"]), ("m/b", &["3"]), ("m/c", &["4"])];
        let touched = |new: &[(&str, &[&str])], was: &[(&str, &str)]| {
            let found = changes(&old, new, was);
            assert!(found.come.is_empty());
            found.touched.into_iter().collect::<Vec<_>>()
        };
        let merged: [(&str, &[&str]); 2] = [("m/b", &["1", "2", "3"]), ("m/c", &["4"])];
        assert_eq!(touched(&merged, &[("m/a", "m/b")]), ["m/a", "m/b"]);
        let split: [(&str, &[&str]); 4] = [
            ("m/a", &["1"]),
            ("m/b", &["3"]),
            ("m/c", &["4"]),
            ("m/d", &["2"]),
        ];
        assert_eq!(touched(&split, &[]), ["m/a", "m/d"]);
        let less: [(&str, &[&str]); 2] = [("m/a", &["1", "2"]), ("m/b", &["3"])];
        assert_eq!(touched(&less, &[]), ["m/c"]);
    }

    #[test]
    fn what_is_new_is_told_with_its_family() {
        let found = changes(
            &[("m/a", &["1"])],
            &[("m/a", &["1", "2"]), ("m/b", &["3"])],
            &[],
        );
        let come: Vec<_> = found.come.iter().map(|(f, h)| format!("{f} {h}")).collect();
        assert_eq!(come, ["m/a 2", "m/b 3"]);
        assert!(found.touched.is_empty() && found.renamed.is_empty());
        let text = listing(&[("m/a", &["1"])]);
        assert_eq!(Listing::from_text(&text.to_text()), Some(text));
    }
}

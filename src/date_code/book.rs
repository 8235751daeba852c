//! Which schemes hold for which families of a library, as the search for codes wants it.

use std::collections::BTreeMap;

use super::made::Years;
use super::scheme::{Fit, Scheme, Usual, fits};
use super::sense::Bounds;

/// How much a reading outside the years of the production run counts beside one within them. The
/// run is often known by its advertisements only, and pieces were finished after it: a reading
/// outside is three times less likely here, and never ruled out. An estimate.
const OUTSIDE_RUN: f64 = 1.0 / 3.0;

/// A scheme that holds for a family.
#[derive(Debug, Clone)]
pub struct FamilyScheme {
    pub scheme: Scheme,
    /// Content hash of the picture in which the scheme's corners lie, where it has corners.
    pub picture: Option<String>,
}

/// The codes of one family.
#[derive(Debug, Clone)]
pub struct FamilyCodes {
    pub schemes: Vec<FamilyScheme>,
    pub bounds: Bounds,
}

/// The codes of all families that have schemes. Empty by default: then nothing is looked for.
#[derive(Debug, Clone, Default)]
pub struct CodeBook {
    families: BTreeMap<String, FamilyCodes>,
}

impl CodeBook {
    /// Adds a family by its id. Schemes by which pieces never carry a code are not looked for.
    pub fn add(&mut self, family: &str, mut codes: FamilyCodes) {
        codes
            .schemes
            .retain(|s| s.scheme.codes_usual != Some(Usual::Never));
        if !codes.schemes.is_empty() {
            self.families.insert(family.to_owned(), codes);
        }
    }

    pub fn of(&self, family: &str) -> Option<&FamilyCodes> {
        self.families.get(family)
    }

    pub fn is_empty(&self) -> bool {
        self.families.is_empty()
    }
}

/// How likely a code is beside others of its schemes, by the production run alone, above 0 and at
/// most 1. A code that tells no time is as likely as any.
pub(super) fn by_run(code: &str, schemes: &[&Scheme], run: Option<&Years>) -> f64 {
    let Some(run) = run else { return 1.0 };
    let found = fits(schemes.iter().copied(), code);
    let within = |fit: &Fit<'_>| {
        let timeless = fit.made.is_empty() && !fit.outside;
        timeless || fit.made.iter().any(|m| run.meets(&m.years()))
    };
    match found.is_empty() || found.iter().any(within) {
        true => 1.0,
        false => OUTSIDE_RUN,
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::super::scheme::read_schemes;
    use super::*;

    fn schemes(usual: &str) -> Vec<Scheme> {
        let text = format!(
            "[[scheme]]\nname = \"month and year\"\ncodes_usual = \"{usual}\"\n\
             pattern = [\"(?<month>[1-9])(?<year>[0-9]{{2}})\", \"D(?<decoration>[0-9])\"]\n\
             year = {{ window = [1930, 1989] }}\n"
        );
        read_schemes(Path::new("codes.toml"), &text).0
    }

    #[test]
    fn the_run_weighs_and_rules_nothing_out() {
        let all = schemes("mostly");
        let known: Vec<&Scheme> = all.iter().collect();
        let run = Years::parse("1950/1959");
        assert!((by_run("352", &known, run.as_ref()) - 1.0).abs() < 1e-12);
        assert!((by_run("371", &known, run.as_ref()) - OUTSIDE_RUN).abs() < 1e-12);
        assert!((by_run("D3", &known, run.as_ref()) - 1.0).abs() < 1e-12);
        assert!((by_run("371", &known, None) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn what_is_never_there_is_not_looked_for() {
        let mut book = CodeBook::default();
        for (family, usual) in [("weir/bell", "never"), ("weir/crown", "always")] {
            let schemes = schemes(usual).into_iter();
            let schemes = schemes.map(|scheme| FamilyScheme {
                scheme,
                picture: None,
            });
            let codes = FamilyCodes {
                schemes: schemes.collect(),
                bounds: Bounds::default(),
            };
            book.add(family, codes);
        }
        assert!(book.of("weir/bell").is_none());
        assert!(book.of("weir/crown").is_some());
    }
}

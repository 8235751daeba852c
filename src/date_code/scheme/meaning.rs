//! From the text of a code to all that it can mean in time.

use std::collections::BTreeMap;

use regex::Captures;

use super::super::made::Made;
use super::super::spelling::spelled;
use super::Scheme;
use super::numbers::{NoNumber, TIMES};

/// A code under one scheme.
#[derive(Debug, Clone)]
pub struct Fit<'s> {
    pub scheme: &'s Scheme,
    /// The code as the scheme spells it.
    pub text: String,
    /// Every time that it can mean, in order. Empty where the code tells no time (a decoration
    /// number), or only times outside the scheme's years.
    pub made: Vec<Made>,
    /// The code names a time, and the scheme was not in use then.
    pub outside: bool,
    /// The other named parts: plant, decorator, serial.
    pub parts: BTreeMap<String, String>,
}

/// The numbers of one match, by group; several where a sign was used more than once.
type Told = BTreeMap<&'static str, Vec<i32>>;

/// What `typed` means under each of the schemes that it fits, in their order. Two schemes that fit
/// are both given: nothing is chosen silently.
pub fn fits<'s>(schemes: impl IntoIterator<Item = &'s Scheme>, typed: &str) -> Vec<Fit<'s>> {
    schemes.into_iter().filter_map(|s| s.parse(typed)).collect()
}

impl Scheme {
    /// What `typed` means under this scheme; `None` where it is no code of it.
    pub fn parse(&self, typed: &str) -> Option<Fit<'_>> {
        let text = spelled(typed, self.small_letters);
        if !self.automaton.accepts_text(&text) {
            return None;
        }
        let mut fit = Fit {
            scheme: self,
            text: String::new(),
            made: Vec::new(),
            outside: false,
            parts: BTreeMap::new(),
        };
        let mut told_any = false;
        let mut fitting = false;
        for regex in &self.regexes {
            let Some(captures) = regex.captures(&text) else {
                continue;
            };
            let Ok(told) = self.told(&captures) else {
                continue;
            };
            fitting = true;
            told_any |= told.contains_key("year") || told.contains_key("decade");
            fit.made.extend(times(&told));
            self.parts(regex, &captures, &mut fit.parts);
        }
        if let Some(valid) = &self.valid {
            fit.made.retain(|made| valid.meets(&made.years()));
        }
        fit.made.sort();
        fit.made.dedup();
        fit.outside = told_any && fit.made.is_empty();
        fit.text = text;
        fitting.then_some(fit)
    }

    /// The numbers of a match; the group and text that stand for none.
    pub(super) fn told(&self, captures: &Captures<'_>) -> Result<Told, (String, String, NoNumber)> {
        let mut told = Told::new();
        for name in TIMES {
            let Some(found) = captures.name(name) else {
                continue;
            };
            let Some(numbers) = self.numbers.get(name) else {
                continue;
            };
            let values = numbers
                .of(name, found.as_str())
                .map_err(|why| (name.to_owned(), found.as_str().to_owned(), why))?;
            told.insert(name, values);
        }
        for (group, count) in &self.counts {
            let signs = captures.name(group).map_or("", |m| m.as_str());
            let more = signs.matches(count.sign).count() as i32 * count.each;
            if let Some(values) = told.get_mut(count.to.as_str()) {
                values.iter_mut().for_each(|v| *v += more);
            }
        }
        Ok(told)
    }

    fn parts(
        &self,
        regex: &regex::Regex,
        captures: &Captures<'_>,
        parts: &mut BTreeMap<String, String>,
    ) {
        for name in regex.capture_names().flatten() {
            let apart = !TIMES.contains(&name) && !self.counts.contains_key(name);
            if let Some(found) = captures.name(name).filter(|_| apart) {
                let text = found.as_str().to_owned();
                parts.entry(name.to_owned()).or_insert(text);
            }
        }
    }
}

/// Every time that the numbers can mean.
fn times(told: &Told) -> Vec<Made> {
    let of = |name: &str| told.get(name).map(Vec::as_slice);
    if let Some(decades) = of("decade")
        && of("year").is_none()
    {
        return decades.iter().filter_map(|&y| Made::decade(y)).collect();
    }
    let mut out = Vec::new();
    for &year in of("year").unwrap_or_default() {
        match (of("month"), of("quarter")) {
            (None, None) => out.extend(Made::year(year)),
            (None, Some(quarters)) => {
                out.extend(quarters.iter().filter_map(|&q| Made::quarter(year, q)));
            }
            (Some(months), None) => {
                out.extend(months.iter().filter_map(|&m| Made::month(year, m)));
            }
            (Some(months), Some(quarters)) => {
                let within = |m: &&i32| quarters.contains(&((**m + 2).div_euclid(3)));
                out.extend(
                    months
                        .iter()
                        .filter(within)
                        .filter_map(|&m| Made::month(year, m)),
                );
            }
        }
    }
    out
}

//! What a check of the library found, as text and as JSON.

use std::collections::BTreeMap;
use std::io::{self, Write};

use serde_json::{Value, json};

use super::met::Met;
use super::new_family::exemplars_word;
use super::reshape::counted;
use crate::report::{CheckPage, Pair, Rate, per_cent};
use crate::trial::{FIGURES_FROM, Figures, Limit, REFIT_FROM, Share, Tally};
use crate::verdict::strangers::{LEARNT_FROM, Strangers};
use crate::workspace::readable;

/// What was found.
pub(super) struct Found {
    pub(super) tally: Tally,
    /// All that is confirmed, tried or not.
    pub(super) confirmed: usize,
    /// How many exemplars each family has.
    pub(super) exemplars: BTreeMap<String, usize>,
    pub(super) unseen: Vec<String>,
    /// What the trials say of the limit, and the limit that they were made with.
    pub(super) limit: Limit,
    pub(super) now: f64,
    /// How the program's clear answers fared before the person.
    pub(super) own: String,
    /// What the finished lots tell of strangers, and the share that is reckoned with now.
    pub(super) met: Met,
    pub(super) share: f64,
}

/// Entries of each list that are told.
const LISTED: usize = 12;

impl Found {
    pub(super) fn write(&self, out: &mut dyn Write) -> io::Result<()> {
        let Tally {
            confirmed,
            exemplars,
            ..
        } = self.tally;
        writeln!(
            out,
            "tried, each without what stems from its own piece: {}, {}",
            counted(confirmed, "confirmed mark", "confirmed marks"),
            exemplars_word(exemplars)
        )?;
        match self.tally.told() {
            Some(figures) => {
                write_figures(figures, out)?;
                writeln!(out, "  {}", self.limit_told(figures))?;
            }
            None => writeln!(
                out,
                "no figure yet: {FIGURES_FROM} confirmed marks are needed, and {confirmed} were tried"
            )?,
        }
        writeln!(out, "{}", self.own)?;
        writeln!(out, "{}", self.strangers_told())?;
        self.write_lists(out)
    }

    /// The share of strangers that the finished lots teach, where they are enough.
    pub(super) fn learnt(&self) -> Option<Strangers> {
        Strangers::learnt(self.met.strangers, self.met.marks)
    }

    /// How common marks were that the library did not have.
    fn strangers_told(&self) -> String {
        let Met {
            lots,
            marks,
            strangers,
        } = self.met;
        let now = per_cent(self.share);
        let of = counted(lots, "finished lot", "finished lots");
        match self.learnt() {
            Some(learnt) => format!(
                "in {of} the library did not have {strangers} of {marks} marks: {} would be reckoned with instead of {now}; \
                 `--fit` sets it",
                per_cent(learnt.share())
            ),
            None => format!(
                "strangers are reckoned to be {now} of the marks: {LEARNT_FROM} marks in finished lots are needed to learn \
                 otherwise, and there are {marks}"
            ),
        }
    }

    /// What follows for the probability from which a family is named.
    fn limit_told(&self, figures: &Figures) -> String {
        let (missed, false_names) = (figures.fnir.hits, figures.fpir.hits);
        let now = per_cent(self.now);
        match self.limit {
            Limit::Stays => format!(
                "the limit of the answers stays at {now}: {REFIT_FROM} errors of each kind would be needed to fit it \
                 anew, and {missed} and {false_names} were seen"
            ),
            Limit::Raised(to) => format!(
                "strangers are named too often: the limit of {now} should be {}; `--fit` sets it (with {missed} and \
                 {false_names} errors seen, and not {REFIT_FROM} of each, it is only ever raised)",
                exact(to)
            ),
            Limit::Fitted(to) => format!(
                "fitted to your photos the limit of {now} would be {}; `--fit` sets it",
                exact(to)
            ),
        }
    }

    /// The page, without the pictures of its pairs.
    pub(super) fn page(&self, pairs: Vec<Pair>) -> CheckPage {
        let Tally {
            confirmed,
            exemplars,
            ..
        } = self.tally;
        let mut told = vec![format!(
            "Tried, each without what stems from its own piece: {}, {}.",
            counted(confirmed, "confirmed mark", "confirmed marks"),
            exemplars_word(exemplars)
        )];
        let mut shown = Vec::new();
        match self.tally.told() {
            Some(figures) => {
                let limit = self.limit_told(figures);
                told.push(format!("{}.", crate::report::capitalised(&limit)));
                shown.extend(rates(figures).map(|(what, share)| Rate {
                    what: what.trim().to_owned(),
                    hits: share.hits,
                    of: share.of,
                    value: share.value().unwrap_or(0.0),
                    interval: share.interval(),
                }));
            }
            None => told.push(format!(
                "No figure yet: {FIGURES_FROM} confirmed marks are needed, and {confirmed} were tried."
            )),
        }
        told.push(format!("{}.", crate::report::capitalised(&self.own)));
        let strangers = self.strangers_told();
        told.push(format!("{}.", crate::report::capitalised(&strangers)));
        let mut text = Vec::new();
        let written = self.write_lists(&mut text);
        let text = String::from_utf8(text).unwrap_or_default();
        let mut lists: Vec<(String, Vec<String>)> = Vec::new();
        for line in text.lines().filter(|_| written.is_ok()) {
            match (line.strip_prefix("  "), lists.last_mut()) {
                (Some(entry), Some((_, entries))) => entries.push(entry.to_owned()),
                _ => {
                    let heading = crate::report::capitalised(line.trim_end_matches(':'));
                    lists.push((heading, Vec::new()));
                }
            }
        }
        CheckPage {
            told,
            rates: shown,
            pairs,
            lists,
        }
    }

    fn write_lists(&self, out: &mut dyn Write) -> io::Result<()> {
        let confusions = self.tally.confusions.iter().map(|c| {
            let (a, b) = &c.families;
            let (most, picture) = (per_cent(c.most), &c.picture);
            let times = counted(c.times, "mark", "marks");
            format!("{a} and {b}: {times}, {most} at most ({picture})")
        });
        list(out, "most easily taken for one another", confusions)?;
        let elsewhere = self.tally.elsewhere.iter().map(|e| {
            let p = per_cent(e.probability);
            format!("{}: {p} {}", e.picture, e.other)
        });
        list(out, "exemplars that probably belong elsewhere", elsewhere)?;
        let weak = |never: bool| {
            let weak = self
                .tally
                .weak
                .iter()
                .filter(move |w| (w.first == 0) == never);
            weak.map(|w| {
                let exemplars = self.exemplars.get(&w.family).copied().unwrap_or(0);
                let (first, of) = (w.first, w.of);
                format!(
                    "{}: {first} of {of} photos come first, exemplars: {exemplars}",
                    w.family
                )
            })
        };
        list(
            out,
            "families that never match their own photos",
            weak(true),
        )?;
        list(
            out,
            "families that seldom match their own photos",
            weak(false),
        )?;
        let poor = self.tally.poor.iter().map(|p| p.picture.clone());
        list(
            out,
            "poor exemplars, which the others of their family do not recognise",
            poor,
        )?;
        let lonely = self
            .tally
            .weak
            .iter()
            .filter(|w| self.exemplars.get(&w.family) == Some(&1));
        list(
            out,
            "of these, families on one poor exemplar",
            lonely.map(|w| w.family.clone()),
        )?;
        let unseen = self.unseen.iter().cloned();
        list(out, "families of which you have no photo", unseen)
    }

    pub(super) fn json(&self) -> Value {
        let figures = self.tally.told().map(|f| {
            json!({
                "rank_1": share(f.rank_one),
                "fnir": share(f.fnir),
                "misnamed": share(f.misnamed),
                "fpir": share(f.fpir),
            })
        });
        let confused: Vec<Value> = self
            .tally
            .confusions
            .iter()
            .map(|c| {
                let (a, b) = &c.families;
                json!({ "families": [a, b], "marks": c.times, "most": rounded(c.most), "picture": c.picture })
            })
            .collect();
        let elsewhere: Vec<Value> = self
            .tally
            .elsewhere
            .iter()
            .map(|e| json!({ "picture": e.picture, "family": e.family, "other": e.other, "probability": rounded(e.probability) }))
            .collect();
        let weak: Vec<Value> = self
            .tally
            .weak
            .iter()
            .map(|w| json!({ "family": w.family, "first": w.first, "of": w.of, "exemplars": self.exemplars.get(&w.family) }))
            .collect();
        json!({
            "confirmed": self.confirmed,
            "tried": { "confirmed": self.tally.confirmed, "exemplars": self.tally.exemplars },
            "figures": figures,
            "confused": confused,
            "elsewhere": elsewhere,
            "weak": weak,
            "poor": self.tally.poor.iter().map(|p| &p.picture).collect::<Vec<_>>(),
            "limit": match self.limit {
                Limit::Stays => json!({ "told": "stays", "at": rounded(self.now) }),
                Limit::Raised(to) => json!({ "told": "raised", "at": rounded(to), "was": rounded(self.now) }),
                Limit::Fitted(to) => json!({ "told": "fitted", "at": rounded(to), "was": rounded(self.now) }),
            },
            "without_photos": self.unseen,
            "strangers": {
                "lots": self.met.lots,
                "marks": self.met.marks,
                "not_in_library": self.met.strangers,
                "share": rounded(self.share),
                "learnt": self.learnt().map(|s| rounded(s.share())),
            },
        })
    }
}

fn write_figures(figures: &Figures, out: &mut dyn Write) -> io::Result<()> {
    writeln!(out, "on your own photos, with 95 % intervals:")?;
    for (what, share) in rates(figures) {
        writeln!(out, "  {what:<36}  {}", say(share))?;
    }
    Ok(())
}

/// The rates with what to call them.
fn rates(figures: &Figures) -> [(&'static str, Share); 4] {
    [
        ("own family comes first", figures.rank_one),
        ("not named by its own family (FNIR)", figures.fnir),
        ("  of these, named by another one", figures.misnamed),
        ("strangers named all the same (FPIR)", figures.fpir),
    ]
}

/// A limit in steps of half a per cent.
fn exact(limit: f64) -> String {
    format!("{:.1} %", 100.0 * limit)
}

fn say(share: Share) -> String {
    let (low, high) = share.interval();
    let [value, low, high] =
        [share.value().unwrap_or(0.0), low, high].map(|v| format!("{:.1}", 100.0 * v));
    format!(
        "{} of {}: {value} % ({low} to {high} %)",
        share.hits, share.of
    )
}

fn share(share: Share) -> Value {
    let (low, high) = share.interval();
    json!({
        "hits": share.hits,
        "of": share.of,
        "value": share.value().map(rounded),
        "interval": [rounded(low), rounded(high)],
    })
}

/// To a ten-thousandth: the counts tell no more.
fn rounded(value: f64) -> f64 {
    (value * 10_000.0).round() / 10_000.0
}

fn list(out: &mut dyn Write, heading: &str, lines: impl Iterator<Item = String>) -> io::Result<()> {
    let lines: Vec<String> = lines.collect();
    if lines.is_empty() {
        return Ok(());
    }
    writeln!(out, "{heading}:")?;
    for line in lines.iter().take(LISTED) {
        writeln!(out, "  {}", readable(line))?;
    }
    match lines.len().saturating_sub(LISTED) {
        0 => Ok(()),
        more => writeln!(out, "  and {more} more"),
    }
}

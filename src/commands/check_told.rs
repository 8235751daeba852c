//! What a check of the library found, as text and as JSON.

use std::collections::BTreeMap;
use std::io::{self, Write};

use serde_json::{Value, json};

use super::new_family::exemplars_word;
use super::reshape::counted;
use crate::report::per_cent;
use crate::trial::{FIGURES_FROM, Figures, REFIT_FROM, Share, Tally};
use crate::workspace::readable;

/// What was found.
pub(super) struct Found {
    pub(super) tally: Tally,
    /// All that is confirmed, tried or not.
    pub(super) confirmed: usize,
    /// How many exemplars each family has.
    pub(super) exemplars: BTreeMap<String, usize>,
    pub(super) unseen: Vec<String>,
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
            Some(figures) => write_figures(figures, out)?,
            None => writeln!(
                out,
                "no figure yet: {FIGURES_FROM} confirmed marks are needed, and {confirmed} were tried"
            )?,
        }
        self.write_lists(out)
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
            "without_photos": self.unseen,
        })
    }
}

fn write_figures(figures: &Figures, out: &mut dyn Write) -> io::Result<()> {
    writeln!(out, "on your own photos, with 95 % intervals:")?;
    for (what, share) in [
        ("own family comes first", figures.rank_one),
        ("not named by its own family (FNIR)", figures.fnir),
        ("  of these, named by another one", figures.misnamed),
        ("strangers named all the same (FPIR)", figures.fpir),
    ] {
        writeln!(out, "  {what:<36}  {}", say(share))?;
    }
    let (missed, false_names) = (figures.fnir.hits, figures.fpir.hits);
    writeln!(
        out,
        "  the limits of the answers stay as they are: {REFIT_FROM} errors of each kind would be needed to fit them \
         anew, and {missed} and {false_names} were seen"
    )
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

//! Several strips that were cut out of one place, taken together.

use std::collections::BTreeMap;

use super::{Decoded, Look, MOST_READINGS, Reading, judge};

/// One account of several strips of one place, each as likely to be the right cut: probabilities
/// are averaged. A text keeps the way up and the doubt of the strip that reads it best.
pub fn pooled(parts: &[Decoded]) -> Decoded {
    let parts: Vec<&Decoded> = parts
        .iter()
        .filter(|d| d.look != Look::NotLookedFor)
        .collect();
    if parts.is_empty() {
        return Decoded::not_looked_for();
    }
    let share = 1.0 / parts.len() as f64;
    let readings = averaged(parts.iter().flat_map(|d| &d.readings), share);
    let other = averaged(parts.iter().filter_map(|d| d.other.as_ref()), share);
    let other = other.into_iter().next();
    let nothing = share * parts.iter().map(|d| d.nothing).sum::<f64>();
    let (look, up) = judge(&readings, other.as_ref(), nothing);
    Decoded {
        look,
        up,
        readings,
        other,
        nothing,
    }
}

fn averaged<'r>(all: impl Iterator<Item = &'r Reading>, share: f64) -> Vec<Reading> {
    let mut texts: BTreeMap<&str, (f64, &Reading)> = BTreeMap::new();
    for reading in all {
        let entry = texts.entry(&reading.text).or_insert((0.0, reading));
        entry.0 += share * reading.probability;
        if reading.probability > entry.1.probability {
            entry.1 = reading;
        }
    }
    let mut out: Vec<Reading> = texts
        .into_values()
        .map(|(probability, reading)| Reading {
            probability,
            ..reading.clone()
        })
        .collect();
    out.sort_by(|a, b| {
        b.probability
            .total_cmp(&a.probability)
            .then_with(|| a.text.cmp(&b.text))
    });
    out.truncate(MOST_READINGS);
    out
}

#[cfg(test)]
mod tests {
    use super::super::Up;
    use super::*;

    fn decoded(texts: &[(&str, f64)]) -> Decoded {
        let reading = |(text, probability): &(&str, f64)| Reading {
            text: (*text).to_owned(),
            probability: *probability,
            up: Up::AsFound,
            doubt: Vec::new(),
        };
        Decoded {
            look: Look::Read,
            up: Up::AsFound,
            readings: texts.iter().map(reading).collect(),
            other: None,
            nothing: 0.0,
        }
    }

    #[test]
    fn strips_that_agree_outweigh_one_that_does_not() {
        let parts = [
            decoded(&[("352", 0.9)]),
            decoded(&[("352", 0.6), ("852", 0.3)]),
            decoded(&[("852", 0.9)]),
            Decoded::not_looked_for(),
        ];
        let all = pooled(&parts);
        assert_eq!(all.readings[0].text, "352");
        assert!((all.readings[0].probability - 0.5).abs() < 1e-9);
        assert!((all.readings[1].probability - 0.4).abs() < 1e-9);
        assert_eq!(all.look, Look::Read);
        assert_eq!(pooled(&[]).look, Look::NotLookedFor);
    }
}

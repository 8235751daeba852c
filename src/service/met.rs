//! What the person's finished lots tell of how common marks are that the library does not have.

use std::collections::{BTreeMap, BTreeSet};

use super::confirmed::Origins;
use super::opened::Opened;
use crate::answer::Verdict;
use crate::decision::Statement;
use crate::failure::Failure;
use crate::references::References;
use crate::report::{Row, Sheet};

/// The marks of finished lots: those all of whose marks are decided.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct Met {
    pub(crate) lots: usize,
    /// Marks whose family was decided, or decided to be none of the library's.
    pub(crate) marks: usize,
    /// Of these, the ones whose family the library did not have when the lot came in.
    pub(crate) strangers: usize,
}

/// Counts them. A family all of whose exemplars stem from photos began with a lot, the one in which it was first
/// decided: there its marks were strangers, later ones found it in the library.
pub(crate) fn met(
    opened: &Opened,
    references: &References,
    origins: &Origins,
) -> Result<Met, Failure> {
    let key = opened.key();
    let lots = opened.workspace.lots()?.into_iter();
    let sheets = lots.map(|lot| opened.sheet(&lot.name, &key));
    let sheets = sheets.collect::<Result<Vec<Sheet>, Failure>>()?;
    let foreign = opened.foreign()?;
    let born = birthplaces(&sheets, &begun_with_a_lot(references, origins));
    let mut found = Met::default();
    for sheet in &sheets {
        let own: Vec<&Row> = sheet
            .rows
            .iter()
            .filter(|row| !foreign.contains(&sheet.shot(row).hash))
            .collect();
        if own.is_empty() || own.iter().any(|row| waits(row)) {
            continue;
        }
        let decided = own
            .iter()
            .filter_map(|row| match &row.decision.as_ref()?.statement {
                Statement::Unknown => Some(true),
                Statement::Family(id) => Some(born.get(&opened.follow(id)) == Some(&sheet.lot)),
                _ => None,
            });
        let decided: Vec<bool> = decided.collect();
        found.lots += usize::from(!decided.is_empty());
        found.marks += decided.len();
        found.strangers += decided.iter().filter(|stranger| **stranger).count();
    }
    Ok(found)
}

/// Whether a mark still waits for the person's word.
fn waits(row: &Row) -> bool {
    let asks = matches!(
        row.verdict,
        Some(Verdict::Named | Verdict::Choose | Verdict::Unknown | Verdict::Reshoot)
    );
    asks && row.decision.is_none()
}

/// Families all of whose exemplars stem from photos of lots.
fn begun_with_a_lot(references: &References, origins: &Origins) -> BTreeSet<String> {
    let mut begun: BTreeMap<&str, bool> = BTreeMap::new();
    for reference in (0..references.len()).map(|at| references.get(at)) {
        let from_a_lot = origins.of(reference).is_some();
        *begun.entry(&reference.family).or_insert(true) &= from_a_lot;
    }
    let begun = begun.into_iter().filter(|(_, from_lots)| *from_lots);
    begun.map(|(family, _)| family.to_owned()).collect()
}

/// The lot in which each of these families was first decided.
fn birthplaces(sheets: &[Sheet], families: &BTreeSet<String>) -> BTreeMap<String, String> {
    let mut first: BTreeMap<String, (i64, &str)> = BTreeMap::new();
    for (sheet, row) in sheets
        .iter()
        .flat_map(|s| s.rows.iter().map(move |r| (s, r)))
    {
        let (Some(family), Some(decision)) = (&row.family, &row.decision) else {
            continue;
        };
        if !families.contains(family) {
            continue;
        }
        let earlier = (decision.number, sheet.lot.as_str());
        let kept = first.entry(family.clone()).or_insert(earlier);
        *kept = (*kept).min(earlier);
    }
    let of = first.into_iter();
    of.map(|(family, (_, lot))| (family, lot.to_owned()))
        .collect()
}

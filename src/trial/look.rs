//! What a library says of one mark whose place is known.

use crate::geometry::{Photo, Quad};
use crate::identify::Settings;
use crate::photo::UprightPhoto;
use crate::references::References;
use crate::verdict::{self, model::Model};

/// More families than the engine ever compares to the end.
const ALL: usize = 1000;
/// Probabilities are kept this far from 0 and 1, so that log-odds stay finite (at 9.2): what lies beyond differs by
/// nothing that a person would see.
const LEAST: f64 = 1e-4;

/// The families that were compared, likeliest first.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Look {
    pub families: Vec<(String, f64)>,
    /// The family that would be named.
    pub named: Option<String>,
}

impl Look {
    /// Log-odds (natural) that the mark is of this family.
    pub fn odds(&self, family: &str) -> f64 {
        let found = self.families.iter().find(|(f, _)| f == family);
        let p = found.map_or(0.0, |f| f.1).clamp(LEAST, 1.0 - LEAST);
        (p / (1.0 - p)).ln()
    }

    /// The same where a family is named from another probability on: what was named below it no longer is.
    pub fn at_limit(mut self, limit: f64) -> Self {
        let best = self.families.first().map_or(0.0, |f| f.1);
        self.named = self.named.filter(|_| best >= limit);
        self
    }

    /// Whether this family comes before all others.
    pub fn is_first(&self, family: &str) -> bool {
        self.families.first().is_some_and(|(f, _)| f == family)
    }
}

/// Looks at the mark at `quad` of a picture.
pub fn look(picture: &UprightPhoto, quad: &Quad<Photo>, references: &References) -> Look {
    if references.is_empty() {
        return Look::default();
    }
    let settings = Settings {
        top: ALL,
        ..Settings::default()
    };
    let examined = crate::examine::examine_at(picture, references, Some(quad), &mut |_, _| {});
    let found = verdict::judge(picture, &examined, references, &settings);
    let Some(mark) = found.marks.into_iter().next() else {
        return Look::default();
    };
    let families: Vec<(String, f64)> = mark
        .candidates
        .into_iter()
        .map(|c| (c.family, c.probability))
        .collect();
    // By the mark alone: a crop does not show whether the photo would have to be taken again.
    let named_at = Model::default().named_at;
    let first = families.first().filter(|f| f.1 >= named_at);
    Look {
        named: first.filter(|_| mark.twins.is_empty()).map(|f| f.0.clone()),
        families,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn odds_are_finite_and_follow_the_probability() {
        let look = Look {
            families: vec![("a/a".into(), 0.9), ("b/b".into(), 0.1)],
            named: None,
        };
        assert!((look.odds("a/a") - 9.0_f64.ln()).abs() < 1e-12);
        assert!(look.odds("c/c").is_finite() && look.odds("c/c") < look.odds("b/b"));
        assert!(look.is_first("a/a") && !look.is_first("b/b"));
        assert!(!Look::default().is_first("a/a"));
    }
}

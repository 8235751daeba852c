//! What the library says of a mark that is identified: whose stamp it is, and how it was put on.

use super::{FamilyId, Library, StampRole};
use crate::answer::{Means, PhotoAnswer, Role, Verdict};

impl Library {
    /// Fills in role and means of the marks that are named, as their families' records have them. They follow from the
    /// identification and are as sure as that; nothing is said of other marks.
    pub fn tell_of(&self, answer: &mut PhotoAnswer) {
        for mark in &mut answer.marks {
            (mark.role, mark.means) = (Role::Undecided, Means::Undecided);
            let first = mark.candidates.first();
            let named = first.filter(|_| mark.verdict == Verdict::Named);
            let family = named.and_then(|c| self.find(&FamilyId::parse(&c.family).ok()?));
            let Some(family) = family else { continue };
            mark.role = match family.record.role {
                StampRole::Maker => Role::Maker,
                StampRole::Decorator => Role::Decorator,
                StampRole::Customer => Role::Retailer,
            };
            let variant = named.and_then(|c| family.variants.get(c.variant.as_deref()?));
            let own = variant.and_then(|record| record.means);
            mark.means = own.or(family.record.means).unwrap_or(Means::Undecided);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::answer::{Candidate, MarkAnswer, SCHEMA};
    use crate::library::{Family, MarkRecord};

    fn answer(verdict: Verdict, variant: Option<&str>) -> PhotoAnswer {
        let candidate = Candidate {
            family: "mill/crown".to_owned(),
            variant: variant.map(str::to_owned),
            probability: 0.95,
            exemplar: String::new(),
            quad: [[0.0; 2]; 4],
            evidence: None,
        };
        let mark = MarkAnswer {
            quad: [[0.0; 2]; 4],
            role: Role::Undecided,
            means: Means::Undecided,
            verdict,
            strike: 9.0,
            quality: None,
            state: None,
            candidates: vec![candidate],
            rest: 0.0,
            none: 0.05,
            forms: None,
            twins: Vec::new(),
            dates: Vec::new(),
        };
        PhotoAnswer {
            schema: SCHEMA,
            photo: "a.jpg".to_owned(),
            photo_raw: None,
            hash: None,
            verdict,
            reasons: Vec::new(),
            quality: None,
            marks: vec![mark],
            elapsed_ms: None,
            stages: None,
        }
    }

    #[test]
    fn a_named_mark_has_the_role_and_means_of_its_record() {
        let record = |means| MarkRecord {
            role: StampRole::Decorator,
            means,
            ..MarkRecord::default()
        };
        let id = FamilyId::parse("mill/crown").expect("an id");
        let family = Family {
            id: id.clone(),
            name: "Crown".to_owned(),
            record: record(Some(Means::Printed)),
            variants: [("pressed".to_owned(), record(Some(Means::Impressed)))].into(),
            exemplars: Vec::new(),
        };
        let library = Library {
            families: [(id, family)].into(),
            ..Library::default()
        };
        let told = |verdict, variant| {
            let mut answer = answer(verdict, variant);
            library.tell_of(&mut answer);
            (answer.marks[0].role, answer.marks[0].means)
        };
        assert_eq!(
            told(Verdict::Named, None),
            (Role::Decorator, Means::Printed)
        );
        assert_eq!(
            told(Verdict::Named, Some("pressed")),
            (Role::Decorator, Means::Impressed)
        );
        assert_eq!(
            told(Verdict::Named, Some("undecided")),
            (Role::Decorator, Means::Printed)
        );
        assert_eq!(
            told(Verdict::Choose, None),
            (Role::Undecided, Means::Undecided)
        );
    }
}

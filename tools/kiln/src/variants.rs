//! The forms of a family with variants: which parts stand below the name of its line.

use crate::foot::{Difference, Foot, Part, Shown};
use crate::random::Rng;
use crate::words::WordLists;

/// What a pottery prints below the names of its lines.
#[derive(Clone, Debug)]
pub struct Wordings {
    pub country: String,
    /// Another country line, and a place in its stead.
    other: String,
    place: String,
    print: String,
    letter: char,
}

/// Every split's list begins with at least this many countries; what follows the fourth word is other small print.
const COUNTRIES: usize = 2;
const PRINTS_FROM: usize = 4;
/// Lone letters: those that no single scratch makes another of.
const LETTERS: [char; 8] = ['A', 'B', 'G', 'H', 'K', 'M', 'R', 'S'];

impl Wordings {
    pub fn draw(lists: &WordLists, rng: &mut Rng) -> Self {
        let mut countries: Vec<&String> = lists.extras.iter().take(COUNTRIES).collect();
        rng.shuffle(&mut countries);
        let (country, other) = (countries[0], countries[countries.len() - 1]);
        Self::of(country, other, lists, rng)
    }

    fn of(country: &str, other: &str, lists: &WordLists, rng: &mut Rng) -> Self {
        let prints = &lists.extras[PRINTS_FROM.min(lists.extras.len() - 1)..];
        Self {
            country: country.to_string(),
            other: other.to_string(),
            place: rng.pick(&lists.places).to_uppercase(),
            print: rng.pick(prints).clone(),
            letter: *rng.pick(&LETTERS),
        }
    }

    /// Other small print and another letter for the next family.
    pub fn again(&self, lists: &WordLists, rng: &mut Rng) -> Self {
        Self::of(&self.country, &self.other, lists, rng)
    }

    /// The foot of a line without variants.
    pub fn plain(&self) -> Foot {
        Foot {
            places: vec![vec![Part::Print(self.country.clone())]],
            shown: vec![Some(0)],
            ..Foot::default()
        }
    }
}

/// A form of a family: the folder of its variant, None for the main form, and what stands below the name.
#[derive(Clone, Debug)]
pub struct Form {
    pub variant: Option<String>,
    pub foot: Foot,
}

/// How the forms of one family differ: parts by place, and what each form shows, the main form first.
struct Scheme {
    places: Vec<Vec<Part>>,
    forms: Vec<(&'static str, Shown, Option<Difference>)>,
}

/// Schemes that families take in turn. Parts of the main form are lacking in variants, and the reverse.
pub const SCHEMES: usize = 5;

fn scheme(turn: usize, words: &Wordings) -> Scheme {
    use Difference::{Country, Dots, Letter, Print, Rule, Wording};
    let print = |text: &String| Part::Print(text.clone());
    let country = print(&words.country);
    let letter = Part::Letter(words.letter);
    let (some, none) = (Some(0), None);
    let (places, forms) = match turn % SCHEMES {
        0 => (
            vec![vec![country, print(&words.other)], vec![Part::Dots(1)]],
            vec![
                ("", vec![some, none], None),
                ("no-country", vec![none, none], Some(Country)),
                ("other-country", vec![Some(1), none], Some(Wording)),
                ("dot", vec![some, some], Some(Dots)),
            ],
        ),
        1 => (
            vec![vec![country], vec![print(&words.print)], vec![letter]],
            vec![
                ("", vec![none, none, none], None),
                ("country", vec![some, none, none], Some(Country)),
                ("small-print", vec![none, some, none], Some(Print)),
                ("letter", vec![none, none, some], Some(Letter)),
            ],
        ),
        2 => (
            vec![
                vec![country, print(&words.place)],
                vec![print(&words.print)],
            ],
            vec![
                ("", vec![some, some], None),
                ("no-small-print", vec![some, none], Some(Print)),
                ("place", vec![Some(1), some], Some(Wording)),
                ("no-country", vec![none, some], Some(Country)),
            ],
        ),
        3 => (
            vec![
                vec![country],
                vec![Part::Dots(1), Part::Dots(2), Part::Dots(3)],
            ],
            vec![
                ("", vec![some, Some(1)], None),
                ("one-dot", vec![some, some], Some(Dots)),
                ("three-dots", vec![some, Some(2)], Some(Dots)),
                ("no-dots", vec![some, none], Some(Dots)),
            ],
        ),
        _ => (
            vec![
                vec![Part::Rules(1), Part::Rules(2)],
                vec![country],
                vec![letter],
            ],
            vec![
                ("", vec![some, some, some], None),
                ("no-rule", vec![none, some, some], Some(Rule)),
                ("two-rules", vec![Some(1), some, some], Some(Rule)),
                ("no-letter", vec![some, some, none], Some(Letter)),
            ],
        ),
    };
    Scheme { places, forms }
}

/// The forms of the `turn`th family with variants, the main form first.
pub fn forms(turn: usize, words: &Wordings) -> Vec<Form> {
    let Scheme { places, forms } = scheme(turn, words);
    let foot = |at: usize| Foot {
        places: places.clone(),
        shown: forms[at].1.clone(),
        rivals: (0..forms.len())
            .filter(|other| *other != at)
            .map(|other| forms[other].1.clone())
            .collect(),
        differs: forms[at].2,
    };
    (0..forms.len())
        .map(|at| Form {
            variant: (at > 0).then(|| forms[at].0.to_string()),
            foot: foot(at),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    fn words() -> Wordings {
        Wordings {
            country: "MADE IN WICK".to_string(),
            other: "WICK".to_string(),
            place: "TARN".to_string(),
            print: "Proof".to_string(),
            letter: 'K',
        }
    }

    #[test]
    fn every_kind_of_difference_occurs_and_no_two_forms_are_alike() {
        let mut met = BTreeSet::new();
        for turn in 0..SCHEMES {
            let forms = forms(turn, &words());
            assert_eq!(forms.len(), 4);
            let shown: BTreeSet<_> = forms.iter().map(|f| &f.foot.shown).collect();
            assert_eq!(shown.len(), 4, "scheme {turn}");
            assert!(forms[0].variant.is_none() && forms[0].foot.differs.is_none());
            met.extend(forms.iter().filter_map(|f| f.foot.differs));
        }
        assert_eq!(met.len(), Difference::ALL.len());
    }

    #[test]
    fn parts_are_lacking_in_main_forms_and_in_variants() {
        let count = |f: &Form| f.foot.shown.iter().flatten().count();
        let all: Vec<Vec<Form>> = (0..SCHEMES).map(|turn| forms(turn, &words())).collect();
        let more = |v: &[Form]| v[1..].iter().any(|f| count(f) > count(&v[0]));
        let less = |v: &[Form]| v[1..].iter().any(|f| count(f) < count(&v[0]));
        assert!(all.iter().any(|v| more(v)) && all.iter().any(|v| less(v)));
    }
}

//! What all trials of a library come to.

use std::collections::BTreeMap;

use super::look::Look;
use super::wilson::wilson;

/// Confirmed photos from which a rate is told. With 100 and no error the interval still reaches to 4 %.
pub const FIGURES_FROM: usize = 100;
/// Errors of each kind that must be seen before a limit may be fitted anew (the rule of 30, Doddington et al. 2000).
pub const REFIT_FROM: usize = 30;
/// Probability from which the likeliest other family is one that a mark is easily taken for: likelier than all else.
pub const CONFUSED_AT: f64 = 0.5;
/// Probability from which an exemplar probably belongs to another family, where its own has less.
pub const BELONGS_AT: f64 = 0.8;

/// What was tried.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Source {
    /// A photo of a lot, confirmed.
    Confirmed,
    /// A picture of the library.
    Exemplar,
}

/// One mark and what was said of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Trial {
    pub source: Source,
    pub family: String,
    /// What to call the picture before a person.
    pub name: String,
    /// Without what stems from its own piece; `None` where the family has nothing else.
    pub known: Option<Look>,
    /// Without its whole family.
    pub stranger: Look,
}

/// A count out of others, with the 95 % interval of the share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Share {
    pub hits: usize,
    pub of: usize,
}

impl Share {
    pub fn value(self) -> Option<f64> {
        (self.of > 0).then(|| self.hits as f64 / self.of as f64)
    }

    pub fn interval(self) -> (f64, f64) {
        wilson(self.hits, self.of)
    }
}

/// Error rates of an identification with a threshold, on confirmed photos (ISO/IEC 19795-1).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Figures {
    /// Photos whose own family comes first.
    pub rank_one: Share,
    /// Photos of a family in the library that are not named by it: false negative identifications.
    pub fnir: Share,
    /// Of those, the ones named by another family.
    pub misnamed: Share,
    /// Photos of no family in the library that are named all the same: false positive identifications.
    pub fpir: Share,
}

/// Two families that are taken for one another.
#[derive(Debug, Clone, PartialEq)]
pub struct Confusion {
    pub families: (String, String),
    /// How many marks of one would be taken for the other.
    pub times: usize,
    /// The greatest probability of it, and the picture.
    pub most: f64,
    pub picture: String,
}

/// An exemplar that is likelier of another family.
#[derive(Debug, Clone, PartialEq)]
pub struct Elsewhere {
    pub family: String,
    pub picture: String,
    pub other: String,
    pub probability: f64,
}

/// A family that seldom or never names its own photos.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Weak {
    pub family: String,
    /// Of its confirmed photos, those that come first.
    pub first: usize,
    pub of: usize,
}

/// An exemplar that the others of its family do not recognise.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Poor {
    pub family: String,
    pub picture: String,
}

/// All of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Tally {
    pub confirmed: usize,
    pub exemplars: usize,
    pub figures: Figures,
    pub confusions: Vec<Confusion>,
    pub elsewhere: Vec<Elsewhere>,
    pub poor: Vec<Poor>,
    /// Fewer than half of the confirmed photos come first.
    pub weak: Vec<Weak>,
}

impl Tally {
    /// The figures, where enough was confirmed to tell any.
    pub fn told(&self) -> Option<&Figures> {
        (self.confirmed >= FIGURES_FROM).then_some(&self.figures)
    }
}

/// Counts the trials.
pub fn tally(trials: &[Trial]) -> Tally {
    let of = |source: Source| trials.iter().filter(move |t| t.source == source);
    Tally {
        confirmed: of(Source::Confirmed).count(),
        exemplars: of(Source::Exemplar).count(),
        figures: figures(&of(Source::Confirmed).collect::<Vec<_>>()),
        confusions: confusions(trials),
        elsewhere: of(Source::Exemplar).filter_map(elsewhere).collect(),
        poor: of(Source::Exemplar).filter_map(poor).collect(),
        weak: weak(of(Source::Confirmed)),
    }
}

fn figures(confirmed: &[&Trial]) -> Figures {
    let known: Vec<(&str, &Look)> = confirmed
        .iter()
        .filter_map(|t| Some((t.family.as_str(), t.known.as_ref()?)))
        .collect();
    let share = |hit: &dyn Fn(&str, &Look) -> bool| Share {
        hits: known.iter().filter(|(f, l)| hit(f, l)).count(),
        of: known.len(),
    };
    Figures {
        rank_one: share(&|family, look| look.is_first(family)),
        fnir: share(&|family, look| look.named.as_deref() != Some(family)),
        misnamed: share(&|family, look| look.named.as_deref().is_some_and(|n| n != family)),
        fpir: Share {
            hits: confirmed
                .iter()
                .filter(|t| t.stranger.named.is_some())
                .count(),
            of: confirmed.len(),
        },
    }
}

fn confusions(trials: &[Trial]) -> Vec<Confusion> {
    let mut found: BTreeMap<(String, String), Confusion> = BTreeMap::new();
    for trial in trials {
        let first = trial.stranger.families.first();
        let Some((other, p)) = first.filter(|f| f.1 >= CONFUSED_AT) else {
            continue;
        };
        let mut pair = [trial.family.clone(), other.clone()];
        pair.sort();
        let [a, b] = pair;
        let entry = found.entry((a.clone(), b.clone())).or_insert(Confusion {
            families: (a, b),
            times: 0,
            most: 0.0,
            picture: String::new(),
        });
        entry.times += 1;
        if *p > entry.most {
            entry.most = *p;
            entry.picture.clone_from(&trial.name);
        }
    }
    let mut all: Vec<Confusion> = found.into_values().collect();
    all.sort_by(|a, b| {
        b.times
            .cmp(&a.times)
            .then(b.most.total_cmp(&a.most))
            .then(a.families.cmp(&b.families))
    });
    all
}

fn elsewhere(trial: &Trial) -> Option<Elsewhere> {
    let look = trial.known.as_ref()?;
    let (other, probability) = look.families.first()?;
    (*other != trial.family && *probability >= BELONGS_AT).then(|| Elsewhere {
        family: trial.family.clone(),
        picture: trial.name.clone(),
        other: other.clone(),
        probability: *probability,
    })
}

fn poor(trial: &Trial) -> Option<Poor> {
    let look = trial.known.as_ref()?;
    (!look.is_first(&trial.family)).then(|| Poor {
        family: trial.family.clone(),
        picture: trial.name.clone(),
    })
}

fn weak<'t>(confirmed: impl Iterator<Item = &'t Trial>) -> Vec<Weak> {
    let mut by_family: BTreeMap<&str, (usize, usize)> = BTreeMap::new();
    for trial in confirmed {
        if let Some(known) = &trial.known {
            let (first, of) = by_family.entry(&trial.family).or_default();
            *first += usize::from(known.is_first(&trial.family));
            *of += 1;
        }
    }
    by_family
        .into_iter()
        .filter(|(_, (first, of))| 2 * first < *of)
        .map(|(family, (first, of))| Weak {
            family: family.to_owned(),
            first,
            of,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seen(families: &[(&str, f64)]) -> Look {
        Look {
            families: families
                .iter()
                .map(|(f, p)| ((*f).to_owned(), *p))
                .collect(),
            named: families
                .first()
                .filter(|f| f.1 >= 0.9)
                .map(|f| f.0.to_owned()),
        }
    }

    fn trial(source: Source, family: &str, known: Option<Look>, stranger: Look) -> Trial {
        Trial {
            source,
            family: family.into(),
            name: format!("{family}.jpg"),
            known,
            stranger,
        }
    }

    #[test]
    fn rates_are_counted_as_the_standard_says() {
        let trials = [
            trial(
                Source::Confirmed,
                "m/a",
                Some(seen(&[("m/a", 0.95)])),
                seen(&[("m/b", 0.2)]),
            ),
            trial(
                Source::Confirmed,
                "m/a",
                Some(seen(&[("m/a", 0.6), ("m/b", 0.4)])),
                seen(&[("m/b", 0.6)]),
            ),
            trial(
                Source::Confirmed,
                "m/b",
                Some(seen(&[("m/a", 0.97)])),
                seen(&[("m/a", 0.97)]),
            ),
            trial(Source::Confirmed, "m/c", None, seen(&[])),
            trial(
                Source::Exemplar,
                "m/d",
                Some(seen(&[("m/a", 0.9)])),
                seen(&[]),
            ),
        ];
        let tally = tally(&trials);
        let share = |s: Share| (s.hits, s.of);
        let f = tally.figures;
        assert_eq!(share(f.rank_one), (2, 3));
        assert_eq!(share(f.fnir), (2, 3));
        assert_eq!(share(f.misnamed), (1, 3));
        assert_eq!(share(f.fpir), (1, 4));
        assert!(tally.told().is_none());
        let first = &tally.confusions[0];
        assert_eq!(first.families, ("m/a".into(), "m/b".into()));
        assert_eq!((first.times, first.picture.as_str()), (2, "m/b.jpg"));
        assert_eq!(tally.elsewhere[0].other, "m/a");
        assert_eq!(
            (tally.poor.len(), tally.poor[0].family.as_str()),
            (1, "m/d")
        );
        assert_eq!(tally.weak.len(), 1);
        assert_eq!((tally.weak[0].first, tally.weak[0].of), (0, 1));
    }
}

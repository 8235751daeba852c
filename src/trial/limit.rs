//! From which probability on a family is named: fitted anew on the person's own photos, where they tell enough.

use super::tally::{REFIT_FROM, Source, Trial};

/// Share of strangers that may be named: what the shipped limit was set for.
pub const MOST_FALSE: f64 = 0.02;
/// Limits are told in steps of this, and never above the last one.
const STEP: f64 = 0.005;
const HIGHEST: f64 = 0.995;

/// What the person's photos say of the limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Limit {
    /// Too few errors were seen to say anything, and strangers are not named too often.
    Stays,
    /// Strangers are named too often: from this probability on they are not. Fewer false names need no proof.
    Raised(f64),
    /// Enough errors of both kinds were seen: with this one as many strangers are named as should be, and no more
    /// photos than need be are left open.
    Fitted(f64),
}

/// Fits the limit to trials that were made with the limit `now`. With fewer than 30 errors of either kind (the rule of
/// 30, Doddington et al. 2000) it only ever rises.
pub fn limit(trials: &[Trial], now: f64) -> Limit {
    let confirmed: Vec<&Trial> = trials
        .iter()
        .filter(|t| t.source == Source::Confirmed)
        .collect();
    let first = |t: &Trial| t.stranger.families.first().map_or(0.0, |f| f.1);
    let own = |t: &Trial| {
        let look = t.known.as_ref()?;
        let best = look.families.first().filter(|f| f.0 == t.family);
        Some(best.map_or(0.0, |f| f.1))
    };
    let strangers: Vec<f64> = confirmed.iter().map(|t| first(t)).collect();
    let known: Vec<f64> = confirmed.iter().filter_map(|t| own(t)).collect();
    let named = |limit: f64| strangers.iter().filter(|p| **p >= limit).count();
    let missed = known.iter().filter(|p| **p < now).count();
    let most = MOST_FALSE * strangers.len() as f64;
    let steps = (0..).map(|n| f64::from(n) * STEP);
    let mut limits = steps.take_while(|l| *l <= HIGHEST + STEP / 2.0);
    let enough = named(now) >= REFIT_FROM && missed >= REFIT_FROM;
    let least = if enough { 0.5 } else { now };
    let fitted = limits.find(|l| *l >= least && named(*l) as f64 <= most);
    let fitted = fitted.unwrap_or(HIGHEST);
    match enough {
        true => Limit::Fitted(fitted),
        false if named(now) as f64 > most && fitted > now => Limit::Raised(fitted),
        false => Limit::Stays,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trial::Look;

    /// A photo whose own family has one probability, and as a stranger another family another one.
    fn trial(own: f64, other: f64) -> Trial {
        let look = |family: &str, p: f64| Look {
            families: vec![(family.to_owned(), p)],
            named: None,
        };
        Trial {
            source: Source::Confirmed,
            family: "m/a".into(),
            name: "a.jpg".into(),
            known: Some(look("m/a", own)),
            stranger: look("m/b", other),
        }
    }

    fn trials(parts: &[(usize, f64, f64)]) -> Vec<Trial> {
        let each = parts.iter();
        each.flat_map(|&(n, own, other)| (0..n).map(move |_| trial(own, other)))
            .collect()
    }

    #[test]
    fn with_few_errors_it_stays_or_rises() {
        let few = trials(&[(99, 0.99, 0.1), (1, 0.5, 0.95)]);
        assert_eq!(limit(&few, 0.9), Limit::Stays);
        // Ten of a hundred strangers are named: too many, though far from thirty.
        let named = trials(&[(90, 0.99, 0.1), (8, 0.99, 0.93), (2, 0.99, 0.97)]);
        let Limit::Raised(limit) = limit(&named, 0.9) else {
            panic!("it should rise");
        };
        assert!((limit - 0.935).abs() < 1e-9, "{limit}");
    }

    #[test]
    fn with_thirty_errors_of_each_kind_it_is_fitted_and_may_fall() {
        let many = trials(&[(1900, 0.95, 0.1), (60, 0.86, 0.1), (40, 0.99, 0.97)]);
        assert_eq!(limit(&many, 0.9), Limit::Fitted(0.5));
        let worse = trials(&[(1800, 0.95, 0.1), (100, 0.8, 0.92), (40, 0.99, 0.97)]);
        let Limit::Fitted(found) = limit(&worse, 0.9) else {
            panic!("it should be fitted");
        };
        assert!(found > 0.97, "{found}");
    }
}

//! Whether a picture is worth keeping as an exemplar.

use super::look::Look;

/// Mean gain of log-odds (natural) over the held-out photos from which a picture teaches something, where it brings
/// no more of them to the first place. A quarter takes a probability of 0.90 to 0.92, which no verdict would notice.
/// Chosen by that and not by an experiment.
pub const LEAST_GAIN: f64 = 0.25;
/// Without other confirmed photos a picture is judged by itself: it adds something where the exemplars that are there
/// are less sure of it than this (log-odds, natural). At 3 they say nineteen in twenty, as for the second exemplar of
/// a new family.
pub const SECOND_BELOW: f64 = 3.0;

/// What a picture teaches.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Lesson {
    /// Judged by `of` other confirmed photos: how many come first without and with it, and the mean gain of log-odds.
    Held {
        of: usize,
        first: (usize, usize),
        gain: f64,
    },
    /// Judged by itself: the log-odds that the library gives its family without it.
    Alone { odds: f64 },
}

impl Lesson {
    /// Whether it is worth keeping.
    pub fn teaches(&self) -> bool {
        match *self {
            Self::Held { first, gain, .. } => {
                first.1 > first.0 || (first.1 == first.0 && gain >= LEAST_GAIN)
            }
            Self::Alone { odds } => odds < SECOND_BELOW,
        }
    }
}

/// Judges a picture by looks at the same photos of its family, without it and with it.
pub fn lesson(family: &str, without: &[Look], with: &[Look]) -> Lesson {
    let first = |looks: &[Look]| looks.iter().filter(|l| l.is_first(family)).count();
    let gains = without.iter().zip(with);
    let gain: f64 = gains.map(|(a, b)| b.odds(family) - a.odds(family)).sum();
    Lesson::Held {
        of: without.len(),
        first: (first(without), first(with)),
        gain: gain / without.len().max(1) as f64,
    }
}

/// Judges a picture by what the library says of it before it belongs to it.
pub fn lesson_alone(family: &str, own: &Look) -> Lesson {
    Lesson::Alone {
        odds: own.odds(family),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(p: f64) -> Look {
        let mut families = vec![("a/a".to_owned(), p), ("b/b".to_owned(), 0.4)];
        families.sort_by(|a, b| b.1.total_cmp(&a.1));
        let named = None;
        Look { families, named }
    }

    #[test]
    fn first_places_count_before_odds() {
        let teaches = |a: &[f64], b: &[f64]| {
            let looks = |p: &[f64]| p.iter().map(|p| at(*p)).collect::<Vec<_>>();
            lesson("a/a", &looks(a), &looks(b)).teaches()
        };
        assert!(teaches(&[0.3, 0.9], &[0.5, 0.9]), "one more comes first");
        assert!(teaches(&[0.8, 0.8], &[0.9, 0.9]), "surer of both");
        assert!(!teaches(&[0.9, 0.9], &[0.91, 0.9]), "hardly surer");
        assert!(!teaches(&[0.5, 0.5], &[0.99, 0.3]), "one is lost");
    }

    #[test]
    fn alone_it_is_judged_by_itself() {
        assert!(lesson_alone("a/a", &at(0.9)).teaches());
        assert!(!lesson_alone("a/a", &at(0.99)).teaches());
    }
}

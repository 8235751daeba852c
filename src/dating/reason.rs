//! What follows from all clues together.
//!
//! Each clue is a stretch of the line of time, so the answer is what lies in all of them. Where
//! that is empty, some of the clues cannot all be true. The smallest such sets have two members: by
//! Helly's theorem (1923), on a line stretches of which any two meet all meet, so where all do not
//! meet some two do not. All those pairs are named, and nothing larger has to be looked for.

use super::Span;
use super::clue::{Clue, Standing};
use super::edtf::Expression;
use super::words::edtf_of;

/// Clues and what follows from them.
#[derive(Debug, Clone, PartialEq)]
pub struct Dating {
    /// The clues that count, in the order given.
    pub clues: Vec<Clue>,
    pub answer: Answer,
    /// The clues that the person is not sure of, in the order given. They change nothing.
    pub apart: Vec<Apart>,
}

/// What the clues that count say together. Numbers are places in [`Dating::clues`].
#[derive(Debug, Clone, PartialEq)]
pub enum Answer {
    /// All can be true.
    Within {
        span: Span,
        /// The clues that set the first day, and those that set the last.
        first_by: Vec<usize>,
        last_by: Vec<usize>,
    },
    /// Not all can be true.
    Contradiction {
        /// Every two clues that cannot both be true, smaller number first.
        pairs: Vec<[usize; 2]>,
        /// Clues without which all others agree, and on what.
        without: Vec<(usize, Span)>,
    },
}

/// A clue that does not count.
#[derive(Debug, Clone, PartialEq)]
pub struct Apart {
    pub clue: Clue,
    pub effect: Effect,
}

/// What a clue would do if it counted.
#[derive(Debug, Clone, PartialEq)]
pub enum Effect {
    /// It fits and would change nothing.
    Nothing,
    /// It would narrow the answer to this.
    Narrows(Span),
    /// It cannot be true together with these clues.
    Contradicts(Vec<usize>),
    /// The clues that count contradict each other already.
    Open,
}

impl Dating {
    /// When the piece was made, as far as the clues say; `None` where they contradict each other.
    pub fn span(&self) -> Option<Span> {
        match self.answer {
            Answer::Within { span, .. } => Some(span),
            Answer::Contradiction { .. } => None,
        }
    }

    /// The answer in the Extended Date/Time Format; `None` where there is none, or nothing is
    /// bounded.
    pub fn edtf(&self) -> Option<Expression> {
        edtf_of(self.span()?)
    }

    /// Whether the answer rests on a published value that was not checked against its source.
    pub fn is_unverified(&self) -> bool {
        match &self.answer {
            Answer::Within {
                first_by, last_by, ..
            } => first_by
                .iter()
                .chain(last_by)
                .any(|at| self.clues[*at].is_unverified()),
            Answer::Contradiction { pairs, .. } => pairs
                .iter()
                .flatten()
                .any(|at| self.clues[*at].is_unverified()),
        }
    }
}

/// Puts clues together. Only sure ones count; no clue at all leaves any time possible.
pub fn reason(clues: impl IntoIterator<Item = Clue>) -> Dating {
    let (clues, unsure): (Vec<Clue>, Vec<Clue>) = clues
        .into_iter()
        .partition(|clue| clue.standing == Standing::Sure);
    let bounds: Vec<Span> = clues.iter().map(Clue::bounds).collect();
    let answer = answer(&bounds);
    let apart = unsure.into_iter().map(|clue| Apart {
        effect: effect(clue.bounds(), &bounds, &answer),
        clue,
    });
    Dating {
        apart: apart.collect(),
        answer,
        clues,
    }
}

/// What lies in all spans.
fn meet(spans: impl IntoIterator<Item = Span>) -> Option<Span> {
    spans.into_iter().try_fold(Span::ALWAYS, Span::and)
}

fn answer(bounds: &[Span]) -> Answer {
    let Some(span) = meet(bounds.iter().copied()) else {
        return contradiction(bounds);
    };
    let by = |sets: fn(&Span, &Span) -> bool| {
        let places = bounds.iter().enumerate();
        places
            .filter(|(_, bound)| sets(bound, &span))
            .map(|(at, _)| at)
            .collect()
    };
    Answer::Within {
        span,
        first_by: by(|b, all| b.not_before.is_some() && b.not_before == all.not_before),
        last_by: by(|b, all| b.not_after.is_some() && b.not_after == all.not_after),
    }
}

fn contradiction(bounds: &[Span]) -> Answer {
    let pairs: Vec<[usize; 2]> = (0..bounds.len())
        .flat_map(|one| (one + 1..bounds.len()).map(move |other| [one, other]))
        .filter(|[one, other]| bounds[*one].and(bounds[*other]).is_none())
        .collect();
    let without = (0..bounds.len()).filter_map(|left_out| {
        let others = bounds.iter().enumerate();
        let others = others.filter(|(at, _)| *at != left_out);
        Some((left_out, meet(others.map(|(_, bound)| *bound))?))
    });
    Answer::Contradiction {
        without: without.collect(),
        pairs,
    }
}

fn effect(bound: Span, bounds: &[Span], answer: &Answer) -> Effect {
    let Answer::Within { span, .. } = answer else {
        return Effect::Open;
    };
    match span.and(bound) {
        Some(narrowed) if narrowed == *span => Effect::Nothing,
        Some(narrowed) => Effect::Narrows(narrowed),
        None => {
            let places = bounds.iter().enumerate();
            let against = places.filter(|(_, other)| other.and(bound).is_none());
            Effect::Contradicts(against.map(|(at, _)| at).collect())
        }
    }
}

#[cfg(test)]
mod tests;

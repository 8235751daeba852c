//! Who made, decorated and ordered a piece: from its marks, else from what else is known of it.

use super::attribution::{Attribution, Ground, Opinion};
use super::book::{Book, Piece};
use super::marks::{SeenMark, Stamp};
use super::told_of::facts_of;
use super::which_line::{WhichLine, body_line, by_body_and_glaze, line, stamped_line};
use crate::decision::{Certainty, PieceFact};
use crate::library::{DecorationFact, Family, FamilyId, Library, StampRole, number_fits};

/// The folder of marks whose maker nobody knows; it names no maker.
const UNATTRIBUTED: &str = "unattributed";

/// Answers to the three questions, and the line.
#[derive(Debug, Clone, PartialEq)]
pub struct Origin {
    pub made_by: Opinion,
    pub decorated_by: Opinion,
    pub made_for: Opinion,
    pub line: Option<WhichLine>,
}

/// The weaker of two.
pub(super) fn weaker(one: Certainty, other: Certainty) -> Certainty {
    match (one, other) {
        (Certainty::Sure, Certainty::Sure) => Certainty::Sure,
        (Certainty::NotStated, _) | (_, Certainty::NotStated) => Certainty::NotStated,
        _ => Certainty::Probably,
    }
}

pub(super) fn family<'l>(library: &'l Library, id: &str) -> Option<&'l Family> {
    library.find(&FamilyId::parse(id).ok()?)
}

/// The marks of a piece whose stamp plays this role.
pub(super) fn marks_of<'p>(
    piece: &'p Piece,
    library: &Library,
    role: StampRole,
) -> Vec<&'p SeenMark> {
    let is = |mark: &&SeenMark| {
        let known = family(library, &mark.family);
        known.map_or(StampRole::Maker, |f| f.record.role) == role
    };
    piece.marks.iter().filter(is).collect()
}

/// A maker's folder by its name or one of its names.
pub(super) fn maker_folder<'l>(library: &'l Library, who: &str) -> Option<&'l str> {
    let plain = who.to_lowercase();
    let is = |name: &String| name.to_lowercase() == plain;
    let found = library.makers.iter().find(|(folder, maker)| {
        let record = &maker.record;
        is(folder) || record.names.iter().any(is) || record.also_called.iter().any(is)
    });
    found.map(|(folder, _)| folder.as_str())
}

/// All that is known of where a piece comes from.
pub fn origin(piece: &Piece, book: &Book, library: &Library) -> Origin {
    let line = line(piece, book, library);
    let made_by = made_by(piece, book, library);
    let (customer, decorator) = by_number(piece, &made_by, line.as_ref(), library);
    let answer = |fact, role, number: Option<Opinion>| {
        let said = piece.said(fact);
        let marked = || by_mark(piece, library, role);
        let opinion = said.or_else(marked).or(number);
        named(opinion.unwrap_or(Opinion::UNKNOWN), library)
    };
    Origin {
        decorated_by: answer(PieceFact::DecoratedBy, StampRole::Decorator, decorator),
        made_for: answer(PieceFact::MadeFor, StampRole::Customer, customer),
        line,
        made_by,
    }
}

/// The maker as the person said, as the mark says, by the body, by a partner; in this order.
fn made_by(piece: &Piece, book: &Book, library: &Library) -> Opinion {
    let said = piece.said(PieceFact::MadeBy);
    let direct = said.or_else(|| by_mark(piece, library, StampRole::Maker));
    let open = || direct_stamp_is_open(piece, library);
    let opinion = direct
        .or_else(|| by_body(piece, library).filter(|_| open()))
        .or_else(|| by_partner(piece, book, library).filter(|_| open()));
    named(opinion.unwrap_or(Opinion::UNKNOWN), library)
}

/// No mark of a maker that could say otherwise is on it.
fn direct_stamp_is_open(piece: &Piece, library: &Library) -> bool {
    piece.stamp != Stamp::Stranger && marks_of(piece, library, StampRole::Maker).is_empty()
}

/// With the maker called by its name, where the person wrote the folder's.
pub(super) fn named(mut opinion: Opinion, library: &Library) -> Opinion {
    if let Attribution::Marked { who, .. } | Attribution::Attributed { who, .. } = &mut opinion.says
        && let Some(folder) = maker_folder(library, who)
    {
        *who = library.maker_name(folder);
    }
    opinion
}

/// What the marks of this role say; `None` where there is none, or they name two.
pub(super) fn by_mark(piece: &Piece, library: &Library, role: StampRole) -> Option<Opinion> {
    let marks = marks_of(piece, library, role);
    let whose = |mark: &&SeenMark| FamilyId::parse(&mark.family).ok();
    let ids: Vec<FamilyId> = marks.iter().filter_map(whose).collect();
    let first = ids.first()?;
    let one = ids.iter().all(|id| id.maker() == first.maker());
    if !one || first.maker() == UNATTRIBUTED {
        return None;
    }
    let best = marks.iter().find(|m| m.certainty == Certainty::Sure);
    let best = best.or(marks.first())?;
    Some(Opinion {
        says: Attribution::Marked {
            who: library.maker_name(first.maker()),
            mark: Some(library.name_of(&best.family)),
        },
        certainty: best.certainty,
    })
}

/// Bodies are a maker's own: a body of a known line names the maker. Where a rule says that this
/// body in this glaze was made for another line, that line's maker.
fn by_body(piece: &Piece, library: &Library) -> Option<Opinion> {
    let certainty = piece.told(PieceFact::Body)?.certainty;
    let (who, by) = match by_body_and_glaze(piece, library) {
        Some((line, rule)) => {
            let by = Ground::BodyAndGlaze {
                line: library.line_name(&line),
                source: rule.source.clone(),
            };
            (line, by)
        }
        None => {
            let body = body_line(piece, library)?;
            (body.to_owned(), Ground::Body(library.line_name(body)))
        }
    };
    let (maker, _) = who.split_once('/')?;
    Some(Opinion {
        says: Attribution::Attributed {
            who: library.maker_name(maker),
            by,
        },
        certainty,
    })
}

/// A marked piece of its set names the maker, with the weaker wording. Marked pieces that disagree
/// name nobody.
fn by_partner(piece: &Piece, book: &Book, library: &Library) -> Option<Opinion> {
    let own = piece.told(PieceFact::Set)?.certainty;
    let marked = marked_partners(piece, book, library);
    let (first, number, certainty) = marked.first()?;
    let one = marked.iter().all(|(who, ..)| who == first);
    one.then(|| Opinion {
        says: Attribution::Attributed {
            who: first.clone(),
            by: Ground::Partner(*number),
        },
        certainty: weaker(own, *certainty),
    })
}

/// Makers of the partners that a mark names, with the partner's number; sure ones first.
fn marked_partners(piece: &Piece, book: &Book, library: &Library) -> Vec<(String, i64, Certainty)> {
    let maker = |partner: &&Piece| {
        let opinion = by_mark(partner, library, StampRole::Maker)?;
        let set = partner.told(PieceFact::Set)?.certainty;
        let certainty = weaker(opinion.certainty, set);
        Some((opinion.says.who()?.to_owned(), partner.number, certainty))
    };
    let mut found: Vec<_> = book.partners(piece).iter().filter_map(maker).collect();
    found.sort_by_key(|(_, number, certainty)| (*certainty != Certainty::Sure, *number));
    found
}

/// What the numbers on a piece say by the patterns of its maker: customer, decorator.
fn by_number(
    piece: &Piece,
    made_by: &Opinion,
    line: Option<&WhichLine>,
    library: &Library,
) -> (Option<Opinion>, Option<Opinion>) {
    let certainty = piece.told(PieceFact::Numbers).map(|told| told.certainty);
    let Some(certainty) = certainty else {
        return (None, None);
    };
    let numbers = piece.list(PieceFact::Numbers);
    let facts = facts_of(made_by, line, library);
    let mut fitting: Vec<(&str, &DecorationFact)> = Vec::new();
    for fact in facts.iter().flat_map(|(_, facts)| &facts.decorations) {
        let pattern = fact.number.as_deref().unwrap_or_default();
        let number = numbers.iter().find(|n| number_fits(pattern, n));
        fitting.extend(number.map(|n| (*n, fact)));
    }
    let who = |of: fn(&DecorationFact) -> Option<&String>| {
        let named: Vec<_> = fitting
            .iter()
            .filter_map(|(n, f)| Some((n, f, of(f)?)))
            .collect();
        let (number, fact, first) = named.first()?;
        let one = named.iter().all(|(_, _, who)| who == first);
        one.then(|| Opinion {
            says: Attribution::Attributed {
                who: (*first).clone(),
                by: Ground::Number {
                    number: (**number).to_owned(),
                    source: fact.source.clone(),
                },
            },
            certainty: weaker(certainty, made_by.certainty),
        })
    };
    (
        who(|fact| fact.customer.as_ref()),
        who(|fact| fact.decorated_by.as_ref()),
    )
}

/// Whom a piece was made for, as far as it can be said without its body and its partners: as the
/// person said, by a mark, by a number.
pub(super) fn customer(piece: &Piece, library: &Library) -> Option<String> {
    let direct = piece
        .said(PieceFact::MadeFor)
        .or_else(|| by_mark(piece, library, StampRole::Customer));
    let opinion = direct.or_else(|| {
        let made_by = by_mark(piece, library, StampRole::Maker);
        let made_by = made_by.unwrap_or(Opinion::UNKNOWN);
        let line = stamped_line(piece, library);
        by_number(piece, &made_by, line.as_ref(), library).0
    });
    named(opinion?, library).says.who().map(str::to_owned)
}

//! Who made, decorated and ordered a piece, and of which line it is: from its marks, else from what
//! else is known of it.

use super::attribution::{Attribution, Ground, Opinion};
use super::bodies::{Holds, rule_holds};
use super::book::{Book, Piece};
use super::form::same_form;
use super::marks::{SeenMark, Stamp};
use crate::decision::{Certainty, PieceFact};
use crate::library::{
    BorrowFact, DecorationFact, Facts, Family, FamilyId, FormFact, Habit, Library, StampRole,
    number_fits,
};

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

/// The line of a piece, and how that is known.
#[derive(Debug, Clone, PartialEq)]
pub struct WhichLine {
    /// `maker/line`.
    pub id: String,
    pub how: LineOf,
    pub certainty: Certainty,
}

/// How a line is known.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LineOf {
    /// A stamp of that line alone is on the piece.
    Stamp,
    /// A rule says that its body in its glaze was made for that line.
    BodyAndGlaze { source: Option<String> },
    /// Its body is of that line.
    Body,
    /// A marked piece that belongs with it is of that line.
    Partner(i64),
}

impl LineOf {
    /// `marked`, or `attributed` and by what.
    pub fn say(&self) -> String {
        match self {
            Self::Stamp => "marked".to_owned(),
            Self::BodyAndGlaze { source } => {
                let source = source.as_ref().map(|s| format!(" ({s})"));
                let source = source.unwrap_or_default();
                format!("attributed by its body in this glaze{source}")
            }
            Self::Body => "attributed by its body".to_owned(),
            Self::Partner(number) => format!("attributed by its partner, piece {number}"),
        }
    }
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

/// The line that the maker's stamp names, where it names one alone.
pub(super) fn stamped_line(piece: &Piece, library: &Library) -> Option<WhichLine> {
    let marks = marks_of(piece, library, StampRole::Maker);
    let named = marks.iter().filter_map(|mark| {
        let family = family(library, &mark.family)?;
        match family.record.lines.as_slice() {
            [line] => Some((library.line_id(family.id.maker(), line), mark.certainty)),
            _ => None,
        }
    });
    let named: Vec<(String, Certainty)> = named.collect();
    let (id, certainty) = named.first()?.clone();
    named
        .iter()
        .all(|(other, _)| *other == id)
        .then_some(WhichLine {
            id,
            how: LineOf::Stamp,
            certainty,
        })
}

/// The line of the body, where the person named one of the library.
pub(super) fn body_line<'p>(piece: &'p Piece, library: &Library) -> Option<&'p str> {
    let body = piece.text(PieceFact::Body)?;
    library.line(body).is_some().then_some(body)
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
fn named(mut opinion: Opinion, library: &Library) -> Opinion {
    if let Attribution::Marked { who, .. } | Attribution::Attributed { who, .. } = &mut opinion.says
        && let Some(folder) = maker_folder(library, who)
    {
        *who = library.maker_name(folder);
    }
    opinion
}

/// What the marks of this role say; `None` where there is none, or they name two.
fn by_mark(piece: &Piece, library: &Library, role: StampRole) -> Option<Opinion> {
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

/// The one line for which this body was made in this glaze. A rule without a glaze names no line: a
/// body alone was used for many, and a decoration alone proves nothing of who made the piece.
fn by_body_and_glaze<'l>(piece: &Piece, library: &'l Library) -> Option<(String, &'l BorrowFact)> {
    let body = body_line(piece, library)?;
    let mut found: Vec<(String, &BorrowFact)> = Vec::new();
    for (maker, record) in &library.makers {
        for (line, of_line) in &record.lines {
            let rules = of_line.facts.borrows.iter();
            let fitting = rules.filter(|rule| {
                rule.when.glaze.is_some()
                    && library.line_id(maker, &rule.body) == body
                    && rule_holds(&rule.when, piece, library, None) == Holds::Yes
            });
            found.extend(fitting.map(|rule| (library.line_id(maker, line), rule)));
        }
    }
    let (first, _) = found.first()?;
    let one = found.iter().all(|(line, _)| line == first);
    one.then(|| found.swap_remove(0))
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

/// The line: by the stamp, else by body and glaze, else by the body, else by a marked partner.
fn line(piece: &Piece, book: &Book, library: &Library) -> Option<WhichLine> {
    if let Some(stamped) = stamped_line(piece, library) {
        return Some(stamped);
    }
    let body = piece.told(PieceFact::Body);
    let certainty = body.map_or(Certainty::Sure, |told| told.certainty);
    if piece.stamp != Stamp::Stranger
        && let Some((id, rule)) = by_body_and_glaze(piece, library)
    {
        let source = rule.source.clone();
        return Some(WhichLine {
            id,
            how: LineOf::BodyAndGlaze { source },
            certainty,
        });
    }
    if let Some(id) = body_line(piece, library) {
        return Some(WhichLine {
            id: id.to_owned(),
            how: LineOf::Body,
            certainty,
        });
    }
    let own = piece.told(PieceFact::Set)?.certainty;
    if piece.stamp == Stamp::Stranger || !marks_of(piece, library, StampRole::Maker).is_empty() {
        return None;
    }
    let partners = book.partners(piece);
    let lines: Vec<(i64, WhichLine)> = partners
        .iter()
        .filter_map(|p| Some((p.number, stamped_line(p, library)?)))
        .collect();
    let (number, first) = lines.first()?;
    let one = lines.iter().all(|(_, line)| line.id == first.id);
    one.then(|| WhichLine {
        id: first.id.clone(),
        how: LineOf::Partner(*number),
        certainty: weaker(own, first.certainty),
    })
}

/// The facts that speak of a piece's line and maker, the line's first, each with whose they are.
pub(super) fn facts_of<'l>(
    made_by: &Opinion,
    line: Option<&WhichLine>,
    library: &'l Library,
) -> Vec<(String, &'l Facts)> {
    let mut found = Vec::new();
    if let Some((line, record)) = line.and_then(|l| Some((l, library.line(&l.id)?))) {
        found.push((library.line_name(&line.id), &record.facts));
    }
    let by_line = line.and_then(|l| l.id.split_once('/')).map(|(m, _)| m);
    let by_name = || maker_folder(library, made_by.says.who()?);
    if let Some(folder) = by_line.or_else(by_name) {
        let maker = library.makers.get(folder);
        found.extend(maker.map(|m| (library.maker_name(folder), &m.record.facts)));
    }
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

/// Whether a fact about a form speaks of a piece: the form is the same, and so are handle, foot and
/// finial where the fact names them.
pub(super) fn speaks_of(fact: &FormFact, piece: &Piece) -> bool {
    let same = |wanted: &Option<String>, has: PieceFact| {
        let has = piece.text(has).map(str::to_lowercase);
        wanted.is_none() || has == wanted.as_ref().map(|w| w.to_lowercase())
    };
    piece.form().is_some_and(|form| same_form(form, &fact.form))
        && same(&fact.handle, PieceFact::Handle)
        && same(&fact.foot, PieceFact::Foot)
        && same(&fact.finial, PieceFact::Finial)
}

/// The facts about a piece's form, the most particular first, each with whose they are.
pub(super) fn form_facts<'l>(
    piece: &Piece,
    facts: &[(String, &'l Facts)],
) -> Vec<(String, &'l FormFact)> {
    let mut found: Vec<(String, &FormFact)> = Vec::new();
    for (whose, facts) in facts {
        let own = facts.forms.iter().filter(|fact| speaks_of(fact, piece));
        found.extend(own.map(|fact| (whose.clone(), fact)));
    }
    let particular = |fact: &FormFact| {
        let details = [&fact.handle, &fact.foot, &fact.finial];
        details.into_iter().flatten().count()
    };
    found.sort_by_key(|(_, fact)| std::cmp::Reverse(particular(fact)));
    found
}

/// Something that a person should look at, or that explains what looks odd.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Notable {
    /// Worth a second look.
    Look(String),
    /// It looks odd and is known.
    Explained(String),
}

impl Notable {
    pub fn text(&self) -> &str {
        match self {
            Self::Look(text) | Self::Explained(text) => text,
        }
    }
}

/// What is notable about the marks of a piece, apart from its body: see
/// [`body_and_stamp`](super::body_and_stamp).
pub fn notable(piece: &Piece, origin: &Origin, library: &Library) -> Vec<Notable> {
    let mut all = Vec::new();
    let marks = marks_of(piece, library, StampRole::Maker);
    let makers = marks.iter().filter_map(|m| FamilyId::parse(&m.family).ok());
    let makers: Vec<String> = makers.map(|id| library.maker_name(id.maker())).collect();
    if let Some(other) = makers.iter().find(|m| **m != makers[0]) {
        let first = &makers[0];
        all.push(Notable::Look(format!(
            "it carries marks of two makers, {first} and {other}: is one the decorator's or the customer's?"
        )));
    }
    if let (Some(said), Some(marked)) = (
        piece.said(PieceFact::MadeBy),
        by_mark(piece, library, StampRole::Maker),
    ) {
        let (said, marked) = (named(said, library), marked);
        if said.says.who() != marked.says.who() {
            let (said, marked) = (said.says.who(), marked.says.who().unwrap_or_default());
            let said = said.unwrap_or("unknown");
            all.push(Notable::Look(format!(
                "you say that its maker is {said}, its mark says {marked}"
            )));
        }
    }
    all.extend(of_habit(piece, origin, library));
    all
}

/// What the habit of marking this form says of a piece that carries a mark, or carries none.
fn of_habit(piece: &Piece, origin: &Origin, library: &Library) -> Option<Notable> {
    let facts = facts_of(&origin.made_by, origin.line.as_ref(), library);
    let known = form_facts(piece, &facts);
    let (whose, fact) = known.iter().find(|(_, fact)| fact.marked.is_some())?;
    let habit = fact.marked?;
    let source = fact.source.as_ref().map(|s| format!(" ({s})"));
    let except = fact.except.as_ref().map(|e| format!(", except {e}"));
    let rule = format!(
        "{whose} {} marked its form \"{}\"{}{}",
        habit.word(),
        fact.form,
        except.unwrap_or_default(),
        source.unwrap_or_default()
    );
    match (piece.stamp, habit) {
        (Stamp::Known, Habit::Never) => Some(Notable::Look(format!(
            "marked, though {rule}: worth a note, and no error"
        ))),
        (Stamp::Bare, Habit::Always) => Some(Notable::Look(format!(
            "unmarked, though {rule}: look again"
        ))),
        (Stamp::Bare, Habit::Seldom | Habit::Never) => {
            Some(Notable::Explained(format!("unmarked as expected: {rule}")))
        }
        _ => None,
    }
}

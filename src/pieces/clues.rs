//! The clues to a piece's date: from its marks, codes, line, form, decoration, partners and hand.

use super::Known;
use super::attribution::Attribution;
use super::book::{Book, Piece};
use super::marks::SeenCode;
use super::origin::{Origin, family, origin};
use super::sets::{Togetherness, togetherness};
use super::told_of::{facts_of, form_facts};
use super::which_line::{LineOf, WhichLine};
use crate::answer::Dates;
use crate::date_code::{Applies, Fit, fits};
use crate::dating::edtf::Expression;
use crate::dating::words::edtf_of;
use crate::dating::{Clue, ClueKind, Dating, Source, Standing, read_clue, reason, split_clue};
use crate::decision::{Certainty, PieceFact};
use crate::library::{Edtf, Family, Library};

/// When a piece was made, from all that is known of it, and from clues given on top.
pub fn date(piece: &Piece, book: &Book, known: &Known<'_>, more: Vec<Clue>) -> Dating {
    let mut clues = own_clues(piece, book, known);
    clues.extend(partner_clues(piece, book, known));
    clues.extend(more);
    reason(clues)
}

/// The same from its own clues alone, so that pieces of a set do not date each other in a circle.
pub(super) fn date_alone(piece: &Piece, book: &Book, known: &Known<'_>) -> Dating {
    reason(own_clues(piece, book, known))
}

fn standing(certainty: Certainty) -> Standing {
    match certainty {
        Certainty::Sure => Standing::Sure,
        Certainty::Probably | Certainty::NotStated => Standing::Probably,
    }
}

fn clue(kind: ClueKind, made: &Edtf, source: String) -> Clue {
    Clue::new(
        kind,
        made.as_str(),
        made.value().clone(),
        Source::Own(source),
    )
}

fn own_clues(piece: &Piece, book: &Book, known: &Known<'_>) -> Vec<Clue> {
    let library = known.library;
    let origin = origin(piece, book, library);
    let mut clues = Vec::new();
    clues.extend(line_clue(origin.line.as_ref(), library));
    for mark in &piece.marks {
        if let Some(family) = family(library, &mark.family) {
            let photo = mark.photo.short();
            clues.extend(
                stamp_clues(piece, family, photo)
                    .into_iter()
                    .map(|c| c.standing(standing(mark.certainty))),
            );
        }
    }
    clues.extend(piece.codes.iter().map(|code| code_clue(piece, code, known)));
    clues.extend(form_clue(piece, &origin, library));
    clues.extend(decoration_clue(piece, &origin, library));
    clues.extend(hand_clues(piece, known));
    clues
}

/// The line's run. A line that is only attributed makes the clue no surer than that.
fn line_clue(line: Option<&WhichLine>, library: &Library) -> Option<Clue> {
    let line = line?;
    let made = library.line(&line.id)?.made.as_ref()?;
    let name = library.line_name(&line.id);
    let how = line.how.say();
    let source = format!("the library's record of the line {name}; the line is {how}");
    let clue = clue(ClueKind::Line, made, source);
    Some(match line.how {
        LineOf::Stamp => clue.standing(standing(line.certainty)),
        _ => clue.standing(Standing::Probably),
    })
}

/// When the stamp was in use, and the variant where the person named it.
fn stamp_clues(piece: &Piece, family: &Family, photo: &str) -> Vec<Clue> {
    let name = &family.name;
    let mut clues = Vec::new();
    if let Some(used) = &family.record.used {
        let source = format!("the library's record of the mark {name}, confirmed on photo {photo}");
        clues.push(clue(ClueKind::Used, used, source));
    }
    let variant = piece.told(PieceFact::Variant);
    if let Some((told, used)) = variant.and_then(|told| {
        let record = family.variants.get(&told.text)?;
        Some((told, record.used.as_ref()?))
    }) {
        let source = format!("the library's record of {name}, variant {}", told.text);
        let clue = clue(ClueKind::Variant, used, source);
        clues.push(clue.standing(standing(told.certainty)));
    }
    clues
}

/// What a confirmed code means; a code that no scheme knows is listed and bounds nothing.
fn code_clue(piece: &Piece, code: &SeenCode, known: &Known<'_>) -> Clue {
    let only = match piece.marks.as_slice() {
        [one] => Some(&one.family),
        _ => None,
    };
    let of = code.family.as_ref().or(only);
    let family = of.and_then(|id| family(known.library, id));
    let found = family.map_or_else(Vec::new, |f| meanings(f, &code.code, known));
    let photo = code.photo.short();
    let mut made: Vec<&str> = Vec::new();
    for fit in &found {
        made.extend(fit.made.iter().map(|m| m.as_str()));
    }
    made.dedup();
    let text = match made.as_slice() {
        [] => None,
        [one] => Some((*one).to_owned()),
        several => Some(format!("[{}]", several.join(","))),
    };
    let meaning = text.and_then(|text| Expression::parse(&text).ok());
    let kind = match found.iter().all(|f| f.scheme.dates == Dates::Decoration) {
        true if !found.is_empty() => ClueKind::Decoration,
        _ => ClueKind::Code,
    };
    let schemes: Vec<String> = found
        .iter()
        .map(|f| format!("`{}`", f.scheme.name))
        .collect();
    let source = match schemes.is_empty() {
        true => format!("confirmed on photo {photo}"),
        false => format!(
            "confirmed on photo {photo}, by the scheme {}",
            schemes.join(" or ")
        ),
    };
    let clue = Clue {
        kind,
        typed: code.code.clone(),
        meaning,
        standing: standing(code.certainty),
        sources: vec![Source::Own(source)],
        notes: Vec::new(),
    };
    let clue = match found.is_empty() {
        true => clue.note("no scheme of codes of its mark knows this code"),
        false => clue,
    };
    match found.iter().all(|f| f.scheme.verified) {
        true => clue,
        false => clue.note("a table of the scheme was not checked against its source"),
    }
}

fn meanings<'k>(family: &Family, code: &str, known: &Known<'k>) -> Vec<Fit<'k>> {
    let line = match family.record.lines.as_slice() {
        [one] => Some(one.clone()),
        _ => None,
    };
    let mark = Applies {
        family: Some(family.id.family().to_owned()),
        line,
        ..Applies::default()
    };
    let schemes = known.schemes.get(family.id.maker()).into_iter().flatten();
    fits(schemes.filter(|scheme| scheme.speaks_of(&mark)), code)
}

/// What rests on the maker or line is no surer than they are.
fn as_sure_as(origin: &Origin, told: Certainty) -> Standing {
    let by_line = matches!(&origin.line, Some(line) if line.how == LineOf::Stamp && line.certainty == Certainty::Sure);
    let by_maker = matches!(origin.made_by.says, Attribution::Marked { .. })
        && origin.made_by.certainty == Certainty::Sure;
    match by_line || by_maker {
        true => standing(told),
        false => Standing::Probably,
    }
}

fn form_clue(piece: &Piece, origin: &Origin, library: &Library) -> Option<Clue> {
    let told = piece.told(PieceFact::Form)?;
    let facts = facts_of(&origin.made_by, origin.line.as_ref(), library);
    let forms = form_facts(piece, &facts);
    let (whose, fact) = forms.iter().find(|(_, fact)| fact.made.is_some())?;
    let details = [&fact.handle, &fact.foot, &fact.finial];
    let details = details.into_iter().flatten().map(|d| format!(", {d}"));
    let source = fact.source.as_ref().map(|s| format!(": {s}"));
    let source = format!(
        "the library's record of the form {}{} of {whose}{}",
        fact.form,
        details.collect::<String>(),
        source.unwrap_or_default()
    );
    let clue = clue(ClueKind::Form, fact.made.as_ref()?, source);
    let clue = clue.standing(as_sure_as(origin, told.certainty));
    Some(match &fact.except {
        Some(except) => clue.note(format!("except {except}")),
        None => clue,
    })
}

/// The run of the decoration, or of its colourway where the library knows that.
fn decoration_clue(piece: &Piece, origin: &Origin, library: &Library) -> Option<Clue> {
    let told = piece.told(PieceFact::Decoration)?;
    let same = |one: &str, other: &str| one.to_lowercase() == other.to_lowercase();
    let colourway = piece.text(PieceFact::Colourway);
    let facts = facts_of(&origin.made_by, origin.line.as_ref(), library);
    let own = facts.iter().flat_map(|(_, facts)| &facts.decorations);
    let mut own: Vec<_> = own
        .filter(|fact| same(&fact.name, &told.text))
        .filter(|fact| match (&fact.colourway, colourway) {
            (Some(wanted), Some(has)) => same(wanted, has),
            (Some(_), None) => false,
            (None, _) => true,
        })
        .filter(|fact| fact.made.is_some())
        .collect();
    own.sort_by_key(|fact| fact.colourway.is_none());
    let fact = own.first()?;
    let source = fact.source.as_ref().map(|s| format!(": {s}"));
    let source = format!(
        "the library's record of the decoration {}{}{}",
        fact.name,
        fact.colourway
            .as_ref()
            .map(|c| format!(" in {c}"))
            .unwrap_or_default(),
        source.unwrap_or_default()
    );
    let clue = clue(ClueKind::Decoration, fact.made.as_ref()?, source);
    Some(clue.standing(as_sure_as(origin, told.certainty)))
}

/// What the person gave by hand. It was checked when it was kept.
fn hand_clues(piece: &Piece, known: &Known<'_>) -> Vec<Clue> {
    let Some(told) = piece.told(PieceFact::Clues) else {
        return Vec::new();
    };
    let read = |text: &str| {
        let (kind, value) = split_clue(text).ok()?;
        read_clue(kind, value, standing(told.certainty), known.spoken).ok()
    };
    let clues = piece.list(PieceFact::Clues).into_iter();
    clues.filter_map(read).collect()
}

/// Most pieces of a larger set that are shown as clues. They do not count, and a dozen of them would
/// bury what does.
const PARTNERS_SHOWN: usize = 3;

/// When the pieces were made that belong with it. In a pair that the person is sure of it counts;
/// a service was often completed later, so there it is shown apart.
fn partner_clues(piece: &Piece, book: &Book, known: &Known<'_>) -> Vec<Clue> {
    let partners = book.partners(piece);
    let sure = |p: &Piece| {
        let told = p.told(PieceFact::Set);
        told.is_some_and(|told| told.certainty == Certainty::Sure)
    };
    let counts = match partners.as_slice() {
        [mate] if sure(mate) && sure(piece) => {
            let together = togetherness(&[mate, piece], book, known.library);
            matches!(together, Togetherness::One | Togetherness::Mixed(_))
        }
        _ => false,
    };
    let clue = |partner: &&Piece| {
        let span = date_alone(partner, book, known).span()?;
        let made = edtf_of(span)?;
        let source = Source::Own(format!("piece {} of the same set", partner.number));
        let clue = Clue::new(ClueKind::Partner, &made.to_string(), made, source);
        Some(match counts {
            true => clue,
            false => clue
                .standing(Standing::Probably)
                .note("counts only in a pair that you are sure of and that goes together"),
        })
    };
    let clues = partners.iter().filter_map(clue);
    clues.take(PARTNERS_SHOWN).collect()
}

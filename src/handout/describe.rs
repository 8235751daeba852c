//! A piece in sentences, for a sale or a label.

use super::cautions::OPINION;
use crate::dating::words::say;
use crate::dating::{Answer, ClueKind, Effect};
use crate::decision::{Certainty, PieceFact};
use crate::pieces::{
    Attribution, Book, Fit, Known, LineOf, Opinion, Piece, Stamp, Told, body_and_stamp, date,
    origin, say_lid,
};

/// A sentence, and whether a confirmed fact stands behind it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sentence {
    pub text: String,
    pub confirmed: bool,
}

/// Said of use at the table on every description.
const AT_TABLE: &str = "Not for food or drink until a laboratory has tested it.";

/// The sentences about a piece. What is not confirmed begins with "Possibly".
pub fn sentences(piece: &Piece, book: &Book, known: &Known<'_>) -> Vec<Sentence> {
    let mut telling = Telling(Vec::new());
    let origin = origin(piece, book, known.library);
    let library = known.library;
    match piece.told(PieceFact::Form) {
        Some(told) => telling.fact(told, |form| form.to_owned()),
        None => telling.sure("A piece of dinnerware".to_owned()),
    }
    match piece.stamp {
        Stamp::Bare => telling.sure("Unmarked".to_owned()),
        Stamp::Stranger => telling.sure("It carries a mark that is not identified".to_owned()),
        Stamp::Known | Stamp::NotSaid => {}
    }
    telling.opinion(&origin.made_by, "marked by", "by");
    if origin.made_by.says == Attribution::Unknown {
        telling.sure("Its maker is unknown".to_owned());
    }
    telling.opinion(
        &origin.decorated_by,
        "marked by its decorator,",
        "decorated by",
    );
    telling.opinion(&origin.made_for, "marked for", "made for");
    if let Some(line) = &origin.line {
        let name = library.line_name(&line.id);
        let text = match line.how {
            LineOf::Stamp => format!("of the line {name}, by its mark"),
            _ => format!("of the line {name}, {}", line.how.say()),
        };
        telling.say(text, line.certainty);
    }
    telling.body(piece, known, date(piece, book, known, Vec::new()).span());
    telling.decoration(piece);
    let plain: [(PieceFact, &str); 3] = [
        (PieceFact::Numbers, "numbered"),
        (PieceFact::Glaze, "glaze:"),
        (PieceFact::Condition, "condition:"),
    ];
    for (fact, word) in plain {
        if let Some(told) = piece.told(fact) {
            telling.fact(told, |text| format!("{word} {}", text.replace("; ", ", ")));
        }
    }
    if let (Some(told), Some(size)) = (piece.told(PieceFact::Size), piece.size()) {
        telling.say(size.to_string(), told.certainty);
    }
    if let (Some(told), Some(lid)) = (piece.told(PieceFact::Lid), piece.lid()) {
        telling.say(say_lid(lid).to_owned(), told.certainty);
    }
    telling.date(piece, book, known);
    telling.0
}

/// When it was made, as [`sentences`] say it last; `None` where nothing is known of it.
pub fn dated(piece: &Piece, book: &Book, known: &Known<'_>) -> Option<Sentence> {
    let mut telling = Telling(Vec::new());
    telling.date(piece, book, known);
    telling.0.pop()
}

/// The same as a paragraph, with what must be said below it.
pub fn describe(piece: &Piece, book: &Book, known: &Known<'_>) -> String {
    let sentences = sentences(piece, book, known);
    let texts: Vec<&str> = sentences.iter().map(|s| s.text.as_str()).collect();
    format!("{}\n\n{AT_TABLE} {OPINION}\n", texts.join(" "))
}

struct Telling(Vec<Sentence>);

impl Telling {
    fn sure(&mut self, text: String) {
        self.say(text, Certainty::Sure);
    }

    /// The sentence as it is, or as a possibility.
    fn say(&mut self, text: String, certainty: Certainty) {
        let confirmed = certainty == Certainty::Sure;
        let text = match confirmed {
            true => capital(text),
            false => format!("Possibly {text}"),
        };
        self.0.push(Sentence {
            text: format!("{}.", text.trim_end_matches('.')),
            confirmed,
        });
    }

    fn fact(&mut self, told: &Told, words: impl Fn(&str) -> String) {
        self.say(words(&told.text), told.certainty);
    }

    /// Marked, attributed and by what, or nothing.
    fn opinion(&mut self, opinion: &Opinion, marked: &str, attributed: &str) {
        let text = match &opinion.says {
            Attribution::Unknown => return,
            Attribution::Marked { who, mark: None } => format!("{marked} {who}"),
            Attribution::Marked {
                who,
                mark: Some(mark),
            } => format!("{marked} {who} (mark: {mark})"),
            Attribution::Attributed { who, by } => match attributed {
                "by" => format!("attributed to {who}, {by}"),
                other => format!("attributed: {other} {who}, {by}"),
            },
        };
        self.say(text, opinion.certainty);
    }

    fn body(&mut self, piece: &Piece, known: &Known<'_>, span: Option<crate::dating::Span>) {
        let Some(told) = piece.told(PieceFact::Body) else {
            return;
        };
        let name = known.library.line_name(&told.text);
        let text = match body_and_stamp(piece, known.library, span) {
            Fit::NotTold | Fit::Same => return,
            Fit::Explained(rule) => format!("its body is of {name}: {rule}"),
            Fit::Unsettled(_) | Fit::Odd => {
                format!("its body is of {name}, another line than the mark's; why is not known")
            }
        };
        self.say(text, told.certainty);
    }

    fn decoration(&mut self, piece: &Piece) {
        if let Some(told) = piece.told(PieceFact::Decoration) {
            let sure_of_colour = piece.sure(PieceFact::Colourway);
            let colour = sure_of_colour.map_or_else(String::new, |c| format!(" in {c}"));
            self.fact(told, |name| format!("decoration: {name}{colour}"));
        }
        if let Some(told) = piece.told(PieceFact::Techniques) {
            self.fact(told, |list| {
                format!("decorated by {}", list.replace("; ", ", "))
            });
        }
        if let Some(told) = piece.told(PieceFact::Colourway)
            && (told.certainty != Certainty::Sure || piece.told(PieceFact::Decoration).is_none())
        {
            self.fact(told, |name| format!("colourway: {name}"));
        }
    }

    /// The answer of the clues that count; else the narrowest of those that do not.
    fn date(&mut self, piece: &Piece, book: &Book, known: &Known<'_>) {
        let dating = date(piece, book, known, Vec::new());
        match &dating.answer {
            Answer::Within {
                span,
                first_by,
                last_by,
            } if !span.is_always() => {
                let by_partner = |by: &[usize]| {
                    let partner = |at: &usize| dating.clues[*at].kind == ClueKind::Partner;
                    !by.is_empty() && by.iter().all(partner)
                };
                let weaker = match by_partner(first_by) || by_partner(last_by) {
                    true => ", if it is as old as its partner",
                    false => "",
                };
                self.sure(format!("made {}{weaker}", say(*span)));
            }
            Answer::Within { .. } => {
                let narrows = dating.apart.iter().find_map(|apart| match apart.effect {
                    Effect::Narrows(span) => Some(span),
                    _ => None,
                });
                if let Some(span) = narrows {
                    self.say(format!("made {}", say(span)), Certainty::Probably);
                }
            }
            Answer::Contradiction { .. } => {
                self.sure("its date is open: the clues to it contradict each other".to_owned());
            }
        }
    }
}

/// With a capital first letter.
fn capital(mut text: String) -> String {
    if let Some(first) = text.chars().next() {
        let upper: String = first.to_uppercase().collect();
        text.replace_range(..first.len_utf8(), &upper);
    }
    text
}

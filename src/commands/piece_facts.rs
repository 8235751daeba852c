//! What a person says of a piece on the command line.

use clap::Args;

use super::collection::Collection;
use super::{Failure, warning};
use crate::decision::{Certainty, PieceFact};
use crate::pieces::{Attribution, check, join_list};
use crate::workspace::readable;

/// Facts of a piece. What is not given stays as it is.
#[derive(Debug, Args)]
#[command(next_help_heading = "What you say of it")]
pub(super) struct FactArgs {
    /// What it is: "coffee cup", "saucer", or any words
    #[arg(long, value_name = "TEXT")]
    form: Option<String>,

    /// Type of its handle, where the form had several
    #[arg(long, value_name = "TEXT")]
    handle: Option<String>,

    /// Type of its foot
    #[arg(long, value_name = "TEXT")]
    foot: Option<String>,

    /// Type of its lid's knob
    #[arg(long, value_name = "TEXT")]
    finial: Option<String>,

    /// present, missing, or never (made without a lid)
    #[arg(long, value_name = "WORD")]
    lid: Option<String>,

    /// The line whose body it has, which the stamp need not name: maker/line, or any words
    #[arg(long, value_name = "LINE")]
    body: Option<String>,

    /// The variant of its stamp, by the folder's name in the library
    #[arg(long, value_name = "NAME")]
    variant: Option<String>,

    /// Who made it, where no mark says so: "judgement: NAME: why", "likeness: NAME: to what",
    /// "partner 12: NAME", "marked: NAME", or unknown
    #[arg(long, value_name = "HOW: NAME")]
    made_by: Option<String>,

    /// Who decorated it, in the same way
    #[arg(long, value_name = "HOW: NAME")]
    decorated_by: Option<String>,

    /// Whom it was made for, in the same way
    #[arg(long, value_name = "HOW: NAME")]
    made_for: Option<String>,

    /// How the decoration was put on, as decal, print, "print filled by hand", gold, line,
    /// silkscreen, "solid glaze"; may be repeated
    #[arg(long, value_name = "TEXT")]
    technique: Vec<String>,

    /// The decoration's name
    #[arg(long, value_name = "NAME")]
    decoration: Option<String>,

    /// The decoration's colourway
    #[arg(long, value_name = "NAME")]
    colourway: Option<String>,

    /// A number painted or stamped on it; may be repeated
    #[arg(long, value_name = "NUMBER")]
    number: Vec<String>,

    /// Its glaze
    #[arg(long, value_name = "TEXT")]
    glaze: Option<String>,

    /// Millimetres: "diameter 152, height 21"
    #[arg(long, value_name = "SIZE")]
    size: Option<String>,

    /// In the trade's words: "crazed; hairline to rim"
    #[arg(long, value_name = "TEXT")]
    condition: Option<String>,

    /// What you paid: 12.50 or "EUR 12.50"
    #[arg(long, value_name = "SUM")]
    cost: Option<String>,

    /// What you ask for it
    #[arg(long, value_name = "SUM")]
    asked: Option<String>,

    /// Whose it is
    #[arg(long, value_name = "TEXT")]
    owner: Option<String>,

    /// Where it stands
    #[arg(long, value_name = "TEXT")]
    place: Option<String>,

    /// Anything else
    #[arg(long, value_name = "TEXT")]
    notes: Option<String>,

    /// A further clue to its date, as `footring date` takes it; may be repeated
    #[arg(long, value_name = "KIND=VALUE")]
    clue: Vec<String>,

    /// The set that it belongs to
    #[arg(long, value_name = "NAME")]
    set: Option<String>,

    /// You are not quite sure of what you say here
    #[arg(long)]
    probably: bool,
}

impl FactArgs {
    pub(super) fn certainty(&self) -> Certainty {
        match self.probably {
            true => Certainty::Probably,
            false => Certainty::Sure,
        }
    }

    fn given(&self) -> Vec<(PieceFact, String)> {
        let one = [
            (PieceFact::Form, &self.form),
            (PieceFact::Handle, &self.handle),
            (PieceFact::Foot, &self.foot),
            (PieceFact::Finial, &self.finial),
            (PieceFact::Lid, &self.lid),
            (PieceFact::Body, &self.body),
            (PieceFact::Variant, &self.variant),
            (PieceFact::MadeBy, &self.made_by),
            (PieceFact::DecoratedBy, &self.decorated_by),
            (PieceFact::MadeFor, &self.made_for),
            (PieceFact::Decoration, &self.decoration),
            (PieceFact::Colourway, &self.colourway),
            (PieceFact::Glaze, &self.glaze),
            (PieceFact::Size, &self.size),
            (PieceFact::Condition, &self.condition),
            (PieceFact::Cost, &self.cost),
            (PieceFact::Asked, &self.asked),
            (PieceFact::Owner, &self.owner),
            (PieceFact::Place, &self.place),
            (PieceFact::Notes, &self.notes),
            (PieceFact::Set, &self.set),
        ];
        let many = [
            (PieceFact::Techniques, &self.technique),
            (PieceFact::Numbers, &self.number),
            (PieceFact::Clues, &self.clue),
        ];
        let one = one.into_iter().filter_map(|(f, t)| Some((f, t.clone()?)));
        let many = many.into_iter().filter(|(_, texts)| !texts.is_empty());
        one.chain(many.map(|(fact, texts)| (fact, join_list(texts))))
            .collect()
    }

    /// The facts given, checked and as they are kept.
    pub(super) fn facts(
        &self,
        collection: &Collection,
    ) -> Result<Vec<(PieceFact, String)>, Failure> {
        let mut facts = Vec::new();
        for (fact, text) in self.given() {
            let mut value = check(fact, &text).map_err(|e| Failure::new(&e, None))?;
            if fact == PieceFact::Body {
                match collection.line(&value) {
                    Some(line) => value = line,
                    None => warning(&format!(
                        "body `{}` is no line of the library, or of several: kept as words",
                        readable(&value)
                    )),
                }
            }
            if let Ok(Attribution::Attributed {
                by: crate::pieces::Ground::Partner(number),
                ..
            }) = Attribution::read(&value)
                && matches!(
                    fact,
                    PieceFact::MadeBy | PieceFact::DecoratedBy | PieceFact::MadeFor
                )
            {
                collection.piece(number)?;
            }
            facts.push((fact, value));
        }
        Ok(facts)
    }
}

//! Pieces in LIDO 1.1 (Lightweight Information Describing Objects, ICOM CIDOC 2021), for museums.
//!
//! One `lido` element a piece, made of its record: what is marked, attributed or unknown stays so, in
//! `attributionQualifierActor`. Cost, owner, places and notes are not of it.

use maud::{Markup, html as markup};

use super::record::{OpinionRecord, PieceRecord};
use super::xml::{DECLARATION, xml};
use crate::pieces::form;

const SCHEMA_LOCATION: &str =
    "http://www.lido-schema.org http://www.lido-schema.org/schema/v1.1/lido-v1.1.xsd";
/// The concept `local identifier` of the LIDO terminology.
const LOCAL: &str = "http://terminology.lido-schema.org/lido00100";
/// The concept `production`.
const PRODUCTION: &str = "http://terminology.lido-schema.org/lido00007";
/// The concept `item-level record`.
const ITEM: &str = "http://terminology.lido-schema.org/lido00141";
const URI: &str = "http://terminology.lido-schema.org/lido00099";

/// A piece for LIDO.
#[derive(Debug, Clone, PartialEq)]
pub struct Described {
    pub record: PieceRecord,
    pub title: String,
    /// As `describe` words it.
    pub description: String,
}

/// The file. `source` names whoever keeps the record; nobody's name is put in unasked.
pub fn lido(pieces: &[Described], source: &str) -> String {
    let wrap = markup! {
        lido:lidoWrap xmlns:lido="http://www.lido-schema.org"
            xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance"
            xsi:schemaLocation=(SCHEMA_LOCATION) {
            @for piece in pieces { (one(piece, source)) }
        }
    };
    format!("{DECLARATION}{}\n", wrap.into_string())
}

fn one(piece: &Described, source: &str) -> Markup {
    let record = &piece.record;
    markup! {
        lido:lido {
            lido:lidoRecID lido:type=(LOCAL) { "footring-piece-" (record.piece) }
            lido:descriptiveMetadata xml:lang="en" {
                lido:objectClassificationWrap {
                    lido:objectWorkTypeWrap { lido:objectWorkType { (work_type(record)) } }
                }
                lido:objectIdentificationWrap {
                    lido:titleWrap {
                        lido:titleSet { lido:appellationValue { (xml(&piece.title)) } }
                    }
                    (marks(record))
                    (condition(record))
                    lido:objectDescriptionWrap {
                        lido:objectDescriptionSet {
                            lido:descriptiveNoteValue { (xml(&piece.description)) }
                        }
                    }
                    (measures(record))
                }
                lido:eventWrap { lido:eventSet { lido:event { (production(record)) } } }
            }
            lido:administrativeMetadata xml:lang="en" {
                lido:recordWrap {
                    lido:recordID lido:type=(LOCAL) { (record.piece) }
                    lido:recordType {
                        lido:conceptID lido:type=(URI) { (ITEM) }
                        lido:term { "item-level record" }
                    }
                    lido:recordSource {
                        lido:legalBodyName { lido:appellationValue { (xml(source)) } }
                    }
                }
            }
        }
    }
}

/// Whether the person is sure of a fact, by its word.
fn is_sure(record: &PieceRecord, fact: &str) -> bool {
    !record.probably.contains(&fact)
}

/// A text about a fact, as a possibility where the person is not sure of it.
fn as_sure(record: &PieceRecord, fact: &str, text: &str) -> String {
    match is_sure(record, fact) {
        true => text.to_owned(),
        false => format!("possibly {text}"),
    }
}

/// The form by its id in the Art & Architecture Thesaurus where there is one, and in the person's words.
fn work_type(record: &PieceRecord) -> Markup {
    let said = record.form.as_deref();
    let term = said.filter(|_| is_sure(record, "form")).and_then(form);
    let term = term.filter(|f| f.aat().is_some());
    markup! {
        @if let Some(known) = term {
            lido:conceptID lido:type=(URI) lido:source="AAT" {
                "http://vocab.getty.edu/aat/" (known.aat)
            }
        }
        lido:term { (xml(&as_sure(record, "form", said.unwrap_or("dinnerware")))) }
        @if let Some(known) = term.filter(|known| Some(known.term) != said) {
            lido:term lido:addedSearchTerm="yes" { (known.term) }
        }
    }
}

fn marks(record: &PieceRecord) -> Markup {
    let mut texts: Vec<String> = record
        .marks
        .iter()
        .map(|mark| match mark.certainty {
            "sure" => format!("mark: {}", mark.name),
            _ => format!("possibly the mark: {}", mark.name),
        })
        .collect();
    texts.extend(record.codes.iter().map(|code| format!("date code: {code}")));
    let numbers = record.numbers.iter();
    texts.extend(numbers.map(|n| as_sure(record, "numbers", &format!("number: {n}"))));
    texts.extend(match record.mark {
        "bare" => Some("unmarked".to_owned()),
        "stranger" => Some("a mark that is not identified".to_owned()),
        _ => None,
    });
    markup! {
        @if !texts.is_empty() {
            lido:inscriptionsWrap {
                @for text in &texts {
                    lido:inscriptions {
                        lido:inscriptionDescription {
                            lido:descriptiveNoteValue { (xml(text)) }
                        }
                    }
                }
            }
        }
    }
}

fn condition(record: &PieceRecord) -> Markup {
    markup! {
        @if let Some(condition) = &record.condition {
            lido:displayStateEditionWrap {
                lido:displayState { (xml(&as_sure(record, "condition", condition))) }
            }
        }
    }
}

fn measures(record: &PieceRecord) -> Markup {
    let told: Vec<String> = record
        .size
        .iter()
        .map(|(measure, mm)| format!("{measure} {mm} mm"))
        .collect();
    markup! {
        @if !told.is_empty() && is_sure(record, "size") {
            lido:objectMeasurementsWrap {
                lido:objectMeasurementsSet {
                    lido:displayObjectMeasurements { (told.join(", ")) }
                    lido:objectMeasurements {
                        @for (measure, mm) in &record.size {
                            lido:measurementSet {
                                lido:measurementType { lido:term { (measure) } }
                                lido:measurementUnit { lido:term { "mm" } }
                                lido:measurementValue { (mm) }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// Who made it and when. A date with one end is told in words alone: the schema asks for both days.
fn production(record: &PieceRecord) -> Markup {
    let actors = [
        (&record.made_by, "maker"),
        (&record.decorated_by, "decorator"),
        (&record.made_for, "commissioner"),
    ];
    let techniques = record.techniques.iter().map(|t| ("techniques", t));
    let techniques = techniques.chain(record.glaze.iter().map(|g| ("glaze", g)));
    let ends = record
        .date
        .earliest
        .as_ref()
        .zip(record.date.latest.as_ref());
    markup! {
        lido:eventType {
            lido:conceptID lido:type=(URI) { (PRODUCTION) }
            lido:term { "production" }
        }
        @for (opinion, role) in actors {
            @if let Some(who) = &opinion.who { (actor(who, opinion, role)) }
        }
        @if record.date.edtf.is_some() {
            lido:eventDate {
                lido:displayDate { (xml(&record.date.text)) }
                @if let Some((earliest, latest)) = ends {
                    lido:date {
                        lido:earliestDate { (earliest) }
                        lido:latestDate { (latest) }
                    }
                }
            }
        }
        @for (fact, technique) in techniques {
            lido:eventMaterialsTech {
                lido:displayMaterialsTech { (xml(&as_sure(record, fact, technique))) }
            }
        }
    }
}

fn actor(who: &str, opinion: &OpinionRecord, role: &str) -> Markup {
    let by = opinion.by.as_ref().map(|by| match opinion.status {
        "marked" => format!(" (mark: {by})"),
        _ => format!(", {by}"),
    });
    let possibly = if opinion.certainty == "sure" {
        ""
    } else {
        "possibly "
    };
    let how = format!("{possibly}{}", opinion.status);
    markup! {
        lido:eventActor {
            lido:displayActorInRole {
                (xml(&format!("{role}: {who}, {how}{}", by.unwrap_or_default())))
            }
            lido:actorInRole {
                lido:actor {
                    lido:nameActorSet { lido:appellationValue { (xml(who)) } }
                }
                lido:roleActor { lido:term { (role) } }
                lido:attributionQualifierActor { (how) }
            }
        }
    }
}

//! Pieces: made with what is first said of them, and read.

use super::{Said, Workspace, WorkspaceError, read};
use crate::decision::journal::{Entry, PieceEntry};
use crate::decision::{About, Certainty, Decision, Moment, PieceFact, Statement};

/// A piece to be made, with what is said of it from the start.
#[derive(Debug, Clone, PartialEq)]
pub struct NewPiece {
    pub lot: String,
    pub facts: Vec<(PieceFact, String, Certainty)>,
}

impl Workspace {
    /// Makes pieces, all or none, and gives their numbers.
    ///
    /// # Errors
    /// Where a lot or a photo is not there, or nothing can be written.
    pub fn add_pieces(
        &mut self,
        time: Moment,
        pieces: Vec<NewPiece>,
    ) -> Result<Vec<i64>, WorkspaceError> {
        self.record(|connection| {
            let mut entries = Vec::new();
            let mut numbers = Vec::new();
            let first = read::next_piece(connection)?;
            let mut decision = read::next_decision(connection)?;
            let mut places = std::collections::BTreeMap::new();
            for (number, piece) in (first..).zip(pieces) {
                let place = match places.get(&piece.lot) {
                    Some(place) => *place,
                    None => read::next_place(connection, &piece.lot)?,
                };
                places.insert(piece.lot.clone(), place + 1);
                entries.push(Entry::Piece(PieceEntry {
                    time,
                    number,
                    lot: piece.lot,
                    position: place,
                }));
                for (fact, value, certainty) in piece.facts {
                    entries.push(Entry::Decision(Decision {
                        number: decision,
                        time,
                        about: About::Piece(number),
                        statement: Statement::Piece {
                            fact,
                            value: Some(value),
                        },
                        certainty,
                        replaces: None,
                    }));
                    decision += 1;
                }
                numbers.push(number);
            }
            Ok((entries, numbers))
        })
    }

    /// Adds several decisions, all or none, and gives them back as written.
    ///
    /// # Errors
    /// Where they cannot be written.
    pub fn decide_all(
        &mut self,
        time: Moment,
        said: Vec<Said>,
    ) -> Result<Vec<Decision>, WorkspaceError> {
        self.record(|connection| {
            let first = read::next_decision(connection)?;
            let decisions: Vec<Decision> = (first..)
                .zip(said)
                .map(|(number, said)| Decision {
                    number,
                    time,
                    about: said.about,
                    statement: said.statement,
                    certainty: said.certainty,
                    replaces: said.replaces,
                })
                .collect();
            let entries = decisions.iter().cloned().map(Entry::Decision).collect();
            Ok((entries, decisions))
        })
    }

    /// Every piece ever made, by its number.
    ///
    /// # Errors
    /// Where the database cannot be read.
    pub fn pieces(&self) -> Result<Vec<PieceEntry>, WorkspaceError> {
        read::pieces(&self.store.connection).map_err(self.store.failed())
    }

    /// Every place where any photo was seen, lot by lot.
    ///
    /// # Errors
    /// Where the database cannot be read.
    pub fn sightings(&self) -> Result<Vec<super::Sighting>, WorkspaceError> {
        read::all_sightings(&self.store.connection).map_err(self.store.failed())
    }
}

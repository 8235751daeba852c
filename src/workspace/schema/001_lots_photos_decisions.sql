-- What a person would miss, and nothing that can be computed again.

CREATE TABLE lot (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE,
    date TEXT,
    place TEXT,
    added TEXT NOT NULL
) STRICT;

-- A photo is its content: one row however many copies and places it has.
CREATE TABLE photo (
    id INTEGER PRIMARY KEY,
    hash TEXT NOT NULL UNIQUE CHECK (length(hash) = 64),
    taken TEXT,
    added TEXT NOT NULL
) STRICT;

-- Where a photo of a lot lies. A path is bytes: it need not be UTF-8.
CREATE TABLE sighting (
    lot INTEGER NOT NULL REFERENCES lot (id),
    photo INTEGER NOT NULL REFERENCES photo (id),
    path BLOB NOT NULL,
    position INTEGER NOT NULL,
    PRIMARY KEY (lot, photo)
) STRICT, WITHOUT ROWID;
CREATE INDEX sighting_of_photo ON sighting (photo);

CREATE TABLE piece (
    id INTEGER PRIMARY KEY,
    lot INTEGER NOT NULL REFERENCES lot (id),
    position INTEGER NOT NULL,
    added TEXT NOT NULL
) STRICT;

CREATE TABLE piece_photo (
    piece INTEGER NOT NULL REFERENCES piece (id),
    photo INTEGER NOT NULL REFERENCES photo (id),
    position INTEGER NOT NULL,
    PRIMARY KEY (piece, photo)
) STRICT, WITHOUT ROWID;

-- All that the person has decided. Kinds grow in number, tables do not.
CREATE TABLE decision (
    number INTEGER PRIMARY KEY,
    time TEXT NOT NULL,
    photo INTEGER REFERENCES photo (id),
    region TEXT,
    piece INTEGER REFERENCES piece (id),
    kind TEXT NOT NULL,
    value TEXT,
    certainty TEXT NOT NULL,
    replaces INTEGER,
    CHECK ((photo IS NULL) <> (piece IS NULL)),
    CHECK (region IS NULL OR photo IS NOT NULL)
) STRICT;
CREATE INDEX decision_about_photo ON decision (photo);

CREATE TRIGGER decision_is_never_changed BEFORE UPDATE ON decision
BEGIN
    SELECT RAISE (ABORT, 'a decision is never changed: add another');
END;
CREATE TRIGGER decision_is_never_removed BEFORE DELETE ON decision
BEGIN
    SELECT RAISE (ABORT, 'a decision is never removed: undo it');
END;

-- How many bytes of the journal this file has taken in.
CREATE TABLE journal (
    one INTEGER PRIMARY KEY CHECK (one = 1),
    bytes INTEGER NOT NULL
) STRICT;
INSERT INTO journal (one, bytes) VALUES (1, 0);

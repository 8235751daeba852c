//! The keys of a maker's and a line's file, as a page shows them, and what each holds.

/// What a key holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// One line of text.
    Text,
    /// A date of the Extended Date/Time Format.
    Date,
    /// A word of `Habit`.
    Habit,
    /// A line that has a file, `line` of the same maker or `maker/line`.
    Line,
    /// Texts, one a line.
    List,
}

/// A key of an entry.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Column {
    pub key: &'static str,
    pub shape: Shape,
}

/// A key of the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Field {
    pub key: &'static str,
    pub holds: Holds,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Holds {
    One(Shape),
    /// Entries with these keys.
    Entries {
        columns: &'static [Column],
        /// Whether the first of them must be said.
        named: bool,
    },
}

const fn column(key: &'static str, shape: Shape) -> Column {
    Column { key, shape }
}

const fn one(key: &'static str, shape: Shape) -> Field {
    let holds = Holds::One(shape);
    Field { key, holds }
}

const fn entries(key: &'static str, columns: &'static [Column]) -> Field {
    let holds = Holds::Entries {
        columns,
        named: true,
    };
    Field { key, holds }
}

const FORMS: Field = entries(
    "forms",
    &[
        column("form", Shape::Text),
        column("made", Shape::Date),
        column("marked", Shape::Habit),
        column("except", Shape::Text),
        column("borrowed_from", Shape::Line),
        column("handle", Shape::Text),
        column("foot", Shape::Text),
        column("finial", Shape::Text),
        column("source", Shape::Text),
    ],
);

/// The keys of a rule's conditions, behind the line that it speaks of.
const fn rule(line: &'static str) -> [Column; 7] {
    [
        column(line, Shape::Line),
        column("form", Shape::Text),
        column("glaze", Shape::Text),
        column("decoration", Shape::Text),
        column("customer", Shape::Text),
        column("years", Shape::Date),
        column("source", Shape::Text),
    ]
}

const BODY: [Column; 7] = rule("body");
const PARTNER: [Column; 7] = rule("line");
const BORROWS: Field = entries("borrows", &BODY);
const PAIRS: Field = entries("pairs_with", &PARTNER);

const DECORATIONS: Field = entries(
    "decorations",
    &[
        column("name", Shape::Text),
        column("made", Shape::Date),
        column("colourway", Shape::Text),
        column("number", Shape::Text),
        column("customer", Shape::Text),
        column("decorated_by", Shape::Text),
        column("source", Shape::Text),
    ],
);

const PLANTS: Field = Field {
    key: "plants",
    holds: Holds::Entries {
        columns: &[
            column("name", Shape::Text),
            column("place", Shape::Text),
            column("years", Shape::Date),
            column("notes", Shape::List),
        ],
        named: false,
    },
};

/// Keys of a maker.toml, as a page shows them.
pub const MAKER_FIELDS: &[Field] = &[
    one("names", Shape::List),
    one("also_called", Shape::List),
    one("notes", Shape::List),
    one("sources", Shape::List),
    PLANTS,
    FORMS,
    DECORATIONS,
    BORROWS,
    PAIRS,
];

/// Keys of a line's file.
pub const LINE_FIELDS: &[Field] = &[
    one("name", Shape::Text),
    one("made", Shape::Date),
    one("also_called", Shape::List),
    one("notes", Shape::List),
    one("sources", Shape::List),
    FORMS,
    DECORATIONS,
    BORROWS,
    PAIRS,
];

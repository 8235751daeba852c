//! What a person can say of a piece: one word a fact, and the photos that belong to it.

use super::{ContentHash, Malformed, Region};

/// A thing said of a piece. Each is a topic of its own: the latest word on it holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum PieceFact {
    /// The photos that show it, with what each shows: see [`PiecePhoto`].
    Photos,
    /// What kind of piece it is, in the person's words.
    Form,
    Handle,
    Foot,
    Finial,
    Lid,
    /// The line whose body it has, `maker/line` or free words. The stamp may name another.
    Body,
    /// The variant of its stamp, by the folder's name.
    Variant,
    MadeBy,
    DecoratedBy,
    MadeFor,
    /// How the decoration was put on; a list.
    Techniques,
    /// The decoration's name.
    Decoration,
    Colourway,
    /// Numbers painted or stamped on it; a list.
    Numbers,
    Glaze,
    Size,
    Condition,
    Cost,
    Asked,
    Owner,
    /// Where it stands.
    Place,
    Notes,
    /// Further clues to its date, `KIND=VALUE`; a list.
    Clues,
    /// The set that it belongs to, by the set's name.
    Set,
    /// What the set needs to be complete, said on one of its members.
    SetNeeds,
    /// It is no piece after all, or has gone, and why.
    Withdrawn,
}

impl PieceFact {
    pub const ALL: [Self; 27] = [
        Self::Photos,
        Self::Form,
        Self::Handle,
        Self::Foot,
        Self::Finial,
        Self::Lid,
        Self::Body,
        Self::Variant,
        Self::MadeBy,
        Self::DecoratedBy,
        Self::MadeFor,
        Self::Techniques,
        Self::Decoration,
        Self::Colourway,
        Self::Numbers,
        Self::Glaze,
        Self::Size,
        Self::Condition,
        Self::Cost,
        Self::Asked,
        Self::Owner,
        Self::Place,
        Self::Notes,
        Self::Clues,
        Self::Set,
        Self::SetNeeds,
        Self::Withdrawn,
    ];

    /// The word of the kind in the database and the journal. These words are lasting.
    pub fn kind(self) -> &'static str {
        match self {
            Self::Photos => "piece-photos",
            Self::Form => "piece-form",
            Self::Handle => "piece-handle",
            Self::Foot => "piece-foot",
            Self::Finial => "piece-finial",
            Self::Lid => "piece-lid",
            Self::Body => "piece-body",
            Self::Variant => "piece-variant",
            Self::MadeBy => "piece-made-by",
            Self::DecoratedBy => "piece-decorated-by",
            Self::MadeFor => "piece-made-for",
            Self::Techniques => "piece-techniques",
            Self::Decoration => "piece-decoration",
            Self::Colourway => "piece-colourway",
            Self::Numbers => "piece-numbers",
            Self::Glaze => "piece-glaze",
            Self::Size => "piece-size",
            Self::Condition => "piece-condition",
            Self::Cost => "piece-cost",
            Self::Asked => "piece-asked",
            Self::Owner => "piece-owner",
            Self::Place => "piece-place",
            Self::Notes => "piece-notes",
            Self::Clues => "piece-clues",
            Self::Set => "piece-set",
            Self::SetNeeds => "piece-set-needs",
            Self::Withdrawn => "piece-withdrawn",
        }
    }

    /// The word as a person types it: `made-by`.
    pub fn word(self) -> &'static str {
        &self.kind()["piece-".len()..]
    }

    pub fn from_kind(kind: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|fact| fact.kind() == kind)
    }

    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|fact| fact.word() == word)
    }
}

/// What a photo of a piece shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum PhotoRole {
    /// The base, with what marks there are.
    Underside,
    Top,
    Side,
    Inside,
    /// Handle, finial, foot, a bit of the decoration.
    Detail,
    Damage,
    /// Box, receipt, label.
    Paper,
    /// Not said. Its marks count, as those of an underside do.
    NotSaid,
}

impl PhotoRole {
    pub const ALL: [Self; 8] = [
        Self::Underside,
        Self::Top,
        Self::Side,
        Self::Inside,
        Self::Detail,
        Self::Damage,
        Self::Paper,
        Self::NotSaid,
    ];

    /// The lasting word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Underside => "underside",
            Self::Top => "top",
            Self::Side => "side",
            Self::Inside => "inside",
            Self::Detail => "detail",
            Self::Damage => "damage",
            Self::Paper => "paper",
            Self::NotSaid => "not-said",
        }
    }

    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|role| role.word() == word)
    }

    /// Whether marks and codes confirmed on such a photo are the piece's own.
    pub fn shows_marks(self) -> bool {
        matches!(self, Self::Underside | Self::Detail | Self::NotSaid)
    }
}

/// A photo of a piece. Written `underside:<hash>`, or `underside@1,2_30,2_30,40_1,40:<hash>` where
/// only the mark that lies there is the piece's, as when several pieces lie in one photo.
#[derive(Debug, Clone, PartialEq)]
pub struct PiecePhoto {
    pub photo: ContentHash,
    pub role: PhotoRole,
    /// Which mark of the photo is this piece's; `None` for all.
    pub mark: Option<Region>,
}

/// The photos of a piece, as the value of [`PieceFact::Photos`]: separated by blanks.
pub fn write_photos(photos: &[PiecePhoto]) -> String {
    let one = |p: &PiecePhoto| match &p.mark {
        Some(mark) => {
            let place = mark.to_string().replace(' ', "_");
            format!("{}@{place}:{}", p.role.word(), p.photo)
        }
        None => format!("{}:{}", p.role.word(), p.photo),
    };
    photos.iter().map(one).collect::<Vec<_>>().join(" ")
}

/// Reads them back.
///
/// # Errors
/// Where any of them is not as [`write_photos`] writes it.
pub fn read_photos(text: &str) -> Result<Vec<PiecePhoto>, Malformed> {
    let bad = || Malformed::new("a list of photos `role:hash`", text);
    let one = |word: &str| {
        let (role, hash) = word.split_once(':').ok_or_else(bad)?;
        let (role, mark) = match role.split_once('@') {
            Some((role, place)) => (role, Some(place.replace('_', " ").parse()?)),
            None => (role, None),
        };
        Ok(PiecePhoto {
            photo: hash.parse()?,
            role: PhotoRole::from_word(role).unwrap_or(PhotoRole::NotSaid),
            mark,
        })
    };
    text.split_whitespace().map(one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Quad;

    #[test]
    fn words_of_facts_are_pinned() {
        let words: Vec<&str> = PieceFact::ALL.iter().map(|f| f.word()).collect();
        assert_eq!(
            words.join(" "),
            "photos form handle foot finial lid body variant made-by decorated-by made-for \
             techniques decoration colourway numbers glaze size condition cost asked owner place \
             notes clues set set-needs withdrawn"
        );
        for fact in PieceFact::ALL {
            assert_eq!(PieceFact::from_kind(fact.kind()), Some(fact));
            assert_eq!(PieceFact::from_word(fact.word()), Some(fact));
        }
    }

    #[test]
    fn photos_read_back() {
        let photos = vec![
            PiecePhoto {
                photo: ContentHash::of(b"one"),
                role: PhotoRole::Underside,
                mark: Some(Region::new(&Quad::upright(1.0, 2.5, 30.0, 40.0))),
            },
            PiecePhoto {
                photo: ContentHash::of(b"two"),
                role: PhotoRole::Side,
                mark: None,
            },
        ];
        assert_eq!(read_photos(&write_photos(&photos)), Ok(photos));
        assert_eq!(read_photos(""), Ok(Vec::new()));
        for bad in ["underside", "underside:abc", "underside@x:abc"] {
            assert!(read_photos(bad).is_err(), "{bad}");
        }
    }
}

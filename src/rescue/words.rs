//! What is said under the pictures, in words that need no knowledge of pictures.

use super::{Rescue, Silence, Told};

/// A mark is said to be enlarged from this many times on.
const ENLARGED: f64 = 1.5;
/// With less of the exemplar's strokes in the photo than this (per cent) nothing is said of differences.
const HARDLY: u8 = 40;

/// What a tint of the picture of differences means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tint {
    OnlyPhoto,
    OnlyLibrary,
    Both,
    NotTold,
}

impl Tint {
    pub const ALL: [Self; 4] = [
        Self::OnlyPhoto,
        Self::OnlyLibrary,
        Self::Both,
        Self::NotTold,
    ];

    /// Its word in the page's style.
    pub fn word(self) -> &'static str {
        match self {
            Self::OnlyPhoto => "only-photo",
            Self::OnlyLibrary => "only-library",
            Self::Both => "both",
            Self::NotTold => "not-told",
        }
    }

    pub fn says(self) -> &'static str {
        match self {
            Self::OnlyPhoto => "dark, framed: only the photo shows it",
            Self::OnlyLibrary => {
                "hatched, dashed frame: only the library's mark has it, and the photo could have shown it"
            }
            Self::Both => "grey: the rest of the photo's ink; most of it both have",
            Self::NotTold => {
                "pale: the library's mark has it; the photo is too weak or hidden there to tell"
            }
        }
    }
}

/// Under the photo.
pub fn say_photo(rescue: &Rescue) -> String {
    match rescue.enlarged {
        e if e >= ENLARGED => format!("The photo, straightened and enlarged {e:.1} times"),
        _ => "The photo, straightened".to_owned(),
    }
}

/// Under the ink map.
pub const SAY_INK: &str =
    "Its ink alone: light and shadow are taken away, and weak parts are made darker";

/// Under that of a whole photo.
pub const SAY_WHOLE: &str =
    "What differs from the glaze around it: the rim and reflections stand out as well as any mark";

/// Under the exemplar.
pub fn say_exemplar(name: &str) -> String {
    format!("From your library, laid in the same place: {name}")
}

/// Under the two inks.
pub const SAY_GHOST: &str =
    "Both in one picture: pale is the library's mark, dark is the photo's ink over it";

/// Under the differences.
pub fn say_differences(told: &Told) -> String {
    if told.shown < HARDLY {
        return format!(
            "Where they differ. The photo shows only {} % of the library's strokes: too little to compare, \
             or another mark",
            told.shown
        );
    }
    match told.silence {
        Some(Silence::Cluttered) => return CLUTTERED.to_owned(),
        Some(Silence::Unsharp) => return UNSHARP.to_owned(),
        None => {}
    }
    let places = |n: usize| match n {
        0 => "none found".to_owned(),
        1 => "1 place".to_owned(),
        n => format!("{n} places"),
    };
    format!(
        "Where they differ. Only in the photo: {}. Only in the library's mark: {}",
        places(told.more),
        places(told.less),
    )
}

const CLUTTERED: &str = "Where they differ. The photo shows much that the library's mark has not: cracks, dirt, \
    or the shadows of a pressed mark. So nothing is said of what it lacks";
const UNSHARP: &str = "Where they differ. The photo is not sharp enough for thin strokes, so nothing is said of \
    what it lacks";

/// What must be said with every such picture.
pub const NOTES: [&str; 4] = [
    "A stroke that is lacking in a weak strike proves nothing.",
    "Letters that lie over one another can differ unmarked: read names, codes and small words yourself.",
    "Ink here is whatever differs from the glaze around it: labels, cracks and dirt show as well.",
    "A pressed mark shows by its shadows, which change with the light: compare its shape, not its lines.",
];

/// With no exemplar beside it.
pub const NO_EXEMPLAR: &str = "No mark of the library is laid over this one.";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn differences_are_told_in_places() {
        let told = |more, less, shown| Told {
            more,
            less,
            shown,
            untold: 0,
            silence: (more > 6).then_some(Silence::Cluttered),
        };
        assert_eq!(
            say_differences(&told(0, 1, 96)),
            "Where they differ. Only in the photo: none found. Only in the library's mark: 1 place"
        );
        assert!(say_differences(&told(2, 0, 12)).contains("only 12 %"));
        assert!(say_differences(&told(9, 0, 90)).contains("nothing is said of what it lacks"));
    }
}

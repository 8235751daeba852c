//! Values as they stand in the log: what a photo is known by, when something was said, where a mark lies.

use std::fmt;
use std::str::FromStr;

use super::Malformed;
use crate::geometry::{Photo, Quad};

/// BLAKE3 of a file's bytes, as 64 lower-case hex digits: what a photo is known by.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ContentHash(String);

impl ContentHash {
    /// Number of hex digits.
    pub const DIGITS: usize = 64;

    pub fn of(bytes: &[u8]) -> Self {
        Self(blake3::hash(bytes).to_hex().as_str().to_owned())
    }

    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// The first twelve digits: enough for a person to tell photos apart.
    pub fn short(&self) -> &str {
        &self.0[..12]
    }
}

impl fmt::Display for ContentHash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl FromStr for ContentHash {
    type Err = Malformed;

    fn from_str(s: &str) -> Result<Self, Malformed> {
        let hex = |b: u8| b.is_ascii_digit() || (b'a'..=b'f').contains(&b);
        if s.len() == Self::DIGITS && s.bytes().all(hex) {
            Ok(Self(s.to_owned()))
        } else {
            Err(Malformed::new("a content hash", s))
        }
    }
}

/// A second of the universal time scale, as written in records: `2026-05-02T08:15:00Z`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Moment(jiff::Timestamp);

impl Moment {
    /// Drops what is finer than a second, so that text and value carry the same.
    pub fn new(time: jiff::Timestamp) -> Self {
        Self(jiff::Timestamp::from_second(time.as_second()).unwrap_or(time))
    }

    /// The day, `2026-05-02`.
    pub fn day(self) -> String {
        self.to_string().chars().take(10).collect()
    }
}

impl fmt::Display for Moment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0)
    }
}

impl FromStr for Moment {
    type Err = Malformed;

    fn from_str(s: &str) -> Result<Self, Malformed> {
        let time = s.parse().map_err(|_| Malformed::new("a time", s))?;
        let moment = Self::new(time);
        if moment.0 == time {
            Ok(moment)
        } else {
            Err(Malformed::new("a time in whole seconds", s))
        }
    }
}

/// A region of a photo with coordinates kept to a hundredth of a pixel, so that the text form
/// `x,y x,y x,y x,y` reads back exactly.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Region(Quad<Photo>);

impl Region {
    /// Steps per pixel kept. A mark's corner is never known to better than this.
    const STEPS: f64 = 100.0;

    pub fn new(quad: &Quad<Photo>) -> Self {
        let keep = |v: f64| (v * Self::STEPS).round() / Self::STEPS + 0.0;
        let corners = quad.to_array().map(|[x, y]| [keep(x), keep(y)]);
        Self(Quad::from_array(corners))
    }

    pub fn quad(&self) -> Quad<Photo> {
        self.0
    }
}

impl fmt::Display for Region {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [a, b, c, d] = self.0.to_array();
        write!(
            f,
            "{},{} {},{} {},{} {},{}",
            a[0], a[1], b[0], b[1], c[0], c[1], d[0], d[1]
        )
    }
}

impl FromStr for Region {
    type Err = Malformed;

    fn from_str(s: &str) -> Result<Self, Malformed> {
        let bad = || Malformed::new("a region `x,y x,y x,y x,y`", s);
        let mut corners = [[0.0; 2]; 4];
        let mut points = s.split(' ');
        for corner in &mut corners {
            let (x, y) = points
                .next()
                .and_then(|p| p.split_once(','))
                .ok_or_else(bad)?;
            for (slot, text) in corner.iter_mut().zip([x, y]) {
                *slot = text.parse::<f64>().map_err(|_| bad())?;
                if !slot.is_finite() {
                    return Err(bad());
                }
            }
        }
        match points.next() {
            None => Ok(Self::new(&Quad::from_array(corners))),
            Some(_) => Err(bad()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn regions_read_back_exactly() {
        let rough = Quad::from_array([
            [0.1 + 0.2, -0.001],
            [1e3 / 3.0, 2.0],
            [9.0, 9.5],
            [0.0, 7.0],
        ]);
        let region = Region::new(&rough);
        let text = region.to_string();
        assert_eq!(text, "0.3,0 333.33,2 9,9.5 0,7");
        assert_eq!(text.parse::<Region>(), Ok(region));
        for bad in [
            "",
            "1,2 3,4 5,6",
            "1,2 3,4 5,6 7,nan",
            "1,2 3,4 5,6 7,8 9,9",
        ] {
            assert!(bad.parse::<Region>().is_err(), "{bad}");
        }
    }

    #[test]
    fn moments_keep_whole_seconds() {
        let precise = "2026-05-02T08:15:00.75Z".parse().expect("a time");
        let moment = Moment::new(precise);
        assert_eq!(moment.to_string(), "2026-05-02T08:15:00Z");
        assert_eq!(moment.to_string().parse(), Ok(moment));
        assert_eq!(moment.day(), "2026-05-02");
    }
}

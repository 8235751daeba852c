//! Short names for groups, spelt from a content hash.

/// Letters of four and of two bits, of Wilkerson's proquints (2009, "A proposal for identifiers that are
/// readable, spellable, and pronounceable").
const CONSONANTS: &[u8; 16] = b"bdfghjklmnprstvz";
const VOWELS: &[u8; 4] = b"aiou";
/// Groups of five letters in a name: 32 bits, so that among a thousand groups two of one name come up once in
/// nine thousand workspaces.
const QUINTS: usize = 2;

/// The name of a group whose first mark is the `mark`-th of the photo with this content hash (hex):
/// two words that can be read aloud, `lusab-babad`.
pub fn short_name(photo: &str, mark: usize) -> String {
    let hash = blake3::hash(format!("{photo} {mark}").as_bytes());
    let words = hash.as_bytes().chunks_exact(2).take(QUINTS);
    let spelt = words.map(|b| quint(u16::from_be_bytes([b[0], b[1]])));
    spelt.collect::<Vec<String>>().join("-")
}

fn quint(bits: u16) -> String {
    let consonant = |shift: u32| char::from(CONSONANTS[usize::from(bits >> shift) & 15]);
    let vowel = |shift: u32| char::from(VOWELS[usize::from(bits >> shift) & 3]);
    [
        consonant(12),
        vowel(10),
        consonant(6),
        vowel(4),
        consonant(0),
    ]
    .iter()
    .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_those_of_the_proposal() {
        // 127.0.0.1 is lusab-babad there.
        assert_eq!(quint(0x7f00), "lusab");
        assert_eq!(quint(0x0001), "babad");
        assert_eq!(quint(0xffff), "zuzuz");
    }

    #[test]
    fn a_name_depends_on_photo_and_mark_alone() {
        assert_eq!(short_name("ab", 0), short_name("ab", 0));
        assert_ne!(short_name("ab", 0), short_name("ab", 1));
        assert_ne!(short_name("ab", 0), short_name("ac", 0));
        assert_eq!(short_name("ab", 0).len(), 11);
    }
}

//! What the reader tells apart, and its scores.

/// The classes of a reader in order, each as one ASCII character; class 0 of the scores, "nothing
/// here", is not among them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Glyphs {
    signs: Vec<u8>,
}

impl Glyphs {
    /// `None` where a sign is no printable ASCII character other than the space, or comes twice.
    pub fn new(signs: &str) -> Option<Self> {
        let signs = signs.as_bytes().to_vec();
        let good = signs.iter().all(u8::is_ascii_graphic);
        let once = signs
            .iter()
            .enumerate()
            .all(|(i, sign)| !signs[..i].contains(sign));
        (good && once && !signs.is_empty()).then_some(Self { signs })
    }

    /// Number of classes of the scores, "nothing" included.
    pub fn classes(&self) -> usize {
        self.signs.len() + 1
    }

    /// The sign of a class of the scores; `None` for class 0.
    pub fn sign(&self, class: usize) -> Option<u8> {
        class
            .checked_sub(1)
            .and_then(|i| self.signs.get(i))
            .copied()
    }

    /// The class of a sign; `None` where the reader does not know it.
    pub fn class(&self, sign: u8) -> Option<usize> {
        self.signs.iter().position(|&s| s == sign).map(|i| i + 1)
    }

    /// The classes of a text; `None` where the reader does not know one of its signs.
    pub fn classes_of(&self, text: &str) -> Option<Vec<usize>> {
        text.bytes().map(|sign| self.class(sign)).collect()
    }
}

/// Natural logarithms of the probability of each class in each column of a strip, column by
/// column; class 0 is "nothing here" (connectionist temporal classification, Graves and others
/// 2006: a text is what remains when repeats, then nothings, are dropped).
#[derive(Debug, Clone, PartialEq)]
pub struct Posteriors {
    classes: usize,
    log: Vec<f32>,
}

impl Posteriors {
    /// # Panics
    /// Where `log` does not hold whole columns of `classes` numbers.
    pub fn new(classes: usize, log: Vec<f32>) -> Self {
        assert!(
            classes > 1 && log.len().is_multiple_of(classes),
            "scores come in whole columns"
        );
        Self { classes, log }
    }

    pub fn classes(&self) -> usize {
        self.classes
    }

    /// One slice of log probabilities a column, from the left of the text.
    pub fn columns(&self) -> impl Iterator<Item = &[f32]> {
        self.log.chunks_exact(self.classes)
    }

    pub fn len(&self) -> usize {
        self.log.len() / self.classes
    }

    pub fn is_empty(&self) -> bool {
        self.log.is_empty()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signs_and_classes_are_each_others_inverse() {
        let glyphs = Glyphs::new("AB7*").expect("good");
        assert_eq!(glyphs.classes(), 5);
        for class in 1..5 {
            let sign = glyphs.sign(class).expect("a sign");
            assert_eq!(glyphs.class(sign), Some(class));
        }
        assert_eq!(glyphs.sign(0), None);
        assert_eq!(glyphs.classes_of("7A"), Some(vec![3, 1]));
        assert_eq!(glyphs.classes_of("7C"), None);
        for bad in ["", "AA", "A B", "É"] {
            assert_eq!(Glyphs::new(bad), None, "{bad}");
        }
    }
}

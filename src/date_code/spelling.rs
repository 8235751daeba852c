//! How a code is spelled: the signs that are typed and stamped for one another, and Roman numerals.

/// A typed code as schemes spell it: without spaces, with plain ASCII for what keyboards and
/// printers offer in its place, in capitals unless small letters are meant.
pub fn spelled(typed: &str, small_letters: bool) -> String {
    typed
        .chars()
        .filter(|c| !c.is_whitespace())
        .map(|c| match c {
            '·' | '•' | '∙' | '⋅' | '●' => '.',
            '★' | '☆' | '✶' | '✱' | '∗' => '*',
            '‐' | '‑' | '–' | '—' | '−' => '-',
            '∕' | '⁄' => '/',
            '▲' | '△' => '^',
            '◆' | '◇' | '♦' => '~',
            c if small_letters => c,
            c => c.to_ascii_uppercase(),
        })
        .collect()
}

const ROMAN: [(i32, &str); 13] = [
    (1000, "M"),
    (900, "CM"),
    (500, "D"),
    (400, "CD"),
    (100, "C"),
    (90, "XC"),
    (50, "L"),
    (40, "XL"),
    (10, "X"),
    (9, "IX"),
    (5, "V"),
    (4, "IV"),
    (1, "I"),
];

/// A number from 1 to 3999 in Roman numerals; `None` outside.
pub fn roman(number: i32) -> Option<String> {
    let mut left = (1..=3999).contains(&number).then_some(number)?;
    let mut text = String::new();
    for (value, sign) in ROMAN {
        while left >= value {
            text += sign;
            left -= value;
        }
    }
    Some(text)
}

/// The value of a Roman numeral as it is properly written: `VIII` and `IX`, not `IIX` or `VIIII`.
pub fn value_of_roman(text: &str) -> Option<i32> {
    let mut rest = text;
    let mut number = 0;
    for (value, sign) in ROMAN {
        while let Some(after) = rest.strip_prefix(sign) {
            number += value;
            rest = after;
        }
    }
    (rest.is_empty() && roman(number).as_deref() == Some(text)).then_some(number)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn roman_numerals_read_back_and_odd_ones_do_not() {
        for number in 1..=3999 {
            let text = roman(number).expect("in range");
            assert_eq!(value_of_roman(&text), Some(number), "{text}");
        }
        for bad in ["", "IIII", "IIX", "VV", "IC", "XM", "ABC", "MMMM", "iv"] {
            assert_eq!(value_of_roman(bad), None, "{bad}");
        }
        assert_eq!((roman(0), roman(4000)), (None, None));
    }

    #[test]
    fn typed_codes_lose_spaces_and_typographers_signs() {
        assert_eq!(spelled(" 7 c–52 ", false), "7C-52");
        assert_eq!(spelled("a·★◆▲", true), "a.*~^");
    }
}

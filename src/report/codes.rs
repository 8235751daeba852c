//! What is said of a date code before a person has confirmed it, and after.

use super::words::per_cent;
use crate::answer::{DateAnswer, DateReading, Look, Objection};
use crate::dating::words::MONTHS;
use crate::geometry::{Photo, Quad};
use crate::workspace::readable;

/// Readings below this probability are not told beside a better one: they are rarely right and
/// make the page long. An estimate.
const WORTH_SAYING: f64 = 0.02;

/// A first reading that is less likely right than wrong is told as a guess.
const GUESSED: f64 = 0.5;

/// The place of a code in one sentence, without what was read there.
pub fn say_look(date: &DateAnswer) -> String {
    let first = date.readings.first().map_or(0.0, |r| r.probability);
    let said = match date.state {
        Look::Read if first < GUESSED => {
            "date code hardly legible, guesses, unconfirmed".to_owned()
        }
        Look::Read => "date code, as the program reads it, unconfirmed".to_owned(),
        Look::Illegible if date.readings.is_empty() => {
            "no date code can be made out here: come closer, light from the side".to_owned()
        }
        Look::Illegible => "date code not legible: come closer, light from the side".to_owned(),
        Look::Absent => "no date code seen where it would stand".to_owned(),
        Look::OutsideScheme => {
            let other = readable(date.other.as_deref().unwrap_or_default());
            format!("where the date code would stand is `{other}`, which fits no scheme")
        }
        Look::NotLookedFor => "date code not looked for: its place is not in the photo".to_owned(),
    };
    said + &say_against(&date.against)
}

/// The corners of a code as it is read; `None` where nothing was looked at.
pub fn code_quad(date: &DateAnswer) -> Option<Quad<Photo>> {
    let [a, b, c, d] = date.quad?;
    Some(Quad::from_array(match date.upright {
        true => [a, b, c, d],
        false => [c, d, a, b],
    }))
}

/// The readings that a person should see: those of a code that was read, likeliest first.
pub fn readings(date: &DateAnswer) -> impl Iterator<Item = &DateReading> {
    let read = date.state == Look::Read;
    let all = date.readings.iter().enumerate();
    all.filter(move |(at, r)| read && (*at == 0 || r.probability >= WORTH_SAYING))
        .map(|(_, reading)| reading)
}

/// One reading: the code, how likely it is, what it would mean, and which signs are in doubt.
pub fn say_reading(reading: &DateReading) -> String {
    let times: Vec<String> = reading.made.iter().map(|m| say_made(m)).collect();
    let mut said = format!("`{}`", readable(&reading.text));
    said += &format!(", {}: ", per_cent(reading.probability));
    said += &match times.is_empty() {
        true => "tells no time of the scheme".to_owned(),
        false => format!("would mean {}", times.join(" or ")),
    };
    if !reading.verified {
        said += " (unverified)";
    }
    let doubted: Vec<String> = reading
        .doubt
        .iter()
        .filter_map(|&at| Some(format!("`{}`", reading.text.chars().nth(at)?)))
        .collect();
    if !doubted.is_empty() {
        said += &format!("; in doubt: {}", doubted.join(", "));
    }
    said += &say_against(&reading.against);
    said
}

/// What speaks against something, in words that follow it; empty where nothing does.
pub fn say_against(against: &[Objection]) -> String {
    let texts: Vec<&str> = against.iter().map(|o| o.text.as_str()).collect();
    match texts.is_empty() {
        true => String::new(),
        false => format!("; but: {}", texts.join("; ")),
    }
}

/// A month, quarter, year or decade in EDTF as a person says it; anything else as it is.
pub fn say_made(made: &str) -> String {
    const QUARTERS: [&str; 4] = ["first", "second", "third", "fourth"];
    if let Some(tens) = made.strip_suffix('X') {
        return format!("the {tens}0s");
    }
    let Some((year, within)) = made.split_once('-') else {
        return made.to_owned();
    };
    let number: usize = within.parse().unwrap_or(0);
    let month = number.checked_sub(1).and_then(|n| MONTHS.get(n));
    let quarter = number.checked_sub(33).and_then(|n| QUARTERS.get(n));
    match (month, quarter) {
        (Some(month), _) => format!("{month} {year}"),
        (_, Some(quarter)) => format!("the {quarter} quarter of {year}"),
        (None, None) => made.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::answer::Dates;

    #[test]
    fn times_are_said_as_people_do() {
        for (made, said) in [
            ("1952", "1952"),
            ("1952-03", "March 1952"),
            ("1954-35", "the third quarter of 1954"),
            ("194X", "the 1940s"),
            ("1952-13", "1952-13"),
        ] {
            assert_eq!(say_made(made), said);
        }
    }

    #[test]
    fn a_reading_never_sounds_like_a_fact() {
        let reading = |text: &str, probability| DateReading {
            text: text.to_owned(),
            probability,
            made: vec!["1952-03".to_owned()],
            doubt: vec![0],
            verified: false,
            against: Vec::new(),
        };
        let mut date = DateAnswer {
            family: "weir/bell".to_owned(),
            dates: Dates::Piece,
            state: Look::Read,
            quad: None,
            upright: true,
            readings: vec![reading("352", 0.9), reading("852", 0.01)],
            other: None,
            against: Vec::new(),
        };
        assert!(say_look(&date).ends_with("unconfirmed"));
        let told: Vec<String> = readings(&date).map(say_reading).collect();
        let said = "`352`, 90 %: would mean March 1952 (unverified); in doubt: `3`";
        assert_eq!(told, [said]);
        date.state = Look::Illegible;
        assert_eq!(readings(&date).count(), 0);
    }
}

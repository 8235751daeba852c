use std::collections::BTreeMap;

use proptest::prelude::*;

use super::*;

fn glyphs() -> Glyphs {
    Glyphs::new("A18").expect("good")
}

/// Columns of scores from weights of "nothing", `A`, `1`, `8`.
fn scores(columns: &[[f32; 4]]) -> Posteriors {
    let log = columns.iter().flat_map(|column| {
        let sum: f32 = column.iter().sum();
        column.map(move |w| (w / sum).ln())
    });
    Posteriors::new(4, log.collect())
}

/// The probability of every text, by writing out every path.
fn all_texts(scores: &Posteriors) -> BTreeMap<String, f64> {
    let chances = Chances::new(scores, 1.0);
    let columns: Vec<&[f64]> = chances.columns().collect();
    let mut texts = BTreeMap::new();
    for path in 0..4_usize.pow(columns.len() as u32) {
        let classes: Vec<usize> = (0..columns.len())
            .map(|i| path / 4_usize.pow(i as u32) % 4)
            .collect();
        let p: f64 = classes
            .iter()
            .zip(&columns)
            .map(|(&c, col)| col[c])
            .product();
        let mut merged = classes.clone();
        merged.dedup();
        let text = merged.iter().filter_map(|&c| glyphs().sign(c));
        *texts.entry(text.map(char::from).collect()).or_insert(0.0) += p;
    }
    texts
}

fn codes(pattern: &str) -> Automaton {
    Automaton::new(&[pattern], |_| true).expect("good")
}

fn one_way(scores: &Posteriors) -> [Way<'_>; 1] {
    [Way {
        up: Up::AsFound,
        scores,
        share: 1.0,
    }]
}

/// The columns here leave a hundredth to every sign that is not there, a hundred times as much as
/// the reader does: such scores want other settings than the shipped ones.
fn toy() -> DecodeSettings {
    DecodeSettings {
        odds: 30.0,
        heat: 1.0,
        bare: 1.0,
        ..DecodeSettings::default()
    }
}

fn wide() -> DecodeSettings {
    DecodeSettings {
        beam: 5000,
        least: 0.0,
        ..toy()
    }
}

fn columns() -> impl Strategy<Value = Vec<[f32; 4]>> {
    let weight = || prop_oneof![0.001_f32..0.05, 0.05_f32..1.0];
    prop::collection::vec([weight(), weight(), weight(), weight()], 1..6)
}

const PATTERNS: [&str; 5] = ["A[18]{1,2}", "[18]+", "A?1A?|88", "(A1)*8", "AA|11|88"];

proptest! {
    #[test]
    fn every_text_has_the_probability_of_its_paths(columns in columns()) {
        let scores = scores(&columns);
        let chances = Chances::new(&scores, 1.0);
        let texts = all_texts(&scores);
        for (text, p) in &texts {
            let classes = glyphs().classes_of(text).expect("own signs");
            let got = probability_of(&chances, &classes);
            prop_assert!((got - p).abs() < 1e-12, "{text}: {got} for {p}");
        }
        let long = vec![1; columns.len() + 1];
        prop_assert!(probability_of(&chances, &long) == 0.0);
    }

    #[test]
    fn codes_together_have_the_probability_of_each(columns in columns(), pattern in 0..5_usize) {
        let scores = scores(&columns);
        let codes = codes(PATTERNS[pattern]);
        let texts = all_texts(&scores);
        let wanted: f64 = texts.iter().filter(|t| codes.accepts_text(t.0)).map(|t| t.1).sum();
        let got = probability_of_all(&Chances::new(&scores, 1.0), &glyphs(), &codes);
        prop_assert!((got - wanted).abs() < 1e-12, "{got} for {wanted}");
    }

    #[test]
    fn a_wide_beam_finds_what_writing_out_finds(columns in columns(), pattern in 0..5_usize) {
        let scores = scores(&columns);
        let codes = codes(PATTERNS[pattern]);
        let (ways, settings) = (one_way(&scores), wide());
        let decoded = decode(&ways, &glyphs(), Some(&codes), &|_| 1.0, &settings);
        let texts = all_texts(&scores);
        let mass: f64 = texts.iter().filter(|t| codes.accepts_text(t.0)).map(|t| t.1).sum();
        let all = settings.odds * mass + 1.0 - mass;
        let mut wanted: Vec<(f64, &String)> = texts
            .iter()
            .filter(|t| codes.accepts_text(t.0))
            .map(|(text, p)| (settings.odds * p / all, text))
            .filter(|w| w.0 >= LEAST_READING)
            .collect();
        wanted.sort_by(|a, b| b.0.total_cmp(&a.0));
        wanted.truncate(MOST_READINGS);
        prop_assert_eq!(decoded.readings.len(), wanted.len());
        for (got, (p, _)) in decoded.readings.iter().zip(&wanted) {
            // By rank and not by text: two texts may be equally likely.
            prop_assert!((got.probability - p).abs() < 1e-9, "{got:?} for {p}");
            prop_assert!((settings.odds * texts[&got.text] / all - p).abs() < 1e-9);
        }
        let nothing = texts.get("").copied().unwrap_or(0.0) / all;
        prop_assert!((decoded.nothing - nothing).abs() < 1e-9);
    }

    #[test]
    fn probabilities_never_sum_to_more_than_one(columns in columns(), turned in columns(),
                                                pattern in 0..5_usize, weight in 0.01_f64..1.0) {
        let (found, other) = (scores(&columns), scores(&turned));
        let ways = [
            Way { up: Up::AsFound, scores: &found, share: 0.5 },
            Way { up: Up::Turned, scores: &other, share: 0.5 },
        ];
        let weigh = |text: &str| if text.len() > 1 { weight } else { 1.0 };
        let codes = codes(PATTERNS[pattern]);
        let got = decode(&ways, &glyphs(), Some(&codes), &weigh, &toy());
        let codes: f64 = got.readings.iter().map(|r| r.probability).sum();
        let other = got.other.as_ref().map_or(0.0, |o| o.probability);
        prop_assert!(codes + other + got.nothing <= 1.0 + 1e-9);
        prop_assert!(got.readings.is_sorted_by(|a, b| a.probability >= b.probability));
    }
}

const SURE: f32 = 0.97;
const REST: f32 = 0.01;

/// A column that is nearly sure of one class.
fn sure(class: usize) -> [f32; 4] {
    let mut column = [REST; 4];
    column[class] = SURE;
    column
}

#[test]
fn a_code_is_read_and_the_sign_in_doubt_is_marked() {
    let strip = scores(&[sure(0), sure(1), sure(0), [0.02, 0.01, 0.37, 0.60], sure(0)]);
    let codes = codes("A[18]");
    let settings = toy();
    let decoded = decode(
        &one_way(&strip),
        &glyphs(),
        Some(&codes),
        &|_| 1.0,
        &settings,
    );
    assert_eq!(decoded.look, Look::Read);
    let texts: Vec<&str> = decoded.readings.iter().map(|r| r.text.as_str()).collect();
    assert_eq!(texts, ["A8", "A1"]);
    assert_eq!(decoded.readings[0].doubt, [1]);
    assert!(decoded.readings[0].probability < 0.9);
}

#[test]
fn the_run_weighs_and_does_not_rule_out() {
    let strip = scores(&[sure(1), sure(0), [0.02, 0.01, 0.40, 0.57]]);
    let codes = codes("A[18]");
    let run = |text: &str| if text == "A1" { 1.0 } else { 0.05 };
    let settings = toy();
    let decoded = decode(&one_way(&strip), &glyphs(), Some(&codes), &run, &settings);
    assert_eq!(decoded.readings[0].text, "A1");
    assert!(decoded.readings.iter().any(|r| r.text == "A8"));
}

#[test]
fn what_is_no_code_does_not_become_one() {
    let settings = toy();
    let codes = codes("8[18]");
    let text = scores(&[sure(1), sure(0), sure(2), sure(0), sure(1)]);
    let decoded = decode(
        &one_way(&text),
        &glyphs(),
        Some(&codes),
        &|_| 1.0,
        &settings,
    );
    assert_eq!(decoded.look, Look::OutsideScheme);
    assert_eq!(decoded.other.expect("a text").text, "A1A");
    let bare = scores(&[sure(0), sure(0), sure(0), sure(0)]);
    let decoded = decode(
        &one_way(&bare),
        &glyphs(),
        Some(&codes),
        &|_| 1.0,
        &settings,
    );
    assert_eq!(decoded.look, Look::Absent);
    let blur = scores(&[[0.4, 0.2, 0.2, 0.2]; 5]);
    let decoded = decode(
        &one_way(&blur),
        &glyphs(),
        Some(&codes),
        &|_| 1.0,
        &settings,
    );
    assert_ne!(decoded.look, Look::Absent);
    assert!(decoded.readings.iter().all(|r| r.probability < 0.9));
}

#[test]
fn both_ways_up_are_weighed() {
    let found = scores(&[[0.1, 0.3, 0.3, 0.3]; 3]);
    let turned = scores(&[sure(3), sure(0), sure(2)]);
    let ways = [
        Way {
            up: Up::AsFound,
            scores: &found,
            share: 0.5,
        },
        Way {
            up: Up::Turned,
            scores: &turned,
            share: 0.5,
        },
    ];
    let settings = toy();
    let decoded = decode(
        &ways,
        &glyphs(),
        Some(&codes("[18]{2}")),
        &|_| 1.0,
        &settings,
    );
    assert_eq!((decoded.look, decoded.up), (Look::Read, Up::Turned));
    assert_eq!(decoded.readings[0].text, "81");
}

#[test]
fn a_long_strip_keeps_its_precision() {
    let mut columns = vec![[0.25, 0.25, 0.25, 0.25]; 900];
    columns[450] = sure(1);
    let chances = Chances::new(&scores(&columns), 1.0);
    assert!(probability_of(&chances, &[1]) >= 0.0);
    let all = probability_of_all(&chances, &glyphs(), &codes("[A18]+"));
    assert!((all - 1.0).abs() < 1e-9, "{all}");
}

#[test]
fn no_strip_is_not_looked_for() {
    let decoded = decode(&[], &glyphs(), None, &|_| 1.0, &toy());
    assert_eq!(decoded.look, Look::NotLookedFor);
    let words: Vec<&str> = Look::ALL.iter().map(|l| l.word()).collect();
    assert_eq!(
        words,
        [
            "read",
            "illegible",
            "absent",
            "outside-scheme",
            "not-looked-for"
        ]
    );
}

//! How good a library is, as one page to look at.

use maud::{Markup, html as markup};

use super::html::{Figure, image, page};

/// A rate with its interval, in shares of 1.
#[derive(Debug, Clone, PartialEq)]
pub struct Rate {
    pub what: String,
    pub hits: usize,
    pub of: usize,
    pub value: f64,
    pub interval: (f64, f64),
}

/// Two families that are easily taken for one another.
#[derive(Debug, Clone, PartialEq)]
pub struct Pair {
    pub families: [String; 2],
    /// How often, and how likely at most.
    pub told: String,
    /// An exemplar of each.
    pub pictures: [Option<Figure>; 2],
    /// Where they differ: what only one of them has.
    pub differences: Option<Figure>,
    /// The same in words.
    pub said: String,
}

/// The page.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct CheckPage {
    /// What was tried, and what the figures are worth.
    pub told: Vec<String>,
    pub rates: Vec<Rate>,
    pub pairs: Vec<Pair>,
    /// A heading and what stands under it.
    pub lists: Vec<(String, Vec<String>)>,
}

/// Writes the page; `day` is printed as the day of making.
pub fn check_page(check: &CheckPage, day: &str) -> String {
    let head = markup! {
        header {
            h1 { "How good the library is" }
            p.told { "page of " (day) }
        }
    };
    let body = markup! {
        section id="figures" {
            h2 { "On your own photos" }
            @for line in &check.told { p { (line) } }
            @if !check.rates.is_empty() { (rates(&check.rates)) }
        }
        @if !check.pairs.is_empty() {
            section id="pairs" {
                h2 { "Most easily taken for one another" }
                p {
                    "In the picture between the two, dark strokes are in both; what only one of them has is "
                    "framed: by a solid line where only the first has it, by a dashed one where only the second has."
                }
                @for pair in &check.pairs { (one(pair)) }
            }
        }
        @for (heading, lines) in check.lists.iter().filter(|l| !l.1.is_empty()) {
            section {
                h2 { (heading) }
                ul { @for line in lines { li { (line) } } }
            }
        }
    };
    page("How good the library is", &head, &body)
}

fn rates(rates: &[Rate]) -> Markup {
    let per_cent = |v: f64| format!("{:.1} %", 100.0 * v);
    markup! {
        table {
            thead { tr {
                th { "Rate" } th { "Seen" } th { "Share" } th { "95 % interval (Wilson)" }
            } }
            tbody { @for rate in rates { tr {
                td { (rate.what) }
                td { (rate.hits) " of " (rate.of) }
                td { (per_cent(rate.value)) }
                td { (per_cent(rate.interval.0)) " to " (per_cent(rate.interval.1)) }
            } } }
        }
    }
}

fn one(pair: &Pair) -> Markup {
    let [a, b] = &pair.families;
    let parts = [
        (&pair.pictures[0], a.clone()),
        (&pair.differences, "where they differ".to_owned()),
        (&pair.pictures[1], b.clone()),
    ];
    markup! {
        article {
            div class="pictures three" {
                @for (picture, caption) in &parts {
                    figure {
                        div.frame {
                            @match picture {
                                Some(figure) => { (image(figure, caption)) }
                                None => { p { "no picture" } }
                            }
                        }
                        figcaption { (caption) }
                    }
                }
            }
            div.says {
                h3 { (a) " and " (b) }
                p { (pair.told) }
                p { (pair.said) }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_page_tells_rates_pairs_and_lists_and_loads_nothing() {
        let check = CheckPage {
            told: vec!["tried: 3 confirmed marks".into()],
            rates: vec![Rate {
                what: "own family comes first".into(),
                hits: 2,
                of: 3,
                value: 2.0 / 3.0,
                interval: (0.2, 0.9),
            }],
            pairs: vec![Pair {
                families: ["m/a".into(), "m/<b>".into()],
                told: "2 marks".into(),
                pictures: [None, None],
                differences: None,
                said: "they differ in 1 place".into(),
            }],
            lists: vec![
                ("Empty".into(), Vec::new()),
                ("Poor".into(), vec!["m/a".into()]),
            ],
        };
        let page = check_page(&check, "2026-05-02");
        for part in [
            "66.7 %",
            "20.0 % to 90.0 %",
            "m/a and m/&lt;b&gt;",
            "<h2>Poor</h2>",
        ] {
            assert!(page.contains(part), "{part}");
        }
        for part in ["Empty", "http", "<script"] {
            assert!(!page.contains(part), "{part}");
        }
    }
}

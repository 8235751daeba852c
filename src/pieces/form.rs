//! Forms of pieces: what a person calls them, and the ids that museums use where they are known.

/// How a vessel is counted in tests for lead and cadmium.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Vessel {
    /// At most 25 mm deep: plates, saucers.
    Flat,
    /// For drinking.
    CupOrMug,
    /// For storing and pouring drinks; not creamers, teapots and coffeepots.
    Pitcher,
    /// Deeper than 25 mm; the limit depends on whether it holds 1.1 litres.
    Hollow,
    /// No vessel, or nothing that the table speaks of.
    Other,
}

/// A form of the table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Form {
    /// The word for it.
    pub name: &'static str,
    also: &'static [&'static str],
    /// Id in the Art & Architecture Thesaurus of the Getty Research Institute.
    pub aat: &'static str,
    /// The thesaurus's term.
    pub term: &'static str,
    pub vessel: Vessel,
}

const fn known(
    name: &'static str,
    also: &'static [&'static str],
    aat: &'static str,
    term: &'static str,
    vessel: Vessel,
) -> Form {
    Form {
        name,
        also,
        aat,
        term,
        vessel,
    }
}

/// Ids as read in the Indianapolis museum's mapping for the American Art Collaborative
/// (`american-art/ima`, IMA-Object-Types-AAT-data.csv). A form that has no id of its own there, as a
/// coffee cup or a soup plate, has that of the broader term.
const FORMS: [Form; 24] = [
    known(
        "cup",
        &[
            "coffee cup",
            "tea cup",
            "teacup",
            "demitasse",
            "mocha cup",
            "mug",
            "beaker",
        ],
        "300043202",
        "cups (drinking vessels)",
        Vessel::CupOrMug,
    ),
    known(
        "saucer",
        &["tea saucer", "coffee saucer"],
        "300195535",
        "saucers (plates)",
        Vessel::Flat,
    ),
    known(
        "bread-and-butter plate",
        &["side plate", "bread plate"],
        "300230292",
        "bread-and-butter plates",
        Vessel::Flat,
    ),
    known(
        "plate",
        &[
            "dinner plate",
            "luncheon plate",
            "dessert plate",
            "cake plate",
            "soup plate",
            "tea plate",
        ],
        "300042991",
        "plates (general, dishes)",
        Vessel::Flat,
    ),
    known(
        "bowl",
        &["cereal bowl", "soup bowl", "fruit bowl", "salad bowl"],
        "300203596",
        "bowls (vessels)",
        Vessel::Hollow,
    ),
    known(
        "platter",
        &["meat dish", "serving platter"],
        "300043053",
        "platters",
        Vessel::Flat,
    ),
    known(
        "teapot",
        &["tea pot"],
        "300043022",
        "teapots",
        Vessel::Hollow,
    ),
    known(
        "coffeepot",
        &["coffee pot"],
        "300072215",
        "coffeepots",
        Vessel::Hollow,
    ),
    known(
        "sugar bowl",
        &["sugar", "sugar basin", "sugar box"],
        "300042971",
        "sugar bowls",
        Vessel::Hollow,
    ),
    known(
        "creamer",
        &["cream jug", "milk jug", "cream pitcher"],
        "300220996",
        "creamers",
        Vessel::Hollow,
    ),
    known(
        "sauceboat",
        &["gravy boat", "sauce boat"],
        "300218762",
        "sauceboats",
        Vessel::Hollow,
    ),
    known("slop bowl", &[], "300042968", "slop bowls", Vessel::Hollow),
    known(
        "pitcher",
        &["water pitcher", "juice pitcher"],
        "300194765",
        "pitchers (vessels)",
        Vessel::Pitcher,
    ),
    known("jug", &[], "300045685", "jugs (vessels)", Vessel::Pitcher),
    known(
        "lid",
        &["cover"],
        "300045712",
        "lids (covers)",
        Vessel::Other,
    ),
    known("bread tray", &[], "300043073", "bread trays", Vessel::Flat),
    known("tray", &[], "300043071", "trays", Vessel::Flat),
    known(
        "tea service",
        &["tea set"],
        "300227686",
        "tea services",
        Vessel::Other,
    ),
    known(
        "coffee service",
        &["coffee set"],
        "300227293",
        "coffee services",
        Vessel::Other,
    ),
    known(
        "table service",
        &["dinner service", "service"],
        "300393170",
        "table services (sets)",
        Vessel::Other,
    ),
    known(
        "dinnerware",
        &["tableware"],
        "300200397",
        "dinnerware",
        Vessel::Other,
    ),
    known(
        "dish",
        &[
            "vegetable dish",
            "covered vegetable dish",
            "covered dish",
            "tureen",
            "butter dish",
        ],
        "300042973",
        "dishes (vessels for food)",
        Vessel::Hollow,
    ),
    known("egg cup", &["eggcup"], "", "", Vessel::Other),
    known("vase", &[], "", "", Vessel::Other),
];

/// The words of a form as they are compared: lower case, one blank between words, without the `s` of
/// several, and without what stands in brackets.
fn plain(text: &str) -> String {
    let text = text.split(['(', ',']).next().unwrap_or_default();
    let words: Vec<String> = text.split_whitespace().map(str::to_lowercase).collect();
    let text = words.join(" ").replace('-', " ");
    match text.strip_suffix('s') {
        Some(one) if text.len() > 3 && !one.ends_with('s') => match text.strip_suffix("shes") {
            Some(stem) => format!("{stem}sh"),
            None => one.to_owned(),
        },
        _ => text,
    }
}

/// The form of the table that is meant, if any.
pub fn form(text: &str) -> Option<&'static Form> {
    let text = plain(text);
    let is = |name: &str| plain(name) == text;
    FORMS
        .iter()
        .find(|form| is(form.name) || form.also.iter().any(|also| is(also)))
}

impl Form {
    /// The id, where the table has one.
    pub fn aat(&self) -> Option<&'static str> {
        (!self.aat.is_empty()).then_some(self.aat)
    }
}

/// Whether a piece of form `one` is one that a rule about `other` speaks of: the same words, or the
/// rule's word is the general one ("cup" for a coffee cup).
pub fn same_form(one: &str, other: &str) -> bool {
    plain(one) == plain(other) || form(one).is_some_and(|form| plain(form.name) == plain(other))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn forms_are_known_by_their_common_names() {
        for (text, aat) in [
            ("cup", "300043202"),
            ("Coffee Cups", "300043202"),
            ("saucer", "300195535"),
            ("Dishes", "300042973"),
            ("bread-and-butter plates", "300230292"),
            ("gravy boat", "300218762"),
            ("cup (tall)", "300043202"),
        ] {
            assert_eq!(form(text).and_then(Form::aat), Some(aat), "{text}");
        }
        assert_eq!(form("egg cup").and_then(Form::aat), None);
        assert!(form("whatnot").is_none());
    }

    #[test]
    fn a_rule_about_cups_speaks_of_coffee_cups_and_not_the_other_way() {
        assert!(same_form("coffee cup", "cup"));
        assert!(same_form("Cups", "cup"));
        assert!(!same_form("cup", "coffee cup"));
        assert!(!same_form("saucer", "cup"));
    }

    #[test]
    fn ids_are_their_own() {
        let ids: std::collections::BTreeSet<_> = FORMS.iter().filter_map(Form::aat).collect();
        assert_eq!(
            ids.len(),
            FORMS.iter().filter(|f| f.aat().is_some()).count()
        );
    }
}

use std::path::Path;

use super::*;

fn read(text: &str) -> (Vec<Scheme>, Vec<SchemeRemark>) {
    read_schemes(Path::new("codes.toml"), text)
}

fn good(text: &str) -> Vec<Scheme> {
    let (schemes, remarks) = read(text);
    let said: Vec<String> = remarks.iter().map(ToString::to_string).collect();
    assert_eq!(said, [] as [String; 0]);
    schemes
}

fn bad(text: &str) -> String {
    let (schemes, remarks) = read(text);
    assert!(schemes.is_empty(), "the scheme is left out");
    let said: Vec<String> = remarks.iter().map(ToString::to_string).collect();
    said.join("\n")
}

fn means(schemes: &[Scheme], code: &str) -> Vec<String> {
    let found = fits(schemes, code);
    found
        .iter()
        .flat_map(|f| &f.made)
        .map(ToString::to_string)
        .collect()
}

const MONTH_AND_YEAR: &str = r#"
[[scheme]]
name = "month letter and year"
family = "crown"
pattern = "(?<month>[A-HJ-M])[.-]?(?<year>[0-9]{2})(?<decorator>[XYZ])?"
month = { letters = "ABCDEFGHJKLM" }
year = { window = [1930, 1969] }
valid = "1946/1958"
codes_from = 1946
codes_until = "1958"
codes_usual = "mostly"
place = "below"
examples = { C52 = "1952-03", "M-46" = "1946-12" }
"#;

#[test]
fn a_month_letter_and_a_year_are_a_month() {
    let schemes = good(MONTH_AND_YEAR);
    let fit = schemes[0].parse("j 52 y").expect("a code");
    assert_eq!(
        fit.made,
        [super::super::Made::month(1952, 9).expect("a month")]
    );
    assert_eq!(fit.parts["decorator"], "Y");
    assert_eq!(fit.text, "J52Y");
    assert!(schemes[0].parse("I52").is_none(), "no such letter");
    assert_eq!(schemes[0].codes_usual, Some(Usual::Mostly));
    assert_eq!(schemes[0].place, Place::Below);
    assert_eq!(schemes[0].example().as_deref(), Some("A46"));
}

#[test]
fn a_code_outside_the_valid_years_fits_and_tells_no_time() {
    let schemes = good(MONTH_AND_YEAR);
    let fit = schemes[0].parse("C62").expect("fits the pattern");
    assert!(fit.made.is_empty() && fit.outside);
    assert!(!schemes[0].parse("C52").expect("a code").outside);
}

#[test]
fn letters_with_dots_count_on_and_a_letter_used_again_means_both() {
    let schemes = good(
        r#"
[[scheme]]
name = "year letter with dots"
pattern = "(?<year>[A-D])(?<dots>[.]{0,3})"
year = { values = { A = [1920, 1950], B = 1924, C = 1928, D = 1932 } }
dots = { count = "." }
"#,
    );
    assert_eq!(means(&schemes, "B··"), ["1926"]);
    assert_eq!(means(&schemes, "A."), ["1921", "1951"]);
    assert_eq!(means(&schemes, "A"), ["1920", "1950"]);
}

#[test]
fn roman_months_quarters_and_decades() {
    let schemes = good(
        r#"
[[scheme]]
name = "roman month"
pattern = ["(?<month>I|II|III|IV|V|VI|VII|VIII|IX|X|XI|XII)/(?<year>[0-9]{2})"]
month = { roman = true }
year = { window = [1900, 1999] }

[[scheme]]
name = "quarter"
dates = "decoration"
pattern = "(?<quarter>[1-4])[*](?<year>[0-9]{2})"
year = { window = [1930, 2029] }

[[scheme]]
name = "decade"
pattern = "(?<plant>[NS])(?<decade>[2-5])"
decade = { window = [1920, 1959] }

[[scheme]]
name = "decoration number"
pattern = "D(?<decoration>[0-9]{3,5})"
"#,
    );
    assert_eq!(means(&schemes, "IX/48"), ["1948-09"]);
    assert_eq!(means(&schemes, "3★52"), ["1952-35"]);
    assert_eq!(means(&schemes, "N4"), ["194X"]);
    let number = fits(&schemes, "D1234");
    assert!(number[0].made.is_empty() && !number[0].outside);
    assert_eq!(number[0].parts["decoration"], "1234");
    assert_eq!(schemes[1].dates, Dates::Decoration);
}

#[test]
fn where_two_schemes_fit_both_are_shown() {
    let schemes = good(
        r#"
[[scheme]]
name = "year, then quarter"
pattern = "(?<year>[0-9]{2})(?<quarter>[1-4])"
year = { window = [1930, 1959] }

[[scheme]]
name = "month, then year"
pattern = "(?<month>[1-9])(?<year>[0-9]{2})"
year = { window = [1900, 1959] }
"#,
    );
    assert_eq!(means(&schemes, "523"), ["1952-35", "1923-05"]);
}

#[test]
fn small_letters_only_where_the_scheme_says_so() {
    let schemes = good(
        r#"
[[scheme]]
name = "small"
small_letters = true
pattern = "(?<year>[a-c])"
year = { letters = "abc", first = 1931 }
"#,
    );
    assert_eq!(means(&schemes, "b"), ["1932"]);
    assert!(means(&schemes, "B").is_empty());
    let said = bad("[[scheme]]\nname = \"x\"\npattern = \"[a-c][0-9]\"\n");
    assert!(said.contains("no code fits the pattern"), "{said}");
}

#[test]
fn a_remark_names_file_line_column_key_and_an_accepted_code() {
    let text = MONTH_AND_YEAR.replace("ABCDEFGHJKLM", "ABCDEFGHJKL");
    assert_eq!(
        bad(&text),
        "codes.toml, line 6, column 1, key `month` of the scheme `month letter and year`: the \
         pattern allows `M`, which stands for nothing here (a code that the scheme accepts: `A46`)"
    );
}

#[test]
fn what_is_wrong_is_said() {
    let cases = [
        ("pattern = \"(?<month>[A-\"", "key `pattern`", "for example"),
        (
            "pattern = \"(?<year>[0-9]{2})\"",
            "key `year`",
            "any century",
        ),
        (
            "pattern = \"(?<month>1[0-9])-(?<year>19[0-9]{2})\"",
            "key `month`",
            "`13` would be 13",
        ),
        ("pattern = \"[0-9]*\"", "key `pattern`", "the empty text"),
        ("", "key `pattern`", "is missing"),
        (
            "pattern = \"A\"\nplace = \"above\"",
            "key `place`",
            "`below`, `beside`",
        ),
        (
            "pattern = \"A\"\nvalid = \"c. 1946\"",
            "key `valid`",
            "no run of years",
        ),
        (
            "pattern = \"A\"\nbox = [[1, 2]]",
            "key `box`",
            "four corners",
        ),
        (
            "pattern = \"(?<x>A)\"\nyear = { roman = true }",
            "key `year`",
            "only `x`",
        ),
        (
            "pattern = \"A\"\ncodes_from = 1950\ncodes_until = 1940",
            "key `codes_until`",
            "not before",
        ),
        (
            "pattern = \"A\"\ncodes_usual = \"often\"",
            "key `codes_usual`",
            "`always`",
        ),
        (
            "pattern = \"(?<year>19[0-9]{2})\"\nexamples = { 1950 = \"1951\" }",
            "examples",
            "means `1950`",
        ),
    ];
    for (body, key, what) in cases {
        let said = bad(&format!("[[scheme]]\nname = \"x\"\n{body}\n"));
        assert!(said.contains(key) && said.contains(what), "{body}: {said}");
        assert!(said.starts_with("codes.toml, line "), "{said}");
    }
}

#[test]
fn a_key_that_means_nothing_is_told_and_the_scheme_is_used() {
    let (schemes, remarks) = read("[[scheme]]\nname = \"x\"\npattern = \"A\"\nvalidd = 1950\n");
    assert_eq!(schemes.len(), 1);
    let said = remarks[0].to_string();
    assert!(
        said.contains("line 4, column 1, key `validd`") && said.contains("`valid`"),
        "{said}"
    );
    assert!(said.contains("accepts: `A`"), "{said}");
}

#[test]
fn one_bad_scheme_does_not_take_the_others_along() {
    let text = format!("[[scheme]]\nname = \"broken\"\npattern = \"(\"\n{MONTH_AND_YEAR}");
    let (schemes, remarks) = read(&text);
    assert_eq!((schemes.len(), remarks.len()), (1, 1));
    let said = bad("scheme = 1 2");
    assert!(
        said.contains("line 1") && said.contains("not TOML"),
        "{said}"
    );
}

#[test]
fn a_scheme_speaks_of_the_marks_that_it_names() {
    let schemes = good(MONTH_AND_YEAR);
    let of = |family: Option<&str>| Applies {
        family: family.map(str::to_owned),
        ..Applies::default()
    };
    assert!(schemes[0].speaks_of(&of(Some("crown"))));
    assert!(schemes[0].speaks_of(&of(None)));
    assert!(!schemes[0].speaks_of(&of(Some("bell"))));
}

#[test]
fn the_worked_examples_are_read_and_mean_what_they_say() {
    let schemes = good(include_str!("examples.toml"));
    assert_eq!(schemes.len(), 4);
    assert_eq!(means(&schemes, "A."), ["1913", "1933"]);
    assert_eq!(schemes[3].symbols[0].sign, '*');
    assert_eq!(fits(&schemes, "D4417")[0].parts["decoration"], "4417");
    let spoken: Vec<Option<String>> = schemes.iter().map(Scheme::example).collect();
    let spoken: Vec<&str> = spoken.iter().flatten().map(String::as_str).collect();
    assert_eq!(spoken, ["A46", "A", "NI/20", "*150"]);
}

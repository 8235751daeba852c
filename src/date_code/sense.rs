//! What speaks against a reading: a time at which the line was not made, the stamp not in use, the works
//! not open; a body later than its own decoration; no code where pieces always carry one.
//!
//! An objection never removes a reading. Runs are known by advertisements and price lists, stock was
//! finished later, and bodies were bought in: the person weighs what is said here.

use super::made::{Made, Years};
use super::scheme::{Fit, Scheme, Usual, fits};
use crate::answer::{DateAnswer, Dates, Look, Objection, ObjectionCode};

/// What is known of a family's time.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Bounds {
    /// When its one line was made.
    pub line: Option<Years>,
    /// When its stamp was in use.
    pub stamp: Option<Years>,
    /// The works of its maker by name, and when they were open.
    pub plants: Vec<(String, Years)>,
}

impl Bounds {
    /// The years by which readings are weighed: the line's, or else the stamp's.
    pub fn run(&self) -> Option<&Years> {
        self.line.as_ref().or(self.stamp.as_ref())
    }
}

/// What speaks against a code under the schemes that it fits. A code that may mean one time within the
/// bounds has nothing against it.
pub fn objections(code: &str, schemes: &[&Scheme], bounds: &Bounds) -> Vec<Objection> {
    let found = fits(schemes.iter().copied(), code);
    let never = |fit: &Fit<'_>| fit.scheme.codes_usual == Some(Usual::Never);
    let mut out = Vec::new();
    if !found.is_empty() && found.iter().all(never) {
        out.push(Objection {
            code: ObjectionCode::NeverCarried,
            text: "pieces with this mark carry no such code, as far as is known".to_owned(),
        });
    }
    let times: Vec<&Made> = found.iter().flat_map(|f| &f.made).collect();
    let span = |years: &Years| outside(&times, years);
    if let Some((side, year)) = bounds.line.as_ref().and_then(span) {
        out.push(match side {
            Side::Before => objection(ObjectionCode::BeforeLine, "before the line began", year),
            Side::After => objection(ObjectionCode::AfterLine, "after the line ended", year),
        });
    }
    if let Some((side, year)) = bounds.stamp.as_ref().and_then(span) {
        out.push(match side {
            Side::Before => objection(
                ObjectionCode::BeforeStamp,
                "before this stamp was used",
                year,
            ),
            Side::After => objection(ObjectionCode::AfterStamp, "after this stamp was used", year),
        });
    }
    if let Some((name, years)) = plant(&found, bounds)
        && let Some((side, year)) = outside(&times, years)
    {
        out.push(match side {
            Side::Before => objection(
                ObjectionCode::PlantNotOpen,
                &format!("before {name} opened"),
                year,
            ),
            Side::After => objection(
                ObjectionCode::PlantClosed,
                &format!("after {name} closed"),
                year,
            ),
        });
    }
    out
}

/// What the lack of a code says where every scheme of its place holds that pieces always carry one, and
/// where one was looked for on a clear mark.
pub fn lacking(schemes: &[&Scheme]) -> Option<Objection> {
    let always = |s: &&Scheme| s.codes_usual == Some(Usual::Always);
    (!schemes.is_empty() && schemes.iter().all(always)).then(|| Objection {
        code: ObjectionCode::CodeMissing,
        text: "pieces with this mark always carry a code: its lack is a clue in itself".to_owned(),
    })
}

/// Objects to decorations whose likeliest reading is earlier than every time of the body's. A body that
/// lay in stock for years is no contradiction.
pub fn compare_works(dates: &mut [DateAnswer]) {
    let ends = |work: Dates, dates: &[DateAnswer]| {
        let read = dates
            .iter()
            .filter(|d| d.dates == work && d.state == Look::Read);
        let read = read.filter_map(|d| d.readings.first());
        let years: Vec<Years> = read
            .flat_map(|r| &r.made)
            .filter_map(|m| Years::parse(m.split('-').next()?))
            .collect();
        (
            years.iter().filter_map(|y| y.first).min(),
            years.iter().filter_map(|y| y.last).max(),
        )
    };
    let (body, _) = ends(Dates::Body, dates);
    let (_, decoration) = ends(Dates::Decoration, dates);
    if let (Some(body), Some(decoration)) = (body, decoration)
        && decoration < body
    {
        let told = objection(ObjectionCode::BodyLater, "earlier than its own body", body);
        let decorated = dates.iter_mut().filter(|d| d.dates == Dates::Decoration);
        for reading in decorated.filter_map(|d| d.readings.first_mut()) {
            reading.against.push(told.clone());
        }
    }
}

enum Side {
    Before,
    After,
}

/// On which side of `years` all of the times lie, and the year that bounds it; `None` where one of them
/// is within, or there are none.
fn outside(times: &[&Made], years: &Years) -> Option<(Side, i32)> {
    let all = |beyond: &dyn Fn(Years) -> bool| {
        !times.is_empty() && times.iter().all(|m| beyond(m.years()))
    };
    let before = |first: i32| all(&|y| y.last.is_some_and(|last| last < first));
    let after = |last: i32| all(&|y| y.first.is_some_and(|first| first > last));
    match (years.first, years.last) {
        (Some(first), _) if before(first) => Some((Side::Before, first)),
        (_, Some(last)) if after(last) => Some((Side::After, last)),
        _ => None,
    }
}

fn objection(code: ObjectionCode, what: &str, year: i32) -> Objection {
    Objection {
        code,
        text: format!("{what} ({year})"),
    }
}

/// The works that a code names: by its scheme, or by a part of its own that begins one name only.
fn plant<'b>(found: &[Fit<'_>], bounds: &'b Bounds) -> Option<(&'b str, &'b Years)> {
    let [fit] = found else { return None };
    let begins = |name: &str, part: &str| name.to_lowercase().starts_with(&part.to_lowercase());
    let mut named = bounds.plants.iter().filter(|(name, _)| {
        let scheme = fit.scheme.applies.plant.as_deref() == Some(name);
        let own = fit.parts.get("plant").filter(|p| !p.is_empty());
        scheme || own.is_some_and(|part| begins(name, part))
    });
    let (name, years) = named.next()?;
    named.next().is_none().then_some((name.as_str(), years))
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::super::scheme::read_schemes;
    use super::*;
    use crate::answer::DateReading;

    fn schemes() -> Vec<Scheme> {
        let text = r#"
[[scheme]]
name = "works and year"
pattern = "(?<plant>[HW])(?<year>[0-9]{2})"
year = { window = [1900, 1999] }
codes_usual = "always"

[[scheme]]
name = "old numbers"
pattern = "(?<month>[1-9])(?<year>[0-9]{2})"
year = { window = [1900, 1999] }
codes_usual = "never"
"#;
        read_schemes(Path::new("codes.toml"), text).0
    }

    fn codes(code: &str, bounds: &Bounds) -> Vec<ObjectionCode> {
        let all = schemes();
        let all: Vec<&Scheme> = all.iter().collect();
        objections(code, &all, bounds)
            .iter()
            .map(|o| o.code)
            .collect()
    }

    #[test]
    fn a_time_outside_of_everything_known_is_told() {
        let years = |t: &str| Years::parse(t).expect("years");
        let bounds = Bounds {
            line: Some(years("1946/1958")),
            stamp: Some(years("1950/..")),
            plants: vec![
                ("Hollin Hill".to_owned(), years("1900/1948")),
                ("Weirside".to_owned(), years("1947/..")),
            ],
        };
        assert_eq!(codes("W52", &bounds), []);
        assert_eq!(
            codes("W44", &bounds),
            [
                ObjectionCode::BeforeLine,
                ObjectionCode::BeforeStamp,
                ObjectionCode::PlantNotOpen
            ]
        );
        assert_eq!(
            codes("H61", &bounds),
            [ObjectionCode::AfterLine, ObjectionCode::PlantClosed]
        );
        assert_eq!(codes("352", &bounds), [ObjectionCode::NeverCarried]);
        assert_eq!(codes("no code", &bounds), []);
        assert_eq!(codes("W44", &Bounds::default()), []);
    }

    #[test]
    fn the_lack_of_a_code_counts_where_pieces_always_carry_one() {
        let all = schemes();
        assert!(lacking(&[&all[0]]).is_some());
        assert!(lacking(&[&all[0], &all[1]]).is_none());
        assert!(lacking(&[]).is_none());
    }

    #[test]
    fn a_decoration_is_not_earlier_than_its_body() {
        let date = |dates, made: &str| DateAnswer {
            family: "weir/bell".to_owned(),
            dates,
            state: Look::Read,
            quad: None,
            upright: true,
            readings: vec![DateReading {
                text: String::new(),
                probability: 0.9,
                made: vec![made.to_owned()],
                doubt: Vec::new(),
                verified: true,
                against: Vec::new(),
            }],
            other: None,
            against: Vec::new(),
        };
        let told = |body: &str, decoration: &str| {
            let mut both = [date(Dates::Body, body), date(Dates::Decoration, decoration)];
            compare_works(&mut both);
            assert!(both[0].readings[0].against.is_empty());
            both[1].readings[0].against.len()
        };
        assert_eq!(told("1952-03", "1951-35"), 1);
        assert_eq!(told("1952-03", "1952"), 0);
        assert_eq!(told("1948", "1955"), 0);
    }
}

use super::*;
use crate::answer::{Means, ReasonCode, Role, SCHEMA};
use crate::decision::{About, Certainty, Moment, Region};
use crate::workspace::Lot;

fn candidate(family: &str, probability: f64) -> Candidate {
    Candidate {
        family: family.into(),
        variant: None,
        probability,
        exemplar: "e".repeat(64),
        quad: Quad::<crate::geometry::Photo>::upright(0.0, 0.0, 10.0, 10.0).to_array(),
        evidence: None,
    }
}

fn mark(verdict: Verdict, candidates: Vec<Candidate>) -> MarkAnswer {
    MarkAnswer {
        quad: Quad::<crate::geometry::Photo>::upright(0.0, 0.0, 10.0, 10.0).to_array(),
        role: Role::Undecided,
        means: Means::Undecided,
        verdict,
        strike: 5.0,
        quality: None,
        state: None,
        candidates,
        rest: 0.02,
        none: 0.03,
        forms: None,
        twins: Vec::new(),
        dates: Vec::new(),
    }
}

/// A mark that one family fits.
pub(super) fn mark_of(family: &str) -> MarkAnswer {
    mark(Verdict::Named, vec![candidate(family, 0.95)])
}

fn shot(name: &str, verdict: Verdict, marks: Vec<MarkAnswer>) -> Shot {
    let hash = ContentHash::of(name.as_bytes());
    Shot {
        name: crate::workspace::readable(name),
        path: crate::workspace::readable(&format!("/sale/{name}")),
        taken: None,
        answer: Some(PhotoAnswer {
            schema: SCHEMA,
            photo: name.into(),
            photo_raw: None,
            hash: Some(hash.to_string()),
            verdict,
            reasons: vec![Reason::plain(ReasonCode::Blurred)],
            quality: None,
            marks,
            elapsed_ms: None,
            stages: None,
        }),
        hash,
        current: true,
    }
}

fn lot() -> Lot {
    Lot {
        name: "Mill fair <b>".into(),
        date: Some("2026-05".into()),
        place: None,
        photos: 3,
    }
}

fn decision(number: i64, shot: &Shot, statement: Statement) -> Decision {
    let region = Region::new(&Quad::upright(0.0, 0.0, 11.0, 10.0));
    Decision {
        number,
        time: "2026-05-02T08:15:00Z".parse::<Moment>().expect("a time"),
        about: About::Mark(shot.hash.clone(), region),
        statement,
        certainty: Certainty::Probably,
        replaces: None,
    }
}

fn sample() -> Sheet {
    let shots = vec![
        shot("=cmd|' /C calc'!A0.jpg", Verdict::Reshoot, vec![]),
        shot(
            "b.jpg",
            Verdict::Named,
            vec![mark(Verdict::Named, vec![candidate("mill/crown", 0.95)])],
        ),
        shot(
            "<img src=x onerror=alert(1)>\u{1b}.jpg",
            Verdict::Choose,
            vec![mark(
                Verdict::Choose,
                vec![candidate("mill/anchor", 0.5), candidate("mill/crown", 0.45)],
            )],
        ),
        shot(
            "d.jpg",
            Verdict::Unknown,
            vec![mark(Verdict::Unknown, vec![candidate("mill/anchor", 0.04)])],
        ),
        shot("gone.jpg", Verdict::NoMark, vec![]),
    ];
    let said = vec![
        decision(1, &shots[3], Statement::Family("mill/bell".into())),
        decision(2, &shots[4], Statement::Unknown),
    ];
    let names = Names::from([(
        "mill/crown".to_owned(),
        FamilyName {
            mark: "Crown over river".into(),
            maker: Some("Mill Lane Pottery".into()),
        },
    )]);
    Sheet::new(&lot(), shots, &History::new(said), names, &str::to_owned)
}

#[test]
fn rows_are_grouped_and_the_persons_word_holds() {
    let sheet = sample();
    let rows: Vec<(&str, Verdict, Option<&str>)> = sheet
        .rows
        .iter()
        .map(|r| (sheet.shot(r).name.as_str(), r.holds, r.family.as_deref()))
        .collect();
    assert_eq!(rows[0], ("d.jpg", Verdict::Named, Some("mill/bell")));
    assert_eq!(rows[1], ("b.jpg", Verdict::Named, Some("mill/crown")));
    assert_eq!(rows[2].1, Verdict::Choose);
    assert_eq!(rows[3].1, Verdict::Reshoot);
    assert_eq!(rows[4].1, Verdict::NoMark);
    assert_eq!(sheet.rows[0].verdict, Some(Verdict::Unknown));
    assert_eq!(sheet.unattached.len(), 1);
}

#[test]
fn the_text_says_what_was_found_and_what_was_said() {
    let mut out = Vec::new();
    write_text(&sample(), &mut out).expect("memory");
    let text = String::from_utf8(out).expect("text");
    for wanted in [
        "Mill fair <b> · 2026-05\n",
        "5 photos: 2 named, 1 may fit, 1 take again, 1 no mark\n",
        "probably mill/bell  (your decision of 2026-05-02; the program says: ",
        "mill/crown 95 %",
        "mill/anchor 50 %, mill/crown 45 %",
        "Decisions whose mark was not found this time:\n  gone.jpg  probably not in the library\n",
    ] {
        assert!(text.contains(wanted), "{wanted:?} in\n{text}");
    }
    assert!(!text.contains('\u{1b}'));
}

#[test]
fn the_csv_has_one_row_a_mark_and_no_formula() {
    let mut out = Vec::new();
    write_csv(&sample(), &mut out).expect("memory");
    let text = String::from_utf8(out).expect("text");
    assert_eq!(text.matches("\r\n").count(), 6);
    assert!(text.contains("'=cmd|' /C calc'!A0.jpg"));
    for begin in ["=1", "+1", "-1", "@a", "\ta", "\ra"] {
        assert!(table::defused(begin).starts_with('\''), "{begin:?}");
    }
    assert_eq!(table::defused("plain, \"quoted\""), "plain, \"quoted\"");
    let mut read = csv::Reader::from_reader(text.as_bytes());
    for record in read.records() {
        assert_eq!(record.expect("a record").len(), 20);
    }
}

#[test]
fn the_page_is_self_contained_and_hostile_names_stay_text() {
    let sheet = sample();
    let pictures: Vec<RowPictures> = sheet.rows.iter().map(|_| RowPictures::default()).collect();
    let page = html(&sheet, &pictures, "2026-05-03");
    assert!(page.starts_with("<!DOCTYPE html>"));
    assert!(page.contains("&lt;img src=x onerror=alert(1)&gt;\u{fffd}.jpg"));
    assert!(page.contains("Mill fair &lt;b&gt;"));
    for never in ["<script", "<img src=x", "http://", "https://", "\u{1b}"] {
        assert!(!page.contains(never), "{never:?}");
    }
    for caution in CAUTIONS {
        assert!(page.contains(caution), "{caution}");
    }
}

#[test]
fn per_cents_never_claim_certainty() {
    let said = [0.0, 0.001, 0.5, 0.944, 0.999, 1.0].map(per_cent);
    let never = [
        "under 1 %",
        "under 1 %",
        "50 %",
        "94 %",
        "over 99 %",
        "over 99 %",
    ];
    assert_eq!(said, never);
}

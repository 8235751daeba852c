//! The JSON contract, schema 1: every field serialises as it is documented.

use footring::answer::{
    Candidate, DateAnswer, DateReading, Dates, Deciding, Evidence, FormShare, Forms, Look,
    MarkAnswer, MarkQuality, MarkState, Means, Objection, ObjectionCode, PartSeen, PhotoAnswer,
    Quality, Reason, ReasonCode, Role, SCHEMA, StageTime, Twin, Verdict,
};
use serde_json::{Value, json};

use crate::support::{Tool, jpeg, slope};

fn full() -> PhotoAnswer {
    PhotoAnswer {
        schema: SCHEMA,
        photo: "sale/a.jpg".to_owned(),
        photo_raw: Some("c2FsZS9hLmpwZw==".to_owned()),
        hash: Some("ab".repeat(32)),
        verdict: Verdict::Choose,
        reasons: vec![Reason::plain(ReasonCode::Siblings)],
        quality: Some(Quality {
            sharpness: 1.5,
            exposure: 71.0,
            glare: 0.02,
            scale: 640.0,
        }),
        marks: vec![MarkAnswer {
            quad: [[1.0, 2.0], [3.0, 2.0], [3.0, 4.0], [1.0, 4.0]],
            role: Role::Undecided,
            means: Means::Printed,
            verdict: Verdict::Choose,
            strike: 7.25,
            quality: Some(MarkQuality {
                defocus: 1.25,
                motion: 3.5,
                motion_angle: 40.0,
                exposure: 88.5,
                clipped: 0.25,
                glare: 0.125,
                letters: Some(17.5),
                cut: Some(0.0),
                tilt: None,
                hole: 0.0,
                label: 0.0,
                gilt: true,
            }),
            state: Some(MarkState {
                faded: 0.25,
                worn: 0.125,
                covered: 0.0,
                scratched: 0.5,
                spotted: 0.0,
            }),
            candidates: vec![Candidate {
                family: "hollin/fern-ring".to_owned(),
                variant: None,
                probability: 0.6,
                exemplar: "cd".repeat(32),
                quad: [[1.0, 2.0], [3.0, 2.0], [3.0, 4.0], [1.0, 4.0]],
                evidence: Some(Evidence {
                    correlation: 0.875,
                    points: 21,
                    likeness: 0.75,
                    odds: 2.5,
                    lead: -0.5,
                }),
            }],
            rest: 0.3,
            none: 0.1,
            forms: Some(Forms {
                ranked: vec![FormShare {
                    variant: Some("with-country".to_owned()),
                    probability: 0.75,
                }],
                decides: Some(Deciding {
                    quad: [[1.0, 3.0], [3.0, 3.0], [3.0, 4.0], [1.0, 4.0]],
                    place: "foot".to_owned(),
                    seen: PartSeen::Unclear,
                }),
            }),
            twins: vec![Twin {
                family: "hollin/fern-wreath".to_owned(),
                tell: Some("the ring is broken at the top".to_owned()),
            }],
            dates: vec![DateAnswer {
                family: "hollin/fern-ring".to_owned(),
                dates: Dates::Piece,
                state: Look::Read,
                quad: Some([[1.0, 4.0], [3.0, 4.0], [3.0, 5.0], [1.0, 5.0]]),
                upright: true,
                readings: vec![DateReading {
                    text: "C52".to_owned(),
                    probability: 0.75,
                    made: vec!["1952-03".to_owned()],
                    doubt: vec![0],
                    verified: true,
                    against: vec![Objection {
                        code: ObjectionCode::BeforeLine,
                        text: "before the line began (1953)".to_owned(),
                    }],
                }],
                other: None,
                against: Vec::new(),
            }],
        }],
        elapsed_ms: Some(12.5),
        stages: Some(vec![StageTime {
            stage: "decode".to_owned(),
            ms: 9.0,
        }]),
    }
}

#[test]
fn a_full_answer_has_the_documented_fields_and_no_others() {
    let quad = json!([[1.0, 2.0], [3.0, 2.0], [3.0, 4.0], [1.0, 4.0]]);
    let dates = json!([{
        "family": "hollin/fern-ring",
        "dates": "piece",
        "state": "read",
        "quad": [[1.0, 4.0], [3.0, 4.0], [3.0, 5.0], [1.0, 5.0]],
        "upright": true,
        "readings": [{
            "text": "C52",
            "probability": 0.75,
            "made": ["1952-03"],
            "doubt": [0],
            "verified": true,
            "against": [{"code": "before-line", "text": "before the line began (1953)"}],
        }],
        "other": null,
        "against": [],
    }]);
    let forms = json!({
        "ranked": [{"variant": "with-country", "probability": 0.75}],
        "decides": {
            "quad": [[1.0, 3.0], [3.0, 3.0], [3.0, 4.0], [1.0, 4.0]],
            "place": "foot",
            "seen": "unclear",
        },
    });
    let expected = json!({
        "schema": 1,
        "photo": "sale/a.jpg",
        "photo_raw": "c2FsZS9hLmpwZw==",
        "hash": "ab".repeat(32),
        "verdict": "choose",
        "reasons": [{"code": "siblings", "text": ReasonCode::Siblings.plain()}],
        "quality": {"sharpness": 1.5, "exposure": 71.0, "glare": 0.02, "scale": 640.0},
        "marks": [{
            "quad": quad,
            "role": "undecided",
            "means": "printed",
            "verdict": "choose",
            "strike": 7.25,
            "quality": {
                "defocus": 1.25, "motion": 3.5, "motion_angle": 40.0, "exposure": 88.5,
                "clipped": 0.25, "glare": 0.125, "letters": 17.5, "cut": 0.0, "tilt": null, "hole": 0.0,
                "label": 0.0, "gilt": true,
            },
            "state": {
                "faded": 0.25, "worn": 0.125, "covered": 0.0, "scratched": 0.5, "spotted": 0.0,
            },
            "candidates": [{
                "family": "hollin/fern-ring",
                "variant": null,
                "probability": 0.6,
                "exemplar": "cd".repeat(32),
                "quad": quad,
                "evidence": {
                    "correlation": 0.875,
                    "points": 21,
                    "likeness": 0.75,
                    "odds": 2.5,
                    "lead": -0.5,
                },
            }],
            "rest": 0.3,
            "none": 0.1,
            "forms": forms,
            "twins": [{"family": "hollin/fern-wreath", "tell": "the ring is broken at the top"}],
            "dates": dates,
        }],
        "elapsed_ms": 12.5,
        "stages": [{"stage": "decode", "ms": 9.0}],
    });
    assert_eq!(serde_json::to_value(full()).unwrap(), expected);
    let back: PhotoAnswer = serde_json::from_value(expected).unwrap();
    assert_eq!(back, full());
}

#[test]
fn fields_that_are_only_sometimes_there_are_absent_and_not_null() {
    let answer = PhotoAnswer {
        photo_raw: None,
        elapsed_ms: None,
        stages: None,
        ..full()
    };
    let value = serde_json::to_value(answer).unwrap();
    for field in ["photo_raw", "elapsed_ms", "stages"] {
        assert!(value.get(field).is_none(), "{field}");
    }
}

#[test]
fn words_are_the_documented_ones() {
    let word = |v: Value| v.as_str().map(str::to_owned).unwrap();
    for look in Look::ALL {
        assert_eq!(word(serde_json::to_value(look).unwrap()), look.word());
    }
    for dates in Dates::ALL {
        assert_eq!(word(serde_json::to_value(dates).unwrap()), dates.word());
    }
    for code in ObjectionCode::ALL {
        assert_eq!(word(serde_json::to_value(code).unwrap()), code.word());
    }
    for verdict in Verdict::ALL {
        assert_eq!(word(serde_json::to_value(verdict).unwrap()), verdict.word());
    }
    for &code in ReasonCode::ALL {
        assert_eq!(word(serde_json::to_value(code).unwrap()), code.word());
        assert!(!code.plain().is_empty());
    }
    let roles = [
        (Role::Maker, "maker"),
        (Role::Line, "line"),
        (Role::Retailer, "retailer"),
        (Role::Importer, "importer"),
        (Role::Decorator, "decorator"),
        (Role::DecorationNumber, "decoration-number"),
        (Role::DateCode, "date-code"),
        (Role::Registration, "registration"),
        (Role::Country, "country"),
        (Role::Worker, "worker"),
        (Role::Seconds, "seconds"),
        (Role::Undecided, "undecided"),
    ];
    for (role, text) in roles {
        assert_eq!(word(serde_json::to_value(role).unwrap()), text);
    }
    let means = [
        (Means::Printed, "printed"),
        (Means::Overglaze, "overglaze"),
        (Means::Impressed, "impressed"),
        (Means::Moulded, "moulded"),
        (Means::Incised, "incised"),
        (Means::Handwritten, "handwritten"),
        (Means::PaperLabel, "paper-label"),
        (Means::Undecided, "undecided"),
    ];
    for (means, text) in means {
        assert_eq!(word(serde_json::to_value(means).unwrap()), text);
    }
}

#[test]
fn the_program_prints_what_the_records_read() {
    let picture = slope(1);
    let ran = Tool::new()
        .mark("hollin/fern-ring", &picture)
        .photo("a.jpg", jpeg(&picture))
        .matching(["sale"])
        .exit(0);
    let answer: PhotoAnswer = serde_json::from_str(ran.stdout.trim_end()).unwrap();
    assert_eq!(answer.schema, SCHEMA);
    assert_eq!(answer.photo, "sale/a.jpg");
    let bytes = std::fs::read(ran.folder.path().join("sale/a.jpg")).unwrap();
    assert_eq!(answer.hash.unwrap(), blake3::hash(&bytes).to_hex().as_str());
    assert!(!answer.reasons.is_empty());
    for mark in &answer.marks {
        let shares = mark.candidates.iter().map(|c| c.probability);
        let parts = shares
            .chain([mark.rest, mark.none])
            .map(|p| (p * 1e4).round() as i64);
        assert_eq!(parts.sum::<i64>(), 10_000);
        assert!(
            mark.candidates
                .is_sorted_by(|a, b| a.probability >= b.probability)
        );
    }
}

#[test]
fn timings_are_there_on_request_only() {
    let run = |extra: &[&str]| {
        Tool::new()
            .photo("a.jpg", jpeg(&slope(1)))
            .matching(["sale"])
            .args(extra)
            .exit(0)
            .lines()
            .remove(0)
    };
    let plain = run(&[]);
    assert!(plain.get("elapsed_ms").is_none() && plain.get("stages").is_none());
    let timed = run(&["--timings"]);
    assert!(timed["elapsed_ms"].as_f64().unwrap() > 0.0);
    let stages: Vec<_> = timed["stages"].as_array().unwrap().iter().collect();
    assert_eq!(
        (&stages[0]["stage"], &stages[1]["stage"]),
        (&json!("read"), &json!("decode"))
    );
}

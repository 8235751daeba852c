//! Dates of the Extended Date/Time Format.

use footring::dating::edtf::{Expression, Limit};
use serde::Deserialize;
use serde_json::{Value, json};

use crate::{Failure, request};

#[derive(Deserialize)]
struct Texts {
    texts: Vec<String>,
}

/// Each text as it is printed again, with the first and last day admitted; or where it fails.
pub(crate) fn edtf(value: Value) -> Result<Value, Failure> {
    let Texts { texts } = request("edtf", value)?;
    let read = texts.iter().map(|text| match Expression::parse(text) {
        Ok(expression) => {
            let bounds = expression.bounds();
            json!({
                "printed": expression.to_string(),
                "earliest": told(bounds.earliest),
                "latest": told(bounds.latest),
            })
        }
        Err(error) => json!({ "column": error.column, "error": error.to_string() }),
    });
    Ok(json!({ "read": read.collect::<Vec<_>>() }))
}

/// Year, month, day; or the word for none.
fn told(limit: Limit) -> Value {
    match limit {
        Limit::Day(day) => json!([day.year(), day.month(), day.day()]),
        Limit::Open => json!("open"),
        Limit::Unknown => json!("unknown"),
    }
}

//! What was probably meant by a text that is not of the format.

use super::parse::expression;

/// A way of mending a text; `None` where it does not apply.
type Mend = fn(&str) -> Option<String>;

/// In the order of trust. Only what then reads as an expression is ever proposed.
const MENDS: &[Mend] = &[
    spaces,
    letters,
    old_signs,
    old_ends,
    decade,
    about,
    span,
    short_month,
    run_together,
    long_year,
    no_long_year,
    list,
    circa_decade,
];

/// The text in the format, where one of the known slips explains it.
pub(super) fn instead_of(text: &str) -> Option<String> {
    let plain = text.trim().replace(['–', '—', '‒'], "-");
    let direct = (plain != text && expression(&plain).is_ok()).then(|| plain.clone());
    direct.or_else(|| {
        MENDS
            .iter()
            .filter_map(|mend| mend(&plain))
            .find(|mended| expression(mended).is_ok())
    })
}

/// `[1667, 1668]`, `1930 / 1935`.
fn spaces(text: &str) -> Option<String> {
    Some(text.split_whitespace().collect())
}

/// `193x`, `193u` (the drafts of 2012), `193?`, `193-`, `193_`.
fn letters(text: &str) -> Option<String> {
    let digits = text.trim_end_matches(['x', 'u', 'U', '?', '-', '_', '*']);
    let missing = text.len() - digits.len();
    let plain = digits.len() + missing == 4 && digits.bytes().all(|b| b.is_ascii_digit());
    match plain && !digits.is_empty() {
        true => Some(format!("{digits}{}", "X".repeat(missing))),
        false => Some(text.replace(['x', 'u'], "X")),
    }
}

/// `?~` of the drafts of 2012.
fn old_signs(text: &str) -> Option<String> {
    Some(text.replace("?~", "%").replace("~?", "%"))
}

/// `1930/open`, `unknown/1930` of the drafts of 2012.
fn old_ends(text: &str) -> Option<String> {
    Some(text.replace("open", "..").replace("unknown", ""))
}

/// The digits of `1930s` and `1930's`.
fn decade_digits(text: &str) -> Option<&str> {
    let digits = text.strip_suffix('s')?.trim_end_matches(['\'', '’']);
    let plain = digits.len() == 4 && digits.bytes().all(|b| b.is_ascii_digit());
    (plain && digits.ends_with('0')).then_some(digits)
}

fn decade(text: &str) -> Option<String> {
    let digits = decade_digits(text)?;
    let known = if digits.ends_with("00") { 2 } else { 3 };
    Some(format!("{}{}", &digits[..known], "X".repeat(4 - known)))
}

/// `c. 1930`, `circa 1930`, `about 1930`.
fn after_about(text: &str) -> Option<String> {
    let lower = text.to_lowercase();
    ["circa", "about", "around", "ca.", "ca", "c.", "c"]
        .iter()
        .find_map(|word| lower.strip_prefix(word))
        .map(|rest| rest.trim_start().to_owned())
}

fn about(text: &str) -> Option<String> {
    Some(format!("{}~", after_about(text)?))
}

fn circa_decade(text: &str) -> Option<String> {
    Some(format!("{}~", decade(&after_about(text)?)?))
}

/// `1930-1935`, `1930 - 35`, `1930/35`, `1930-`.
fn span(text: &str) -> Option<String> {
    let (from, to) = text.split_once(['-', '/'])?;
    let (from, to) = (from.trim(), to.trim());
    let to = match to.len() {
        0 => "..".to_owned(),
        2 => format!("{}{to}", from.get(..2)?),
        _ => to.to_owned(),
    };
    Some(format!("{from}/{to}"))
}

/// `1931-6`, `1931-6-2`, `1931/6/2`.
fn short_month(text: &str) -> Option<String> {
    let parts: Vec<&str> = text.split(['-', '/', '.']).collect();
    let written = |part: &&str| match part.len() {
        1 => format!("0{part}"),
        _ => (*part).to_owned(),
    };
    (parts.len() > 1).then(|| parts.iter().map(written).collect::<Vec<_>>().join("-"))
}

/// `193106`, `19310615`.
fn run_together(text: &str) -> Option<String> {
    let plain = text.bytes().all(|b| b.is_ascii_digit());
    match text.len() {
        6 if plain => Some(format!("{}-{}", &text[..4], &text[4..])),
        8 if plain => Some(format!("{}-{}-{}", &text[..4], &text[4..6], &text[6..])),
        _ => None,
    }
}

/// `17000`.
fn long_year(text: &str) -> Option<String> {
    Some(format!("Y{text}"))
}

/// `Y1985`.
fn no_long_year(text: &str) -> Option<String> {
    text.strip_prefix('Y').map(str::to_owned)
}

/// `1930,1931`, `1930 or 1931`.
fn list(text: &str) -> Option<String> {
    let members: String = text.replace(" or ", ",").split_whitespace().collect();
    members.contains(',').then(|| format!("[{members}]"))
}

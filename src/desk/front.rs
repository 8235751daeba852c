//! The files that pages bring along, carried in the program: styles and small modules, as they are.

/// A file by its name, with its kind.
pub(super) fn file(name: &str) -> Option<(&'static str, &'static str)> {
    const SCRIPT: &str = "text/javascript; charset=utf-8";
    Some(match name {
        "desk.css" => ("text/css; charset=utf-8", include_str!("front/desk.css")),
        "desk.js" => (SCRIPT, include_str!("front/desk.js")),
        "lots.js" => (SCRIPT, include_str!("front/lots.js")),
        "decide.js" => (SCRIPT, include_str!("front/decide.js")),
        "glass.js" => (SCRIPT, include_str!("front/glass.js")),
        "family.js" => (SCRIPT, include_str!("front/family.js")),
        "codes.js" => (SCRIPT, include_str!("front/codes.js")),
        "strangers.js" => (SCRIPT, include_str!("front/strangers.js")),
        "pieces.js" => (SCRIPT, include_str!("front/pieces.js")),
        "piece.js" => (SCRIPT, include_str!("front/piece.js")),
        "shelf.js" => (SCRIPT, include_str!("front/shelf.js")),
        "record.js" => (SCRIPT, include_str!("front/record.js")),
        "facts.js" => (SCRIPT, include_str!("front/facts.js")),
        "rings.js" => (SCRIPT, include_str!("front/rings.js")),
        "footring.svg" => ("image/svg+xml", include_str!("front/footring.svg")),
        "nothing.svg" => ("image/svg+xml", include_str!("front/nothing.svg")),
        _ => return None,
    })
}

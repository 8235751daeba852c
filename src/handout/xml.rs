//! Text in XML 1.0.

/// The first line of a file.
pub(super) const DECLARATION: &str = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n";

/// A text without the characters that XML 1.0 does not allow at all.
pub(super) fn xml(text: &str) -> String {
    let allowed = |c: &char| matches!(c, '\t' | '\n' | '\r' | '\u{20}'..='\u{d7ff}' | '\u{e000}'..='\u{fffd}' | '\u{10000}'..);
    text.chars().filter(allowed).collect()
}

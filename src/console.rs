//! Results on standard output, talk on standard error, and file names made harmless for a terminal.

use std::fmt::Display;
use std::io::{self, BufWriter, Write};

use anstyle::{AnsiColor, Style};

use crate::failure::Failure;

/// Something was not done.
pub(crate) fn error(text: &dyn Display) {
    say(AnsiColor::Red, "error", text);
}

/// Something was done otherwise than the person may expect.
pub(crate) fn warning(text: &dyn Display) {
    say(AnsiColor::Yellow, "warning", text);
}

/// What to do next.
pub(crate) fn hint(text: &dyn Display) {
    say(AnsiColor::Cyan, "hint", text);
}

fn say(colour: AnsiColor, word: &str, text: &dyn Display) {
    let style = Style::new().bold().fg_color(Some(colour.into()));
    let text = clean(&text.to_string());
    // Where standard error is closed there is nobody to tell.
    let _ = writeln!(anstream::stderr(), "{style}{word}:{style:#} {text}");
}

/// `text` without what a terminal would obey: control characters become `?`, marks that turn the
/// direction of writing or take no room are dropped.
pub(crate) fn clean(text: &str) -> String {
    text.chars()
        .filter(|c| !matches!(c, '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}'))
        .map(|c| if c.is_control() { '?' } else { c })
        .collect()
}

/// Writes results to standard output. Whoever reads them may go at any time: no failure.
pub(crate) fn print(write: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> Result<(), Failure> {
    let mut out = BufWriter::new(anstream::stdout());
    match write(&mut out).and_then(|()| out.flush()) {
        Err(e) if e.kind() != io::ErrorKind::BrokenPipe => {
            Err(Failure::new(&format!("results not written: {e}"), None))
        }
        _ => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_that_a_terminal_obeys_is_left() {
        assert_eq!(
            clean("a\u{1b}[31m\nb\u{9b}2J\u{202e}gpj.é"),
            "a?[31m?b?2Jgpj.é"
        );
    }
}

//! Lists in a TOML file with entries changed, added or left out, and the comments around the others kept.

use toml_edit::{Array, RawString, Value};

/// An entry of the new list.
#[derive(Debug, Clone)]
pub(super) struct Entry {
    /// Its place in the old list, where it was there.
    pub(super) from: Option<usize>,
    pub(super) value: Value,
}

/// Makes the list hold these entries. What stands above an entry that goes is kept, unless it stands on its own line
/// of the file; a new entry is written as those beside it are.
pub(super) fn arrange(array: &mut Array, entries: Vec<Entry>) {
    let old = Old::of(array);
    let mut made = Array::new();
    let mut used = vec![false; old.above.len()];
    for from in entries.iter().filter_map(|e| e.from) {
        used[from] = true;
    }
    let mut seen = 0;
    // What stands behind the entry before, on the same line.
    let mut behind = old.behind[0].clone();
    for (at, entry) in entries.into_iter().enumerate() {
        let own = match entry.from {
            Some(from) => {
                let kept = old.left_over(seen..from, &used);
                seen = seen.max(from + 1);
                kept + &old.above[from]
            }
            None => old.indent(),
        };
        let moved = entry.from != Some(at);
        let mut value = entry.value;
        let before = joined(&behind, own, moved.then_some(at));
        value.decor_mut().set_prefix(before);
        value.decor_mut().set_suffix("");
        behind = match entry.from {
            Some(from) => old.behind[from + 1].clone(),
            None => String::new(),
        };
        made.push_formatted(value);
    }
    let rest = old.left_over(seen..old.above.len(), &used);
    made.set_trailing(joined(&behind, rest + &old.end, None));
    made.set_trailing_comma(array.trailing_comma());
    *made.decor_mut() = array.decor().clone();
    *array = made;
}

/// What stands around the entries of a list.
struct Old {
    /// Before each, from its line on.
    above: Vec<String>,
    /// Comments behind the bracket and behind each entry, on the same line.
    behind: Vec<String>,
    /// Before the closing bracket.
    end: String,
}

impl Old {
    fn of(array: &Array) -> Self {
        let text = |raw: Option<&RawString>| raw.and_then(RawString::as_str).map(str::to_owned);
        let (mut above, mut behind) = (Vec::new(), Vec::new());
        // Without a comma at the end, what follows the last entry belongs to it.
        let mut end = String::new();
        for (at, value) in array.iter().enumerate() {
            let usual = if at == 0 { "" } else { " " };
            let before = text(value.decor().prefix()).unwrap_or_else(|| usual.to_owned());
            let (first, rest) = parted(&before);
            behind.push(first);
            above.push(rest);
            end = text(value.decor().suffix()).unwrap_or_default();
        }
        if array.trailing_comma() || array.is_empty() {
            end = text(Some(array.trailing())).unwrap_or_default();
        }
        let (first, rest) = parted(&end);
        behind.push(first);
        Self {
            above,
            behind,
            end: rest,
        }
    }

    /// The comments above entries that go.
    fn left_over(&self, places: std::ops::Range<usize>, used: &[bool]) -> String {
        let gone = places.filter(|at| !used[*at]).map(|at| &self.above[at]);
        let comments = gone.filter(|text| text.contains('#'));
        let lines = comments.filter_map(|text| text.rsplit_once('\n'));
        lines.map(|(before, _)| before).collect()
    }

    /// The beginning of a line of the list, or nothing where all stands on one line.
    fn indent(&self) -> String {
        let mut lines = self.above.iter().filter_map(|text| text.rsplit_once('\n'));
        lines
            .next()
            .map(|(_, blank)| format!("\n{blank}"))
            .unwrap_or_default()
    }
}

/// A comment at the beginning of a text, up to the end of its line, and the rest.
fn parted(text: &str) -> (String, String) {
    match text.split_once('\n') {
        Some((first, rest)) if first.contains('#') => (first.to_owned(), format!("\n{rest}")),
        _ => (String::new(), text.to_owned()),
    }
}

/// A comment ends with its line. An entry that came to another place of a list on one line has one blank before it.
fn joined(behind: &str, own: String, place: Option<usize>) -> String {
    let plain = !own.contains('\n');
    match (behind.is_empty(), place) {
        (true, Some(0)) if plain => String::new(),
        (true, Some(_)) if plain => " ".to_owned(),
        (true, _) => own,
        (false, _) if plain => format!("{behind}\n{own}"),
        (false, _) => format!("{behind}{own}"),
    }
}

/// Makes the list hold these texts; those that are there already keep what stands around them.
pub(super) fn arrange_texts(array: &mut Array, texts: &[String]) {
    let old: Vec<Value> = array.iter().cloned().collect();
    let mut next = 0;
    let entries = texts.iter().map(|text| {
        let known = (next..old.len()).find(|at| old[*at].as_str() == Some(text));
        next = known.map_or(next, |at| at + 1);
        let value = match known {
            Some(at) => old[at].clone(),
            None => Value::from(text.as_str()),
        };
        Entry { from: known, value }
    });
    let entries = entries.collect();
    arrange(array, entries);
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use toml_edit::DocumentMut;

    fn changed(text: &str, texts: &[&str]) -> String {
        let mut document: DocumentMut = text.parse().unwrap();
        let texts: Vec<String> = texts.iter().map(|t| (*t).to_owned()).collect();
        arrange_texts(document["a"].as_array_mut().unwrap(), &texts);
        document.to_string()
    }

    #[test]
    fn lists_are_changed_and_their_comments_stay() {
        let long = "a = [ # all\n  \"one\", # first\n  # of the second\n  \"two\",\n  \"three\"\n] # end\n";
        for (text, texts, wanted) in [
            (
                "a = [\"x\", \"y\"]\n",
                &["x", "z", "y"][..],
                "a = [\"x\", \"z\", \"y\"]\n",
            ),
            (
                "a = [ \"x\", \"y\" ] # c\n",
                &["y", "z"],
                "a = [\"y\", \"z\" ] # c\n",
            ),
            ("a = []\n", &["x"], "a = [\"x\"]\n"),
            (
                long,
                &["one", "new", "two", "three", "four"],
                "a = [ # all\n  \"one\", # first\n  \"new\",\n  # of the second\n  \"two\",\n  \"three\",\n  \"four\"\n] # end\n",
            ),
            (
                long,
                &["one", "three"],
                "a = [ # all\n  \"one\", # first\n  # of the second\n  \"three\"\n] # end\n",
            ),
            (
                long,
                &["two"],
                "a = [ # all\n  # of the second\n  \"two\"\n] # end\n",
            ),
            (
                "a = [\n\t\"one\",\n\t\"two\", # last\n]\n",
                &["one", "two", "three"],
                "a = [\n\t\"one\",\n\t\"two\", # last\n\t\"three\",\n]\n",
            ),
            (
                "a = [\n\t\"one\",\n\t\"two\" # last\n]\n",
                &["one", "two", "three"],
                "a = [\n\t\"one\",\n\t\"two\", # last\n\t\"three\"\n]\n",
            ),
        ] {
            let made = changed(text, texts);
            assert_eq!(made, wanted, "{text}");
            assert!(made.parse::<DocumentMut>().is_ok());
        }
    }
}

//! Closes JSON that ends too early, and decodes its text. Layer: `ingest`.

use std::borrow::Cow;

use encoding_rs::{UTF_8, WINDOWS_1252};

/// The text of a file: UTF-8 or UTF-16 with their marks, otherwise windows-1252. Numbers that JSON does
/// not know, which some libraries write for a missing height, become null.
pub(super) fn text(bytes: &[u8]) -> Cow<'_, str> {
    let (text, _, invalid) = UTF_8.decode(bytes);
    let text = if invalid { WINDOWS_1252.decode(bytes).0 } else { text };
    let odd = |c: char| c == '\u{1e}' || c == '\u{feff}';
    if !text.contains("NaN") && !text.contains("Infinity") && !text.contains(odd) {
        return text;
    }
    let mut mended = String::with_capacity(text.len());
    let mut quoted = Quoted::default();
    let mut rest = &*text;
    while let Some(character) = rest.chars().next() {
        let word = ["-Infinity", "Infinity", "NaN"].iter().find(|word| rest.starts_with(**word));
        match word {
            Some(word) if !quoted.inside => {
                mended.push_str("null");
                rest = &rest[word.len()..];
            }
            _ => {
                quoted.pass(character);
                mended.push(if odd(character) && !quoted.inside { ' ' } else { character });
                rest = &rest[character.len_utf8()..];
            }
        }
    }
    Cow::Owned(mended)
}

/// The place of a fault in a text.
pub(super) fn offset(text: &str, fault: &serde_json::Error) -> usize {
    let mut start = 0;
    for _ in 1..fault.line() {
        match text[start..].find('\n') {
            Some(end) => start += end + 1,
            None => break,
        }
    }
    let mut at = (start + fault.column().saturating_sub(1)).min(text.len());
    if fault.is_eof() {
        at = text.len();
    }
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

/// Whether a character lies in a string.
#[derive(Default)]
struct Quoted {
    inside: bool,
    escaped: bool,
}

impl Quoted {
    fn pass(&mut self, character: char) {
        match character {
            _ if self.escaped => self.escaped = false,
            '\\' if self.inside => self.escaped = true,
            '"' => self.inside = !self.inside,
            _ => {}
        }
    }
}

/// The text up to the last value that is complete, with its brackets closed.
pub(super) fn closed(text: &str) -> String {
    let mut open: Vec<char> = Vec::new();
    // the last complete value ends here, at this depth
    let mut safe = (0, 0);
    let mut quoted = Quoted::default();
    for (at, character) in text.char_indices() {
        quoted.pass(character);
        if quoted.inside {
            continue;
        }
        match character {
            '{' => open.push('}'),
            '[' => {
                open.push(']');
                safe = (at + 1, open.len());
            }
            '}' | ']' => {
                if open.pop() != Some(character) {
                    break;
                }
                safe = (at + 1, open.len());
            }
            ',' => safe = (at, open.len()),
            _ => {}
        }
    }
    let (end, depth) = safe;
    open.truncate(depth);
    let mut whole = text[..end].to_owned();
    whole.extend(open.iter().rev());
    whole
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_complete_is_closed() {
        assert_eq!(closed(r#"{"a":[[1,2],[3,4"#), r#"{"a":[[1,2],[3]]}"#);
        assert_eq!(closed(r#"{"a":1,"b"#), r#"{"a":1}"#);
        assert_eq!(closed(r#"{"a":"x]\"","b":[{"c":tru"#), r#"{"a":"x]\"","b":[]}"#);
        assert_eq!(closed(r#"{"a":1}]"#), r#"{"a":1}"#);
        assert_eq!(closed(""), "");
    }

    #[test]
    fn numbers_that_json_does_not_know_become_null() {
        let mended = text(br#"{"NaN":[NaN,-Infinity,1],"a":"Infinity \" NaN"}"#);
        assert_eq!(mended, r#"{"NaN":[null,null,1],"a":"Infinity \" NaN"}"#);
        assert_eq!(text(b"{\"a\":\"R\xFCcken\"}"), "{\"a\":\"R\u{fc}cken\"}");
    }
}

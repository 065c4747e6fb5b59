//! Shows characters that would steer a terminal instead of sending them: names, notes and paths come from
//! other people. Layer: `error`.

use std::borrow::Cow;
use std::fmt::Write as _;

/// A text of several lines in which nothing but line breaks steers the terminal. Control characters (C0 but
/// for LF and CR LF, DEL, C1), separators of lines and paragraphs (U+2028, U+2029) and characters that change the
/// direction of writing are written as in JSON: `\u001b`. A JSON text means the same before and after.
///
/// # References
/// ECMA-48 (1991), clauses 5.2 and 5.3; Unicode Standard Annex 9, section 2 (explicit directional
/// formatting characters); RFC 8259, section 7.
#[must_use]
pub fn visible(text: &str) -> Cow<'_, str> {
    shown(
        text,
        |c| c != '\n' && steers(c),
        |escaped, c| {
            // writing to a string cannot fail
            let _ = match c {
                '\t' => escaped.write_str("\\t"),
                '\r' => escaped.write_str("\\r"),
                c => write!(escaped, "\\u{:04x}", u32::from(c)),
            };
        },
    )
}

/// The same for a text that is to stay on one line: line breaks are shown, too.
#[must_use]
pub fn visible_line(text: &str) -> Cow<'_, str> {
    match visible(text) {
        Cow::Borrowed(text) if !text.contains('\n') => Cow::Borrowed(text),
        text => Cow::Owned(text.replace("\r\n", "\\n").replace('\n', "\\n")),
    }
}

/// The same for an XML text: written as references, so that it means the same before and after.
#[must_use]
pub fn visible_xml(text: &str) -> Cow<'_, str> {
    shown(
        text,
        |c| !matches!(c, '\n' | '\t') && steers(c),
        |escaped, c| {
            let _ = write!(escaped, "&#x{:x};", u32::from(c));
        },
    )
}

fn shown(
    text: &str,
    hidden: impl Fn(char) -> bool,
    mut escape: impl FnMut(&mut String, char),
) -> Cow<'_, str> {
    if !text.contains(&hidden) {
        return Cow::Borrowed(text);
    }
    let mut escaped = String::with_capacity(text.len() + 16);
    let mut chars = text.chars().peekable();
    while let Some(c) = chars.next() {
        let ends_a_line = c == '\r' && chars.peek() == Some(&'\n');
        if hidden(c) && !ends_a_line {
            escape(&mut escaped, c);
        } else {
            escaped.push(c);
        }
    }
    Cow::Owned(escaped)
}

/// Control characters and those that change the direction of writing as the replacement character, one for one:
/// for documents, in which no escape means them. Tabs and line breaks stay.
#[must_use]
pub fn replaced(text: &str) -> Cow<'_, str> {
    let hidden = |c: char| is_hidden(c);
    if !text.contains(hidden) {
        return Cow::Borrowed(text);
    }
    Cow::Owned(
        text.chars().map(|c| if hidden(c) { char::REPLACEMENT_CHARACTER } else { c }).collect(),
    )
}

/// Whether a character steers a reader's program instead of being shown, or belongs to no text.
pub fn is_hidden(c: char) -> bool {
    !matches!(c, '\t' | '\n' | '\r') && (steers(c) || matches!(c, '\u{fffe}' | '\u{ffff}'))
}

/// The longest part of a text that a message repeats, characters.
const LONGEST_PART: usize = 200;
/// The longest sentence of a message, characters.
const LONGEST_SENTENCE: usize = 1_000;

/// A sentence of a message about input that may be endless: words of more than 200 characters and sentences of
/// more than 1,000 lose their middle.
#[must_use]
pub fn bounded(text: String) -> String {
    if text.len() <= LONGEST_PART {
        return text;
    }
    let words = text.split_inclusive(char::is_whitespace);
    let text: String = words.map(|word| without_middle(word, LONGEST_PART)).collect();
    without_middle(&text, LONGEST_SENTENCE).into_owned()
}

/// The first two thirds and the end of a text that is longer than `most` characters.
#[must_use]
pub fn without_middle(text: &str, most: usize) -> Cow<'_, str> {
    let length = text.chars().count();
    if length <= most {
        return Cow::Borrowed(text);
    }
    let end = most / 3;
    let head: String = text.chars().take(most - end - 1).collect();
    let tail: String = text.chars().skip(length - end).collect();
    Cow::Owned(format!("{head}\u{2026}{tail}"))
}

fn steers(c: char) -> bool {
    c.is_control() || matches!(c, '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_steers_the_terminal() {
        let hostile = "a\u{1b}[2J\u{9b}31m\u{7}\u{8}\r\u{202e}b\u{2066}\u{7f}\tend\n";
        assert_eq!(
            visible(hostile),
            "a\\u001b[2J\\u009b31m\\u0007\\u0008\\r\\u202eb\\u2066\\u007f\\tend\n"
        );
        assert_eq!(visible_line("two\nlines\u{2028}"), "two\\nlines\\u2028");
        assert_eq!(visible("a\u{2028}b\u{2029}\n"), "a\\u2028b\\u2029\n");
        assert_eq!(visible_line("a\r\nb\rc"), "a\\nb\\rc");
        assert_eq!(visible("a,b\r\nc\rd\u{1b}\r\n"), "a,b\r\nc\\rd\\u001b\r\n");
        assert!(matches!(visible("Noël Brambletoft-Peña 茸\n"), Cow::Borrowed(_)));
    }

    #[test]
    fn documents_show_a_replacement_for_each_hidden_character() {
        assert_eq!(replaced("a\u{9b}b\u{202e}c\u{0}\td\n"), "a\u{fffd}b\u{fffd}c\u{fffd}\td\n");
        assert_eq!(replaced("a\u{2028}b\u{2029}"), "a\u{fffd}b\u{fffd}");
        assert!(is_hidden('\u{2028}') && is_hidden('\u{2029}'));
        assert!(matches!(replaced("Noël 茸 \u{200e}"), Cow::Borrowed(_)));
    }

    #[test]
    fn endless_input_is_not_repeated() {
        let endless = bounded(format!("--at {} is not a time", "9".repeat(1_000_000)));
        assert!(endless.chars().count() < 230 && endless.ends_with("is not a time"), "{endless}");
        let words = bounded(format!("\"{}\" is not a position", "1 ".repeat(1_000_000)));
        assert!(words.chars().count() <= 1_000 && words.ends_with("is not a position"), "{words}");
        assert_eq!(bounded("é".repeat(150)), "é".repeat(150));
    }

    #[test]
    fn json_and_xml_mean_the_same() {
        let name = "x\u{1b}\u{202e}\u{85}\u{7f}";
        let json = serde_json::to_string(name).unwrap();
        assert_eq!(serde_json::from_str::<String>(&visible(&json)).unwrap(), name);
        assert_eq!(visible_xml("<a>\u{202e}\u{85}</a>\n"), "<a>&#x202e;&#x85;</a>\n");
    }
}

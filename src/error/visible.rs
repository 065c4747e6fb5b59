//! Shows characters that would steer a terminal instead of sending them: names, notes and paths come from
//! other people. Layer: `error`.

use std::borrow::Cow;
use std::fmt::Write as _;

/// A text of several lines in which nothing but line breaks steers the terminal. Control characters (C0 but
/// for LF and CR LF, DEL, C1) and characters that change the direction of writing are written as in JSON:
/// `\u001b`. A JSON text means the same before and after.
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
    const BREAKS: [char; 3] = ['\n', '\u{2028}', '\u{2029}'];
    match visible(text) {
        Cow::Borrowed(text) if !text.contains(BREAKS) => Cow::Borrowed(text),
        text => Cow::Owned(text.replace("\r\n", "\\n").replace(BREAKS, "\\n")),
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

fn steers(c: char) -> bool {
    c.is_control() || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
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
        assert_eq!(visible_line("two\nlines\u{2028}"), "two\\nlines\\n");
        assert_eq!(visible_line("a\r\nb\rc"), "a\\nb\\rc");
        assert_eq!(visible("a,b\r\nc\rd\u{1b}\r\n"), "a,b\r\nc\\rd\\u001b\r\n");
        assert!(matches!(visible("Noël Brambletoft-Peña 茸\n"), Cow::Borrowed(_)));
    }

    #[test]
    fn json_and_xml_mean_the_same() {
        let name = "x\u{1b}\u{202e}\u{85}\u{7f}";
        let json = serde_json::to_string(name).unwrap();
        assert_eq!(serde_json::from_str::<String>(&visible(&json)).unwrap(), name);
        assert_eq!(visible_xml("<a>\u{202e}\u{85}</a>\n"), "<a>&#x202e;&#x85;</a>\n");
    }
}

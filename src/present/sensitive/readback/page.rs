//! Reads an HTML page back: its visible text, line by line, and the marks of its drawings. Layer:
//! `present`.

use super::Statement;

/// Reads a page: one statement for the words between its tags.
#[must_use]
pub fn page(html: &str) -> Statement {
    let mut whole = Statement::default();
    let mut rest = html;
    while let Some(open) = rest.find('<') {
        let text = rest[..open].trim();
        if !text.is_empty() {
            whole.add_text(text);
        }
        let end = skip(&rest[open..]);
        rest = rest[open..].get(end..).unwrap_or_default();
    }
    whole.add_text(rest.trim());
    whole
}

/// The length of a tag, or of a script or style.
fn skip(from: &str) -> usize {
    for (begin, end) in [("<script", "</script>"), ("<style", "</style>")] {
        if from.starts_with(begin) {
            return from.find(end).map_or(from.len(), |at| at + end.len());
        }
    }
    from.find('>').map_or(from.len(), |at| at + 1)
}

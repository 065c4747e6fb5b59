//! Reads a quotation mark that fills a cell of a text table as a ditto mark: `2;";";Russula`. A program that writes such
//! tables doubles it; a person with a text editor does not. Layer: `ingest`.

use std::borrow::Cow;

/// The text with each such cell quoted. `width`: how many cells the headings have.
pub(super) fn closed(text: &str, delimiter: u8, width: usize) -> Cow<'_, str> {
    let delimiter = char::from(delimiter);
    if !text.contains('"') || !text.lines().any(|line| has_mark(line, delimiter, width)) {
        return Cow::Borrowed(text);
    }
    let mut closed = String::with_capacity(text.len() + 64);
    let mut quoted = false;
    let mut lines = text.split_inclusive('\n').peekable();
    while let Some(line) = lines.next() {
        let body = line.trim_end_matches(['\n', '\r']);
        let next = lines.peek().map(|next| next.trim_end_matches(['\n', '\r']));
        // at the end of a line it may open a cell of several lines: the next line must be a row like this one
        let goes_on = |own: &[&str]| {
            let is_like = |next: Vec<&str>| {
                next.len() == own.len() && has_digit(next[0]) && has_digit(own[0])
            };
            next.is_none_or(|next| cells(next, delimiter).is_some_and(is_like))
        };
        let is_marked = |own: &[&str]| {
            let before = own.split_last().map_or(&[][..], |(_, before)| before);
            are_marked(own, width) && (before.iter().any(|cell| is_mark(cell)) || goes_on(own))
        };
        let cells = cells(body, delimiter).filter(|own| !quoted && is_marked(own));
        if let Some(cells) = cells {
            for (place, cell) in cells.into_iter().enumerate() {
                if place > 0 {
                    closed.push(delimiter);
                }
                closed.push_str(if is_mark(cell) { "\"\"\"\"" } else { cell });
            }
            closed.push_str(&line[body.len()..]);
        } else {
            quoted = ends_quoted(body, delimiter, quoted);
            closed.push_str(line);
        }
    }
    Cow::Owned(closed)
}

/// Whether a cell can be a number, a date or a time, with which rows begin.
fn has_digit(cell: &str) -> bool {
    cell.contains(|letter: char| letter.is_ascii_digit())
}

fn is_mark(cell: &str) -> bool {
    cell.trim() == "\""
}

fn has_mark(line: &str, delimiter: char, width: usize) -> bool {
    line.contains('"') && cells(line, delimiter).is_some_and(|cells| are_marked(&cells, width))
}

/// Whether cells are no more than the headings, and one of them is such a mark.
fn are_marked(cells: &[&str], width: usize) -> bool {
    cells.len() <= width && cells.iter().any(|cell| is_mark(cell))
}

/// The cells of a line with their quotation marks, of which one alone is a cell; `None` where another one is open.
fn cells(line: &str, delimiter: char) -> Option<Vec<&str>> {
    let mut cells = Vec::new();
    let mut rest = line;
    loop {
        let plain = rest.find(delimiter).unwrap_or(rest.len());
        let front = rest[..plain].trim();
        let end = if is_mark(front) || !front.starts_with('"') {
            // `"; text"` is a quoted text
            if !is_mark(front) && front.ends_with('"') {
                return None;
            }
            plain
        } else {
            quoted_length(rest, delimiter)?
        };
        cells.push(&rest[..end]);
        match rest[end..].strip_prefix(delimiter) {
            Some(behind) => rest = behind,
            None => return Some(cells),
        }
    }
}

/// Where a quoted cell ends: before a delimiter or at the end of the line.
fn quoted_length(text: &str, delimiter: char) -> Option<usize> {
    let begin = text.find('"')? + 1;
    let mut quoted = true;
    for (place, c) in text[begin..].char_indices() {
        if c == '"' {
            quoted = !quoted;
        } else if !quoted && c == delimiter {
            return Some(begin + place);
        }
    }
    (!quoted).then_some(text.len())
}

/// Whether a quoted cell is open at the end of a line.
fn ends_quoted(line: &str, delimiter: char, mut quoted: bool) -> bool {
    let mut before = delimiter;
    let mut chars = line.chars().peekable();
    while let Some(c) = chars.next() {
        match (quoted, c) {
            (false, '"') if before == delimiter => quoted = true,
            (true, '"') if chars.next_if_eq(&'"').is_some() => {}
            (true, '"') => quoted = false,
            _ => {}
        }
        before = c;
    }
    quoted
}

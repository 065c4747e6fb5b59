//! Reads the lines of a delimited text one by one and separates their cells. A line's memory is
//! bounded, and an unclosed quotation mark affects its own line only. Layer: `ingest`.

use std::borrow::Cow;
use std::collections::VecDeque;
use std::io::{self, BufRead, Read};

/// The longest line, bytes (chosen).
const LONGEST_LINE: u64 = 1 << 20;
/// The most lines that one quoted cell may hold (chosen).
const MOST_LINES: usize = 40;

/// How lines are divided into cells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Form {
    pub(super) delimiter: char,
    pub(super) quote: Option<char>,
}

/// One line, or several of one quoted cell.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Line {
    /// Its number, from one, and its text.
    Text(u64, String),
    /// The number of one that is longer than trug reads.
    TooLong(u64),
}

/// The lines of a reader.
pub(super) struct Lines<R> {
    inner: R,
    number: u64,
    /// Lines that were read in search of the end of a quoted cell.
    ahead: VecDeque<Line>,
}

impl<R: BufRead> Lines<R> {
    pub(super) fn new(inner: R) -> Self {
        Self { inner, number: 0, ahead: VecDeque::new() }
    }

    /// The next line as it stands.
    pub(super) fn next(&mut self) -> io::Result<Option<Line>> {
        if let Some(line) = self.ahead.pop_front() {
            return Ok(Some(line));
        }
        self.read()
    }

    /// The cells of the next row that is not blank.
    pub(super) fn row(&mut self, form: Form) -> io::Result<Option<Row>> {
        while let Some(line) = self.next()? {
            let (number, text) = match line {
                Line::TooLong(number) => return Ok(Some(Row { line: number, cells: None })),
                Line::Text(_, text) if text.trim().is_empty() => continue,
                Line::Text(number, text) => (number, text),
            };
            let cells = match cells(&text, form) {
                Some(cells) => cells,
                None => self.continued(&text, form)?,
            };
            return Ok(Some(Row { line: number, cells: Some(cells) }));
        }
        Ok(None)
    }

    /// The cells of a line whose last quotation mark is closed on a later one; the line alone where none is.
    fn continued(&mut self, text: &str, form: Form) -> io::Result<Vec<String>> {
        let mut whole = text.to_owned();
        let mut taken = Vec::new();
        while taken.len() < MOST_LINES && (whole.len() as u64) < LONGEST_LINE {
            match self.next()? {
                Some(Line::Text(number, next)) => {
                    whole.push('\n');
                    whole.push_str(&next);
                    taken.push(Line::Text(number, next));
                    if let Some(cells) = cells(&whole, form) {
                        return Ok(cells);
                    }
                }
                Some(other) => {
                    taken.push(other);
                    break;
                }
                None => break,
            }
        }
        taken.into_iter().rev().for_each(|line| self.ahead.push_front(line));
        Ok(cells(text, Form { quote: None, ..form }).unwrap_or_default())
    }

    fn read(&mut self) -> io::Result<Option<Line>> {
        let mut bytes = Vec::new();
        self.inner.by_ref().take(LONGEST_LINE).read_until(b'\n', &mut bytes)?;
        if bytes.is_empty() {
            return Ok(None);
        }
        self.number += 1;
        if bytes.last() != Some(&b'\n') && bytes.len() as u64 == LONGEST_LINE {
            while !bytes.is_empty() && bytes.last() != Some(&b'\n') {
                bytes.clear();
                self.inner.by_ref().take(LONGEST_LINE).read_until(b'\n', &mut bytes)?;
            }
            return Ok(Some(Line::TooLong(self.number)));
        }
        while matches!(bytes.last(), Some(b'\n' | b'\r')) {
            bytes.pop();
        }
        Ok(Some(Line::Text(self.number, decoded(bytes))))
    }
}

/// UTF-8, else windows-1252, in which every byte is a letter.
fn decoded(bytes: Vec<u8>) -> String {
    let text = String::from_utf8(bytes).unwrap_or_else(|other| {
        let (text, _) = encoding_rs::WINDOWS_1252.decode_without_bom_handling(other.as_bytes());
        Cow::into_owned(text)
    });
    match text.strip_prefix('\u{feff}') {
        Some(rest) => rest.to_owned(),
        None => text,
    }
}

/// A row with the number of its first line.
pub(super) struct Row {
    pub(super) line: u64,
    /// `None` where the line is too long.
    pub(super) cells: Option<Vec<String>>,
}

/// The cells of a line, trimmed; `None` where a quotation mark is not closed.
fn cells(text: &str, form: Form) -> Option<Vec<String>> {
    let mut cells = Vec::with_capacity(24);
    let mut rest = text;
    loop {
        let quoted = form.quote.filter(|quote| rest.trim_start().starts_with(*quote));
        let (cell, after) = match quoted {
            Some(quote) => quoted_cell(rest.trim_start(), quote, form.delimiter)?,
            None => match rest.split_once(form.delimiter) {
                Some((cell, after)) => (cell.trim().to_owned(), Some(after)),
                None => (rest.trim().to_owned(), None),
            },
        };
        cells.push(cell);
        match after {
            Some(after) => rest = after,
            None => return Some(cells),
        }
    }
}

/// A cell in quotation marks, doubled ones within it, and what follows its delimiter.
fn quoted_cell(text: &str, quote: char, delimiter: char) -> Option<(String, Option<&str>)> {
    let mut cell = String::new();
    let mut rest = text.strip_prefix(quote)?;
    loop {
        let (part, after) = rest.split_once(quote)?;
        cell.push_str(part);
        if let Some(more) = after.strip_prefix(quote) {
            cell.push(quote);
            rest = more;
            continue;
        }
        let (behind, next) = match after.split_once(delimiter) {
            Some((behind, next)) => (behind, Some(next)),
            None => (after, None),
        };
        cell.push_str(behind);
        return Some((cell.trim().to_owned(), next));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const COMMAS: Form = Form { delimiter: ',', quote: Some('"') };

    fn rows(text: &str, form: Form) -> Vec<Vec<String>> {
        let mut lines = Lines::new(text.as_bytes());
        std::iter::from_fn(|| lines.row(form).unwrap()).filter_map(|row| row.cells).collect()
    }

    #[test]
    fn cells_are_separated() {
        assert_eq!(
            rows("a, b ,c\r\n\n\"x,\"\"y\",,z", COMMAS),
            [["a", "b", "c"], ["x,\"y", "", "z"]]
        );
        let tabs = Form { delimiter: '\t', quote: None };
        assert_eq!(rows("a\t\"b\tc\"", tabs), [["a", "\"b", "c\""]]);
        assert_eq!(rows("a,\"b\nc\",d\ne,f,g", COMMAS), [["a", "b\nc", "d"], ["e", "f", "g"]]);
    }

    #[test]
    fn unclosed_quote_affects_its_line_only() {
        assert_eq!(rows("a,\"b\nc,d\n", COMMAS), [["a", "\"b"], ["c", "d"]]);
    }

    #[test]
    fn letters_of_older_encodings_are_read() {
        let mut lines = Lines::new(&b"\xef\xbb\xbfK\xfchner"[..]);
        assert_eq!(lines.next().unwrap(), Some(Line::Text(1, "\u{ef}\u{bb}\u{bf}Kühner".into())));
        let mut lines = Lines::new("\u{feff}Kühner".as_bytes());
        assert_eq!(lines.next().unwrap(), Some(Line::Text(1, "Kühner".into())));
    }

    #[test]
    fn endless_lines_are_skipped() {
        let long = "x".repeat(usize::try_from(LONGEST_LINE).unwrap() * 2 + 5) + "\nnext";
        let mut lines = Lines::new(long.as_bytes());
        assert_eq!(lines.next().unwrap(), Some(Line::TooLong(1)));
        assert_eq!(lines.next().unwrap(), Some(Line::Text(2, "next".into())));
    }
}

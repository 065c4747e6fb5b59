//! Which cells does a text hold, and on which line does each row begin? Finds the delimiter and the
//! row of headings; blank lines, cells of several lines and a quote that never closes are no error.
//! Refuses a text without two known headings. Layer: `ingest`.

use super::headings::{Column, column};

/// Rows of title and explanation that may stand above the headings.
const ROWS_ABOVE: usize = 12;
const DELIMITERS: [u8; 4] = *b",;\t|";

/// A row with the line on which it begins, counted from one.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Row {
    pub(super) line: u64,
    pub(super) cells: Vec<String>,
}

/// A table with its headings.
#[derive(Debug)]
pub(super) struct Table {
    pub(super) headings: Vec<String>,
    pub(super) rows: Vec<Row>,
    pub(super) delimiter: char,
    /// Lines on which a quote opens that never closes.
    pub(super) open_quotes: Vec<u64>,
}

/// Reads a table; `None` where no row of the first twelve names at least two known columns.
pub(super) fn read(text: &str) -> Option<Table> {
    // a second byte-order mark, left by joining files, is no part of a heading
    let text = text.trim_start_matches('\u{feff}');
    let delimiter = delimiter(text)?;
    let (mut rows, open_quotes) = rows(text, delimiter);
    let (head, _) = head(&rows)?;
    let headings = rows.drain(..=head).next_back()?.cells;
    rows.retain(|row| row.cells != headings);
    Some(Table { headings, rows, delimiter: char::from(delimiter), open_quotes })
}

/// The delimiter under which the most headings are known.
fn delimiter(text: &str) -> Option<u8> {
    let front: String = text.split_inclusive('\n').take(ROWS_ABOVE * 4).collect();
    DELIMITERS
        .into_iter()
        .filter_map(|delimiter| {
            let (rows, _) = rows(&front, delimiter);
            let (row, known) = head(&rows)?;
            Some((known, rows[row].cells.len(), delimiter))
        })
        .reduce(|best, next| if (next.0, next.1) > (best.0, best.1) { next } else { best })
        .map(|(.., delimiter)| delimiter)
}

/// The row of headings and how many of them are known, at least two.
fn head(rows: &[Row]) -> Option<(usize, usize)> {
    let known = |row: &Row| {
        let mut columns: Vec<Column> = row.cells.iter().filter_map(|cell| column(cell)).collect();
        columns.sort_unstable();
        columns.dedup();
        columns.len()
    };
    let counted = rows.iter().take(ROWS_ABOVE).map(known).enumerate();
    let best = counted.reduce(|best, next| if next.1 > best.1 { next } else { best })?;
    (best.1 >= 2).then_some(best)
}

/// All rows that are not blank. A row that never closes its quote is read again without quotes.
fn rows(text: &str, delimiter: u8) -> (Vec<Row>, Vec<u64>) {
    let mut rows = Vec::new();
    let mut open_quotes = Vec::new();
    let mut lines = Lines { text, byte: 0, line: 1 };
    let mut begin = 0;
    while let Some(open) = quoted_rows(text, begin, delimiter, &mut lines, &mut rows) {
        let end = text[open..].find(['\n', '\r']).map_or(text.len(), |length| open + length);
        let line = lines.at(open);
        open_quotes.push(line);
        rows.extend(plain_row(&text[open..end], delimiter, line));
        begin = end;
    }
    (rows, open_quotes)
}

/// Reads rows from a byte on; returns where a row begins whose quote never closes.
fn quoted_rows(
    text: &str,
    begin: usize,
    delimiter: u8,
    lines: &mut Lines<'_>,
    rows: &mut Vec<Row>,
) -> Option<usize> {
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(delimiter)
        .has_headers(false)
        .flexible(true)
        .from_reader(&text.as_bytes()[begin..]);
    let mut record = csv::StringRecord::new();
    while reader.read_record(&mut record).unwrap_or(false) {
        let place = |position: &csv::Position| {
            begin + usize::try_from(position.byte()).unwrap_or(usize::MAX)
        };
        let start = place(record.position()?);
        let start = start + blank_length(&text[start..]);
        let span = &text[start..place(reader.position()).min(text.len())];
        if span.trim_end().contains(['\n', '\r']) && !is_well_quoted(span, delimiter) {
            return Some(start);
        }
        if record.iter().any(|cell| !cell.trim().is_empty()) {
            let cells = record.iter().map(str::to_owned).collect();
            rows.push(Row { line: lines.at(start), cells });
        }
    }
    None
}

/// Whether every quote of a row that spans several lines closes before a delimiter or the end.
fn is_well_quoted(span: &str, delimiter: u8) -> bool {
    let mut quoted = false;
    let mut before = delimiter;
    let mut bytes = span.trim_end().bytes().peekable();
    while let Some(byte) = bytes.next() {
        match (quoted, byte) {
            (false, b'"') if before == delimiter => quoted = true,
            (true, b'"') if bytes.next_if_eq(&b'"').is_some() => {}
            (true, b'"') => match bytes.peek() {
                None => quoted = false,
                Some(&next) if next == delimiter => quoted = false,
                Some(_) => return false,
            },
            _ => {}
        }
        before = byte;
    }
    !quoted
}

fn plain_row(line_text: &str, delimiter: u8, line: u64) -> Option<Row> {
    let cells: Vec<String> = line_text
        .split(char::from(delimiter))
        .map(|cell| cell.trim_matches('"').to_owned())
        .collect();
    cells.iter().any(|cell| !cell.trim().is_empty()).then_some(Row { line, cells })
}

/// The reader of rows counts the blank lines before a row as its own.
fn blank_length(text: &str) -> usize {
    text.len() - text.trim_start_matches(['\n', '\r']).len()
}

/// Counts lines while walking forward.
struct Lines<'t> {
    text: &'t str,
    byte: usize,
    line: u64,
}

impl Lines<'_> {
    fn at(&mut self, byte: usize) -> u64 {
        let passed = &self.text.as_bytes()[self.byte..byte];
        let breaks = passed.iter().enumerate().filter(|&(index, &b)| {
            let next = self.text.as_bytes().get(self.byte + index + 1);
            b == b'\n' || (b == b'\r' && next != Some(&b'\n'))
        });
        self.line += breaks.count() as u64;
        self.byte = byte;
        self.line
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(text: &str) -> Vec<u64> {
        read(text).unwrap().rows.iter().map(|row| row.line).collect()
    }

    #[test]
    fn lines_are_right_after_blank_lines_and_long_cells() {
        let text = "\nNumber,Notes\n\n1,\"brown\nthen black\n\nslowly\"\n\n , \n2,x\n";
        assert_eq!(lines(text), [4, 10]);
        assert_eq!(lines(&text.replace('\n', "\r\n")), [4, 10]);
        assert_eq!(lines(&text.replace('\n', "\r")), [4, 10]);
    }

    #[test]
    fn the_delimiter_is_the_one_that_gives_headings() {
        for (text, delimiter) in [
            ("number,date\n1,2", ','),
            ("number;date;notes, of all kinds\n1;2;a, b", ';'),
            ("number\tdate\n1\t2", '\t'),
            ("number|date\n1|2", '|'),
            ("sep=;\nnumber;date\n1;2", ';'),
        ] {
            let table = read(text).unwrap();
            assert_eq!(table.delimiter, delimiter);
            assert_eq!(table.rows[0].cells[..2], ["1", "2"]);
        }
    }

    #[test]
    fn titles_above_and_repeated_headings_are_passed_over() {
        let table =
            read("Walk of the society,,\nnumber,date,place\n1,x,y\nnumber,date,place\n2,x,y\n");
        let table = table.unwrap();
        assert_eq!(table.headings, ["number", "date", "place"]);
        assert_eq!(table.rows.len(), 2);
        assert_eq!(table.rows[1].line, 5);
    }

    #[test]
    fn a_quote_that_never_closes_costs_one_row_only() {
        let table = read("number,notes\n1,\"brown\n2,black\n3,\"a \"\"b\"\"\"\n4,z\n").unwrap();
        let cells: Vec<_> = table.rows.iter().map(|row| row.cells.join("|")).collect();
        assert_eq!(cells.len(), 4, "{cells:?}");
        assert_eq!(cells[0], "1|brown");
        assert_eq!(cells[2], "3|a \"b\"");
        assert_eq!(table.open_quotes, [2]);
        let twice = read("number,notes\n1,\"brown\n2,black\n3,\"soft\n4,z\n").unwrap();
        assert_eq!(twice.rows.len(), 4);
        assert_eq!(twice.open_quotes, [2, 4]);
        let inches = read("number,notes\n1,cap 5\" wide\n2,x\n").unwrap();
        assert_eq!(inches.rows.len(), 2);
        assert_eq!(inches.open_quotes, [0; 0]);
    }

    #[test]
    fn texts_that_are_no_tables_are_refused() {
        assert!(read("").is_none());
        assert!(read("A letter, with a date\nand more, of it\n").is_none());
        assert!(read("price,article\n1,2\n").is_none());
    }
}

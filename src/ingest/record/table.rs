//! Splits a text into rows and cells, with the line on which each row begins. Detects the delimiter
//! and the heading line; blank lines, multi-line cells and unclosed quotes are accepted. Refuses a
//! text without two known headings and one that exceeds a [`Limit`], so that time and memory are
//! proportional to the text. Layer: `ingest`.

use std::fmt;
use std::io::{self, Read, Seek, SeekFrom};
use std::ops::Range;

use compact_str::CompactString;

use super::columns::Columns;
use super::day_rows;
use super::heading_rows::{self, Headings};
use super::quotes;
use crate::error::Error;

/// Rows of title and explanation that may stand above the headings.
const ROWS_ABOVE: usize = 12;
const DELIMITERS: [u8; 4] = *b",;\t|";
/// The delimiter and the headings are found in so much text at the most, bytes: 10,000 headings of
/// 26.
const FRONT: usize = 256 * 1024;
/// A row is not longer, bytes: 200 times the longest row of a herbarium's export (common practice).
const LONGEST_ROW: usize = 1024 * 1024;
/// Tables of field records have 10 to 200 columns (Darwin Core has about 200 terms).
pub(super) const MOST_COLUMNS: usize = 10_000;
/// More than 50 years of 2,000 finds.
pub(super) const MOST_ROWS: usize = 100_000;
/// Cells of all rows, of which a filled one takes up to 200 bytes and an empty one 24.
pub(super) const MOST_CELLS: usize = 4_000_000;
/// The text of all cells, bytes: a text that many cells share counts for each of them.
pub(super) const LONGEST_TEXT: usize = 48 * 1024 * 1024;
const MOST_FILLED_CELLS: usize = 1_000_000;
/// The CSV reader's buffer, bytes; it is rebuilt after each quote that never closes.
const BUFFER: usize = 4 * 1024;

/// What a table exceeds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Limit {
    /// More columns than [`MOST_COLUMNS`].
    Columns(usize),
    /// More rows than [`MOST_ROWS`].
    Rows,
    /// More cells than [`MOST_CELLS`], or more filled ones than this.
    Cells(usize),
    /// More text in all cells than [`LONGEST_TEXT`].
    Text,
    /// The row that begins on this line is longer than [`LONGEST_ROW`].
    RowLength(u64),
}

impl fmt::Display for Limit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Columns(count) => {
                write!(f, "it has {count} columns; the limit is {MOST_COLUMNS}")
            }
            Self::Rows => write!(f, "it has more than {MOST_ROWS} rows, which is the limit"),
            Self::Cells(filled) => {
                write!(f, "the limit is {MOST_CELLS} cells with {filled} filled ones; it has more")
            }
            Self::Text => write!(
                f,
                "its cells hold more than {} MiB of text, which is the limit",
                LONGEST_TEXT >> 20
            ),
            Self::RowLength(line) => {
                write!(
                    f,
                    "line {line} is longer than {} KiB, which is the limit",
                    LONGEST_ROW >> 10
                )
            }
        }
    }
}

/// A row with the line on which it begins, counted from one.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Row {
    pub(super) line: u64,
    /// Short texts take no memory of their own.
    pub(super) cells: Vec<CompactString>,
}

/// A table with its headings.
#[derive(Debug)]
pub(super) struct Table {
    pub(super) headings: Vec<String>,
    /// The rows above the headings.
    pub(super) above: Vec<Row>,
    pub(super) rows: Vec<Row>,
    pub(super) delimiter: char,
    /// Lines on which a quote opens that never closes.
    pub(super) open_quotes: Vec<u64>,
    /// The rows of the headings as they stand, by which later rows are recognised that repeat them.
    pub(super) own: Vec<Vec<CompactString>>,
    /// Notes on its headings and days.
    pub(super) notes: Vec<Error>,
    /// Rows that name a day without a date that can be read, which are no longer among the rows.
    pub(super) unread_days: Vec<day_rows::Unread>,
}

/// Reads a table without rows that repeat its headings; `None` where no row of the first twelve names at least two known columns.
pub(super) fn read(text: &str, columns: &Columns) -> Result<Option<Table>, Limit> {
    Ok(read_whole(text, columns)?.map(without_repeats))
}

/// Reads a table with all rows below its headings; `None` where no row of the first twelve names at least two known
/// columns.
pub(super) fn read_whole(text: &str, columns: &Columns) -> Result<Option<Table>, Limit> {
    // a second byte-order mark, left by joining files, is no part of a heading
    let text = text.trim_start_matches('\u{feff}');
    let Some((delimiter, width)) = delimiter(text, columns) else { return Ok(None) };
    let text = quotes::closed(text, delimiter, width);
    let Rows { all, open_quotes, .. } = Rows::read(&text, delimiter)?;
    let Some(mut table) = whole(all, ROWS_ABOVE, columns) else { return Ok(None) };
    let widest = table.rows.iter().map(|row| row.cells.len()).chain([table.headings.len()]).max();
    if let Some(columns) = widest.filter(|columns| *columns > MOST_COLUMNS) {
        return Err(Limit::Columns(columns));
    }
    table.delimiter = char::from(delimiter);
    table.open_quotes = open_quotes;
    Ok(Some(table))
}

/// The table in these rows, without rows that repeat its headings.
pub(super) fn of_rows(all: Vec<Row>, above: usize, columns: &Columns) -> Option<Table> {
    whole(all, above, columns).map(without_repeats)
}

fn without_repeats(mut table: Table) -> Table {
    let own = std::mem::take(&mut table.own);
    table.rows.retain(|row| !own.contains(&row.cells));
    Table { own, ..table }
}

/// The table in these rows; `None` where none of the first `above` names at least two known columns.
pub(super) fn whole(mut all: Vec<Row>, above: usize, columns: &Columns) -> Option<Table> {
    let Headings { rows, cells: headings, note, .. } = heading_rows::find(&all, above, columns)?;
    let begin = *rows.start();
    let mut above: Vec<Row> = all.drain(..=*rows.end()).collect();
    let own: Vec<_> = above.drain(begin..).map(|row| row.cells).collect();
    let notes = note.into_iter().collect();
    Some(Table {
        headings,
        above,
        rows: all,
        delimiter: ';',
        open_quotes: Vec::new(),
        own,
        notes,
        unread_days: Vec::new(),
    })
}

/// The delimiter under which the most headings are known, and their number of cells.
fn delimiter(text: &str, columns: &Columns) -> Option<(u8, usize)> {
    let front = cut(text, FRONT);
    let lines = front.split_inclusive('\n').take(ROWS_ABOVE * 4).map(str::len).sum();
    let front = cut(front, lines);
    DELIMITERS
        .into_iter()
        .filter_map(|delimiter| {
            let rows = Rows::read(front, delimiter).ok()?.all;
            let found = heading_rows::find(&rows, ROWS_ABOVE, columns)?;
            let row = &rows[*found.rows.start()];
            // of two that know as many the upper row is the headings, the other a cell of several lines
            Some((found.known, std::cmp::Reverse(row.line), row.cells.len(), delimiter))
        })
        .reduce(
            |best, next| {
                if (next.0, next.1, next.2) > (best.0, best.1, best.2) { next } else { best }
            },
        )
        .map(|(.., width, delimiter)| (delimiter, width))
}

/// The text up to a byte, or to the end of the character before it.
fn cut(text: &str, end: usize) -> &str {
    let mut end = end.min(text.len());
    while !text.is_char_boundary(end) {
        end -= 1;
    }
    &text[..end]
}

/// All rows that are not blank, with the lines of quotes that never close.
#[derive(Default)]
struct Rows {
    all: Vec<Row>,
    open_quotes: Vec<u64>,
    cells: usize,
    filled: usize,
}

/// Where reading with quotation marks stopped.
enum Stop {
    /// At the end of the window, all of it read.
    End,
    /// At a row with an unclosed quotation mark.
    OpenQuote(usize),
    /// At a row that the window cuts.
    Cut(usize),
}

impl Rows {
    /// A row with an unclosed quotation mark is read again without quoting. The CSV reader gets a
    /// window of the text at a time, so that a quoted cell is limited to the longest row.
    fn read(text: &str, delimiter: u8) -> Result<Self, Limit> {
        let mut rows = Self::default();
        let mut lines = Lines { text, byte: 0, line: 1 };
        let mut begin = 0;
        let mut reader = csv::ReaderBuilder::new()
            .delimiter(delimiter)
            .has_headers(false)
            .flexible(true)
            .buffer_capacity(BUFFER)
            .from_reader(Window { text: text.as_bytes(), at: 0, end: 0 });
        while begin < text.len() {
            let window = begin..begin + cut(&text[begin..], 2 * LONGEST_ROW).len();
            begin = match rows.quoted(text, window.clone(), (&mut reader, delimiter), &mut lines)? {
                Stop::End => window.end,
                Stop::Cut(start) if start > begin => start,
                Stop::OpenQuote(start) | Stop::Cut(start) => {
                    rows.plain(text, start, delimiter, lines.at(start))?
                }
            };
        }
        Ok(rows)
    }

    /// Reads a row without quotes; returns where it ends.
    fn plain(
        &mut self,
        text: &str,
        start: usize,
        delimiter: u8,
        line: u64,
    ) -> Result<usize, Limit> {
        let end = text[start..].find(['\n', '\r']).map_or(text.len(), |length| start + length);
        if end - start > LONGEST_ROW {
            return Err(Limit::RowLength(line));
        }
        self.open_quotes.push(line);
        if self.open_quotes.len() > MOST_ROWS {
            return Err(Limit::Rows);
        }
        let cells = text[start..end].split(char::from(delimiter));
        self.push(line, cells.map(|cell| cell.trim_matches('"')))?;
        Ok(end)
    }

    /// Keeps a row that is not blank.
    fn push<'c>(&mut self, line: u64, cells: impl Iterator<Item = &'c str>) -> Result<(), Limit> {
        let cells: Vec<CompactString> = cells.map(CompactString::from).collect();
        let filled = cells.iter().filter(|cell| !cell.trim().is_empty()).count();
        if filled == 0 {
            return Ok(());
        }
        self.filled += filled;
        self.cells += cells.len();
        self.all.push(Row { line, cells });
        if self.cells > MOST_CELLS || self.filled > MOST_FILLED_CELLS {
            return Err(Limit::Cells(MOST_FILLED_CELLS));
        }
        if self.all.len() > MOST_ROWS { Err(Limit::Rows) } else { Ok(()) }
    }

    /// Reads the rows of a window of the text.
    fn quoted(
        &mut self,
        text: &str,
        window: Range<usize>,
        (reader, delimiter): (&mut csv::Reader<Window<'_>>, u8),
        lines: &mut Lines<'_>,
    ) -> Result<Stop, Limit> {
        // a new reader for each window would build its tables again
        reader.get_mut().end = window.end;
        let mut begin = csv::Position::new();
        begin.set_byte(window.start as u64);
        if reader.seek_raw(SeekFrom::Start(window.start as u64), begin).is_err() {
            return Ok(Stop::End);
        }
        let mut record = csv::StringRecord::new();
        while reader.read_record(&mut record).unwrap_or(false) {
            let place =
                |position: &csv::Position| usize::try_from(position.byte()).unwrap_or(usize::MAX);
            let Some(start) = record.position().map(place) else { break };
            let start = start + blank_length(&text[start..window.end]);
            let end = place(reader.position()).min(window.end);
            if end == window.end && end < text.len() {
                return Ok(Stop::Cut(start));
            }
            let span = &text[start..end];
            if span.trim_end().contains(['\n', '\r']) && !is_well_quoted(span, delimiter) {
                return Ok(Stop::OpenQuote(start));
            }
            if span.trim_end().len() > LONGEST_ROW {
                return Err(Limit::RowLength(lines.at(start)));
            }
            self.push(lines.at(start), record.iter())?;
        }
        Ok(Stop::End)
    }
}

/// The bytes of a text up to an end that moves forward.
struct Window<'t> {
    text: &'t [u8],
    at: usize,
    end: usize,
}

impl Read for Window<'_> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let read = self.text.get(self.at..self.end).unwrap_or_default().read(into)?;
        self.at += read;
        Ok(read)
    }
}

impl Seek for Window<'_> {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        let SeekFrom::Start(byte) = to else {
            return Err(io::Error::from(io::ErrorKind::Unsupported));
        };
        self.at = usize::try_from(byte).unwrap_or(usize::MAX);
        Ok(byte)
    }
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

    /// The table of a text within the limits.
    fn read(text: &str) -> Option<Table> {
        super::read(text, &Columns::default()).unwrap()
    }

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
    fn unclosed_quote_loses_one_row() {
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
    fn headings_within_a_quoted_cell_are_not_the_headings_of_the_table() {
        let table = read("number,notes\n0a,\"\nn;wp;\"\n").unwrap();
        assert_eq!((table.delimiter, table.rows.len()), (',', 1));
    }

    #[test]
    fn texts_that_are_no_tables_are_refused() {
        assert!(read("").is_none());
        assert!(read("A letter, with a date\nand more, of it\n").is_none());
        assert!(read("price,article\n1,2\n").is_none());
    }

    #[test]
    fn input_above_a_limit_is_refused() {
        let refused = |text: &str| super::read(text, &Columns::default()).unwrap_err();
        let head = "number,notes\n";
        let wide = format!("number,notes{}\n1,2\n", ",a".repeat(MOST_COLUMNS));
        assert_eq!(refused(&wide), Limit::Columns(MOST_COLUMNS + 2));
        assert_eq!(refused(&format!("{head}{}", "1,\n".repeat(MOST_ROWS + 1))), Limit::Rows);
        assert_eq!(refused(&format!("{head}1,{}", "x".repeat(LONGEST_ROW))), Limit::RowLength(2));
        let row = format!("1{}\n", ",".repeat(900));
        assert_eq!(
            refused(&format!("{head}{}", row.repeat(5_000))),
            Limit::Cells(MOST_FILLED_CELLS)
        );
        // no line break at all in what a quote opens
        let open = format!("{head}1,\"{}", "x".repeat(3 * LONGEST_ROW));
        assert_eq!(refused(&open), Limit::RowLength(2));
    }

    #[test]
    fn unclosed_quote_in_long_text_loses_one_row() {
        let rest = "2,black and soft\n".repeat(80_000);
        assert!(rest.len() > LONGEST_ROW);
        let table = read(&format!("number,notes\n1,\"brown\n{rest}")).unwrap();
        assert_eq!((table.rows.len(), table.open_quotes), (80_001, vec![2]));
        // a window boundary within a quoted cell of several lines loses nothing
        let cell = "7,\"a\r\n\r\nb \u{e9}\"\r\n".repeat(90_000);
        let table = read(&format!("number,notes\r\n{cell}")).unwrap();
        assert!(table.rows.iter().all(|row| row.cells == ["7", "a\r\n\r\nb \u{e9}"]));
        assert_eq!(table.rows.last().unwrap().line, 2 + 3 * 89_999);
        assert_eq!(table.open_quotes, [0; 0]);
    }

    #[test]
    fn blank_lines_of_any_number_are_read_over() {
        let blank = "\n".repeat(5 * LONGEST_ROW);
        assert_eq!(lines(&format!("number,notes\n{blank}1,x\n")), [2 + 5 * LONGEST_ROW as u64]);
    }
}

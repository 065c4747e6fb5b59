//! Collects the cells of sheets into rows, within the limits of tables of records. Layer: `ingest`.

use compact_str::CompactString;

use super::super::table::{LONGEST_TEXT, Limit, MOST_CELLS, MOST_COLUMNS, MOST_ROWS, Row};
use super::xlsx_parts::Unvalued;
use super::{MOST_FILLED, Refusal, SheetRows};

/// Rows above the headings and of totals beside the records.
const ROWS_BESIDE: usize = 1_000;
/// A row is not longer, bytes.
const LONGEST_ROW: usize = 1024 * 1024;
/// A text that merged rows share is not longer, bytes.
const LONGEST_SHARED: usize = 1_000;
/// Hidden rows that are named individually.
const FEW: usize = 5;

/// Collects all sheets of a workbook, cell by cell in the order of rows.
#[derive(Default)]
pub(in super::super) struct Collector {
    sheets: Vec<SheetRows>,
    current: SheetRows,
    row: Row,
    length: usize,
    hidden: bool,
    cells: usize,
    filled: usize,
    /// Cells that were read, those that replace others included.
    read: usize,
    /// The text of all filled cells, bytes.
    text: usize,
}

impl Collector {
    pub(super) fn begin(&mut self, number: usize, name: &str, hidden: bool) {
        let number = u32::try_from(number).unwrap_or(u32::MAX);
        self.current = SheetRows { name: name.to_owned(), number, hidden, ..SheetRows::default() };
        self.row = Row { line: 0, cells: Vec::new() };
        self.length = 0;
        self.hidden = false;
    }

    /// Takes a cell; `row` and `column` count from zero.
    pub(super) fn cell(
        &mut self,
        row: u64,
        column: usize,
        text: CompactString,
    ) -> Result<(), Refusal> {
        self.read += 1;
        if self.read > MOST_CELLS {
            return Err(self.beyond(Limit::Cells(MOST_FILLED)));
        }
        if row + 1 != self.row.line {
            self.end_row()?;
            self.row.line = row + 1;
        }
        if text.trim().is_empty() {
            return Ok(());
        }
        if column >= MOST_COLUMNS {
            return Err(self.beyond(Limit::Columns(column + 1)));
        }
        self.length += text.len();
        if self.length > LONGEST_ROW {
            return Err(self.beyond(Limit::RowLength(row + 1)));
        }
        if self.row.cells.len() <= column {
            self.row.cells.resize(column + 1, CompactString::default());
        }
        self.row.cells[column] = text;
        Ok(())
    }

    /// The current row, counted from zero, is hidden.
    pub(super) fn hide(&mut self, row: u64) -> Result<(), Refusal> {
        if row + 1 != self.row.line {
            self.end_row()?;
            self.row.line = row + 1;
        }
        self.hidden = true;
        Ok(())
    }

    /// A cell with a date shows only this part of it.
    pub(super) fn part_of_date(&mut self, row: u64, column: usize, shown: &str) {
        let kept = &mut self.current.part_dates;
        if kept.len() < MOST_ROWS {
            kept.insert((row + 1, column), shown.into());
        }
    }

    /// A formula gave an error instead of a value.
    pub(super) fn fault(&mut self, row: u64, column: usize, what: &str) {
        self.current.faulty_count += 1;
        if self.current.faulty_rows.last() != Some(&(row + 1)) {
            self.current.faulty_rows.push(row + 1);
        }
        self.current.faulty.get_or_insert_with(|| (row + 1, column, what.to_owned()));
    }

    /// Formulas for which the workbook keeps no value.
    pub(super) fn unvalued(&mut self, cells: &Unvalued) {
        let sheet = &mut self.current;
        sheet.unvalued = cells.first.map(|(row, column)| (row + 1, column));
        sheet.unvalued_count = cells.count;
        sheet.faulty_rows.extend(cells.rows.iter().map(|row| row + 1));
        sheet.faulty_rows.sort_unstable();
        sheet.faulty_rows.dedup();
    }

    /// Repeats a row just collected, counted from zero.
    pub(super) fn repeat(&mut self, row: u64, times: u64) -> Result<(), Refusal> {
        if self.row.line != row + 1 || self.row.cells.is_empty() || times == 0 {
            return Ok(());
        }
        let (line, cells, hidden) = (self.row.line, self.row.cells.clone(), self.hidden);
        for later in 1..=times {
            self.end_row()?;
            self.row = Row { line: line + later, cells: cells.clone() };
            self.hidden = hidden;
        }
        Ok(())
    }

    fn end_row(&mut self) -> Result<(), Refusal> {
        let row = std::mem::replace(&mut self.row, Row { line: 0, cells: Vec::new() });
        let hidden = std::mem::take(&mut self.hidden);
        self.length = 0;
        if row.cells.is_empty() {
            return Ok(());
        }
        self.cells += row.cells.len();
        self.filled += row.cells.iter().filter(|cell| !cell.is_empty()).count();
        self.text += row.cells.iter().map(CompactString::len).sum::<usize>();
        if hidden {
            self.current.hidden_count += 1;
            if self.current.hidden_rows.len() < FEW {
                self.current.hidden_rows.push(row.line);
            }
        }
        self.current.rows.push(row);
        if self.cells > MOST_CELLS || self.filled > MOST_FILLED {
            return Err(self.beyond(Limit::Cells(MOST_FILLED)));
        }
        if self.text > LONGEST_TEXT {
            return Err(self.beyond(Limit::Text));
        }
        if self.current.rows.len() > MOST_ROWS + ROWS_BESIDE {
            return Err(self.beyond(Limit::Rows));
        }
        Ok(())
    }

    fn beyond(&self, limit: Limit) -> Refusal {
        Refusal::Limit(Some(self.current.name.clone()), limit)
    }

    /// Ends a sheet; `merged` are regions of several rows as first row, last row and column, from
    /// zero: their text counts for each of the rows.
    pub(super) fn end(&mut self, merged: &[(u64, u64, usize)]) -> Result<(), Refusal> {
        self.end_row()?;
        let mut sheet = std::mem::take(&mut self.current);
        for &(first, last, column) in merged {
            let (cells, text) = fill_down(&mut sheet.rows, first + 1, last + 1, column);
            self.cells += cells;
            self.text += text;
            if self.cells > MOST_CELLS {
                return Err(Refusal::Limit(Some(sheet.name), Limit::Cells(MOST_FILLED)));
            }
            if self.text > LONGEST_TEXT {
                return Err(Refusal::Limit(Some(sheet.name), Limit::Text));
            }
        }
        self.sheets.push(sheet);
        Ok(())
    }

    pub(super) fn finished(self) -> Vec<SheetRows> {
        self.sheets
    }
}

/// Writes the cell of the first row into the rows below that are empty there. Gives the numbers of new cells and of
/// bytes written.
fn fill_down(rows: &mut [Row], first: u64, last: u64, column: usize) -> (usize, usize) {
    let from = rows.partition_point(|row| row.line < first);
    let Some(top) = rows.get(from).filter(|row| row.line == first) else { return (0, 0) };
    let Some(text) = top.cells.get(column).filter(|text| !text.is_empty()).cloned() else {
        return (0, 0);
    };
    // a text longer than the words of a label is not that of each row
    if text.len() > LONGEST_SHARED {
        return (0, 0);
    }
    let (mut cells, mut bytes) = (0, 0);
    for row in rows[from + 1..].iter_mut().take_while(|row| row.line <= last) {
        if row.cells.len() <= column {
            cells += column + 1 - row.cells.len();
            row.cells.resize(column + 1, CompactString::default());
        }
        if row.cells[column].is_empty() {
            row.cells[column].clone_from(&text);
            bytes += text.len();
        }
    }
    (cells, bytes)
}

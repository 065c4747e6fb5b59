//! Cells that cannot be read: kept as written, and reported once for each cause. Layer: `ingest`.

use super::column::Column;
use super::row::Reader;
use super::shortened;
use crate::error::Error;
use crate::model::{Field, Record};

/// The number of recent causes that are searched.
const CAUSES: usize = 64;
/// The most cells of one cause that are reported individually.
const FEW: usize = 3;
/// The common text of causes with two readings.
pub(super) const OPEN: &str = "of the column settles";

impl Reader<'_> {
    /// Reports an unreadable cell and keeps its text.
    pub(super) fn unread(
        &mut self,
        record: &mut Record,
        what: &str,
        text: &str,
        why: &str,
        hint: &str,
    ) {
        record.fields.insert(Field::Other(format!("{what} as written")), text.to_owned());
        self.seen += 1;
        let cell = (self.seen, shortened(text), record.line);
        if let Some(known) = self.of_cause(what, why) {
            known.count += 1;
            if known.cells.len() < FEW {
                known.cells.push(cell);
            }
        } else {
            let column = match what {
                "date" => Some(Column::Date),
                "time" => Some(Column::Time),
                "elevation" => Some(Column::Elevation),
                "highest elevation" => Some(Column::Highest),
                "uncertainty" => Some(Column::Uncertainty),
                "position final" => Some(Column::Measured),
                _ => None,
            };
            self.unread.push(Unread {
                column: column.and_then(|column| self.place(column)),
                what: what.to_owned(),
                why: why.to_owned(),
                hint: hint.to_owned(),
                cells: vec![cell],
                count: 1,
            });
        }
    }

    /// The cells of a cause, among the last causes only, so that the work stays linear.
    fn of_cause(&mut self, what: &str, why: &str) -> Option<&mut Unread> {
        // readings differ between cells, their cause does not
        let open = why.contains(OPEN);
        let alike = |other: &&mut Unread| {
            other.what == what && (other.why == why || (open && other.why.contains(OPEN)))
        };
        self.unread.iter_mut().rev().take(CAUSES).find(alike)
    }

    /// This reader with what a reader of later rows reports behind it.
    pub(super) fn with_later(mut self, later: Self) -> Self {
        let before = self.seen;
        self.seen += later.seen;
        self.set_aside.extend(later.set_aside);
        self.remarks.extend(later.remarks);
        for mut unread in later.unread {
            for cell in &mut unread.cells {
                cell.0 += before;
            }
            match self.of_cause(&unread.what, &unread.why) {
                Some(known) => {
                    known.count += unread.count;
                    let room = FEW.saturating_sub(known.cells.len());
                    known.cells.extend(unread.cells.into_iter().take(room));
                }
                None => self.unread.push(unread),
            }
        }
        self
    }
}

/// Cells of one column that could not be read for one cause.
#[derive(Clone, Debug)]
pub(super) struct Unread {
    /// The column in a workbook.
    column: Option<usize>,
    what: String,
    why: String,
    hint: String,
    /// The first of them: their place in the order of reading, text and line.
    cells: Vec<(usize, String, u64)>,
    count: usize,
}

impl Unread {
    /// One message for all of them, with its place in the order of reading; individual ones for a
    /// few cells.
    pub(super) fn reported(self) -> Vec<(usize, Error)> {
        let Self { column, what, why, hint, mut cells, count } = self;
        let together = count > FEW || (count > 1 && why.contains(OPEN));
        if together {
            cells.truncate(1);
        }
        let tell = |(order, text, line): (usize, String, u64)| {
            let said = if together {
                format!("the {what} of {count} rows cannot be read, first \"{text}\"")
            } else {
                format!("the {what} \"{text}\" cannot be read")
            };
            let error = Error::input(said).because(&why).hint(&hint).at_line(line);
            (order, at_cell(error, column))
        };
        cells.into_iter().map(tell).collect()
    }
}

pub(super) fn at_cell(error: Error, column: Option<usize>) -> Error {
    match column {
        Some(column) => error.at_column(column),
        None => error,
    }
}

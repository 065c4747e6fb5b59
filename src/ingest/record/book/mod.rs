//! Reads workbooks: XLSX and XLS by `calamine`, ODS by a streaming reader, each cell as the text that a
//! person typed or saw. Refuses encrypted and damaged workbooks and those beyond a [`Limit`], before
//! anything is expanded in memory. Layer: `ingest`.

mod bounded;
mod cell;
mod collect;
mod formats;
mod ods;
mod xls;
mod xlsx;
mod xlsx_parts;

#[cfg(test)]
mod tests;

use std::fmt;
use std::io::Cursor;
use std::panic::{AssertUnwindSafe, catch_unwind};

use zip::ZipArchive;

use super::table::{Limit, Row};

pub(super) use cell::serial;
use collect::Collector;
pub(super) use formats::Shown;

/// All parts of a workbook as XML, bytes: a sheet of 100,000 records of 12 columns takes 60 MB.
const LONGEST_PART: u64 = 256 * 1024 * 1024;
/// Filled cells of a workbook: 100,000 records of 16 columns.
const MOST_FILLED: usize = 1_600_000;
/// Texts that cells share, and their XML in bytes.
const LONGEST_TEXTS: u64 = 128 * 1024 * 1024;
/// Files in the archive (common practice: a workbook has tens).
const MOST_PARTS: usize = 10_000;

/// What cells with dates show, of which their format shows a part only, by row and column.
pub(super) type PartDates = std::collections::HashMap<(u64, usize), compact_str::CompactString>;

/// One sheet with its filled rows.
#[derive(Debug, Default)]
pub(super) struct SheetRows {
    pub(super) name: String,
    /// Its place in the workbook.
    pub(super) number: u32,
    pub(super) hidden: bool,
    pub(super) rows: Vec<Row>,
    /// Hidden rows that are filled, the first few of them.
    pub(super) hidden_rows: Vec<u64>,
    pub(super) hidden_count: usize,
    /// The first cell with an error of a formula, and how many there are.
    pub(super) faulty: Option<(u64, usize, String)>,
    pub(super) faulty_count: usize,
    /// The first cell with a formula for which no value is kept, and how many there are.
    pub(super) unvalued: Option<(u64, usize)>,
    pub(super) unvalued_count: usize,
    /// The rows of all such cells, in order.
    pub(super) faulty_rows: Vec<u64>,
    /// Cells with dates of which the format shows a part only.
    pub(super) part_dates: PartDates,
}

/// The kinds of workbook.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Form {
    Xlsx,
    Xls,
    Ods,
}

/// Why a workbook is not read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Refusal {
    /// It is encrypted.
    Password,
    /// It, or a sheet of it, exceeds a limit.
    Limit(Option<String>, Limit),
    /// A part of it is larger than the reader accepts.
    Part(String),
    /// It declares entities of its own, which can expand without bound.
    Entities,
    /// It is damaged.
    Damaged(String),
}

/// All sheets, and which of the two date systems serial numbers follow.
#[derive(Debug, Default)]
pub(super) struct Workbook {
    pub(super) sheets: Vec<SheetRows>,
    pub(super) from_1904: bool,
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Password => write!(f, "it is encrypted"),
            Self::Limit(Some(sheet), limit) => write!(f, "of sheet \"{sheet}\": {limit}"),
            Self::Limit(None, limit) => write!(f, "{limit}"),
            Self::Part(why) | Self::Damaged(why) => write!(f, "{why}"),
            Self::Entities => write!(f, "it declares XML entities of its own"),
        }
    }
}

/// The kind of workbook, by content; `None` for anything else.
pub(super) fn form(bytes: &[u8]) -> Option<Form> {
    if bytes.starts_with(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1") {
        return xls::is_workbook(bytes).then_some(Form::Xls);
    }
    if !bytes.starts_with(b"PK\x03\x04") {
        return None;
    }
    if entries(bytes).is_none_or(|count| count > MOST_PARTS) {
        return None;
    }
    let archive =
        catch_unwind(AssertUnwindSafe(|| ZipArchive::new(Cursor::new(bytes)))).ok()?.ok()?;
    if archive.index_for_name("content.xml").is_some() && ods::is_spreadsheet(bytes) {
        return Some(Form::Ods);
    }
    let is_book =
        archive.file_names_raw().any(|name| name.to_ascii_lowercase().ends_with(b"workbook.xml"));
    is_book.then_some(Form::Xlsx)
}

/// Reads a workbook. A reader that fails unexpectedly on a damaged file is a refusal.
pub(super) fn read(bytes: &[u8], form: Form) -> Result<Workbook, Refusal> {
    let read = || match form {
        Form::Xlsx => xlsx::read(bytes),
        Form::Xls => xls::read(bytes),
        Form::Ods => ods::read(bytes),
    };
    catch_unwind(AssertUnwindSafe(read))
        .unwrap_or_else(|_| Err(Refusal::Damaged("its structure is damaged".into())))
}

/// The number of files in an archive, from its end (APPNOTE 4.3.16); `None` where there is none.
fn entries(bytes: &[u8]) -> Option<usize> {
    const END: &[u8] = b"PK\x05\x06";
    let from = bytes.len().saturating_sub(66_000);
    let at = from + bytes[from..].windows(4).rposition(|window| window == END)?;
    let count = bytes.get(at + 10..at + 12)?;
    Some(usize::from(u16::from_le_bytes([count[0], count[1]])))
}

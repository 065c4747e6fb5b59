//! Reads XLS through `calamine`, after checking the records of the file that decide how much memory it
//! takes. Layer: `ingest`.

use std::collections::HashSet;
use std::io::{Cursor, Read};
use std::panic::{AssertUnwindSafe, catch_unwind};

use calamine::{Data, Reader as _, SheetType, SheetVisible, Xls, XlsError};

use super::super::table::Limit;
use super::formats::Shown;
use super::xlsx_parts::Unvalued;
use super::{Collector, MOST_FILLED, Refusal, Workbook, cell};

/// The smallest rectangle around the cells of a sheet is held at once: 65,536 rows of 22 columns.
const MOST_AROUND: u64 = 1_500_000;

type Compound<'b> = cfb::CompoundFile<Cursor<&'b [u8]>>;

fn compound(bytes: &[u8]) -> Option<Compound<'_>> {
    catch_unwind(AssertUnwindSafe(|| cfb::CompoundFile::open(Cursor::new(bytes)).ok())).ok()?
}

/// Whether a compound file is a workbook: other documents and lists of thumbnails are compound files,
/// too. An encrypted workbook of the newer form is one.
pub(super) fn is_workbook(bytes: &[u8]) -> bool {
    let Some(file) = compound(bytes) else {
        // damaged: named by the stream that it was
        let name: Vec<u8> = "Workbook".encode_utf16().flat_map(u16::to_le_bytes).collect();
        return memchr::memmem::find(bytes, &name).is_some();
    };
    ["/Workbook", "/Book", "/EncryptedPackage"].iter().any(|name| file.exists(name))
}

pub(super) fn read(bytes: &[u8]) -> Result<Workbook, Refusal> {
    let (sheets, none) = (checked(bytes)?, Checked::default());
    let mut book = Xls::new(Cursor::new(bytes)).map_err(|error| refused(&error))?;
    let from_1904 = book.has_1904_epoch();
    let mut collector = Collector::default();
    for (number, sheet) in book.sheets_metadata().to_vec().into_iter().enumerate() {
        if sheet.typ != SheetType::WorkSheet {
            continue;
        }
        let merged: Vec<(u64, u64, usize)> = book
            .merge_cells_by_sheet_name(&sheet.name)
            .unwrap_or_default()
            .into_iter()
            .filter(|region| region.end.0 > region.start.0)
            .map(|region| (region.start.0.into(), region.end.0.into(), region.start.1 as usize))
            .collect();
        let range = book.worksheet_range(&sheet.name).map_err(|error| refused(&error))?;
        collector.begin(number, &sheet.name, sheet.visible != SheetVisible::Visible);
        let (top, left) = range.start().unwrap_or_default();
        let checked = sheets.get(number).unwrap_or(&none);
        for (row, column, value) in range.used_cells() {
            let (row, column) = (row as u64 + u64::from(top), column + left as usize);
            if checked.hidden.contains(&row) {
                collector.hide(row)?;
            }
            take(&mut collector, row, column, value, from_1904)?;
        }
        collector.unvalued(&checked.formulas.empty);
        collector.end(&merged)?;
    }
    Ok(Workbook { sheets: collector.finished(), from_1904 })
}

fn take(
    collector: &mut Collector,
    row: u64,
    column: usize,
    value: &Data,
    from_1904: bool,
) -> Result<(), Refusal> {
    let text = match value {
        Data::Empty => return Ok(()),
        Data::Error(fault) => {
            collector.fault(row, column, &fault.to_string());
            return Ok(());
        }
        Data::String(text) => text.clone(),
        Data::Int(value) => value.to_string(),
        Data::Float(value) => cell::number(*value),
        Data::Bool(value) => value.to_string(),
        Data::DateTime(value) => {
            let shown = if value.is_duration() { Shown::Duration } else { Shown::Unknown };
            cell::serial(value.as_f64(), from_1904, shown)
        }
        Data::DateTimeIso(text) => cell::iso(text),
        Data::DurationIso(text) => cell::duration(text),
    };
    collector.cell(row, column, text.into())
}

/// Records of [MS-XLS] 2.3 that hold the value of a cell, with row and column first.
const CELLS: [u16; 8] = [0x0006, 0x00BD, 0x00D6, 0x00FD, 0x0203, 0x0204, 0x0205, 0x027E];

/// What the records of a sheet say beside the values of its cells.
#[derive(Default)]
struct Checked {
    hidden: HashSet<u64>,
    formulas: Formulas,
}

/// Refuses an encrypted workbook and sheets that would take too much memory; gives hidden rows and formulas without
/// a value of each sheet.
fn checked(bytes: &[u8]) -> Result<Vec<Checked>, Refusal> {
    let stream = stream(bytes)?;
    let Globals { starts, mut calculated } = Globals::of(&stream)?;
    let mut sheets = Vec::with_capacity(starts.len());
    for start in starts {
        let mut around = Around::default();
        let mut sheet = Checked::default();
        let records = Records { stream: stream.get(start..).unwrap_or_default() };
        for (kind, data) in records {
            sheet.formulas.take(kind, data);
            let at =
                |place: usize| Some(u16::from_le_bytes([*data.get(place)?, *data.get(place + 1)?]));
            match kind {
                // Dimensions: rows are four bytes
                0x0200 => {
                    let row = |place: usize| Some((at(place)?, at(place + 2)?));
                    let (Some((_, high)), Some((_, first))) = (row(4), row(0)) else { continue };
                    let columns = u64::from(at(10).unwrap_or(0).saturating_sub(at(8).unwrap_or(0)));
                    let rows = u64::from(at(4).unwrap_or(0).saturating_sub(at(0).unwrap_or(0)));
                    if high > 1 || first > 1 || columns * rows > MOST_AROUND {
                        return Err(Refusal::Limit(None, Limit::Cells(MOST_FILLED)));
                    }
                }
                // Row, with the bit of hidden rows
                0x0208 if at(12).is_some_and(|flags| flags & 0x20 != 0) => {
                    sheet.hidden.extend(at(0).map(u64::from));
                }
                kind if CELLS.contains(&kind) => {
                    if let (Some(row), Some(column)) = (at(0), at(2)) {
                        around.take(row.into(), column.into());
                        let width = (data.len() as u64).saturating_sub(6) / 6;
                        if kind == 0x00BD {
                            around.take(row.into(), u64::from(column) + width);
                        }
                    }
                    if around.size() > MOST_AROUND {
                        return Err(Refusal::Limit(None, Limit::Cells(MOST_FILLED)));
                    }
                }
                // EOF
                0x000A => break,
                _ => {}
            }
        }
        calculated |= sheet.formulas.valued;
        sheets.push(sheet);
    }
    // an empty text is also what a formula may give
    if calculated {
        for sheet in &mut sheets {
            sheet.formulas.empty = Unvalued::default();
        }
    }
    Ok(sheets)
}

/// The formulas of a sheet: [MS-XLS] 2.4.127 and 2.5.133.
#[derive(Default)]
struct Formulas {
    /// Whether one has a value other than an empty text.
    valued: bool,
    /// Those with an empty text as their value, or without the text that is to follow.
    empty: Unvalued,
    /// One whose text follows.
    open: Option<(u64, usize)>,
}

impl Formulas {
    fn take(&mut self, kind: u16, data: &[u8]) {
        match kind {
            0x0006 => {
                self.close();
                let (Some(&[row, row_high, column, column_high]), Some(value)) =
                    (data.first_chunk::<4>(), data.get(6..14))
                else {
                    return;
                };
                let row = u64::from(u16::from_le_bytes([row, row_high]));
                let at = (row, usize::from(u16::from_le_bytes([column, column_high])));
                match value {
                    [0, .., 0xFF, 0xFF] => self.open = Some(at),
                    [3, .., 0xFF, 0xFF] => self.empty.add(at),
                    _ => self.valued = true,
                }
            }
            // String
            0x0207 if self.open.take().is_some() => self.valued = true,
            // EOF
            0x000A => self.close(),
            _ => {}
        }
    }

    fn close(&mut self) {
        if let Some(at) = self.open.take() {
            self.empty.add(at);
        }
    }
}

/// The workbook stream.
fn stream(bytes: &[u8]) -> Result<Vec<u8>, Refusal> {
    let damaged = || Refusal::Damaged("its structure is damaged".into());
    let mut file = compound(bytes).ok_or_else(damaged)?;
    if file.exists("/EncryptedPackage") {
        return Err(Refusal::Password);
    }
    let name = if file.exists("/Workbook") { "/Workbook" } else { "/Book" };
    let mut stream = Vec::new();
    let most = bytes.len() as u64;
    let opened = file.open_stream(name).map_err(|_| damaged())?;
    opened.take(most).read_to_end(&mut stream).map_err(|_| damaged())?;
    Ok(stream)
}

/// What the records of the workbook say of its sheets.
#[derive(Default)]
struct Globals {
    /// Where the sheets begin.
    starts: Vec<usize>,
    /// Whether a program that calculates has calculated it.
    calculated: bool,
}

impl Globals {
    fn of(stream: &[u8]) -> Result<Self, Refusal> {
        let mut globals = Self::default();
        for (kind, data) in (Records { stream }) {
            match kind {
                // FilePass
                0x002F => return Err(Refusal::Password),
                // BoundSheet8
                0x0085 => {
                    let Some(start) = data.first_chunk::<4>() else { continue };
                    let start = usize::try_from(u32::from_le_bytes(*start));
                    globals.starts.push(start.unwrap_or(usize::MAX));
                }
                // RecalcId
                0x01C1 => globals.calculated = true,
                0x000A => break,
                _ => {}
            }
        }
        Ok(globals)
    }
}

/// Records of type, length and data.
struct Records<'s> {
    stream: &'s [u8],
}

impl<'s> Iterator for Records<'s> {
    type Item = (u16, &'s [u8]);

    fn next(&mut self) -> Option<Self::Item> {
        let (head, rest) = self.stream.split_at_checked(4)?;
        let kind = u16::from_le_bytes([head[0], head[1]]);
        let length = usize::from(u16::from_le_bytes([head[2], head[3]]));
        let (data, rest) = rest.split_at_checked(length)?;
        self.stream = rest;
        Some((kind, data))
    }
}

/// The rectangle around cells.
#[derive(Default)]
struct Around {
    rows: Option<(u64, u64)>,
    columns: Option<(u64, u64)>,
}

impl Around {
    fn take(&mut self, row: u64, column: u64) {
        let with = |bounds: Option<(u64, u64)>, value: u64| {
            let (least, most) = bounds.unwrap_or((value, value));
            Some((least.min(value), most.max(value)))
        };
        self.rows = with(self.rows, row);
        self.columns = with(self.columns, column);
    }

    fn size(&self) -> u64 {
        let length =
            |bounds: Option<(u64, u64)>| bounds.map_or(0, |(least, most)| most - least + 1);
        length(self.rows) * length(self.columns)
    }
}

fn refused(error: &XlsError) -> Refusal {
    match error {
        XlsError::Password => Refusal::Password,
        error => Refusal::Damaged(error.to_string()),
    }
}

//! Reads XLS through `calamine`, after checking the records of the file that decide how much memory it
//! takes. Layer: `ingest`.

use std::collections::{HashMap, HashSet};
use std::io::{Cursor, Read};
use std::panic::{AssertUnwindSafe, catch_unwind};

use calamine::{Data, Reader as _, SheetType, SheetVisible, Xls, XlsError};

use super::super::table::Limit;
use super::formats::{self, Shown};
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
    let ((sheets, codes), none) = (checked(bytes)?, Checked::default());
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
            let code = checked.formatted.code(row, column).and_then(|code| codes.get(&code));
            let code = code.map_or("", String::as_str);
            take(&mut collector, (row, column), value, from_1904, code)?;
        }
        collector.unvalued(&checked.formulas.empty);
        collector.end(&merged)?;
    }
    Ok(Workbook { sheets: collector.finished(), from_1904 })
}

/// Takes a cell with its format code, where that shows a number in another way than as typed.
fn take(
    collector: &mut Collector,
    (row, column): (u64, usize),
    value: &Data,
    from_1904: bool,
    code: &str,
) -> Result<(), Refusal> {
    let text = match value {
        Data::Empty => return Ok(()),
        Data::Error(fault) => {
            collector.fault(row, column, &fault.to_string());
            return Ok(());
        }
        Data::String(text) => text.clone(),
        #[allow(clippy::cast_precision_loss, reason = "a cell of XLS has at most 30 bits")]
        Data::Int(value) => formats::number(*value as f64, code),
        Data::Float(value) => formats::number(*value, code),
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
    formatted: Formatted,
}

/// The cells of a sheet whose format shows more than the number, with the number of the format.
#[derive(Default)]
struct Formatted(Vec<(u16, u16, u16)>);

impl Formatted {
    /// Takes a record of [MS-XLS] 2.4 with numbers: row, column, and the format of each cell.
    fn take(&mut self, kind: u16, data: &[u8], formats: &[Option<u16>]) {
        let at =
            |place: usize| Some(u16::from_le_bytes([*data.get(place)?, *data.get(place + 1)?]));
        let (Some(row), Some(column)) = (at(0), at(2)) else { return };
        // Formula, Number, RK; of MulRk six bytes for each cell
        let count = match kind {
            0x0006 | 0x0203 | 0x027E => 1,
            0x00BD => data.len().saturating_sub(6) / 6,
            _ => return,
        };
        for cell in 0..count {
            let style = at(4 + 6 * cell).map(usize::from);
            let format = style.and_then(|style| formats.get(style).copied().flatten());
            let column = u16::try_from(cell).ok().and_then(|cell| column.checked_add(cell));
            if let (Some(format), Some(column)) = (format, column) {
                self.0.push((row, column, format));
            }
        }
    }

    fn code(&self, row: u64, column: usize) -> Option<u16> {
        let wanted = (u16::try_from(row).ok()?, u16::try_from(column).ok()?);
        let at = self.0.binary_search_by_key(&wanted, |(row, column, _)| (*row, *column)).ok()?;
        Some(self.0[at].2)
    }
}

/// Format codes by their numbers.
type Codes = HashMap<u16, String>;

/// Refuses an encrypted workbook and sheets that would take too much memory; gives hidden rows, formulas without a
/// value and formats of each sheet, with the codes of the formats.
fn checked(bytes: &[u8]) -> Result<(Vec<Checked>, Codes), Refusal> {
    let stream = stream(bytes)?;
    let Globals { starts, mut calculated, codes, formats } = Globals::of(&stream)?;
    // those of which the code says anything
    let formats: Vec<Option<u16>> = formats
        .into_iter()
        .map(|format| {
            Some(format).filter(|own| codes.get(own).is_some_and(|code| formats::is_fixed(code)))
        })
        .collect();
    let mut sheets = Vec::with_capacity(starts.len());
    for start in starts {
        let mut around = Around::default();
        let mut sheet = Checked::default();
        let records = Records { stream: stream.get(start..).unwrap_or_default() };
        for (kind, data) in records {
            sheet.formulas.take(kind, data);
            sheet.formatted.take(kind, data, &formats);
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
        sheet.formatted.0.sort_unstable();
        sheets.push(sheet);
    }
    // an empty text is also what a formula may give
    if calculated {
        for sheet in &mut sheets {
            sheet.formulas.empty = Unvalued::default();
        }
    }
    Ok((sheets, codes))
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
    /// The codes of number formats.
    codes: Codes,
    /// The number format of each style.
    formats: Vec<u16>,
}

impl Globals {
    fn of(stream: &[u8]) -> Result<Self, Refusal> {
        // the formats that every workbook has
        let codes = [(1, "0"), (2, "0.00")].map(|(number, code)| (number, code.to_owned()));
        let mut globals = Self { codes: codes.into(), ..Self::default() };
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
                // Format: its number and its code
                0x041E => globals.codes.extend(format(data)),
                // XF: the number of its format stands behind that of its font
                0x00E0 => {
                    let own = data.get(2..4).map_or(0, |own| u16::from_le_bytes([own[0], own[1]]));
                    globals.formats.push(own);
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

/// The number and the code of a format, [MS-XLS] 2.4.126: letters of one byte or of two.
fn format(data: &[u8]) -> Option<(u16, String)> {
    let number = u16::from_le_bytes([*data.first()?, *data.get(1)?]);
    let count = usize::from(u16::from_le_bytes([*data.get(2)?, *data.get(3)?]));
    let text = data.get(5..)?;
    let code = if data.get(4)? & 1 == 1 {
        let pairs =
            text.chunks_exact(2).take(count).map(|pair| u16::from_le_bytes([pair[0], pair[1]]));
        char::decode_utf16(pairs).map(|c| c.unwrap_or(char::REPLACEMENT_CHARACTER)).collect()
    } else {
        text.iter().take(count).map(|byte| char::from(*byte)).collect()
    };
    Some((number, code))
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

#[cfg(test)]
mod tests {
    use super::*;

    fn record(kind: u16, data: &[u8]) -> Vec<u8> {
        let length = u16::try_from(data.len()).unwrap();
        [&kind.to_le_bytes()[..], &length.to_le_bytes(), data].concat()
    }

    #[test]
    fn the_formats_of_cells_are_found() {
        let style = |format: u16| [&[0, 0][..], &format.to_le_bytes(), &[0; 16]].concat();
        let code = |number: u16, text: &str| {
            let count = u16::try_from(text.len()).unwrap();
            [&number.to_le_bytes()[..], &count.to_le_bytes(), &[0], text.as_bytes()].concat()
        };
        let wide: Vec<u8> = "0000".encode_utf16().flat_map(u16::to_le_bytes).collect();
        let stream = [
            record(0x041E, &code(164, "\"TH-\"0000")),
            record(
                0x041E,
                &[&165_u16.to_le_bytes()[..], &4_u16.to_le_bytes(), &[1], &wide].concat(),
            ),
            record(0x00E0, &style(0)),
            record(0x00E0, &style(164)),
            record(0x00E0, &style(165)),
            record(0x000A, &[]),
        ]
        .concat();
        let globals = Globals::of(&stream).unwrap();
        assert_eq!(globals.formats, [0, 164, 165]);
        assert_eq!(globals.codes[&165], "0000");
        let formats = [None, Some(164), Some(165)];
        let mut cells = Formatted::default();
        // row 3, column 1, style 1: a number
        cells.take(0x0203, &[3, 0, 1, 0, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0], &formats);
        // row 4, columns 0 to 2, styles 2, 0 and 1
        let several = [4, 0, 0, 0, 2, 0, 9, 9, 9, 9, 0, 0, 9, 9, 9, 9, 1, 0, 9, 9, 9, 9, 2, 0];
        cells.take(0x00BD, &several, &formats);
        let found = [cells.code(3, 1), cells.code(4, 0), cells.code(4, 1), cells.code(4, 2)];
        assert_eq!(found, [Some(164), Some(165), None, Some(164)]);
        assert_eq!(formats::number(17.0, &globals.codes[&164]), "TH-0017");
    }
}

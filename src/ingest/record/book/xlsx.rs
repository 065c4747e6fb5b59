//! Reads XLSX cell by cell through `calamine`. Layer: `ingest`.

use std::io::Cursor;

use calamine::{DataRef, Reader as _, SheetType, SheetVisible, Style, Xlsx, XlsxError};
use compact_str::{CompactString, ToCompactString};

use super::formats::{self, Shown};
use super::xlsx_parts::{SheetPart, checked_beside_sheets, checked_sheets, paths};
use super::{Collector, Refusal, Workbook, cell};

pub(super) fn read(bytes: &[u8]) -> Result<Workbook, Refusal> {
    // opening reads all parts but the sheets, which are read cell by cell
    let (others, left) = checked_beside_sheets(bytes)?;
    let (parts, book) =
        rayon::join(|| checked_sheets(bytes, left), || Xlsx::new(Cursor::new(bytes)));
    let (mut parts, mut book) = (parts?, book.map_err(|error| refused(&error))?);
    parts.extend(others);
    let paths = paths(bytes).unwrap_or_default();
    let from_1904 = book.has_1904_epoch();
    let mut collector = Collector::default();
    for (number, sheet) in book.sheets_metadata().to_vec().into_iter().enumerate() {
        if sheet.typ != SheetType::WorkSheet {
            continue;
        }
        let none = SheetPart::default();
        let part = paths.get(&sheet.name).and_then(|path| parts.get(path)).unwrap_or(&none);
        collector.begin(number, &sheet.name, sheet.visible != SheetVisible::Visible);
        cells(&mut book, &sheet.name, from_1904, part, &mut collector)?;
        collector.unvalued(&part.unvalued);
        collector.end(&part.merged)?;
    }
    Ok(Workbook { sheets: collector.finished(), from_1904 })
}

fn cells(
    book: &mut Xlsx<Cursor<&[u8]>>,
    name: &str,
    from_1904: bool,
    part: &SheetPart,
    collector: &mut Collector,
) -> Result<(), Refusal> {
    let mut reader = match book.worksheet_cells_reader(name) {
        Ok(reader) => reader,
        Err(XlsxError::NotAWorksheet(_) | XlsxError::WorksheetNotFound(_)) => return Ok(()),
        Err(error) => return Err(refused(&error)),
    };
    let formats = Formats::of(reader.styles());
    while let Some((found, style)) =
        reader.next_cell_with_style_id().map_err(|error| refused(&error))?
    {
        let (row, column) = found.get_position();
        let (row, column) = (u64::from(row), column as usize);
        let text: CompactString = match found.get_value() {
            DataRef::Empty => continue,
            DataRef::Error(fault) => {
                collector.fault(row, column, &fault.to_string());
                continue;
            }
            DataRef::String(text) => text.into(),
            DataRef::SharedString(text) => (*text).into(),
            DataRef::Int(value) => value.to_compact_string(),
            DataRef::Float(value) => formats.number(*value, style).into(),
            DataRef::Bool(value) => value.to_compact_string(),
            DataRef::DateTime(value) => {
                let shown =
                    if value.is_duration() { Shown::Duration } else { formats.shown(style) };
                let code = formats.code(style);
                let text = cell::serial(value.as_f64(), from_1904, shown);
                as_shown(text, code, |part| collector.part_of_date(row, column, part)).into()
            }
            DataRef::DateTimeIso(text) => cell::iso(text).into(),
            DataRef::DurationIso(text) => cell::duration(text).into(),
        };
        if part.hidden.binary_search(&row).is_ok() {
            collector.hide(row)?;
        }
        collector.cell(row, column, text)?;
    }
    Ok(())
}

/// A date or time as the format of its cell shows it; `part` takes what is shown of a date in part.
fn as_shown(text: String, code: &str, part: impl FnOnce(&str)) -> String {
    if text.contains(':') && formats::hides_seconds(code) {
        return cell::without_seconds(&text);
    }
    let Ok(date) = text.parse::<jiff::civil::Date>() else { return text };
    if let Some(shown) = formats::part_of_date(date, code) {
        part(&shown);
    }
    formats::without_day(date, code).unwrap_or(text)
}

/// The formats of a workbook, by the style of a cell.
struct Formats {
    codes: Vec<(String, Shown)>,
}

impl Formats {
    fn of(styles: &[Style]) -> Self {
        let code = |style: &Style| {
            let code = style.number_format.as_ref().map_or("", |format| &format.format_code);
            (code.to_owned(), formats::shown(code))
        };
        Self { codes: styles.iter().map(code).collect() }
    }

    fn number(&self, value: f64, style: usize) -> String {
        formats::number(value, self.code(style))
    }

    fn code(&self, style: usize) -> &str {
        self.codes.get(style).map_or("", |(code, _)| code)
    }

    fn shown(&self, style: usize) -> Shown {
        self.codes.get(style).map_or(Shown::Unknown, |(_, shown)| *shown)
    }
}

fn refused(error: &XlsxError) -> Refusal {
    match error {
        XlsxError::Password => Refusal::Password,
        XlsxError::Xml(error) => super::xlsx_parts::unread(error),
        error => Refusal::Damaged(error.to_string()),
    }
}

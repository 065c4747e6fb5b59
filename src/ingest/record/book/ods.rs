//! Reads ODS from its XML, row by row: repeated cells and rows are counted before they are expanded,
//! and hidden rows and merged cells are known, which `calamine` does not give. Layer: `ingest`.
//!
//! References: OASIS 2011, Open Document Format for Office Applications 1.2, part 1, sections 9.1 and
//! 19.385.

use std::collections::HashSet;
use std::io::{BufRead, BufReader, Cursor, Read};

use quick_xml::events::{BytesStart, Event};
use quick_xml::{Reader, XmlVersion};
use zip::ZipArchive;

use super::bounded::Bounded;
use super::xlsx_parts::{Unvalued, damaged, unread};
use super::{Collector, LONGEST_PART, LONGEST_TEXTS, Limit, MOST_FILLED, Refusal, Workbook, cell};

/// A row or column is repeated no more often than a sheet has rows.
const MOST_REPEATS: u64 = 1 << 24;

/// Whether an archive with a `content.xml` is a spreadsheet, not a text or a drawing.
pub(super) fn is_spreadsheet(bytes: &[u8]) -> bool {
    let kind = part(bytes, "mimetype", 200).unwrap_or_default();
    kind.contains("opendocument.spreadsheet")
}

/// A small part as text.
fn part(bytes: &[u8], name: &str, most: u64) -> Option<String> {
    let mut archive = ZipArchive::new(Cursor::new(bytes)).ok()?;
    let mut text = String::new();
    archive.by_name(name).ok()?.take(most).read_to_string(&mut text).ok()?;
    Some(text)
}

pub(super) fn read(bytes: &[u8]) -> Result<Workbook, Refusal> {
    let manifest = part(bytes, "META-INF/manifest.xml", LONGEST_TEXTS).unwrap_or_default();
    if manifest.contains("encryption-data") {
        return Err(Refusal::Password);
    }
    let mut archive = ZipArchive::new(Cursor::new(bytes)).map_err(damaged)?;
    let content = archive.by_name("content.xml").map_err(damaged)?;
    let content =
        BufReader::with_capacity(64 * 1024, Bounded::new(content, LONGEST_PART, LONGEST_PART));
    let mut reader = Reader::from_reader(content);
    reader.config_mut().check_end_names = false;
    let mut content = Content { reader, buffer: Vec::new(), collector: Collector::default() };
    content.sheets()?;
    Ok(Workbook { sheets: content.collector.finished(), from_1904: false })
}

struct Content<R> {
    reader: Reader<R>,
    buffer: Vec<u8>,
    collector: Collector,
}

/// A cell as its attributes and its text give it.
#[derive(Default)]
struct Cell {
    kind: String,
    value: String,
    /// Whether an attribute gives its value, which may be an empty text.
    has_value: bool,
    calculated: bool,
    repeated: u64,
    rows: u64,
}

impl<R: BufRead> Content<R> {
    fn next(&mut self) -> Result<Event<'static>, Refusal> {
        self.buffer.clear();
        let event = self.reader.read_event_into(&mut self.buffer);
        Ok(event.map_err(|error| unread(&error))?.into_owned())
    }

    fn sheets(&mut self) -> Result<(), Refusal> {
        let (mut hidden, mut style, mut number) = (HashSet::new(), String::new(), 0);
        loop {
            match self.next()? {
                Event::DocType(_) => return Err(Refusal::Entities),
                Event::Start(tag) | Event::Empty(tag) if is(&tag, "style:style") => {
                    style = attribute(&tag, "style:name").unwrap_or_default();
                }
                Event::Start(tag) | Event::Empty(tag)
                    if is(&tag, "style:table-properties")
                        && attribute(&tag, "table:display").as_deref() == Some("false") =>
                {
                    hidden.insert(style.clone());
                }
                Event::Start(tag) if is(&tag, "table:table") => {
                    let name = attribute(&tag, "table:name").unwrap_or_default();
                    let style = attribute(&tag, "table:style-name").unwrap_or_default();
                    self.collector.begin(number, &name, hidden.contains(&style));
                    self.rows()?;
                    number += 1;
                }
                Event::Eof => return Ok(()),
                _ => {}
            }
        }
    }

    fn rows(&mut self) -> Result<(), Refusal> {
        let (mut row, mut merged, mut unvalued) = (0_u64, Vec::new(), Unvalued::default());
        loop {
            match self.next()? {
                Event::Start(tag) if is(&tag, "table:table-row") => {
                    let times = repeats(&tag, "table:number-rows-repeated");
                    let shown = attribute(&tag, "table:visibility");
                    let hidden = matches!(shown.as_deref(), Some("collapse" | "filter"));
                    self.row(row, hidden, &mut merged, &mut unvalued)?;
                    self.collector.repeat(row, times - 1)?;
                    row += times;
                }
                Event::Empty(tag) if is(&tag, "table:table-row") => {
                    row += repeats(&tag, "table:number-rows-repeated");
                }
                Event::End(tag) if tag.name().as_ref() == "table:table" => break,
                Event::Eof => return Err(Refusal::Damaged("it ends within a sheet".into())),
                _ => {}
            }
        }
        self.collector.unvalued(&unvalued);
        self.collector.end(&merged)
    }

    fn row(
        &mut self,
        row: u64,
        hidden: bool,
        merged: &mut Vec<(u64, u64, usize)>,
        unvalued: &mut Unvalued,
    ) -> Result<(), Refusal> {
        let mut column = 0_u64;
        loop {
            let (tag, empty) = match self.next()? {
                Event::Start(tag) if is_cell(&tag) => (tag, false),
                Event::Empty(tag) if is_cell(&tag) => (tag, true),
                Event::End(tag) if tag.name().as_ref() == "table:table-row" => return Ok(()),
                Event::Eof => return Err(Refusal::Damaged("it ends within a row".into())),
                _ => continue,
            };
            let cell = Cell::of(&tag);
            let shown = if empty { None } else { self.text()? };
            let place = usize::try_from(column).unwrap_or(usize::MAX);
            if cell.is_unvalued(shown.as_deref()) {
                unvalued.add_all((row, place), usize::try_from(cell.repeated).unwrap_or(1));
            }
            let shown = shown.unwrap_or_default();
            let fault = cell.kind == "error" || is_fault(&shown);
            let text = if fault { String::new() } else { cell.text(&shown) };
            if fault {
                self.collector.fault(row, place, &shown);
            }
            if !text.trim().is_empty() {
                if hidden {
                    self.collector.hide(row)?;
                }
                let part =
                    (cell.kind == "date").then(|| part_of_date(&cell.value, &shown)).flatten();
                if part.is_some() && cell.repeated < 100 {
                    for repeat in 0..cell.repeated {
                        let place = usize::try_from(column + repeat).unwrap_or(usize::MAX);
                        self.collector.part_of_date(row, place, shown.trim());
                    }
                }
                if cell.rows > 1 && merged.len() < super::super::table::MOST_ROWS {
                    merged.push((row, row.saturating_add(cell.rows - 1), place));
                }
                for repeat in 0..cell.repeated {
                    let place = usize::try_from(column + repeat).unwrap_or(usize::MAX);
                    self.collector.cell(row, place, text.as_str().into())?;
                }
            }
            column += cell.repeated;
        }
    }

    /// The paragraphs of a cell up to its end, without notes and drawings; `None` where it has none.
    fn text(&mut self) -> Result<Option<String>, Refusal> {
        let (mut text, mut paragraphs, mut depth, mut beside) =
            (String::new(), 0, 0_usize, 0_usize);
        loop {
            match self.next()? {
                Event::Start(tag) => {
                    depth += 1;
                    let name = tag.name();
                    let name = name.as_ref();
                    if beside > 0 || name == "office:annotation" || name.starts_with("draw:") {
                        beside += 1;
                    } else if name == "text:p" {
                        paragraphs += 1;
                        if paragraphs > 1 {
                            text.push('\n');
                        }
                    }
                }
                Event::Empty(tag) if beside == 0 => match tag.name().as_ref() {
                    "text:s" => {
                        let count = attribute(&tag, "text:c").and_then(|c| c.parse().ok());
                        text.push_str(&" ".repeat(count.unwrap_or(1_usize).min(1000)));
                    }
                    "text:tab" => text.push('\t'),
                    "text:line-break" => text.push('\n'),
                    "text:p" => paragraphs += 1,
                    _ => {}
                },
                Event::Text(part) if beside == 0 && depth > 0 => {
                    text.push_str(&part.xml10_content());
                }
                Event::CData(part) if beside == 0 => text.push_str(&part.xml10_content()),
                Event::GeneralRef(part) if beside == 0 => text.push_str(&character(&part)?),
                Event::End(_) if depth == 0 => {
                    return Ok((paragraphs > 0 || !text.is_empty()).then_some(text));
                }
                Event::End(_) => {
                    depth -= 1;
                    beside = beside.saturating_sub(1);
                }
                Event::Eof => return Err(Refusal::Damaged("it ends within a cell".into())),
                _ => {}
            }
            if text.len() > 1024 * 1024 {
                return Err(Refusal::Limit(None, Limit::Cells(MOST_FILLED)));
            }
        }
    }
}

/// A character that stands as `&lt;` or `&#233;`.
fn character(part: &quick_xml::events::BytesRef<'_>) -> Result<String, Refusal> {
    if let Ok(Some(c)) = part.resolve_char_ref() {
        return Ok(c.to_string());
    }
    quick_xml::escape::resolve_predefined_entity(part).map(str::to_owned).ok_or(Refusal::Entities)
}

impl Cell {
    fn of(tag: &BytesStart<'_>) -> Self {
        let mut cell = Self { repeated: 1, rows: 1, ..Self::default() };
        let mut attributes = tag.attributes();
        for attribute in attributes.with_checks(false).flatten() {
            let Ok(value) = attribute.normalized_value(XmlVersion::Implicit1_0) else { continue };
            match attribute.key.as_ref() {
                "table:number-columns-repeated" => cell.repeated = count(&value),
                "table:number-rows-spanned" => cell.rows = count(&value),
                "calcext:value-type" if value == "error" => cell.kind = value.into_owned(),
                "office:value-type" if cell.kind.is_empty() => cell.kind = value.into_owned(),
                "office:value"
                | "office:date-value"
                | "office:time-value"
                | "office:boolean-value"
                | "office:string-value" => {
                    let is_text = attribute.key.as_ref() == "office:string-value";
                    cell.has_value |= is_text || !value.trim().is_empty();
                    cell.value = value.into_owned();
                }
                "table:formula" => cell.calculated = true,
                _ => {}
            }
        }
        cell
    }

    /// Whether it has a formula and neither a value nor a text. An empty paragraph is the text of a formula that
    /// gives one.
    fn is_unvalued(&self, shown: Option<&str>) -> bool {
        let is_empty = || shown.is_none_or(|shown| shown.is_empty() && self.kind != "string");
        self.calculated && !self.has_value && is_empty()
    }

    fn text(&self, shown: &str) -> String {
        match self.kind.as_str() {
            _ if self.value.trim().is_empty() => shown.to_owned(),
            "float" | "currency" | "percentage" => number(&self.value, shown),
            "date" => date(&self.value, shown),
            "time" => {
                let time = cell::duration(&self.value);
                if groups(shown).len() == 2 { cell::without_seconds(&time) } else { time }
            }
            "boolean" => self.value.clone(),
            _ if shown.is_empty() => self.value.clone(),
            _ => shown.to_owned(),
        }
    }
}

/// The number as shown, where that is the same value with zeros or texts around it.
fn number(value: &str, shown: &str) -> String {
    let Ok(value) = value.trim().parse::<f64>() else { return shown.to_owned() };
    let is_part = |c: char| c.is_ascii_digit() || matches!(c, '.' | ',');
    let begin = shown.find(|c: char| c.is_ascii_digit());
    let end = shown.rfind(|c: char| c.is_ascii_digit());
    if let (Some(begin), Some(end)) = (begin, end) {
        let core = shown[begin..=end].replace(',', ".");
        let negative = matches!(shown[..begin].trim(), "-" | "\u{2212}");
        let same = core.parse::<f64>().is_ok_and(|core| {
            let core = if negative { -core } else { core };
            cell::number(core) == cell::number(value)
        });
        if same_in_parts(value, &shown[begin..=end]) {
            return shown.trim().to_owned();
        }
        if same && shown[begin..=end].chars().all(is_part) && !shown.contains('%') {
            let before = if negative { "-" } else { &shown[..begin] };
            return format!("{before}{core}{}", &shown[end + 1..]);
        }
    }
    cell::number(value)
}

/// Whether a whole number is shown in parts with hyphens between them: `26-0017`.
fn same_in_parts(value: f64, shown: &str) -> bool {
    let is_part = |part: &str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
    let digits = shown.replace('-', "");
    shown.contains('-')
        && shown.split('-').all(is_part)
        && digits.trim_start_matches('0') == cell::number(value)
}

/// A date; of a date with time what is shown of it.
fn date(value: &str, shown: &str) -> String {
    let text = cell::iso(value);
    let groups = groups(shown).len();
    if let Some(Part::WithoutDay(month)) = part_of_date(value, shown) {
        return month;
    }
    // the seconds are not shown
    let text = if shown.matches(':').count() == 1 { cell::without_seconds(&text) } else { text };
    match text.split_once('T') {
        Some((_, time)) if shown.contains(':') && groups <= 3 && !has_date(shown) => {
            time.to_owned()
        }
        Some((date, _)) if groups <= 3 && !shown.contains(':') && groups > 0 => date.to_owned(),
        _ => text,
    }
}

/// The numbers in a text.
fn groups(shown: &str) -> Vec<&str> {
    shown.split(|c: char| !c.is_ascii_digit()).filter(|part| !part.is_empty()).collect()
}

/// What is shown of a date in part.
enum Part {
    /// Month and year, or the year, of which it is the first day.
    WithoutDay(String),
    WithoutYear,
}

/// What is shown of a date without a time; `None` where all of it is.
fn part_of_date(value: &str, shown: &str) -> Option<Part> {
    let date: jiff::civil::Date = cell::iso(value).parse().ok()?;
    let groups = groups(shown);
    let letters = shown.contains(char::is_alphabetic);
    let (year, short) = (date.year().to_string(), format!("{:02}", date.year() % 100));
    let behind = groups.last().is_some_and(|last| *last == year || *last == short);
    match (letters, groups.len()) {
        (true, 1) | (false, 2) if behind && date.day() == 1 => {
            Some(Part::WithoutDay(date.strftime("%Y-%m").to_string()))
        }
        (true, 1) | (false, 2) if !behind => Some(Part::WithoutYear),
        (false, 1) if groups[0] == year && date.day() == 1 && date.month() == 1 => {
            Some(Part::WithoutDay(year))
        }
        _ => None,
    }
}

fn has_date(shown: &str) -> bool {
    let before = shown.split(':').next().unwrap_or(shown);
    before.split(|c: char| !c.is_alphanumeric()).filter(|part| !part.is_empty()).count() > 1
}

fn is_fault(shown: &str) -> bool {
    ["#N/A", "#REF!", "#VALUE!", "#DIV/0!", "#NAME?", "#NUM!", "#NULL!"].contains(&shown)
}

fn is(tag: &BytesStart<'_>, name: &str) -> bool {
    tag.name().as_ref() == name
}

fn is_cell(tag: &BytesStart<'_>) -> bool {
    is(tag, "table:table-cell") || is(tag, "table:covered-table-cell")
}

fn attribute(tag: &BytesStart<'_>, name: &str) -> Option<String> {
    let found = tag.try_get_attribute(name).ok()??;
    found.normalized_value(XmlVersion::Implicit1_0).ok().map(std::borrow::Cow::into_owned)
}

fn repeats(tag: &BytesStart<'_>, name: &str) -> u64 {
    attribute(tag, name).map_or(1, |value| count(&value))
}

fn count(value: &str) -> u64 {
    value.trim().parse().unwrap_or(1).clamp(1, MOST_REPEATS)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_as_shown_where_they_are_the_same() {
        for (value, shown, expected) in [
            ("7", "0007", "0007"),
            ("42.5", "42,50000", "42.50000"),
            ("-42.5", "-42.50", "-42.50"),
            ("412", "412 m", "412 m"),
            ("7", "TH-0007", "TH-0007"),
            ("1234.5", "1.234,5", "1234.5"),
            ("0.5", "50 %", "0.5"),
            ("0.333333333333333", "0.33", "0.333333333333333"),
            ("12", "", "12"),
        ] {
            assert_eq!(number(value, shown), expected, "{shown}");
        }
    }

    #[test]
    fn dates_as_shown() {
        assert_eq!(date("2026-05-03", "3 May 2026"), "2026-05-03");
        assert_eq!(date("2026-05-03T14:05:33", "03.05.26 14:05"), "2026-05-03T14:05");
        assert_eq!(date("2026-05-03T14:05:00", "14:05"), "14:05");
        assert_eq!(date("2026-05-03T14:05:00", "03.05.26"), "2026-05-03");
        assert_eq!(date("1899-12-30T14:05:00", "14:05"), "14:05");
        for (value, shown, expected) in [
            ("2025-10-01", "Okt 25", "2025-10"),
            ("2025-10-01", "October 2025", "2025-10"),
            ("2025-10-01", "10/25", "2025-10"),
            ("2025-01-01", "2025", "2025"),
            ("2025-10-03", "Okt 25", "2025-10-03"),
            ("2025-10-01", "1. Okt", "2025-10-01"),
            ("2025-10-01", "1. Okt 25", "2025-10-01"),
            ("2001-10-01", "01.10.", "2001-10-01"),
        ] {
            assert_eq!(date(value, shown), expected, "{shown}");
        }
    }
}

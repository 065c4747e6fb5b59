//! Checks the XML parts of an XLSX workbook before they are expanded, and finds in its sheets what the
//! reader of cells does not give: hidden rows, merged cells and formulas without a value. Layer: `ingest`.

use std::collections::HashMap;
use std::io::{self, BufReader, Cursor, Read};

use memchr::memmem;
use quick_xml::events::{BytesStart, Event};
use quick_xml::{Reader, XmlVersion};
use zip::ZipArchive;

use super::bounded::Bounded;
use super::{LONGEST_PART, LONGEST_TEXTS, Limit, MOST_FILLED, Refusal};
use crate::ingest::record::table::{MOST_CELLS, MOST_ROWS};

/// What a sheet has beside its cells.
#[derive(Debug, Default)]
pub(super) struct SheetPart {
    /// Hidden rows, from zero, in order.
    pub(super) hidden: Vec<u64>,
    /// Merged regions of several rows: first row, last row, column.
    pub(super) merged: Vec<(u64, u64, usize)>,
    /// Formulas without a value.
    pub(super) unvalued: Unvalued,
}

/// Cells with a formula for which the workbook keeps no value, as programs write them that do not calculate.
#[derive(Clone, Debug, Default)]
pub(in super::super) struct Unvalued {
    /// The first one: its row and column, from zero.
    pub(in super::super) first: Option<(u64, usize)>,
    pub(in super::super) count: usize,
    /// Their rows, from zero, in order.
    pub(in super::super) rows: Vec<u64>,
}

impl Unvalued {
    pub(super) fn add(&mut self, at: (u64, usize)) {
        self.add_all(at, 1);
    }

    /// Takes so many cells of one row, the first of them here.
    pub(super) fn add_all(&mut self, at: (u64, usize), count: usize) {
        self.first.get_or_insert(at);
        self.count += count;
        if self.rows.last() != Some(&at.0) {
            self.rows.push(at.0);
        }
    }
}

/// What is known of the current cell of a sheet.
#[derive(Default)]
struct Formula {
    at: Option<(u64, usize)>,
    calculated: bool,
    has_value: bool,
    in_value: bool,
}

impl Formula {
    /// A formula that gives an empty text says that its value is a text.
    fn of(tag: &BytesStart<'_>) -> Self {
        let has_value = attribute(tag, "t").as_deref() == Some("str");
        Self { at: attribute(tag, "r").and_then(|r| cell(&r)), has_value, ..Self::default() }
    }

    fn without_value(&self) -> Option<(u64, usize)> {
        self.at.filter(|_| self.calculated && !self.has_value)
    }
}

type Archive<'b> = ZipArchive<Cursor<&'b [u8]>>;

/// What a part of the archive is.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Part {
    Sheet,
    /// XML that is no sheet.
    Other,
}

impl Part {
    /// By its name in lower case; `None` where it is no XML.
    fn of(name: &str) -> Option<Self> {
        if ![".xml", ".rels"].iter().any(|end| name.ends_with(end)) {
            return None;
        }
        let sheet = name.contains("sheet") && !name.contains("sharedstrings");
        Some(if sheet { Self::Sheet } else { Self::Other })
    }
}

/// The sheets of a workbook by their path in lower case.
pub(super) type Sheets = HashMap<String, SheetPart>;

/// Checks every part that is not named as a sheet; gives them, since one may be a sheet all the same, and how
/// many bytes the other sheets may have.
pub(super) fn checked_beside_sheets(bytes: &[u8]) -> Result<(Sheets, u64), Refusal> {
    let mut archive = ZipArchive::new(Cursor::new(bytes)).map_err(damaged)?;
    let (mut others, mut left) = (Sheets::new(), LONGEST_PART);
    for index in 0..archive.len() {
        let part = archive.by_index(index).map_err(damaged)?;
        let name = String::from_utf8_lossy(part.name_raw()).to_lowercase();
        if Part::of(&name) == Some(Part::Other) {
            let most = left.min(LONGEST_TEXTS);
            let limit = if left < LONGEST_TEXTS { LONGEST_PART } else { LONGEST_TEXTS };
            let mut counted = Counted { inner: Bounded::new(part, most, limit), read: 0 };
            let part = scan(&mut counted)?;
            left = left.saturating_sub(counted.read);
            others.insert(name, part);
        }
    }
    Ok((others, left))
}

/// Checks every part that is named as a sheet, of `left` bytes together at most.
pub(super) fn checked_sheets(bytes: &[u8], mut left: u64) -> Result<Sheets, Refusal> {
    let mut archive = ZipArchive::new(Cursor::new(bytes)).map_err(damaged)?;
    let mut sheets = Sheets::new();
    for index in 0..archive.len() {
        let part = archive.by_index(index).map_err(damaged)?;
        let name = String::from_utf8_lossy(part.name_raw()).to_lowercase();
        if Part::of(&name) != Some(Part::Sheet) {
            continue;
        }
        let most = left;
        let mut counted = Counted { inner: Bounded::new(part, most, LONGEST_PART), read: 0 };
        let to_parse = has_more_than_cells(&mut counted).map_err(|error| unread(&error.into()))?;
        left = left.saturating_sub(counted.read);
        drop(counted);
        let sheet = if to_parse {
            let part = archive.by_index(index).map_err(damaged)?;
            scan(Bounded::new(part, most, LONGEST_PART))?
        } else {
            SheetPart::default()
        };
        sheets.insert(name, sheet);
    }
    Ok(sheets)
}

struct Counted<R> {
    inner: R,
    read: u64,
}

impl<R: Read> Read for Counted<R> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let read = self.inner.read(buffer)?;
        self.read += read as u64;
        Ok(read)
    }
}

/// Whether a sheet may have hidden rows, merged cells, declarations or formulas without a value, by their words alone:
/// most sheets have none and need not be parsed for them.
fn has_more_than_cells(mut part: impl Read) -> io::Result<bool> {
    const LONGEST: usize = 9;
    let words = ["hidden", "mergeCell", "<!", "<v></v>", "<v/>", "<v />", "</f></c>"];
    let words = words.map(memmem::Finder::new);
    let mut buffer = vec![0; 64 * 1024];
    let (mut kept, mut found) = (0, false);
    loop {
        let read = match part.read(&mut buffer[kept..]) {
            Ok(read) => read,
            Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
            Err(error) => return Err(error),
        };
        if read == 0 {
            return Ok(found);
        }
        let end = kept + read;
        found = found || words.iter().any(|word| word.find(&buffer[..end]).is_some());
        // a word may begin at the end of what was read
        kept = end.min(LONGEST - 1);
        buffer.copy_within(end - kept..end, 0);
    }
}

fn scan(part: impl Read) -> Result<SheetPart, Refusal> {
    let mut reader = Reader::from_reader(BufReader::with_capacity(64 * 1024, part));
    let config = reader.config_mut();
    config.check_end_names = false;
    config.allow_unmatched_ends = true;
    let (mut sheet, mut formula) = (SheetPart::default(), Formula::default());
    let (mut buffer, mut row, mut texts) = (Vec::new(), 0_u64, 0_usize);
    loop {
        buffer.clear();
        match reader.read_event_into(&mut buffer).map_err(|error| unread(&error))? {
            Event::DocType(_) => return Err(Refusal::Entities),
            Event::Start(tag) | Event::Empty(tag) => match tag.local_name().as_ref() {
                "row" => {
                    row = attribute(&tag, "r").and_then(|r| r.parse().ok()).unwrap_or(row + 1);
                    if is_true(attribute(&tag, "hidden").as_deref()) {
                        sheet.hidden.push(row.saturating_sub(1));
                    }
                }
                "c" => formula = Formula::of(&tag),
                "f" => formula.calculated = true,
                "v" => formula.in_value = true,
                "mergeCell" => sheet.merged.extend(attribute(&tag, "ref").and_then(|r| region(&r))),
                "sst" => too_many(attribute(&tag, "uniqueCount").and_then(|n| n.parse().ok()))?,
                "si" => {
                    texts += 1;
                    too_many(Some(texts))?;
                }
                _ => {}
            },
            Event::Text(text) if formula.in_value && !text.trim().is_empty() => {
                formula.has_value = true;
            }
            Event::End(tag) => match tag.local_name().as_ref() {
                "v" => formula.in_value = false,
                "c" => {
                    if let Some(at) = std::mem::take(&mut formula).without_value() {
                        sheet.unvalued.add(at);
                    }
                }
                _ => {}
            },
            Event::Eof => break,
            _ => {}
        }
        if sheet.merged.len() > MOST_ROWS || sheet.hidden.len() > 20 * MOST_ROWS {
            return Err(Refusal::Part("it has more merged cells or hidden rows than rows".into()));
        }
    }
    Ok(sheet)
}

fn too_many(texts: Option<usize>) -> Result<(), Refusal> {
    match texts {
        Some(count) if count > MOST_CELLS / 2 => {
            Err(Refusal::Limit(None, Limit::Cells(MOST_FILLED)))
        }
        _ => Ok(()),
    }
}

/// `A2:A9` as rows and column from zero; `None` where it is of one row.
fn region(text: &str) -> Option<(u64, u64, usize)> {
    let (from, to) = text.split_once(':')?;
    let ((first, column), (last, _)) = (cell(from)?, cell(to)?);
    (last > first).then_some((first, last, column))
}

fn cell(text: &str) -> Option<(u64, usize)> {
    let text = text.trim().replace('$', "");
    let digits = text.find(|c: char| c.is_ascii_digit())?;
    let (letters, row) = text.split_at(digits);
    let column = letters.bytes().try_fold(0_usize, |column, letter| {
        let value = usize::from(letter.to_ascii_uppercase().checked_sub(b'A')?);
        column.checked_mul(26)?.checked_add(value + 1)
    })?;
    Some((row.parse::<u64>().ok()?.checked_sub(1)?, column.checked_sub(1)?))
}

/// The paths of the sheets, in lower case, by their names.
pub(super) fn paths(bytes: &[u8]) -> Option<HashMap<String, String>> {
    let mut archive = ZipArchive::new(Cursor::new(bytes)).ok()?;
    let name_of = |index: usize, archive: &mut Archive<'_>| {
        let part = archive.by_index_raw(index).ok()?;
        Some(String::from_utf8_lossy(part.name_raw()).into_owned())
    };
    let names: Vec<String> =
        (0..archive.len()).filter_map(|index| name_of(index, &mut archive)).collect();
    let book = names.iter().position(|name| name.to_lowercase().ends_with("workbook.xml"))?;
    let folder = names[book].rsplit_once('/').map_or("", |(folder, _)| folder).to_lowercase();
    let links = names.iter().position(|name| {
        name.to_lowercase().trim_start_matches('/').ends_with("_rels/workbook.xml.rels")
    })?;
    let targets = pairs(&mut archive, links, "Relationship", ["Id", "Target"])?;
    let ids = pairs(&mut archive, book, "sheet", ["name", "id"])?;
    let path = |target: &str| match target.strip_prefix('/') {
        Some(whole) => whole.to_lowercase(),
        None => format!("{folder}/{}", target.to_lowercase()).trim_start_matches('/').to_owned(),
    };
    let sheets = ids.into_iter().filter_map(|(name, id)| {
        let (_, target) = targets.iter().find(|(known, _)| *known == id)?;
        Some((name, path(target)))
    });
    Some(sheets.collect())
}

/// Two attributes of each element of a name.
fn pairs(
    archive: &mut Archive<'_>,
    index: usize,
    element: &str,
    keys: [&str; 2],
) -> Option<Vec<(String, String)>> {
    let part = Bounded::new(archive.by_index(index).ok()?, LONGEST_TEXTS, LONGEST_TEXTS);
    let mut reader = Reader::from_reader(BufReader::new(part));
    let (mut buffer, mut pairs) = (Vec::new(), Vec::new());
    loop {
        buffer.clear();
        match reader.read_event_into(&mut buffer).ok()? {
            Event::Start(tag) | Event::Empty(tag) if tag.local_name().as_ref() == element => {
                if let (Some(one), Some(two)) = (attribute(&tag, keys[0]), attribute(&tag, keys[1]))
                {
                    pairs.push((one, two));
                }
            }
            Event::Eof => return Some(pairs),
            _ => {}
        }
    }
}

/// An attribute by its name without prefix.
pub(super) fn attribute(tag: &BytesStart<'_>, name: &str) -> Option<String> {
    let mut attributes = tag.attributes();
    let found = attributes
        .with_checks(false)
        .flatten()
        .find(|attribute| attribute.key.local_name().as_ref() == name)?;
    found.normalized_value(XmlVersion::Implicit1_0).ok().map(std::borrow::Cow::into_owned)
}

fn is_true(value: Option<&str>) -> bool {
    matches!(value, Some("1" | "true"))
}

pub(super) fn unread(error: &quick_xml::Error) -> Refusal {
    match error {
        quick_xml::Error::Io(error) if error.kind() == std::io::ErrorKind::Other => {
            Refusal::Part(error.to_string())
        }
        error => Refusal::Damaged(error.to_string()),
    }
}

pub(super) fn damaged(error: impl std::fmt::Display) -> Refusal {
    Refusal::Damaged(error.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Gives so many bytes at a time.
    struct Slow<'t>(&'t [u8], usize);

    impl Read for Slow<'_> {
        fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
            let length = self.1.min(buffer.len());
            self.0.read(&mut buffer[..length])
        }
    }

    #[test]
    fn words_are_found_across_reads() {
        let plain = "<row r=\"1\"><c><v>12</v></c></row>".repeat(50);
        for step in 1..20 {
            let found = |text: &str| has_more_than_cells(Slow(text.as_bytes(), step)).unwrap();
            assert!(!found(&plain));
            for word in [
                "<c><f>A1</f><v></v></c>",
                "<c><f>A1</f></c>",
                "<row hidden=\"1\"/>",
                "<x:mergeCell ref=\"A1:A2\"/>",
                "<!DOCTYPE a>",
            ] {
                assert!(found(&format!("{plain}{word}")), "{word} by {step}");
                assert!(found(&format!("{word}{plain}")), "{word} by {step}");
            }
        }
    }

    #[test]
    fn formulas_without_a_value_are_found() {
        let sheet = "<row r=\"1\"><c r=\"A1\"><f>1+1</f><v>2</v></c><c r=\"B1\"><f>C1</f><v></v></c></row>\
            <row r=\"2\"><c r=\"A2\"><f>1</f><v/></c><c r=\"B2\" t=\"str\"><f>\"\"</f><v></v></c>\
            <c r=\"C2\"/><c r=\"D2\"><v>5</v></c></row><row r=\"3\"><c r=\"A3\"><f>1</f></c></row>";
        let found = scan(sheet.as_bytes()).unwrap().unvalued;
        assert_eq!((found.first, found.count, found.rows), (Some((0, 1)), 3, vec![0, 1, 2]));
    }

    #[test]
    fn regions_of_several_rows() {
        assert_eq!(region("A2:A9"), Some((1, 8, 0)));
        assert_eq!(region("$AB$10:AC11"), Some((9, 10, 27)));
        assert_eq!(region("A1:F1"), None);
        assert_eq!(region("A0:B2"), None);
        assert_eq!(region("ZZZZZZZZZZZZZZZZZZZZ1:A3"), None);
    }
}

//! Workbooks of extreme size: small archives that expand.

use std::io::{Cursor, Write};
use std::path::Path;

use trug::ingest::record;
use zip::ZipWriter;
use zip::write::SimpleFileOptions;

use super::{assert_bounded, measured, turn};

const PACKAGE: &str = r#"<Relationships><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument" Target="xl/workbook.xml"/></Relationships>"#;
const BOOK: &str =
    r#"<workbook><sheets><sheet name="2026" sheetId="1" r:id="rId1"/></sheets></workbook>"#;
const RELS: &str = r#"<Relationships><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet1.xml"/></Relationships>"#;

/// A workbook whose sheet and shared texts are written piece by piece.
fn xlsx(sheet: impl Iterator<Item = String>, texts: impl Iterator<Item = String>) -> Vec<u8> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    let mut part = |name: &str, pieces: &mut dyn Iterator<Item = String>| {
        zip.start_file(name, SimpleFileOptions::default().compression_level(Some(1))).unwrap();
        for piece in pieces {
            zip.write_all(piece.as_bytes()).unwrap();
        }
    };
    part("_rels/.rels", &mut std::iter::once(PACKAGE.to_owned()));
    part("xl/workbook.xml", &mut std::iter::once(BOOK.to_owned()));
    part("xl/_rels/workbook.xml.rels", &mut std::iter::once(RELS.to_owned()));
    let begin = std::iter::once("<worksheet><sheetData>".to_owned());
    let end = std::iter::once("</sheetData></worksheet>".to_owned());
    part("xl/worksheets/sheet1.xml", &mut begin.chain(sheet).chain(end));
    part(
        "xl/sharedStrings.xml",
        &mut std::iter::once("<sst>".to_owned()).chain(texts).chain(["</sst>".to_owned()]),
    );
    zip.finish().unwrap().into_inner()
}

fn row(row: usize, cells: &[&str]) -> String {
    let cells: String = cells
        .iter()
        .zip("ABCDEFGHIJKLMNOP".chars())
        .map(|(text, c)| format!(r#"<c r="{c}{row}" t="inlineStr"><is><t>{text}</t></is></c>"#))
        .collect();
    format!(r#"<row r="{row}">{cells}</row>"#)
}

const HEADINGS: [&str; 10] =
    ["number", "date", "time", "place", "host", "name", "photos", "latitude", "longitude", "notes"];

fn read(bytes: &[u8]) -> trug::error::Result<trug::model::RecordFile> {
    record::read_from(bytes, Path::new("a.xlsx"))
}

fn none() -> std::iter::Empty<String> {
    std::iter::empty()
}

#[test]
fn a_hundred_thousand_records_are_read_in_300_megabytes() {
    let _turn = turn();
    let rows = (2..100_002).map(|number| {
        let (a, b) = (format!("TH-{number}"), format!("{:02}:{:02}", number % 24, number % 60));
        let degrees = format!("-42.{number:06}");
        row(
            number,
            &[
                &a,
                "2026-05-03",
                &b,
                "Fern gully",
                "Nothofagus",
                "Mycena sp.",
                "P1004",
                &degrees,
                "146.25",
                "x",
            ],
        )
    });
    let bytes = xlsx(std::iter::once(row(1, &HEADINGS)).chain(rows), none());
    let (file, peak) = measured(|| read(&bytes).unwrap());
    assert_eq!(file.records.len(), 100_000);
    assert!(peak <= 300_000_000, "{} MB", peak / 1_000_000);
}

#[test]
fn workbooks_that_expand_are_read_or_refused_in_bounds() {
    let _turn = turn();
    let expect = |bytes: &[u8], what: &str, why: &str| {
        assert!(bytes.len() < 20 << 20, "{what}: {} bytes", bytes.len());
        let (refused, peak) = measured(|| read(bytes).map(|file| file.records.len()));
        assert_bounded(bytes.len(), peak, what);
        match refused {
            Ok(count) => assert_eq!(count.to_string(), why, "{what}"),
            Err(error) => assert!(error.why().unwrap().contains(why), "{what}: {error}"),
        }
    };
    let head = || std::iter::once(row(1, &HEADINGS));
    let zeros = |count: usize| std::iter::repeat_n("0".repeat(1 << 20), count);
    expect(&xlsx(head(), zeros(100)), "one long text", "longer than 1024 KiB");
    let texts = std::iter::repeat_n("<si><t>a</t></si>".repeat(10_000), 300);
    expect(&xlsx(head(), texts), "three million texts", "4000000 cells");
    let blank = format!("<row spans=\"{}\"/>", "1:2 ".repeat(5_000));
    let blank = std::iter::repeat_n(blank, 13_500);
    expect(&xlsx(head().chain(blank), none()), "270 MB of empty rows", "longer than 256 MiB");
    let wide = (2..5_000)
        .map(|number| format!(r#"<row r="{number}"><c r="LLL{number}"><v>1</v></c></row>"#));
    expect(&xlsx(head().chain(wide), none()), "far columns", "4000000 cells");
    let same = std::iter::once("<si><t>fern</t></si>".to_owned());
    let cells = (2..100_000).map(|number| {
        let cells: String = "ABCDEFGHIJKLMNOP"
            .chars()
            .map(|c| format!(r#"<c r="{c}{number}" t="s"><v>0</v></c>"#))
            .collect();
        format!(r#"<row r="{number}">{cells}</row>"#)
    });
    expect(&xlsx(head().chain(cells), same), "a text in every cell", "99998");
    let shared = std::iter::once(format!("<si><t>{}</t></si>", "x".repeat(900_000)));
    let cells = (2..90_000)
        .map(|number| format!(r#"<row r="{number}"><c r="A{number}" t="s"><v>0</v></c></row>"#));
    expect(&xlsx(head().chain(cells), shared), "a long text in every row", "48 MiB of text");
    let again =
        std::iter::repeat_n(r#"<row r="2"><c r="A2"><v>1</v></c></row>"#.repeat(10_000), 450);
    expect(
        &xlsx(head().chain(again), none()),
        "one cell four million times",
        "longer than 1024 KiB",
    );
}

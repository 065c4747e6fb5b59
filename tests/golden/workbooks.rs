//! Tests messages for workbooks: what is read, with the cell of each note, and each refusal.

use std::io::{Cursor, Write};

use insta::assert_snapshot;
use rust_xlsxwriter::{ExcelDateTime, Format, Formula, Workbook};
use zip::ZipWriter;
use zip::write::SimpleFileOptions;

use crate::run::Desk;

const HEADINGS: [&str; 7] = ["Number", "Date", "Time", "Place", "Host", "Name", "Photos"];

fn year() -> Workbook {
    let mut book = Workbook::new();
    let about = book.add_worksheet();
    about.set_name("About").unwrap();
    about.write(0, 0, "Notebook of Tilda Heron").unwrap();
    let sheet = book.add_worksheet();
    sheet.set_name("2025").unwrap();
    let (date, time) =
        (Format::new().set_num_format("d.m.yyyy"), Format::new().set_num_format("hh:mm"));
    sheet.merge_range(0, 0, 0, 6, "Finds of the year", &Format::new()).unwrap();
    for (column, heading) in (0..).zip(HEADINGS) {
        sheet.write(2, column, heading).unwrap();
    }
    let days = [(5_u8, 3_u8), (5, 3), (6, 7), (6, 7), (9, 20)];
    for (row, (number, (month, day))) in (3..).zip((1..).zip(days)) {
        sheet.write(row, 0, number).unwrap();
        let when = ExcelDateTime::from_ymd(2025, month, day).unwrap();
        sheet.write_with_format(row, 1, &when, &date).unwrap();
        let clock = ExcelDateTime::from_hms(9 + u16::from(day), 5, 0).unwrap();
        sheet.write_with_format(row, 2, &clock, &time).unwrap();
        sheet.write(row, 3, "Fern gully").unwrap();
        sheet.write(row, 4, "Nothofagus").unwrap();
        sheet.write(row, 5, "Mycena sp.").unwrap();
    }
    sheet.write(13, 0, 6).unwrap();
    sheet.write(13, 2, "after lunch").unwrap();
    sheet.write_formula(13, 4, Formula::new("=X1").set_result("#REF!")).unwrap();
    sheet.write(14, 0, "Total").unwrap();
    sheet.write_formula(14, 6, Formula::new("=COUNT(A4:A14)").set_result("6")).unwrap();
    sheet.set_row_hidden(5).unwrap();
    let old = book.add_worksheet();
    old.set_name("2019").unwrap();
    old.write(0, 0, "Number").unwrap();
    old.write(0, 1, "Date").unwrap();
    old.write(1, 0, 1).unwrap();
    old.set_hidden(true);
    book
}

fn archive(parts: &[(&str, &str)]) -> Vec<u8> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, content) in parts {
        zip.start_file(*name, SimpleFileOptions::default()).unwrap();
        zip.write_all(content.as_bytes()).unwrap();
    }
    zip.finish().unwrap().into_inner()
}

fn imported(name: &str, content: impl AsRef<[u8]>) -> String {
    let desk = Desk::new();
    desk.file(&format!("day/{name}"), content);
    desk.reported(&["check", "day", "--zone", "UTC"])
}

#[test]
fn a_workbook_of_a_year() {
    assert_snapshot!(imported("finds.xlsx", year().save_to_buffer().unwrap()));
}

#[test]
fn an_encrypted_workbook() {
    let mut file = cfb::CompoundFile::create(Cursor::new(Vec::new())).unwrap();
    file.create_stream("/EncryptedPackage").unwrap().write_all(b"secret").unwrap();
    file.flush().unwrap();
    assert_snapshot!(imported("finds.xlsx", file.into_inner().into_inner()));
}

#[test]
fn a_workbook_without_records() {
    let mut book = Workbook::new();
    let sheet = book.add_worksheet();
    sheet.write(0, 0, "Dear friends").unwrap();
    assert_snapshot!(imported("letter.xlsx", book.save_to_buffer().unwrap()));
}

#[test]
fn a_workbook_with_its_own_entities() {
    let content = "<!DOCTYPE a [<!ENTITY a \"spore\">]><office:document-content/>";
    let parts =
        [("mimetype", "application/vnd.oasis.opendocument.spreadsheet"), ("content.xml", content)];
    assert_snapshot!(imported("finds.ods", archive(&parts)));
}

#[test]
fn a_workbook_with_one_endless_text() {
    let text = "0".repeat(3 << 20);
    let parts = [
        ("mimetype", "application/vnd.oasis.opendocument.spreadsheet"),
        ("content.xml", text.as_str()),
    ];
    assert_snapshot!(imported("finds.ods", archive(&parts)));
}

#[test]
fn a_workbook_cut_short() {
    let whole = year().save_to_buffer().unwrap();
    assert_snapshot!(imported("finds.xlsx", &whole[..whole.len() / 2]));
}

#[test]
fn a_spreadsheet_of_another_format() {
    assert_snapshot!(imported("finds.numbers", archive(&[("Index/Document.iwa", "")])));
}

const GERMAN: &str = "Fundnr.;Datum;Uhrzeit;Fundort;Art;Wirt;Fotoz;Wetter;leg./det.\n\
    1;3.5.2026;14:05;Buchenhang;Mycena cf. pura;Fagus;P1004;trocken;A. Heron\n\
    2;3.5.2026;14:17;Buchenhang;Mycena sp.;Fagus;P1009;Regen;A. Heron\n";

#[test]
fn a_column_that_is_not_known() {
    assert_snapshot!(imported("buch.csv", GERMAN));
}

#[test]
fn columns_that_are_stated_and_remembered() {
    let desk = Desk::new();
    desk.file("day/buch.csv", GERMAN);
    desk.file("columns.toml", "[columns]\n\"Fotoz\" = \"photos\"\n\"Wetter\" = \"keep\"\n");
    let import = ["import", "day", "--zone", "UTC", "--store", "a.gpkg"];
    let stated = desk.reported(&[&import[..], &["--columns", "columns.toml"]].concat());
    assert_snapshot!(stated);
    // the store remembers: nothing changes
    let again = desk.reported(&import);
    assert!(again.contains("already imported, no changes"), "{again}");
    assert!(again.contains("\"Fotoz\" as photos"), "{again}");
}

#[test]
fn columns_that_cannot_be_stated() {
    let desk = Desk::new();
    desk.file("day/buch.csv", GERMAN);
    desk.file("bad.toml", "[columns]\n\"Fotoz\" = photos\n");
    let check = |more: &[&str]| desk.reported(&[&["check", "day"], more].concat());
    assert_snapshot!(
        [
            check(&["--column", "Fotoz=bilda"]),
            check(&["--column", "Fotoz"]),
            check(&["--column", "Futter=photos"]),
            check(&["--columns", "bad.toml"]),
        ]
        .join("\n")
    );
}

#[test]
fn an_empty_notebook_in_any_form() {
    let desk = Desk::new();
    for name in ["a.xlsx", "a.ods", "a.csv"] {
        let written = desk.reported(&["template", "--out", name, "--language", "fi"]);
        assert!(written.contains("0 rows"), "{written}");
        // its headings are known; there is no record in it
        let read = trug::ingest::record::read(&desk.path(name)).unwrap();
        assert!(read.records.is_empty() && read.set_aside.is_empty(), "{name}: {read:?}");
    }
    assert_snapshot!(desk.reported(&["template", "--out", "a.pdf"]));
}

/// Photographs and track of a sample day, without its notebook.
fn sample_day(desk: &Desk) {
    let day = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-tracks/2026-04-18-wren-gully");
    for entry in std::fs::read_dir(day).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|end| end != "csv") {
            let name = format!("day/{}", path.file_name().unwrap().to_string_lossy());
            desk.file(&name, std::fs::read(&path).unwrap());
        }
    }
}

#[test]
fn a_prepared_notebook_joins_exactly() {
    for form in ["xlsx", "ods", "csv"] {
        let desk = Desk::new();
        sample_day(&desk);
        let out = format!("day/notebook.{form}");
        let made =
            ["template", "--from", "day", "--out", &out, "--language", "de", "--number", "TH-0098"];
        let said = desk.reported(&made);
        assert!(said.starts_with("exit status: 0"), "{said}");
        let read = trug::ingest::record::read(&desk.path(&out)).unwrap();
        assert!(read.records.len() > 5 && read.remarks.is_empty(), "{form}: {read:?}");
        assert_eq!(read.records[2].number.as_ref().unwrap().0, "TH-0100", "{form}");
        let output = desk.run(&["check", "day", "--json"]);
        let object: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
        let finds = object["finds"].as_array().unwrap();
        assert_eq!(finds.len(), read.records.len(), "{form}");
        for (find, record) in finds.iter().zip(&read.records) {
            let photos: Vec<&str> = find["photographs"]
                .as_array()
                .unwrap()
                .iter()
                .filter_map(|photo| photo.as_str().or_else(|| photo["file"].as_str()))
                .collect();
            let named: Vec<&str> = record.photos.iter().map(|photo| photo.0.as_str()).collect();
            assert_eq!(photos, named, "{form}: {find}");
            assert!(find["decimalLatitude"].is_number(), "{form}: {find}");
        }
        // all photographs and waypoints are claimed: nothing is left for another notebook
        let more = desk.reported(&["template", "--from", "day", "--out", "more.csv"]);
        assert!(more.contains("more.csv, 0 rows"), "{more}");
    }
}

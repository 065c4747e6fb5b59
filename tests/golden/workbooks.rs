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

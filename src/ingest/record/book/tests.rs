//! Workbooks as bytes, well made and hostile.

use std::io::{Cursor, Write};
use std::path::Path;

use zip::ZipWriter;
use zip::write::SimpleFileOptions;

use super::*;
use crate::ingest::record::read_from;
use crate::model::RecordFile;

const RELS: &str = r#"<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet1.xml"/><Relationship Id="rId2" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="/xl/worksheets/sheet2.xml"/></Relationships>"#;
const STYLES: &str = r#"<styleSheet><numFmts count="2"><numFmt numFmtId="164" formatCode="0000"/><numFmt numFmtId="165" formatCode="0.00000"/></numFmts><cellXfs><xf numFmtId="0"/><xf numFmtId="14"/><xf numFmtId="20"/><xf numFmtId="22"/><xf numFmtId="164"/><xf numFmtId="165"/></cellXfs></styleSheet>"#;
const PACKAGE: &str = r#"<Relationships><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument" Target="xl/workbook.xml"/></Relationships>"#;
const EMPTY: &str = "<worksheet><sheetData/></worksheet>";

fn archive(parts: &[(&str, &str)]) -> Vec<u8> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, content) in parts {
        zip.start_file(*name, SimpleFileOptions::default()).unwrap();
        zip.write_all(content.as_bytes()).unwrap();
    }
    zip.finish().unwrap().into_inner()
}

fn xlsx_with(properties: &str, sheet: &str, other: &[(&str, &str)]) -> Vec<u8> {
    let book = format!(
        r#"<workbook xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"><workbookPr{properties}/><sheets><sheet name="2026" sheetId="1" r:id="rId1"/><sheet name="old" sheetId="2" state="hidden" r:id="rId2"/></sheets></workbook>"#
    );
    let sheet = format!("<worksheet>{sheet}</worksheet>");
    let second = r#"<worksheet><sheetData><row r="1"><c r="A1" t="inlineStr"><is><t>number</t></is></c><c r="B1" t="inlineStr"><is><t>date</t></is></c></row><row r="2"><c r="A2"><v>1</v></c></row></sheetData></worksheet>"#;
    let mut parts = vec![
        ("_rels/.rels", PACKAGE),
        ("xl/workbook.xml", book.as_str()),
        ("xl/_rels/workbook.xml.rels", RELS),
        ("xl/styles.xml", STYLES),
        ("xl/worksheets/sheet1.xml", sheet.as_str()),
        ("xl/worksheets/sheet2.xml", second),
    ];
    parts.retain(|(name, _)| other.iter().all(|(own, _)| own != name));
    parts.extend_from_slice(other);
    archive(&parts)
}

fn text(place: &str, text: &str) -> String {
    format!(r#"<c r="{place}" t="inlineStr"><is><t>{text}</t></is></c>"#)
}

fn headings(row: u32) -> String {
    let cells = ["Number", "Date", "Time", "Latitude", "Longitude", "Notes"];
    let cells = cells.iter().zip("ABCDEF".chars());
    let cells: String = cells.map(|(name, c)| text(&format!("{c}{row}"), name)).collect();
    format!(r#"<row r="{row}">{cells}</row>"#)
}

fn records(bytes: &[u8]) -> RecordFile {
    read_from(bytes, Path::new("a.xlsx")).unwrap()
}

fn refused(bytes: &[u8]) -> String {
    read_from(bytes, Path::new("a.xlsx")).unwrap_err().to_string()
}

fn said(file: &RecordFile) -> String {
    let all = file.remarks.iter().chain(&file.set_aside);
    all.map(ToString::to_string).collect::<Vec<_>>().join("\n")
}

fn day() -> String {
    format!(
        r#"<sheetData><row r="1">{}</row>{}<row r="5"><c r="A5" s="4"><v>17</v></c><c r="B5" s="1"><v>SERIAL</v></c><c r="C5" s="2"><f>A1+1</f><v>0.586805555555556</v></c><c r="D5" s="5"><v>42.5</v></c><c r="E5" s="5"><v>146.25</v></c></row><row r="6" hidden="1"><c r="A6"><v>18</v></c><c r="C6" s="3"><v>SERIAL.604166666666667</v></c><c r="F6" t="e"><v>#REF!</v></c></row><row r="7">{}<c r="A7"><v>2</v></c></row></sheetData><mergeCells><mergeCell ref="A1:F1"/><mergeCell ref="B5:B6"/></mergeCells>"#,
        text("A1", "Finds of the year"),
        headings(3),
        text("B7", "total"),
    )
}

#[test]
fn a_sheet_of_either_date_system_gives_the_same_records() {
    for (properties, serial) in [("", "46145"), (r#" date1904="1""#, "44683")] {
        let file = records(&xlsx_with(properties, &day().replace("SERIAL", serial), &[]));
        let reported: Vec<String> = file
            .records
            .iter()
            .map(|record| {
                let number = record.number.as_ref().unwrap();
                format!("{number} {} {}", record.date.unwrap(), record.time.unwrap().clock)
            })
            .collect();
        assert_eq!(reported, ["0017 2026-05-03 14:05:00", "18 2026-05-03 14:30:00"]);
        let written = &file.records[0].coordinates.as_ref().unwrap().verbatim;
        assert_eq!(written, "42.50000 146.25000");
        assert_eq!(file.records[1].origin(), "row 6 of sheet \"2026\"");
        let said = said(&file);
        for part in [
            "1 hidden row is read as well (a.xlsx, Sheet \"2026\", row 6)",
            "a formula has no value (a.xlsx, Sheet \"2026\", cell F6)",
            "a row of totals was skipped (a.xlsx, Sheet \"2026\", row 7)",
            "the sheet \"old\" was not read (a.xlsx)\nbecause: it is hidden",
        ] {
            assert!(said.contains(part), "{part}: {said}");
        }
    }
}

#[test]
fn a_cell_that_cannot_be_read_is_named() {
    let sheet = format!(
        r#"<sheetData>{}<row r="14"><c r="A14"><v>1</v></c>{}</row></sheetData>"#,
        headings(1),
        text("C14", "after lunch")
    );
    let file = records(&xlsx_with("", &sheet, &[]));
    assert!(said(&file).contains("cannot be read (a.xlsx, Sheet \"2026\", cell C14)"), "{file:?}");
}

#[test]
fn ten_million_empty_rows_are_read_over() {
    let rows = "<row/>".repeat(10_000_000);
    let last = r#"<row r="10000002"><c r="A10000002"><v>1</v></c></row>"#;
    let sheet = format!("<sheetData>{}{rows}{last}</sheetData>", headings(1));
    let bytes = xlsx_with("", &sheet, &[]);
    assert!(bytes.len() < 1_000_000);
    assert_eq!(records(&bytes).records.len(), 1);
}

#[test]
fn hostile_workbooks_are_refused_with_the_reason() {
    let sheet = |inner: &str| format!("<sheetData>{}{inner}</sheetData>", headings(1));
    let long = sheet(&text("A2", &"x".repeat(3 << 20)));
    assert!(refused(&xlsx_with("", &long, &[])).contains("longer than 1024 KiB"));
    let far = sheet(r#"<row r="2"><c r="XFD2"><v>1</v></c></row>"#);
    let said = refused(&xlsx_with("", &far, &[]));
    assert!(said.contains("of sheet \"2026\": it has 16384 columns; the limit is 10000"), "{said}");
    let texts = r#"<sst uniqueCount="99999999999"><si><t>a</t></si></sst>"#;
    let many = xlsx_with("", &sheet(""), &[("xl/sharedStrings.xml", texts)]);
    assert!(refused(&many).contains("exceeds the size limit"), "{}", refused(&many));
    let bomb = r#"<!DOCTYPE a [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]><worksheet><sheetData><row r="1"><c r="A1" t="inlineStr"><is><t>&b;</t></is></c></row></sheetData></worksheet>"#;
    let entities = xlsx_with("", "", &[("xl/worksheets/sheet2.xml", bomb)]);
    assert!(refused(&entities).contains("entities of its own"), "{}", refused(&entities));
    let whole = xlsx_with("", &sheet(""), &[]);
    for cut in [5, 30, whole.len() / 2, whole.len() - 3] {
        assert!(refused(&whole[..cut]).contains("cannot be read as a workbook"), "{cut}");
    }
    let none = xlsx_with("", "<sheetData/>", &[("xl/worksheets/sheet2.xml", EMPTY)]);
    assert!(refused(&none).contains("all of its sheets are empty"), "{}", refused(&none));
}

#[test]
fn sheets_without_records_are_named_with_the_reason() {
    let list = format!(
        "<worksheet><sheetData><row r=\"1\">{}{}</row></sheetData></worksheet>",
        text("A1", "Species"),
        text("B1", "Genus")
    );
    let sheet =
        format!(r#"<sheetData>{}<row r="2"><c r="A2"><v>1</v></c></row></sheetData>"#, headings(1));
    let both = [("xl/worksheets/sheet2.xml", list.as_str())];
    let said = said(&records(&xlsx_with("", &sheet, &both)));
    assert!(said.contains("the sheet \"old\" holds no records"), "{said}");
    let alone = refused(&xlsx_with("", "<sheetData/>", &both));
    assert!(alone.contains("no column of dates"), "{alone}");
}

fn ods(content: &str) -> Vec<u8> {
    let content = format!(
        r#"<office:document-content><office:automatic-styles><style:style style:name="ta1" style:family="table"/></office:automatic-styles><office:body><office:spreadsheet>{content}</office:spreadsheet></office:body></office:document-content>"#
    );
    archive(&[
        ("mimetype", "application/vnd.oasis.opendocument.spreadsheet"),
        ("META-INF/manifest.xml", "<manifest:manifest/>"),
        ("content.xml", &content),
    ])
}

const ODS_DAY: &str = r#"<table:table table:name="2026" table:style-name="ta1"><table:table-column/>
<table:table-row><table:table-cell office:value-type="string" table:number-columns-spanned="4"><text:p>Finds &amp; more</text:p></table:table-cell><table:covered-table-cell table:number-columns-repeated="3"/></table:table-row>
<table:table-row><table:table-cell office:value-type="string"><text:p>Number</text:p></table:table-cell><table:table-cell office:value-type="string"><text:p>Date</text:p></table:table-cell><table:table-cell office:value-type="string"><text:p>Time</text:p></table:table-cell><table:table-cell office:value-type="string"><text:p>Notes</text:p></table:table-cell></table:table-row>
<table:table-row table:number-rows-repeated="10000000"><table:table-cell table:number-columns-repeated="16384"/></table:table-row>
<table:table-row><table:table-cell office:value-type="float" office:value="12"><text:p>0012</text:p></table:table-cell><table:table-cell table:number-rows-spanned="2" office:value-type="date" office:date-value="2026-05-03"><text:p>03.05.26</text:p></table:table-cell><table:table-cell office:value-type="time" office:time-value="PT14H05M00S"><text:p>14:05</text:p></table:table-cell><table:table-cell office:value-type="string"><office:annotation><text:p>not this</text:p></office:annotation><text:p>soft,<text:s text:c="2"/>brown</text:p><text:p>then black</text:p></table:table-cell></table:table-row>
<table:table-row table:visibility="filter"><table:table-cell office:value-type="float" office:value="13"/><table:covered-table-cell/><table:table-cell/><table:table-cell office:value-type="string"><text:p>white</text:p></table:table-cell></table:table-row></table:table>"#;

#[test]
fn open_document_sheets_are_read() {
    let file = records(&ods(ODS_DAY));
    let numbers: Vec<_> = file.records.iter().map(|r| r.number.clone().unwrap().0).collect();
    assert_eq!(numbers, ["0012", "13"]);
    assert!(file.records.iter().all(|record| record.date.unwrap().to_string() == "2026-05-03"));
    assert_eq!(file.records[0].time.unwrap().clock.to_string(), "14:05:00");
    assert_eq!(file.records[0].fields[&crate::model::Field::Notes], "soft,  brown\nthen black");
    assert_eq!(file.records[0].line, 10_000_003);
    assert!(said(&file).contains("1 hidden row is read as well"), "{}", said(&file));
}

/// A sheet of these headings and rows of cells, each cell as its attributes and content.
fn ods_table(rows: &[&[&str]]) -> Vec<u8> {
    let row = |cells: &&[&str]| {
        let cell = |cell: &&str| format!("<table:table-cell {cell}</table:table-cell>");
        let cells: Vec<String> = cells.iter().map(cell).collect();
        format!("<table:table-row>{}</table:table-row>", cells.concat())
    };
    let rows: String = rows.iter().map(row).collect();
    ods(&format!("<table:table table:name=\"2026\">{rows}</table:table>"))
}

const ODS_HEADINGS: [&str; 4] = [
    "><text:p>Number</text:p>",
    "><text:p>Date</text:p>",
    "><text:p>Notes</text:p>",
    "><text:p>Colour</text:p>",
];

#[test]
fn formulas_of_open_document_sheets_without_a_value_are_named() {
    let calculated = [
        r#"table:formula="of:=1" office:value-type="float" office:value="1"><text:p>1</text:p>"#,
        r#"table:formula="of:=A1" office:value-type="date" office:date-value="2026-05-03">"#,
        // empty texts as formulas give them
        r#"table:formula="of:=&quot;&quot;" office:value-type="string" office:string-value="">"#,
        r#"table:formula="of:=&quot;&quot;" office:value-type="string"><text:p/>"#,
    ];
    let file = records(&ods_table(&[&ODS_HEADINGS, &calculated]));
    assert_eq!((file.records.len(), said(&file).as_str()), (1, ""));
    // as odfpy writes them
    let not_calculated = [
        "><text:p>2</text:p>",
        r#"table:formula="of:=B2" office:value-type="date">"#,
        r#"table:formula="of:=B2">"#,
        r#"table:formula="of:=B2" office:value-type="string">"#,
    ];
    let file = records(&ods_table(&[&ODS_HEADINGS, &calculated, &not_calculated]));
    assert_eq!(file.records.len(), 2);
    assert_eq!(
        said(&file),
        "the formulas of 3 cells have no value (a.xlsx, Sheet \"2026\", cell B3)\n\
         because: the program that wrote the workbook did not calculate them; the cells count as empty\n\
         hint: open the workbook in a spreadsheet program and save it again"
    );
    let total = ["><text:p>Total</text:p>", ">", ">", r#"table:formula="of:=COUNT(A2)">"#];
    let file = records(&ods_table(&[&ODS_HEADINGS, &calculated, &total]));
    assert!(!said(&file).contains("no value"), "{}", said(&file));
}

/// Records of an XLS stream: type, length, data.
fn biff(records: &[(u16, Vec<u8>)]) -> Vec<u8> {
    let mut stream = Vec::new();
    for (kind, data) in records {
        stream.extend(kind.to_le_bytes());
        stream.extend(u16::try_from(data.len()).unwrap().to_le_bytes());
        stream.extend(data);
    }
    stream
}

/// A cell by its row, column, the length of its rest in letters, and the rest.
fn biff_cell(row: u16, column: u16, rest: &[u8]) -> Vec<u8> {
    [&row.to_le_bytes(), &column.to_le_bytes(), &[0, 0][..], rest].concat()
}

fn biff_text(row: u16, column: u16, text: &str) -> (u16, Vec<u8>) {
    let length = u16::try_from(text.len()).unwrap().to_le_bytes();
    (0x0204, biff_cell(row, column, &[&length[..], &[0], text.as_bytes()].concat()))
}

/// The formula `1+1` with this kept value.
fn biff_formula(row: u16, column: u16, value: [u8; 8]) -> (u16, Vec<u8>) {
    let sum = [7, 0, 0x1E, 1, 0, 0x1E, 1, 0, 3];
    (0x0006, biff_cell(row, column, &[&value[..], &[0; 6], &sum].concat()))
}

/// An XLS workbook of one sheet; `globals` are records of the workbook.
fn xls(globals: &[(u16, Vec<u8>)], cells: &[(u16, Vec<u8>)]) -> Vec<u8> {
    let begin =
        |kind: u8| (0x0809, vec![0, 6, kind, 0, 0xBB, 0x0D, 0xCC, 7, 0, 0, 0, 0, 6, 0, 0, 0]);
    let book = |start: u32| {
        let mut sheet = start.to_le_bytes().to_vec();
        sheet.extend([0, 0, 4, 0]);
        sheet.extend(b"2026");
        let last = [(0x0085, sheet), (0x000A, vec![])];
        biff(&[&[begin(5), (0x0042, vec![0xB0, 4])], globals, &last].concat())
    };
    let start = u32::try_from(book(0).len()).unwrap();
    let sheet = biff(&[&[begin(0x10)], cells, &[(0x000A, vec![])]].concat());
    let mut file = cfb::CompoundFile::create(Cursor::new(Vec::new())).unwrap();
    let mut stream = file.create_stream("/Workbook").unwrap();
    stream.write_all(&[book(start), sheet].concat()).unwrap();
    drop(stream);
    file.flush().unwrap();
    file.into_inner().into_inner()
}

#[test]
fn formulas_of_older_workbooks_without_a_value_are_named() {
    const EMPTY: [u8; 8] = [3, 0, 0, 0, 0, 0, 0xFF, 0xFF];
    const TEXT: [u8; 8] = [0, 0, 0, 0, 0, 0, 0xFF, 0xFF];
    let rows = |formulas: &[(u16, Vec<u8>)]| {
        let mut cells =
            vec![biff_text(0, 0, "Number"), biff_text(0, 1, "Date"), biff_text(0, 2, "Notes")];
        cells.extend([biff_text(1, 0, "1"), biff_text(1, 1, "2026-05-03")]);
        cells.extend_from_slice(formulas);
        cells
    };
    let reported = |globals: &[(u16, Vec<u8>)], formulas: &[(u16, Vec<u8>)]| {
        let file = records(&xls(globals, &rows(formulas)));
        assert!(!file.records.is_empty(), "{formulas:?}");
        said(&file)
    };
    // as xlwt writes them
    assert_eq!(
        reported(
            &[],
            &[biff_formula(1, 2, EMPTY), biff_text(2, 0, "2"), biff_formula(2, 1, EMPTY)]
        ),
        "the formulas of 2 cells have no value (a.xlsx, Sheet \"2026\", cell C2)\n\
         because: all formulas of the workbook have an empty text as their value, as programs write them that do not \
         calculate; the cells count as empty\n\
         hint: open the workbook in a spreadsheet program and save it again"
    );
    // the text that is to follow is missing
    let open = reported(&[], &[biff_formula(1, 2, TEXT)]);
    assert!(open.contains("a formula has no value (a.xlsx, Sheet \"2026\", cell C2)"), "{open}");
    // a program that calculates gave empty texts
    assert_eq!(reported(&[(0x01C1, vec![0; 8])], &[biff_formula(1, 2, EMPTY)]), "");
    let text = (0x0207, [&4_u16.to_le_bytes()[..], &[0], b"soft"].concat());
    let valued = [biff_formula(1, 2, TEXT), text, biff_text(2, 0, "2"), biff_formula(2, 2, EMPTY)];
    let file = records(&xls(&[], &rows(&valued)));
    assert_eq!(said(&file), "");
    assert_eq!(file.records[0].fields[&crate::model::Field::Notes], "soft");
}

#[test]
fn hostile_open_document_sheets_are_refused() {
    let repeated = ODS_DAY.replace(
        "<table:table-row><table:table-cell office:value-type=\"float\" office:value=\"12\">",
        "<table:table-row table:number-rows-repeated=\"10000000\"><table:table-cell office:value-type=\"float\" office:value=\"12\">",
    );
    assert!(refused(&ods(&repeated)).contains("100000 rows"), "{}", refused(&ods(&repeated)));
    let wide = ODS_DAY.replace(
        "<table:table-cell office:value-type=\"float\" office:value=\"12\">",
        "<table:table-cell table:number-columns-repeated=\"99999999\" office:value-type=\"float\" office:value=\"12\">",
    );
    assert!(refused(&ods(&wide)).contains("columns; the limit is"), "{}", refused(&ods(&wide)));
    let cut = ods(&ODS_DAY[..900]);
    assert!(refused(&cut).contains("cannot be read as a workbook"), "{}", refused(&cut));
    let secret = archive(&[
        ("mimetype", "application/vnd.oasis.opendocument.spreadsheet"),
        ("META-INF/manifest.xml", "<manifest:encryption-data/>"),
        ("content.xml", "\u{1}"),
    ]);
    assert!(refused(&secret).contains("is encrypted"), "{}", refused(&secret));
}

#[test]
fn other_archives_and_documents_are_no_workbooks() {
    assert_eq!(form(&archive(&[("a.kml", "<kml/>")])), None);
    assert_eq!(
        form(&archive(&[
            ("mimetype", "application/vnd.oasis.opendocument.text"),
            ("content.xml", "")
        ])),
        None
    );
    assert_eq!(form(b"PK\x03\x04"), None);
    assert_eq!(form(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1 and no more"), None);
}

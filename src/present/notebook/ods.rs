//! Writes a notebook as ODS. Layer: `present`.
//!
//! References: OASIS 2011, Open Document Format for Office Applications 1.2, parts 1 and 3.

use std::fmt::Write as _;
use std::io::{Cursor, Write};

use quick_xml::escape::escape;
use zip::result::ZipError;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

use super::Notebook;
use crate::error::replaced;

const KIND: &str = "application/vnd.oasis.opendocument.spreadsheet";
const NAMES: &str = r#"xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0" xmlns:style="urn:oasis:names:tc:opendocument:xmlns:style:1.0" xmlns:draw="urn:oasis:names:tc:opendocument:xmlns:drawing:1.0" xmlns:svg="urn:oasis:names:tc:opendocument:xmlns:svg-compatible:1.0" xmlns:xlink="http://www.w3.org/1999/xlink" office:version="1.2""#;
const STYLES: &str = r#"<office:automatic-styles><style:style style:name="wide" style:family="table-column"><style:table-column-properties style:column-width="3.2cm"/></style:style><style:style style:name="high" style:family="table-row"><style:table-row-properties style:row-height="3cm" style:use-optimal-row-height="false"/></style:style></office:automatic-styles>"#;

pub(super) fn written(notebook: &Notebook) -> Result<Vec<u8>, ZipError> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    let stored = SimpleFileOptions::default().compression_method(CompressionMethod::Stored);
    let packed = SimpleFileOptions::default();
    zip.start_file("mimetype", stored)?;
    zip.write_all(KIND.as_bytes())?;
    let mut manifest = format!(
        r#"<?xml version="1.0" encoding="UTF-8"?><manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0" manifest:version="1.2"><manifest:file-entry manifest:full-path="/" manifest:media-type="{KIND}"/><manifest:file-entry manifest:full-path="content.xml" manifest:media-type="text/xml"/>"#
    );
    for (number, picture) in pictures(notebook) {
        zip.start_file(format!("Pictures/{number}.jpg"), stored)?;
        zip.write_all(picture)?;
        let _ = write!(
            manifest,
            r#"<manifest:file-entry manifest:full-path="Pictures/{number}.jpg" manifest:media-type="image/jpeg"/>"#
        );
    }
    zip.start_file("content.xml", packed)?;
    zip.write_all(content(notebook).as_bytes())?;
    zip.start_file("META-INF/manifest.xml", packed)?;
    zip.write_all((manifest + "</manifest:manifest>").as_bytes())?;
    Ok(zip.finish()?.into_inner())
}

fn pictures(notebook: &Notebook) -> impl Iterator<Item = (usize, &Vec<u8>)> {
    let rows = notebook.rows.iter().enumerate();
    rows.filter_map(|(number, row)| Some((number + 1, row.picture.as_ref()?)))
}

fn content(notebook: &Notebook) -> String {
    let mut rows = String::new();
    for column in &notebook.columns {
        rows += &cell(&column.heading, Some(&column.note));
    }
    rows = format!("<table:table-row>{rows}</table:table-row>");
    for (number, row) in notebook.rows.iter().enumerate() {
        let last = row.cells.len().saturating_sub(1);
        let texts = if row.picture.is_some() { &row.cells[..last] } else { &row.cells[..] };
        let cells: String = texts.iter().map(|text| cell(text, None)).collect();
        let (style, picture) = match &row.picture {
            Some(_) => (" table:style-name=\"high\"", frame(number + 1)),
            None => ("", String::new()),
        };
        let _ = write!(rows, "<table:table-row{style}>{cells}{picture}</table:table-row>");
    }
    format!(
        r#"<?xml version="1.0" encoding="UTF-8"?><office:document-content {NAMES}>{STYLES}<office:body><office:spreadsheet><table:table table:name="{}"><table:table-column table:style-name="wide" table:number-columns-repeated="{}"/>{rows}</table:table></office:spreadsheet></office:body></office:document-content>"#,
        escape(replaced(&notebook.name)),
        notebook.columns.len().max(1),
    )
}

fn cell(text: &str, note: Option<&str>) -> String {
    if text.is_empty() && note.is_none() {
        return "<table:table-cell/>".into();
    }
    let note = note.map_or(String::new(), |note| {
        format!(
            "<office:annotation><text:p>{}</text:p></office:annotation>",
            escape(replaced(note))
        )
    });
    format!(
        r#"<table:table-cell office:value-type="string">{note}<text:p>{}</text:p></table:table-cell>"#,
        escape(replaced(text))
    )
}

fn frame(number: usize) -> String {
    format!(
        r#"<table:table-cell><draw:frame svg:width="2.9cm" svg:height="2.9cm"><draw:image xlink:href="Pictures/{number}.jpg" xlink:type="simple" xlink:show="embed" xlink:actuate="onLoad"/></draw:frame></table:table-cell>"#
    )
}

//! Writes a notebook as XLSX. Layer: `present`.

use rust_xlsxwriter::{
    DocProperties, ExcelDateTime, Format, FormatAlign, Image, Note, Workbook, XlsxError,
};

use super::Notebook;

/// The height of a row with a picture and the width of its column, pixels.
const PICTURE: u32 = 120;

pub(super) fn written(notebook: &Notebook) -> Result<Vec<u8>, XlsxError> {
    let mut book = Workbook::new();
    // the same notebook gives the same bytes
    let made = ExcelDateTime::from_ymd(2000, 1, 1)?;
    book.set_properties(&DocProperties::new().set_creation_datetime(&made));
    let sheet = book.add_worksheet();
    sheet.set_name(&notebook.name)?;
    let head = Format::new().set_bold().set_text_wrap().set_align(FormatAlign::Top);
    // text, so that a spreadsheet changes nothing that is typed
    let text = Format::new().set_num_format("@").set_text_wrap().set_align(FormatAlign::Top);
    for (place, column) in (0_u16..).zip(&notebook.columns) {
        sheet.set_column_format(place, &text)?;
        sheet.set_column_width(place, 14)?;
        sheet.write_with_format(0, place, &column.heading, &head)?;
        let note = Note::new(&column.note).add_author_prefix(false);
        sheet.insert_note(0, place, &note)?;
    }
    sheet.set_freeze_panes(1, 0)?;
    let last = u16::try_from(notebook.columns.len().saturating_sub(1)).unwrap_or(u16::MAX);
    if notebook.has_pictures() {
        sheet.set_column_width_pixels(last, PICTURE)?;
    }
    for (place, row) in (1_u32..).zip(&notebook.rows) {
        for (column, cell) in (0_u16..).zip(&row.cells).filter(|(_, cell)| !cell.is_empty()) {
            sheet.write_with_format(place, column, cell, &text)?;
        }
        if let Some(picture) = &row.picture {
            sheet.set_row_height_pixels(place, PICTURE)?;
            let image = Image::new_from_buffer(picture)?;
            sheet.insert_image_fit_to_cell(place, last, &image, true)?;
        }
    }
    book.save_to_buffer()
}

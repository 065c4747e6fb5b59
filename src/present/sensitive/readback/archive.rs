//! Reads a Darwin Core Archive back, table by table. Layer: `present`.

use std::io::{self, Cursor, Read};

use zip::ZipArchive;

use super::{Statement, columns};

/// Reads an archive: each row of each table, and each other file as a whole.
///
/// # Errors
/// When it is not an archive, or a table is invalid.
pub fn archive(bytes: &[u8], each: &mut dyn FnMut(Statement)) -> io::Result<()> {
    let mut archive = ZipArchive::new(Cursor::new(bytes)).map_err(io::Error::other)?;
    for index in 0..archive.len() {
        let mut file = archive.by_index(index).map_err(io::Error::other)?;
        let is_table = file.name().is_ok_and(|name| name.ends_with(".csv"));
        let mut content = Vec::new();
        file.read_to_end(&mut content)?;
        if is_table {
            columns::csv(content.as_slice(), each)?;
        } else {
            let mut whole = Statement::default();
            whole.add_text(&String::from_utf8_lossy(&content));
            each(whole);
        }
    }
    Ok(())
}

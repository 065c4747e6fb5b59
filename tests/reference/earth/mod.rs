//! The Earth layer against GeographicLib, PROJ and published grid references.

#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "years and zones of tables fit"
)]

mod declination;
mod elevation;
mod geodesic;
mod grid;
mod sun;

/// The rows of a table in `tests/reference/data`, comments left out.
pub(crate) fn rows(name: &str) -> Vec<csv::StringRecord> {
    let path = format!("{}/tests/reference/data/{name}", env!("CARGO_MANIFEST_DIR"));
    csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_path(path)
        .unwrap()
        .into_records()
        .collect::<Result<_, _>>()
        .unwrap()
}

pub(crate) fn number(row: &csv::StringRecord, column: usize) -> f64 {
    row[column].trim().parse().unwrap()
}

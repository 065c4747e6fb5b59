//! Reads tables back: comma-separated values and GeoParquet. Layer: `present`.

use std::fs::File;
use std::io;

use parquet::file::reader::{FileReader, SerializedFileReader};
use parquet::record::Field;

use super::{Statement, identity, is_position};

pub(super) fn csv(file: impl io::Read, each: &mut dyn FnMut(Statement)) -> io::Result<()> {
    let mut reader = csv::Reader::from_reader(file);
    let headings = reader.headers()?.clone();
    for row in reader.records() {
        let row = row?;
        let mut statement = Statement::default();
        let (mut latitude, mut longitude) = (None, None);
        for (heading, cell) in headings.iter().zip(&row) {
            match heading {
                "occurrenceID" => statement.find = identity(cell),
                "decimalLatitude" => latitude = cell.parse().ok(),
                "decimalLongitude" => longitude = cell.parse().ok(),
                _ if is_position(heading) => {}
                _ => statement.add_text(cell),
            }
        }
        if let (Some(latitude), Some(longitude)) = (latitude, longitude) {
            statement.place(latitude, longitude);
        }
        each(statement);
    }
    Ok(())
}

pub(super) fn geoparquet(file: File, each: &mut dyn FnMut(Statement)) -> io::Result<()> {
    let reader = SerializedFileReader::new(file).map_err(io::Error::other)?;
    let mut stated = None;
    let metadata = reader.metadata().file_metadata();
    for pair in metadata.key_value_metadata().into_iter().flatten() {
        stated = stated.or(extent(pair.value.as_deref().unwrap_or_default()));
    }
    let mut reached: Option<[f64; 4]> = None;
    for row in reader.get_row_iter(None).map_err(io::Error::other)? {
        let row = row.map_err(io::Error::other)?;
        let mut statement = Statement::default();
        let (mut latitude, mut longitude) = (None, None);
        for (name, field) in row.get_column_iter() {
            match field {
                Field::Str(text) if name == "occurrenceID" => statement.find = identity(text),
                Field::Double(number) if name == "decimalLatitude" => latitude = Some(*number),
                Field::Double(number) if name == "decimalLongitude" => longitude = Some(*number),
                Field::Bytes(bytes) if name == "geometry" => point(bytes.data(), &mut statement)?,
                Field::Null => {}
                _ if is_position(name) => {}
                Field::Str(text) => statement.add_text(text),
                other => statement.add_text(&other.to_string()),
            }
        }
        if let (Some(latitude), Some(longitude)) = (latitude, longitude) {
            statement.place(latitude, longitude);
        }
        for at in &statement.positions {
            let (x, y) = (at.longitude(), at.latitude());
            let [west, south, east, north] = reached.unwrap_or([x, y, x, y]);
            reached = Some([west.min(x), south.min(y), east.max(x), north.max(y)]);
        }
        each(statement);
    }
    // the stated extent must equal that of the points
    let same = |(one, other): (&f64, &f64)| (one - other).abs() < 1e-9;
    match (stated, reached) {
        (None, _) => Ok(()),
        (Some(stated), Some(reached)) if stated.iter().zip(&reached).all(same) => Ok(()),
        _ => Err(io::Error::other("the stated extent differs from the extent of the points")),
    }
}

/// West, south, east and north of the points, as the metadata states them.
fn extent(metadata: &str) -> Option<[f64; 4]> {
    let whole: serde_json::Value = serde_json::from_str(metadata).ok()?;
    let stated = whole["columns"]["geometry"]["bbox"].as_array()?;
    let numbers: Option<Vec<f64>> = stated.iter().map(serde_json::Value::as_f64).collect();
    numbers?.try_into().ok()
}

/// A point in well-known binary, little-endian: order, kind, longitude, latitude.
fn point(bytes: &[u8], into: &mut Statement) -> io::Result<()> {
    let number = |from: usize| {
        let eight: Option<[u8; 8]> = bytes.get(from..from + 8)?.try_into().ok();
        eight.map(f64::from_le_bytes)
    };
    match (bytes.get(..5), number(5), number(13)) {
        (Some([1, 1, 0, 0, 0]), Some(x), Some(y)) => {
            into.place(y, x);
            Ok(())
        }
        _ => Err(io::Error::other("a geometry is not a point")),
    }
}

//! Writes finds as GeoParquet. A find without a position keeps its row, with an empty geometry. Layer:
//! `present`.

use std::fmt;
use std::io::{self, Write};
use std::sync::Arc;

use parquet::data_type::{ByteArray, ByteArrayType, DoubleType};
use parquet::errors::Result as Written;
use parquet::file::metadata::KeyValue;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::SerializedFileWriter;
use parquet::schema::parser::parse_message_type;
use serde_json::json;

use super::darwin_core::{self, TERMS, Value, seven_decimals};
use super::exchange::Exchange;
use super::track_line::TrackLine;
use crate::error::{Error, Result};
use crate::model::KeptFind;

/// The terms that are numbers.
const NUMBERS: [&str; 7] = [
    "decimalLatitude",
    "decimalLongitude",
    "coordinateUncertaintyInMeters",
    "coordinatePrecision",
    "minimumElevationInMeters",
    "maximumElevationInMeters",
    "organismQuantity",
];
/// Rows that are written together: they are held in memory until then.
const GROUP: usize = 20_000;

/// The finds, one row each: the terms of Darwin Core and the point as `geometry`.
///
/// Every column is optional: an unknown value is null, not an empty text. See the example of the [crate root](crate).
///
/// # Units
/// Degrees on WGS 84, longitude first as the format requires, to seven decimals.
///
/// # Errors
/// When the table cannot be written into memory.
///
/// # References
/// OGC GeoParquet 1.1.0: geometry as well-known binary, longitude and latitude (OGC:CRS84) where no
/// other system is named.
pub fn finds(finds: &[KeptFind]) -> Result<Vec<u8>> {
    let mut bytes = Vec::new();
    let write = |bytes: &mut Vec<u8>| {
        let mut table = Box::new(Table::new(bytes)?);
        finds.iter().try_for_each(|find| table.find(find))?;
        table.end()
    };
    write(&mut bytes).map_err(|error: io::Error| {
        Error::program("the finds cannot be written as GeoParquet").because(error.to_string())
    })?;
    Ok(bytes)
}

/// One row that is not yet written.
type Row = (Vec<(&'static str, Value)>, Option<(f64, f64)>);

/// A table that is written group by group. Tracks are ignored.
///
/// Rows are written in groups; half a million exact finds take at most 135 MB of memory (`docs/exchange.md`).
pub struct Table<W: Write + Send> {
    writer: SerializedFileWriter<W>,
    waiting: Vec<Row>,
    /// West, south, east, north.
    bounds: [f64; 4],
}

impl<W: Write + Send> fmt::Debug for Table<W> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Table").field("waiting", &self.waiting.len()).finish_non_exhaustive()
    }
}

impl<W: Write + Send> Table<W> {
    /// Creates an empty document.
    ///
    /// # Errors
    /// When the file header cannot be written.
    pub fn new(out: W) -> io::Result<Self> {
        let properties = WriterProperties::builder()
            .set_created_by(concat!("trug ", env!("CARGO_PKG_VERSION")).to_owned())
            .build();
        let schema = Arc::new(parse_message_type(&schema())?);
        Ok(Self {
            writer: SerializedFileWriter::new(out, schema, Arc::new(properties))?,
            waiting: Vec::new(),
            bounds: [f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY],
        })
    }

    fn flush(&mut self) -> io::Result<()> {
        if !self.waiting.is_empty() {
            write_group(&mut self.writer, &std::mem::take(&mut self.waiting))?;
        }
        Ok(())
    }
}

impl<W: Write + Send> Exchange for Table<W> {
    fn find(&mut self, find: &KeptFind) -> io::Result<()> {
        let at = position(find);
        if let Some((x, y)) = at {
            let [west, south, east, north] = self.bounds;
            self.bounds = [west.min(x), south.min(y), east.max(x), north.max(y)];
        }
        self.waiting.push((darwin_core::occurrence(find), at));
        if self.waiting.len() < GROUP { Ok(()) } else { self.flush() }
    }

    fn track(&mut self, _: &TrackLine) -> io::Result<()> {
        Ok(())
    }

    fn end(mut self: Box<Self>) -> io::Result<()> {
        self.flush()?;
        let geo = KeyValue::new("geo".to_owned(), metadata(self.bounds));
        self.writer.append_key_value_metadata(geo);
        self.writer.into_inner()?.flush()
    }
}

fn schema() -> String {
    let terms = TERMS.iter().map(|term| {
        if NUMBERS.contains(term) {
            format!("OPTIONAL DOUBLE {term};")
        } else {
            format!("OPTIONAL BYTE_ARRAY {term} (UTF8);")
        }
    });
    let columns: Vec<String> = terms.collect();
    format!("message finds {{ {} OPTIONAL BYTE_ARRAY geometry; }}", columns.join(" "))
}

fn metadata(bounds: [f64; 4]) -> String {
    let mut geometry = json!({ "encoding": "WKB", "geometry_types": ["Point"] });
    if bounds[0] <= bounds[2] {
        geometry["bbox"] = json!(bounds);
    }
    json!({
        "version": "1.1.0",
        "primary_column": "geometry",
        "columns": { "geometry": geometry },
    })
    .to_string()
}

/// Longitude and latitude, as they are written.
fn position(find: &KeptFind) -> Option<(f64, f64)> {
    let at = find.place.as_ref()?.at;
    Some((seven_decimals(at.longitude()), seven_decimals(at.latitude())))
}

/// Writes the rows column by column, as the format stores them: the terms first, then the geometry.
fn write_group<W: Write + Send>(writer: &mut SerializedFileWriter<W>, rows: &[Row]) -> Written<()> {
    let mut group = writer.next_row_group()?;
    for term in TERMS {
        let cells: Vec<Option<&Value>> = rows
            .iter()
            .map(|(row, _)| row.iter().find(|(name, _)| *name == term).map(|(_, v)| v))
            .collect();
        let Some(mut column) = group.next_column()? else { break };
        if NUMBERS.contains(&term) {
            let number = |cell: &Value| match cell {
                Value::Number(number) => Some(*number),
                Value::Text(_) => None,
            };
            let numbers: Vec<Option<f64>> =
                cells.iter().map(|cell| cell.and_then(number)).collect();
            let (levels, filled) = filled(numbers);
            column.typed::<DoubleType>().write_batch(&filled, Some(&levels), None)?;
        } else {
            let texts = cells
                .iter()
                .map(|cell| cell.map(|cell| ByteArray::from(cell.to_string().into_bytes())));
            let (levels, filled) = filled(texts.collect());
            column.typed::<ByteArrayType>().write_batch(&filled, Some(&levels), None)?;
        }
        column.close()?;
    }
    if let Some(mut column) = group.next_column()? {
        let points = rows.iter().map(|(_, at)| at.map(well_known_binary));
        let (levels, filled) = filled(points.collect());
        column.typed::<ByteArrayType>().write_batch(&filled, Some(&levels), None)?;
        column.close()?;
    }
    group.close()?;
    Ok(())
}

/// For each row whether it has a value, and the values there are.
fn filled<T>(cells: Vec<Option<T>>) -> (Vec<i16>, Vec<T>) {
    let levels = cells.iter().map(|cell| i16::from(cell.is_some())).collect();
    (levels, cells.into_iter().flatten().collect())
}

fn well_known_binary((x, y): (f64, f64)) -> ByteArray {
    let mut point = vec![1_u8];
    point.extend(1_u32.to_le_bytes());
    point.extend(x.to_le_bytes());
    point.extend(y.to_le_bytes());
    ByteArray::from(point)
}

//! Formats results for terminals, pages, figures, labels and exchange files. Returns text or bytes and
//! writes no file. Layer: `present`.

#[doc(hidden)]
pub mod carry;
pub(crate) mod chart;
pub(crate) mod checked_name;
pub(crate) mod coded;
pub(crate) mod corrections;
pub mod csv;
#[doc(hidden)]
pub mod darwin_core;
pub mod day_map;
pub mod deposit;
mod derived_time;
#[doc(hidden)]
pub mod exchange;
#[doc(hidden)]
pub mod exif;
pub(crate) mod field_records;
pub(crate) mod find_map;
#[doc(hidden)]
pub mod finds_table;
#[cfg(test)]
pub(crate) mod fixture;
pub(crate) mod fonts;
pub mod geojson;
pub mod geoparquet;
pub mod gpx;
pub mod kml;
pub mod label;
pub(crate) mod map;
pub(crate) mod markup;
mod note;
pub(crate) mod notebook;
pub(crate) mod one_find;
pub(crate) mod paragraph;
mod pdf;
pub mod raster;
pub mod render;
pub(crate) mod round;
pub(crate) mod scientific_name;
pub mod sensitive;
pub(crate) mod sheet;
pub(crate) mod store_note;
pub(crate) mod style;
pub mod summary;
pub(crate) mod svg;
pub(crate) mod table;
pub(crate) mod thumbnail;
#[doc(hidden)]
pub mod track_line;
pub mod way_out;
#[doc(hidden)]
pub mod weather;
pub mod xmp;
pub(crate) mod years;

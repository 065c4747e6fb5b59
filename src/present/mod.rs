//! Formats results for terminals, pages, figures, labels and exchange files. Returns text or bytes and
//! writes no file. Layer: `present`.

pub mod chart;
pub mod csv;
pub mod darwin_core;
pub mod day_map;
pub mod deposit;
mod derived_time;
pub mod exchange;
pub mod exif;
pub mod finds_table;
#[cfg(test)]
pub(crate) mod fixture;
pub mod fonts;
pub mod geojson;
pub mod geoparquet;
pub mod gpx;
pub mod kml;
pub mod label;
pub mod map;
pub mod markup;
pub mod notebook;
pub mod paragraph;
pub mod raster;
pub mod render;
pub mod scientific_name;
pub mod sensitive;
pub mod sheet;
pub mod style;
pub mod summary;
pub mod svg;
pub mod table;
pub mod thumbnail;
pub mod track_line;
pub mod way_out;
pub mod xmp;
pub mod years;

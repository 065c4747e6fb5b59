//! Formats results for terminals, pages, figures, labels and exchange files. Returns text or bytes and
//! writes no file. Layer: `present`.
//!
//! # Outputs
//! | module | for | form | positions |
//! |---|---|---|---|
//! | [`summary`] | the collector, at an import | text, JSON | exact |
//! | [`day_map`] | the collector | SVG, 180 mm wide | exact |
//! | [`label`] | specimens | SVG sheets, cut marks | exact |
//! | [`way_out`] | the walker | text, JSON, GPX, card A6, page A5, one text message | exact |
//! | [`geojson`], [`gpx`], [`kml`], [`csv`], [`geoparquet`] | others and their programs | exchange formats | as given |
//! | [`deposit`] | herbaria, data portals | Darwin Core Archive | as given, checked for leaks |
//! | [`raster`] | a GIS | GeoTIFF, ASCII grid of densities | exact |
//! | [`xmp`] | photo programs | a file beside the photograph | as given |
//! | [`render`] | all drawings | PNG, PDF | |
//!
//! "As given": these modules write what they receive. Whatever leaves for others goes through [`sensitive`] first,
//! which generalises positions and withholds what would reveal them. Outputs with exact positions say so in the
//! output itself.
//!
//! # What holds for all of them
//! - The same input gives the same bytes: no time of day, no random order, no fonts of the machine for Latin letters.
//! - Text of users is escaped for the format that it goes into, and shown as text: markup, formulas and control
//!   characters in a note do nothing.
//! - A figure has its finding in words as well, for readers who do not see it; colour alone carries no meaning.
//! - A value that is not known is left out or stated as unknown, never written as zero.
//! - Nothing states that anything is edible.
//!
//! # Sentences
//! Findings of other layers are values with codes; the private module `note` makes the sentence of each: what, why,
//! what to do. `docs/findings.md` lists the codes.

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

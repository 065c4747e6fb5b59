//! Draws the elements that all maps share: scale, frame, grid, north arrow, labels. Layer: `present`.
//!
//! Every map of trug has the same parts: a UTM grid with its figures, so that a place can be found on another map,
//! a scale bar, an arrow to grid north, marks whose meaning does not rest on colour, and labels that cover neither
//! marks nor each other.

pub mod frame;
pub mod furniture;
pub mod grid;
pub mod ground;
mod locator;
pub mod names;
mod sheet;

pub use sheet::MapSheet;

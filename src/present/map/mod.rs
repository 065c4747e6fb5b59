//! Draws the elements that all maps share: scale, frame, grid, north arrow, labels. Layer: `present`.

pub mod frame;
pub mod furniture;
pub mod grid;
pub mod ground;
mod locator;
pub mod names;
mod sheet;

pub use sheet::MapSheet;

//! Draws the frame that all maps share. A true scale, a frame, what surveyors draw around it, and names
//! that do not lie on each other. Shared by the day's map and the maps of a year. Layer: `present`.

pub mod furniture;
pub mod grid;
pub mod names;
mod sheet;

pub use sheet::MapSheet;

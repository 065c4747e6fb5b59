//! Formats weather: what was read and kept, the stations, and what rain and warmth did to the rate of
//! finds. Layer: `present`.

pub mod effect;
pub mod figure;
pub mod listing;
pub mod notes;

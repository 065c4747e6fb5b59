//! Formats weather: what was read and kept, the stations, and what rain and warmth did to the rate of
//! finds. Layer: `present`.
//!
//! An effect that these data cannot show is stated as that, with what is missing, before any figure.

pub mod effect;
pub mod figure;
pub mod listing;
pub mod notes;

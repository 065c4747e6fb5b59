//! Finds areas that nobody searched and whose elevation predicts more finds than the searched ground gave. Layer:
//! `analyse`.
//!
//! | content | module |
//! |---|---|
//! | what each outing searched and found, by ground and elevation | [`rows`] |
//! | the rate by elevation, and whether elevation predicts finds | [`elevation`] |
//! | areas on the ground | [`areas`] |
//!
//! This is an extrapolation: from searched ground to other ground of the same elevation, never to an elevation that
//! too few outings searched.

pub mod areas;
pub mod elevation;
pub mod rows;

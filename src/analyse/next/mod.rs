//! Ranks sites for a visit on a given date and plans a round through them. Layer: `analyse`.

pub mod rank;
pub mod tour;
pub mod weather;

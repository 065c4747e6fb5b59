//! Where is a visit on a given date worth most, and which round holds most of it? Layer: `analyse`.

pub mod rank;
pub mod tour;

//! Ranks sites for a visit on a given date and plans a round through them. Layer: `analyse`.
//!
//! A ranking is advice, not a forecast: it is shown with the visits that it rests on. `docs/next.md` has the
//! checks.

pub mod rank;
pub mod tour;
pub mod weather;

//! The way out: from the last fix to the trailhead before dark. Pure: no clock, no disk, no
//! printing; "now" is an argument. Layer: `wayout`.
//!
//! | module | question |
//! |---|---|
//! | [`pace`] | how long does a walk take? |
//! | [`terrain`] | what is the quickest walk across open ground? |

pub mod direct;
pub mod goal;
pub mod legs;
pub mod light;
pub mod offset;
pub mod pace;
pub mod paths;
pub mod retrace;
pub mod simplify;
pub mod start;
pub mod terrain;

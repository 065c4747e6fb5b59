//! The way out: from the last fix to the trailhead before dark. Pure: no clock, no disk, no
//! printing; "now" is an argument. Layer: `wayout`.
//!
//! | module | question |
//! |---|---|
//! | [`report`] | which ways lead out, and is there light enough? |
//! | [`start`], [`reckoning`] | where from, and how sure is that? |
//! | [`goal`] | where to? |
//! | [`direct`] | what does the straight line say? |
//! | [`retrace`], [`paths`] | how do lines that were walked lead back? |
//! | [`across`], [`terrain`] | what is the quickest walk across open ground? |
//! | [`offset`] | which side of the goal to aim for? |
//! | [`legs`], [`simplify`] | how is a line reported so that a compass can follow? |
//! | [`pace`] | how long does it take? |
//! | [`daylight`], [`light`] | when is it light, and is that enough? |
//! | [`message`], [`area`] | what fits a text message, what a page for the whole area? |

pub mod across;
pub mod area;
pub mod daylight;
pub mod direct;
pub mod goal;
pub mod legs;
pub mod light;
pub mod message;
pub mod offset;
pub mod pace;
pub mod paths;
mod rank;
pub mod reckoning;
pub mod report;
pub mod retrace;
pub mod simplify;
pub mod start;
pub mod terrain;

/// What always holds, on every answer.
pub const CAUTIONS: [&str; 6] = [
    "Map, compass and your own eyes come first: this is computed, nobody has looked.",
    "Tell somebody your route and the time you will be back.",
    "Lost? Stop. Hurt, exhausted or dark: stay put, keep warm, make yourself seen.",
    "Emergency call 112 (EU and most GSM networks) or the local number.",
    "Signal: six blasts or flashes in a minute, then a minute's pause (Alpine, UK); three in North America.",
    "Local advice first: closures, hunting, weather, rules on collecting and protected species.",
];

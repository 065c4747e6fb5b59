//! The way out: from the last fix to the trailhead before dark. Pure: no clock, no disk, no
//! printing; "now" is an argument. Layer: `wayout`.

//! Where each find was and how sure that is: cleaning and smoothing of tracks, camera clocks,
//! positions, contradictions. Pure: no clock, no disk, no printing. Layer: `join`.

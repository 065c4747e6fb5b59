//! The Earth under the tracks: distances and bearings on the ellipsoid, grids and datums, magnetic
//! north, the sun, time zones, elevation. Touches no file but elevation tiles. Layer: `earth`.

//! The store: one GeoPackage with all days in it. Layer: `store`.

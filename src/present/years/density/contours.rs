//! Writes the isopleths of a density as GeoJSON. Layer: `present`.

use serde_json::{Value, json};

use crate::analyse::density::DensityMap;
use crate::analyse::density::isopleth::{level, outlines};
use crate::present::geojson;
use crate::present::years::sites::rounded;

/// The contours of the given shares of the finds, RFC 7946: outer rings anticlockwise.
#[must_use]
pub fn contours(map: &DensityMap, shares: &[f64]) -> String {
    let mut features = Vec::new();
    for share in shares {
        let Some(level) = level(&map.finds, *share) else { continue };
        let polygons: Vec<Value> = outlines(&map.finds, &map.grid, level)
            .iter()
            .map(|outline| {
                let rings: Vec<Value> = outline
                    .iter()
                    .enumerate()
                    .map(|(index, ring)| ring_of(map, ring, index == 0))
                    .collect();
                json!(rings)
            })
            .collect();
        features.push(json!({
            "type": "Feature",
            "geometry": {"type": "MultiPolygon", "coordinates": polygons},
            "properties": {
                "share": share,
                "finds_per_hectare": rounded(level, 6),
                "bandwidth_m": rounded(map.bandwidth.metres, 1),
                "finds": map.count,
            },
        }));
    }
    geojson::collection(&[("positions", "exact")], &features)
}

fn ring_of(map: &DensityMap, ring: &[(f64, f64)], outer: bool) -> Value {
    let twice: f64 = ring.windows(2).map(|p| p[0].0 * p[1].1 - p[1].0 * p[0].1).sum();
    let turned = (twice > 0.0) != outer;
    let position = |at: &(f64, f64)| {
        let place = map.place(at.0, at.1);
        json!([rounded(place.longitude(), 6), rounded(place.latitude(), 6)])
    };
    let mut positions: Vec<Value> = ring.iter().map(position).collect();
    if turned {
        positions.reverse();
    }
    if positions.first() != positions.last() {
        positions.extend(positions.first().cloned());
    }
    json!(positions)
}

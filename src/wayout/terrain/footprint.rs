//! Chooses the plane and extent of a cost grid around the places that it must contain, with a
//! margin. Layer: `wayout`.

use super::Terrain;
use crate::earth::local::Plane;
use crate::units::{LatLon, Metres};

/// Where a field lies: its plane, the place of its first cell and its spacing.
#[derive(Clone, Copy, Debug)]
pub struct Footprint {
    /// The plane on which its cells are square.
    pub plane: Plane,
    /// Metres east and north of the plane's origin of the first cell.
    pub corner: (f64, f64),
    /// Metres between cells.
    pub spacing: f64,
    /// Cells eastward.
    pub columns: usize,
    /// Cells northward.
    pub rows: usize,
}

impl Footprint {
    /// The smallest footprint with this spacing about the places, with a margin on all sides.
    #[must_use]
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held in bounds")]
    pub fn about(places: &[LatLon], margin: Metres, spacing: Metres) -> Option<Self> {
        let plane = Plane::about(*places.first()?);
        let points: Vec<(f64, f64)> = places.iter().map(|place| plane.to_plane(*place)).collect();
        let low = |pick: fn(&(f64, f64)) -> f64| {
            points.iter().map(pick).fold(f64::INFINITY, f64::min) - margin.0
        };
        let high = |pick: fn(&(f64, f64)) -> f64| {
            points.iter().map(pick).fold(f64::NEG_INFINITY, f64::max) + margin.0
        };
        let corner = (low(|point| point.0), low(|point| point.1));
        let cells = |from: f64, to: f64| {
            (((to - from) / spacing.0).ceil().clamp(1.0, 20_000.0) as usize).saturating_add(1)
        };
        Some(Self {
            plane,
            corner,
            spacing: spacing.0,
            columns: cells(corner.0, high(|point| point.0)),
            rows: cells(corner.1, high(|point| point.1)),
        })
    }

    /// The field with the heights known for its cells.
    #[must_use]
    #[allow(clippy::cast_possible_truncation, reason = "heights need no more than 32 bits")]
    pub fn survey(&self, height: impl Fn(LatLon) -> Option<Metres>) -> Terrain {
        let mut heights = Vec::with_capacity(self.columns * self.rows);
        for row in 0..self.rows {
            for column in 0..self.columns {
                let place = self.place((column as f64, row as f64));
                heights.push(height(place).map_or(f32::NAN, |height| height.0 as f32));
            }
        }
        Terrain::new(self.columns, self.rows, (self.spacing, self.spacing), &heights)
    }

    /// The position of a column and row.
    #[must_use]
    pub fn place(&self, at: (f64, f64)) -> LatLon {
        self.plane
            .from_plane(self.corner.0 + at.0 * self.spacing, self.corner.1 + at.1 * self.spacing)
    }

    /// The column and row of a position.
    #[must_use]
    pub fn cell(&self, place: LatLon) -> (f64, f64) {
        let (east, north) = self.plane.to_plane(place);
        ((east - self.corner.0) / self.spacing, (north - self.corner.1) / self.spacing)
    }
}

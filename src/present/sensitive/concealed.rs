//! Finds the cells that a map of paths must leave out: a hole as large as a cell discloses no more than the cell
//! that is published, a hole around a find would be its position. Layer: `present`.

use std::collections::BTreeMap;

use super::{Decisions, grid};
use crate::analyse::spatial_index::Ecef;
use crate::model::{GridCell, Sensitivity};
use crate::units::LatLon;

/// The cells of all sensitive finds and of all circles that rules protect.
#[derive(Clone, Debug, Default)]
pub struct Concealed {
    cells: Vec<GridCell>,
}

impl Concealed {
    /// Whether a position lies in one of the cells.
    #[must_use]
    pub fn holds(&self, at: LatLon) -> bool {
        self.cells.iter().any(|cell| cell.holds(at))
    }
}

impl Decisions {
    /// The cells in which nothing that leads to a sensitive find may be drawn: those in which the finds are
    /// published; where their coordinates are withheld, a region of one degree.
    #[must_use]
    pub fn concealed(&self) -> Concealed {
        let mut cells: BTreeMap<[u64; 2], GridCell> = BTreeMap::new();
        let mut add = |cell: GridCell| {
            let key = [cell.at.latitude().to_bits(), cell.at.longitude().to_bits()];
            // of two cells about one centre the wider
            let kept = cells.entry(key).or_insert(cell);
            if cell.latitude_step > kept.latitude_step {
                *kept = cell;
            }
        };
        for placed in (0..self.levels.len()).filter(|index| self.is_sensitive(*index)) {
            if let Some(placed) = self.placed.get(placed).copied().flatten() {
                add(placed.cell.unwrap_or_else(|| grid::region(placed.middle)));
            }
        }
        // the cell of a circle beside the published one would disclose that the find is at their edge
        let published: Vec<(Ecef, f64)> = cells.values().map(reach).collect();
        let covered = |at: LatLon| {
            let spot = Ecef::of(at);
            published.iter().any(|(centre, reach)| centre.distance(spot).0 <= *reach)
        };
        let circles = self.footprints.circles().filter(|(at, _)| !covered(*at));
        let of_circles: Vec<GridCell> = circles.map(|(at, level)| cell_of(at, level)).collect();
        let all = cells.into_values().chain(of_circles).collect();
        Concealed { cells: all }
    }
}

fn cell_of(at: LatLon, level: Sensitivity) -> GridCell {
    grid::cell(at, level).unwrap_or_else(|| grid::region(at))
}

/// The centre of a cell, and twice the distance to its far corner.
fn reach(cell: &GridCell) -> (Ecef, f64) {
    (Ecef::of(cell.at), 2.0 * grid::far_corner(cell).0)
}

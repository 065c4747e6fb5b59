//! Computes finds per hour searched in each habitat, on ground whose habitat is known: cells in which
//! all finds that state a habitat state the same one. Layer: `analyse`.

use std::collections::{BTreeMap, HashMap};

use crate::analyse::intervals::{Interval, garwood};
use crate::analyse::walk::Walk;
use crate::earth::equal_area::EqualArea;

/// A cell of the plane.
pub type Cell = (i64, i64);

/// The side of a cell, metres (project choice).
pub const CELL: f64 = 50.0;

/// A located find.
#[derive(Clone, Copy, Debug)]
pub struct Located {
    /// Its cell.
    pub cell: Cell,
    /// The habitat that it states.
    pub habitat: Option<usize>,
    /// Whether it is of the taxon that is asked for.
    pub wanted: bool,
}

/// Finds and search in one habitat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HabitatRate {
    /// Hours searched in cells of this habitat.
    pub hours: f64,
    /// Finds of the taxon in these cells.
    pub finds: usize,
    /// Finds per hour; the count is taken as Poisson.
    pub per_hour: Interval,
}

/// Search on ground of known habitat.
#[derive(Clone, Debug, Default)]
pub struct Rates {
    /// By number of the habitat.
    pub of: BTreeMap<usize, HabitatRate>,
    /// Hours searched elsewhere.
    pub unknown_hours: f64,
}

/// The cell of a place on the plane, metres.
#[must_use]
#[allow(clippy::cast_possible_truncation, reason = "cells of the Earth")]
pub fn cell((x, y): (f64, f64)) -> Cell {
    ((x / CELL).floor() as i64, (y / CELL).floor() as i64)
}

/// Pieces of track are split to at most this length, metres, so that each belongs to one cell.
const PART: f64 = 10.0;

/// The hours that count as search in each cell on one walk.
#[must_use]
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held in range")]
pub fn hours_of(walk: &Walk, plane: &EqualArea) -> HashMap<Cell, f64> {
    let mut hours = HashMap::new();
    for piece in walk.pieces() {
        let searched = piece.searched().0 / 3_600.0;
        if searched <= 0.0 {
            continue;
        }
        let parts = (piece.length.0 / PART).ceil().clamp(1.0, 1e4);
        for part in 0..parts as usize {
            let at = plane.to_plane(piece.at((part as f64 + 0.5) / parts));
            *hours.entry(cell(at)).or_insert(0.0) += searched / parts;
        }
    }
    hours
}

/// The rates, from hours searched by cell. A habitat with no hour searched is left out.
#[must_use]
pub fn rates(finds: &[Located], hours: impl IntoIterator<Item = (Cell, f64)>) -> Rates {
    let mut habitat_of: HashMap<Cell, Option<usize>> = HashMap::new();
    for find in finds {
        let Some(habitat) = find.habitat else { continue };
        let known = habitat_of.entry(find.cell).or_insert(Some(habitat));
        if *known != Some(habitat) {
            *known = None;
        }
    }
    let habitat = |cell: &Cell| habitat_of.get(cell).copied().flatten();
    let mut sums: BTreeMap<usize, (f64, usize)> = BTreeMap::new();
    let mut unknown_hours = 0.0;
    for (cell, hours) in hours {
        match habitat(&cell) {
            Some(habitat) => sums.entry(habitat).or_default().0 += hours,
            None => unknown_hours += hours,
        }
    }
    for find in finds.iter().filter(|find| find.wanted) {
        if let Some(sum) = habitat(&find.cell).and_then(|habitat| sums.get_mut(&habitat)) {
            sum.1 += 1;
        }
    }
    let rate = |(hours, finds): (f64, usize)| HabitatRate {
        hours,
        finds,
        per_hour: garwood(finds as f64).times(1.0 / hours),
    };
    let searched = sums.into_iter().filter(|(_, (hours, _))| *hours > 0.0);
    Rates { of: searched.map(|(habitat, sum)| (habitat, rate(sum))).collect(), unknown_hours }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_cells_of_one_habitat_count() {
        let find = |cell: Cell, habitat: Option<usize>, wanted| Located { cell, habitat, wanted };
        let finds = [
            find((0, 0), Some(1), true),
            find((0, 0), None, true),
            find((1, 0), Some(1), false),
            find((1, 0), Some(2), true),
            find((2, 0), Some(2), false),
            find((9, 9), Some(3), true),
        ];
        let made = rates(&finds, [((0, 0), 2.0), ((1, 0), 5.0), ((2, 0), 1.0), ((5, 5), 4.0)]);
        assert_eq!(made.of[&1].finds, 2);
        assert!((made.of[&1].per_hour.value - 1.0).abs() < 1e-12);
        assert_eq!((made.of[&2].finds, made.of[&2].hours), (0, 1.0));
        assert!((made.of[&2].per_hour.high95 - 3.688_879).abs() < 1e-5);
        assert!(!made.of.contains_key(&3), "nobody searched there");
        assert_eq!(made.unknown_hours, 9.0);
        assert_eq!(cell((-0.1, 49.9)), (-1, 0));
    }
}

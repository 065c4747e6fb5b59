//! Computes finds per hour searched in each habitat, on ground whose habitat is known: cells in which
//! all finds that state a habitat state the same one. Layer: `analyse`.

use std::collections::{BTreeMap, HashMap};

use crate::analyse::intervals::{Interval, rate_over_outings};
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
    /// The number of its outing.
    pub outing: usize,
}

/// Hours searched on one outing by habitat; under `None` on ground of unknown habitat.
pub type Searched = BTreeMap<Option<usize>, f64>;

/// Finds and search in one habitat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HabitatRate {
    /// Hours searched in cells of this habitat.
    pub hours: f64,
    /// Finds of the taxon in these cells, on outings that searched there.
    pub finds: usize,
    /// Outings that searched there.
    pub outings: usize,
    /// Finds per hour, with the interval over outings.
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

/// Which habitat the ground has: cells in which all finds that state a habitat state the same.
#[derive(Clone, Debug, Default)]
pub struct Ground(HashMap<Cell, Option<usize>>);

impl Ground {
    /// The ground that these finds tell of.
    #[must_use]
    pub fn of(finds: &[Located]) -> Self {
        let mut of: HashMap<Cell, Option<usize>> = HashMap::new();
        for find in finds {
            let Some(habitat) = find.habitat else { continue };
            let known = of.entry(find.cell).or_insert(Some(habitat));
            if *known != Some(habitat) {
                *known = None;
            }
        }
        Self(of)
    }

    fn habitat(&self, cell: Cell) -> Option<usize> {
        self.0.get(&cell).copied().flatten()
    }

    /// The hours that count as search in each habitat on one walk; under `None` those elsewhere.
    #[must_use]
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held in range")]
    pub fn hours_of(&self, walk: &Walk, plane: &EqualArea) -> Searched {
        let mut hours = Searched::new();
        for piece in walk.pieces() {
            let searched = piece.searched().0 / 3_600.0;
            if searched <= 0.0 {
                continue;
            }
            let parts = (piece.length.0 / PART).ceil().clamp(1.0, 1e4);
            for part in 0..parts as usize {
                let at = plane.to_plane(piece.at((part as f64 + 0.5) / parts));
                *hours.entry(self.habitat(cell(at))).or_insert(0.0) += searched / parts;
            }
        }
        hours
    }

    /// The rates, from the hours searched on each outing. A habitat with no hour searched is left out, and
    /// so are finds of an outing that did not search there.
    #[must_use]
    pub fn rates(&self, finds: &[Located], outings: &BTreeMap<usize, Searched>) -> Rates {
        let mut of: BTreeMap<usize, BTreeMap<usize, (f64, f64)>> = BTreeMap::new();
        let mut unknown_hours = 0.0;
        for (outing, searched) in outings {
            for (habitat, hours) in searched {
                match habitat {
                    Some(habitat) => {
                        of.entry(*habitat).or_default().insert(*outing, (0.0, *hours));
                    }
                    None => unknown_hours += hours,
                }
            }
        }
        for find in finds.iter().filter(|find| find.wanted) {
            let own = self.habitat(find.cell).and_then(|habitat| of.get_mut(&habitat));
            if let Some(pair) = own.and_then(|own| own.get_mut(&find.outing)) {
                pair.0 += 1.0;
            }
        }
        let rate = |(habitat, own): (usize, BTreeMap<usize, (f64, f64)>)| {
            (habitat, HabitatRate::of(&own.into_values().collect::<Vec<_>>()))
        };
        Rates { of: of.into_iter().map(rate).collect(), unknown_hours }
    }
}

impl HabitatRate {
    /// From finds and hours of each outing that searched there.
    fn of(outings: &[(f64, f64)]) -> Self {
        Self {
            hours: outings.iter().map(|(_, hours)| hours).sum(),
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a count")]
            finds: outings.iter().map(|(finds, _)| finds).sum::<f64>() as usize,
            outings: outings.len(),
            per_hour: rate_over_outings(outings),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_cells_of_one_habitat_count() {
        let find = |outing, cell: Cell, habitat: Option<usize>, wanted| Located {
            cell,
            habitat,
            wanted,
            outing,
        };
        let finds = [
            find(0, (0, 0), Some(1), true),
            find(1, (0, 0), None, true),
            find(1, (1, 0), Some(1), false),
            find(1, (1, 0), Some(2), true),
            find(1, (2, 0), Some(2), false),
            find(0, (9, 9), Some(3), true),
            // on an outing without a track
            find(7, (0, 0), None, true),
        ];
        let ground = Ground::of(&finds);
        assert_eq!(ground.habitat((0, 0)), Some(1));
        assert_eq!((ground.habitat((1, 0)), ground.habitat((5, 5))), (None, None));
        let outings = BTreeMap::from([
            (0, Searched::from([(Some(1), 1.0), (None, 6.0)])),
            (1, Searched::from([(Some(1), 1.0), (Some(2), 1.0), (None, 3.0)])),
        ]);
        let made = ground.rates(&finds, &outings);
        assert_eq!((made.of[&1].finds, made.of[&1].hours, made.of[&1].outings), (2, 2.0, 2));
        assert!((made.of[&1].per_hour.value - 1.0).abs() < 1e-12);
        assert_eq!((made.of[&2].finds, made.of[&2].hours), (0, 1.0));
        assert!((made.of[&2].per_hour.high95 - 3.688_879).abs() < 1e-5);
        assert!(!made.of.contains_key(&3), "nobody searched there");
        assert_eq!(made.unknown_hours, 9.0);
        assert_eq!(cell((-0.1, 49.9)), (-1, 0));
    }

    #[test]
    fn outings_that_differ_widen_the_interval() {
        let finds: Vec<Located> = (0..12)
            .map(|place| Located {
                cell: (0, 0),
                habitat: Some(1),
                wanted: true,
                outing: usize::from(place == 0),
            })
            .collect();
        let outings = (0..6).map(|outing| (outing, Searched::from([(Some(1), 1.0)]))).collect();
        let rate = Ground::of(&finds).rates(&finds, &outings).of[&1];
        let poisson = crate::analyse::intervals::garwood(12.0).times(1.0 / 6.0);
        assert!(rate.per_hour.high95 > 2.0 * poisson.high95, "{rate:?}");
        assert!(rate.per_hour.low95 < 0.5 * poisson.low95, "{rate:?}");
    }
}

//! Finds the protected circles that reach a find, with a spatial index over circles of very different
//! sizes that works across 180 degrees and at the poles. Layer: `present`.

use std::collections::{BTreeMap, HashMap};

use crate::analyse::spatial_index::Ecef;
use crate::earth::geodesic;
use crate::model::Sensitivity;
use crate::units::{Degrees, LatLon, Metres, Radius95, TrueBearing};

/// The largest radius of a find that counts here: coarser finds belong to no site (rule of sites).
pub(super) const COARSEST: f64 = 100.0;

/// The circle of a sensitive find or place.
#[derive(Clone, Debug)]
pub(super) struct Footprint {
    /// Its centre.
    pub(super) at: LatLon,
    /// Its 95 % radius, metres: within it finds of the taxon are sensitive, and no track or text may lead there.
    pub(super) circle: f64,
    /// Within this distance every find is sensitive, metres; zero where only the taxon counts.
    pub(super) for_all: f64,
    /// The taxon.
    pub(super) taxon: Option<String>,
    pub(super) level: Sensitivity,
    /// The rule, as an index.
    pub(super) rule: usize,
    /// Whether it is a protected place, not the circle of a currently sensitive find.
    pub(super) bound: bool,
}

/// Cells of a spatial lattice, with the circles that reach into each.
type Lattice = HashMap<(i64, i64, i64), Vec<usize>>;

/// A spatial index of circles. Each is in the lattice whose cells are at least as large as its reach, so
/// that it touches 27 cells at most.
#[derive(Clone, Debug, Default)]
pub(super) struct Footprints {
    all: Vec<Footprint>,
    lattices: BTreeMap<i32, Lattice>,
}

impl Footprints {
    pub(super) fn new(all: Vec<Footprint>) -> Self {
        let mut lattices: BTreeMap<i32, Lattice> = BTreeMap::new();
        for (index, one) in all.iter().enumerate() {
            let reach = one.for_all.max(one.circle) + COARSEST;
            let size = size_for(reach);
            let lattice = lattices.entry(size).or_default();
            let spot = Ecef::of(one.at);
            let span = |middle: f64| cell(middle - reach, size)..=cell(middle + reach, size);
            for x in span(spot.x) {
                for y in span(spot.y) {
                    for z in span(spot.z) {
                        lattice.entry((x, y, z)).or_default().push(index);
                    }
                }
            }
        }
        Self { all, lattices }
    }

    /// The circles that may contain a find of this position and radius, with the distance to their
    /// centres minus the find's own radius.
    pub(super) fn around(
        &self,
        at: LatLon,
        radius: Radius95,
    ) -> impl Iterator<Item = (&Footprint, f64)> + '_ {
        let spot = Ecef::of(at);
        let own = radius.metres().0.min(COARSEST);
        self.lattices
            .iter()
            .filter_map(move |(size, lattice)| {
                lattice.get(&(cell(spot.x, *size), cell(spot.y, *size), cell(spot.z, *size)))
            })
            .flatten()
            .filter_map(|index| self.all.get(*index))
            .map(move |one| (one, Ecef::of(one.at).distance(spot).0 - own))
    }

    /// Whether there is no circle.
    pub(super) fn is_empty(&self) -> bool {
        self.all.is_empty()
    }

    /// As [`Self::reach`] for margins of up to some hundred metres.
    pub(super) fn reach_from(&self, at: LatLon, margin: Metres) -> bool {
        if self.all.is_empty() {
            return false;
        }
        // circles of the largest margin whose squares cover the ground without a gap
        let step = COARSEST * std::f64::consts::SQRT_2;
        let rings = ((margin.0 - COARSEST).max(0.0) / step).ceil();
        let mut north = -rings;
        while north <= rings {
            let mut east = -rings;
            while east <= rings {
                let bearing = TrueBearing::new(Degrees(east.atan2(north).to_degrees()));
                let off = Metres(north.hypot(east) * step);
                if self.reach(geodesic::destination(at, bearing, off), Metres(COARSEST)) {
                    return true;
                }
                east += 1.0;
            }
            north += 1.0;
        }
        false
    }

    /// The centres of all circles, with the levels of their rules.
    pub(super) fn circles(&self) -> impl Iterator<Item = (LatLon, Sensitivity)> + '_ {
        self.all.iter().map(|one| (one.at, one.level))
    }

    /// Whether a position lies within a circle, or within this distance of it.
    pub(super) fn reach(&self, at: LatLon, margin: Metres) -> bool {
        let radius = Radius95::new(Metres(margin.0.clamp(0.001, COARSEST)));
        radius
            .is_some_and(|radius| self.around(at, radius).any(|(one, beyond)| beyond <= one.circle))
    }
}

/// The power of two whose cells are at least as large as the reach.
#[allow(clippy::cast_possible_truncation, reason = "between 0 and 24")]
fn size_for(reach: f64) -> i32 {
    reach.max(1.0).log2().ceil().clamp(0.0, 24.0) as i32
}

#[allow(clippy::cast_possible_truncation, reason = "metres from the centre of the Earth")]
fn cell(metres: f64, size: i32) -> i64 {
    (metres / 2_f64.powi(size)).floor() as i64
}

#[cfg(test)]
mod tests {
    use super::*;

    fn footprint(at: LatLon, radius: f64) -> Footprint {
        Footprint {
            at,
            for_all: radius,
            circle: radius,
            taxon: None,
            level: Sensitivity::High,
            rule: 0,
            bound: true,
        }
    }

    #[test]
    fn circles_of_all_sizes_are_found_across_date_line_and_poles() {
        for (middle, near, far) in [
            ((-42.0, 146.0), (-42.0, 146.000_5), (-42.0, 146.01)),
            ((65.0, 179.999_9), (65.0, -179.999_9), (65.0, -179.9)),
            ((89.999_9, 0.0), (89.999_9, 180.0), (89.9, 0.0)),
        ] {
            let place = |(latitude, longitude)| LatLon::new(latitude, longitude).unwrap();
            let small = footprint(place(middle), 50.0);
            let large = footprint(place((10.0, 10.0)), 20_000.0);
            let both = Footprints::new(vec![small, large]);
            assert!(both.reach(place(near), Metres(0.0)), "{near:?}");
            assert!(!both.reach(place(far), Metres(0.0)), "{far:?}");
            assert!(both.reach(place((10.1, 10.1)), Metres(0.0)));
            assert!(!both.reach(place((10.2, 10.0)), Metres(0.0)));
        }
    }
}

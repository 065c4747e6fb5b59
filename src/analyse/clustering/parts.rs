//! Finds the connected components of a set of positions, where an edge joins positions that cannot
//! be distinguished. Layer: `analyse`.

use std::sync::atomic::{AtomicU32, Ordering};

use rayon::prelude::*;

use super::{Points, Reading, Rule, reach2};
use crate::analyse::spatial_index::{Ecef, Lattice};
use crate::units::{LatLon, Metres};

/// Lock-free disjoint sets: each item points at a smaller one of its set, the smallest at itself.
/// The result does not depend on the order of unions.
///
/// # References
/// Anderson & Woll 1991, Wait-free parallel algorithms for the union-find problem, STOC 23:370.
pub(super) struct Forest {
    parent: Vec<AtomicU32>,
}

impl Forest {
    /// Every item in a set of its own.
    pub(super) fn new(count: usize) -> Self {
        Self { parent: (0..number(count)).map(AtomicU32::new).collect() }
    }

    fn above(&self, item: u32) -> u32 {
        self.parent[item as usize].load(Ordering::Relaxed)
    }

    /// The smallest item of a set, halving the path to it on the way. Any number of threads may call it.
    pub(super) fn root(&self, of: u32) -> u32 {
        let mut at = of;
        loop {
            let above = self.above(at);
            if above == at {
                return at;
            }
            let next = self.above(above);
            if next == above {
                return above;
            }
            // path halving; a concurrent update by another thread is harmless
            let _ = self.parent[at as usize].compare_exchange_weak(
                above,
                next,
                Ordering::Relaxed,
                Ordering::Relaxed,
            );
            at = next;
        }
    }

    /// Makes two sets one: the larger root is put below the smaller one, and tried again where another thread was
    /// first.
    pub(super) fn join(&self, a: u32, b: u32) {
        let (mut a, mut b) = (a, b);
        loop {
            (a, b) = (self.root(a), self.root(b));
            if a == b {
                return;
            }
            let (small, large) = (a.min(b), a.max(b));
            let joined = self.parent[large as usize].compare_exchange(
                large,
                small,
                Ordering::Relaxed,
                Ordering::Relaxed,
            );
            if joined.is_ok() {
                return;
            }
        }
    }

    /// Whether two are in one set, by a quick check that may miss it.
    fn surely_one(&self, a: u32, b: u32) -> bool {
        self.above(a) == self.above(b)
    }

    /// The sets in the order of their smallest items, the members of each in order.
    pub(super) fn parts(&self) -> Parts {
        let count = self.parent.len();
        let mut place = vec![u32::MAX; count];
        let mut starts = Vec::new();
        let roots: Vec<u32> = (0..number(count)).map(|item| self.root(item)).collect();
        for root in &roots {
            let place = &mut place[*root as usize];
            if *place == u32::MAX {
                *place = number(starts.len());
                starts.push(0_u32);
            }
            starts[*place as usize] += 1;
        }
        let mut total = 0;
        for start in &mut starts {
            (*start, total) = (total, total + *start);
        }
        let mut members = vec![0; count];
        let mut fill = starts.clone();
        for (index, root) in roots.iter().enumerate() {
            let at = &mut fill[place[*root as usize] as usize];
            members[*at as usize] = number(index);
            *at += 1;
        }
        starts.push(total);
        Parts { starts, members }
    }
}

fn number(index: usize) -> u32 {
    u32::try_from(index).unwrap_or(u32::MAX)
}

/// The members of each set, one set after the other.
pub(super) struct Parts {
    starts: Vec<u32>,
    members: Vec<u32>,
}

impl Parts {
    /// Each set as a list of its items.
    pub(super) fn all(&self) -> Vec<&[u32]> {
        let part = |ends: &[u32]| &self.members[ends[0] as usize..ends[1] as usize];
        self.starts.windows(2).map(part).collect()
    }
}

/// Joins all items within reach of each other.
///
/// Readings are handled in classes of radius, each four times wider than the one below, so that a
/// few coarse ones do not enlarge the cells of all others.
pub(super) fn connected(readings: &[Reading], points: &Points, rule: Rule) -> Forest {
    let forest = Forest::new(readings.len());
    let reach2 = reach2(rule.level);
    for (ceiling, floor) in classes(&points.variances) {
        let chosen: Vec<u32> = (0..number(readings.len()))
            .filter(|i| points.variances[*i as usize] <= ceiling)
            .collect();
        let places: Vec<LatLon> = chosen.iter().map(|i| readings[*i as usize].at).collect();
        let lattice = Lattice::new(&places, Metres((2.0 * reach2 * ceiling).sqrt()));
        let sorted: Vec<(u32, Ecef, f64)> = lattice
            .order()
            .par_iter()
            .map(|place| {
                let index = chosen[*place as usize];
                (index, points.spots[index as usize], points.variances[index as usize])
            })
            .collect();
        // joined by their order in the lattice, where neighbours are adjacent in memory
        let local = Forest::new(sorted.len());
        lattice.pairs_at_once(|a, b| {
            let (place_a, place_b) = (number(a), number(b));
            if local.surely_one(place_a, place_b) {
                return;
            }
            let ((_, spot_a, variance_a), (_, spot_b, variance_b)) = (sorted[a], sorted[b]);
            if variance_a.max(variance_b) > floor
                && spot_a.distance2(spot_b) <= reach2 * (variance_a + variance_b)
            {
                local.join(place_a, place_b);
            }
        });
        for (place, (index, ..)) in sorted.iter().enumerate() {
            forest.join(*index, sorted[local.root(number(place)) as usize].0);
        }
    }
    forest
}

/// Classes of variance, each up to 16 times the one below: (ceiling, floor) of each that is used.
fn classes(variances: &[f64]) -> Vec<(f64, f64)> {
    let smallest = variances.iter().copied().fold(f64::INFINITY, f64::min);
    let largest = variances.iter().copied().fold(0.0, f64::max);
    let mut classes = Vec::new();
    let (mut floor, mut ceiling) = (0.0, smallest * 16.0);
    while floor < largest {
        let top =
            variances.iter().copied().filter(|v| *v > floor && *v <= ceiling).fold(0.0, f64::max);
        if top > 0.0 {
            classes.push((top, floor));
        }
        (floor, ceiling) = (ceiling, ceiling * 16.0);
    }
    classes
}

//! Finds the quickest route along the path network to any of the goals. Dijkstra's algorithm by
//! walking time, from every node within reach across open ground. Layer: `wayout`.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use rayon::prelude::*;

use super::{Net, WALKED_OFTEN};
use crate::earth::elevation::Ground;
use crate::earth::local;
use crate::units::{LatLon, Metres, Seconds};
use crate::wayout::pace::{Surface, tobler};

/// The largest distance from a known line for a route along it.
const REACH: Metres = Metres(500.0);
/// Metres.
const HARDLY_FARTHER: f64 = 25.0;
/// Ratio of walked to straight distance over open ground (project choice).
const DETOUR: f64 = 1.3;

/// Where a route may end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Entry {
    /// The goal.
    pub at: LatLon,
}

/// A route along the network.
#[derive(Clone, Debug, PartialEq)]
pub struct NetRoute {
    /// Which of the goals.
    pub goal: usize,
    /// Its time by Tobler's function.
    pub duration: Seconds,
    /// The places in order, the start and the goal included.
    pub places: Vec<LatLon>,
    /// For each piece between two places: how many outings walked it; 0 is of a base map, the first and the last
    /// piece are open ground.
    pub passes: Vec<u8>,
    /// Whether a piece crosses a gap in the track.
    pub gaps: Vec<bool>,
    /// The largest 95 % radius along the route.
    pub radius: Metres,
}

impl NetRoute {
    /// The length of the pieces that no outing walked.
    #[must_use]
    pub fn mapped(&self) -> Metres {
        let inner = 1..self.passes.len().saturating_sub(1);
        let piece = |index: usize| {
            let pair = (self.places.get(index)?, self.places.get(index + 1)?);
            (self.passes.get(index) == Some(&0)).then(|| local::distance(*pair.0, *pair.1))
        };
        Metres(inner.filter_map(piece).map(|length| length.0).sum())
    }
}

#[derive(Clone, Copy)]
struct Reached {
    cost: u32,
    before: u32,
}

const NOWHERE: u32 = u32::MAX;

impl Net {
    /// The quickest route to the goal that is nearest in time; `None` where the start or every goal
    /// is more than 500 m from the network, or no line connects them.
    ///
    /// Enters and leaves the network by the nearest node or one that is hardly farther, across open ground at Tobler's
    /// pace off the path with a detour of 1.3 (project choice).
    #[must_use]
    pub fn quickest(
        &self,
        from: LatLon,
        goals: &[Entry],
        ground: Option<&Ground>,
    ) -> Option<NetRoute> {
        let ends = self.ends(goals);
        let mut reached = vec![Reached { cost: NOWHERE, before: NOWHERE }; self.places.len()];
        let mut heap = BinaryHeap::new();
        for (node, off) in self.entries(from) {
            let cost = across(off);
            if cost < reached[node].cost {
                reached[node].cost = cost;
                heap.push(Reverse((cost, u32::try_from(node).ok()?)));
            }
        }
        let heights = |place| ground.and_then(|ground| ground.height(place));
        let mut best: Option<(u32, usize, usize)> = None;
        while let Some(Reverse((cost, node))) = heap.pop() {
            if best.is_some_and(|(least, _, _)| cost >= least) {
                break;
            }
            let node = node as usize;
            if cost > reached[node].cost {
                continue;
            }
            let first = ends.partition_point(|end| end.0 < node);
            for (_, goal, off) in ends[first..].iter().take_while(|end| end.0 == node) {
                let whole = cost.saturating_add(across(*off));
                if best.is_none_or(|(least, _, _)| whole < least) {
                    best = Some((whole, node, *goal));
                }
            }
            let here = heights(self.place(node));
            for edge in self.edges_of(node) {
                let to = edge.to as usize;
                let rise = match (here, heights(self.place(to))) {
                    (Some(here), Some(there)) => there.0.0 - here.0.0,
                    _ => 0.0,
                };
                let next = cost.saturating_add(time(edge.metres, rise, edge.passes));
                if next < reached[to].cost {
                    reached[to] = Reached { cost: next, before: u32::try_from(node).ok()? };
                    heap.push(Reverse((next, edge.to)));
                }
            }
        }
        let (cost, node, goal) = best?;
        Some(self.route(from, goals.get(goal)?.at, goal, cost, self.chain(&reached, node)))
    }

    /// The times of [`Net::quickest`] on level ground from each place to each that follows it, in one
    /// search for each place; `None` where no route is known, and for a place and those before it.
    #[must_use]
    pub fn times(&self, places: &[LatLon]) -> Vec<Vec<Option<Seconds>>> {
        let entries: Vec<Vec<(usize, Metres)>> =
            places.par_iter().map(|at| self.entries(*at)).collect();
        let mut ends: Vec<(usize, usize, Metres)> = entries
            .iter()
            .enumerate()
            .flat_map(|(goal, own)| own.iter().map(move |(node, off)| (*node, goal, *off)))
            .collect();
        ends.sort_by_key(|end| end.0);
        (0..places.len())
            .into_par_iter()
            .map(|from| self.times_from((from, &entries[from]), &ends, places.len()))
            .collect()
    }

    /// From one place to the later of so many.
    fn times_from(
        &self,
        (from, entries): (usize, &[(usize, Metres)]),
        ends: &[(usize, usize, Metres)],
        count: usize,
    ) -> Vec<Option<Seconds>> {
        let mut best = vec![NOWHERE; count];
        let mut reached = vec![NOWHERE; self.places.len()];
        let mut heap = BinaryHeap::new();
        for (node, off) in entries {
            reached[*node] = reached[*node].min(across(*off));
            heap.push(Reverse((reached[*node], *node)));
        }
        let later = (from + 1).min(count);
        while let Some(Reverse((cost, node))) = heap.pop() {
            if best[later..].iter().all(|least| cost >= *least) {
                break;
            }
            if cost > reached[node] {
                continue;
            }
            let first = ends.partition_point(|end| end.0 < node);
            for (_, goal, off) in ends[first..].iter().take_while(|end| end.0 == node) {
                best[*goal] = best[*goal].min(cost.saturating_add(across(*off)));
            }
            for edge in self.edges_of(node) {
                let to = edge.to as usize;
                let next = cost.saturating_add(time(edge.metres, 0.0, edge.passes));
                if next < reached[to] {
                    reached[to] = next;
                    heap.push(Reverse((next, to)));
                }
            }
        }
        let seconds = |(goal, least): (usize, u32)| {
            (goal > from && least != NOWHERE).then(|| Seconds(f64::from(least) / 1e3))
        };
        best.into_iter().enumerate().map(seconds).collect()
    }

    /// Nodes within reach of a place, with their distances.
    fn near(&self, place: LatLon) -> impl Iterator<Item = (usize, Metres)> + '_ {
        let up = REACH.0 / 110_000.0;
        let poleward = (place.latitude().abs() + up).min(90.0);
        let aside = up / poleward.to_radians().cos().max(1e-9);
        self.places.iter().enumerate().filter_map(move |(node, (latitude, longitude))| {
            // the cheap test first, since a network can have a million nodes
            let turn = (f64::from(*longitude) / super::STEP - place.longitude()).abs();
            if (f64::from(*latitude) / super::STEP - place.latitude()).abs() > up
                || turn.min(360.0 - turn) > aside
            {
                return None;
            }
            let off = local::distance(place, self.place(node));
            (off.0 <= REACH.0).then_some((node, off))
        })
    }

    /// Nodes for entering or leaving the network: the nearest, and others hardly farther, so that a
    /// route from a line follows it instead of cutting across.
    fn entries(&self, from: LatLon) -> Vec<(usize, Metres)> {
        let near: Vec<_> = self.near(from).collect();
        let nearest = near.iter().map(|(_, off)| off.0).fold(f64::INFINITY, f64::min);
        near.into_iter().filter(|(_, off)| off.0 <= nearest * 1.5 + HARDLY_FARTHER).collect()
    }

    /// For each goal the nodes for leaving the network: node, goal, distance, in the order of the
    /// nodes.
    fn ends(&self, goals: &[Entry]) -> Vec<(usize, usize, Metres)> {
        let leave = |(goal, entry): (usize, &Entry)| {
            self.entries(entry.at)
                .into_iter()
                .map(move |(node, off)| (node, goal, off))
                .collect::<Vec<_>>()
        };
        let mut ends: Vec<_> = goals.iter().enumerate().flat_map(leave).collect();
        ends.sort_by_key(|end| end.0);
        ends
    }

    fn chain(&self, reached: &[Reached], end: usize) -> Vec<usize> {
        let mut chain = vec![end];
        let mut node = end;
        while let Some(before) = reached.get(node).map(|reached| reached.before as usize)
            && before < self.places.len()
            && chain.len() <= self.places.len()
        {
            chain.push(before);
            node = before;
        }
        chain.reverse();
        chain
    }

    fn route(
        &self,
        from: LatLon,
        to: LatLon,
        goal: usize,
        cost: u32,
        chain: Vec<usize>,
    ) -> NetRoute {
        let mut places = vec![from];
        let (mut passes, mut gaps) = (vec![0], vec![false]);
        let mut radius = Metres(0.0);
        for pair in chain.windows(2) {
            let edge = self.edges_of(pair[0]).iter().find(|edge| edge.to as usize == pair[1]);
            passes.push(edge.map_or(0, |edge| edge.passes));
            gaps.push(edge.is_some_and(|edge| edge.gap));
        }
        for node in chain {
            radius = radius.max(self.radius(node));
            places.push(self.place(node));
        }
        places.push(to);
        (passes, gaps) = ([passes, vec![0]].concat(), [gaps, vec![false]].concat());
        NetRoute { goal, duration: Seconds(f64::from(cost) / 1e3), places, passes, gaps, radius }
    }
}

/// Milliseconds over open ground.
fn across(off: Metres) -> u32 {
    milliseconds(off.0 * DETOUR, 0.0, Surface::OffPath)
}

fn time(metres: f32, rise: f64, passes: u8) -> u32 {
    let surface = if passes >= WALKED_OFTEN { Surface::Path } else { Surface::OffPath };
    let metres = f64::from(metres).max(0.1);
    // two nodes some metres apart can differ in height by the noise of the tile
    milliseconds(metres, (rise / metres).clamp(-1.0, 1.0), surface)
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held in bounds")]
fn milliseconds(metres: f64, slope: f64, surface: Surface) -> u32 {
    (metres / tobler(slope, surface).0 * 1e3).ceil().clamp(0.0, 4e9) as u32
}

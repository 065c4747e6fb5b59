//! Finds routes along earlier tracks. A network of all tracks, joined where they meet within their
//! uncertainty and weighted by walking time; stored as bytes and extended incrementally.
//! Layer: `wayout`.
//!
//! # Method
//! Each track is resampled to 10 m; a point that lies within its own and a node's uncertainty (10 to 20 m) becomes
//! that node. Edges count how many outings walked them and whether a gap of the track lies in them. A line of three
//! outings or more counts as a path. Routes are the quickest by Tobler's function, by Dijkstra's algorithm.
//!
//! # Size
//! The tracks of 2,000 days are 107,000 nodes in 6 MiB, and are read in 21 ms (`docs/way-out.md`).
//!
//! # Accuracy
//! Within 1 % of `scipy.sparse.csgraph.dijkstra` on random lattices (`docs/way-out.md`).

mod build;
mod bytes;
mod part;
mod route;
mod trail;

pub use build::Builder;
pub use part::{Part, PartEdge};
pub use route::{Entry, NetRoute};

use crate::units::{LatLon, Metres};

/// The fewest outings on a line for it to count as a path (project choice).
pub const WALKED_OFTEN: u8 = 3;
/// Ten millionths of a degree: about a centimetre.
const STEP: f64 = 1e7;

/// The network of earlier tracks.
///
/// Read-only; [`Builder`] makes it, and continues a stored one with a new outing. Positions are kept to about a
/// centimetre, radii to whole metres up to 255.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Net {
    /// Positions of the nodes, ten millionths of a degree.
    places: Vec<(i32, i32)>,
    /// 95 % radii of the nodes, metres, held at 255.
    radii: Vec<u8>,
    /// Where the edges of a node begin; one more than there are nodes.
    first: Vec<u32>,
    edges: Vec<Edge>,
    /// The tracks included: one key for each outing.
    prints: Vec<u64>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct Edge {
    to: u32,
    metres: f32,
    /// How many outings walked it, held at 255.
    passes: u8,
    /// Whether it crosses a gap in the track.
    gap: bool,
}

impl Net {
    /// How many nodes it has.
    #[must_use]
    pub fn nodes(&self) -> usize {
        self.places.len()
    }

    /// How many pieces of line.
    #[must_use]
    pub fn edges(&self) -> usize {
        self.edges.len() / 2
    }

    /// Whether it includes exactly these tracks.
    #[must_use]
    pub fn is_of(&self, prints: &[u64]) -> bool {
        let sorted = |prints: &[u64]| {
            let mut prints = prints.to_vec();
            prints.sort_unstable();
            prints
        };
        sorted(&self.prints) == sorted(prints)
    }

    /// The tracks included.
    #[must_use]
    pub fn prints(&self) -> &[u64] {
        &self.prints
    }

    /// The pieces of line with how often they were walked, each once.
    pub fn pieces(&self) -> impl Iterator<Item = (LatLon, LatLon, u8)> {
        (0..self.places.len()).flat_map(move |from| {
            self.edges_of(from)
                .iter()
                .filter(move |edge| edge.to as usize > from)
                .map(move |edge| (self.place(from), self.place(edge.to as usize), edge.passes))
        })
    }

    fn place(&self, node: usize) -> LatLon {
        let (latitude, longitude) = self.places.get(node).copied().unwrap_or_default();
        LatLon::clamped(f64::from(latitude) / STEP, f64::from(longitude) / STEP)
    }

    fn radius(&self, node: usize) -> Metres {
        Metres(self.radii.get(node).copied().map_or(0.0, f64::from))
    }

    fn edges_of(&self, node: usize) -> &[Edge] {
        let bound = |index: usize| self.first.get(index).map_or(0, |edge| *edge as usize);
        self.edges.get(bound(node)..bound(node + 1)).unwrap_or_default()
    }
}

#[allow(clippy::cast_possible_truncation, reason = "180 degrees fit 32 bits")]
fn stepped(place: LatLon) -> (i32, i32) {
    ((place.latitude() * STEP).round() as i32, (place.longitude() * STEP).round() as i32)
}

#[cfg(test)]
mod tests;

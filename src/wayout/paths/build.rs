//! Adds a track to the path network, resampled to ten metres, or the paths of a base map. A point within the
//! uncertainty of an existing node is merged into that node. Layer: `wayout`.

use std::collections::HashMap;

use super::{Edge, Net, STEP, stepped};
use crate::earth::local::{self, Plane};
use crate::model::{BaseClass, BaseFeature, BaseShape, TrackPoint};
use crate::units::{LatLon, Metres};

/// Points of a track nearer than this to the previous one are skipped.
const SPACING: Metres = Metres(10.0);
/// Nodes are merged within their uncertainties, limited to this range.
const MEET: (f64, f64) = (10.0, 20.0);
/// Side of the cells in which nodes are looked up, metres: at least the largest merging distance.
const CELL: f64 = 20.0;
/// The distance between points of a line of a base map. With the radius it lets a line that crosses a track meet one
/// of its nodes, which can lie 20 m apart.
const MAPPED_SPACING: Metres = Metres(4.0);
/// The radius of a point of a base map (project choice: a base map states none).
const MAPPED_RADIUS: Metres = Metres(7.0);
/// Metres in a degree of latitude, roughly.
const DEGREE: f64 = 111_195.0;

/// Builds a path network.
#[derive(Debug, Default)]
pub struct Builder {
    places: Vec<LatLon>,
    radii: Vec<u8>,
    cells: HashMap<(i32, i32), Vec<u32>>,
    edges: HashMap<(u32, u32), (u8, bool)>,
    prints: Vec<u64>,
}

impl Builder {
    /// Continues from a stored network.
    #[must_use]
    pub fn of(net: &Net) -> Self {
        let mut builder = Self { prints: net.prints.clone(), ..Self::default() };
        for node in 0..net.nodes() {
            builder.add_node(net.place(node), net.radii.get(node).copied().unwrap_or(u8::MAX));
        }
        for from in 0..net.nodes() {
            for edge in net.edges_of(from).iter().filter(|edge| edge.to as usize > from) {
                if let Ok(from) = u32::try_from(from) {
                    builder.edges.insert((from, edge.to), (edge.passes, edge.gap));
                }
            }
        }
        builder
    }

    /// Adds the track of an outing under its key.
    pub fn add(&mut self, track: &[TrackPoint], print: u64) {
        self.prints.push(print);
        let mut before: Option<(u32, LatLon)> = None;
        let mut gap = false;
        let mut walked: Vec<(u32, u32, bool)> = Vec::new();
        for (index, point) in track.iter().enumerate() {
            let ends = point.gap_after || index + 1 == track.len();
            let near = before.is_some_and(|(_, at)| local::distance(at, point.at).0 < SPACING.0);
            if near && !ends && !gap {
                continue;
            }
            let node = self.node(point.at, point.radius.metres());
            if let Some((last, _)) = before
                && last != node
            {
                walked.push((last.min(node), last.max(node), gap));
            }
            before = Some((node, point.at));
            gap = point.gap_after;
        }
        walked.sort_unstable();
        walked.dedup_by_key(|(a, b, _)| (*a, *b));
        for (a, b, gap) in walked {
            // an edge that was ever recorded with signal is not a gap
            let known = self.edges.entry((a, b)).or_insert((0, true));
            *known = (known.0.saturating_add(1), known.1 && gap);
        }
    }

    /// Adds the paths of base maps, as pieces that no outing walked. Roads are left out: their class holds motorways
    /// and railways.
    pub fn add_mapped(&mut self, features: &[BaseFeature]) {
        let path = |feature: &&BaseFeature| feature.class == BaseClass::Path;
        for feature in features.iter().filter(path) {
            if let BaseShape::Line(line) = &feature.shape {
                self.add_line(line);
            }
        }
    }

    fn add_line(&mut self, line: &[LatLon]) {
        let mut before: Option<u32> = None;
        for at in spaced(line) {
            let node = self.node(at, MAPPED_RADIUS);
            if let Some(last) = before.filter(|last| *last != node) {
                self.edges.entry((last.min(node), last.max(node))).or_insert((0, false));
            }
            before = Some(node);
        }
    }

    /// The network in the form that is stored and searched.
    #[must_use]
    pub fn finish(self) -> Net {
        let nodes = self.places.len();
        let mut first = vec![0_u32; nodes + 1];
        for (a, b) in self.edges.keys() {
            first[*a as usize + 1] += 1;
            first[*b as usize + 1] += 1;
        }
        for node in 0..nodes {
            first[node + 1] += first[node];
        }
        let mut next = first.clone();
        let empty = Edge { to: 0, metres: 0.0, passes: 0, gap: false };
        let mut edges = vec![empty; self.edges.len() * 2];
        let mut sorted: Vec<_> = self.edges.iter().collect();
        sorted.sort_unstable();
        for ((a, b), (passes, gap)) in sorted {
            let (from, to) = (self.places[*a as usize], self.places[*b as usize]);
            #[allow(clippy::cast_possible_truncation, reason = "metres between neighbours")]
            let metres = local::distance(from, to).0 as f32;
            for (from, to) in [(*a, *b), (*b, *a)] {
                let slot = &mut next[from as usize];
                edges[*slot as usize] = Edge { to, metres, passes: *passes, gap: *gap };
                *slot += 1;
            }
        }
        let places = self.places.iter().map(|place| stepped(*place)).collect();
        Net { places, radii: self.radii, first, edges, prints: self.prints }
    }

    /// The nearest node within uncertainty, or a new one.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held at 255")]
    fn node(&mut self, at: LatLon, radius: Metres) -> u32 {
        let mut best: Option<(f64, u32)> = None;
        for cell in around(at) {
            for node in self.cells.get(&cell).into_iter().flatten() {
                let index = *node as usize;
                let off = local::distance(at, self.places[index]).0;
                let meet =
                    radius.hypot(Metres(f64::from(self.radii[index]))).0.clamp(MEET.0, MEET.1);
                if off <= meet && best.is_none_or(|(least, _)| off < least) {
                    best = Some((off, *node));
                }
            }
        }
        match best {
            Some((_, node)) => node,
            None => self.add_node(at, radius.0.ceil().clamp(1.0, 255.0) as u8),
        }
    }

    fn add_node(&mut self, place: LatLon, radius: u8) -> u32 {
        let node = u32::try_from(self.places.len()).unwrap_or(u32::MAX);
        // rounded to the centimetre, so that a stored network equals the one in memory
        let (latitude, longitude) = stepped(place);
        let place = LatLon::clamped(f64::from(latitude) / STEP, f64::from(longitude) / STEP);
        self.places.push(place);
        self.radii.push(radius);
        self.cells.entry(cell(place)).or_default().push(node);
        node
    }
}

/// The vertices of a line, and places between those that are far apart.
fn spaced(line: &[LatLon]) -> impl Iterator<Item = LatLon> {
    let pieces = line.windows(2).flat_map(|pair| {
        let (from, to) = (pair[0], pair[1]);
        let count = (local::distance(from, to) / MAPPED_SPACING).ceil().clamp(1.0, 1e5);
        #[allow(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "held in bounds"
        )]
        let steps = 1..=(count as u32);
        let plane = Plane::about(from);
        let (east, north) = plane.to_plane(to);
        steps.map(move |step| {
            let share = f64::from(step) / count;
            plane.from_plane(east * share, north * share)
        })
    });
    line.first().copied().into_iter().chain(pieces)
}

/// Row and column of the cell of a place; columns narrow with the latitude of their row.
#[allow(clippy::cast_possible_truncation, reason = "a million rows and twice as many columns")]
fn cell(place: LatLon) -> (i32, i32) {
    let row = (place.latitude() * DEGREE / CELL).floor();
    (row as i32, column(row, place.longitude()))
}

fn columns(row: f64) -> f64 {
    let latitude = ((row + 0.5) * CELL / DEGREE).to_radians();
    (360.0 * DEGREE * latitude.cos().max(1e-6) / CELL).floor().max(1.0)
}

#[allow(clippy::cast_possible_truncation, reason = "two million columns")]
fn column(row: f64, longitude: f64) -> i32 {
    let columns = columns(row);
    ((longitude + 180.0) / 360.0 * columns).floor().rem_euclid(columns) as i32
}

/// The cells in which a node that meets the place can lie.
#[allow(clippy::cast_possible_truncation, reason = "two million columns")]
fn around(place: LatLon) -> impl Iterator<Item = (i32, i32)> {
    let middle = (place.latitude() * DEGREE / CELL).floor();
    [-1.0, 0.0, 1.0].into_iter().flat_map(move |up| {
        let row = middle + up;
        let columns = columns(row) as i32;
        let at = column(row, place.longitude());
        let wide = if columns < 3 { columns } else { 3 };
        (0..wide).map(move |step| (row as i32, (at + step - 1).rem_euclid(columns)))
    })
}

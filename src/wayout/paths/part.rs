//! Extracts the part of the path network that a page for the field holds. Layer: `wayout`.

use super::Net;
use crate::units::{LatLon, Metres};

/// Nodes and edges of a network, numbered from zero.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Part {
    /// Positions with their 95 % radii.
    pub nodes: Vec<(LatLon, Metres)>,
    /// Each piece of line once.
    pub edges: Vec<PartEdge>,
}

/// A piece of line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PartEdge {
    /// The node with the lower number.
    pub from: u32,
    /// The other.
    pub to: u32,
    /// How many outings walked it, held at 255.
    pub passes: u8,
    /// Whether it crosses a gap in the track.
    pub gap: bool,
}

impl Net {
    /// The nodes that are wanted, and the pieces between two of them.
    #[must_use]
    pub fn part(&self, wanted: impl Fn(LatLon) -> bool) -> Part {
        let mut numbers = vec![u32::MAX; self.nodes()];
        let mut part = Part::default();
        for (node, number) in numbers.iter_mut().enumerate() {
            let place = self.place(node);
            if wanted(place) {
                *number = u32::try_from(part.nodes.len()).unwrap_or(u32::MAX);
                part.nodes.push((place, self.radius(node)));
            }
        }
        let number = |node: usize| numbers.get(node).copied().filter(|number| *number < u32::MAX);
        for node in 0..self.nodes() {
            for edge in self.edges_of(node).iter().filter(|edge| edge.to as usize > node) {
                if let (Some(from), Some(to)) = (number(node), number(edge.to as usize)) {
                    part.edges.push(PartEdge { from, to, passes: edge.passes, gap: edge.gap });
                }
            }
        }
        part
    }
}

#[cfg(test)]
mod tests {
    use super::super::Builder;
    use crate::earth::local::Plane;
    use crate::model::{Activity, TrackPoint};
    use crate::units::{LatLon, Metres, Radius95, Seconds, Timestamp};

    #[test]
    fn a_part_holds_the_wanted_nodes_and_the_pieces_between_them() {
        let plane = Plane::about(LatLon::new(-42.0, 146.0).unwrap());
        let track: Vec<TrackPoint> = (0..40)
            .map(|step| TrackPoint {
                at: plane.from_plane(f64::from(step) * 12.0, 0.0),
                time: Seconds(f64::from(step) * 12.0).after(Timestamp::UNIX_EPOCH),
                radius: Radius95::new(Metres(5.0)).unwrap(),
                height: None,
                activity: Activity::Walking,
                gap_after: false,
            })
            .collect();
        let mut builder = Builder::default();
        builder.add(&track, 1);
        let net = builder.finish();
        let all = net.part(|_| true);
        assert_eq!((all.nodes.len(), all.edges.len()), (net.nodes(), net.edges()));
        let west = net.part(|place| plane.to_plane(place).0 < 200.0);
        assert_eq!(west.nodes.len(), 17);
        assert_eq!(west.edges.len(), 16);
        assert!(west.edges.iter().all(|edge| (edge.to as usize) < west.nodes.len()));
    }
}

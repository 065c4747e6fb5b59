//! Finds the path past a place: a line walked on three outings or more that runs through it,
//! followed until it turns sharply. Serves as the line to reach for a deliberate offset.
//! Layer: `wayout`.

use super::{Edge, Net, WALKED_OFTEN};
use crate::earth::local::{self, Plane};
use crate::units::{LatLon, Metres};

/// The largest distance of the path from the place.
const BESIDE: Metres = Metres(60.0);
/// How far it is followed to each side.
const FARTHEST: Metres = Metres(4_000.0);
/// The largest turn within one path, radians.
const SHARP: f64 = 1.3;
/// The direction of a path is averaged over so many nodes, since single ones carry receiver noise.
const OVER: usize = 4;

impl Net {
    /// The path past a place, as a line through the point of it that is nearest; `None` where no
    /// line that was walked often passes.
    ///
    /// It passes within 60 m of the place and is followed up to 4 km to each side, without a sharp turn.
    #[must_use]
    pub fn trail(&self, goal: LatLon) -> Option<Vec<LatLon>> {
        let off = |node: usize| local::distance(goal, self.place(node)).0;
        let beside = BESIDE.0 / 110_000.0;
        let start = (0..self.places.len())
            .filter(|node| (self.place(*node).latitude() - goal.latitude()).abs() < beside)
            .filter(|node| off(*node) < BESIDE.0 && self.often(*node).next().is_some())
            .min_by(|a, b| off(*a).total_cmp(&off(*b)))?;
        let walk = Walk { net: self, plane: Plane::about(self.place(start)) };
        let first = self.often(start).max_by_key(|edge| edge.passes)?.to as usize;
        let one_side = walk.on(&[start, first]);
        let opposite = self
            .often(start)
            .map(|edge| edge.to as usize)
            .filter(|node| !one_side.contains(node))
            .max_by(|a, b| {
                let turn = |node| walk.turn(first, start, node).abs();
                turn(*b).total_cmp(&turn(*a))
            });
        let other_side = match opposite {
            Some(node) if walk.turn(first, start, node).abs() < SHARP => walk.on(&[start, node]),
            _ => vec![start],
        };
        let nodes = other_side.iter().rev().chain(one_side.iter().skip(1));
        let line: Vec<LatLon> = nodes.map(|node| self.place(*node)).collect();
        (line.len() > 2).then_some(line)
    }

    /// The pieces from a node that were walked often.
    fn often(&self, node: usize) -> impl Iterator<Item = &Edge> {
        self.edges_of(node).iter().filter(|edge| edge.passes >= WALKED_OFTEN)
    }
}

/// Following a path.
struct Walk<'a> {
    net: &'a Net,
    plane: Plane,
}

impl Walk<'_> {
    /// Extends from these nodes as long as the path continues.
    fn on(&self, from: &[usize]) -> Vec<usize> {
        let mut nodes = from.to_vec();
        let mut length = 0.0;
        while length < FARTHEST.0
            && let Some(last) = nodes.last().copied()
        {
            let behind = nodes[nodes.len().saturating_sub(OVER + 1)];
            let next = self
                .net
                .often(last)
                .map(|edge| (edge.to as usize, edge.metres))
                .filter(|(node, _)| !nodes.contains(node))
                .map(|(node, metres)| (self.turn(behind, last, node).abs(), node, metres))
                .filter(|(turn, _, _)| *turn < SHARP)
                .min_by(|a, b| a.0.total_cmp(&b.0));
            let Some((_, node, metres)) = next else { break };
            nodes.push(node);
            length += f64::from(metres);
        }
        nodes
    }

    /// The turn at the middle one of three nodes, radians.
    fn turn(&self, from: usize, over: usize, to: usize) -> f64 {
        let [from, over, to] =
            [from, over, to].map(|node| self.plane.to_plane(self.net.place(node)));
        let (came, goes) = ((over.0 - from.0, over.1 - from.1), (to.0 - over.0, to.1 - over.1));
        let (cross, dot) = (came.0 * goes.1 - came.1 * goes.0, came.0 * goes.0 + came.1 * goes.1);
        cross.atan2(dot)
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::{net, planes};
    use super::*;

    #[test]
    fn the_path_past_the_goal_is_followed_to_both_sides_and_not_into_a_side_path() {
        for plane in planes() {
            let road: &[(f64, f64)] = &[(-600.0, 0.0), (0.0, 20.0), (700.0, 0.0)];
            let side: &[(f64, f64)] = &[(200.0, 14.0), (200.0, 500.0)];
            let net = net(plane, &[road, road, road, side, side, side]);
            let trail = net.trail(plane.from_plane(10.0, 35.0)).unwrap();
            let ends: Vec<(f64, f64)> =
                [trail.first(), trail.last()].map(|end| plane.to_plane(*end.unwrap())).to_vec();
            let (west, east) = (ends[0].0.min(ends[1].0), ends[0].0.max(ends[1].0));
            assert!((-615.0..-560.0).contains(&west) && (660.0..715.0).contains(&east), "{ends:?}");
            assert!(trail.iter().all(|place| plane.to_plane(*place).1.abs() < 45.0));
        }
    }

    #[test]
    fn line_walked_once_or_far_away_is_not_a_path() {
        let plane = planes()[0];
        let road: &[(f64, f64)] = &[(-600.0, 0.0), (700.0, 0.0)];
        assert_eq!(net(plane, &[road, road]).trail(plane.from_plane(0.0, 0.0)), None);
        let often = net(plane, &[road, road, road]);
        assert_eq!(often.trail(plane.from_plane(0.0, 200.0)), None);
        assert!(often.trail(plane.from_plane(699.0, 0.0)).is_some());
        assert_eq!(Net::default().trail(plane.from_plane(0.0, 0.0)), None);
    }
}

//! Divides a connected component that is not one place into clusters, by agglomeration from single
//! positions. Layer: `analyse`.

use super::parts::Forest;
use super::{Group, Points, Rule, Tests, reach2};
use crate::analyse::spatial_index::Lattice;
use crate::units::{LatLon, Metres};

/// Clusters of one connected component, by agglomeration of mutual nearest neighbours. For this
/// cost the result equals that of merging the globally cheapest pair each time (Murtagh 1983, A
/// survey of recent advances in hierarchical clustering algorithms, Computer Journal 26:354).
struct Builder<'a> {
    points: &'a Points,
    tests: &'a Tests,
    groups: Vec<Group>,
    members: Vec<Vec<u32>>,
    neighbours: Vec<Vec<u32>>,
    best: Vec<u32>,
    into: Forest,
    seen: Seen,
}

/// Marks the groups seen in this pass over a list, to remove merged duplicates without sorting.
struct Seen {
    look: u64,
    last: Vec<u64>,
}

impl Seen {
    fn look_again(&mut self) {
        self.look += 1;
    }

    fn is_first(&mut self, group: u32) -> bool {
        std::mem::replace(&mut self.last[group as usize], self.look) != self.look
    }
}

const NONE: u32 = u32::MAX;

/// The clusters of one component as lists of items. Two groups that are each other's cheapest neighbour are merged
/// in rounds, as long as their union passes the tests.
pub(super) fn build_up(points: &Points, part: &[u32], rule: Rule, tests: &Tests) -> Vec<Vec<u32>> {
    let members = crumbs(points, part, rule, tests);
    let groups: Vec<Group> = members.iter().map(|m| Group::about(points, m)).collect();
    let neighbours = touching(points, &groups, &members, rule);
    let count = groups.len();
    let mut builder = Builder {
        points,
        tests,
        groups,
        members,
        neighbours,
        best: vec![NONE; count],
        into: Forest::new(count),
        seen: Seen { look: 0, last: vec![0; count] },
    };
    builder.run();
    let mut built: Vec<Vec<u32>> =
        builder.members.into_iter().filter(|members| !members.is_empty()).collect();
    for members in &mut built {
        members.sort_unstable();
    }
    built.sort_unstable_by_key(|members| members[0]);
    built
}

/// Items of one small cell start as one group, since they would be merged first anyway. A cell is
/// as wide as the larger of a place's radius and the smallest standard deviation.
fn crumbs(points: &Points, part: &[u32], rule: Rule, tests: &Tests) -> Vec<Vec<u32>> {
    const FEW: usize = 8;
    if part.len() < FEW {
        return part.iter().map(|index| vec![*index]).collect();
    }
    let least = part.iter().map(|i| points.variances[*i as usize]).fold(f64::INFINITY, f64::min);
    let side = rule.place.0.max(least.sqrt());
    // cell and index in one number: one comparison each when they are sorted
    let key = |index: &u32| {
        let spot = points.spots[*index as usize] * (1.0 / side);
        [cell(spot.x), cell(spot.y), cell(spot.z), *index]
            .into_iter()
            .fold(0_u128, |key, part| key << 32 | u128::from(part))
    };
    let mut keyed: Vec<u128> = part.iter().map(key).collect();
    keyed.sort_unstable();
    let mut crumbs = Vec::with_capacity(part.len() / 2);
    for chunk in keyed.chunk_by(|a, b| a >> 32 == b >> 32) {
        let members: Vec<u32> = chunk.iter().map(|key| index_of(*key)).collect();
        if members.len() == 1 || tests.pass(&Group::about(points, &members), points, &members) {
            crumbs.push(members);
        } else {
            crumbs.extend(members.into_iter().map(|index| vec![index]));
        }
    }
    crumbs
}

/// In the order of the coordinate.
#[allow(clippy::cast_possible_truncation, reason = "the Earth has fewer cells of a metre")]
fn cell(coordinate: f64) -> u32 {
    (coordinate.floor() as i32).cast_unsigned() ^ (1 << 31)
}

fn index_of(key: u128) -> u32 {
    u32::try_from(key & 0xffff_ffff).unwrap_or(u32::MAX)
}

/// For each group the groups within reach of it.
fn touching(points: &Points, groups: &[Group], members: &[Vec<u32>], rule: Rule) -> Vec<Vec<u32>> {
    const FEW: usize = 100;
    let reach2 = reach2(rule.level);
    let largest: Vec<f64> = members
        .iter()
        .map(|m| m.iter().map(|i| points.variances[*i as usize]).fold(0.0, f64::max))
        .collect();
    let mut neighbours: Vec<Vec<u32>> = groups.iter().map(|_| Vec::with_capacity(16)).collect();
    let mut consider = |a: u32, b: u32| {
        let limit = reach2 * (largest[a as usize] + largest[b as usize]);
        if groups[a as usize].middle.distance2(groups[b as usize].middle) <= limit {
            neighbours[a as usize].push(b);
            neighbours[b as usize].push(a);
        }
    };
    if groups.len() <= FEW {
        let count = u32::try_from(groups.len()).unwrap_or(u32::MAX);
        for a in 0..count {
            (a + 1..count).for_each(|b| consider(a, b));
        }
    } else {
        let widest = largest.iter().copied().fold(0.0, f64::max);
        let middles: Vec<LatLon> =
            groups.iter().map(|group| group.middle.on_the_ground()).collect();
        let lattice = Lattice::new(&middles, Metres((2.0 * reach2 * widest).sqrt()));
        let order = lattice.order();
        lattice.pairs(|a, b| consider(order[a], order[b]));
    }
    neighbours
}

impl Builder<'_> {
    /// Merges until no two groups can be merged.
    fn run(&mut self) {
        let count = u32::try_from(self.groups.len()).unwrap_or(u32::MAX);
        let mut stale: Vec<u32> = (0..count).collect();
        loop {
            while !stale.is_empty() {
                stale = self.round(stale);
            }
            // costs that are exactly equal may leave a ring of groups that each prefer the next
            stale = (0..count).filter(|group| self.best[*group as usize] != NONE).collect();
            let before = self.best.clone();
            for group in &stale {
                self.best[*group as usize] = self.cheapest(*group);
            }
            if self.best == before {
                return;
            }
        }
    }

    /// Finds the cheapest neighbour of each of these and merges mutual ones; returns those to be
    /// searched again.
    fn round(&mut self, stale: Vec<u32>) -> Vec<u32> {
        for group in &stale {
            self.best[*group as usize] = self.cheapest(*group);
        }
        let mut next = Vec::new();
        for a in stale {
            let b = self.best[a as usize];
            if b != NONE && self.best[b as usize] == a {
                self.consider(a, b, &mut next);
            }
        }
        for group in &mut next {
            *group = self.into.root(*group);
        }
        next.sort_unstable();
        next.dedup();
        next
    }

    /// The neighbour with the lowest merging cost; ties go to the smaller index, so that a mutual
    /// pair always exists.
    fn cheapest(&mut self, group: u32) -> u32 {
        let mut around = std::mem::take(&mut self.neighbours[group as usize]);
        let own = &self.groups[group as usize];
        let pair = |other: u32| (group.min(other), group.max(other));
        let (mut least, mut best) = (f64::INFINITY, NONE);
        self.seen.look_again();
        around.retain_mut(|other| {
            *other = self.into.root(*other);
            let stays = *other != group && self.seen.is_first(*other);
            if stays {
                let cost = own.cost(&self.groups[*other as usize]);
                if cost < least || cost == least && pair(*other) < pair(best) {
                    (least, best) = (cost, *other);
                }
            }
            stays
        });
        self.neighbours[group as usize] = around;
        best
    }

    fn consider(&mut self, a: u32, b: u32, stale: &mut Vec<u32>) {
        let union = self.groups[a as usize].joined(&self.groups[b as usize]);
        if self.tests.together(&union) && self.all_near(a, b, &union) {
            self.merge(a, b, union, stale);
        } else {
            self.part(a, b);
            self.part(b, a);
            stale.extend([a, b]);
        }
    }

    /// Removes `b` from the neighbours of `a`.
    fn part(&mut self, a: u32, b: u32) {
        let mut around = std::mem::take(&mut self.neighbours[a as usize]);
        around.retain(|other| self.into.root(*other) != b);
        self.neighbours[a as usize] = around;
        self.best[a as usize] = NONE;
    }

    fn all_near(&self, a: u32, b: u32, union: &Group) -> bool {
        let limit2 = self.tests.farthest2(union.count);
        let near = |index: &u32| {
            self.points.spots[*index as usize].distance2(union.middle)
                <= limit2 * self.points.variances[*index as usize]
        };
        union.bound * union.bound <= limit2
            || self.members[a as usize].iter().all(near)
                && self.members[b as usize].iter().all(near)
    }

    /// Merges two groups. Only groups whose cheapest neighbour was one of the two are searched
    /// again: the union costs any other at least as much as the cheaper of its parts did (Murtagh's
    /// reducibility).
    fn merge(&mut self, a: u32, b: u32, union: Group, stale: &mut Vec<u32>) {
        let (keep, gone) = (a.min(b), a.max(b));
        let moved = std::mem::take(&mut self.members[gone as usize]);
        self.members[keep as usize].extend(moved);
        self.into.join(keep, gone);
        self.groups[keep as usize] = union;
        let mut around = std::mem::take(&mut self.neighbours[gone as usize]);
        around.append(&mut self.neighbours[keep as usize]);
        self.seen.look_again();
        around.retain_mut(|other| {
            *other = self.into.root(*other);
            let stays = *other != keep && self.seen.is_first(*other);
            if stays && [keep, gone].contains(&self.best[*other as usize]) {
                stale.push(*other);
            }
            stays
        });
        self.best[keep as usize] = NONE;
        self.best[gone as usize] = NONE;
        stale.push(keep);
        self.neighbours[keep as usize] = around;
    }
}

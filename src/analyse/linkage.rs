//! Which positions cannot be told apart? Groups uncertain positions so that each group is what
//! repeated readings of one place would look like. Refuses to chain: a group may not spread wider
//! than the circles of its own members allow. Layer: `analyse`.
//!
//! # Method
//! A position with the 95 % radius r of a place of radius g is taken as normal about the middle of
//! the place, with variance s² = (r² + g²) / 2.4477² on each axis. That n positions are one place is
//! rejected, at the level a, in two ways:
//! - together, when the sum of d²/s² about their weighted mean is beyond the chi-square value for
//!   2(n - 1) degrees of freedom. For two positions this says d² > s1² + s2² times -2 ln a;
//! - singly, when one d²/s² is beyond the chi-square value for two degrees at the level
//!   1 - (1 - a)^(1/n), so that no crowd can carry a stray member.
//!
//! Positions are first joined into connected parts, in which each is within reach of another. A part
//! that passes both tests is a group. One that does not (a line of finds along a trail, two places
//! close by) is built up from single positions: always the two groups whose union adds least to the
//! sum, as long as the union passes.
//!
//! # References
//! Ward 1963, Hierarchical grouping to optimize an objective function, JASA 58:236 (what is
//! minimised, here weighted by each position's own variance). Šidák 1967, JASA 62:626 (the level for
//! the most distant of n).

use rayon::prelude::*;

use super::chance::{chi_square_exceeded, normal_quantile};
use super::ground::{Lattice, Spot};
use crate::units::{LatLon, Metres, Radius95};

/// A position with its uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// Where.
    pub at: LatLon,
    /// How sure.
    pub radius: Radius95,
}

/// How readings are grouped.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rule {
    /// The radius of a place itself: finds of one place are this far apart even when they are
    /// measured perfectly.
    pub place: Metres,
    /// The probability of parting readings that are of one place.
    pub level: f64,
}

impl Default for Rule {
    /// Places of 3 m radius; one place in a hundred is wrongly parted.
    fn default() -> Self {
        Self { place: Metres(3.0), level: 0.01 }
    }
}

/// Gives each reading the number of its group, counted from 0 in the order of the readings.
#[must_use]
pub fn group(readings: &[Reading], rule: Rule) -> Vec<u32> {
    let points = Points::of(readings, rule);
    let mut forest = connected(readings, &points, rule);
    let parts = forest.parts();
    let tests = Tests::new(rule.level);
    // parts do not touch each other, so they can be looked at side by side
    let built: Vec<Vec<Vec<u32>>> = parts
        .all()
        .into_par_iter()
        .with_min_len(64)
        .map(|part| {
            if part.len() == 1 || tests.pass(&Group::about(&points, part), &points, part) {
                Vec::new()
            } else {
                build_up(&points, part, rule, &tests)
            }
        })
        .collect();
    let mut labels = vec![u32::MAX; readings.len()];
    let mut next = 0;
    let mut name = |members: &[u32]| {
        for index in members {
            labels[*index as usize] = next;
        }
        next += 1;
    };
    for (part, groups) in parts.all().into_iter().zip(&built) {
        if groups.is_empty() {
            name(part);
        }
        for members in groups {
            name(members);
        }
    }
    in_order_of_first(labels)
}

fn in_order_of_first(mut labels: Vec<u32>) -> Vec<u32> {
    let count = labels.iter().max().map_or(0, |last| *last as usize + 1);
    let mut renamed = vec![u32::MAX; count];
    let mut next = 0;
    for label in &mut labels {
        let name = &mut renamed[*label as usize];
        if *name == u32::MAX {
            *name = next;
            next += 1;
        }
        *label = *name;
    }
    labels
}

/// The readings as points with variances.
struct Points {
    spots: Vec<Spot>,
    variances: Vec<f64>,
}

impl Points {
    fn of(readings: &[Reading], rule: Rule) -> Self {
        let variance = |reading: &Reading| {
            (reading.radius.metres().hypot(rule.place).0 / Radius95::PER_SIGMA).powi(2)
        };
        Self {
            spots: readings.iter().map(|reading| Spot::of(reading.at)).collect(),
            variances: readings.iter().map(variance).collect(),
        }
    }
}

/// Sets that merge, by union by size with path halving.
struct Forest {
    parent: Vec<u32>,
}

impl Forest {
    fn new(count: usize) -> Self {
        Self { parent: (0..u32::try_from(count).unwrap_or(u32::MAX)).collect() }
    }

    fn root(&mut self, of: u32) -> u32 {
        let mut at = of;
        while self.parent[at as usize] != at {
            let above = self.parent[self.parent[at as usize] as usize];
            self.parent[at as usize] = above;
            at = above;
        }
        at
    }

    fn join(&mut self, a: u32, b: u32) {
        // the smaller index stays the root, so that the outcome does not hang on the order
        let (a, b) = (self.root(a), self.root(b));
        self.parent[a.max(b) as usize] = a.min(b);
    }

    fn parts(&mut self) -> Parts {
        let count = self.parent.len();
        let mut place = vec![u32::MAX; count];
        let mut starts = Vec::new();
        let roots: Vec<u32> =
            (0..count).map(|i| self.root(u32::try_from(i).unwrap_or(u32::MAX))).collect();
        for root in &roots {
            let place = &mut place[*root as usize];
            if *place == u32::MAX {
                *place = u32::try_from(starts.len()).unwrap_or(u32::MAX);
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
            members[*at as usize] = u32::try_from(index).unwrap_or(u32::MAX);
            *at += 1;
        }
        starts.push(total);
        Parts { starts, members }
    }
}

/// The members of each set, one set after the other.
struct Parts {
    starts: Vec<u32>,
    members: Vec<u32>,
}

impl Parts {
    fn all(&self) -> Vec<&[u32]> {
        let part = |ends: &[u32]| &self.members[ends[0] as usize..ends[1] as usize];
        self.starts.windows(2).map(part).collect()
    }
}

/// The square of the number of standard deviations within which two positions are one place.
fn reach2(level: f64) -> f64 {
    chi_square_exceeded(2.0, level)
}

/// Joins everything that is within reach of something else.
///
/// Readings of very different radius are handled in classes, four times wider from one to the next,
/// so that a few coarse ones do not make the cells of all the others large.
fn connected(readings: &[Reading], points: &Points, rule: Rule) -> Forest {
    let mut forest = Forest::new(readings.len());
    let reach2 = reach2(rule.level);
    for (ceiling, floor) in classes(&points.variances) {
        let chosen: Vec<u32> = (0..u32::try_from(readings.len()).unwrap_or(u32::MAX))
            .filter(|i| points.variances[*i as usize] <= ceiling)
            .collect();
        let places: Vec<LatLon> = chosen.iter().map(|i| readings[*i as usize].at).collect();
        let lattice = Lattice::new(&places, Metres((2.0 * reach2 * ceiling).sqrt()));
        let sorted: Vec<(u32, Spot, f64)> = lattice
            .order()
            .iter()
            .map(|place| {
                let index = chosen[*place as usize];
                (index, points.spots[index as usize], points.variances[index as usize])
            })
            .collect();
        lattice.pairs(|a, b| {
            let ((a, spot_a, variance_a), (b, spot_b, variance_b)) = (sorted[a], sorted[b]);
            if variance_a.max(variance_b) > floor
                && spot_a.distance2(spot_b) <= reach2 * (variance_a + variance_b)
            {
                forest.join(a, b);
            }
        });
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

/// What is known of a group: enough to tell what joining two would cost.
#[derive(Clone, Copy, Debug)]
struct Group {
    /// Variance of the weighted mean: 1 over the sum of 1/s².
    variance: f64,
    /// Weighted mean.
    middle: Spot,
    /// Sum of d²/s² about the mean.
    sum: f64,
    /// How many.
    count: u32,
    /// No member is farther than this from the mean, counted in its own standard deviations.
    bound: f64,
    /// The smallest variance.
    least: f64,
}

impl Group {
    fn about(points: &Points, members: &[u32]) -> Self {
        let origin = points.spots[members[0] as usize];
        let (mut weight, mut mean, mut least) = (0.0, Spot::default(), f64::INFINITY);
        for index in members {
            let variance = points.variances[*index as usize];
            weight += 1.0 / variance;
            mean = mean + (points.spots[*index as usize] - origin) * (1.0 / variance);
            least = least.min(variance);
        }
        let middle = origin + mean * (1.0 / weight);
        let (mut sum, mut worst) = (0.0, 0.0_f64);
        for index in members {
            let spread =
                points.spots[*index as usize].distance2(middle) / points.variances[*index as usize];
            sum += spread;
            worst = worst.max(spread);
        }
        let count = u32::try_from(members.len()).unwrap_or(u32::MAX);
        Self { variance: 1.0 / weight, middle, sum, count, bound: worst.sqrt(), least }
    }

    /// By how much the sum grows when the two become one.
    fn cost(&self, other: &Self) -> f64 {
        self.middle.distance2(other.middle) / (self.variance + other.variance)
    }

    fn joined(&self, other: &Self) -> Self {
        let both = self.variance + other.variance;
        let middle = self.middle + (other.middle - self.middle) * (self.variance / both);
        let least = self.least.min(other.least);
        // the mean moves, and the member with the smallest variance counts that most
        let moved =
            |group: &Self| group.bound + (group.middle.distance2(middle) / group.least).sqrt();
        Self {
            variance: self.variance * other.variance / both,
            middle,
            sum: self.sum + other.sum + self.cost(other),
            count: self.count.saturating_add(other.count),
            bound: moved(self).max(moved(other)),
            least,
        }
    }
}

/// The two tests of a group.
struct Tests {
    level: f64,
    beyond: f64,
}

impl Tests {
    fn new(level: f64) -> Self {
        Self { level, beyond: normal_quantile(1.0 - level) }
    }

    fn together(&self, group: &Group) -> bool {
        let freedom = 2.0 * (f64::from(group.count) - 1.0);
        if group.count <= 2 {
            return group.count < 2 || group.sum <= reach2(self.level);
        }
        let spread = 2.0 / (9.0 * freedom);
        let root = 1.0 - spread + self.beyond * spread.sqrt();
        group.sum <= freedom * root.powi(3)
    }

    fn farthest2(&self, count: u32) -> f64 {
        let each = -(-self.level).ln_1p() / f64::from(count);
        reach2(-(-each).exp_m1())
    }

    fn pass(&self, group: &Group, points: &Points, members: &[u32]) -> bool {
        if !self.together(group) {
            return false;
        }
        let limit = self.farthest2(group.count);
        group.bound * group.bound <= limit
            || members.iter().all(|index| {
                points.spots[*index as usize].distance2(group.middle)
                    <= limit * points.variances[*index as usize]
            })
    }
}

/// Groups of one connected part, built up from single readings by joining, in rounds, each two that
/// are the cheapest neighbours of each other. For this cost that gives the same groups as always
/// joining the cheapest two of all (Murtagh 1983, A survey of recent advances in hierarchical
/// clustering algorithms, Computer Journal 26:354).
struct Builder<'a> {
    points: &'a Points,
    tests: &'a Tests,
    groups: Vec<Group>,
    members: Vec<Vec<u32>>,
    neighbours: Vec<Vec<u32>>,
    best: Vec<u32>,
    into: Forest,
}

const NOBODY: u32 = u32::MAX;

fn build_up(points: &Points, part: &[u32], rule: Rule, tests: &Tests) -> Vec<Vec<u32>> {
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
        best: vec![NOBODY; count],
        into: Forest::new(count),
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

/// What lies in one small cell starts as one: the build-up would join it first anyway. A cell is as
/// wide as a place's radius or as the smallest standard deviation, whichever is more.
fn crumbs(points: &Points, part: &[u32], rule: Rule, tests: &Tests) -> Vec<Vec<u32>> {
    const FEW: usize = 8;
    if part.len() < FEW {
        return part.iter().map(|index| vec![*index]).collect();
    }
    let least = part.iter().map(|i| points.variances[*i as usize]).fold(f64::INFINITY, f64::min);
    let side = rule.place.0.max(least.sqrt());
    let mut keyed: Vec<((i32, i32, i32), u32)> = part
        .iter()
        .map(|index| {
            let spot = points.spots[*index as usize] * (1.0 / side);
            ((cell(spot.x), cell(spot.y), cell(spot.z)), *index)
        })
        .collect();
    keyed.sort_unstable();
    let mut crumbs = Vec::with_capacity(part.len() / 2);
    for chunk in keyed.chunk_by(|a, b| a.0 == b.0) {
        let members: Vec<u32> = chunk.iter().map(|(_, index)| *index).collect();
        if members.len() == 1 || tests.pass(&Group::about(points, &members), points, &members) {
            crumbs.push(members);
        } else {
            crumbs.extend(members.into_iter().map(|index| vec![index]));
        }
    }
    crumbs
}

#[allow(clippy::cast_possible_truncation, reason = "the Earth has fewer cells of a metre")]
fn cell(coordinate: f64) -> i32 {
    coordinate.floor() as i32
}

/// For each group those within reach of it.
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
    fn run(&mut self) {
        let count = u32::try_from(self.groups.len()).unwrap_or(u32::MAX);
        let mut stale: Vec<u32> = (0..count).collect();
        while !stale.is_empty() {
            for group in &stale {
                self.best[*group as usize] = self.cheapest(*group);
            }
            let mut next = Vec::new();
            for a in stale {
                let b = self.best[a as usize];
                if b != NOBODY && self.best[b as usize] == a {
                    self.consider(a, b, &mut next);
                }
            }
            for group in &mut next {
                *group = self.into.root(*group);
            }
            next.sort_unstable();
            next.dedup();
            stale = next;
        }
    }

    /// The neighbour with which this group would cost least; ties go to the smaller numbers, so that
    /// somewhere two are always each other's.
    fn cheapest(&mut self, group: u32) -> u32 {
        let mut around = std::mem::take(&mut self.neighbours[group as usize]);
        for other in &mut around {
            *other = self.into.root(*other);
        }
        around.sort_unstable();
        around.dedup();
        around.retain(|other| *other != group);
        let own = &self.groups[group as usize];
        let best = around
            .iter()
            .map(|other| (own.cost(&self.groups[*other as usize]), *other))
            .min_by(|(cost_a, a), (cost_b, b)| {
                cost_a.total_cmp(cost_b).then_with(|| {
                    (group.min(*a), group.max(*a)).cmp(&(group.min(*b), group.max(*b)))
                })
            })
            .map_or(NOBODY, |(_, other)| other);
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

    /// Forgets that `b` is a neighbour of `a`.
    fn part(&mut self, a: u32, b: u32) {
        let mut around = std::mem::take(&mut self.neighbours[a as usize]);
        around.retain(|other| self.into.root(*other) != b);
        self.neighbours[a as usize] = around;
        self.best[a as usize] = NOBODY;
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

    fn merge(&mut self, a: u32, b: u32, union: Group, stale: &mut Vec<u32>) {
        let (keep, gone) = (a.min(b), a.max(b));
        let moved = std::mem::take(&mut self.members[gone as usize]);
        self.members[keep as usize].extend(moved);
        self.into.parent[gone as usize] = keep;
        self.groups[keep as usize] = union;
        self.best[keep as usize] = NOBODY;
        self.best[gone as usize] = NOBODY;
        let mut around = std::mem::take(&mut self.neighbours[gone as usize]);
        around.append(&mut self.neighbours[keep as usize]);
        stale.extend_from_slice(&around);
        stale.push(keep);
        self.neighbours[keep as usize] = around;
    }
}

#[cfg(test)]
#[path = "linkage_tests.rs"]
mod tests;

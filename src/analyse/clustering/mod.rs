//! Clusters finds into places from their positions and 95 % radii. A cluster is a set of positions
//! that repeated readings of one place could produce. Prevents chaining: a cluster cannot be wider
//! than the radii of its members allow. Layer: `analyse`.
//!
//! # Method
//! A position with 95 % radius r of a place of radius g is modelled as normal about the centre of
//! the place, with variance s² = (r² + g²) / 2.4477² on each axis. That n positions are one place
//! is rejected, at the level a, in two ways:
//! - together, when the sum of d²/s² about their weighted mean is beyond the chi-square value for
//!   2(n - 1) degrees of freedom. For two positions this says d² > s1² + s2² times -2 ln a;
//! - singly, when one d²/s² is beyond the chi-square value for two degrees at the level
//!   1 - (1 - a)^(1/n), so that a large group cannot absorb an outlier.
//!
//! Positions are first grouped into connected components. A component that passes both tests is a
//! group. One that does not (a line of finds along a trail, two neighbouring places) is clustered
//! from single positions: the two groups whose union adds least to the sum are merged, as long as
//! the union passes.
//!
//! # References
//! Ward 1963, Hierarchical grouping to optimize an objective function, JASA 58:236 (what is
//! minimised, here weighted by each position's own variance). Šidák 1967, JASA 62:626 (the level
//! for the most distant of n).

mod build;
mod parts;

use rayon::prelude::*;

use super::spatial_index::Ecef;
use super::statistics::normal_quantile;
use crate::units::{LatLon, Metres, Radius95};
use build::build_up;
use parts::connected;

/// A position with its uncertainty.
///
/// The clustering knows nothing else of a find: neither its taxon nor its date.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// Where.
    pub at: LatLon,
    /// Its 95 % radius.
    pub radius: Radius95,
}

/// Options of the clustering.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rule {
    /// The radius of a place itself: finds of one place are this far apart even without measurement
    /// error.
    pub place: Metres,
    /// The probability of splitting readings of one place.
    pub level: f64,
}

impl Default for Rule {
    /// Places of 3 m radius; 1 % of places are wrongly split.
    fn default() -> Self {
        Self { place: Metres(3.0), level: 0.01 }
    }
}

/// The index of the group of each reading, numbered from 0 in the order of the readings.
///
/// # Accuracy
/// See [`super::sites`]: test `sites_three_radii_apart_are_separated`.
///
/// # Examples
/// ```
/// use trug::analyse::clustering::{Reading, Rule, group};
/// use trug::units::{LatLon, Metres, Radius95};
///
/// let reading = |latitude: f64, radius: f64| -> Result<Reading, Box<dyn std::error::Error>> {
///     let radius = Radius95::new(Metres(radius)).ok_or("no radius")?;
///     Ok(Reading { at: LatLon::new(latitude, 146.1)?, radius })
/// };
/// // twenty metres apart: one place for circles of 30 m, two for circles of 4 m
/// let (here, there) = (-42.6, -42.600_18);
/// assert_eq!(group(&[reading(here, 30.0)?, reading(there, 30.0)?], Rule::default()), [0, 0]);
/// assert_eq!(group(&[reading(here, 4.0)?, reading(there, 4.0)?], Rule::default()), [0, 1]);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn group(readings: &[Reading], rule: Rule) -> Vec<u32> {
    let points = Points::of(readings, rule);
    let parts = connected(readings, &points, rule).parts();
    let tests = Tests::new(rule.level);
    // components are independent and can be processed in parallel
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
    spots: Vec<Ecef>,
    variances: Vec<f64>,
}

impl Points {
    fn of(readings: &[Reading], rule: Rule) -> Self {
        let variance = |reading: &Reading| {
            (reading.radius.metres().hypot(rule.place).0 / Radius95::PER_SIGMA).powi(2)
        };
        Self {
            spots: readings.par_iter().map(|reading| Ecef::of(reading.at)).collect(),
            variances: readings.iter().map(variance).collect(),
        }
    }
}

/// The squared number of standard deviations within which two positions count as one place: that of chi-square
/// with two degrees of freedom.
fn reach2(level: f64) -> f64 {
    -2.0 * level.max(1e-300).ln()
}

/// Summary of a group, sufficient for the cost of merging two.
#[derive(Clone, Copy, Debug)]
struct Group {
    /// Variance of the weighted mean: 1 over the sum of 1/s².
    variance: f64,
    /// Weighted mean.
    middle: Ecef,
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
        let (mut weight, mut mean, mut least) = (0.0, Ecef::default(), f64::INFINITY);
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

    /// The increase of the sum when two groups are merged.
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
    /// [`Self::farthest2`] of small groups by size, since each merge needs it.
    farthest2_of_few: Vec<f64>,
}

/// The largest small group.
const FEW: u32 = 128;

impl Tests {
    fn new(level: f64) -> Self {
        let farthest2_of_few = (0..FEW).map(|count| farthest2(level, count)).collect();
        Self { level, beyond: normal_quantile(1.0 - level), farthest2_of_few }
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
        let few = self.farthest2_of_few.get(count as usize).copied();
        few.unwrap_or_else(|| farthest2(self.level, count))
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

/// The quantile of the largest of so many distances, in squared standard deviations.
fn farthest2(level: f64, count: u32) -> f64 {
    let each = -(-level).ln_1p() / f64::from(count);
    reach2(-(-each).exp_m1())
}

#[cfg(test)]
mod tests;

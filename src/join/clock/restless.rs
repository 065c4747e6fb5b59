//! How does this day's receiver wander while its owner stands? By how much a second, how much of it is
//! new at each fix, and by how many seconds a device that smooths its output runs late. Layer: `join`.

use super::super::gait::Gaits;
use super::super::moment::median;
use super::passages::Point;
use super::walk::effective;

/// The wandering of a receiver at rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Restless {
    /// Square metres a second and axis.
    pub(super) spread: f64,
    /// Square metres per axis that are new at each fix.
    pub(super) fresh: f64,
    /// Seconds that the output lags.
    pub(super) lag: f64,
}

/// Lags at which fixes of one stand are compared, seconds.
const SHORT: f64 = 2.0;
const MIDDLE: f64 = 12.0;
const LONG: f64 = 30.0;

impl Restless {
    /// From the stands of a day.
    pub(super) fn of(points: &[Point], gaits: &Gaits) -> Self {
        let ordinary = 0.817 * gaits.restlessness;
        let at = |lag: f64| squares(points, gaits, lag);
        let (short, middle, long) = (at(SHORT), at(MIDDLE), at(LONG));
        let (Some(short), Some(middle)) = (short, middle.or(long)) else {
            return Self { spread: ordinary, fresh: 0.1, lag: 0.0 };
        };
        let slope =
            |a: (f64, f64), b: (f64, f64)| (b.1 - a.1) / (effective(b.0) - effective(a.0)).max(0.5);
        let near = middle.1 / effective(middle.0);
        if middle.0 < short.0 + 1.0 {
            return Self { spread: near, fresh: 0.05, lag: 0.0 };
        }
        let far = long.filter(|l| l.0 > middle.0 + 5.0).map_or(near, |long| slope(middle, long));
        let first = short.1 / effective(short.0);
        if first < 0.7 * far {
            let lag = (0.5 * short.0 * (far / first.max(1e-6) - 1.0)).min(20.0);
            return Self { spread: far, fresh: 0.0, lag };
        }
        let spread = slope(short, middle).max(0.2 * near).min(near);
        let fresh = (0.5 * (short.1 - spread * effective(short.0))).max(0.0);
        Self { spread, fresh, lag: 0.0 }
    }
}

/// The ordinary squared difference per axis of fixes of one stand about so many seconds apart, and
/// how far apart they are. Half of them are as near, so that what was no stand does not count.
fn squares(points: &[Point], gaits: &Gaits, lag: f64) -> Option<(f64, f64)> {
    const FEWEST: usize = 30;
    const MOST: usize = 4_000;
    let standing = |time: f64| gaits.standing(time).is_some_and(|p| p > 0.8);
    let (mut all, mut apart) = (Vec::new(), Vec::new());
    let every = points.len().div_ceil(MOST).max(1);
    let mut to = 0;
    for from in points.iter().step_by(every) {
        while to < points.len() && points[to].0 < from.0 + lag - 0.5 {
            to += 1;
        }
        let Some(end) = points.get(to) else { break };
        let dt = end.0 - from.0;
        let stood = dt <= 2.0 * lag + 15.0
            && standing(from.0)
            && standing(end.0)
            && standing(f64::midpoint(from.0, end.0));
        if stood {
            all.push((end.1 - from.1).powi(2) + (end.2 - from.2).powi(2));
            apart.push(dt);
        }
    }
    if all.len() < FEWEST {
        return None;
    }
    // the middle of an exponential law is ln 2 of its mean; the mean of two axes is half
    let middle = median(&mut all)? / std::f64::consts::LN_2 / 2.0;
    Some((median(&mut apart)?, middle))
}

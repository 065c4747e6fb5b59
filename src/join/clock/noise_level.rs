//! Estimates how a stationary receiver's positions wander: the rate per second, the part that is new at
//! each fix, and the lag of a device that smooths its output. Layer: `join`.

use super::super::activity::Activities;
use super::super::moment::median;
use super::passages::Point;
use super::walk::effective;

/// The wandering of a receiver at rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct NoiseLevel {
    /// Square metres a second and axis.
    pub(super) spread: f64,
    /// Square metres per axis that are new at each fix.
    pub(super) fresh: f64,
    /// Seconds that the output lags.
    pub(super) lag: f64,
}

/// What the ordinary receiver under canopy wanders, square metres a second and axis: 7 m that last two
/// minutes.
const ORDINARY: f64 = 2.0 * 49.0 / 120.0;
/// Neighbouring fixes that differ less than this share of what farther ones make one expect come from
/// a device that smooths its output.
const ALIKE: f64 = 0.7;
/// No device lags longer, seconds.
const LONGEST: f64 = 20.0;
/// Lags at which fixes of one stop are compared, seconds.
const SHORT: f64 = 2.0;
const MIDDLE: f64 = 12.0;
const LONG: f64 = 30.0;

impl NoiseLevel {
    /// From the stops of a day.
    pub(super) fn of(points: &[Point], activities: &Activities) -> Self {
        let seen = Self::seen(points, activities).unwrap_or(Self {
            spread: ORDINARY * activities.noise_level,
            fresh: 0.1,
            lag: 0.0,
        });
        // a device that holds its position at a stop wanders again while walking
        Self { spread: seen.spread.max(0.1 * ORDINARY), fresh: seen.fresh.max(0.01), ..seen }
    }

    fn seen(points: &[Point], activities: &Activities) -> Option<Self> {
        let at = |lag: f64| squares(points, activities, lag);
        let (short, long) = (at(SHORT)?, at(LONG));
        let middle = at(MIDDLE).or(long)?;
        let spread = middle.rate();
        if middle.apart < short.apart + 1.0 {
            return Some(Self { spread, fresh: 0.05, lag: 0.0 });
        }
        let far = long.filter(|long| long.apart > middle.apart + 5.0);
        let far = far.map_or(spread, |long| long.rate_since(&middle));
        if short.rate() < ALIKE * far {
            // the mean delay of a running or an exponential mean is half of what it takes off the
            // rate of neighbouring fixes, in steps
            let steps = 0.5 * (far / short.rate().max(1e-6) - 1.0);
            let lag = (steps * short.apart).min(along(points, activities)).min(LONGEST);
            return Some(Self { spread: far, fresh: 0.0, lag });
        }
        let spread = middle.rate_since(&short).clamp(0.2 * spread, spread);
        let fresh = (0.5 * (short.square - spread * effective(short.apart))).max(0.0);
        Some(Self { spread, fresh, lag: 0.0 })
    }
}

/// The delay of a running mean, seconds, by how often a step within a stop goes on in the direction of
/// the one before it. A receiver that wanders freely turns as often back as on, however unequal its
/// steps; of an exponential mean that keeps the share r, the share (1 + r) / 2 goes on, and it runs
/// r / (1 - r) steps late.
fn along(points: &[Point], activities: &Activities) -> f64 {
    const FEWEST: usize = 30;
    let stationary = |time: f64| activities.stationary(time).is_some_and(|p| p > 0.8);
    let (mut on, mut all, mut seconds) = (0_usize, 0_usize, 0.0);
    for three in points.windows(3) {
        let [from, over, to] = three else { continue };
        let dt = to.0 - from.0;
        if dt > 40.0 || !three.iter().all(|point| stationary(point.0)) {
            continue;
        }
        let product = (over.1 - from.1) * (to.1 - over.1) + (over.2 - from.2) * (to.2 - over.2);
        if product != 0.0 {
            all += 1;
            on += usize::from(product > 0.0);
            seconds += 0.5 * dt;
        }
    }
    if all < FEWEST {
        return 0.0;
    }
    let kept = (2.0 * on as f64 / all as f64 - 1.0).clamp(0.0, 0.95);
    kept / (1.0 - kept) * seconds / all as f64
}

/// How far apart fixes of one stop are.
#[derive(Clone, Copy)]
struct Apart {
    /// In time, seconds.
    apart: f64,
    /// In place, square metres per axis.
    square: f64,
}

impl Apart {
    fn rate(&self) -> f64 {
        self.square / effective(self.apart)
    }

    fn rate_since(&self, nearer: &Self) -> f64 {
        let seconds = effective(self.apart) - effective(nearer.apart);
        (self.square - nearer.square) / seconds.max(0.5)
    }
}

/// The ordinary squared difference per axis of fixes of one stop about so many seconds apart, and
/// how far apart they are. Half of them are as near, so that what was no stop does not count.
fn squares(points: &[Point], activities: &Activities, lag: f64) -> Option<Apart> {
    const FEWEST: usize = 30;
    const MOST: usize = 4_000;
    let stationary = |time: f64| activities.stationary(time).is_some_and(|p| p > 0.8);
    let (mut all, mut apart) = (Vec::new(), Vec::new());
    let every = points.len().div_ceil(MOST).max(1);
    let mut to = 0;
    for from in points.iter().step_by(every) {
        while to < points.len() && points[to].0 < from.0 + lag - 0.5 {
            to += 1;
        }
        let Some(end) = points.get(to) else { break };
        let dt = end.0 - from.0;
        let stopped = dt <= 2.0 * lag + 15.0
            && stationary(from.0)
            && stationary(end.0)
            && stationary(f64::midpoint(from.0, end.0));
        if stopped {
            all.push((end.1 - from.1).powi(2) + (end.2 - from.2).powi(2));
            apart.push(dt);
        }
    }
    if all.len() < FEWEST {
        return None;
    }
    // the middle of an exponential law is ln 2 of its mean; the mean of two axes is half
    let middle = median(&mut all)? / std::f64::consts::LN_2 / 2.0;
    Some(Apart { apart: median(&mut apart)?, square: middle })
}

#[cfg(test)]
mod tests {
    use super::super::super::activity::Course;
    use super::super::super::scatter::Scatter;
    use super::*;

    #[test]
    fn lag_of_a_smoothing_device_is_estimated() {
        // a stop of three hours; the error is a random walk, the device shows means
        let mut scatter = Scatter(12_345);
        let mut kick = || scatter.normal();
        let (mut east, mut north) = (0.0, 0.0);
        let raw: Vec<Point> = (0..10_800_u32)
            .map(|second| {
                east = 0.9917 * east + 0.7 * kick();
                north = 0.9917 * north + 0.7 * kick();
                (f64::from(second), east, north)
            })
            .collect();
        let course = Course::of_seconds(&vec![1.0; 10_800]);
        let activities = Activities { course, noise_level: 1.0, ..Activities::default() };
        let free = NoiseLevel::of(&raw, &activities);
        assert!(free.lag.abs() < 1e-9, "{free:?}");
        assert!((free.spread / 0.49 - 1.0).abs() < 0.3, "{free:?}");
        let mut shown = raw[0];
        let smoothed: Vec<Point> = raw
            .iter()
            .map(|point| {
                let toward = |from: f64, to: f64| from + (to - from) / 7.0;
                shown = (point.0, toward(shown.1, point.1), toward(shown.2, point.2));
                shown
            })
            .collect();
        // an exponential mean over seven seconds is six behind
        let late = NoiseLevel::of(&smoothed, &activities);
        assert!((late.lag - 6.0).abs() < 2.0, "{late:?}");
        // one that jumps occasionally and is quiet between has unequal steps, no lag
        let mut shown = (0.0, 0.0);
        let jumping: Vec<Point> = raw
            .iter()
            .enumerate()
            .map(|(second, point)| {
                let size = if second % 18 == 0 { 3.0 } else { 0.02 };
                shown = (shown.0 + size * kick(), shown.1 + size * kick());
                (point.0, shown.0, shown.1)
            })
            .collect();
        let unequal = NoiseLevel::of(&jumping, &activities);
        assert!(unequal.lag < 0.5, "{unequal:?}");
    }
}

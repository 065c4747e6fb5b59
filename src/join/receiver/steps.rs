//! Measures how far fixes move over half a minute in which the collector was probably stationary: at
//! photographs, and where the activities indicate it. Layer: `join`.

use super::super::activity::Activities;
use super::super::frame::{Frame, Frames};
use super::super::moment::median;

/// Compared fixes are so far apart, seconds.
const APART: f64 = 30.0;
/// And no farther than this.
const FARTHEST: f64 = 95.0;
/// Where no photograph shows a stop, steps at this pace are classified as walking, metres a second, so of a
/// noisy receiver's steps only the shorter ones are seen; learnt from simulated days, a little above
/// the slowest walking speed.
const TAKEN_FOR_GOING: f64 = 0.75;
/// Steps that are enough to learn from.
const ENOUGH: usize = 600;

/// A step between two fixes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Step {
    /// Its squared length, square metres.
    pub(super) length2: f64,
    /// How long it lasts, seconds.
    pub(super) lasts: f64,
    /// Of how many fixes its ends are means.
    pub(super) fixes: f64,
    /// Whether a photograph shows it.
    pub(super) observed_by_photos: bool,
}

impl Step {
    fn between(a: &Frame, b: &Frame, observed_by_photos: bool) -> Self {
        Self {
            length2: (b.east - a.east).powi(2) + (b.north - a.north).powi(2),
            lasts: b.time - a.time,
            fixes: a.count.min(b.count),
            observed_by_photos,
        }
    }

    /// The probability that the collector was stationary throughout.
    pub(super) fn stopped(&self) -> f64 {
        if self.lasts < 45.0 { 0.75 } else { 0.5 }
    }

    /// The density of the step where the receiver moves by this variance per axis.
    ///
    /// # References
    /// Cohen 1991, Truncated and Censored Samples (from memory): a step that would not have been seen had
    /// it been longer has the law of those that are seen.
    pub(super) fn density(&self, variance: f64) -> f64 {
        let normal = |variance: f64| (-0.5 * self.length2 / variance).exp() / variance;
        if !self.observed_by_photos {
            let longest = TAKEN_FOR_GOING * self.lasts;
            let seen = -(-0.5 * longest * longest / variance).exp_m1();
            return normal(variance) / seen.max(1e-6);
        }
        // at a photograph most people are stationary, some move by metres, some arrive or leave meanwhile
        let stopped = self.stopped();
        let moved = |pace: f64| normal(variance + (pace * self.lasts).powi(2));
        let (slow, fast) = if self.lasts < 45.0 { (0.12, 0.5) } else { (0.3, 0.6) };
        stopped * normal(variance) + 0.5 * (1.0 - stopped) * (moved(slow) + moved(fast))
    }
}

/// Steps at photographs, and steps of stops known from fixes only.
pub(super) fn steps(
    frames: &Frames,
    activities: &Activities,
    seen: &[(f64, f64)],
) -> (Vec<Step>, Vec<Step>) {
    let mut observed_by_photos = Vec::new();
    for &(from, to) in seen {
        let middle = f64::midpoint(from, to);
        let parts = ((to - from) / APART).floor().max(1.0);
        let start = middle - 0.5 * parts * APART;
        let mut ends: Vec<&Frame> = Vec::new();
        let mut time = start;
        while time <= start + parts * APART + 1.0 {
            ends.extend(nearest(frames, time).filter(|frame| {
                ends.last().is_none_or(|last| frame.time - last.time >= 0.6 * APART)
            }));
            time += APART;
        }
        let pairs = ends.windows(2).filter(|pair| pair[1].time - pair[0].time <= FARTHEST);
        observed_by_photos.extend(pairs.map(|pair| Step::between(pair[0], pair[1], true)));
    }
    (thin(observed_by_photos), thin(calm(frames, activities)))
}

/// How much the noise level differs from stop to stop: the variance of the logarithm of the size, and
/// of how many stops. By the calmer half of the stops, since a step walked at a photograph makes it
/// only larger.
pub(super) fn unevenness(frames: &Frames, seen: &[(f64, f64)]) -> Option<(f64, f64)> {
    /// Half of the window around a photograph, seconds.
    const HALF: f64 = 20.0;
    /// From the lower quartile to the median of a normal law, in standard deviations.
    const QUARTILE: f64 = 0.6745;
    const FEWEST: usize = 8;
    let mut logs: Vec<(f64, f64)> = seen
        .iter()
        .filter_map(|&(from, to)| energy(frames, f64::midpoint(from, to), HALF))
        .collect();
    if logs.len() < FEWEST {
        return None;
    }
    logs.sort_by(|a, b| a.0.total_cmp(&b.0));
    let gap = logs[logs.len() / 2].0 - logs[logs.len() / 4].0;
    // the logarithm of a mean of so many squares of two-dimensional steps scatters by itself
    let own = logs.iter().map(|(_, steps)| 1.0 / steps).sum::<f64>() / logs.len() as f64;
    let square = ((gap / QUARTILE).powi(2) - own) / 4.0;
    Some((square.max(0.0), logs.len() as f64))
}

/// Variance per axis of what is gone within some ten seconds and so adds to a step of half a minute without
/// lasting: by how much steps over a third of that time are longer than those of an error that lasts `tau`.
/// Zero for devices that smooth their output.
pub(super) fn quick(frames: &Frames, seen: &[(f64, f64)], tau: f64) -> f64 {
    const SHORT: f64 = 12.0;
    const FEWEST: usize = 15;
    /// What the scatter of both medians leaves open of the longer one.
    const OPEN: f64 = 0.15;
    let (mut short, mut long) = (Vec::new(), Vec::new());
    for &(from, to) in seen {
        let middle = f64::midpoint(from, to);
        let step = |from: f64, to: f64| {
            let (a, b) = (nearest(frames, from)?, nearest(frames, to)?);
            let lasts = b.time - a.time;
            ((lasts / (to - from) - 1.0).abs() < 0.3).then(|| Step::between(a, b, true))
        };
        let half = 0.5 * APART;
        short.extend(step(middle - SHORT, middle).map(|step| step.length2));
        short.extend(step(middle, middle + SHORT).map(|step| step.length2));
        long.extend(step(middle - half, middle + half).map(|step| step.length2));
    }
    if long.len() < FEWEST || short.len() < FEWEST {
        return 0.0;
    }
    // the median of a squared length is 2 ln 2 variances
    let variance = |mut squares: Vec<f64>| {
        median(&mut squares).unwrap_or(0.0) / (2.0 * std::f64::consts::LN_2)
    };
    let (short, long) = (variance(short), variance(long));
    let ratio = (1.0 - (-APART / tau).exp()) / (1.0 - (-SHORT / tau).exp());
    ((ratio * short - (1.0 + OPEN) * long) / (2.0 * (ratio - 1.0))).clamp(0.0, 0.45 * long)
}

/// The exponent with which squared steps grow from those between neighbouring frames to those over half a
/// minute, and one standard deviation of it; `None` where that cannot be seen.
pub(super) fn growth(frames: &Frames, seen: &[(f64, f64)]) -> Option<(f64, f64)> {
    const LONGEST: f64 = 13.0;
    const FEWEST: usize = 12;
    let half = 0.5 * APART;
    let (mut short, mut long, mut lags) = (Vec::new(), Vec::new(), Vec::new());
    for &(from, to) in seen {
        let middle = f64::midpoint(from, to);
        let start = frames.all.partition_point(|frame| frame.time < middle - half - 2.0);
        let end = frames.all.partition_point(|frame| frame.time <= middle + half + 2.0);
        let Some(within) = frames.all.get(start..end).filter(|within| within.len() > 3) else {
            continue;
        };
        let steps: Vec<Step> =
            within.windows(2).map(|pair| Step::between(&pair[0], &pair[1], true)).collect();
        let whole = Step::between(&within[0], &within[within.len() - 1], true);
        if steps.iter().any(|step| step.lasts > LONGEST) || whole.lasts < 0.7 * APART {
            continue;
        }
        let count = steps.len() as f64;
        // means of neighbouring fixes differ less than the fixes; from the median of a mean of squares
        // to the mean
        let of_means =
            1.0 - frames.span * (1.0 - whole.fixes.powi(-2)) * count / (3.0 * whole.lasts);
        let mean = steps.iter().map(|step| step.length2).sum::<f64>() / count;
        short.push(mean / of_means / (1.0 - 1.0 / (3.0 * count)));
        long.push(whole.length2 / std::f64::consts::LN_2);
        lags.push(count);
    }
    let stops = long.len();
    if stops < FEWEST {
        return None;
    }
    let ratio = median(&mut lags)?.ln();
    let (short, long) = (median(&mut short)?, median(&mut long)?);
    let exponent = (long.max(1e-4) / short.max(1e-4)).ln() / ratio;
    // the median of so many exponential numbers, and of their means
    let scatter = 1.8 / (stops as f64).sqrt() / ratio;
    Some((exponent, scatter))
}

/// The logarithm of the mean squared step about a time, and of how many steps.
fn energy(frames: &Frames, time: f64, half: f64) -> Option<(f64, f64)> {
    const LONGEST: f64 = 15.0;
    let start = frames.all.partition_point(|frame| frame.time < time - half);
    let end = frames.all.partition_point(|frame| frame.time <= time + half);
    let pairs = frames.all[start..end].windows(2);
    let squares: Vec<f64> = pairs
        .map(|pair| Step::between(&pair[0], &pair[1], true))
        .filter(|step| step.lasts <= LONGEST)
        .map(|step| step.length2 / step.lasts)
        .collect();
    let count = squares.len() as f64;
    let mean = squares.iter().sum::<f64>() / count;
    (squares.len() >= 3 && mean > 0.0).then(|| (mean.ln(), count))
}

/// The frame nearest to a time.
fn nearest(frames: &Frames, time: f64) -> Option<&Frame> {
    let after = frames.all.partition_point(|frame| frame.time < time);
    let around = [after.checked_sub(1).and_then(|k| frames.all.get(k)), frames.all.get(after)];
    around
        .into_iter()
        .flatten()
        .min_by(|a, b| (a.time - time).abs().total_cmp(&(b.time - time).abs()))
        .filter(|frame| (frame.time - time).abs() <= 0.5 * FARTHEST)
}

fn calm(frames: &Frames, activities: &Activities) -> Vec<Step> {
    const PROBABLY: f32 = 0.75;
    let least = APART.max(3.0 * frames.span);
    let mut steps = Vec::new();
    let mut last: Option<&Frame> = None;
    let mut before = f64::NEG_INFINITY;
    for (k, frame) in frames.all.iter().enumerate() {
        let broken = frame.time - before > frames.gap;
        before = frame.time;
        if activities.stop[k] < PROBABLY || broken {
            last = None;
        }
        if activities.stop[k] < PROBABLY {
            continue;
        }
        match last {
            Some(from) if frame.time - from.time < least => {}
            Some(from) => {
                steps.push(Step::between(from, frame, false));
                last = Some(frame);
            }
            None => last = Some(frame),
        }
    }
    steps
}

/// Evenly over the day, until there is enough.
fn thin(steps: Vec<Step>) -> Vec<Step> {
    let every = steps.len().div_ceil(ENOUGH).max(1);
    steps.into_iter().step_by(every).collect()
}

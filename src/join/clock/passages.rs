//! Computes when the collector may have arrived at a stop and left it: for every step between fixes, the
//! likelihood of the whole track with an arrival or a departure in each part of the step. The photograph
//! times then weight them. Layer: `join`.

use super::super::activity::Activities;
use super::super::moment::median;
use super::noise_level::NoiseLevel;
use super::walk::{Odds, SEARCHING, Step};

/// One step between fixes; likelihoods are ratios to that of the whole track however it was walked.
pub(super) struct Passage {
    /// Seconds, since the day's origin.
    pub(super) start: f64,
    /// Seconds.
    pub(super) dt: f64,
    /// Stationary through the step.
    pub(super) stopped: f64,
    /// Nothing is known within: a gap of the receiver.
    pub(super) is_gap: bool,
    /// The probability of searching about at its beginning.
    pub(super) search: f64,
    /// Where its parts begin among all.
    first: usize,
}

/// The steps of a day.
#[derive(Default)]
pub(crate) struct Passages {
    pub(super) steps: Vec<Passage>,
    /// From walking, and from searching.
    came: Vec<(f64, f64)>,
    /// To go on, and to search.
    left: Vec<(f64, f64)>,
}

/// A fix: seconds, metres east, metres north.
pub(crate) type Point = (f64, f64, f64);

impl Passages {
    /// From the fixes of a day whose gaps are longer than `gap` seconds.
    pub(crate) fn of(fixes: &[Point], activities: &Activities, gap: f64) -> Self {
        let noise_level = NoiseLevel::of(fixes, activities);
        let points = intervals(fixes, &noise_level, gap);
        let mut passages = Self::default();
        let pass = passages.forward(&points, gap, &noise_level);
        passages.backward(&points, &pass, &noise_level);
        passages
    }

    /// Forward pass: arrivals.
    fn forward(&mut self, points: &[Interval], gap: f64, noise_level: &NoiseLevel) -> Pass {
        let count = points.len().saturating_sub(1);
        let mut pass =
            Pass { scale: Vec::with_capacity(count), searching: Vec::with_capacity(count) };
        let mut now = Odds::START;
        for pair in points.windows(2) {
            let (start, dt) = (pair[0].mean.0, pair[1].mean.0 - pair[0].mean.0);
            let first = self.came.len();
            pass.searching.push(now.searching());
            let is_gap = dt > gap;
            let mut passage = Passage { start, dt, stopped: 0.0, is_gap, search: 0.0, first };
            if is_gap {
                self.came.push((0.0, 0.0));
                pass.scale.push(1.0);
                now = Odds::START;
            } else {
                let step = between(pair, noise_level);
                let (next, scale) = step.forward(&now).normalised();
                self.came.extend((0..step.parts()).map(|j| {
                    let (gone, searched) = step.came(&now, j);
                    (gone / scale, searched / scale)
                }));
                passage.stopped = step.stationary / scale;
                pass.scale.push(scale);
                now = next;
            }
            self.steps.push(passage);
        }
        pass
    }

    /// Backward pass: departures.
    fn backward(&mut self, points: &[Interval], pass: &Pass, noise_level: &NoiseLevel) {
        self.left = vec![(0.0, 0.0); self.came.len()];
        let mut later = Odds::OPEN;
        for (k, pair) in points.windows(2).enumerate().rev() {
            if self.steps[k].is_gap {
                later = Odds::OPEN;
                continue;
            }
            let (step, scale, range) = (between(pair, noise_level), pass.scale[k], self.range(k));
            for (j, left) in self.left[range].iter_mut().enumerate() {
                let (going, searching) = step.left(&later, j);
                *left = (going / scale, searching / scale);
            }
            later = step.backward(&later).times(1.0 / scale);
            let odds = pass.searching[k].iter().zip(&later.moving);
            self.steps[k].search = odds.map(|(p, l)| f64::from(*p) * l).sum();
        }
    }

    /// The mean probability of searching about, a twentieth at least.
    pub(super) fn searching(&self) -> f64 {
        let observed = self.steps.iter().filter(|step| !step.is_gap);
        let (time, searched) =
            observed.fold((1.0, 0.0), |sum, step| (sum.0 + step.dt, sum.1 + step.dt * step.search));
        f64::max(searched / time, 0.05)
    }

    fn range(&self, k: usize) -> std::ops::Range<usize> {
        let end = self.steps.get(k + 1).map_or(self.came.len(), |next| next.first);
        self.steps[k].first..end
    }

    /// Arriving in each part of a step, and the length of a part in seconds.
    pub(super) fn came(&self, k: usize) -> (&[(f64, f64)], f64) {
        let came = &self.came[self.range(k)];
        (came, self.steps[k].dt / came.len() as f64)
    }

    /// Leaving in each part of a step, per unit of probability of leaving there, and the length of a
    /// part in seconds.
    pub(super) fn left(&self, k: usize) -> (&[(f64, f64)], f64) {
        let left = &self.left[self.range(k)];
        (left, self.steps[k].dt / left.len() as f64)
    }
}

/// What the forward pass leaves for the backward one.
struct Pass {
    /// The likelihood of each step.
    scale: Vec<f64>,
    /// The probabilities of searching at the beginning of each.
    searching: Vec<[f32; SEARCHING]>,
}

/// Fixes close in time, as one.
struct Interval {
    mean: Point,
    fixes: f64,
}

/// The day in intervals long enough that what is new at each fix matters little beside the receiver's
/// wandering: a step uses only two of them.
fn intervals(fixes: &[Point], noise_level: &NoiseLevel, gap: f64) -> Vec<Interval> {
    /// Fixes closer than this say the same, seconds.
    const SHORTEST: f64 = 1.7;
    const LONGEST: f64 = 8.0;
    let interval = usual_interval(fixes);
    let even = (2.0 * noise_level.fresh * interval / noise_level.spread).sqrt();
    let lasts = (2.0 * even).clamp(SHORTEST, LONGEST).max(noise_level.lag);
    let mut intervals: Vec<Interval> = Vec::with_capacity(fixes.len());
    let mut from = f64::NEG_INFINITY;
    let mut last = from;
    for &(time, east, north) in fixes {
        if time - from > lasts || time - last > gap {
            intervals.push(Interval { mean: (0.0, 0.0, 0.0), fixes: 0.0 });
            from = time;
        }
        last = time;
        let Some(interval) = intervals.last_mut() else { continue };
        interval.fixes += 1.0;
        let toward = |mean: f64, value: f64| mean + (value - mean) / interval.fixes;
        interval.mean = (
            toward(interval.mean.0, time - noise_level.lag),
            toward(interval.mean.1, east),
            toward(interval.mean.2, north),
        );
    }
    intervals
}

/// Seconds from one fix to the next, ordinarily.
fn usual_interval(fixes: &[Point]) -> f64 {
    let mut steps: Vec<f64> = fixes.windows(2).map(|pair| pair[1].0 - pair[0].0).collect();
    median(&mut steps).unwrap_or(1.0).max(0.1)
}

fn between(pair: &[Interval], noise_level: &NoiseLevel) -> Step {
    let (a, b) = (&pair[0], &pair[1]);
    let fresh = 0.5 * noise_level.fresh * (1.0 / a.fixes + 1.0 / b.fixes);
    let step = (b.mean.1 - a.mean.1, b.mean.2 - a.mean.2);
    Step::of(b.mean.0 - a.mean.0, step, noise_level.spread, fresh)
}

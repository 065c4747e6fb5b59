//! Defines the offsets that are evaluated: every second within 14 hours of local time, and around any
//! offset beyond that for which there is evidence, for a camera on the wrong date. Layer: `join`.

use rayon::prelude::*;

use super::Evidence;

/// How far a camera on the right date can be off, seconds.
pub(crate) const REACH: f64 = 14.0 * 3_600.0 + 900.0;
/// How far about a wrong date it is looked for, seconds.
const DATE_REACH: f64 = REACH;

/// Offsets from UTC, one second apart.
#[derive(Clone, Debug)]
pub(crate) struct Grid {
    /// The first offset, seconds ahead of UTC.
    pub(super) from: f64,
    /// How many.
    pub(super) count: usize,
}

impl Grid {
    pub(super) fn over(evidence: &Evidence) -> Self {
        Self::about(wrong_date(evidence) + evidence.said.zone)
    }

    /// About an offset that a clock on the right date, or on a date so many days away, would have.
    pub(super) fn about(offset: f64) -> Self {
        let from = (offset - DATE_REACH).round();
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "constant")]
        let count = (2.0 * DATE_REACH) as usize + 1;
        Self { from, count }
    }

    pub(super) fn offset(&self, k: usize) -> f64 {
        self.from + k as f64
    }

    /// Adds a smooth, expensive likelihood: evaluated every ten seconds, interpolated linearly.
    pub(super) fn add_coarsely(&self, log: &mut [f64], likelihood: &dyn Fn(f64) -> f64) {
        const STRIDE: usize = 10;
        let mut k = 0;
        let mut here = likelihood(self.offset(0));
        while k < self.count {
            let next = likelihood(self.offset(k + STRIDE));
            for (j, sum) in log[k..(k + STRIDE).min(self.count)].iter_mut().enumerate() {
                *sum += here + (next - here) * j as f64 / STRIDE as f64;
            }
            here = next;
            k += STRIDE;
        }
    }

    /// Within a minute or two of an offset, the probability of a finer likelihood, determined by the
    /// number of the offset, with the weight that the coarse one gives to the whole and a little of its
    /// shape.
    pub(super) fn refine(
        &self,
        log: &mut [f64],
        other: &[f64],
        about: f64,
        likelihood: &(dyn Fn(usize) -> f64 + Sync),
    ) {
        const REACH: f64 = 90.0;
        /// The weight of the coarse likelihood, for days on which the fine one is overconfident.
        const COARSE: f64 = 0.02;
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
        let place = |offset: f64| (offset - self.from).clamp(0.0, self.count as f64 - 1.0) as usize;
        let (from, to) = (place(about - REACH), place(about + REACH) + 1);
        let fine = filled(to - from, &|k| likelihood(from + k) + other[from + k]);
        let weight = sum_of(&log[from..to]) - sum_of(&fine);
        for (sum, fine) in log[from..to].iter_mut().zip(fine) {
            *sum = sum_of(&[*sum + COARSE.ln(), fine + weight + (1.0 - COARSE).ln()]);
        }
    }
}

/// An expensive log likelihood: evaluated at a few offsets, interpolated where it is negligible,
/// evaluated everywhere else.
fn filled(count: usize, likelihood: &(dyn Fn(usize) -> f64 + Sync)) -> Vec<f64> {
    const STRIDE: usize = 5;
    /// Negligible below the best by more than this.
    const HOPELESS: f64 = 12.0;
    let posts: Vec<usize> = (0..count).step_by(STRIDE).chain([count - 1]).collect();
    let reported: Vec<f64> = posts.par_iter().map(|&k| likelihood(k)).collect();
    let top = reported.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let hope = |post: usize| reported[post].max(reported[post + 1]) > top - HOPELESS;
    (0..count)
        .into_par_iter()
        .map(|k| match (k / STRIDE, k % STRIDE) {
            (post, 0) => reported[post],
            (post, _) if hope(post) => likelihood(k),
            (post, past) => {
                let share = past as f64 / (posts[post + 1] - posts[post]) as f64;
                reported[post] + share * (reported[post + 1] - reported[post])
            }
        })
        .collect()
}

/// The logarithm of the sum of numbers given by theirs.
pub(super) fn sum_of(logs: &[f64]) -> f64 {
    let top = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    top + logs.iter().map(|log| (log - top).exp()).sum::<f64>().ln()
}

/// The difference in whole days, in seconds, of the camera's date from the track's: from GPS times in its
/// photographs say, else nothing unless its photographs lie so far off that no zone explains it.
fn wrong_date(evidence: &Evidence) -> f64 {
    if let Some(offset) = evidence.said.gps.agreed() {
        let ahead = offset - evidence.said.zone;
        return if ahead.abs() > REACH { (ahead / 86_400.0).round() * 86_400.0 } else { 0.0 };
    }
    let (Some(&first), Some(&last)) = (evidence.readings.first(), evidence.readings.last()) else {
        return 0.0;
    };
    let (start, end) = (
        evidence.activities.course.from,
        evidence.activities.course.from + evidence.activities.course.len() as f64,
    );
    if end <= start + 1.0 {
        return 0.0;
    }
    let (first, last) = (first - evidence.said.zone, last - evidence.said.zone);
    if last + REACH > start && first - REACH < end {
        return 0.0;
    }
    let apart = f64::midpoint(first, last) - f64::midpoint(start, end);
    (apart / 86_400.0).round() * 86_400.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn expensive_likelihood_is_evaluated_near_every_peak() {
        // two narrow peaks, one on a post and one between
        let peak = |k: usize, at: f64, wide: f64| -0.5 * ((k as f64 - at) / wide).powi(2);
        let likelihood = |k: usize| sum_of(&[peak(k, 60.0, 4.0), peak(k, 113.4, 3.0) - 2.0]);
        for count in [1, 2, 5, 6, 181, 183] {
            let top = (0..count).map(likelihood).fold(f64::NEG_INFINITY, f64::max);
            for (k, reported) in filled(count, &likelihood).into_iter().enumerate() {
                let known = likelihood(k);
                if known > top - 9.0 {
                    assert_eq!(reported, known, "{k} of {count}");
                }
                assert!(reported <= top, "{k} of {count}: {reported}");
            }
        }
    }
}

//! Computes the probability that notes were written at their times on a track: mostly at stops or right after,
//! rarely beyond the ends of the track. Layer: `join`.

use super::super::activity::Activities;

/// The share of notes at stops or right after (common practice).
const AT_STOPS: f64 = 0.85;
/// The weight of a note beyond the track, as a share of one at any time of it.
const BEYOND: f64 = 0.1;
/// A note no farther than this beyond an end has the weight of one at any time, where the receiver was off while
/// people went on; seconds.
const SOON: f64 = 2_700.0;
/// From the note back to the find, and on, seconds.
const AROUND: (f64, f64) = (40.0, 20.0);

/// The probability of being stationary, summed up to each second, and its mean.
#[derive(Clone, Debug)]
pub(crate) struct Course {
    from: f64,
    sums: Vec<f64>,
    usual: f64,
}

impl Course {
    /// `None` where nothing is known of any second.
    pub(crate) fn of(activities: &Activities) -> Option<Self> {
        let seconds = activities.course.seconds();
        let known = seconds.iter().any(|p| !p.is_nan());
        known.then(|| Self::of_seconds(activities.course.from, &seconds))
    }

    /// Of the probability at each second; not a number where it is unknown.
    pub(crate) fn of_seconds(from: f64, seconds: &[f32]) -> Self {
        let known = seconds.iter().filter(|p| !p.is_nan());
        let (count, sum) =
            known.fold((0_usize, 0.0), |(count, sum), p| (count + 1, sum + f64::from(*p)));
        let usual = (sum / count.max(1) as f64).max(0.02);
        let mut sums = vec![0.0];
        for p in seconds {
            let p = if p.is_nan() { usual } else { f64::from(*p) };
            sums.push(sums[sums.len() - 1] + p);
        }
        Self { from, sums, usual }
    }

    /// The log ratio of a note at this time to one at any time of the track: where the receiver ran until the
    /// end, and where it may have been off for the first or the last part of the outing.
    pub(crate) fn log(&self, time: f64, step: f64) -> (f64, f64) {
        let (from, to) = if step <= 1.0 {
            (time - AROUND.0, time + AROUND.1)
        } else {
            (time - step / 2.0 - AROUND.0, time + step)
        };
        let seconds = self.sums.len() as f64 - 1.0;
        let (first, last) = ((from - self.from).floor(), (to - self.from).floor());
        let (inside, until) = (first.clamp(0.0, seconds), last.clamp(0.0, seconds));
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "in range")]
        let sum = self.sums[until as usize] - self.sums[inside as usize];
        let long = (last - first).max(1.0);
        let within = (until - inside) / long;
        let stopped = AT_STOPS * sum / long / self.usual + (1.0 - AT_STOPS) * within;
        let soon = first > -SOON && last < seconds + SOON;
        let off = if soon { 1.0 } else { BEYOND };
        ((stopped + BEYOND * (1.0 - within)).ln(), (stopped + off * (1.0 - within)).ln())
    }
}

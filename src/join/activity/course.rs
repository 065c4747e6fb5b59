//! Stores the probability of being stationary at any second of an outing, step by step, so that memory is
//! proportional to the number of frames and not to the time that they span: ten fixes in nine years take
//! ten steps. Layer: `join`.

/// A course longer than this is cut: an outing of a month is not searched second by second. Seconds.
const LONGEST: f64 = 40.0 * 86_400.0;

/// Probability of being stationary, second by second.
#[derive(Clone, Debug, Default)]
pub(crate) struct Course {
    /// The first second, since the day's origin.
    pub(crate) from: f64,
    count: usize,
    /// In order of time; none for a gap.
    steps: Vec<Step>,
    /// For each part of each step the probabilities of leaving and of arriving at a stop in it.
    parts: Vec<(f32, f32)>,
}

/// A step between two frames; seconds since `from`.
#[derive(Clone, Copy, Debug)]
struct Step {
    start: f64,
    end: f64,
    /// The probability of being stationary throughout.
    stopped: f32,
    /// Its parts.
    first: u32,
    last: u32,
}

impl Course {
    /// A course between two times, seconds since the day's origin, with nothing known of it.
    pub(super) fn blank(first: f64, last: f64) -> Self {
        let from = first.floor();
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
        let count = (last - from).clamp(0.0, LONGEST) as usize + 1;
        Self { from, count, ..Self::default() }
    }

    /// Adds the step before the one that was added last; times are seconds since the day's origin.
    pub(super) fn add_before(&mut self, (start, end): (f64, f64), stopped: f64, parts: Parts) {
        let (start, end) = (start - self.from, end - self.from);
        let index = |count: usize| u32::try_from(count).unwrap_or(u32::MAX);
        if start > self.count as f64 || index(self.parts.len()) == u32::MAX {
            return;
        }
        let first = index(self.parts.len());
        #[allow(clippy::cast_possible_truncation, reason = "probabilities")]
        let narrow = |(left, came): (&f64, &f64)| (*left as f32, *came as f32);
        self.parts.extend(parts.left.iter().zip(parts.came).map(narrow));
        #[allow(clippy::cast_possible_truncation, reason = "a probability")]
        let stopped = stopped as f32;
        self.steps.push(Step { start, end, stopped, first, last: index(self.parts.len()) });
    }

    /// To be called when all steps are added, last step first.
    pub(super) fn in_order(&mut self) {
        self.steps.reverse();
    }

    /// How many seconds it covers.
    pub(crate) fn len(&self) -> usize {
        self.count
    }

    /// The probability of being stationary at a time; `None` outside the track and in its gaps.
    pub(crate) fn stationary(&self, time: f64) -> Option<f64> {
        let second = (time - self.from).floor();
        if second < 0.0 || second >= self.count as f64 {
            return None;
        }
        let after = self.steps.partition_point(|step| step.start.round() <= second);
        let step = self.steps.get(after.checked_sub(1)?)?;
        (second < step.end.round()).then(|| f64::from(self.at(step, second)))
    }

    /// Every second; not a number where a gap leaves it open.
    pub(crate) fn seconds(&self) -> Vec<f32> {
        let mut seconds = vec![f32::NAN; self.count];
        for step in &self.steps {
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "positive")]
            let (first, end) = (step.start.round() as usize, step.end.round() as usize);
            let known = seconds.get_mut(first..end.min(self.count)).unwrap_or_default();
            for (second, value) in (first..).zip(known) {
                *value = self.at(step, second as f64);
            }
        }
        seconds
    }

    /// The course with the largest probability within so many seconds on either side of each. A second
    /// of which nothing is known stays unknown.
    pub(crate) fn widened(&self, about: usize) -> Self {
        let seconds = self.seconds();
        let most = |second: usize| {
            let near = second.saturating_sub(about)..(second + about + 1).min(seconds.len());
            seconds[near].iter().copied().fold(0.0, f32::max)
        };
        let known = (0..seconds.len()).filter(|&second| !seconds[second].is_nan());
        self.with(known.map(|second| (second, most(second))))
    }

    /// The course of a made-up walk with the same stops: so many seconds later, what is beyond the end at the
    /// beginning; and from the end to the beginning, if reversed.
    pub(crate) fn made_up(&self, later: usize, reversed: bool) -> Self {
        let mut seconds = self.seconds();
        if reversed {
            seconds.reverse();
        }
        let by = later % seconds.len().max(1);
        seconds.rotate_right(by);
        let known = seconds.into_iter().enumerate().filter(|(_, p)| !p.is_nan());
        self.with(known)
    }

    /// With these probabilities at seconds after its beginning.
    fn with(&self, seconds: impl Iterator<Item = (usize, f32)>) -> Self {
        let step = |(second, stopped): (usize, f32)| {
            let start = second as f64;
            Step { start, end: start + 1.0, stopped, first: 0, last: 0 }
        };
        Self {
            steps: seconds.map(step).collect(),
            from: self.from,
            count: self.count,
            ..Self::default()
        }
    }

    #[allow(clippy::cast_possible_truncation, reason = "a probability")]
    fn at(&self, step: &Step, second: f64) -> f32 {
        let parts = self.parts.get(step.first as usize..step.last as usize).unwrap_or_default();
        let passed = ((second + 0.5 - step.start) / (step.end - step.start)).clamp(0.0, 1.0);
        let share = passed * parts.len() as f64;
        let changed = parts.iter().enumerate().map(|(part, &(left, came))| {
            // within its own part a change is as likely earlier as later
            let passed = (share - part as f64).clamp(0.0, 1.0);
            f64::from(left) * (1.0 - passed) + f64::from(came) * passed
        });
        (f64::from(step.stopped) + changed.sum::<f64>()).clamp(0.0, 1.0) as f32
    }
}

/// The probabilities of a change in each part of a step.
#[derive(Clone, Copy)]
pub(super) struct Parts<'a> {
    /// Of leaving a stop.
    pub(super) left: &'a [f64],
    /// Of arriving at a stop.
    pub(super) came: &'a [f64],
}

#[cfg(test)]
impl Course {
    /// The course with these probabilities from the day's origin on.
    pub(crate) fn of_seconds(seconds: &[f32]) -> Self {
        let mut course = Self { count: seconds.len(), ..Self::default() };
        for (second, stopped) in seconds.iter().enumerate().rev() {
            let start = second as f64;
            let none = Parts { left: &[], came: &[] };
            course.add_before((start, start + 1.0), f64::from(*stopped), none);
        }
        course.in_order();
        course
    }

    /// Bytes that it takes.
    fn bytes(&self) -> usize {
        self.steps.capacity() * size_of::<Step>() + self.parts.capacity() * size_of::<(f32, f32)>()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_seconds_equal_single_queries() {
        let mut course = Course::blank(10.4, 61.0);
        let none = Parts { left: &[], came: &[] };
        course.add_before((40.2, 61.0), 0.0, Parts { left: &[0.5, 0.25], came: &[0.0, 0.25] });
        course.add_before((10.4, 20.6), 0.9, none);
        course.in_order();
        let seconds = course.seconds();
        assert_eq!((course.from, seconds.len()), (10.0, 52));
        for (second, value) in seconds.iter().enumerate() {
            let asked = course.stationary(10.0 + second as f64);
            assert_eq!(asked, (!value.is_nan()).then_some(f64::from(*value)), "{second}");
        }
        assert_eq!(course.stationary(30.0), None);
        assert!(course.stationary(41.0).unwrap() > course.stationary(59.0).unwrap());
        assert_eq!(course.stationary(9.9), None);
        assert_eq!(course.stationary(62.0), None);
    }

    #[test]
    fn a_made_up_walk_has_the_same_stops_in_another_order() {
        let course = Course::of_seconds(&[0.1, 0.2, 0.3, 0.4, 0.5]);
        assert_eq!(course.made_up(0, false).seconds(), course.seconds());
        assert_eq!(course.made_up(2, false).seconds(), [0.4, 0.5, 0.1, 0.2, 0.3]);
        assert_eq!(course.made_up(1, true).seconds(), [0.1, 0.5, 0.4, 0.3, 0.2]);
        assert_eq!(course.made_up(6, true).seconds(), course.made_up(1, true).seconds());
    }

    #[test]
    fn memory_depends_on_steps_not_duration() {
        let bytes = |dt: f64| {
            let mut course = Course::blank(0.0, 100.0 * dt);
            for k in (0..100_u32).rev().map(f64::from) {
                course.add_before((k * dt, (k + 1.0) * dt), 0.5, Parts { left: &[], came: &[] });
            }
            course.in_order();
            course.bytes()
        };
        assert!(bytes(365.25 * 86_400.0) <= bytes(3.0));
        assert!(bytes(3.0) < 100_000);
    }
}

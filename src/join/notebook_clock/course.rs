//! Computes the probability that notes were written at their times on a track: mostly at stops or right after, by
//! some people on the way to the next, by a few at any time; rarely beyond the ends of the track. Layer: `join`.

use super::super::activity::Activities;
use super::sum_of_logs;

/// The share of people who write at stops or right after, who write on the way, and who write at any time
/// (assumption); and the share of their notes that is written so (common practice).
const HABITS: [(Habit, f64); 3] =
    [(Habit::AtStops, 0.85), (Habit::OnTheWay, 0.1), (Habit::AnyTime, 0.05)];
const BY_HABIT: f64 = 0.85;
/// The share of outings of which the receiver was off for the first or the last part (common practice).
const RECEIVER_OFF: f64 = 0.1;
/// The weight of a note beyond the track, as a share of one at any time of it.
const BEYOND: f64 = 0.1;
/// A note no farther than this beyond an end has the weight of one at any time, where the receiver was off while
/// people went on; seconds.
const SOON: f64 = 2_700.0;
/// From the note back to the find, and on, seconds.
const AROUND: (f64, f64) = (40.0, 20.0);

/// When somebody writes.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Habit {
    AtStops,
    OnTheWay,
    AnyTime,
}

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

    /// The log ratio of the probability of notes (time, step of the written figures) by a watch that is so far
    /// ahead to that of notes at any time of the track; over the habits of people, and over whether the receiver
    /// ran until the end.
    pub(crate) fn log(&self, notes: &[(f64, f64)], ahead: f64) -> f64 {
        let of = |(habit, share): (Habit, f64)| share.ln() + self.log_of(habit, notes, ahead);
        HABITS.into_iter().map(of).fold(f64::NEG_INFINITY, sum_of_logs)
    }

    /// The same for people of one habit.
    pub(crate) fn log_of(&self, habit: Habit, notes: &[(f64, f64)], ahead: f64) -> f64 {
        let ratios =
            notes.iter().map(|note| self.ratios(habit, &self.place(note.0 - ahead, note.1)));
        let (ran, off) = ratios.fold((0.0, 0.0), |a, b| (a.0 + b.0.ln(), a.1 + b.1.ln()));
        sum_of_logs((1.0 - RECEIVER_OFF).ln() + ran, RECEIVER_OFF.ln() + off)
    }

    fn place(&self, time: f64, step: f64) -> Place {
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
        let soon = first > -SOON && last < seconds + SOON;
        Place { stopped: sum / long, within: (until - inside) / long, soon }
    }

    /// The ratio for one note, where the receiver ran until the end, and where it may have been off for the first
    /// or the last part of the outing.
    fn ratios(&self, habit: Habit, place: &Place) -> (f64, f64) {
        let by_habit = match habit {
            Habit::AtStops => place.stopped / self.usual,
            Habit::OnTheWay => (place.within - place.stopped) / (1.0 - self.usual).max(0.02),
            Habit::AnyTime => place.within,
        };
        let on_track = BY_HABIT * by_habit + (1.0 - BY_HABIT) * place.within;
        let off = if place.soon { 1.0 } else { BEYOND };
        let beyond = 1.0 - place.within;
        (on_track + BEYOND * beyond, on_track + off * beyond)
    }
}

/// What the track shows of the time about a note: the share of it at stops, the share within the track, and
/// whether it lies no farther than [`SOON`] beyond an end.
struct Place {
    stopped: f64,
    within: f64,
    soon: bool,
}

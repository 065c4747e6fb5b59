//! Scores the estimates of a day against its truth and against simpler methods.

use trug::join::{Options, join};
use trug::model::{Activity, ClockMethod, Day, Verdict};
use trug::units::Seconds;

use super::condition::Condition;
use super::day::{SimulatedDay, simulate};

/// The scores of many days of one condition.
#[derive(Default)]
pub(crate) struct Score {
    /// Metres from the truth, and the stated radius.
    pub(crate) finds: Vec<(f64, f64)>,
    /// Straight between the raw fixes at the known times.
    pub(crate) raw: Vec<f64>,
    /// Median of the raw fixes within 30 s of the photographs, times known.
    pub(crate) window: Vec<f64>,
    /// Mean of the unspoilt fixes over the true stand.
    pub(crate) oracle: Vec<f64>,
    /// Error of the camera's offset, seconds, and whether its interval held; none where declined.
    pub(crate) clocks: Vec<Option<(f64, bool)>>,
    /// Of the finds those whose photographs fall into a gap of the receiver.
    pub(crate) in_gaps: Vec<(f64, f64)>,
    pub(crate) cleaning: Cleaning,
    pub(crate) searching: Searching,
    pub(crate) days: usize,
    pub(crate) unlocated: usize,
    pub(crate) conflicts: usize,
}

/// What cleaning did to fixes.
#[derive(Clone, Copy, Default)]
pub(crate) struct Cleaning {
    /// Good fixes, and those of them that were set aside.
    pub(crate) good: usize,
    pub(crate) lost: usize,
    /// Fixes that jumped, and those of them that were kept.
    pub(crate) spoilt: usize,
    pub(crate) missed: usize,
}

/// Seconds of searching, and of walking through.
#[derive(Clone, Copy, Default)]
pub(crate) struct Searching {
    /// True searching between stops, and how much of it is reported as walking through.
    pub(crate) searched: f64,
    pub(crate) reported_walk: f64,
    /// True walking, and how much of it is reported as searching.
    pub(crate) walked: f64,
    pub(crate) reported_search: f64,
}

pub(crate) fn quantile(values: &[f64], share: f64) -> f64 {
    if values.is_empty() {
        return f64::NAN;
    }
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted[((share * sorted.len() as f64) as usize).min(sorted.len() - 1)]
}

impl Score {
    pub(crate) fn of(condition: &Condition, seeds: std::ops::Range<u64>) -> Self {
        let mut score = Self::default();
        for seed in seeds {
            score.add(condition.ahead, &simulate(condition, seed));
        }
        score
    }

    /// Adds a day whose camera is so far ahead of the local time.
    pub(crate) fn add(&mut self, camera_ahead: f64, day: &SimulatedDay) {
        self.days += 1;
        let joined = join(day.intake.clone(), &Options::default());
        assert_eq!(joined.len(), 1, "one outing");
        let joined = &joined[0];
        self.conflicts += joined.conflicts.len();
        self.cleaning.add(day, joined);
        self.searching.add(day, joined);
        for find in &joined.finds {
            let number = &find.record.number.as_ref().unwrap().0;
            let truth = day.finds.iter().find(|truth| truth.number == *number).unwrap();
            match &find.place {
                Ok(located) => {
                    let (east, north) = day.plane.to_plane(located.at);
                    let error = (east - truth.east).hypot(north - truth.north);
                    let radius = located.radius.metres().0;
                    self.finds.push((error, radius));
                    let in_gap = |gap: &(f64, f64)| (gap.0..gap.1).contains(&truth.shots[0]);
                    if day.gaps.iter().any(in_gap) {
                        self.in_gaps.push((error, radius));
                    }
                }
                Err(_) => self.unlocated += 1,
            }
            let error = |place: Option<(f64, f64)>| {
                place.map(|(east, north)| (east - truth.east).hypot(north - truth.north))
            };
            let middle = truth.shots.iter().sum::<f64>() / truth.shots.len() as f64;
            self.raw.extend(error(interpolated(day, middle)));
            self.window.extend(error(window_median(day, &truth.shots)));
            self.oracle.extend(error(stop_mean(day, truth.stop)));
        }
        let clock = &joined.cameras[0];
        let reported = (clock.method != ClockMethod::Declined).then(|| {
            let ahead = clock.ahead.unwrap().0;
            let (low, high) = clock.interval95.unwrap();
            (ahead - camera_ahead, low.0 <= camera_ahead && camera_ahead <= high.0)
        });
        self.clocks.push(reported);
    }

    /// Adds another score to this one.
    pub(crate) fn take(&mut self, other: Self) {
        self.finds.extend(other.finds);
        self.raw.extend(other.raw);
        self.window.extend(other.window);
        self.clocks.extend(other.clocks);
        self.in_gaps.extend(other.in_gaps);
        self.cleaning.take(other.cleaning);
        self.searching.take(other.searching);
        self.days += other.days;
        self.unlocated += other.unlocated;
    }

    pub(crate) fn covered(&self) -> f64 {
        let held = self.finds.iter().filter(|find| find.0 <= find.1).count();
        held as f64 / self.finds.len() as f64
    }

    pub(crate) fn errors(&self) -> Vec<f64> {
        self.finds.iter().map(|find| find.0).collect()
    }

    pub(crate) fn radii(&self) -> Vec<f64> {
        self.finds.iter().map(|find| find.1).collect()
    }
}

impl Cleaning {
    fn add(&mut self, day: &SimulatedDay, joined: &Day) {
        for (fix, spoilt) in joined.fixes.iter().zip(&day.spoilt) {
            let kept = fix.verdict == Verdict::Kept;
            if *spoilt {
                self.spoilt += 1;
                self.missed += usize::from(kept);
            } else {
                self.good += 1;
                self.lost += usize::from(!kept);
            }
        }
    }

    fn take(&mut self, other: Self) {
        self.good += other.good;
        self.lost += other.lost;
        self.spoilt += other.spoilt;
        self.missed += other.missed;
    }
}

impl Searching {
    fn add(&mut self, day: &SimulatedDay, joined: &Day) {
        for pair in joined.track.windows(2).filter(|pair| !pair[0].gap_after) {
            let start = Seconds::between(day.start, pair[0].time).0;
            let lasts = Seconds::between(pair[0].time, pair[1].time).0;
            let middle = start + 0.5 * lasts;
            let stopped =
                |stop: &super::walker::TrueStand| (stop.start..stop.end).contains(&middle);
            if day.way.stops.iter().any(stopped) {
                continue;
            }
            if day.way.searched[middle as usize] {
                self.searched += lasts;
                self.reported_walk +=
                    if pair[0].activity == Activity::Walking { lasts } else { 0.0 };
            } else {
                self.walked += lasts;
                self.reported_search +=
                    if pair[0].activity == Activity::Searching { lasts } else { 0.0 };
            }
        }
    }

    fn take(&mut self, other: Self) {
        self.searched += other.searched;
        self.reported_walk += other.reported_walk;
        self.walked += other.walked;
        self.reported_search += other.reported_search;
    }
}

pub(crate) fn interpolated(day: &SimulatedDay, time: f64) -> Option<(f64, f64)> {
    let after = day.fixes.partition_point(|fix| fix.0 <= time);
    let (a, b) = (day.fixes.get(after.checked_sub(1)?)?, day.fixes.get(after)?);
    let share = (time - a.0) / (b.0 - a.0);
    Some((a.1 + share * (b.1 - a.1), a.2 + share * (b.2 - a.2)))
}

pub(crate) fn window_median(day: &SimulatedDay, shots: &[f64]) -> Option<(f64, f64)> {
    let near = |time: f64| shots.iter().any(|shot| (shot - time).abs() <= 30.0);
    let fixes: Vec<_> = day.fixes.iter().filter(|fix| near(fix.0)).collect();
    if fixes.is_empty() {
        return interpolated(day, shots[0]);
    }
    let east: Vec<f64> = fixes.iter().map(|fix| fix.1).collect();
    let north: Vec<f64> = fixes.iter().map(|fix| fix.2).collect();
    Some((quantile(&east, 0.5), quantile(&north, 0.5)))
}

/// Only an oracle knows the stop; of its fixes those near their median.
pub(crate) fn stop_mean(day: &SimulatedDay, stop: (f64, f64)) -> Option<(f64, f64)> {
    let fixes: Vec<_> = day.fixes.iter().filter(|fix| (stop.0..=stop.1).contains(&fix.0)).collect();
    let part =
        |of: fn(&&super::receiver::Recorded) -> f64| -> Vec<f64> { fixes.iter().map(of).collect() };
    let middle = (quantile(&part(|f| f.1), 0.5), quantile(&part(|f| f.2), 0.5));
    let good: Vec<_> =
        fixes.iter().filter(|fix| (fix.1 - middle.0).hypot(fix.2 - middle.1) < 40.0).collect();
    let count = good.len() as f64;
    (count > 0.0).then(|| {
        (
            good.iter().map(|f| f.1).sum::<f64>() / count,
            good.iter().map(|f| f.2).sum::<f64>() / count,
        )
    })
}

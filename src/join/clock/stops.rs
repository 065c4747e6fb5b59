//! Computes the likelihood of each clock offset from photographs in stops: for each group of photographs
//! taken close together, the probability that the collector was stationary through all of them, relative to
//! a similar group at any time of the day. Photographs of one stop count as one observation. This
//! determines the offset to a minute; `photographs` refines it to seconds. Layer: `join`.

use super::super::activity::Activities;
use super::grid::Grid;

/// Photographs nearer to each other than this were taken from one stop, seconds.
const ONE_STOP: f64 = 45.0;
/// The longest group, seconds.
const LONGEST_GROUP: f64 = 300.0;
/// The share of groups that are not of one stop: taken while walking, or from two stops.
const ON_THE_WAY: f64 = 0.12;
/// Outside the track a photograph is so much rarer than at any time of it: the receiver may have been
/// off.
pub(super) const OFF_THE_TRACK: f64 = 0.03;
/// Places at which the mean over a course is taken, at most: each five seconds of a day.
const MOST_PLACES: usize = 86_400 / 5;
/// Ratios of so many groups are multiplied before a logarithm is taken.
const TOGETHER: usize = 64;

/// The log likelihood at each offset, and how many groups there were. Beyond the track a photograph is so
/// much rarer than at any time of it.
pub(super) fn over(
    grid: &Grid,
    readings: &[f64],
    activities: &Activities,
    beyond: f64,
) -> (Vec<f64>, usize) {
    let mut log = vec![0.0; grid.count];
    let groups = groups(readings);
    let Some(course) = Day::of(activities) else { return (log, groups.len()) };
    let mut through = vec![0.0_f32; grid.count];
    let mut product = vec![1.0_f64; grid.count];
    for some in groups.chunks(TOGETHER) {
        for group in some {
            let usual = course.usual(group);
            course.update(grid, group, beyond * usual, &mut through);
            for (product, stopped) in product.iter_mut().zip(&through) {
                *product *= (1.0 - ON_THE_WAY) * f64::from(*stopped) / usual + ON_THE_WAY * 0.5;
            }
        }
        for (sum, product) in log.iter_mut().zip(&mut product) {
            *sum += product.ln();
            *product = 1.0;
        }
    }
    (log, groups.len())
}

/// Readings as groups taken from one stop.
pub(crate) fn groups(readings: &[f64]) -> Vec<Vec<f64>> {
    let mut groups: Vec<Vec<f64>> = Vec::new();
    for &reading in readings {
        match groups.last_mut() {
            Some(group)
                if reading - group[group.len() - 1] < ONE_STOP
                    && reading - group[0] < LONGEST_GROUP =>
            {
                group.push(reading);
            }
            _ => groups.push(vec![reading]),
        }
    }
    groups
}

/// The probability of being stationary, second by second; the usual one where a gap leaves it open.
struct Day {
    from: f64,
    stationary: Vec<f32>,
}

impl Day {
    fn of(activities: &Activities) -> Option<Self> {
        let mut stationary = activities.course.seconds();
        let known = stationary.iter().filter(|p| !p.is_nan());
        let (count, sum) =
            known.fold((0_usize, 0.0), |(count, sum), p| (count + 1, sum + f64::from(*p)));
        if count == 0 {
            return None;
        }
        #[allow(clippy::cast_possible_truncation, reason = "a probability")]
        let usual = (sum / count as f64) as f32;
        for p in stationary.iter_mut().filter(|p| p.is_nan()) {
            *p = usual;
        }
        Some(Self { from: activities.course.from, stationary })
    }

    /// At each offset of the grid, the probability that the collector was stationary at every photograph of the
    /// group.
    fn update(&self, grid: &Grid, group: &[f64], beyond: f64, through: &mut [f32]) {
        #[allow(clippy::cast_possible_truncation, reason = "a probability")]
        let off_the_track = beyond as f32;
        through.fill(1.0);
        for reading in representatives(group) {
            // the second at the first offset; each next offset is a second earlier
            let latest = (reading - grid.from - self.from).floor();
            let (first, end, top) = overlap(latest, self.stationary.len(), through.len());
            let (before, rest) = through.split_at_mut(first);
            let (on_track, after) = rest.split_at_mut(end - first);
            for p in before.iter_mut().chain(after) {
                *p = p.min(off_the_track);
            }
            let from = (top + 1).saturating_sub(end - first);
            let stationary = self.stationary.get(from..).unwrap_or_default();
            for (p, stopped) in on_track.iter_mut().rev().zip(stationary) {
                *p = p.min(*stopped);
            }
        }
    }

    /// The mean over the day of the log likelihood of such a group.
    fn usual(&self, group: &[f64]) -> f64 {
        let representatives = representatives(group);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "up to 300 s")]
        let after: Vec<usize> = representatives
            .iter()
            .map(|reading| (reading - representatives[0]).max(0.0) as usize)
            .collect();
        let span = after[after.len() - 1];
        let (mut sum, mut count) = (0.0, 0.0);
        let mut k = 0;
        // each five seconds of a day, as many places of an outing of weeks
        let step = self.stationary.len().div_ceil(MOST_PLACES).max(5);
        while k + span < self.stationary.len() {
            sum += f64::from(after.iter().map(|d| self.stationary[k + d]).fold(1.0, f32::min));
            count += 1.0;
            k += step;
        }
        if count == 0.0 { 0.2 } else { (sum / count).max(0.01) }
    }
}

/// The first, the last and some between say what all of a large group say.
fn representatives(group: &[f64]) -> Vec<f64> {
    const MOST: usize = 8;
    let count = group.len().min(MOST);
    (0..count).map(|n| group[n * (group.len() - 1) / (count - 1).max(1)]).collect()
}

/// Which of `count` offsets fall on the track of so many seconds when the first of them falls on
/// second `latest`: from, to (excluded), and the second of the first.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held in range")]
fn overlap(latest: f64, seconds: usize, count: usize) -> (usize, usize, usize) {
    let first = (latest - (seconds as f64 - 1.0)).clamp(0.0, count as f64) as usize;
    let end = (latest + 1.0).clamp(first as f64, count as f64) as usize;
    (first, end, (latest - first as f64).max(0.0) as usize)
}

#[cfg(test)]
mod tests {
    use super::super::super::activity::Course;
    use super::*;

    #[test]
    fn photographs_far_from_the_track_do_not_affect_others() {
        let seconds: Vec<f32> =
            (0..3_600).map(|k| if k / 300 % 2 == 0 { 0.02 } else { 0.97 }).collect();
        let course = Course::of_seconds(&seconds);
        let activities = Activities { course, noise_level: 1.0, ..Activities::default() };
        let grid = Grid { from: -7_200.0, count: 14_401 };
        let near = over(&grid, &[450.0, 1_050.0, 1_650.0], &activities, OFF_THE_TRACK).0;
        let best = (0..near.len()).max_by(|&a, &b| near[a].total_cmp(&near[b])).unwrap();
        assert!((grid.offset(best) % 600.0).abs() <= 150.0, "{}", grid.offset(best));
        for away in [-9e5, -86_400.0, -7_300.0, 10_900.0, 86_400.0, 9e5] {
            let (log, groups) =
                over(&grid, &[away, away + 20.0, away + 400.0], &activities, OFF_THE_TRACK);
            assert_eq!(groups, 2);
            assert!(log.iter().all(|log| log.is_finite()), "{away}");
        }
    }
}

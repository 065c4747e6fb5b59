//! Computes the likelihood of a clock offset from GPS times in photographs. Such a time is UTC and never
//! later than the exposure; it may be older, by seconds or minutes, where the receiver was slow. So all of
//! them lie on one side of the true offset, and the most recent determines it best. Layer: `join`.

use super::grid::Grid;

/// The GPS times of one camera.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct GpsTimes {
    /// For each position that the receiver found, how far the reading of the first photograph that carries
    /// it is ahead of its time, seconds, in order.
    ahead: Vec<f64>,
    /// How many photographs carry one.
    pub(crate) count: usize,
}

/// How old positions are, with the share of cameras: scales of a law with the tail of Pareto's, seconds.
/// Common practice: a body with a built-in receiver writes the last second, one that sleeps between
/// photographs writes what it had.
const AGES: [(f64, f64); 4] = [(1.5, 0.4), (8.0, 0.3), (50.0, 0.2), (300.0, 0.1)];
/// How far a time may seem to lie behind the shutter, seconds: both are truncated to whole seconds.
const EARLY: f64 = 0.7;
/// The share of single times that have nothing to do with the photograph.
const STRAY: f64 = 0.02;
/// The share of cameras whose GPS times are all wrong alike, say local time instead of UTC.
const ALL_WRONG: f64 = 0.005;
/// More than so many positions are thinned out: neighbours share the receiver's state.
const ENOUGH: usize = 12;

impl GpsTimes {
    /// From readings and GPS times in seconds. Photographs with one GPS time carry one position.
    pub(crate) fn of(mut pairs: Vec<(f64, f64)>) -> Self {
        let count = pairs.len();
        pairs.sort_by(|a, b| a.1.total_cmp(&b.1).then(a.0.total_cmp(&b.0)));
        pairs.dedup_by(|later, first| later.1.total_cmp(&first.1).is_eq());
        let mut ahead: Vec<f64> = pairs.into_iter().map(|(reading, time)| reading - time).collect();
        ahead.sort_by(f64::total_cmp);
        Self { ahead, count }
    }

    /// The offset that they name: the freshest of them that is no stray.
    pub(crate) fn offset(&self) -> Option<f64> {
        let middle = self.ahead.get(self.ahead.len() / 2)?;
        self.ahead.iter().copied().find(|offset| middle - offset < OLDEST)
    }

    /// The offset that they name where most of the positions name it within an hour, so that it determines
    /// the camera's date.
    pub(super) fn agreed(&self) -> Option<f64> {
        let offset = self.offset()?;
        let near = self.ahead.iter().filter(|ahead| (**ahead - offset).abs() < 3_600.0).count();
        (2 * near > self.ahead.len()).then_some(offset)
    }

    /// Whether an offset may be theirs: none but strays would be later than its photograph, and half of
    /// the positions would be no more than some minutes old.
    pub(crate) fn allow(&self, offset: f64) -> bool {
        let later = self.ahead.iter().filter(|ahead| **ahead < offset - FAIR).count();
        let old = self.ahead.iter().filter(|ahead| **ahead > offset + OLD).count();
        4 * later <= self.ahead.len() && 2 * old <= self.ahead.len()
    }

    pub(super) fn add_to(&self, grid: &Grid, log: &mut [f64]) {
        if self.ahead.is_empty() {
            return;
        }
        let reported: Vec<f64> = (0..grid.count).map(|k| self.at(grid, grid.offset(k))).collect();
        let top = reported.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let mean = reported.iter().map(|one| (one - top).exp()).sum::<f64>() / grid.count as f64;
        for (sum, one) in log.iter_mut().zip(&reported) {
            *sum += ((1.0 - ALL_WRONG) * (one - top).exp() + ALL_WRONG * mean).ln();
        }
    }

    /// Their log likelihood at an offset, over how old this camera's positions usually are.
    fn at(&self, grid: &Grid, offset: f64) -> f64 {
        let every = self.ahead.len().div_ceil(ENOUGH);
        let nearest = self.ahead.iter().step_by(every);
        let flat = STRAY / grid.count as f64;
        let of_age = |(scale, share): (f64, f64)| {
            let one =
                |ahead: &f64| ((1.0 - STRAY) * age_density(ahead - offset, scale) + flat).ln();
            share.ln() + nearest.clone().map(one).sum::<f64>()
        };
        let ages = AGES.map(of_age);
        let top = ages.into_iter().fold(f64::NEG_INFINITY, f64::max);
        top + ages.iter().map(|age| (age - top).exp()).sum::<f64>().ln()
    }
}

/// Later than the photograph by more than this is no GPS time of it, seconds.
const FAIR: f64 = 5.0;
/// A position older than this is reported as none of the photograph, seconds.
const OLD: f64 = 600.0;
/// One that lies farther than this before the middle one is a stray, seconds.
const OLDEST: f64 = 3_000.0;

/// The density of a position's age, seconds.
fn age_density(age: f64, scale: f64) -> f64 {
    // the integral of the early side, a half of a normal law
    let early = EARLY * (std::f64::consts::PI / 2.0).sqrt();
    let shape =
        if age < 0.0 { (-0.5 * (age / EARLY).powi(2)).exp() } else { (1.0 + age / scale).powi(-2) };
    shape / (scale + early)
}

#[cfg(test)]
mod tests {
    use super::super::{Observation, ObservationSource};
    use super::*;

    fn grid() -> Grid {
        Grid { from: -2_000.0, count: 4_001 }
    }

    /// The log likelihood, its best offset, and how far the far end lies below.
    fn reported(times: &GpsTimes) -> (Vec<f64>, f64) {
        let mut log = vec![0.0; grid().count];
        times.add_to(&grid(), &mut log);
        let best = (0..log.len()).max_by(|&a, &b| log[a].total_cmp(&log[b])).unwrap();
        (log, grid().offset(best))
    }

    fn of_ages(ages: &[f64]) -> GpsTimes {
        let pair = |(k, age): (usize, &f64)| {
            let shutter = 100.0 * k as f64;
            (shutter + 40.0, shutter - age)
        };
        GpsTimes::of(ages.iter().enumerate().map(pair).collect())
    }

    #[test]
    fn most_recent_gps_time_determines_the_offset() {
        let (log, best) = reported(&of_ages(&[0.3, 55.0, 20.0, 1.0, 0.6, 90.0]));
        assert!((best - 40.0).abs() <= 1.0, "{best}");
        // later than the shutter by some seconds is nearly excluded, older is not
        let at = |offset: usize| log[offset + 2_000];
        assert!(at(40) - at(50) > 10.0 && at(40) - at(30) < 10.0);
        let (_, best) = reported(&of_ages(&[30.0, 45.0, 62.0]));
        assert!((40.0..=71.0).contains(&best), "{best}");
    }

    #[test]
    fn photographs_with_one_gps_time_count_once() {
        let one = GpsTimes::of(vec![(10.0, 0.0), (60.0, 0.0), (110.0, 0.0)]);
        assert_eq!((one.ahead.as_slice(), one.count), ([10.0].as_slice(), 3));
    }

    #[test]
    fn outlier_is_ignored_and_all_gps_times_may_be_wrong() {
        let mut pairs: Vec<(f64, f64)> =
            (0..8).map(|k| (100.0 * f64::from(k) + 40.0, 100.0 * f64::from(k) - 0.5)).collect();
        pairs.push((900.0, 1_500.0));
        let times = GpsTimes::of(pairs);
        let (log, best) = reported(&times);
        assert!((best - 40.0).abs() <= 1.0, "{best}");
        assert!(times.allow(40.0) && !times.allow(-1_000.0) && !times.allow(100.0));
        // strong contrary evidence can still outweigh all of them
        let span = log.iter().copied().fold(f64::INFINITY, f64::min);
        assert!((-20.0..-8.0).contains(&span), "{span}");
    }

    #[test]
    fn gps_times_outweigh_written_times_and_other_evidence_outweighs_both() {
        let grid = Grid { from: -51_300.0, count: 102_601 };
        let best = |times: &GpsTimes, observations: &[Observation]| {
            let mut log = vec![0.0; grid.count];
            times.add_to(&grid, &mut log);
            for observation in observations {
                observation.add_to(&grid, &mut log);
            }
            let best = (0..log.len()).max_by(|&a, &b| log[a].total_cmp(&log[b])).unwrap();
            grid.offset(best)
        };
        let written =
            Observation::gathered(ObservationSource::Notebook, &[874.0; 10], 24.0, 52.0).unwrap();
        for ages in [&[0.5, 1.2, 0.3, 8.0][..], &[20.0, 31.0, 44.0, 29.0, 60.0], &[25.0]] {
            let reported = best(&of_ages(ages), &[written]);
            assert!((38.0..=100.0).contains(&reported), "{ages:?}: {reported}");
        }
        let reported = best(&of_ages(&[0.5, 1.2, 0.3, 8.0]), &[written, written]);
        assert!((800.0..900.0).contains(&reported), "{reported}");
    }
}

//! Estimates the drift of a camera clock over several days, and predicts its offset on each day from the
//! other days. Only days that determine the offset by themselves are used. Layer: `join`.

use std::collections::BTreeMap;

use crate::model::{Camera, ClockMethod};
use crate::units::{Seconds, Timestamp};

use super::clock::{Observation, ObservationSource};
use super::day::PartialDay;

/// Clock drift per day: one standard deviation, seconds (published user reports: 0.3 to 0.7).
const GAINS: f64 = 0.5;
/// Other days within this many days are used.
const NEARBY: f64 = 45.0;
/// A day with a wider offset distribution is not used, seconds.
const KNOWN: f64 = 30.0;
/// The correlation of the errors of two days, because the collector has the same habits on both
/// (assumed).
const SHARED: f64 = 0.4;

/// A camera of an outing: index of the outing, of the camera, days since the first outing.
type Place = (usize, usize, f64);

/// A day that determines the offset by itself.
#[derive(Clone, Copy, Debug)]
struct Known {
    /// Days since the first.
    day: f64,
    /// Seconds ahead of UTC.
    offset: f64,
    /// Square seconds.
    variance: f64,
}

/// Gives each camera of several outings its drift, and each of its outings what the others say.
pub(super) fn update(outings: &mut [PartialDay]) {
    for places in several(outings) {
        let known: Vec<Option<Known>> = places.iter().map(|&place| own(outings, place)).collect();
        let drift = slope(&known.iter().copied().flatten().collect::<Vec<_>>());
        for (k, &(outing, camera, day)) in places.iter().enumerate() {
            let others: Vec<Known> = known
                .iter()
                .enumerate()
                .filter_map(|(other, known)| known.filter(|_| other != k))
                .collect();
            let set = &mut outings[outing].cameras[camera];
            if let Some(observation) = observation(&others, day) {
                set.update(observation);
            }
            set.clock.drift_per_day = drift.map(Seconds);
        }
    }
}

/// The cameras that were out more than once; not those that were in two places at a time, which must
/// be two that write the same name.
fn several(outings: &[PartialDay]) -> Vec<Vec<Place>> {
    let mut cameras: BTreeMap<&Camera, Vec<(Timestamp, Timestamp, usize, usize)>> = BTreeMap::new();
    for (index, outing) in outings.iter().enumerate() {
        let Some((start, end)) = outing.span() else { continue };
        for (camera, set) in outing.cameras.iter().enumerate() {
            if set.clock.camera != Camera::default() {
                let places = cameras.entry(&set.clock.camera).or_default();
                places.push((start, end, index, camera));
            }
        }
    }
    cameras
        .into_values()
        .filter_map(|mut places| {
            places.sort_unstable();
            let first = places.first()?.0;
            let apart = places.windows(2).all(|pair| pair[0].1 <= pair[1].0);
            let days = |time: Timestamp| Seconds::between(first, time).0 / 86_400.0;
            let placed = |(start, _, outing, camera): &(Timestamp, _, usize, usize)| {
                (*outing, *camera, days(*start))
            };
            (places.len() > 1 && apart).then(|| places.iter().map(placed).collect())
        })
        .collect()
}

/// The offset of a camera from its outing alone.
fn own(outings: &[PartialDay], (outing, camera, day): Place) -> Option<Known> {
    let set = &outings[outing].cameras[camera];
    let observed = [ClockMethod::Day, ClockMethod::GpsTime, ClockMethod::ClockPhotograph];
    let clock = Some(&set.clock).filter(|clock| observed.contains(&clock.method))?;
    let (ahead, (low, high)) = clock.ahead.zip(clock.interval95)?;
    let sigma = ((high.0 - low.0) / 3.92).max(0.5);
    (sigma <= KNOWN).then(|| Known { day, offset: ahead.0 + set.zone(), variance: sigma * sigma })
}

/// What other days say of the clock on a day: a straight line through those that agree with the nearest;
/// a clock that was set in between agrees with one side only.
fn observation(others: &[Known], day: f64) -> Option<Observation> {
    let away = |known: &&Known| (known.day - day).abs();
    let near = others.iter().filter(|known| away(known) <= NEARBY);
    let nearest = near.clone().min_by(|a, b| away(a).total_cmp(&away(b)))?;
    let agree = |known: &&Known| {
        let apart = (known.offset - nearest.offset).abs();
        let drifted = 3.0 * GAINS * (known.day - nearest.day).abs();
        apart <= 3.0 * (known.variance + nearest.variance).sqrt() + drifted
    };
    let observed: Vec<Known> = near.filter(agree).copied().collect();
    let (count, line) = (observed.len() as f64, Line::through(&observed)?);
    let (offset, variance) = line.at(day);
    // as much worth as leaves the right doubt when it is weighed with the day itself, whose error goes
    // with those of the others
    let usual = count * line.variance;
    let left = SHARED + (1.0 - SHARED) / (count + 1.0);
    let scale = (usual * left / (1.0 - left) + (variance - line.variance)).sqrt();
    let idle = if observed.len() > 1 { 0.04 } else { 0.1 };
    Some(Observation {
        source: ObservationSource::OtherDays,
        offset,
        scale,
        count: observed.len(),
        idle,
    })
}

/// A constant drift: weighted least squares with the prior drift.
struct Line {
    /// The middle of its days, the offset there and its variance.
    middle: f64,
    level: f64,
    variance: f64,
    /// Seconds a day, and the variance of that.
    slope: f64,
    slope_variance: f64,
}

impl Line {
    fn through(known: &[Known]) -> Option<Self> {
        let total: f64 = known.iter().map(|known| 1.0 / known.variance).sum();
        let mean = |of: &dyn Fn(&Known) -> f64| {
            known.iter().map(|known| of(known) / known.variance).sum::<f64>() / total
        };
        let (middle, level) = (mean(&|known| known.day), mean(&|known| known.offset));
        let spread = total * mean(&|known| (known.day - middle).powi(2));
        let pull = total * mean(&|known| (known.day - middle) * (known.offset - level));
        let slope_variance = 1.0 / (spread + 1.0 / (GAINS * GAINS));
        let line = Self {
            middle,
            level,
            variance: 1.0 / total,
            slope: pull * slope_variance,
            slope_variance,
        };
        (!known.is_empty()).then_some(line)
    }

    /// The offset on a day, and its variance.
    fn at(&self, day: f64) -> (f64, f64) {
        let since = day - self.middle;
        let variance = self.variance + since * since * self.slope_variance;
        (self.level + self.slope * since, variance)
    }
}

/// Seconds a day; `None` where the days alone do not determine it to a second a day, or the clock was set
/// in between: no clock gains as much.
fn slope(known: &[Known]) -> Option<f64> {
    const REPORTED: f64 = 1.0;
    const SET_BETWEEN: f64 = 300.0;
    const MOST: f64 = 10.0 * GAINS;
    let line = Line::through(known)?;
    let spread = 1.0 / line.slope_variance - 1.0 / (GAINS * GAINS);
    if spread <= 0.0 || (1.0 / spread).sqrt() > REPORTED {
        return None;
    }
    let alone = line.slope / (line.slope_variance * spread);
    let fits = |known: &Known| {
        let away = (known.offset - line.level - alone * (known.day - line.middle)).abs();
        away < SET_BETWEEN.min(4.0 * known.variance.sqrt() + 3.0)
    };
    (alone.abs() < MOST && known.iter().all(fits)).then_some(alone)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn known(day: f64, offset: f64, sigma: f64) -> Known {
        Known { day, offset, variance: sigma * sigma }
    }

    #[test]
    fn drift_of_half_a_second_per_day_is_estimated() {
        let days = [0.0, 7.0, 14.0].map(|day| known(day, 100.0 + 0.5 * day, 2.0));
        assert!((slope(&days).unwrap() - 0.5).abs() < 1e-9);
        // two readings an hour apart give no information of a day
        assert_eq!(slope(&[known(0.0, 100.0, 2.0), known(0.04, 100.0, 2.0)]), None);
        // set between the days, it gains nothing
        assert_eq!(slope(&[known(0.0, 0.0, 2.0), known(7.0, 3_600.0, 2.0)]), None);
    }

    #[test]
    fn other_days_predict_the_offset_within_shared_error() {
        let few = [known(0.0, 100.0, 4.0), known(1.0, 104.0, 4.0)];
        let reported = observation(&few, 2.0).unwrap();
        assert!((100.0..=105.0).contains(&reported.offset), "{reported:?}");
        let many: Vec<Known> = (0..40).map(|day| known(f64::from(day), 102.0, 4.0)).collect();
        let sure = observation(&many, 20.0).unwrap();
        assert!((sure.offset - 102.0).abs() < 1e-9, "{sure:?}");
        // weighed with a day of its own, the share that habits leave in common stays
        let weighed = 1.0 / (1.0 / 16.0 + 1.0 / sure.scale.powi(2));
        assert!((weighed / 16.0 - SHARED).abs() < 0.03, "{sure:?}");
        assert!(reported.scale > sure.scale);
        // a month away it is vaguer, and a season away without fixes
        assert!(observation(&few, 30.0).unwrap().scale > 2.0 * reported.scale);
        assert_eq!(observation(&few, 90.0), None);
        assert_eq!(observation(&[], 0.0), None);
    }

    #[test]
    fn clock_set_between_days_uses_one_side_only() {
        let days = [known(0.0, 60.0, 3.0), known(1.0, 61.0, 3.0), known(4.0, 3_661.0, 3.0)];
        assert!((observation(&days, 1.5).unwrap().offset - 61.0).abs() < 2.0);
        assert!((observation(&days, 4.5).unwrap().offset - 3_661.0).abs() < 2.0);
    }
}

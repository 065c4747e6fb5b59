//! A camera that was carried on several days: how much does its clock gain a day? Weighted least
//! squares through the days' own offsets, where those are known well enough to tell. Layer: `join`.

use std::collections::BTreeMap;

use crate::model::{Camera, ClockMethod, Day};
use crate::units::{Seconds, Timestamp};

/// A day's offset: when, how far ahead, one standard deviation.
type Reading = (Timestamp, f64, f64);

/// Gives each camera of several days its drift.
pub(super) fn measure(days: &mut [Day]) {
    let mut cameras: BTreeMap<Camera, Vec<Reading>> = BTreeMap::new();
    for day in days.iter() {
        let Some(start) = day.outing.start else { continue };
        for clock in &day.cameras {
            let measured = matches!(clock.method, ClockMethod::Day | ClockMethod::GpsTime);
            let zone = f64::from(day.outing.zone.zone.to_offset(start).seconds());
            if let (true, Some(ahead), Some((low, high))) =
                (measured, clock.ahead, clock.interval95)
            {
                let sigma = ((high.0 - low.0) / 3.92).max(0.5);
                cameras.entry(clock.camera.clone()).or_default().push((
                    start,
                    ahead.0 + zone,
                    sigma,
                ));
            }
        }
    }
    for (camera, readings) in cameras {
        let Some(drift) = slope(&readings) else { continue };
        let clocks = days.iter_mut().flat_map(|day| &mut day.cameras);
        for clock in clocks.filter(|clock| clock.camera == camera) {
            clock.drift_per_day = Some(Seconds(drift));
        }
    }
}

/// Seconds a day; `None` where it is not known to a second a day, or the clock was set in between.
fn slope(readings: &[Reading]) -> Option<f64> {
    const KNOWN: f64 = 1.0;
    const SET_BETWEEN: f64 = 300.0;
    let first = readings.first()?.0;
    let days = |time: Timestamp| Seconds::between(first, time).0 / 86_400.0;
    let weight = |reading: &Reading| 1.0 / (reading.2 * reading.2);
    let total: f64 = readings.iter().map(weight).sum();
    let mean = |of: &dyn Fn(&Reading) -> f64| {
        readings.iter().map(|reading| weight(reading) * of(reading)).sum::<f64>() / total
    };
    let (middle, level) = (mean(&|r| days(r.0)), mean(&|r| r.1));
    let spread: f64 = readings.iter().map(|r| weight(r) * (days(r.0) - middle).powi(2)).sum();
    if spread <= 0.0 || (1.0 / spread).sqrt() > KNOWN {
        return None;
    }
    let pull: f64 = readings.iter().map(|r| weight(r) * (days(r.0) - middle) * (r.1 - level)).sum();
    let slope = pull / spread;
    let fits = readings.iter().all(|r| {
        (r.1 - level - slope * (days(r.0) - middle)).abs() < SET_BETWEEN.min(4.0 * r.2 + 3.0)
    });
    fits.then_some(slope)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clock_that_gains_half_a_second_a_day_is_told() {
        let start: Timestamp = "2026-05-01T00:00:00Z".parse().unwrap();
        let reading = |day: f64| (Seconds(day * 86_400.0).after(start), 100.0 + 0.5 * day, 2.0);
        let drift = slope(&[reading(0.0), reading(7.0), reading(14.0)]).unwrap();
        assert!((drift - 0.5).abs() < 1e-9);
        // two readings an hour apart say nothing of a day
        assert_eq!(slope(&[reading(0.0), reading(0.04)]), None);
    }
}

//! Tests of activities of a simulated day at several logging intervals.

use super::super::frame::PlaneFix;
use super::*;

/// Stands two minutes, goes two minutes, again and again; the receiver errs by a slow wave.
fn day(interval: f64, cycles: u32) -> Vec<PlaneFix> {
    let length = 240.0 * f64::from(cycles);
    let mut fixes = Vec::new();
    let mut time = 0.0;
    while time < length {
        let (cycle, phase) = ((time / 240.0_f64).floor(), time % 240.0);
        let gone = cycle * 120.0 + (phase - 120.0).max(0.0);
        let (east, north) = (0.9 * gone, 0.3 * gone);
        fixes.push(PlaneFix {
            time,
            east: east + 4.0 * (time / 70.0).sin(),
            north: north + 4.0 * (time / 90.0).cos(),
            trust: 1.0,
        });
        time += interval;
    }
    fixes
}

fn reported(interval: f64) -> Activities {
    estimate(&Frames::gather(&day(interval, 20), 3.0))
}

#[test]
fn stops_and_walking_are_separated_at_every_logging_interval() {
    for interval in [1.0, 5.0, 10.0, 30.0] {
        let activities = reported(interval);
        let mean = |phase: f64| {
            let times = (1..19).map(|cycle| 240.0 * f64::from(cycle) + phase);
            times.filter_map(|time| activities.stationary(time)).sum::<f64>() / 18.0
        };
        assert!(mean(60.0) > 0.85, "standing, {interval} s: {}", mean(60.0));
        assert!(mean(180.0) < 0.15, "going, {interval} s: {}", mean(180.0));
    }
}

#[test]
fn probabilities_lie_between_zero_and_one() {
    for interval in [1.0, 60.0] {
        let activities = reported(interval);
        for p in
            activities.stop.iter().chain(&activities.search).chain(&activities.course.seconds())
        {
            assert!(p.is_nan() || (-1e-4..=1.0001).contains(p), "{p}");
        }
    }
}

#[test]
fn activity_in_a_gap_is_unknown() {
    let mut fixes = day(5.0, 20);
    fixes.retain(|fix| !(1_000.0..1_400.0).contains(&fix.time));
    let activities = estimate(&Frames::gather(&fixes, 3.0));
    assert_eq!(activities.stationary(1_200.0), None);
    assert_eq!(activities.stationary(-5.0), None);
    assert!(activities.stationary(900.0).is_some());
}

#[test]
fn one_fix_and_no_fix_are_accepted() {
    assert!(estimate(&Frames::default()).stop.is_empty());
    let one = [PlaneFix { time: 0.0, east: 0.0, north: 0.0, trust: 1.0 }];
    assert_eq!(estimate(&Frames::gather(&one, 3.0)).stop.len(), 1);
}

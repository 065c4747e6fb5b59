//! Tests of the estimated error of simulated receivers.

use super::super::frame::{Frame, PlaneFix};
use super::super::scatter::Scatter;
use super::*;

/// A stop of two minutes every ten, half a kilometre apart, a fix every five seconds; the error follows
/// from the seconds since the start.
fn day(mut error: impl FnMut(f64) -> (f64, f64)) -> (Frames, Vec<(f64, f64)>) {
    let (mut fixes, mut seen) = (Vec::new(), Vec::new());
    for stop in 0..25 {
        let start = 600.0 * f64::from(stop);
        for k in 0..25 {
            let time = start + 5.0 * f64::from(k);
            let (east, north) = error(time);
            let east = east + 500.0 * f64::from(stop);
            fixes.push(PlaneFix { time, east, north, trust: 1.0 });
        }
        seen.push((start + 20.0, start + 90.0));
    }
    (Frames::gather(&fixes, 3.0), seen)
}

fn estimated((frames, seen): &(Frames, Vec<(f64, f64)>)) -> Estimate {
    let activities = Activities { stop: vec![1.0; frames.all.len()], ..Activities::default() };
    estimate(frames, &activities, seen)
}

/// An error of this size that lasts, through a filter of so many seconds.
fn lasting(sigma: f64, lasts: f64, filter: f64) -> impl FnMut(f64) -> (f64, f64) {
    let mut scatter = Scatter(5);
    let (mut state, mut shown, mut now) = ([0.0; 2], [0.0; 2], -500.0);
    move |time| {
        while now < time {
            now += 1.0;
            for (state, shown) in state.iter_mut().zip(&mut shown) {
                *state =
                    (1.0 - 1.0 / lasts) * *state + sigma * (2.0 / lasts).sqrt() * scatter.normal();
                *shown += (*state - *shown) / filter.max(1.0);
            }
        }
        (shown[0], shown[1])
    }
}

#[test]
fn error_size_is_recovered_for_good_and_bad_receivers() {
    for sigma in [1.5, 4.0, 8.0] {
        let reported = estimated(&day(lasting(sigma, 100.0, 0.0)));
        let ratio = reported.receiver.sigma / sigma;
        assert!((0.75..1.3).contains(&ratio), "{sigma} m: {reported:?}");
        assert!(reported.hides < 0.3, "{reported:?}");
    }
}

#[test]
fn smoothed_output_does_not_reduce_the_estimated_error() {
    // a filter of a quarter of a minute takes some of the size and most of the short steps
    let reported = estimated(&day(lasting(6.0, 80.0, 15.0)));
    assert!((0.7..1.3).contains(&(reported.receiver.sigma / 5.5)), "{reported:?}");
}

#[test]
fn device_that_holds_its_position_hides_its_error() {
    let reported = estimated(&day(|_| (3.0, -2.0)));
    assert!(reported.hides > 0.95, "{reported:?}");
    let sizes = reported.sizes();
    let mean: f64 = sizes.iter().map(|size| size.weight * size.lasting).sum();
    assert!((3.0..7.0).contains(&mean.sqrt()), "{mean}");
}

#[test]
fn constant_error_with_jumps_is_not_estimated_as_small() {
    let mut scatter = Scatter(11);
    let mut place = (0.0, 0.0);
    let mut interval = -1.0;
    let reported = estimated(&day(move |time| {
        if (time / 110.0).floor() > interval {
            interval = (time / 110.0).floor();
            place = (7.0 * scatter.normal(), 7.0 * scatter.normal());
        }
        (place.0 + 0.3 * scatter.normal(), place.1 + 0.3 * scatter.normal())
    }));
    assert!(reported.receiver.sigma > 3.5, "{reported:?}");
}

#[test]
fn a_day_without_stops_has_the_published_range() {
    let frames = Frames {
        all: vec![Frame { time: 0.0, east: 0.0, north: 0.0, count: 1.0, trust: 1.0 }],
        gap: 60.0,
        span: 3.0,
    };
    let reported = estimated(&(frames, Vec::new()));
    let whole = (reported.one_fix() - reported.receiver.white.powi(2)).sqrt();
    assert!((3.0..6.0).contains(&whole), "{reported:?}");
    assert!(reported.doubt > 0.5, "{reported:?}");
    let weights: f64 = reported.sizes().iter().map(|size| size.weight).sum();
    assert!((weights - 1.0).abs() < 1e-12);
}

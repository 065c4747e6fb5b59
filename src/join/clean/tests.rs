//! Tests of the verdicts on each kind of bad fix.

use super::*;
use crate::units::{LatLon, Seconds, Timestamp};

const START: &str = "2026-05-03T00:00:00Z";

fn start() -> Timestamp {
    START.parse().unwrap()
}

fn plane() -> Plane {
    Plane::about(LatLon::new(-42.0, 146.0).unwrap())
}

/// A fix so many seconds and metres from the start.
fn fix(seconds: f64, east: f64, north: f64) -> Fix {
    Fix::bare(plane().from_plane(east, north), Some(Seconds(seconds).after(start())))
}

/// A walk due east at 1 m/s, a fix each five seconds.
fn walk(count: u32) -> Vec<Fix> {
    (0..count).map(|k| f64::from(k) * 5.0).map(|t| fix(t, t, (t / 40.0).sin())).collect()
}

fn verdicts(fixes: Vec<Fix>) -> Vec<Verdict> {
    let runs = [Run { source: 0, fixes }];
    judge(&runs, &plane(), Origin(start())).iter().map(|judged| judged.verdict).collect()
}

fn count(verdicts: &[Verdict], wanted: Verdict) -> usize {
    verdicts.iter().filter(|verdict| **verdict == wanted).count()
}

#[test]
fn good_walk_is_unchanged() {
    let verdicts = verdicts(walk(200));
    assert_eq!(count(&verdicts, Verdict::Kept), 200);
}

#[test]
fn one_fix_out_and_back_is_a_spike() {
    let mut fixes = walk(200);
    fixes[100] = fix(500.0, 500.0, 180.0);
    let verdicts = verdicts(fixes);
    assert_eq!(verdicts[100], Verdict::Spike);
    assert_eq!(count(&verdicts, Verdict::Kept), 199);
}

#[test]
fn a_minute_at_the_wrong_place_is_a_jump() {
    let mut fixes = walk(300);
    for (k, moved) in fixes.iter_mut().enumerate().skip(150).take(12) {
        let t = 5.0 * k as f64;
        *moved = fix(t, t + 150.0, 120.0);
    }
    let verdicts = verdicts(fixes);
    assert_eq!(count(&verdicts, Verdict::Jump), 12);
    assert_eq!(count(&verdicts, Verdict::Kept), 288);
}

#[test]
fn start_up_scatter_is_recognised() {
    let mut fixes = walk(300);
    fixes[0] = fix(0.0, -900.0, 400.0);
    fixes[1] = fix(5.0, -300.0, 200.0);
    let verdicts = verdicts(fixes);
    assert_eq!(&verdicts[..2], [Verdict::StartUp, Verdict::StartUp]);
    assert_eq!(count(&verdicts, Verdict::Kept), 298);
}

#[test]
fn drive_is_not_an_error() {
    let fixes: Vec<Fix> = (0..200)
        .map(|k| {
            let t = 5.0 * f64::from(k);
            let east = if t < 500.0 { 18.0 * t } else { 9_000.0 + (t - 500.0) };
            fix(t, east, 0.0)
        })
        .collect();
    assert_eq!(count(&verdicts(fixes), Verdict::Kept), 200);
}

#[test]
fn frozen_receiver_differs_from_a_stationary_one() {
    let mut frozen = walk(200);
    for (k, moved) in frozen.iter_mut().enumerate().skip(100).take(20) {
        *moved = fix(5.0 * k as f64, 495.0, 0.0);
    }
    let verdicts_of_frozen = verdicts(frozen);
    assert_eq!(count(&verdicts_of_frozen, Verdict::Frozen), 19);
    let mut held = walk(100);
    held.extend((100..200).map(|k| fix(5.0 * f64::from(k), 495.0, 0.5)));
    held.extend((200..300).map(|k| fix(5.0 * f64::from(k), 5.0 * f64::from(k) - 505.0, 0.5)));
    assert_eq!(count(&verdicts(held), Verdict::Frozen), 0);
}

#[test]
fn a_receiver_that_shows_nearly_one_place_until_it_leaps_or_to_the_end_is_frozen() {
    let jitter = |k: u32| 0.3 * (f64::from(k) * 1.7).sin();
    let frozen = |from: u32, to: u32| {
        (from..to).map(move |k| fix(5.0 * f64::from(k), 495.0 + jitter(k), jitter(3 * k)))
    };
    let mut leaps = walk(100);
    leaps.extend(frozen(100, 200));
    leaps.extend((200..300).map(|k| fix(5.0 * f64::from(k), 5.0 * f64::from(k), 0.5)));
    assert!(count(&verdicts(leaps), Verdict::Frozen) >= 98);
    let mut to_the_end = walk(100);
    to_the_end.extend(frozen(100, 400));
    assert!(count(&verdicts(to_the_end), Verdict::Frozen) >= 298);
    // a quarter of an hour at the car
    let mut stays = walk(100);
    stays.extend(frozen(100, 280));
    assert_eq!(count(&verdicts(stays), Verdict::Frozen), 0);
}

#[test]
fn times_out_of_order_and_clock_steps_are_distinguished() {
    let mut fixes = walk(100);
    fixes[40].time = fixes[38].time;
    fixes[60].time = Some(Seconds(-7_200.0).after(start()));
    fixes[80].time = None;
    fixes[90].time = fixes[89].time;
    let verdicts = verdicts(fixes);
    assert_eq!(count(&verdicts, Verdict::Backward) + count(&verdicts, Verdict::Duplicate), 2);
    assert_eq!(count(&verdicts, Verdict::ClockStep), 1);
    assert_eq!(count(&verdicts, Verdict::Untimed), 1);
    assert_eq!(count(&verdicts, Verdict::Kept), 96);
}

#[test]
fn equal_times_are_not_out_of_order() {
    // each time twice, and one fix ten seconds late in the file
    let mut fixes: Vec<Fix> = walk(100).into_iter().flat_map(|fix| [fix, fix]).collect();
    let late = fixes.remove(40);
    fixes.insert(44, late);
    let verdicts = verdicts(fixes);
    assert_eq!(count(&verdicts, Verdict::Kept), 100);
    assert_eq!(count(&verdicts, Verdict::Duplicate) + count(&verdicts, Verdict::Backward), 100);
    assert!(count(&verdicts, Verdict::Backward) <= 1);
}

#[test]
fn file_in_reverse_order_is_a_walk() {
    let mut fixes = walk(200);
    fixes.reverse();
    fixes[50].time = fixes[40].time.map(|time| Seconds(1.0).after(time));
    let verdicts = verdicts(fixes);
    assert_eq!(count(&verdicts, Verdict::Kept), 199);
    assert_eq!(count(&verdicts, Verdict::Backward), 1);
}

#[test]
fn a_second_receiver_fills_gaps_only() {
    let lead = walk(200);
    let (mut first, mut second) = (lead.clone(), lead);
    first.drain(80..140);
    for fix in &mut second {
        fix.time = fix.time.map(|time| Seconds(1.0).after(time));
    }
    second.truncate(180);
    first.extend((200..260).map(|k| fix(5.0 * f64::from(k), 5.0 * f64::from(k), 0.0)));
    let runs = [Run { source: 0, fixes: first }, Run { source: 1, fixes: second }];
    let judged = judge(&runs, &plane(), Origin(start()));
    let kept = |source: u16| {
        judged.iter().filter(|f| f.source == source && f.verdict == Verdict::Kept).count()
    };
    assert_eq!(kept(0), 200);
    assert!((58..=62).contains(&kept(1)), "{}", kept(1));
}

#[test]
fn empty_input_is_accepted() {
    assert!(verdicts(Vec::new()).is_empty());
    assert_eq!(verdicts(walk(1)), [Verdict::Kept]);
    assert_eq!(verdicts(walk(2)), [Verdict::Kept; 2]);
}

#[test]
fn repeated_positions_count_once() {
    // a new position every fifty seconds, walking or not
    let fixes: Vec<Fix> = (0..1_500)
        .map(|k| {
            let t = f64::from(k);
            let shown = (t / 50.0).floor() * 50.0;
            // a stop of five minutes in the middle; the error moves by metres
            let east = shown.min(600.0) + (shown - 900.0).max(0.0);
            fix(t, east + 2.0 * (shown / 70.0).sin(), 2.0 * (shown / 90.0).cos())
        })
        .collect();
    let verdicts = verdicts(fixes);
    assert_eq!(count(&verdicts, Verdict::Kept), 30);
    assert!(verdicts.iter().step_by(50).all(|verdict| *verdict == Verdict::Kept));
}

/// Walks from stop to stop of three minutes as a device shows it that determines a position every `each` seconds
/// and logs every `log`.
fn repeating(each: f64, log: f64, count: u32) -> Vec<Fix> {
    let position = |t: f64| {
        let (round, within) = ((t / 360.0).floor(), t % 360.0);
        let walked = 0.8 * (180.0 * round + within.min(180.0));
        (walked + 2.0 * (t / 70.0).sin(), 30.0 * (walked / 90.0).cos())
    };
    let shown = |k: u32| {
        let t = f64::from(k) * log;
        let (east, north) = position((t / each).floor() * each);
        fix(t, east, north)
    };
    (0..count).map(shown).collect()
}

#[test]
fn positions_of_short_steps_count_once_at_any_logging_interval() {
    for (each, log, new) in
        [(15.0, 1.0, 80), (20.0, 1.0, 60), (20.0, 5.0, 300), (30.0, 5.0, 200_usize)]
    {
        let fixes = repeating(each, log, 1_200);
        let kept = count(&verdicts(fixes), Verdict::Kept);
        assert!(kept.abs_diff(new) <= 2, "{each} {log}: {kept} of {new}");
    }
}

#[test]
fn a_position_that_stays_at_a_stop_counts_again() {
    // new positions every 20 s; exactly the same one for the ten minutes of a stop
    let east =
        |t: f64| (t / 20.0).floor().min(30.0) * 16.0 + ((t / 20.0).floor() - 60.0).max(0.0) * 16.0;
    let fixes = (0..2_000).map(|k| fix(f64::from(k), east(f64::from(k)), 0.0)).collect();
    let verdicts = verdicts(fixes);
    let at_stop = count(&verdicts[620..1_220], Verdict::Kept);
    assert!((10..=20).contains(&at_stop), "{at_stop}");
}

#[test]
fn few_digits_and_a_receiver_that_holds_still_are_no_repetition() {
    // positions to a metre, walking at half a metre a second
    let rounded =
        (0..1_500).map(|k| fix(f64::from(k), (0.5 * f64::from(k)).floor(), 0.0)).collect();
    assert_eq!(count(&verdicts(rounded), Verdict::Kept), 1_500);
    // stops of two minutes without any movement, each after a minute of walking
    let held = |k: u32| f64::from(60 * (k / 180) + (k % 180).min(60));
    let held = (0..1_500).map(|k| fix(f64::from(k), held(k), 0.0)).collect();
    assert_eq!(count(&verdicts(held), Verdict::Kept), 1_500);
}

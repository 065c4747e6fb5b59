//! Source: `data/daylight.csv` (`PyEphem` 4.2.1, libastro). The verdict on a walk against the lowest
//! height of the sun by an independent almanac.
//!
//! Tolerance: 0.05 degree of height. The two ephemerides differ by less than 0.01; the almanac is
//! sampled each two minutes, in which the sun moves at most 0.5 degree but, where it turns, less
//! than 0.01. In time 0.05 degree is 12 s at the equator and less than two minutes at 80 degrees.

use trug::units::{LatLon, Seconds, Timestamp};
use trug::wayout::daylight::Daylight;
use trug::wayout::light::{Advice, LatestStart, verdict};

use crate::earth::{number, rows};

/// Sunrise and sunset: 34' of refraction and 16' of the sun's radius.
const HORIZON: f64 = -50.0 / 60.0;
const CIVIL: f64 = -6.0;
const TOLERANCE: f64 = 0.05;
/// The largest motion of the sun between two samples of the almanac.
const SAMPLED: f64 = 0.5;

/// Checks one walk; returns its advice.
fn check(row: &csv::StringRecord) -> Advice {
    let place = LatLon::new(number(row, 0), number(row, 1)).unwrap();
    let start = Timestamp::from_second(number(row, 2) as i64).unwrap();
    let walk = Seconds(number(row, 3) * 60.0);
    let (lowest, with_reserve) = (number(row, 4), number(row, 5));
    let light = Daylight::about(place, start).unwrap();
    let found = verdict(start, walk, &light);
    let comfortable = found.advice == Advice::Comfortable;
    if with_reserve < HORIZON - TOLERANCE {
        assert!(!comfortable, "comfortable with the sun at {with_reserve}: {row:?} {found:?}");
    }
    if with_reserve > HORIZON + SAMPLED {
        assert!(comfortable, "the sun stays at {with_reserve}: {row:?} {found:?}");
    }
    if lowest < CIVIL - TOLERANCE {
        assert_eq!(found.advice, Advice::DoNotSetOut, "sun at {lowest}: {row:?} {found:?}");
    }
    if lowest > CIVIL + SAMPLED {
        assert_ne!(found.advice, Advice::DoNotSetOut, "sun at {lowest}: {row:?} {found:?}");
    }
    if let LatestStart::At { by, not_before } = found.latest_start {
        assert!(
            by >= start && not_before.is_none_or(|from| from > start && from <= by),
            "{found:?}"
        );
    }
    found.advice
}

#[allow(clippy::print_stdout, reason = "a report")]
fn check_all(table: &[csv::StringRecord]) {
    let mut count = [0_usize; 3];
    for row in table {
        count[check(row) as usize] += 1;
    }
    // the test sees all verdicts
    assert!(count.iter().all(|count| *count > table.len() / 20), "{count:?}");
    println!("{count:?}");
}

#[test]
fn no_comfortable_verdict_in_the_dark_of_the_almanac() {
    let table = rows("daylight.csv");
    assert!(table.len() > 1_400, "{}", table.len());
    check_all(&table);
}

#[test]
#[ignore = "two million walks: set DAYLIGHT_TABLE to the table that makers/daylight.py --all writes"]
fn every_latitude_and_each_ten_minutes_of_a_year() {
    let path = std::env::var("DAYLIGHT_TABLE").unwrap();
    let every: usize = std::env::var("DAYLIGHT_EVERY").ok().map_or(1, |text| text.parse().unwrap());
    let table: Vec<csv::StringRecord> = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_path(path)
        .unwrap()
        .into_records()
        .step_by(every)
        .collect::<Result<_, _>>()
        .unwrap();
    check_all(&table);
}

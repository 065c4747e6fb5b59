//! Prints verdicts of the library on walks from one place, for the check against an almanac.
//!
//! `light_cases LATITUDE LONGITUDE FROM STEP COUNT WALK...` prints for each of COUNT instants, STEP seconds apart
//! from FROM (seconds since 1970), and for each WALK (seconds) one line: instant, walk, advice, the kind of the
//! latest start, its time, the time before which it is dark.

#![allow(clippy::unwrap_used, clippy::print_stderr, reason = "a program of the tests")]

use std::io::{BufWriter, Write, stdout};

use trug::units::{LatLon, Seconds, Timestamp};
use trug::wayout::daylight::Daylight;
use trug::wayout::light::{self, Advice, LatestStart};

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [latitude, longitude, from, step, count, walks @ ..] = arguments.as_slice() else {
        eprintln!("usage: light_cases LATITUDE LONGITUDE FROM STEP COUNT WALK...");
        std::process::exit(2);
    };
    let at = LatLon::new(latitude.parse().unwrap(), longitude.parse().unwrap()).unwrap();
    let (from, step, count): (i64, i64, i64) =
        (from.parse().unwrap(), step.parse().unwrap(), count.parse().unwrap());
    let walks: Vec<f64> = walks.iter().map(|walk| walk.parse().unwrap()).collect();
    let mut out = BufWriter::new(stdout().lock());
    for now in (0..count).map(|index| from + index * step) {
        let moment = Timestamp::from_second(now).unwrap();
        let daylight = Daylight::about(at, moment).unwrap();
        for walk in &walks {
            let verdict = light::verdict(moment, Seconds(*walk), &daylight);
            let advice = match verdict.advice {
                Advice::Comfortable => 2,
                Advice::Tight => 1,
                _ => 0,
            };
            let (kind, by, after) = latest(verdict.latest_start);
            writeln!(out, "{now} {walk} {advice} {kind} {by} {after}").unwrap();
        }
    }
}

/// 0 at a time, 1 any time, 2 passed, 3 too short, 4 no light, 5 too long; the time and the first light.
fn latest(latest: LatestStart) -> (u8, i64, i64) {
    match latest {
        LatestStart::At { by, not_before } => {
            (0, by.as_second(), not_before.map_or(0, Timestamp::as_second))
        }
        LatestStart::AnyTime => (1, 0, 0),
        LatestStart::Passed { was } => (2, was.as_second(), 0),
        LatestStart::LightTooShort { .. } => (3, 0, 0),
        LatestStart::NoLight => (4, 0, 0),
        LatestStart::TooLong => (5, 0, 0),
    }
}

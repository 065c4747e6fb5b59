//! Measures the gain in clock accuracy from several days with one camera.

use trug::join::{Options, join};
use trug::model::{CameraClock, Day, Intake};

use super::simulation::condition::{ALL, Condition};
use super::simulation::day::simulate_on;

/// Errors of the clocks of some trips in seconds, and whether their intervals hold.
#[derive(Default)]
struct Clocks {
    errors: Vec<f64>,
    held: usize,
    declined: usize,
}

impl Clocks {
    fn take(&mut self, clock: &CameraClock, ahead: f64) {
        let Some((reported, (low, high))) = clock.ahead.zip(clock.interval95) else {
            self.declined += 1;
            return;
        };
        self.errors.push(reported.0 - ahead);
        self.held += usize::from((low.0..=high.0).contains(&ahead));
    }

    /// The root of the mean square error, seconds.
    fn size(&self) -> f64 {
        let squares: f64 = self.errors.iter().map(|error| error * error).sum();
        (squares / self.errors.len() as f64).sqrt()
    }

    fn near(&self) -> usize {
        self.errors.iter().filter(|error| error.abs() <= 5.0).count()
    }
}

/// Days of a trip with one camera, as many days after the first.
const TRIP: [u32; 4] = [0, 1, 2, 5];

/// The days of a trip each by itself, and together.
fn trip(condition: &Condition, seed: u64) -> (Vec<Day>, Vec<Day>) {
    let intakes = || TRIP.map(|day| simulate_on(condition, 40 * seed + u64::from(day), day).intake);
    let alone = intakes().into_iter().flat_map(|intake| join(intake, &Options::default()));
    let mut all = Intake::default();
    for intake in intakes() {
        all.tracks.extend(intake.tracks);
        all.photos.extend(intake.photos);
        all.records.extend(intake.records);
    }
    (alone.collect(), join(all, &Options::default()))
}

fn trips(conditions: &[&str], seeds: std::ops::Range<u64>) -> (Clocks, Clocks) {
    let (mut alone, mut together) = (Clocks::default(), Clocks::default());
    for condition in ALL.iter().filter(|condition| conditions.contains(&condition.name)) {
        for seed in seeds.clone() {
            let days = trip(condition, seed);
            assert_eq!((days.0.len(), days.1.len()), (TRIP.len(), TRIP.len()));
            for (clocks, days) in [(&mut alone, days.0), (&mut together, days.1)] {
                for day in days {
                    clocks.take(&day.cameras[0], condition.ahead);
                }
            }
        }
    }
    (alone, together)
}

#[test]
fn days_of_a_trip_share_clock_evidence() {
    let (alone, together) = trips(&["5 s, 7 m, 180 E", "60 s, 5 m", "5 s, kicks"], 0..1);
    assert!(together.size() < alone.size(), "{} s, {} s alone", together.size(), alone.size());
    assert_eq!(together.declined, 0);
    let days = together.errors.len();
    assert!(together.held + 1 >= days, "{} of {days} intervals hold", together.held);
}

/// Prints what `docs/position.md` tells of trips: `cargo test --test position of_trips -- --ignored
/// --nocapture`.
#[test]
#[ignore = "takes minutes; figures for the documentation"]
#[allow(clippy::print_stdout, reason = "a report")]
fn report_of_trips() {
    print_trips();
}

#[allow(clippy::print_stdout, reason = "a report")]
pub(crate) fn print_trips() {
    let names: Vec<&str> = ALL.iter().map(|condition| condition.name).collect();
    let (alone, together) = trips(&names, 1..4);
    for (kind, clocks) in [("alone", alone), ("together", together)] {
        println!(
            "{kind}: within 5 s {} of {}, root mean square {:.1} s, interval held {}, declined {}",
            clocks.near(),
            clocks.errors.len(),
            clocks.size(),
            clocks.held,
            clocks.declined
        );
    }
}

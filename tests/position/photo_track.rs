//! Measures finds that only the positions of photographs place: a camera with a receiver takes a photograph each so
//! many seconds, there is no track, and the records have written times.

use trug::earth::zone;
use trug::join::{Options, join};
use trug::model::{Photo, PhotoGps, Record, TimePrecision, WrittenTime};
use trug::units::{LatLon, Seconds, TimeZone};

use super::simulation::condition::{ALL, Condition};
use super::simulation::day::{SimulatedDay, simulate};
use super::simulation::random::Random;

/// The error of the camera's receiver, metres per axis.
const ERROR: f64 = 5.0;

fn records(day: &mut SimulatedDay) -> &mut Vec<Record> {
    &mut day.intake.records[0].records
}

/// Photographs each so many seconds along the walk, with position and GPS time.
fn photographs(day: &SimulatedDay, each: f64, local: &TimeZone, random: &mut Random) -> Vec<Photo> {
    let template = day.intake.photos[0].clone();
    let count = (day.way.seconds() / each) as usize;
    let photo = |k: usize| {
        let second = each * k as f64;
        let at = second as usize;
        let (east, north) = (day.way.east[at], day.way.north[at]);
        let (east, north) = (east + ERROR * random.normal(), north + ERROR * random.normal());
        let gps = PhotoGps {
            at: Some(day.plane.from_plane(east, north)),
            time: Some(Seconds(second).after(day.start)),
            ..PhotoGps::default()
        };
        let taken = Some(local.to_datetime(Seconds(second.floor()).after(day.start)));
        let mut photo = Photo { taken, gps, ..template.clone() };
        photo.source.path = format!("S{k:04}.JPG").into();
        photo.source.hash = format!("S{k:04}");
        photo
    };
    (0..=count).map(photo).collect()
}

/// A day of this seed without a track: notes to the second in the stop of each find.
fn day_of(condition: &Condition, seed: u64, each: f64) -> SimulatedDay {
    let mut day = simulate(condition, seed);
    let place = LatLon::new(condition.latitude, condition.longitude).unwrap();
    let (_, local) = zone::at(place).unwrap();
    day.intake.photos = photographs(&day, each, &local, &mut Random::new(seed ^ 0x5a));
    day.intake.tracks.clear();
    let start = day.start;
    let moments: Vec<f64> =
        day.finds.iter().map(|find| find.stop.0 + 0.7 * (find.stop.1 - find.stop.0)).collect();
    for (record, second) in records(&mut day).iter_mut().zip(moments) {
        record.photos.clear();
        let clock = local.to_datetime(Seconds(second.floor()).after(start)).time();
        record.time = Some(WrittenTime { clock, precision: TimePrecision::Second });
    }
    day
}

/// Finds, those placed, and those whose circle holds the truth.
fn measured(each: f64, seeds: std::ops::Range<u64>) -> (usize, usize, usize) {
    let (mut finds, mut placed, mut held) = (0, 0, 0);
    for seed in seeds {
        for condition in [4, 14, 18].map(|k| &ALL[k]) {
            let mut day = day_of(condition, seed, each);
            let intake = std::mem::take(&mut day.intake);
            for find in join(intake, &Options::default()).iter().flat_map(|day| &day.finds) {
                finds += 1;
                let Ok(located) = &find.place else { continue };
                placed += 1;
                let number = &find.record.number.as_ref().unwrap().0;
                let truth = day.finds.iter().find(|truth| truth.number == *number).unwrap();
                let (x, y) = day.plane.to_plane(located.at);
                let off = (x - truth.east).hypot(y - truth.north);
                held += usize::from(off <= located.radius.metres().0);
            }
        }
    }
    (finds, placed, held)
}

#[test]
fn circles_of_a_sparse_track_hold() {
    for each in [60.0, 300.0] {
        let (finds, placed, held) = measured(each, 4_000..4_002);
        assert!(placed * 10 >= 9 * finds, "each {each} s: {placed} of {finds}");
        assert!(held * 100 >= 93 * placed, "each {each} s: {held} of {placed}");
    }
}

/// `cargo test --test position sparse_report -- --ignored --nocapture`; its numbers are in `docs/reading-tracks.md`.
#[test]
#[ignore = "minutes"]
#[allow(clippy::print_stdout, reason = "a report")]
fn sparse_report() {
    for each in [60.0, 300.0, 900.0, 1_800.0] {
        let (finds, placed, held) = measured(each, 4_000..4_010);
        println!("each {each} s: {finds} finds, {placed} placed, {held} held");
    }
}

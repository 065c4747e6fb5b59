//! Tests that every find is placed from its own track only, and from none where this cannot be determined:
//! simulated days of two walkers with the track of the day before, two people in one folder, a borrowed
//! camera, a camera on another date, a wrong date in a record.

use std::collections::BTreeMap;

use jiff::ToSpan;
use trug::join::{Options, join};
use trug::model::{AssociationKind, Camera, Day, Intake, Photo};
use trug::units::Seconds;

use super::simulation::condition::{ALL, Condition};
use super::simulation::day::{SimulatedDay, simulate, simulate_on};

/// A find confidently placed so far off, in radii, rests on the wrong track.
const WRONG: f64 = 3.0;

/// What became of the finds of some days.
#[derive(Clone, Copy, Debug, Default)]
struct Tally {
    finds: usize,
    placed: usize,
    wrong: usize,
    days: usize,
    /// Days with an error about the pairing.
    refused: usize,
}

impl Tally {
    fn add(&mut self, days: &[Day], truth: &[&SimulatedDay]) {
        let mut places: BTreeMap<String, (&SimulatedDay, f64, f64)> = BTreeMap::new();
        for day in truth {
            for find in &day.finds {
                places.insert(find.number.clone(), (day, find.east, find.north));
            }
        }
        self.days += 1;
        self.refused += usize::from(refused(days));
        for find in days.iter().flat_map(|day| &day.finds) {
            self.finds += 1;
            let Ok(located) = &find.place else { continue };
            let (day, east, north) = places[&find.record.number.as_ref().unwrap().0];
            let (x, y) = day.plane.to_plane(located.at);
            self.placed += 1;
            let off = (x - east).hypot(y - north);
            self.wrong += usize::from(off > (WRONG * located.radius.metres().0).max(60.0));
        }
    }
}

fn refused(days: &[Day]) -> bool {
    days.iter().flat_map(|day| &day.associations).any(trug::model::Association::is_refusal)
}

/// Conditions of receivers and clocks that ordinary days have.
fn conditions() -> impl Iterator<Item = &'static Condition> {
    let seeds = std::env::var("TRUG_ASSOCIATION_ALL").is_ok();
    ALL.iter().enumerate().filter(move |(k, _)| seeds || k % 3 == 0).map(|(_, condition)| condition)
}

fn seeds() -> std::ops::Range<u64> {
    let count = std::env::var("TRUG_ASSOCIATION_SEEDS").ok().and_then(|n| n.parse().ok());
    0..count.unwrap_or(2)
}

/// All conditions and seeds of a scenario.
#[allow(clippy::print_stdout, reason = "a report")]
fn over(name: &str, scenario: impl Fn(&Condition, u64) -> (Intake, Vec<SimulatedDay>)) -> Tally {
    let mut tally = Tally::default();
    for condition in conditions() {
        let mut one = Tally::default();
        for seed in seeds() {
            let (intake, truth) = scenario(condition, 1_000 + 17 * seed);
            let days = join(intake, &Options::default());
            let truth: Vec<&SimulatedDay> = truth.iter().collect();
            one.add(&days, &truth);
            tally.add(&days, &truth);
        }
        println!("{name}: {}: {one:?}", condition.name);
    }
    println!("{name}: {tally:?}");
    tally
}

/// Another walker of the same morning, with numbers, photographs and files of its own.
fn companion(condition: &Condition, seed: u64) -> SimulatedDay {
    let mut day = simulate(condition, seed + 500_009);
    rename(&mut day, "L", "Q");
    day
}

fn rename(day: &mut SimulatedDay, number: &str, photo: &str) {
    for find in &mut day.finds {
        find.number = find.number.replacen('K', number, 1);
    }
    for record in day.intake.records.iter_mut().flat_map(|file| &mut file.records) {
        let written = record.number.as_mut().unwrap();
        written.0 = written.0.replacen('K', number, 1);
        for named in &mut record.photos {
            named.0 = named.0.replacen('P', photo, 1);
        }
    }
    for picture in &mut day.intake.photos {
        let name = picture.source.name().replacen('P', photo, 1);
        picture.source.path = name.clone().into();
        picture.source.hash = name;
    }
}

fn call(day: &mut SimulatedDay, track: &str, collector: &str) {
    let source = &mut day.intake.tracks[0].source;
    (source.path, source.hash) = (track.into(), format!("{track} {collector}"));
    for record in day.intake.records.iter_mut().flat_map(|file| &mut file.records) {
        record.collector = Some(collector.to_owned());
    }
}

fn body(day: &mut SimulatedDay, serial: &str) {
    for photo in &mut day.intake.photos {
        photo.camera = Camera { serial: Some(serial.into()), ..photo.camera.clone() };
    }
}

/// Both days in one intake, the records in one book.
fn together(one: &mut SimulatedDay, other: &mut SimulatedDay) -> Intake {
    let (a, b) = (std::mem::take(&mut one.intake), std::mem::take(&mut other.intake));
    let mut records = a.records;
    let shift = records[0].records.len() as u64;
    for mut record in b.records.into_iter().flat_map(|file| file.records) {
        record.line += shift;
        records[0].records.push(record);
    }
    Intake {
        tracks: [a.tracks, b.tracks].concat(),
        photos: [a.photos, b.photos].concat(),
        records,
        ..Intake::default()
    }
}

fn shifted(photos: &mut [Photo], days: i64) {
    for photo in photos {
        photo.taken = photo.taken.map(|taken| taken.checked_add(days.days()).unwrap());
    }
}

/// GPS times such as a phone or a camera with a receiver writes: the last whole second.
fn with_gps_times(day: &mut SimulatedDay, ahead: f64) {
    let zone = jiff::tz::TimeZone::UTC;
    let place =
        trug::units::LatLon::new(day.plane.origin().latitude(), day.plane.origin().longitude());
    let local = trug::earth::zone::at(place.unwrap()).map_or(zone, |(_, zone)| zone);
    for photo in &mut day.intake.photos {
        let shown = photo.taken.and_then(|taken| local.to_timestamp(taken).ok());
        photo.gps.time = shown.map(|shown| Seconds(-ahead - 1.0).after(shown));
    }
}

fn assert_placed(tally: Tally) {
    assert_eq!(tally.refused, 0, "{tally:?}");
    assert!(tally.placed * 100 >= 95 * tally.finds, "{tally:?}");
    assert!(tally.wrong * 100 <= tally.finds, "{tally:?}");
}

fn assert_refused(tally: Tally) {
    assert_eq!(tally.refused, tally.days, "{tally:?}");
    assert_eq!(tally.placed, 0, "{tally:?}");
}

#[test]
fn ordinary_day_is_placed() {
    let tally = over("ordinary", |condition, seed| {
        let mut day = simulate(condition, seed);
        (std::mem::take(&mut day.intake), vec![day])
    });
    assert_placed(tally);
}

#[test]
fn track_of_the_day_before_places_nothing() {
    let tally = over("yesterday only", |condition, seed| {
        let yesterday = simulate(condition, seed);
        let mut today = simulate_on(condition, seed + 77, 1);
        today.intake.tracks = yesterday.intake.tracks.clone();
        (std::mem::take(&mut today.intake), vec![today])
    });
    assert_refused(tally);
}

#[test]
fn written_date_is_kept_with_only_the_track_of_the_day_before() {
    let condition = &ALL[4];
    let yesterday = simulate(condition, 3);
    let mut today = simulate_on(condition, 4, 1);
    today.intake.tracks = yesterday.intake.tracks.clone();
    let written = today.intake.records[0].records[0].date;
    let days = join(std::mem::take(&mut today.intake), &Options::default());
    let day = days.iter().find(|day| !day.finds.is_empty()).unwrap();
    assert_eq!(Some(day.outing.date), written);
    assert!(day.track.is_empty());
    let association = &day.associations[0];
    assert_eq!(association.kind, AssociationKind::AnotherDay);
    assert_eq!(association.records, day.finds.len());
    assert!(association.none > 0.9, "{association:?}");
}

#[test]
fn additional_track_of_the_day_before_changes_nothing() {
    let tally = over("yesterday beside", |condition, seed| {
        let yesterday = simulate(condition, seed);
        let mut today = simulate_on(condition, seed + 77, 1);
        today.intake.tracks.extend(yesterday.intake.tracks);
        (std::mem::take(&mut today.intake), vec![today])
    });
    assert_placed(tally);
}

#[test]
fn two_people_in_one_folder_are_separated_by_cameras() {
    let tally = over("two people", |condition, seed| {
        let (mut ada, mut noel) = (simulate(condition, seed), companion(condition, seed));
        call(&mut ada, "track-1.gpx", "Ada Quillfeather");
        call(&mut noel, "track-2.gpx", "Noël Brambletoft");
        body(&mut ada, "11");
        body(&mut noel, "22");
        (together(&mut ada, &mut noel), vec![ada, noel])
    });
    assert!(tally.wrong * 200 <= tally.finds, "{tally:?}");
    assert!(tally.placed * 100 >= 80 * tally.finds, "{tally:?}");
}

#[test]
fn two_cameras_of_one_model_are_separated_by_records() {
    let tally = over("one model", |condition, seed| {
        let (mut ada, mut noel) = (simulate(condition, seed), companion(condition, seed));
        call(&mut ada, "track-1.gpx", "Ada Quillfeather");
        call(&mut noel, "track-2.gpx", "Noël Brambletoft");
        (together(&mut ada, &mut noel), vec![ada, noel])
    });
    assert!(tally.wrong * 200 <= tally.finds, "{tally:?}");
    assert!(tally.placed * 100 >= 80 * tally.finds, "{tally:?}");
}

#[test]
fn a_borrowed_camera_places_each_find_on_its_collectors_track() {
    let tally = over("borrowed", |condition, seed| {
        let (mut ada, mut noel) = (simulate(condition, seed), companion(condition, seed));
        call(&mut ada, "track-1.gpx", "Ada Quillfeather");
        call(&mut noel, "track-2.gpx", "Noël Brambletoft");
        body(&mut ada, "11");
        body(&mut noel, "22");
        // Noël takes Ada's camera for the second half
        let half = noel.intake.photos.len() / 2;
        let lent = ada.intake.photos[0].camera.clone();
        for photo in &mut noel.intake.photos[half..] {
            photo.camera = lent.clone();
        }
        (together(&mut ada, &mut noel), vec![ada, noel])
    });
    assert!(tally.wrong * 200 <= tally.finds, "{tally:?}");
    assert!(tally.placed * 100 >= 80 * tally.finds, "{tally:?}");
}

#[test]
fn another_persons_lone_track_is_refused_where_photographs_clearly_avoid_its_stops() {
    let tally = over("another person", |condition, seed| {
        let mut noel = companion(condition, seed);
        let mut ada = simulate(condition, seed);
        call(&mut ada, "track-1.gpx", "Ada Quillfeather");
        ada.intake.tracks = std::mem::take(&mut noel.intake.tracks);
        (std::mem::take(&mut ada.intake), vec![ada])
    });
    // nothing but the stops says that the track is not hers, and a noisy receiver shows stops where there
    // were none: then the far more frequent case, that it is hers, prevails
    assert!(tally.wrong * 100 <= 30 * tally.finds, "{tally:?}");
}

#[test]
fn a_camera_a_day_slow_is_set_by_the_gps_times_in_its_photographs() {
    let tally = over("a day slow, GPS times", |condition, seed| {
        let mut day = simulate(condition, seed);
        with_gps_times(&mut day, condition.ahead);
        shifted(&mut day.intake.photos, -1);
        (std::mem::take(&mut day.intake), vec![day])
    });
    assert_placed(tally);
}

#[test]
fn a_camera_a_day_slow_is_set_by_stops_and_records() {
    let tally = over("a day slow", |condition, seed| {
        let mut day = simulate(condition, seed);
        shifted(&mut day.intake.photos, -1);
        (std::mem::take(&mut day.intake), vec![day])
    });
    assert!(tally.wrong * 100 <= tally.finds, "{tally:?}");
    assert!(tally.placed * 100 >= 70 * tally.finds, "{tally:?}");
}

#[test]
fn one_date_a_day_off_among_many_is_resolved_and_the_written_date_kept() {
    let tally = over("one slip", |condition, seed| {
        let mut day = simulate(condition, seed);
        let record = &mut day.intake.records[0].records[5];
        record.date = record.date.map(|date| date.checked_add(1.day()).unwrap());
        (std::mem::take(&mut day.intake), vec![day])
    });
    assert_placed(tally);
}

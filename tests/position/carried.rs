//! Tests that finds are not placed on a receiver that was left behind or without a signal, by a waypoint of the day
//! before, by coordinates off the track, or on another person's track for its photographs alone.

use trug::join::{Options, join};
use trug::model::{
    AnchorKind, AssociationKind, CoordinateReading, Day, Find, Fix, TimePrecision, Waypoint,
    WrittenCoordinates, WrittenTime,
};
use trug::units::{LatLon, Metres, Seconds};

use super::simulation::condition::ALL;
use super::simulation::day::{SimulatedDay, simulate};

fn joined(day: &SimulatedDay) -> Vec<Day> {
    join(day.intake.clone(), &Options::default())
}

fn finds(days: &[Day]) -> impl Iterator<Item = &Find> {
    days.iter().flat_map(|day| &day.finds)
}

fn find_of<'a>(days: &'a [Day], number: &str) -> &'a Find {
    finds(days).find(|find| find.record.number.as_ref().unwrap().0 == number).unwrap()
}

/// How far a placed find is from the truth, and its radius.
fn off(find: &Find, truth: &SimulatedDay) -> (f64, f64) {
    let located = find.place.as_ref().unwrap();
    let number = &find.record.number.as_ref().unwrap().0;
    let own = truth.finds.iter().find(|own| own.number == *number).unwrap();
    let (east, north) = truth.plane.to_plane(located.at);
    ((east - own.east).hypot(north - own.north), located.radius.metres().0)
}

/// Moves each fix to so many metres about the first one.
fn stay(day: &mut SimulatedDay, metres: f64) {
    let plane = day.plane;
    let fixes = day.intake.tracks[0].tracks.iter_mut().flat_map(|track| &mut track.segments);
    let mut angle = 0.0_f64;
    let mut first = None;
    for fix in fixes.flat_map(|segment| &mut segment.fixes) {
        let (east, north) = *first.get_or_insert_with(|| plane.to_plane(fix.at));
        angle += 0.002;
        fix.at = plane
            .from_plane(east + metres * angle.sin(), north + metres * (1.7 * angle).cos() - metres);
    }
}

#[test]
fn finds_are_not_placed_on_a_receiver_that_stays_in_one_place() {
    for metres in [0.0, 3.0] {
        for condition in [4, 0] {
            let mut day = simulate(&ALL[condition], 31);
            stay(&mut day, metres);
            let days = joined(&day);
            let kinds: Vec<AssociationKind> =
                days.iter().flat_map(|day| &day.associations).map(|one| one.kind).collect();
            assert_eq!(kinds, [AssociationKind::ReceiverStationary], "{metres} m");
            assert!(finds(&days).all(|find| find.place.is_err()), "{metres} m");
        }
    }
}

#[test]
fn a_waypoint_of_the_day_before_is_not_that_of_a_find_with_its_number() {
    let mut day = simulate(&ALL[4], 32);
    for index in [2, 5] {
        let find = &day.finds[index];
        let at = day.plane.from_plane(find.east + 900.0, find.north);
        let time = Seconds(-86_400.0 + find.stop.0).after(day.start);
        let fix = Fix::bare(at, Some(time));
        let name = Some(find.number.clone());
        let point =
            Waypoint { fix, name, description: None, comment: None, symbol: None, averaged: None };
        day.intake.tracks[0].waypoints.push(point);
    }
    let days = joined(&day);
    for index in [2, 5] {
        let find = find_of(&days, &day.finds[index].number);
        let (error, radius) = off(find, &day);
        assert!(error < 100.0 && radius < 200.0, "{error} {radius}");
        assert!(find.anchors.iter().all(|anchor| anchor.kind != AnchorKind::Waypoint));
    }
}

#[test]
fn coordinates_far_off_the_track_do_not_overrule_photographs_on_it() {
    for measured in [false, true] {
        let mut day = simulate(&ALL[4], 33);
        let find = &day.finds[3];
        let (number, far) =
            (find.number.clone(), day.plane.from_plane(find.east + 20_000.0, find.north));
        let (manner, precision, datum) = ("decimal degrees".into(), Metres(1.0), Metres(0.0));
        day.intake.records[0].records[3].coordinates = Some(WrittenCoordinates {
            verbatim: far.to_string(),
            system: None,
            readings: vec![CoordinateReading { at: far, manner, precision, datum }],
            slips: Vec::new(),
            stated_uncertainty: None,
            measured,
            stated_in: None,
        });
        let (error, radius) = off(find_of(&joined(&day), &number), &day);
        // what the collector states as final stands
        assert_eq!(error > 19_000.0, measured, "{error} {radius}");
        assert!(measured || radius < 200.0, "{error} {radius}");
    }
}

/// The times of the finds, written to the minute beside their photographs.
fn with_times(day: &mut SimulatedDay, condition: usize) {
    let place = LatLon::new(ALL[condition].latitude, ALL[condition].longitude).unwrap();
    let (_, local) = trug::earth::zone::at(place).unwrap();
    for (record, find) in day.intake.records[0].records.iter_mut().zip(&day.finds) {
        let written = Seconds(find.stop.0 + 0.7 * (find.stop.1 - find.stop.0)).after(day.start);
        let shown = local.to_datetime(written);
        record.date = Some(shown.date());
        let clock = jiff::civil::Time::new(shown.hour(), shown.minute(), 0, 0).unwrap();
        record.time = Some(WrittenTime { clock, precision: TimePrecision::Minute });
    }
}

#[test]
fn times_beside_photographs_count_against_another_persons_lone_track() {
    let (mut refused, mut days) = (0, 0);
    let is_refused = |day: &SimulatedDay| {
        let days = joined(day);
        days.iter().flat_map(|day| &day.associations).any(trug::model::Association::is_refusal)
    };
    for condition in [0, 4, 6] {
        for seed in 50..53 {
            let mut day = simulate(&ALL[condition], seed);
            with_times(&mut day, condition);
            assert!(!is_refused(&day), "{}: own track", ALL[condition].name);
            let other = simulate(&ALL[condition], 900_000 + seed);
            day.intake.tracks = other.intake.tracks;
            refused += u32::from(is_refused(&day));
            days += 1;
        }
    }
    assert!(3 * refused >= 2 * days, "{refused} of {days}");
}

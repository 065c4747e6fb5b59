//! Tests that wrong premises are detected on simulated days: a collector who walked apart from the only track, a
//! notebook that is off as a whole, an undated waypoint of another outing.

use trug::earth::zone;
use trug::join::{Options, join};
use trug::model::{
    AnchorKind, AssociationKind, ConflictKind, Day, Find, Fix, Intake, Record, TimePrecision,
    Waypoint, WrittenTime,
};
use trug::units::{LatLon, Seconds};

use super::simulation::condition::{ALL, Condition};
use super::simulation::day::{SimulatedDay, simulate};

/// Receivers with a fix each few seconds and ordinary errors.
fn conditions() -> impl Iterator<Item = &'static Condition> {
    ALL.iter().filter(|condition| condition.interval <= 10.0 && condition.sigma <= 8.0).step_by(3)
}

/// The day without photographs, each record with the minute within its stop in which it was written.
fn notes_only(condition: &Condition, seed: u64, ahead: f64) -> SimulatedDay {
    let mut day = simulate(condition, seed);
    day.intake.photos.clear();
    let place = LatLon::new(condition.latitude, condition.longitude).unwrap();
    let (_, local) = zone::at(place).unwrap();
    for (record, find) in day.intake.records[0].records.iter_mut().zip(&day.finds) {
        record.photos.clear();
        let written = Seconds(find.stop.0 + 0.7 * (find.stop.1 - find.stop.0)).after(day.start);
        let shown = local.to_datetime(Seconds(ahead).after(written));
        record.date = Some(local.to_datetime(written).date());
        let clock = jiff::civil::Time::new(shown.hour(), shown.minute(), 0, 0).unwrap();
        record.time = Some(WrittenTime { clock, precision: TimePrecision::Minute });
    }
    day
}

fn records(day: &mut SimulatedDay) -> &mut Vec<Record> {
    &mut day.intake.records[0].records
}

fn joined(day: &mut SimulatedDay) -> Vec<Day> {
    join(std::mem::take(&mut day.intake), &Options::default())
}

fn finds(days: &[Day]) -> impl Iterator<Item = &Find> {
    days.iter().flat_map(|day| &day.finds)
}

fn refused(days: &[Day]) -> bool {
    days.iter().flat_map(|day| &day.associations).any(trug::model::Association::is_refusal)
}

/// How far a placed find is from the truth, and its radius.
fn off(find: &Find, truth: &SimulatedDay) -> Option<(f64, f64)> {
    let located = find.place.as_ref().ok()?;
    let number = &find.record.number.as_ref().unwrap().0;
    let own = truth.finds.iter().find(|own| own.number == *number)?;
    let (east, north) = truth.plane.to_plane(located.at);
    Some(((east - own.east).hypot(north - own.north), located.radius.metres().0))
}

#[test]
fn a_collector_who_walked_apart_is_not_placed_on_the_only_track() {
    let (mut own, mut placed, mut strangers) = (0, 0, 0);
    for (k, condition) in conditions().enumerate() {
        let mut ada = notes_only(condition, 40 + k as u64, 0.0);
        let mut noel = notes_only(condition, 900_040 + k as u64, 0.0);
        for record in records(&mut ada) {
            record.collector = Some("Ada Quillfeather".into());
        }
        for record in records(&mut noel) {
            record.collector = Some("Noel Brambletoft".into());
            let number = record.number.as_mut().unwrap();
            number.0 = number.0.replacen('K', "L", 1);
        }
        let theirs = std::mem::take(records(&mut noel));
        own += records(&mut ada).len();
        records(&mut ada).extend(theirs);
        let days = joined(&mut ada);
        assert!(refused(&days), "{}", condition.name);
        let reported = days.iter().flat_map(|day| &day.associations);
        assert!(
            reported.clone().any(|report| report.kind == AssociationKind::TrackShared),
            "{}",
            condition.name
        );
        for find in finds(&days).filter(|find| find.place.is_ok()) {
            let of_noel = find.record.collector.as_deref() == Some("Noel Brambletoft");
            strangers += usize::from(of_noel);
            placed += usize::from(!of_noel);
        }
    }
    assert_eq!(strangers, 0);
    assert!(10 * placed >= 7 * own, "{placed} of {own}");
}

#[test]
fn collectors_who_walked_together_are_placed_on_their_track() {
    for (k, condition) in conditions().enumerate() {
        let mut day = notes_only(condition, 40 + k as u64, 0.0);
        for (index, record) in records(&mut day).iter_mut().enumerate() {
            let who = if index % 3 == 1 { "Noel Brambletoft" } else { "Ada Quillfeather" };
            record.collector = Some(who.into());
        }
        let days = joined(&mut day);
        assert!(!refused(&days), "{}", condition.name);
        assert!(finds(&days).all(|find| find.place.is_ok()), "{}", condition.name);
    }
}

#[test]
fn a_notebook_that_is_off_as_a_whole_is_reported_once_and_places_nothing() {
    for (k, condition) in conditions().enumerate() {
        for ahead in [-3_600.0, 3_600.0, 7_200.0] {
            let mut day = notes_only(condition, 70 + k as u64, ahead);
            let days = joined(&mut day);
            let name = condition.name;
            let reported: Vec<String> =
                days.iter().flat_map(|day| &day.set_aside).map(ToString::to_string).collect();
            assert_eq!(reported.len(), 1, "{name} {ahead}: {reported:?}");
            assert!(reported[0].contains("the notebook is about"), "{reported:?}");
            assert!(finds(&days).all(|find| find.place.is_err()), "{name} {ahead}");
            let conflicts = days.iter().map(|day| day.conflicts.len()).sum::<usize>();
            assert_eq!(conflicts, 0, "{name} {ahead}");
        }
        let mut day = notes_only(condition, 70 + k as u64, 0.0);
        let days = joined(&mut day);
        assert!(days.iter().all(|day| day.set_aside.is_empty()), "{}", condition.name);
    }
}

#[test]
fn a_track_in_local_time_without_a_zone_is_the_first_suspect() {
    let condition = conditions().next().unwrap();
    let mut day = notes_only(condition, 70, 3_600.0);
    day.intake.tracks[0].zone_assumed = true;
    let days = joined(&mut day);
    let said: Vec<String> =
        days.iter().flat_map(|day| &day.set_aside).map(ToString::to_string).collect();
    assert!(
        said.iter().any(|said| said.contains("the times of the track state no zone")),
        "{said:?}"
    );
    assert!(said.iter().all(|said| !said.contains("--zone")), "{said:?}");
}

#[test]
fn circles_hold_the_finds_of_a_watch_that_is_minutes_off() {
    let (mut held, mut placed, mut reported) = (0, 0, 0);
    for (k, condition) in conditions().enumerate() {
        for ahead in [-1_260.0, 720.0, 2_280.0] {
            let mut day = notes_only(condition, 110 + k as u64, ahead);
            let days = joined(&mut day);
            let mut said = days.iter().flat_map(|day| &day.set_aside).map(ToString::to_string);
            reported += usize::from(said.any(|said| said.contains("the watch of the notebook")));
            for (error, radius) in finds(&days).filter_map(|find| off(find, &day)) {
                placed += 1;
                held += usize::from(error <= radius);
            }
        }
    }
    assert!(100 * held >= 85 * placed, "{held} of {placed}");
    assert!(10 * reported >= 8 * 3 * conditions().count(), "{reported} reported");
}

#[test]
fn another_persons_lone_track_is_refused_where_notes_fit_no_better_than_by_chance() {
    let mut strangers = 0;
    for (k, condition) in conditions().enumerate() {
        let mut ada = notes_only(condition, 140 + k as u64, 0.0);
        let mut noel = notes_only(condition, 900_140 + k as u64, 0.0);
        let own = ada.intake.clone();
        let days = join(own, &Options::default());
        assert!(!refused(&days), "{}: own track", condition.name);
        ada.intake.tracks = std::mem::take(&mut noel.intake.tracks);
        strangers += usize::from(refused(&joined(&mut ada)));
    }
    // a track whose stops happen to match cannot be distinguished from one's own
    assert!(strangers >= 2, "{strangers} refused");
}

#[test]
fn a_stale_position_in_photographs_does_not_overrule_their_time() {
    const STALE: std::ops::Range<usize> = 6..9;
    let mut day = simulate(&ALL[4], 6);
    let (old, first) = (&day.finds[5], day.start);
    let (at, then) = (day.plane.from_plane(old.east, old.north), old.shots[0]);
    for (k, find) in day.finds.iter().enumerate() {
        let names = day.intake.records[0].records[k].photos.clone();
        for (name, shot) in names.iter().zip(&find.shots) {
            let photo = day.intake.photos.iter_mut().find(|photo| photo.name() == name.0).unwrap();
            let stale = STALE.contains(&k);
            photo.gps.at = stale.then_some(at);
            photo.gps.time = Some(Seconds(if stale { then } else { *shot }).after(first));
        }
    }
    let days = joined(&mut day);
    for k in STALE {
        let find = find_of(&days, &day.finds[k].number);
        let (error, radius) = off(find, &day).unwrap();
        assert!(error <= radius && error < 60.0, "{k}: {error} {radius}");
    }
}

/// An undated waypoint so many metres east of a find, named by its number.
fn waypoint(day: &SimulatedDay, find: usize, east: f64) -> Waypoint {
    let find = &day.finds[find];
    let at = day.plane.from_plane(find.east + east, find.north);
    let name = Some(find.number.clone());
    let fix = Fix::bare(at, None);
    Waypoint { fix, name, description: None, comment: None, symbol: None, averaged: None }
}

fn find_of<'a>(days: &'a [Day], number: &str) -> &'a Find {
    finds(days).find(|find| find.record.number.as_ref().unwrap().0 == number).unwrap()
}

#[test]
fn an_undated_waypoint_of_another_outing_does_not_replace_the_written_time() {
    let condition = &ALL[4];
    let mut day = notes_only(condition, 5, 0.0);
    let number = day.finds[3].number.clone();
    let point = waypoint(&day, 3, 220.0);
    day.intake.tracks[0].waypoints.push(point);
    let days = joined(&mut day);
    let find = find_of(&days, &number);
    let (error, radius) = off(find, &day).unwrap();
    assert!(error < 80.0, "{error}");
    // one alone may yet be right: the circle holds it
    assert!(radius > 200.0, "{radius}");
    let used = find.anchors.iter().find(|anchor| anchor.used).unwrap();
    assert_eq!(used.kind, AnchorKind::WrittenTime);
    let conflicts = days.iter().flat_map(|day| &day.conflicts);
    assert_eq!(conflicts.filter(|conflict| conflict.kind == ConflictKind::Anchors).count(), 1);
}

#[test]
fn several_undated_waypoints_far_from_their_times_are_of_another_outing() {
    let mut day = notes_only(&ALL[4], 5, 0.0);
    let points: Vec<Waypoint> = (2..6).map(|find| waypoint(&day, find, 230.0)).collect();
    day.intake.tracks[0].waypoints.extend(points);
    let days = joined(&mut day);
    for find in 2..6 {
        let number = day.finds[find].number.clone();
        let (error, radius) = off(find_of(&days, &number), &day).unwrap();
        assert!(error < 100.0 && radius < 150.0, "{number}: {error} {radius}");
    }
}

#[test]
fn an_undated_waypoint_among_others_that_agree_outweighs_a_wrong_time() {
    let mut day = notes_only(&ALL[4], 5, 0.0);
    let points: Vec<Waypoint> = (0..7).map(|find| waypoint(&day, find, 6.0)).collect();
    day.intake.tracks[0].waypoints.extend(points);
    let other = records(&mut day)[6].time;
    records(&mut day)[2].time = other;
    let number = day.finds[2].number.clone();
    let days = joined(&mut day);
    let (error, radius) = off(find_of(&days, &number), &day).unwrap();
    assert!(error < 40.0 && radius < 60.0, "{error} {radius}");
}

#[test]
fn intake_of_the_simulation_is_not_empty() {
    let day = notes_only(&ALL[4], 5, 0.0);
    let Intake { photos, records, tracks, .. } = &day.intake;
    assert!(photos.is_empty() && records[0].records.len() > 9 && tracks.len() == 1);
    assert!(conditions().count() >= 4);
}

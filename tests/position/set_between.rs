//! Tests days on which a clock was set: the camera's, or the watch used for the notebook.

use trug::join::{CameraClockOption, Options, join};
use trug::model::{Day, Intake, WrittenTime};
use trug::units::Seconds;

use super::simulation::condition::{ALL, Condition};
use super::simulation::day::{SimulatedDay, simulate};

fn condition() -> &'static Condition {
    ALL.iter().find(|condition| condition.name == "5 s, 7 m, 180 E").unwrap()
}

fn joined(intake: Intake, options: &Options) -> Day {
    let mut days = join(intake, options);
    assert_eq!(days.len(), 1);
    days.remove(0)
}

fn remarked(day: &Day, words: &str) -> bool {
    day.remarks.iter().any(|remark| remark.to_string().contains(words))
}

/// The share of finds whose circles hold the truth.
fn held(simulated: &SimulatedDay, day: &Day) -> f64 {
    let holds = |find: &&trug::model::Find| {
        let number = &find.record.number.as_ref().unwrap().0;
        let truth = simulated.finds.iter().find(|truth| truth.number == *number).unwrap();
        find.place.as_ref().is_ok_and(|place| {
            let (east, north) = simulated.plane.to_plane(place.at);
            (east - truth.east).hypot(north - truth.north) <= place.radius.metres().0
        })
    };
    day.finds.iter().filter(holds).count() as f64 / day.finds.len() as f64
}

#[test]
fn camera_set_by_half_an_hour_has_two_offsets() {
    let mut day = simulate(condition(), 200);
    let half = day.intake.photos.len() / 2;
    for photo in &mut day.intake.photos[half..] {
        let minutes = jiff::SignedDuration::from_mins(30);
        photo.taken = photo.taken.map(|taken| taken.checked_add(minutes).unwrap());
    }
    let reported = joined(day.intake.clone(), &Options::default());
    let ahead: Vec<f64> = reported.cameras.iter().map(|clock| clock.ahead.unwrap().0).collect();
    assert_eq!(ahead.len(), 2);
    assert!((ahead[0] - condition().ahead).abs() < 30.0, "{ahead:?}");
    assert!((ahead[1] - condition().ahead - 1_800.0).abs() < 30.0, "{ahead:?}");
    assert!(
        remarked(&reported, "was put forward by 2") || remarked(&reported, "was put forward by 3")
    );
    assert!(held(&day, &reported) > 0.85, "{}", held(&day, &reported));
}

#[test]
fn step_of_the_watch_is_not_assigned_to_the_camera() {
    let mut day = simulate(condition(), 201);
    let records = &mut day.intake.records[0].records;
    let half = records.len() / 2;
    for record in &mut records[half..] {
        let earlier = |written: WrittenTime| WrittenTime {
            clock: written.clock.wrapping_sub(jiff::SignedDuration::from_mins(25)),
            ..written
        };
        record.time = record.time.map(earlier);
    }
    let reported = joined(day.intake.clone(), &Options::default());
    for clock in &reported.cameras {
        let ahead = clock.ahead.unwrap().0;
        assert!((ahead - condition().ahead).abs() < 60.0, "{ahead}");
    }
    assert!(remarked(&reported, "the written times step between"));
    // a clock that the user stated to be correct was not set
    let camera_clock = CameraClockOption::Ahead(Seconds(condition().ahead));
    let stated = joined(day.intake, &Options { camera_clock, ..Options::default() });
    assert_eq!(stated.cameras.len(), 1);
}

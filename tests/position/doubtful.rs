//! Measures days whose premises are in doubt, as people who begin with trug have them: a track that bears another
//! person's name, waypoints of earlier outings, two people without names, a watch that is off beside a right
//! camera, receivers that disagree, cameras that were reset, notes written while walking.

use std::collections::BTreeMap;

use trug::earth::zone;
use trug::join::{Options, join};
use trug::model::{
    AssociationKind, Camera, Day, Fix, Intake, Record, Segment, TimePrecision, Track, TrackFile,
    Waypoint, WrittenTime,
};
use trug::units::{LatLon, Seconds};

use super::simulation::condition::{ALL, Condition};
use super::simulation::day::{SimulatedDay, simulate};
use super::simulation::random::Random;
use super::simulation::receiver;

/// Where a find truly was, metres on its day's plane.
type Truth<'a> = BTreeMap<String, (&'a SimulatedDay, f64, f64)>;

/// What became of the days of a scenario.
#[derive(Clone, Copy, Debug, Default)]
struct Outcome {
    days: usize,
    finds: usize,
    placed: usize,
    /// Circles that hold the truth.
    held: usize,
    /// Finds more than three radii and 60 m off.
    wrong: usize,
    /// Days on which an association is refused.
    refused: usize,
    /// Days with a report of any kind on associations, conflicts, or clocks.
    reported: usize,
    /// Days with a wrong find and no report.
    unreported: usize,
}

impl Outcome {
    fn add(&mut self, days: &[Day], truth: &Truth) {
        let before = self.wrong;
        for find in days.iter().flat_map(|day| &day.finds) {
            self.finds += 1;
            let Ok(located) = &find.place else { continue };
            let (day, east, north) = truth[&find.record.number.as_ref().unwrap().0];
            let (x, y) = day.plane.to_plane(located.at);
            let (off, radius) = ((x - east).hypot(y - north), located.radius.metres().0);
            self.placed += 1;
            self.held += usize::from(off <= radius);
            self.wrong += usize::from(off > (3.0 * radius).max(60.0));
        }
        self.days += 1;
        let refused =
            days.iter().flat_map(|day| &day.associations).any(trug::model::Association::is_refusal);
        let reported = days.iter().any(|day| {
            !day.associations.is_empty() || !day.conflicts.is_empty() || !day.set_aside.is_empty()
        });
        self.refused += usize::from(refused);
        self.reported += usize::from(reported);
        self.unreported += usize::from(self.wrong > before && !reported);
    }
}

/// Where each find was.
fn truth_of<'a>(days: &[&'a SimulatedDay]) -> Truth<'a> {
    let all = days.iter().flat_map(|day| day.finds.iter().map(move |find| (*day, find)));
    all.map(|(day, find)| (find.number.clone(), (day, find.east, find.north))).collect()
}

fn read(name: &str) -> Option<u64> {
    std::env::var(name).ok()?.parse().ok()
}

/// Receivers with a fix each few seconds and ordinary errors.
fn conditions() -> impl Iterator<Item = &'static Condition> {
    let count = read("TRUG_DOUBT_RECEIVERS").unwrap_or(6) as usize;
    let some = if count > 6 { (0..ALL.len()).collect() } else { vec![4, 6, 14, 18, 19, 20] };
    some.into_iter().take(count).map(|k| &ALL[k])
}

/// Seeds of tuning are below 1,000, of testing above.
fn seeds() -> std::ops::Range<u64> {
    let from = read("TRUG_DOUBT_FROM").unwrap_or(1_000);
    from..from + read("TRUG_DOUBT_SEEDS").unwrap_or(1)
}

/// A scenario over all conditions and seeds.
#[allow(clippy::print_stdout, reason = "a report")]
fn over(name: &str, scenario: impl Fn(&Condition, u64) -> (Intake, Vec<SimulatedDay>)) -> Outcome {
    let mut outcome = Outcome::default();
    if std::env::var("TRUG_DOUBT_ONLY").is_ok_and(|only| !name.contains(&only)) {
        return outcome;
    }
    let verbose = std::env::var("TRUG_DOUBT_VERBOSE").is_ok();
    for seed in seeds() {
        for condition in conditions() {
            let (intake, days) = scenario(condition, seed);
            let joined = join(intake, &Options::default());
            let before = outcome;
            outcome.add(&joined, &truth_of(&days.iter().collect::<Vec<_>>()));
            if verbose {
                println!(
                    "    {} {seed}: placed {} held {} wrong {} refused {} reported {}",
                    condition.name,
                    outcome.placed - before.placed,
                    outcome.held - before.held,
                    outcome.wrong - before.wrong,
                    outcome.refused - before.refused,
                    outcome.reported - before.reported
                );
                for day in &joined {
                    for one in &day.associations {
                        println!("      {:?} {:?}", one.kind, one.tracks);
                    }
                    for one in &day.set_aside {
                        println!("      set aside: {one}");
                    }
                    for camera in &day.cameras {
                        println!("      {:?} {:?}", camera.ahead, camera.basis);
                    }
                }
            }
        }
    }
    println!("{name}: {outcome:?}");
    outcome
}

fn records(day: &mut SimulatedDay) -> &mut Vec<Record> {
    &mut day.intake.records[0].records
}

fn collected_by(day: &mut SimulatedDay, name: &str) {
    for record in records(day) {
        record.collector = Some(name.into());
    }
}

fn call_track(day: &mut SimulatedDay, path: &str) {
    day.intake.tracks[0].source.path = path.into();
}

/// Writes the time of some finds by a watch that is so far ahead, at a moment within the day.
fn write(
    day: &mut SimulatedDay,
    condition: &Condition,
    ahead: f64,
    at: &dyn Fn(usize) -> Option<f64>,
) {
    let place = LatLon::new(condition.latitude, condition.longitude).unwrap();
    let (_, local) = zone::at(place).unwrap();
    let start = day.start;
    for (k, record) in records(day).iter_mut().enumerate() {
        record.time = at(k).map(|second| {
            let shown = local.to_datetime(Seconds(second + ahead).after(start));
            let clock = jiff::civil::Time::new(shown.hour(), shown.minute(), 0, 0).unwrap();
            WrittenTime { clock, precision: TimePrecision::Minute }
        });
    }
}

/// Leaves the photographs of these finds out.
fn without_photographs(day: &mut SimulatedDay, of: impl Fn(usize) -> bool) {
    let mut gone = Vec::new();
    for (_, record) in records(day).iter_mut().enumerate().filter(|(k, _)| of(*k)) {
        gone.extend(std::mem::take(&mut record.photos));
    }
    day.intake.photos.retain(|photo| !gone.iter().any(|named| named.0 == photo.name()));
}

/// Moments at which notes are written in the stop of each find.
fn at_stops(day: &SimulatedDay) -> Vec<f64> {
    day.finds.iter().map(|find| find.stop.0 + 0.7 * (find.stop.1 - find.stop.0)).collect()
}

/// Moments at which notes are written on the way to the next stop.
fn on_the_way(day: &SimulatedDay, seed: u64) -> Vec<f64> {
    let mut random = Random::new(seed ^ 0x77);
    let stops: Vec<(f64, f64)> = day.way.stops.iter().map(|stop| (stop.start, stop.end)).collect();
    let of_find = |find: &super::simulation::day::TrueFind| {
        let from = find.stop.1;
        let next = stops.iter().map(|stop| stop.0).filter(|start| *start > from);
        let until = next.fold(day.way.seconds(), f64::min);
        from + random.between(0.3, 0.7) * (until - from)
    };
    day.finds.iter().map(of_find).collect()
}

/// Another walker of the same morning, with numbers, photographs and files of its own.
fn companion(condition: &Condition, seed: u64) -> SimulatedDay {
    let mut day = simulate(condition, seed + 500_009);
    for find in &mut day.finds {
        find.number = find.number.replacen('K', "L", 1);
    }
    for record in records(&mut day) {
        let number = record.number.as_mut().unwrap();
        number.0 = number.0.replacen('K', "L", 1);
        for named in &mut record.photos {
            named.0 = named.0.replacen('P', "Q", 1);
        }
    }
    for picture in &mut day.intake.photos {
        let name = picture.source.name().replacen('P', "Q", 1);
        picture.source.path = name.clone().into();
        picture.source.hash = name;
    }
    call_track(&mut day, "track-2.gpx");
    day.intake.tracks[0].source.hash = "track-2".into();
    day.intake.records[0].source.hash = "records-2".into();
    day.intake.records[0].source.path = "records-2.csv".into();
    day
}

fn body(day: &mut SimulatedDay, serial: &str) {
    for photo in &mut day.intake.photos {
        photo.camera = Camera { serial: Some(serial.into()), ..photo.camera.clone() };
    }
}

/// Both days in one intake, the records in one book or in two.
fn together(one: &mut SimulatedDay, other: &mut SimulatedDay, one_book: bool) -> Intake {
    let (a, b) = (std::mem::take(&mut one.intake), std::mem::take(&mut other.intake));
    let (mut books, more) = (a.records, b.records);
    if one_book {
        let shift = books[0].records.len() as u64;
        for mut record in more.into_iter().flat_map(|file| file.records) {
            record.line += shift;
            books[0].records.push(record);
        }
    } else {
        books.extend(more);
    }
    Intake {
        tracks: [a.tracks, b.tracks].concat(),
        photos: [a.photos, b.photos].concat(),
        records: books,
        ..Intake::default()
    }
}

/// An undated waypoint of that name at a place of the plane of the day.
fn waypoint(day: &SimulatedDay, name: &str, (east, north): (f64, f64)) -> Waypoint {
    let fix = Fix::bare(day.plane.from_plane(east, north), None);
    let name = Some(name.to_owned());
    Waypoint { fix, name, description: None, comment: None, symbol: None, averaged: None }
}

/// The same walk by a second receiver, off by so many metres and seconds.
fn second_receiver(
    day: &SimulatedDay,
    condition: &Condition,
    (east, late): (f64, f64),
    seed: u64,
) -> TrackFile {
    let mut random = Random::new(seed ^ 0x5EED);
    let record = receiver::record(condition, &day.way, &mut random);
    let fix = |&(time, x, y, hdop): &receiver::Recorded| Fix {
        hdop: Some(hdop),
        ..Fix::bare(day.plane.from_plane(x + east, y), Some(Seconds(time + late).after(day.start)))
    };
    let segments = vec![Segment { fixes: record.fixes.iter().map(fix).collect() }];
    let mut file = day.intake.tracks[0].clone();
    file.tracks = vec![Track { segments, ..Track::default() }];
    file.source.path = "second.gpx".into();
    file.source.hash = "second".into();
    file
}

/// Moves the readings of these photographs so that the first is at this time.
fn reset(day: &mut SimulatedDay, from: usize, to: jiff::civil::DateTime) {
    let first = day.intake.photos[from].taken.unwrap();
    let by = first.duration_until(to);
    for photo in &mut day.intake.photos[from..] {
        photo.taken = photo.taken.map(|taken| taken.checked_add(by).unwrap());
    }
}

fn named_after_another(
    path: &'static str,
    own: bool,
    photographs: bool,
) -> impl Fn(&Condition, u64) -> (Intake, Vec<SimulatedDay>) {
    move |condition, seed| {
        let mut ada = simulate(condition, seed);
        collected_by(&mut ada, "Ada Quillfeather");
        if !photographs {
            without_photographs(&mut ada, |_| true);
            let times = at_stops(&ada);
            write(&mut ada, condition, 0.0, &|k| Some(times[k]));
        }
        if !own {
            ada.intake.tracks = simulate(condition, seed + 500_009).intake.tracks;
        }
        call_track(&mut ada, path);
        (std::mem::take(&mut ada.intake), vec![ada])
    }
}

fn few_notes(path: &'static str) -> impl Fn(&Condition, u64) -> (Intake, Vec<SimulatedDay>) {
    move |condition, seed| {
        let mut ada = simulate(condition, seed);
        collected_by(&mut ada, "Ada Quillfeather");
        without_photographs(&mut ada, |_| true);
        let times = at_stops(&ada);
        write(&mut ada, condition, 0.0, &|k| Some(times[k]));
        records(&mut ada).truncate(4);
        ada.intake.tracks = simulate(condition, seed + 500_009).intake.tracks;
        call_track(&mut ada, path);
        (std::mem::take(&mut ada.intake), vec![ada])
    }
}

/// Finds that have a number only, and waypoints of these numbers: right ones, or those of another walk.
fn waypoints_of(
    stale: bool,
    timed: bool,
) -> impl Fn(&Condition, u64) -> (Intake, Vec<SimulatedDay>) {
    move |condition, seed| {
        let mut day = simulate(condition, seed);
        let some = |k: usize| k % 3 == 1;
        without_photographs(&mut day, some);
        let times = at_stops(&day);
        write(&mut day, condition, 0.0, &|k| (timed || !some(k)).then_some(times[k]));
        let other = simulate(condition, seed + 400_009);
        let mut random = Random::new(seed);
        for k in (0..day.finds.len()).filter(|k| some(*k)) {
            let find = if stale { &other.finds[k] } else { &day.finds[k] };
            let at = (find.east + 5.0 * random.normal(), find.north + 5.0 * random.normal());
            let point = waypoint(&day, &day.finds[k].number, at);
            day.intake.tracks[0].waypoints.push(point);
        }
        (std::mem::take(&mut day.intake), vec![day])
    }
}

/// The same where the records name the waypoints, which bear a time of the year before or none.
fn named_waypoints(
    stale: bool,
    dated: bool,
    ahead: f64,
) -> impl Fn(&Condition, u64) -> (Intake, Vec<SimulatedDay>) {
    move |condition, seed| {
        let mut day = simulate(condition, seed);
        without_photographs(&mut day, |_| true);
        let times = at_stops(&day);
        write(&mut day, condition, ahead, &|k| (k % 3 != 1).then_some(times[k]));
        let other = simulate(condition, seed + 400_009);
        let mut random = Random::new(seed);
        for k in 0..day.finds.len() {
            let find = if stale { &other.finds[k] } else { &day.finds[k] };
            let at = (find.east + 5.0 * random.normal(), find.north + 5.0 * random.normal());
            let mut point = waypoint(&day, &format!("{}", k + 1), at);
            let year_before = Seconds(600.0 * k as f64 - 31_536_000.0).after(day.start);
            point.fix.time = dated.then_some(year_before);
            day.intake.tracks[0].waypoints.push(point);
            records(&mut day)[k].waypoint = Some(format!("{}", k + 1));
        }
        (std::mem::take(&mut day.intake), vec![day])
    }
}

/// Notes at the stops of so many finds, beside the own track or that of somebody else who was out that day.
fn noted(finds: u32, own: bool) -> impl Fn(&Condition, u64) -> (Intake, Vec<SimulatedDay>) {
    move |condition, seed| {
        let condition = &Condition { finds, ..*condition };
        let mut day = simulate(condition, seed);
        without_photographs(&mut day, |_| true);
        let times = at_stops(&day);
        write(&mut day, condition, 0.0, &|k| Some(times[k]));
        if !own {
            day.intake.tracks = simulate(condition, seed + 500_009).intake.tracks;
        }
        (std::mem::take(&mut day.intake), vec![day])
    }
}

fn unnamed_pair(
    one_book: bool,
    serials: bool,
) -> impl Fn(&Condition, u64) -> (Intake, Vec<SimulatedDay>) {
    move |condition, seed| {
        let (mut ada, mut noel) = (simulate(condition, seed), companion(condition, seed));
        if serials {
            body(&mut ada, "11");
            body(&mut noel, "22");
        }
        (together(&mut ada, &mut noel, one_book), vec![ada, noel])
    }
}

fn watch_beside_camera(ahead: f64) -> impl Fn(&Condition, u64) -> (Intake, Vec<SimulatedDay>) {
    move |condition, seed| {
        let condition = &Condition { ahead: 0.0, ..*condition };
        let mut day = simulate(condition, seed);
        without_photographs(&mut day, |k| k % 2 == 1);
        let times = at_stops(&day);
        write(&mut day, condition, ahead, &|k| Some(times[k]));
        (std::mem::take(&mut day.intake), vec![day])
    }
}

fn two_receivers(
    east: f64,
    late: f64,
    photographs: bool,
    worse_leads: bool,
) -> impl Fn(&Condition, u64) -> (Intake, Vec<SimulatedDay>) {
    move |condition, seed| {
        let mut day = simulate(condition, seed);
        if !photographs {
            without_photographs(&mut day, |_| true);
            let times = at_stops(&day);
            write(&mut day, condition, 0.0, &|k| Some(times[k]));
        }
        let second = second_receiver(&day, condition, (east, late), seed);
        if worse_leads {
            // the good one has every second fix only
            let fixes = &mut day.intake.tracks[0].tracks[0].segments[0].fixes;
            let mut k = 0;
            fixes.retain(|_| {
                k += 1;
                k % 2 == 0
            });
        }
        day.intake.tracks.push(second);
        (std::mem::take(&mut day.intake), vec![day])
    }
}

fn reset_camera(
    from: Option<f64>,
    to: jiff::civil::DateTime,
    notes: bool,
) -> impl Fn(&Condition, u64) -> (Intake, Vec<SimulatedDay>) {
    move |condition, seed| {
        let mut day = simulate(condition, seed);
        let first = from.map_or(0, |share| (share * day.intake.photos.len() as f64) as usize);
        reset(&mut day, first, to);
        let times = at_stops(&day);
        write(&mut day, condition, 0.0, &|k| notes.then_some(times[k]));
        (std::mem::take(&mut day.intake), vec![day])
    }
}

#[test]
#[ignore = "a report"]
fn doubt_report() {
    over(
        "names: other's track-of-Berit, photographs",
        named_after_another("track-of-Berit.gpx", false, true),
    );
    over(
        "names: other's track-of-Berit, notes",
        named_after_another("track-of-Berit.gpx", false, false),
    );
    over("names: other's Berit/, 4 notes", few_notes("Berit/track.gpx"));
    over(
        "names: own track-of-Berit, photographs",
        named_after_another("track-of-Berit.gpx", true, true),
    );
    over(
        "names: own track-of-Berit, notes",
        named_after_another("track-of-Berit.gpx", true, false),
    );
    over("names: other's track, 4 notes", few_notes("track.gpx"));
    over("names: own, notes", named_after_another("track.gpx", true, false));
    over("waypoints: stale", waypoints_of(true, false));
    over("waypoints: stale beside times", waypoints_of(true, true));
    over("waypoints: right", waypoints_of(false, false));
    over("named waypoints: stale", named_waypoints(true, false, 0.0));
    over("named waypoints: stale, dated", named_waypoints(true, true, 0.0));
    over("named waypoints: right", named_waypoints(false, false, 0.0));
    over("named waypoints: right, a watch 15 min fast", named_waypoints(false, false, 900.0));
    for finds in [8, 12, 20, 40] {
        over(&format!("noted: own, {finds}"), noted(finds, true));
        over(&format!("noted: other's, {finds}"), noted(finds, false));
    }
    over("pair: one book, serials", unnamed_pair(true, true));
    over("pair: two books, serials", unnamed_pair(false, true));
    over("pair: one book, one model", unnamed_pair(true, false));
    over("pair: two books, one model", unnamed_pair(false, false));
    over("watch: 20 min fast beside camera", watch_beside_camera(1_200.0));
    over("watch: 12 min slow beside camera", watch_beside_camera(-720.0));
    over("watch: right beside camera", watch_beside_camera(0.0));
    over("receivers: agree", two_receivers(0.0, 0.0, true, true));
    over("receivers: 55 m, photographs", two_receivers(55.0, 0.0, true, true));
    over("receivers: 90 m, photographs", two_receivers(90.0, 0.0, true, true));
    over("receivers: 20 s, notes", two_receivers(0.0, 20.0, false, true));
    over("receivers: 120 s, notes", two_receivers(0.0, 120.0, false, true));
    over("receivers: 600 s, notes", two_receivers(0.0, 600.0, false, true));
    let of = |year: i16, hour: i8, minute: i8| jiff::civil::date(year, 1, 1).at(hour, minute, 0, 0);
    let spring = jiff::civil::date(2019, 3, 17).at(10, 14, 0, 0);
    over("reset: 2019-03-17, notes", reset_camera(None, spring, true));
    over("reset: 2019-01-01, notes", reset_camera(None, of(2019, 0, 0), true));
    over("reset: 2015, notes", reset_camera(None, of(2015, 0, 14), true));
    over("reset: 2000, no notes", reset_camera(None, of(2000, 9, 33), false));
    over("reset: 2015 midway, notes", reset_camera(Some(0.5), of(2015, 0, 1), true));
    over("reset: 2000 midway, no notes", reset_camera(Some(0.5), of(2000, 0, 2), false));
    let walking = |condition: &Condition, seed: u64| {
        let mut day = simulate(condition, seed);
        without_photographs(&mut day, |_| true);
        let times = on_the_way(&day, seed);
        write(&mut day, condition, 0.0, &|k| Some(times[k]));
        (std::mem::take(&mut day.intake), vec![day])
    };
    over("walking: own track", walking);
    let stranger = |condition: &Condition, seed: u64| {
        let (intake, days) = walking(condition, seed);
        (Intake { tracks: simulate(condition, seed + 500_009).intake.tracks, ..intake }, days)
    };
    over("walking: other's track", stranger);
    for finds in [6, 10, 20, 30] {
        let fast = move |condition: &Condition, seed: u64| {
            let condition = &Condition { finds, ..*condition };
            let mut day = simulate(condition, seed);
            without_photographs(&mut day, |_| true);
            let times = at_stops(&day);
            write(&mut day, condition, 1_200.0, &|k| Some(times[k]));
            (std::mem::take(&mut day.intake), vec![day])
        };
        over(&format!("fast: 20 min, {finds} finds"), fast);
    }
    for ahead in [-1_260.0, 720.0, 1_200.0, 2_280.0] {
        let watch = move |condition: &Condition, seed: u64| {
            let mut day = simulate(condition, seed);
            without_photographs(&mut day, |_| true);
            let times = at_stops(&day);
            write(&mut day, condition, ahead, &|k| Some(times[k]));
            (std::mem::take(&mut day.intake), vec![day])
        };
        over(&format!("watch days: {ahead}"), watch);
    }
}

/// The outcome on two receivers, of a seed for testing, and what was reported.
fn of_few(
    scenario: impl Fn(&Condition, u64) -> (Intake, Vec<SimulatedDay>),
) -> (Outcome, Vec<Day>) {
    let (mut outcome, mut all) = (Outcome::default(), Vec::new());
    for condition in [&ALL[4], &ALL[14]] {
        let (intake, days) = scenario(condition, 1_100);
        let joined = join(intake, &Options::default());
        outcome.add(&joined, &truth_of(&days.iter().collect::<Vec<_>>()));
        all.extend(joined);
    }
    (outcome, all)
}

fn kinds(days: &[Day]) -> Vec<AssociationKind> {
    days.iter().flat_map(|day| &day.associations).map(|one| one.kind).collect()
}

/// Whether a report with this code asks for an action on every day.
fn asks(days: &[Day], code: &str) -> bool {
    days.iter().all(|day| day.set_aside.iter().any(|error| error.code() == Some(code)))
}

#[test]
fn a_track_named_after_another_person_is_taken_only_with_evidence() {
    let (without, _) = of_few(few_notes("Berit/track.gpx"));
    assert_eq!((without.placed, without.refused), (0, 2), "{without:?}");
    let (with, days) = of_few(named_after_another("track-of-Berit.gpx", true, true));
    assert_eq!((with.placed, with.wrong), (with.finds, 0), "{with:?}");
    assert_eq!(kinds(&days), [AssociationKind::NamedAfterAnother; 2]);
}

#[test]
fn a_track_taken_for_its_date_only_is_reported_so() {
    let (outcome, days) = of_few(|condition, seed| {
        let mut day = simulate(condition, seed);
        without_photographs(&mut day, |_| true);
        let times = at_stops(&day);
        write(&mut day, condition, 0.0, &|k| (k == 3).then_some(times[k]));
        (std::mem::take(&mut day.intake), vec![day])
    });
    assert_eq!((outcome.placed, outcome.refused), (2, 0), "{outcome:?}");
    assert_eq!(kinds(&days), [AssociationKind::ByDateOnly; 2]);
}

#[test]
fn undated_waypoints_of_an_earlier_outing_place_nothing_and_those_of_the_day_do() {
    let (stale, days) = of_few(waypoints_of(true, false));
    assert!(stale.wrong == 0 && stale.placed * 10 <= stale.finds * 7, "{stale:?}");
    assert!(days.iter().all(|day| !day.conflicts.is_empty()));
    let (right, _) = of_few(waypoints_of(false, false));
    assert!(right.wrong == 0 && right.placed * 100 >= right.finds * 95, "{right:?}");
}

#[test]
fn waypoints_that_records_name_place_nothing_where_times_contradict_their_file() {
    for dated in [false, true] {
        let (stale, days) = of_few(named_waypoints(true, dated, 0.0));
        assert_eq!(stale.wrong, 0, "{stale:?}");
        assert!(stale.placed * 10 >= stale.finds * 6, "{stale:?}");
        assert!(days.iter().all(|day| !day.conflicts.is_empty()));
    }
    // neither do the times of a wrong watch discredit waypoints at stops
    for ahead in [0.0, 900.0] {
        let (right, _) = of_few(named_waypoints(false, false, ahead));
        assert!(right.wrong == 0 && right.placed == right.finds, "{ahead}: {right:?}");
        assert!(right.held * 100 >= right.finds * 90, "{ahead}: {right:?}");
    }
}

#[test]
fn the_lone_track_of_a_friend_is_refused_where_many_notes_match_its_stops_no_better_than_by_chance()
{
    let (own, _) = of_few(noted(40, true));
    assert_eq!((own.placed, own.refused, own.wrong), (own.finds, 0, 0), "{own:?}");
    let (other, _) = of_few(noted(40, false));
    assert_eq!((other.placed, other.refused), (0, 2), "{other:?}");
}

#[test]
fn a_camera_of_any_other_date_leaves_the_finds_to_their_written_times() {
    let spring = jiff::civil::date(2019, 3, 17).at(10, 14, 0, 0);
    for condition in [&ALL[14], &ALL[19]] {
        let (intake, day) = reset_camera(None, spring, true)(condition, 300);
        let joined = join(intake, &Options::default());
        let mut outcome = Outcome::default();
        outcome.add(&joined, &truth_of(&day.iter().collect::<Vec<_>>()));
        assert_eq!((outcome.placed, outcome.wrong), (outcome.finds, 0), "{outcome:?}");
        let cameras: Vec<_> = joined.iter().flat_map(|day| &day.cameras).collect();
        assert!(cameras.len() == 1 && cameras[0].ahead.is_none(), "{cameras:?}");
        let named = |day: &Day| day.remarks.iter().any(|note| note.to_string().contains("Ferrule"));
        assert!(joined.iter().any(named));
    }
}

#[test]
fn two_people_without_names_are_separated_by_their_cameras() {
    for one_book in [true, false] {
        let (outcome, _) = of_few(unnamed_pair(one_book, one_book));
        assert_eq!(outcome.wrong, 0, "{outcome:?}");
        assert!(outcome.placed * 10 >= 9 * outcome.finds, "{outcome:?}");
    }
}

#[test]
fn receivers_that_disagree_are_reported_and_the_radius_holds_both() {
    let (far, days) = of_few(two_receivers(55.0, 0.0, true, true));
    assert!(far.held * 100 >= 90 * far.placed && far.placed == far.finds, "{far:?}");
    assert!(asks(&days, "receivers-disagree"));
    let (late, days) = of_few(two_receivers(0.0, 600.0, false, true));
    assert_eq!(late.unreported, 0, "{late:?}");
    assert!(asks(&days, "receivers-disagree"));
    let (agree, days) = of_few(two_receivers(0.0, 0.0, true, true));
    assert!(agree.reported == 0 && days.len() == 2, "{agree:?}");
}

#[test]
fn a_camera_that_started_again_in_2015_is_set_by_the_day() {
    let first = jiff::civil::date(2015, 1, 1).at(0, 14, 0, 0);
    for from in [None, Some(0.5)] {
        let (outcome, days) = of_few(reset_camera(from, first, true));
        assert_eq!((outcome.wrong, outcome.refused), (0, 0), "{outcome:?}");
        assert!(outcome.placed * 10 >= 9 * outcome.finds, "{outcome:?}");
        let cameras = days.iter().flat_map(|day| &day.cameras);
        let years = |ahead: Seconds| ahead.0 < -11.0 * 365.0 * 86_400.0;
        let set = cameras.filter(|camera| camera.ahead.is_some_and(years));
        assert!(set.filter(|camera| camera.interval95.is_some()).count() == 2);
    }
}

#[test]
fn somebody_who_writes_on_the_way_keeps_the_track() {
    let (outcome, _) = of_few(|condition, seed| {
        let mut day = simulate(condition, seed);
        without_photographs(&mut day, |_| true);
        let times = on_the_way(&day, seed);
        write(&mut day, condition, 0.0, &|k| Some(times[k]));
        (std::mem::take(&mut day.intake), vec![day])
    });
    assert_eq!(
        (outcome.placed, outcome.refused, outcome.wrong),
        (outcome.finds, 0, 0),
        "{outcome:?}"
    );
}

#[test]
fn finds_with_written_times_only_follow_the_watch_beside_a_right_camera() {
    let (outcome, days) = of_few(watch_beside_camera(1_200.0));
    assert!(outcome.held * 100 >= 90 * outcome.placed, "{outcome:?}");
    assert!(days.iter().all(|day| !day.set_aside.is_empty()));
}

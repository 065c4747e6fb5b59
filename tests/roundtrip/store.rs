//! Data written to the store are read back; importing a day twice changes nothing; a correction
//! keeps the replaced version.

use std::fs;
use std::path::{Path, PathBuf};

use jiff::Timestamp;
use trug::model::{
    Anchor, AnchorKind, Association, AssociationEvidence, AssociationKind, Day, EvidenceKind,
    Field, FileKind, FindReference, ImportNote, LocalInstant, Located, NotLocated, OffTrack,
    RecordNumber, TrackCandidate, UnlocatedFinding, UnlocatedReason,
};
use trug::store::{FindQuery, Outcome, Store};
use trug::units::{LatLon, Metres};
use uuid::Uuid;

use crate::some_day::{self, day, place};

fn now() -> Timestamp {
    "2026-06-01T12:00:00Z".parse().unwrap()
}

fn fresh() -> (tempfile::TempDir, Store) {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::create_or_open(&folder.path().join("trug.gpkg")).unwrap();
    (folder, store)
}

fn all(store: &Store) -> Vec<trug::model::KeptFind> {
    store.finds(&FindQuery::default()).unwrap()
}

/// Both days in full, but for what the store rounds.
fn assert_same_day(before: &Day, after: &Day) {
    assert_eq!(before.outing, after.outing);
    assert_eq!(before.sources, after.sources);
    assert_eq!(before.fixes, after.fixes);
    assert_eq!(before.track, after.track);
    assert_eq!(before.stops, after.stops);
    assert_eq!(before.cameras, after.cameras);
    assert_eq!(format!("{:?}", before.photos), format!("{:?}", after.photos));
    assert_eq!(format!("{:?}", before.finds), format!("{:?}", after.finds));
    assert_eq!(format!("{:?}", before.conflicts), format!("{:?}", after.conflicts));
    assert_eq!(format!("{:?}", before.set_aside), format!("{:?}", after.set_aside));
    assert_eq!(format!("{:?}", before.remarks), format!("{:?}", after.remarks));
}

#[test]
fn a_day_comes_back_as_it_went_in() {
    let (folder, mut store) = fresh();
    let before = day("Tamsin Hale", "2026-05-03", 5);
    let reported = store.import(std::slice::from_ref(&before), now()).unwrap();
    assert_eq!(reported.days[0].outcome, Outcome::New);
    assert_eq!(reported.days[0].finds_new, 5);
    drop(store);
    let store = Store::open(&folder.path().join("trug.gpkg")).unwrap();
    assert_same_day(&before, &store.day(before.outing.id).unwrap());
    store.verify().unwrap();
    assert!(store.day(Uuid::nil()).is_err());
}

#[test]
fn finds_come_back_with_all_that_belongs_to_them() {
    let (_folder, mut store) = fresh();
    let before = day("Tamsin Hale", "2026-05-03", 5);
    store.import(std::slice::from_ref(&before), now()).unwrap();
    let finds = all(&store);
    assert_eq!(finds.len(), 5);
    for (kept, find) in finds.iter().zip(&before.finds[..4]) {
        let found: &Located = kept.place.as_ref().unwrap();
        let given = find.place.as_ref().unwrap();
        assert_eq!(found.at, given.at);
        assert_eq!((found.radius, &found.parts), (given.radius, &given.parts));
        assert_eq!(kept.record, find.record);
        assert_eq!((kept.id, kept.when), (find.id, find.when));
        assert_eq!(kept.photos.len(), 1);
        assert_eq!(kept.anchors.len(), 1);
        assert_eq!(kept.zone, "Australia/Hobart");
        assert_eq!(kept.date.to_string(), "2026-05-03");
    }
    assert_eq!(finds[4].place.as_ref().map(|place| place.at), None);
    assert!(finds[4].why_unlocated.as_ref().unwrap().contains("no time"));
    assert_eq!(finds[0].conflicts.len(), 1);
}

#[test]
fn the_same_day_twice_changes_nothing_and_says_so() {
    let (folder, mut store) = fresh();
    let days = [day("Tamsin Hale", "2026-05-03", 5), day("Orrin Pike", "2026-05-03", 3)];
    store.import(&days, now()).unwrap();
    let path = folder.path().join("trug.gpkg");
    let bytes = fs::read(&path).unwrap();
    let reported = store.import(&days, "2026-07-01T00:00:00Z".parse().unwrap()).unwrap();
    assert!(reported.changed_nothing());
    assert_eq!(reported.days[0].finds_unchanged, 5);
    assert_eq!(fs::read(&path).unwrap(), bytes, "not one byte of the file may differ");
}

#[test]
fn a_moved_folder_is_the_same_day_at_another_path() {
    let (_folder, mut store) = fresh();
    let mut moved = day("Tamsin Hale", "2026-05-03", 2);
    store.import(std::slice::from_ref(&moved), now()).unwrap();
    for photo in &mut moved.photos {
        photo.photo.source.path = PathBuf::from("attic").join(photo.photo.source.name());
    }
    for source in &mut moved.sources {
        source.path = PathBuf::from("attic").join(source.name());
    }
    let reported = store.import(std::slice::from_ref(&moved), now()).unwrap();
    assert!(reported.changed_nothing());
    assert_eq!(all(&store)[0].photos[0].path, "attic/P0000.JPG");
    assert_eq!(store.day(moved.outing.id).unwrap().sources, moved.sources);
}

/// The same day after the notebook was corrected.
fn corrected(mut day: Day) -> Day {
    day.sources[1] = some_day::source("notes.csv", FileKind::Records, "corrected");
    day.finds[0].record.name = Some("Mycena nargan".into());
    day.finds[0].record.fields.insert(Field::Smell, "of nothing".into());
    day
}

#[test]
fn why_a_find_has_no_position_is_kept_with_its_values() {
    let (_folder, mut store) = fresh();
    let mut given = day("Tamsin Hale", "2026-05-03", 3);
    let at = LocalInstant::new(now(), &jiff::tz::TimeZone::fixed(jiff::tz::offset(10)));
    let reasons = vec![
        UnlocatedReason::NoSuchWaypoint { waypoint: "12".to_owned() },
        UnlocatedReason::WrittenTimeOffTrack { at, track: OffTrack::NoTrack },
    ];
    let find = FindReference { number: Some("TH-0002".to_owned()), line: 3, in_workbook: false };
    let known = NotLocated {
        finding: UnlocatedFinding::FindNotLocated { find, reasons: reasons.clone() },
        file: Some("day/notes.csv".into()),
        line: Some(3),
        sheet: None,
    };
    given.finds[1].place = Err(known.into());
    let words = given.finds[1].place.as_ref().unwrap_err().to_string();
    store.import(std::slice::from_ref(&given), now()).unwrap();
    let kept = store.day(given.outing.id).unwrap();
    let unlocated = kept.finds[1].place.as_ref().unwrap_err();
    assert_eq!(unlocated.reasons(), reasons);
    assert_eq!(unlocated.to_string(), words);
}

#[test]
fn a_corrected_record_keeps_what_it_replaced() {
    let (_folder, mut store) = fresh();
    let first = day("Tamsin Hale", "2026-05-03", 4);
    store.import(std::slice::from_ref(&first), now()).unwrap();
    let reported = store.import(&[corrected(first.clone())], now()).unwrap();
    let reported = &reported.days[0];
    assert_eq!(reported.outcome, Outcome::Updated);
    assert_eq!((reported.finds_new, reported.finds_unchanged), (0, 3));
    assert_eq!(reported.finds_corrected[0].find, "TH-0000");
    assert_eq!(reported.finds_corrected[0].changed, ["name", "smell"]);
    let finds = all(&store);
    assert_eq!(finds.len(), 4, "a correction must not double a find");
    assert_eq!(finds[0].revision, 1);
    assert_eq!(finds[0].record.name.as_deref(), Some("Mycena nargan"));
    let history = store.history(first.finds[0].id).unwrap();
    assert_eq!(history.len(), 1);
    assert_eq!(history[0].record, first.finds[0].record);
    assert_eq!(history[0].what_changed, "name, smell");
    assert_eq!(history[0].source.as_ref().unwrap().0, "basket/notes.csv");
    assert!(store.history(first.finds[1].id).unwrap().is_empty());
}

#[test]
fn a_find_that_a_corrected_file_left_out_is_withdrawn_and_can_return() {
    let (_folder, mut store) = fresh();
    let first = day("Tamsin Hale", "2026-05-03", 4);
    store.import(std::slice::from_ref(&first), now()).unwrap();
    let mut shorter = corrected(first.clone());
    shorter.finds.remove(2);
    let reported = store.import(&[shorter], now()).unwrap();
    assert_eq!(reported.days[0].finds_withdrawn, ["TH-0002"]);
    assert_eq!(all(&store).len(), 3);
    let with = store.finds(&FindQuery { withdrawn: true, ..FindQuery::default() }).unwrap();
    assert_eq!(with.len(), 4);
    assert!(with.iter().any(|find| find.withdrawn.is_some()));
    let reported = store.import(&[first], now()).unwrap();
    assert_eq!(reported.days[0].notes, [ImportNote::Restored { find: "TH-0002".to_owned() }]);
    assert_eq!(all(&store).len(), 4);
}

#[test]
fn a_notebook_restored_to_an_earlier_text_restores_its_finds() {
    let (folder, mut store) = fresh();
    let notes = folder.path().join("notes.csv");
    std::fs::write(&notes, "any text").unwrap();
    let with_text = |text: &str, finds: usize| {
        let mut day = day("Tamsin Hale", "2026-05-03", 3);
        day.sources[1] = some_day::source("notes.csv", FileKind::Records, text);
        day.sources[1].path.clone_from(&notes);
        day.finds.truncate(finds);
        day
    };
    store.import(&[with_text("three finds", 3)], now()).unwrap();
    store.import(&[with_text("two finds", 2)], now()).unwrap();
    assert_eq!(all(&store).len(), 2);
    let reported = store.import(&[with_text("three finds", 3)], now()).unwrap();
    assert_eq!(reported.days[0].outcome, Outcome::Updated, "{reported:?}");
    assert_eq!(all(&store).len(), 3);
}

#[test]
fn a_doubtful_pairing_comes_back_and_makes_a_day_another() {
    let (_folder, mut store) = fresh();
    let mut day = day("Tamsin Hale", "2026-05-03", 2);
    store.import(std::slice::from_ref(&day), now()).unwrap();
    day.associations = vec![Association {
        kind: AssociationKind::AnotherDay,
        records: 2,
        photographs: 0,
        collector: Some("Tamsin Hale".to_owned()),
        written_dates: vec!["2026-05-04".parse().unwrap()],
        camera_dates: Vec::new(),
        gps_dates: Vec::new(),
        tracks: vec![TrackCandidate {
            files: vec!["ridge.gpx".to_owned()],
            first_date: "2026-05-03".parse().unwrap(),
            last_date: "2026-05-03".parse().unwrap(),
            probability: 0.25,
            evidence: vec![AssociationEvidence {
                kind: EvidenceKind::WrittenDate,
                log_factor: -5.5,
                count: 1,
            }],
        }],
        none: 0.75,
    }];
    let reported = store.import(std::slice::from_ref(&day), now()).unwrap();
    assert_eq!(reported.days[0].outcome, Outcome::Updated);
    assert_eq!(store.day(day.outing.id).unwrap().associations, day.associations);
}

#[test]
fn finds_kept_without_a_track_get_theirs_later_and_are_not_doubled() {
    let (_folder, mut store) = fresh();
    let whole = day("Tamsin Hale", "2026-05-03", 3);
    let mut bare = whole.clone();
    bare.outing.id = Uuid::new_v5(&whole.outing.id, b"without a track");
    bare.track.clear();
    bare.fixes.clear();
    bare.stops.clear();
    bare.sources.remove(0);
    bare.finds.iter_mut().for_each(|find| find.source = 0);
    store.import(&[bare], now()).unwrap();
    let reported = store.import(std::slice::from_ref(&whole), now()).unwrap();
    assert_eq!(reported.days[0].outcome, Outcome::Updated, "{reported:?}");
    assert_eq!(all(&store).len(), 3);
    let kept = store.day(reported.days[0].outing).unwrap();
    assert_eq!(kept.track.len(), whole.track.len());
}

#[test]
fn a_row_of_another_file_does_not_replace_measured_coordinates() {
    let (_folder, mut store) = fresh();
    let mut first = day("Tamsin Hale", "2026-05-03", 3);
    first.finds[1].record.coordinates.as_mut().unwrap().measured = true;
    let flag = Field::Other("position final".into());
    first.finds[1].record.fields.insert(flag, "yes".into());
    first.finds[1].anchors[0].kind = AnchorKind::Coordinates;
    store.import(std::slice::from_ref(&first), now()).unwrap();
    let before = all(&store)[1].clone();
    for (file, latitude) in [("another.csv", -42.9), ("third.csv", -42.8), ("another.csv", -42.7)] {
        let mut later = first.clone();
        let hash = format!("{file} {latitude}");
        later.sources[1] = some_day::source(file, FileKind::Records, &hash);
        let find = &mut later.finds[1];
        find.record.coordinates = None;
        find.record.fields.remove(&Field::Other("position final".into()));
        find.place.as_mut().unwrap().at = LatLon::clamped(latitude, 146.1);
        find.anchors.iter_mut().for_each(|anchor| anchor.at = LatLon::clamped(latitude, 146.1));
        let reported = store.import(&[later], now()).unwrap();
        let noted = reported.days[0].notes.iter().find_map(|note| match note {
            ImportNote::MeasuredCoordinatesKept { stated_in, row_in, .. } => {
                Some((stated_in, row_in))
            }
            _ => None,
        });
        let (stated_in, row_in) = noted.unwrap();
        assert_eq!(*stated_in, first.sources[1].path.to_string_lossy());
        assert!(row_in.ends_with(file), "{row_in}");
        let after = all(&store)[1].clone();
        let (now, then) =
            (after.record.coordinates.unwrap(), before.record.coordinates.clone().unwrap());
        assert_eq!((now.verbatim, now.measured), (then.verbatim, true));
        assert_eq!(after.record.fields, before.record.fields);
        assert_eq!(after.place.map(|place| place.at), before.place.as_ref().map(|place| place.at));
        let written = |anchor: &Anchor| anchor.kind == AnchorKind::Coordinates;
        let anchors = store.anchors(after.id).unwrap();
        assert!(anchors.iter().filter(|anchor| anchor.used).all(written), "{anchors:?}");
        let own = first.finds[1].anchors.iter().find(|anchor| written(anchor)).unwrap();
        assert!(anchors.iter().any(|anchor| anchor.used && anchor.at == own.at), "{anchors:?}");
    }
}

#[test]
fn a_corrected_notebook_alone_keeps_the_positions() {
    let (_folder, mut store) = fresh();
    let first = day("Tamsin Hale", "2026-05-03", 3);
    store.import(std::slice::from_ref(&first), now()).unwrap();
    let mut alone = corrected(first.clone());
    alone.outing.id = Uuid::new_v5(&Uuid::NAMESPACE_OID, b"no track, another identity");
    alone.sources.remove(0);
    alone.track.clear();
    alone.fixes.clear();
    alone.photos.clear();
    alone.cameras.clear();
    for find in &mut alone.finds {
        find.source = 0;
        find.photos.clear();
        find.anchors.clear();
        find.place = Err(trug::error::Error::input("no track").into());
    }
    alone.finds[1].record.time = None;
    let reported = store.import(&[alone], now()).unwrap();
    assert_eq!(reported.days[0].finds_corrected.len(), 2);
    let kept = ImportNote::PositionKept { find: "TH-0001".to_owned() };
    assert!(reported.days[0].notes.contains(&kept), "{reported:?}");
    assert_eq!(store.outings().unwrap().len(), 1);
    let finds = all(&store);
    assert_eq!(finds[0].place.as_ref().unwrap().at, place(0));
    assert_eq!(finds[0].record.name.as_deref(), Some("Mycena nargan"));
    assert_eq!(finds[0].photos.len(), 1);
    assert_eq!(store.track(first.outing.id).unwrap().len(), 400);
}

#[test]
fn a_collector_named_later_does_not_double_the_day() {
    let (_folder, mut store) = fresh();
    let mut nameless = day("Tamsin Hale", "2026-05-03", 3);
    nameless.outing.collector = None;
    nameless.outing.id = Uuid::new_v5(&Uuid::NAMESPACE_OID, b"nobody");
    for (number, find) in nameless.finds.iter_mut().enumerate() {
        find.id = Uuid::new_v5(&Uuid::NAMESPACE_OID, &[u8::try_from(number).unwrap()]);
    }
    store.import(std::slice::from_ref(&nameless), now()).unwrap();
    let reported = store.import(&[day("Tamsin Hale", "2026-05-03", 3)], now()).unwrap();
    assert_eq!(reported.days[0].outcome, Outcome::Updated);
    assert_eq!(reported.days[0].outing, nameless.outing.id, "an identity lasts");
    let finds = all(&store);
    assert_eq!(finds.len(), 3);
    assert_eq!(finds[0].id, nameless.finds[0].id);
    assert_eq!(finds[0].collector.as_deref(), Some("Tamsin Hale"));
}

#[test]
fn a_number_used_twice_makes_two_finds() {
    let (_folder, mut store) = fresh();
    let mut twice = day("Tamsin Hale", "2026-05-03", 3);
    twice.finds[1].id = twice.finds[0].id;
    twice.finds[1].record.number = twice.finds[0].record.number.clone();
    store.import(std::slice::from_ref(&twice), now()).unwrap();
    assert_eq!(all(&store).len(), 3);
    let reported = store.import(std::slice::from_ref(&twice), now()).unwrap();
    assert!(reported.changed_nothing());
}

#[test]
fn part_of_a_day_changes_nothing_while_the_rest_still_lies_there() {
    let (folder, mut store) = fresh();
    let mut whole = day("Tamsin Hale", "2026-05-03", 3);
    for source in &mut whole.sources {
        source.path = folder.path().join(source.name());
        fs::write(&source.path, "as it was").unwrap();
    }
    store.import(std::slice::from_ref(&whole), now()).unwrap();
    let mut part = whole.clone();
    part.sources.truncate(1);
    part.finds.clear();
    let reported = store.import(&[part.clone()], now()).unwrap();
    assert!(reported.changed_nothing());
    let [ImportNote::PartOfOuting { files, more: 0 }] = reported.days[0].notes.as_slice() else {
        panic!("{reported:?}")
    };
    assert_eq!(files, &["notes.csv"]);
    fs::remove_file(&whole.sources[1].path).unwrap();
    store.import(&[part], now()).unwrap();
    assert_eq!(all(&store).len(), 3, "finds of a file that did not come again stay");
}

#[test]
fn finds_are_asked_for_by_name_day_number_and_place() {
    let (_folder, mut store) = fresh();
    let days = [day("Tamsin Hale", "2026-05-03", 12), day("Orrin Pike", "2026-06-20", 3)];
    store.import(&days, now()).unwrap();
    let count = |query: FindQuery| store.finds(&query).unwrap().len();
    let base = FindQuery::default;
    assert_eq!(count(base()), 15);
    assert_eq!(count(FindQuery { taxon: Some("MYCENA  int".into()), ..base() }), 5);
    assert_eq!(count(FindQuery { taxon: Some("interrupta".into()), ..base() }), 0);
    assert_eq!(count(FindQuery { number: Some("th 7".into()), ..base() }), 1);
    assert_eq!(count(FindQuery { outing: Some(days[1].outing.id), ..base() }), 3);
    assert_eq!(count(FindQuery { collector: Some("orrin pike".into()), ..base() }), 3);
    assert_eq!(count(FindQuery { id: Some(days[0].finds[2].id), ..base() }), 1);
    let near = |metres: f64| Some((place(0), Metres(metres)));
    let by_hand = |metres: f64| {
        let finds = all(&store);
        let far = |at: LatLon| trug::earth::geodesic::distance(place(0), at) <= Metres(metres);
        finds.iter().filter(|find| find.place.as_ref().is_some_and(|p| far(p.at))).count()
    };
    for metres in [0.5, 15.0, 40.0, 500.0] {
        assert_eq!(count(FindQuery { near: near(metres), ..base() }), by_hand(metres));
    }
    assert_eq!(by_hand(0.5), 2);
}

#[test]
fn near_holds_across_the_date_line_and_at_the_pole() {
    let (_folder, mut store) = fresh();
    let mut far = day("Tamsin Hale", "2026-05-03", 5);
    let places = [(-17.0, 179.9995), (-17.0, -179.9995), (89.999, 10.0), (89.999, -170.0)];
    for (find, (lat, lon)) in far.finds.iter_mut().zip(places) {
        find.place.as_mut().unwrap().at = LatLon::new(lat, lon).unwrap();
    }
    store.import(&[far], now()).unwrap();
    let count = |lat, lon, metres| {
        let near = Some((LatLon::new(lat, lon).unwrap(), Metres(metres)));
        store.finds(&FindQuery { near, ..FindQuery::default() }).unwrap().len()
    };
    assert_eq!(count(-17.0, 180.0, 60.0), 2);
    assert_eq!(count(-17.0, 179.9995, 10.0), 1);
    assert_eq!(count(89.9995, 120.0, 500.0), 2);
    assert_eq!(count(89.999, 10.0, 50.0), 1);
}

#[test]
fn a_file_of_another_kind_is_refused_and_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    let refused = |path: &Path| {
        let before = fs::read(path).unwrap();
        let reported = Store::create_or_open(path).unwrap_err();
        assert_eq!(fs::read(path).unwrap(), before, "{} was touched", path.display());
        reported.to_string()
    };
    fs::write(path("notes.csv"), "number,date\n").unwrap();
    assert!(refused(&path("notes.csv")).contains("is not a GeoPackage"));

    let other = rusqlite::Connection::open(path("other.db")).unwrap();
    other.execute_batch("CREATE TABLE finds (x)").unwrap();
    drop(other);
    assert!(refused(&path("other.db")).contains("without the GeoPackage application ID"));

    let foreign = rusqlite::Connection::open(path("parcels.gpkg")).unwrap();
    foreign.pragma_update(None, "application_id", 0x4750_4B47).unwrap();
    foreign.execute_batch("CREATE TABLE gpkg_contents (x); CREATE TABLE parcels (y)").unwrap();
    drop(foreign);
    assert!(refused(&path("parcels.gpkg")).contains("that trug did not make"));

    drop(Store::create_or_open(&path("newer.gpkg")).unwrap());
    let newer = rusqlite::Connection::open(path("newer.gpkg")).unwrap();
    newer.execute("UPDATE settings SET value = '99' WHERE name = 'schema_version'", []).unwrap();
    drop(newer);
    assert!(refused(&path("newer.gpkg")).contains("made by a newer trug"));

    let reported = Store::open(&path("nowhere.gpkg")).unwrap_err().to_string();
    assert!(reported.contains("there is no store"), "{reported}");
    assert!(!path("nowhere.gpkg").exists());
}

#[test]
fn trailheads_sites_settings_and_results_are_kept() {
    let (_folder, mut store) = fresh();
    let before = day("Tamsin Hale", "2026-05-03", 4);
    store.import(std::slice::from_ref(&before), now()).unwrap();
    let gate =
        trug::store::Trailhead { name: "Gate".into(), at: place(3), notes: Some("key".into()) };
    store.keep_trailhead(&gate, now()).unwrap();
    store.keep_trailhead(&gate, now()).unwrap();
    assert_eq!(store.trailheads().unwrap(), [gate]);
    assert!(store.forget_trailhead("Gate", now()).unwrap());
    assert!(!store.forget_trailhead("Gate", now()).unwrap());

    let site = |number: i64, finds: &[usize]| trug::store::KeptSite {
        id: trug::model::SiteId(number),
        name: Some(format!("Log {number}")),
        at: place(1),
        radius: some_day::radius(20.0),
        finds: finds.iter().map(|find| before.finds[*find].id).collect(),
    };
    let sites = [site(7, &[0, 2]), site(9, &[1])];
    store.keep_sites(&sites, now()).unwrap();
    assert_eq!(store.sites().unwrap(), sites);
    let reported = store.keep_sites(&[site(7, &[0]), site(8, &[0])], now()).unwrap_err();
    assert!(reported.to_string().contains("cannot be kept"), "{reported}");
    assert_eq!(store.sites().unwrap(), sites, "a refused change leaves what was");

    store.keep_setting("schema_version", "mine").unwrap();
    assert_eq!(store.setting("schema_version").unwrap().as_deref(), Some("mine"));
    store.keep_derived("density", "inputs 1", b"picture").unwrap();
    assert_eq!(store.derived("density", "inputs 1").unwrap().as_deref(), Some(&b"picture"[..]));
    assert_eq!(store.derived("density", "inputs 2").unwrap(), None);
    store.verify().unwrap();
}

#[test]
fn tracks_are_read_in_order_of_time() {
    let (_folder, mut store) = fresh();
    let days = [day("Orrin Pike", "2026-06-20", 1), day("Tamsin Hale", "2026-05-03", 1)];
    store.import(&days, now()).unwrap();
    let ways: Vec<(Uuid, usize)> = store
        .tracks()
        .unwrap()
        .map(|way| way.map(|(outing, points)| (outing, points.len())).unwrap())
        .collect();
    assert_eq!(ways, [(days[1].outing.id, 400), (days[0].outing.id, 400)]);
    let outings = store.outings().unwrap();
    assert_eq!(outings[0].finds, 1);
    let metres = outings[0].length.unwrap().0;
    assert!((400.0..1000.0).contains(&metres), "{metres}");
}

#[test]
fn a_damaged_row_is_named_and_nothing_panics() {
    let (folder, mut store) = fresh();
    store.import(&[day("Tamsin Hale", "2026-05-03", 2)], now()).unwrap();
    let other = rusqlite::Connection::open(folder.path().join("trug.gpkg")).unwrap();
    other.execute("UPDATE anchors SET kind = 'guess' WHERE id = 2", []).unwrap();
    let reported = store.finds(&FindQuery::default()).unwrap_err().to_string();
    assert!(reported.contains("table anchors, row 2: \"guess\""), "{reported}");
}

#[test]
fn numbers_are_kept_as_written() {
    let (_folder, mut store) = fresh();
    let mut odd = day("Tamsin Hale", "2026-05-03", 2);
    let number = "=1+1\u{202e}\u{1f344}<script>";
    odd.finds[0].record.number = Some(RecordNumber(number.into()));
    store.import(&[odd], now()).unwrap();
    assert!(all(&store).iter().any(|f| f.record.number.as_ref().is_some_and(|n| n.0 == number)));
}

/// A store in the first version of the tables: one day of four finds, one of them corrected.
fn of_version_1() -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("old.gpkg");
    let packed = fs::File::open("tests/roundtrip/data/version-1.gpkg.gz").unwrap();
    let mut unpacked = fs::File::create(&path).unwrap();
    std::io::copy(&mut flate2::read::GzDecoder::new(packed), &mut unpacked).unwrap();
    (folder, path)
}

#[test]
fn a_store_of_an_older_version_is_brought_up_to_date() {
    let (_folder, path) = of_version_1();
    let mut store = Store::open(&path).unwrap();
    store.verify().unwrap();
    let finds = all(&store);
    assert_eq!(finds.len(), 4);
    assert_eq!(store.history(finds[0].id).unwrap().len(), 1);
    assert!(store.sensitivity_rules().unwrap().is_empty());
    let reported = store.import(&[corrected(day("Tamsin Hale", "2026-05-03", 4))], now()).unwrap();
    assert!(reported.changed_nothing());
    drop(store);
    let raw = rusqlite::Connection::open(&path).unwrap();
    let version: String = raw
        .query_row("SELECT value FROM settings WHERE name = 'schema_version'", [], |row| row.get(0))
        .unwrap();
    assert_eq!(version, "10");
    let (brief, _) = Store::open(&path).unwrap().brief_finds().unwrap();
    assert_eq!(brief.len(), 4);
}

#[test]
fn an_older_store_that_cannot_be_written_says_so() {
    let (_folder, path) = of_version_1();
    let mut rights = fs::metadata(&path).unwrap().permissions();
    rights.set_readonly(true);
    fs::set_permissions(&path, rights).unwrap();
    // The superuser can write anyway; then there is nothing to refuse.
    if fs::OpenOptions::new().write(true).open(&path).is_err() {
        let reported = Store::open(&path).unwrap_err().to_string();
        assert!(reported.contains("cannot be written"), "{reported}");
    }
}

#[test]
fn sensitivity_rules_are_kept() {
    use trug::model::{RuleSubject, Sensitivity, SensitivityRule, SiteId};
    let (_folder, mut store) = fresh();
    let rule = |subject, level| SensitivityRule::new(subject, level, now());
    let kind = |name: &str| RuleSubject::Taxon(name.into());
    store.keep_sensitivity_rule(&rule(kind("Hygrocybe  Graminicolor"), Sensitivity::High)).unwrap();
    store
        .keep_sensitivity_rule(&rule(kind("hygrocybe graminicolor"), Sensitivity::Extreme))
        .unwrap();
    store.keep_sensitivity_rule(&rule(RuleSubject::Site(SiteId(4)), Sensitivity::Low)).unwrap();
    store
        .keep_sensitivity_rule(&rule(RuleSubject::Find(Uuid::nil()), Sensitivity::Medium))
        .unwrap();
    let kept: Vec<(RuleSubject, Sensitivity)> = store
        .sensitivity_rules()
        .unwrap()
        .into_iter()
        .map(|rule| (rule.subject, rule.level))
        .collect();
    assert_eq!(
        kept,
        [
            (kind("hygrocybe graminicolor"), Sensitivity::Extreme),
            (RuleSubject::Site(SiteId(4)), Sensitivity::Low),
            (RuleSubject::Find(Uuid::nil()), Sensitivity::Medium),
        ]
    );
    assert!(store.drop_sensitivity_rule(&RuleSubject::Site(SiteId(4))).unwrap());
    assert!(!store.drop_sensitivity_rule(&RuleSubject::Site(SiteId(4))).unwrap());
}

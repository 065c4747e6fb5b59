//! Amendments apply on top of imports, survive them and are reversed exactly; edits by other programs
//! become amendments; imports and removals are undone.

use std::collections::BTreeMap;
use std::path::Path;

use jiff::Timestamp;
use rusqlite::Connection;
use rusqlite::types::Value;
use trug::model::{
    AmendedSubject, Authored, ChangeKind, ChangeLine, Day, Determination, Field, FileKind,
    ImportNote, KeptFind, Patch, TextProperty,
};
use trug::store::{FindQuery, NumberQuery, Outcome, Store};
use trug::units::Seconds;
use uuid::Uuid;

use crate::some_day::{self, at_second, day, place};

fn now() -> Timestamp {
    "2026-06-01T12:00:00Z".parse().unwrap()
}

fn by(reason: &str) -> Authored {
    Authored { who: Some("Iren Marrowby".into()), made: now(), reason: Some(reason.into()) }
}

fn fresh(days: &[Day]) -> (tempfile::TempDir, Store) {
    let folder = tempfile::tempdir().unwrap();
    let mut store = Store::create_or_open(&folder.path().join("trug.gpkg")).unwrap();
    store.import(days, now()).unwrap();
    (folder, store)
}

fn all(store: &Store) -> Vec<KeptFind> {
    store.finds(&FindQuery { withdrawn: true, ..FindQuery::default() }).unwrap()
}

fn of(store: &Store, id: Uuid) -> KeptFind {
    let query = FindQuery { id: Some(id), withdrawn: true, ..FindQuery::default() };
    store.finds(&query).unwrap().remove(0)
}

fn amend(store: &mut Store, find: Uuid, patch: Patch) -> i64 {
    store.amend(&[(AmendedSubject::Find(find), patch)], &by("seen")).unwrap()
}

fn host(value: &str) -> Patch {
    Patch::Text { property: TextProperty::Host, value: Some(value.into()) }
}

fn position(step: i32) -> Patch {
    let at = place(step);
    Patch::Position { latitude: at.latitude(), longitude: at.longitude(), within_m: 3.0 }
}

/// Every table that an amendment can change, without the journal.
pub(crate) fn state(path: &Path) -> BTreeMap<String, Vec<Vec<String>>> {
    let tables = [
        "finds",
        "anchors",
        "find_photographs",
        "photographs",
        "cameras",
        "outings",
        "tracks",
        "base_finds",
        "base_anchors",
        "base_find_photographs",
        "base_photographs",
        "base_cameras",
        "amended",
        "find_history",
        "sources",
        "conflicts",
        "conflict_finds",
        "reports",
    ];
    let connection = Connection::open(path).unwrap();
    tables.iter().map(|table| ((*table).to_owned(), rows(&connection, table))).collect()
}

fn rows(connection: &Connection, table: &str) -> Vec<Vec<String>> {
    let mut statement = connection.prepare(&format!("SELECT * FROM {table}")).unwrap();
    let names: Vec<String> = statement.column_names().into_iter().map(str::to_owned).collect();
    let mut found: Vec<Vec<String>> = statement
        .query_map([], |row| {
            let cell = |(place, name): (usize, &String)| {
                let value: Value = row.get(place).unwrap();
                // keys of rows that are written again
                let skipped = name == "id" && table != "finds" && table != "base_finds";
                if skipped { String::new() } else { format!("{name}={value:?}") }
            };
            Ok(names.iter().enumerate().map(cell).collect())
        })
        .unwrap()
        .map(Result::unwrap)
        .collect();
    found.sort();
    found
}

#[test]
fn amended_values_are_read_and_reversed_exactly() {
    let before = day("Tamsin Hale", "2026-05-03", 5);
    let (folder, mut store) = fresh(std::slice::from_ref(&before));
    let path = folder.path().join("trug.gpkg");
    let imported = state(&path);
    let id = before.finds[1].id;
    let first = amend(&mut store, id, position(300));
    let second = amend(&mut store, id, host("Nothofagus"));
    let third = amend(
        &mut store,
        id,
        Patch::Text {
            property: TextProperty::Field(Field::Smell),
            value: Some("of aniseed".into()),
        },
    );
    let find = of(&store, id);
    let found = find.place.unwrap();
    assert_eq!((found.at, found.radius.metres().0), (place(300), 3.0));
    assert_eq!(find.record.host.as_deref(), Some("Nothofagus"));
    assert_eq!(find.record.fields[&Field::Smell], "of aniseed");
    let names: Vec<&str> = find.amended.iter().map(|amended| amended.property.as_str()).collect();
    assert_eq!(names, ["host", "smell", "position"]);
    assert_eq!(find.amended[0].written, before.finds[1].record.host);
    assert_eq!(find.anchors.len(), 1);
    assert!(store.day(before.outing.id).is_ok());
    // in another order than they were made
    for change in [second, first, third] {
        store.undo(Some(change), &by("wrong")).unwrap();
    }
    assert_eq!(state(&path), imported);
    assert!(store.undo(Some(first), &by("again")).is_err());
    store.verify().unwrap();
}

#[test]
fn amendments_survive_imports_and_conflicts_are_reported() {
    let before = day("Tamsin Hale", "2026-05-03", 5);
    let (_folder, mut store) = fresh(std::slice::from_ref(&before));
    let id = before.finds[0].id;
    let change = amend(&mut store, id, host("Nothofagus"));
    amend(&mut store, id, position(300));
    let same = store.import(std::slice::from_ref(&before), now()).unwrap();
    assert!(same.changed_nothing());
    let mut corrected = before.clone();
    corrected.sources[1] = some_day::source("notes.csv", FileKind::Records, "corrected");
    corrected.finds[0].record.host = Some("Eucalyptus".into());
    corrected.finds[1].record.host = Some("Acacia".into());
    let reported = store.import(std::slice::from_ref(&corrected), now()).unwrap();
    assert_eq!(reported.days[0].outcome, Outcome::Updated);
    let [ImportNote::InputsDifferFromAmendment { amendment, stated, .. }] =
        reported.days[0].notes.as_slice()
    else {
        panic!("{reported:?}")
    };
    assert_eq!((*amendment, stated.as_deref()), (change, Some("Eucalyptus")));
    let find = of(&store, id);
    assert_eq!(find.record.host.as_deref(), Some("Nothofagus"));
    assert_eq!(find.place.unwrap().at, place(300));
    assert_eq!(of(&store, before.finds[1].id).record.host.as_deref(), Some("Acacia"));
    store.undo(Some(change), &by("the notebook is right")).unwrap();
    assert_eq!(of(&store, id).record.host.as_deref(), Some("Eucalyptus"));
}

#[test]
fn amended_time_and_photographs_move_the_find_along_the_track() {
    let before = day("Tamsin Hale", "2026-05-03", 5);
    let (_folder, mut store) = fresh(std::slice::from_ref(&before));
    let id = before.finds[1].id;
    let zone = store.zone(before.outing.id).unwrap();
    let clock = zone.to_datetime(at_second(120));
    amend(&mut store, id, Patch::Time { clock, within: Seconds(1.0) });
    let find = of(&store, id);
    assert_eq!(find.when.unwrap().0, at_second(120));
    let off = trug::earth::geodesic::distance(find.place.as_ref().unwrap().at, place(120));
    assert!(off.0 < 2.0, "{off}");
    // in the gap of the track: no position rather than a wrong one
    let gap = zone.to_datetime(at_second(4_000));
    amend(&mut store, id, Patch::Time { clock: gap, within: Seconds(1.0) });
    let find = of(&store, id);
    assert!(find.place.is_none());
    assert!(find.why_unlocated.unwrap().contains("outside the track"));
}

#[test]
fn photographs_move_from_one_find_to_another() {
    let before = day("Tamsin Hale", "2026-05-03", 5);
    let (_folder, mut store) = fresh(std::slice::from_ref(&before));
    let (a, b) = (before.finds[0].id, before.finds[1].id);
    let name = before.photos[0].photo.name();
    amend(&mut store, a, Patch::Photographs { add: vec![], remove: vec![name.clone()] });
    amend(&mut store, b, Patch::Photographs { add: vec![name.clone()], remove: vec![] });
    assert!(of(&store, a).photos.is_empty());
    let names: Vec<String> = of(&store, b).photos.iter().map(|photo| photo.path.clone()).collect();
    assert!(names.iter().any(|path| path.ends_with(&name)), "{names:?}");
}

#[test]
fn identifications_accumulate_and_the_last_accepted_one_is_the_name() {
    let before = day("Tamsin Hale", "2026-05-03", 3);
    let (_folder, mut store) = fresh(std::slice::from_ref(&before));
    let id = before.finds[0].id;
    let named = |name: &str, accepted| {
        Patch::Determination(Determination {
            name: name.into(),
            determiner: Some("Iren Marrowby".into()),
            accepted,
            ..Determination::default()
        })
    };
    amend(&mut store, id, named("Mycena nargan", true));
    amend(&mut store, id, named("Mycena cf. viscidocruenta", false));
    let find = of(&store, id);
    assert_eq!(find.record.name.as_deref(), Some("Mycena nargan"));
    assert_eq!(find.record.fields[&Field::IdentifiedBy], "Iren Marrowby");
    let names: Vec<(&str, bool)> =
        find.determinations.iter().map(|named| (named.name.as_str(), named.accepted)).collect();
    let written = before.finds[0].record.name.as_deref().unwrap();
    assert_eq!(
        names,
        [(written, false), ("Mycena nargan", true), ("Mycena cf. viscidocruenta", false)]
    );
}

#[test]
fn camera_clock_moves_its_photographs_and_finds() {
    let before = day("Tamsin Hale", "2026-05-03", 5);
    let (folder, mut store) = fresh(std::slice::from_ref(&before));
    let imported = state(&folder.path().join("trug.gpkg"));
    let camera = store.camera_names(before.outing.id).unwrap().remove(0);
    let subject = AmendedSubject::Camera { outing: before.outing.id, camera };
    // the photographs read 10:00:01 and the track begins at 09:00:00 local time
    let patch = Patch::CameraClock(Seconds(3_600.0 - 59.0));
    let change = store.amend(&[(subject, patch)], &by("clock photograph")).unwrap();
    let day = store.day(before.outing.id).unwrap();
    assert_eq!(day.cameras[0].ahead, Some(Seconds(3_541.0)));
    let when = day.photos[0].when.unwrap();
    assert!((Seconds::between(at_second(60), when).0 - 0.25).abs() < 0.01, "{when}");
    assert!(day.photos[0].at.is_some());
    store.undo(Some(change), &by("wrong")).unwrap();
    assert_eq!(state(&folder.path().join("trug.gpkg")), imported);
}

#[test]
fn find_moves_to_another_outing_and_back() {
    let days = [day("Tamsin Hale", "2026-05-03", 4), day("Tamsin Hale", "2026-05-10", 3)];
    let (folder, mut store) = fresh(&days);
    let imported = state(&folder.path().join("trug.gpkg"));
    let id = days[0].finds[1].id;
    let change = amend(&mut store, id, Patch::Outing(days[1].outing.id));
    let find = of(&store, id);
    assert_eq!((find.outing, find.date.to_string().as_str()), (days[1].outing.id, "2026-05-10"));
    for outing in [&days[0], &days[1]] {
        let day = store.day(outing.outing.id).unwrap();
        assert_eq!(day.finds.len(), if outing.outing.id == find.outing { 4 } else { 3 });
    }
    // importing either day again leaves it there
    let mut corrected = days[1].clone();
    corrected.finds[0].record.host = Some("Acacia".into());
    corrected.sources[1] = some_day::source("notes.csv", FileKind::Records, "corrected");
    store.import(&[corrected], now()).unwrap();
    assert_eq!(of(&store, id).outing, days[1].outing.id);
    store.undo(None, &by("the import")).unwrap();
    assert_eq!(of(&store, id).outing, days[1].outing.id);
    store.undo(Some(change), &by("wrong day")).unwrap();
    assert_eq!(state(&folder.path().join("trug.gpkg")), imported);
}

#[test]
fn imports_and_removals_are_undone_and_done_again() {
    let before = day("Tamsin Hale", "2026-05-03", 5);
    let (folder, mut store) = fresh(std::slice::from_ref(&before));
    let path = folder.path().join("trug.gpkg");
    amend(&mut store, before.finds[0].id, host("Nothofagus"));
    let first = state(&path);
    let mut corrected = before.clone();
    corrected.sources[1] = some_day::source("notes.csv", FileKind::Records, "corrected");
    corrected.finds.remove(2);
    corrected.finds[1].record.name = Some("Laccaria".into());
    store.import(&[corrected], now()).unwrap();
    let second = state(&path);
    assert_ne!(first, second);
    let import = store.changes().unwrap().last().unwrap().id;
    let undone = store.undo(Some(import), &by("wrong notebook")).unwrap();
    assert_eq!(state(&path), first);
    store.undo(Some(undone.id), &by("right after all")).unwrap();
    assert_eq!(state(&path), second);
    let removed = store.remove_outings(&[before.outing.id], &by("not mine")).unwrap();
    assert!(all(&store).is_empty());
    assert!(store.undo(Some(import), &by("too early")).is_err(), "the removal is later");
    store.undo(Some(removed), &by("mine")).unwrap();
    assert_eq!(state(&path), second);
    store.remove_outings(&[before.outing.id], &by("not mine")).unwrap();
    assert!(store.compact().unwrap() > 0);
    let lost = store.undo(None, &by("mine")).unwrap_err();
    assert!(lost.why().unwrap().contains("compact"), "{lost}");
    store.verify().unwrap();
    // imported again, the amendment applies again
    store.import(std::slice::from_ref(&before), now()).unwrap();
    assert_eq!(of(&store, before.finds[0].id).record.host.as_deref(), Some("Nothofagus"));
}

#[test]
fn edits_by_another_program_become_amendments() {
    let before = day("Tamsin Hale", "2026-05-03", 5);
    let (folder, store) = fresh(std::slice::from_ref(&before));
    drop(store);
    let path = folder.path().join("trug.gpkg");
    let (edited, deleted) = (before.finds[0].id, before.finds[1].id);
    let moved = edit(&path, edited, deleted);
    let mut store = Store::open(&path).unwrap();
    let find = of(&store, edited);
    assert_eq!(find.record.host.as_deref(), Some("Acacia"));
    assert_eq!(find.place.as_ref().unwrap().at, moved);
    let amended: Vec<&str> = find.amended.iter().map(|one| one.property.as_str()).collect();
    assert_eq!(amended, ["host", "position"]);
    assert!(of(&store, deleted).withdrawn.is_some());
    assert_eq!(of(&store, deleted).photos.len(), 1, "nothing of it is lost");
    let changes = store.changes().unwrap();
    assert_eq!(changes.last().unwrap().kind, ChangeKind::Gis);
    // the next import does not revert them
    let mut corrected = before.clone();
    corrected.sources[1] = some_day::source("notes.csv", FileKind::Records, "corrected");
    corrected.finds[0].record.substrate = Some("wood".into());
    store.import(&[corrected], now()).unwrap();
    let find = of(&store, edited);
    assert_eq!(find.record.host.as_deref(), Some("Acacia"));
    assert_eq!(find.record.substrate.as_deref(), Some("wood"));
    assert_eq!(find.place.unwrap().at, moved);
    assert!(of(&store, deleted).withdrawn.is_some());
    store.undo(Some(changes.last().unwrap().id), &by("a slip in the GIS")).unwrap();
    assert!(of(&store, deleted).withdrawn.is_none());
    assert_eq!(of(&store, edited).record.host, before.finds[0].record.host);
    store.verify().unwrap();
}

/// A connection as a GIS has it: with its own functions of the spatial index and foreign keys on.
pub(crate) fn as_a_gis(path: &Path) -> Connection {
    let gis = Connection::open(path).unwrap();
    for (name, place) in
        [("ST_IsEmpty", 9), ("ST_MinX", 0), ("ST_MaxX", 0), ("ST_MinY", 1), ("ST_MaxY", 1)]
    {
        let flags = rusqlite::functions::FunctionFlags::SQLITE_UTF8;
        gis.create_scalar_function(name, 1, flags, move |context| {
            let blob = context.get_raw(0).as_blob_or_null()?.map(<[u8]>::to_vec);
            let side = |blob: Vec<u8>, place: usize| {
                f64::from_le_bytes(blob[13 + 8 * place..21 + 8 * place].try_into().unwrap())
            };
            Ok(blob.map(|blob| if place == 9 { 0.0 } else { side(blob, place) }))
        })
        .unwrap();
    }
    gis.pragma_update(None, "foreign_keys", true).unwrap();
    gis
}

/// Edits the host of a find, or deletes the find.
pub(crate) fn edit_host_or_delete(path: &Path, find: Uuid, host: Option<i32>) {
    let gis = as_a_gis(path);
    match host {
        Some(host) => gis.execute(
            "UPDATE finds SET host = 'edited ' || ?1 WHERE uuid = ?2",
            (host, find.to_string()),
        ),
        None => gis.execute("DELETE FROM finds WHERE uuid = ?1", [find.to_string()]),
    }
    .unwrap();
}

/// A point as a GIS writes it.
fn blob(longitude: f64, latitude: f64) -> Vec<u8> {
    let mut blob: Vec<u8> = b"GP\0\x01".to_vec();
    blob.extend(4326_i32.to_le_bytes());
    blob.extend([1, 1, 0, 0, 0]);
    blob.extend(longitude.to_le_bytes());
    blob.extend(latitude.to_le_bytes());
    blob
}

/// What opening the store refuses and takes over of the edits that this statement makes of one find.
fn taken_in(path: &Path, set: &str, geom: Option<&[u8]>, find: Uuid) -> (Vec<String>, Vec<String>) {
    let gis = as_a_gis(path);
    let statement = format!("UPDATE finds SET {set} WHERE uuid = ?2 AND ?1 IS ?1");
    assert_eq!(gis.execute(&statement, (geom, find.to_string())).unwrap(), 1, "{set}");
    drop(gis);
    let store = Store::open(path).unwrap();
    store.verify().unwrap();
    let change = store.change(store.taken_in().unwrap()).unwrap().unwrap();
    let property = |line: &ChangeLine| line.property.clone();
    let (refused, taken): (Vec<_>, Vec<_>) =
        change.amendments.iter().partition(|line| line.refused.is_some());
    (refused.into_iter().map(property).collect(), taken.into_iter().map(property).collect())
}

#[test]
fn edits_that_no_find_can_have_are_refused() {
    let before = day("Tamsin Hale", "2026-05-03", 5);
    let (folder, store) = fresh(std::slice::from_ref(&before));
    drop(store);
    let path = folder.path().join("trug.gpkg");
    let find = before.finds[1].id;
    let was = state(&path);
    let at = place(40);
    let (exchanged, far) = (blob(at.latitude(), at.longitude()), blob(0.0, 0.0));
    let metres = blob(16_280_000.0, -5_200_000.0);
    let near = blob(at.longitude(), at.latitude());
    for (set, geom, refused) in [
        ("geom = ?1", Some(&exchanged[..]), "position"),
        ("geom = ?1", Some(&far[..]), "position"),
        ("geom = ?1", Some(&metres[..]), "position"),
        ("radius95_m = -5.0", None, "position"),
        ("radius95_m = 1e9", None, "position"),
        ("record_number = ' '", None, "number"),
        ("collector = NULL", None, "collector"),
        ("found_time = 'noon'", None, "time"),
        ("found_time = '1994-01-02T03:04:05Z'", None, "time"),
        ("found_time = NULL", None, "time"),
        ("scientific_name = '?? 17'", None, "determination"),
        ("withdrawn = 'perhaps'", None, "withdrawn"),
    ] {
        assert_eq!(taken_in(&path, set, geom, find), (vec![refused.to_owned()], vec![]), "{set}");
        assert_eq!(state(&path), was, "{set}");
    }
    // several at once, the possible one is taken over
    let set = "geom = ?1, found_time = 'noon', radius95_m = 6.5, host = 'Acacia'";
    let (refused, taken) = taken_in(&path, set, Some(&metres), find);
    assert_eq!((refused, taken), (vec!["position".into(), "time".into()], vec!["host".into()]));
    let (refused, taken) = taken_in(&path, "geom = ?1", Some(&near), find);
    assert_eq!((refused, taken), (vec![], vec!["position".into()]));
    // no geometry is no position; a new point needs its radius
    assert_eq!(taken_in(&path, "geom = NULL", None, find), (vec![], vec!["position".into()]));
    assert!(of(&Store::open(&path).unwrap(), find).place.is_none());
    let (refused, taken) = taken_in(&path, "geom = ?1", Some(&near), find);
    assert_eq!((refused, taken), (vec!["position".into()], vec![]));
    let (refused, taken) = taken_in(&path, "geom = ?1, radius95_m = 7", Some(&near), find);
    assert_eq!((refused, taken), (vec![], vec!["position".into()]));
}

#[test]
fn without_a_track_an_edited_position_is_compared_with_the_other_finds() {
    let mut before = day("Tamsin Hale", "2026-05-03", 5);
    before.track.clear();
    let (folder, store) = fresh(std::slice::from_ref(&before));
    drop(store);
    let path = folder.path().join("trug.gpkg");
    let find = before.finds[1].id;
    let (refused, _) = taken_in(&path, "geom = ?1", Some(&blob(-42.5, 46.25)), find);
    assert_eq!(refused, ["position"]);
    let (refused, taken) = taken_in(&path, "geom = ?1", Some(&blob(146.4, -42.6)), find);
    assert_eq!((refused, taken), (vec![], vec!["position".into()]));
}

/// Moves a find and edits its host, deletes another and tries to delete the outing.
fn edit(path: &Path, edited: Uuid, deleted: Uuid) -> trug::units::LatLon {
    let gis = as_a_gis(path);
    let at = place(350);
    let blob = blob(at.longitude(), at.latitude());
    let changed = gis
        .execute(
            "UPDATE finds SET geom = ?1, host = 'Acacia', notes = notes WHERE uuid = ?2",
            (blob, edited.to_string()),
        )
        .unwrap();
    assert_eq!(changed, 1);
    assert_eq!(gis.execute("DELETE FROM finds WHERE uuid = ?1", [deleted.to_string()]).unwrap(), 1);
    assert!(gis.execute("DELETE FROM outings", []).is_err());
    at
}

#[test]
fn finds_are_looked_up_by_number_however_it_is_written() {
    let days = [day("Tamsin Hale", "2026-05-03", 4), day("Tamsin Hale", "2026-05-10", 3)];
    let (_folder, store) = fresh(&days);
    let number = days[0].finds[2].record.number.clone().unwrap().0;
    let query = |number: &str, day: Option<&str>| NumberQuery {
        number: number.to_owned(),
        day: day.map(|day| day.parse().unwrap()),
        collector: None,
    };
    let anywhere = store.finds_of_number(&query(&number, None)).unwrap();
    assert_eq!(anywhere.len(), 2);
    let one = store.finds_of_number(&query(&number.to_lowercase(), Some("2026-05-03"))).unwrap();
    assert_eq!(one.len(), 1);
    let id = one[0].id.to_string();
    assert_eq!(store.finds_of_number(&query(&id[..13], None)).unwrap()[0].id, one[0].id);
    assert!(store.finds_of_number(&query("no such", None)).unwrap().is_empty());
}

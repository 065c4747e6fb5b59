//! Summaries for analyses over all years agree with the full data and are never outdated.

use jiff::Timestamp;
use rusqlite::Connection;
use trug::model::{Authored, KeptFind, SiteId, TrackPoint};
use trug::store::{BriefFind, FindQuery, SiteMembers, Store};
use trug::units::{LatLon, Seconds};

use crate::some_day::{day, radius};

fn now() -> Timestamp {
    "2026-06-01T12:00:00Z".parse().unwrap()
}

fn store() -> (tempfile::TempDir, Store) {
    let folder = tempfile::tempdir().unwrap();
    let mut store = Store::create_or_open(&folder.path().join("a.gpkg")).unwrap();
    let days = [day("Tamsin Hale", "2026-05-04", 30), day("Ivo Marsh", "2026-05-03", 12)];
    store.import(&days, now()).unwrap();
    (folder, store)
}

fn same(brief: &BriefFind, whole: &KeptFind) {
    assert_eq!((brief.id, brief.outing, brief.date), (whole.id, whole.outing, whole.date));
    assert_eq!(brief.when, whole.when.map(|(when, _)| when));
    assert_eq!(brief.place, whole.place.as_ref().map(|place| (place.at, place.radius)));
    let height = whole.place.as_ref().and_then(|place| place.height);
    assert_eq!(brief.height, height.map(|height| height.0.0));
    assert_eq!(brief.number.as_deref(), whole.record.number.as_ref().map(|n| n.0.as_str()));
    assert_eq!(brief.name.as_deref(), whole.record.name.as_deref());
}

fn agrees(store: &Store) -> String {
    let whole = store.finds(&FindQuery::default()).unwrap();
    let (brief, mark) = store.brief_finds().unwrap();
    assert_eq!(brief.len(), whole.len());
    assert!(brief.is_sorted_by_key(|find| (find.date, find.when)));
    for outing in store.outings().unwrap() {
        let brief = brief.iter().filter(|find| find.outing == outing.id);
        let whole = whole.iter().filter(|find| find.outing == outing.id);
        brief.zip(whole).for_each(|(brief, whole)| same(brief, whole));
    }
    mark
}

#[test]
fn brief_finds_are_the_finds_in_their_order() {
    let (_folder, store) = store();
    assert_eq!(agrees(&store), agrees(&store));
}

/// Another program, with the functions of a GIS, unaware of cached results.
fn elsewhere(store: &Store) -> Connection {
    let other = Connection::open(store.path()).unwrap();
    for name in ["ST_IsEmpty", "ST_MinX", "ST_MaxX", "ST_MinY", "ST_MaxY"] {
        let flags = rusqlite::functions::FunctionFlags::SQLITE_UTF8;
        other.create_scalar_function(name, 1, flags, |_| Ok(0)).unwrap();
    }
    other
}

#[test]
fn what_another_program_edits_is_read_again() {
    let (_folder, store) = store();
    let mut marks = vec![agrees(&store)];
    let other = elsewhere(&store);
    let edits = [
        "UPDATE finds SET scientific_name = 'Edited elsewhere' WHERE id = 3",
        "UPDATE finds SET radius95_m = 77.5 WHERE id = 4",
        "UPDATE finds SET withdrawn = '2026-06-02T00:00:00.000Z' WHERE id = 5",
        "UPDATE finds SET geom = (SELECT geom FROM finds WHERE id = 7) WHERE id = 6",
        "DELETE FROM finds WHERE id = 8",
    ];
    for edit in edits {
        assert_eq!(other.execute(edit, []).unwrap(), 1, "{edit}");
        marks.push(agrees(&store));
    }
    marks.sort();
    marks.dedup();
    assert_eq!(marks.len(), edits.len() + 1, "{marks:?}");
}

fn where_at(points: &[TrackPoint], when: Timestamp) -> LatLon {
    let after = points.partition_point(|point| point.time <= when).clamp(1, points.len() - 1);
    let (a, b) = (&points[after - 1], &points[after]);
    let share = Seconds::between(a.time, when).0 / Seconds::between(a.time, b.time).0;
    LatLon::clamped(
        a.at.latitude() + share * (b.at.latitude() - a.at.latitude()),
        a.at.longitude() + share * (b.at.longitude() - a.at.longitude()),
    )
}

#[test]
fn track_summaries_agree_with_full_tracks() {
    let (_folder, store) = store();
    let mut ways = 0;
    for packed in store.brief_ways().unwrap() {
        let packed = packed.unwrap();
        let (brief, whole) = (packed.unpack().unwrap(), store.track(packed.outing).unwrap());
        assert!(brief.points.len() <= whole.len());
        for point in &whole {
            let at = where_at(&brief.points, point.time);
            let off = trug::earth::geodesic::distance(at, point.at);
            assert!(off.0 < 0.27, "{off} at {}", point.time);
        }
        ways += 1;
    }
    assert_eq!(ways, 2);
}

#[test]
fn changed_track_is_thinned_again() {
    let (_folder, store) = store();
    let count = || store.brief_ways().unwrap().count();
    let other = elsewhere(&store);
    other.execute("UPDATE track_points SET packed = packed WHERE outing_id = 1", []).unwrap();
    assert_eq!(count(), 1);
    let mut reported = Vec::new();
    store.make_brief_ways(|done, of| reported.push((done, of))).unwrap();
    assert_eq!((count(), reported), (2, vec![(1, 1)]));
    other.execute("UPDATE track_points SET packed = x'00' WHERE outing_id = 1", []).unwrap();
    let refused = store.make_brief_ways(|_, _| ()).unwrap_err().to_string();
    assert!(refused.contains("cannot be read"), "{refused}");
}

#[test]
fn sites_stand_for_what_they_were_made_for_until_somebody_edits_them() {
    let (_folder, mut store) = store();
    let mut rows: Vec<i64> = store.brief_finds().unwrap().0.iter().map(|find| find.key).collect();
    rows.sort_unstable();
    let site = |id: i64, finds: &[i64]| SiteMembers {
        id: SiteId(id),
        name: (id == 2).then(|| "old log".to_owned()),
        at: LatLon::clamped(-42.5, 146.25),
        radius: radius(9.0),
        finds: finds.to_vec(),
    };
    let first = [site(1, &rows[..2]), site(2, &rows[2..5]), site(3, &rows[5..6])];
    store.change_sites(&first, &[], "a", now()).unwrap();
    assert_eq!(store.site_members().unwrap(), first);
    assert!(store.sites_made_for("a").unwrap() && !store.sites_made_for("b").unwrap());
    // a find moves from one site to another, and a site is removed
    let changed = [site(1, &rows[..3]), site(2, &rows[3..5])];
    store.change_sites(&changed, &[SiteId(3)], "b", now()).unwrap();
    assert_eq!(store.site_members().unwrap(), changed);
    assert!(store.sites_made_for("b").unwrap());
    store.name_site(SiteId(1), Some("upper gate")).unwrap();
    assert!(store.sites_made_for("b").unwrap(), "a name changes no place");
    let reported = store.name_site(SiteId(1), Some("old log")).unwrap_err().to_string();
    assert!(reported.contains("site 1"), "{reported}");
    let other = elsewhere(&store);
    other.execute("UPDATE sites SET radius95_m = 3 WHERE id = 1", []).unwrap();
    assert!(!store.sites_made_for("b").unwrap());
}

#[test]
fn site_that_lost_a_find_with_its_outing_states_the_finds_it_has() {
    let (_folder, mut store) = store();
    let (finds, _) = store.brief_finds().unwrap();
    let (gone, stays) = (finds[0].outing, finds.iter().find(|find| find.outing != finds[0].outing));
    let mut rows = vec![finds[0].key, stays.unwrap().key];
    rows.sort_unstable();
    let site = |finds: Vec<i64>| SiteMembers {
        id: SiteId(1),
        name: None,
        at: LatLon::clamped(-42.5, 146.25),
        radius: radius(9.0),
        finds,
    };
    store.change_sites(&[site(rows)], &[], "a", now()).unwrap();
    let stated = |store: &Store| -> i64 {
        let select = "SELECT find_count FROM sites WHERE id = 1";
        elsewhere(store).query_row(select, [], |row| row.get(0)).unwrap()
    };
    assert_eq!(stated(&store), 2);
    let by = Authored { who: None, made: now(), reason: None };
    store.remove_outings(&[gone], &by).unwrap();
    store.change_sites(&[], &[], "b", now()).unwrap();
    assert_eq!(stated(&store), 1);
    // a store of an earlier version states the former number
    elsewhere(&store).execute("UPDATE sites SET find_count = 2", []).unwrap();
    assert!(!store.sites_made_for("b").unwrap());
}

//! Damages every page of a store in turn: the quick check or the full check detects it.

use std::fs;

use trug::store::Store;

use crate::some_day::day;

/// The default page size of the database.
const PAGE: usize = 4_096;

#[test]
fn damaged_page_is_detected() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.gpkg");
    let mut store = Store::create_or_open(&path).unwrap();
    store
        .import(&[day("Tamsin Hale", "2026-05-11", 40)], "2026-06-01T12:00:00Z".parse().unwrap())
        .unwrap();
    drop(store);
    let whole = fs::read(&path).unwrap();
    let sound = Store::open_to_inspect(&path).unwrap().inspect();
    assert_eq!((sound.findings.as_slice(), sound.finds), (&[][..], 40));
    assert!(sound.outings == 1 && sound.fixes > 0 && sound.shapes > 40, "{sound:?}");
    let (mut at_once, mut unnoticed) = (0, Vec::new());
    let pages = whole.len() / PAGE;
    for page in 0..pages {
        let mut damaged = whole.clone();
        damaged[page * PAGE..(page + 1) * PAGE].fill(0x5a);
        if damaged == whole {
            continue;
        }
        fs::write(&path, &damaged).unwrap();
        let noticed = Store::open(&path).is_err();
        at_once += usize::from(noticed);
        let found = Store::open_to_inspect(&path)
            .map_or(true, |store| !store.inspect().findings.is_empty());
        if !noticed && !found {
            unnoticed.push(page);
        }
        assert_eq!(fs::read(&path).unwrap(), damaged, "looking changes nothing");
    }
    assert_eq!(unnoticed, [0; 0], "pages of {pages}");
    assert!(10 * at_once >= 9 * pages, "{at_once} of {pages} pages are noticed by every command");
}

#[test]
fn damage_by_another_program_is_reported() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.gpkg");
    let spoilt_by = |sql: &str| {
        let _ = fs::remove_file(&path);
        let mut store = Store::create_or_open(&path).unwrap();
        store
            .import(&[day("Tamsin Hale", "2026-05-11", 5)], "2026-06-01T12:00:00Z".parse().unwrap())
            .unwrap();
        drop(store);
        let other = rusqlite::Connection::open(&path).unwrap();
        let triggers: Vec<String> = other
            .prepare("SELECT name FROM sqlite_master WHERE type = 'trigger'")
            .unwrap()
            .query_map([], |row| row.get(0))
            .unwrap()
            .map(Result::unwrap)
            .collect();
        for trigger in triggers {
            other.execute_batch(&format!("DROP TRIGGER \"{trigger}\"")).unwrap();
        }
        other.execute_batch(sql).unwrap();
        drop(other);
        let findings = Store::open_to_inspect(&path).unwrap().inspect().findings;
        findings.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")
    };
    assert_eq!(spoilt_by("SELECT 1"), "");
    let reported = spoilt_by("UPDATE finds SET geom = x'4750' WHERE id = 3");
    assert!(reported.contains("table finds, row 3: its geometry cannot be read"), "{reported}");
    let reported = spoilt_by("DELETE FROM rtree_finds_geom WHERE id = 2");
    assert!(
        reported.contains("table finds, row 2: the spatial index has no entry for it"),
        "{reported}"
    );
    let reported = spoilt_by("UPDATE rtree_finds_geom SET minx = 0, maxx = 1 WHERE id = 2");
    assert!(reported.contains("row 2: the spatial index has another position"), "{reported}");
    let reported = spoilt_by("INSERT INTO rtree_finds_geom VALUES (999, 0, 1, 0, 1)");
    assert!(reported.contains("1 entries without a row"), "{reported}");
    let reported = spoilt_by("PRAGMA foreign_keys = OFF; DELETE FROM outings");
    assert!(reported.contains("refers to a missing row of outings"), "{reported}");
    let reported = spoilt_by("UPDATE fixes SET packed = x'00'");
    assert!(reported.contains("fixes"), "{reported}");
}

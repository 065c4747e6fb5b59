//! Two stores become one: outings, amendments, sensitivity and what was published, each once; conflicts are
//! listed.

use std::path::PathBuf;

use jiff::Timestamp;
use trug::model::{
    AmendedSubject, Authored, Day, FileKind, KeptFind, MergeConflict, Patch, RuleSubject,
    Sensitivity, SensitivityRule, TextProperty,
};
use trug::store::{FindQuery, Merged, Outcome, Store};

use crate::amended::{as_a_gis, edit_host_or_delete, state};
use crate::some_day::{self, day, place};

struct Desk {
    _folder: tempfile::TempDir,
    path: PathBuf,
    store: Store,
}

fn at(time: &str) -> Timestamp {
    format!("2026-06-01T{time}:00Z").parse().unwrap()
}

fn by(time: &str) -> Authored {
    Authored { who: None, made: at(time), reason: Some("seen".into()) }
}

impl Desk {
    fn with(days: &[Day]) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("trug.gpkg");
        let mut store = Store::create_or_open(&path).unwrap();
        store.import(days, at("08:00")).unwrap();
        Self { _folder: folder, path, store }
    }

    fn amend(&mut self, day: &Day, find: usize, patch: Patch, time: &str) {
        self.store.amend(&[(AmendedSubject::Find(day.finds[find].id), patch)], &by(time)).unwrap();
    }

    fn rule(&mut self, subject: RuleSubject, level: Sensitivity) {
        let rule = SensitivityRule {
            subject,
            level,
            reason: None,
            since: at("09:00"),
            in_advance: false,
            bound: Vec::new(),
        };
        self.store.keep_sensitivity_rule(&rule).unwrap();
    }

    fn merge(&mut self, other: &Self) -> Merged {
        self.store.merge(&other.path, &by("20:00")).unwrap()
    }

    fn finds(&self) -> Vec<KeptFind> {
        let mut finds =
            self.store.finds(&FindQuery { withdrawn: true, ..FindQuery::default() }).unwrap();
        for find in &mut finds {
            find.amended.iter_mut().for_each(|amended| amended.change = 0);
            for (_, basis) in &mut find.anchors {
                basis.truncate(basis.find("amendment").unwrap_or(basis.len()));
            }
        }
        finds
    }
}

impl Desk {
    /// Another store with the same content, which goes its own way from here.
    fn copy(&self) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("trug.gpkg");
        std::fs::copy(&self.path, &path).unwrap();
        let store = Store::open(&path).unwrap();
        Self { _folder: folder, path, store }
    }

    fn host_of(&self, day: &Day, find: usize) -> Option<String> {
        let id = day.finds[find].id;
        self.finds().into_iter().find(|find| find.id == id).unwrap().record.host
    }

    fn shown(&self) -> Vec<String> {
        self.finds().iter().map(|find| format!("{find:?}")).collect()
    }
}

fn host(value: &str) -> Patch {
    Patch::Text { property: TextProperty::Host, value: Some(value.into()) }
}

fn position(step: i32) -> Patch {
    let at = place(step);
    Patch::Position { latitude: at.latitude(), longitude: at.longitude(), within_m: 3.0 }
}

fn days() -> [Day; 2] {
    [day("Tamsin Hale", "2026-05-03", 4), day("Orrin Pike", "2026-05-10", 3)]
}

#[test]
fn merging_either_way_gives_the_same_finds_and_merging_again_changes_nothing() {
    let [first, second] = days();
    let mut a = Desk::with(std::slice::from_ref(&first));
    let mut b = Desk::with(&[first.clone(), second.clone()]);
    a.amend(&first, 0, host("Nothofagus"), "10:00");
    a.amend(&first, 1, host("Acacia"), "12:00");
    b.amend(&first, 1, host("Eucalyptus"), "11:00");
    b.amend(&second, 0, position(300), "11:00");
    let theirs = std::fs::read(&b.path).unwrap();
    let merged = a.merge(&b);
    assert_eq!(std::fs::read(&b.path).unwrap(), theirs, "the other store is only read");
    let counts =
        (merged.outings_added, merged.outings_same, merged.finds_added, merged.changes_added);
    assert_eq!(counts, (1, 1, 3, 2));
    assert_eq!(merged.conflicts.len(), 1, "{:?}", merged.conflicts);
    let MergeConflict::Amendments(found) = &merged.conflicts[0] else {
        panic!("{:?}", merged.conflicts)
    };
    let mut values = [found.here.as_str(), found.there.as_str()];
    values.sort_unstable();
    assert_eq!(values, ["Acacia", "Eucalyptus"]);
    let find = a.finds().into_iter().find(|find| find.id == first.finds[1].id).unwrap();
    assert_eq!(find.record.host.as_deref(), Some("Acacia"), "the later one is in force");
    a.store.verify().unwrap();
    let once = state(&a.path);
    let again = a.merge(&b);
    assert_eq!((again.change, again.outings_added, again.changes_added), (None, 0, 0));
    assert_eq!(state(&a.path), once);
    b.merge(&a);
    assert_eq!(a.shown(), b.shown());
    // importing the merged day from its files finds it unchanged
    let imported = a.store.import(std::slice::from_ref(&second), at("21:00")).unwrap();
    assert_eq!(imported.days[0].outcome, Outcome::Unchanged);
    a.store.undo(merged.change, &by("22:00")).unwrap();
    assert_eq!(a.finds().len(), 4);
    let removed = a.merge(&b);
    assert_eq!((removed.outings_added, removed.conflicts.len()), (0, 1), "{:?}", removed.conflicts);
}

#[test]
fn undo_in_the_other_store_is_adopted() {
    let [first, _] = days();
    let mut a = Desk::with(std::slice::from_ref(&first));
    a.amend(&first, 0, host("Nothofagus"), "10:00");
    let mut b = Desk::with(std::slice::from_ref(&first));
    b.merge(&a);
    assert_eq!(a.shown(), b.shown());
    b.store.undo(None, &by("11:00")).unwrap();
    a.merge(&b);
    assert_eq!(a.shown(), b.shown());
    assert!(a.finds().iter().all(|find| find.amended.is_empty()));
}

#[test]
fn outing_with_different_content_is_a_conflict() {
    let [first, _] = days();
    let mut a = Desk::with(std::slice::from_ref(&first));
    let mut corrected = first.clone();
    corrected.sources[1] = some_day::source("notes.csv", FileKind::Records, "corrected");
    corrected.finds[0].record.host = Some("Acacia".into());
    let b = Desk::with(&[corrected]);
    let before = a.shown();
    let merged = a.merge(&b);
    assert_eq!((merged.outings_same, merged.conflicts.len()), (0, 1));
    assert!(matches!(merged.conflicts[0], MergeConflict::OutingDiffers { .. }));
    assert_eq!(a.shown(), before);
    assert!(a.store.merge(&a.path.clone(), &by("20:00")).is_err(), "a store with itself");
}

#[test]
fn stricter_level_stays_whichever_store_has_it() {
    let [first, second] = days();
    let mut a = Desk::with(std::slice::from_ref(&first));
    let mut b = Desk::with(&[first, second.clone()]);
    let taxon = |name: &str| RuleSubject::Taxon(name.into());
    a.rule(taxon("mycena"), Sensitivity::Low);
    b.rule(taxon("mycena"), Sensitivity::High);
    a.rule(taxon("hygrocybe"), Sensitivity::Extreme);
    b.rule(taxon("hygrocybe"), Sensitivity::Low);
    b.rule(RuleSubject::Find(second.finds[0].id), Sensitivity::Medium);
    assert_eq!(a.merge(&b).rules_changed, 2);
    let rules = a.store.sensitivity_rules().unwrap();
    let level = |subject: &RuleSubject| {
        rules.iter().find(|rule| rule.subject == *subject).map(|rule| rule.level)
    };
    assert_eq!(level(&taxon("mycena")), Some(Sensitivity::High));
    assert_eq!(level(&taxon("hygrocybe")), Some(Sensitivity::Extreme));
    let find = RuleSubject::Find(second.finds[0].id);
    assert_eq!(level(&find), Some(Sensitivity::Medium));
    let bound = rules.iter().find(|rule| rule.subject == find).unwrap();
    assert!(!bound.bound.is_empty());
    assert_eq!(a.merge(&b).rules_changed, 0);
}

#[test]
fn copies_that_went_their_own_ways_come_together() {
    let [first, _] = days();
    let mut a = Desk::with(std::slice::from_ref(&first));
    a.amend(&first, 3, host("Betula"), "09:00");
    let mut b = a.copy();
    a.amend(&first, 0, host("Nothofagus"), "10:00");
    a.amend(&first, 1, host("Acacia"), "12:00");
    b.amend(&first, 1, host("Eucalyptus"), "11:00");
    b.amend(&first, 2, position(300), "11:30");
    b.amend(&first, 3, host("Alnus"), "11:40");
    let merged = a.merge(&b);
    // the other store knew of Betula when it said Alnus
    assert_eq!((merged.changes_added, merged.conflicts.len()), (3, 1), "{:?}", merged.conflicts);
    let later = |one: &MergeConflict| matches!(one, MergeConflict::Amendments(found) if found.here_is_later);
    assert!(later(&merged.conflicts[0]), "{:?}", merged.conflicts);
    assert_eq!(a.host_of(&first, 1).as_deref(), Some("Acacia"));
    assert_eq!(a.host_of(&first, 3).as_deref(), Some("Alnus"));
    // the other store has taken in all of this one
    let again = b.merge(&a);
    assert_eq!((again.changes_added, again.conflicts.len()), (2, 0), "{:?}", again.conflicts);
    assert_eq!(a.shown(), b.shown());
    // known to both now
    b.amend(&first, 1, host("Pinus"), "13:00");
    assert!(a.merge(&b).conflicts.is_empty());
    assert_eq!(a.host_of(&first, 1).as_deref(), Some("Pinus"));
}

#[test]
fn undone_in_both_and_redone_in_one_ends_alike_both_ways() {
    let [first, _] = days();
    let mut a = Desk::with(std::slice::from_ref(&first));
    a.amend(&first, 0, host("Betula"), "09:00");
    let mut b = a.copy();
    let undone = a.store.undo(None, &by("10:00")).unwrap();
    a.store.undo(Some(undone.id), &by("10:30")).unwrap();
    b.store.undo(None, &by("11:00")).unwrap();
    a.merge(&b);
    b.merge(&a);
    assert_eq!(a.shown(), b.shown());
    assert_ne!(a.host_of(&first, 0).as_deref(), Some("Betula"));
    let still = a.store.changes().unwrap().into_iter().rfind(|change| change.active).unwrap();
    a.store.undo(Some(still.id), &by("12:00")).unwrap();
    assert_eq!(a.host_of(&first, 0).as_deref(), Some("Betula"));
}

#[test]
fn clock_set_back_does_not_put_a_later_amendment_out_of_force() {
    let [first, _] = days();
    let mut a = Desk::with(std::slice::from_ref(&first));
    a.amend(&first, 0, host("Betula"), "12:00");
    a.amend(&first, 0, host("Acacia"), "10:00");
    a.amend(&first, 0, host("Alnus"), "10:00");
    assert_eq!(a.host_of(&first, 0).as_deref(), Some("Alnus"));
}

#[test]
fn edits_by_another_program_in_the_other_store_are_one_change() {
    let [first, _] = days();
    let mut a = Desk::with(std::slice::from_ref(&first));
    let mut b = a.copy();
    edit_host_or_delete(&b.path, first.finds[0].id, Some(7));
    edit_host_or_delete(&b.path, first.finds[1].id, None);
    assert_eq!(a.merge(&b).changes_added, 1);
    assert_eq!(a.host_of(&first, 0).as_deref(), Some("edited 7"));
    assert_eq!(a.merge(&b).changes_added, 0);
    b.store = Store::open(&b.path).unwrap();
    assert_eq!(a.merge(&b).changes_added, 0);
    assert_eq!(b.merge(&a).changes_added, 0);
    assert_eq!(a.shown(), b.shown());
}

#[test]
fn same_numbers_of_different_finds_stay_with_both() {
    let [first, second] = days();
    let mut a = Desk::with(std::slice::from_ref(&first));
    let b = Desk::with(std::slice::from_ref(&second));
    assert_eq!(first.finds[0].record.number, second.finds[0].record.number);
    let merged = a.merge(&b);
    assert_eq!((merged.outings_added, merged.conflicts.len()), (1, 0), "{:?}", merged.conflicts);
    let number = first.finds[0].record.number.clone().unwrap().0;
    let query = trug::store::NumberQuery { number, day: None, collector: None };
    assert_eq!(a.store.finds_of_number(&query).unwrap().len(), 2);
    a.store.verify().unwrap();
}

#[test]
fn damaged_store_is_refused_and_an_older_one_read_through_a_copy() {
    let [first, second] = days();
    let mut a = Desk::with(std::slice::from_ref(&first));
    let b = Desk::with(std::slice::from_ref(&second));
    let older = b.copy();
    drop(Store::open(&older.path).unwrap());
    let raw = rusqlite::Connection::open(&older.path).unwrap();
    crate::sensitive::without_weather(&raw);
    raw.execute("UPDATE settings SET value = '9' WHERE name = 'schema_version'", []).unwrap();
    drop(raw);
    let bytes = std::fs::read(&older.path).unwrap();
    let raw = as_a_gis(&b.path);
    raw.execute_batch("UPDATE photographs SET taken_time = 'soon' WHERE id = 1").unwrap();
    drop(raw);
    let before = state(&a.path);
    let refused = a.store.merge(&b.path, &by("20:00")).unwrap_err();
    assert!(refused.to_string().contains("is damaged"), "{refused}");
    let nothing = a.path.with_file_name("nothing.gpkg");
    assert!(a.store.merge(&nothing, &by("20:00")).is_err());
    assert_eq!(state(&a.path), before);
    assert_eq!(a.merge(&older).outings_added, 1);
    assert_eq!(std::fs::read(&older.path).unwrap(), bytes);
    a.store.verify().unwrap();
}

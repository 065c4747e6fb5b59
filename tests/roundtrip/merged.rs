//! Two stores become one: outings, amendments, sensitivity and what was published, each once; conflicts are
//! listed.

use std::path::PathBuf;

use jiff::Timestamp;
use trug::model::{
    AmendedSubject, Authored, Day, FileKind, KeptFind, Patch, RuleSubject, Sensitivity,
    SensitivityRule, TextProperty,
};
use trug::store::{FindQuery, Merged, Outcome, Store};

use crate::amended::state;
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
    assert!(merged.conflicts[0].contains("Acacia") && merged.conflicts[0].contains("Eucalyptus"));
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
    assert!(merged.conflicts[0].contains("different content"), "{:?}", merged.conflicts);
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

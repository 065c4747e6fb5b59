//! After any sequence of imports, amendments, edits by other programs, removals, undos and merges in two
//! stores, each is what a new store becomes by the changes that are in force, in the order of its journal; and
//! merging both ways gives both the same amendments.

use std::collections::{BTreeMap, HashMap, HashSet};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use jiff::Timestamp;
use proptest::prelude::*;
use trug::model::{
    AmendedSubject, Authored, Change, ChangeKind, Day, Determination, FileKind, KeptFind,
    MergeConflict, Patch, TextProperty,
};
use trug::store::{FindQuery, Merged, Store};
use trug::units::Seconds;
use uuid::Uuid;

use crate::amended::edit_host_or_delete;
use crate::some_day::{self, at_second, day, place};

const FINDS: usize = 4;

/// One step of a history.
#[derive(Clone, Copy, Debug)]
enum Step {
    /// A version of one of two days.
    Import {
        day: usize,
        version: usize,
    },
    Amend {
        day: usize,
        find: usize,
        what: usize,
        value: i32,
    },
    Clock {
        day: usize,
        value: i32,
    },
    Edit {
        day: usize,
        find: usize,
        delete: bool,
        value: i32,
    },
    Remove {
        day: usize,
    },
    /// The change at this share of the journal.
    Undo {
        share: usize,
    },
    /// The other store into this one.
    Merge,
}

impl Step {
    /// The day of a step that adds, changes or removes an outing.
    fn of_outing(self) -> Option<usize> {
        match self {
            Self::Import { day, .. } | Self::Remove { day } => Some(day),
            _ => None,
        }
    }
}

fn step() -> impl Strategy<Value = Step> {
    let find = || (0_usize..2, 0_usize..FINDS);
    prop_oneof![
        3 => (0_usize..2, 0_usize..3).prop_map(|(day, version)| Step::Import { day, version }),
        6 => (find(), 0_usize..7, 0_i32..40)
            .prop_map(|((day, find), what, value)| Step::Amend { day, find, what, value }),
        1 => (0_usize..2, 0_i32..60).prop_map(|(day, value)| Step::Clock { day, value }),
        2 => (find(), any::<bool>(), 0_i32..40)
            .prop_map(|((day, find), delete, value)| Step::Edit { day, find, delete, value }),
        1 => (0_usize..2).prop_map(|day| Step::Remove { day }),
        4 => (0_usize..100).prop_map(|share| Step::Undo { share }),
        2 => Just(Step::Merge),
    ]
}

fn now() -> Timestamp {
    "2026-06-01T12:00:00Z".parse().unwrap()
}

fn by() -> Authored {
    Authored { who: None, made: now(), reason: Some("a test".into()) }
}

/// The days in three versions: as first written, with another host, and without a find.
fn version(day: usize, version: usize) -> Day {
    let mut made = first(day);
    match version {
        1 => made.finds[1].record.host = Some("Eucalyptus".into()),
        2 => drop(made.finds.remove(2)),
        _ => {}
    }
    if version > 0 {
        let content = format!("corrected {day} {version}");
        made.sources[1] = some_day::source("notes.csv", FileKind::Records, &content);
    }
    made
}

fn first(number: usize) -> Day {
    day("Tamsin Hale", ["2026-05-03", "2026-05-10"][number], FINDS)
}

struct Desk {
    _folder: tempfile::TempDir,
    path: PathBuf,
    store: Store,
}

impl Desk {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("trug.gpkg");
        let store = Store::create_or_open(&path).unwrap();
        Self { _folder: folder, path, store }
    }

    /// Takes a step; one that the store refuses changes nothing.
    fn take(&mut self, step: Step) {
        match step {
            Step::Import { day, version: number } => {
                drop(self.store.import(&[version(day, number)], now()).unwrap());
            }
            Step::Amend { day, find, what, value } => {
                let subject = AmendedSubject::Find(first(day).finds[find].id);
                drop(self.store.amend(&[(subject, patch(day, find, what, value))], &by()));
            }
            Step::Clock { day, value } => {
                let outing = first(day).outing.id;
                let names = self.store.camera_names(outing).unwrap();
                for camera in names {
                    let patch = Patch::CameraClock(Seconds(3_600.0 - f64::from(value)));
                    let subject = AmendedSubject::Camera { outing, camera };
                    self.store.amend(&[(subject, patch)], &by()).unwrap();
                }
            }
            Step::Edit { day, find, delete, value } => {
                let id = first(day).finds[find].id;
                edit_host_or_delete(&self.path, id, (!delete).then_some(value));
                self.store = Store::open(&self.path).unwrap();
            }
            Step::Remove { day } => {
                drop(self.store.remove_outings(&[first(day).outing.id], &by()));
            }
            // of two stores
            Step::Merge => {}
            Step::Undo { share } => {
                let changes = self.store.changes().unwrap();
                if let Some(change) = changes.get(changes.len() * share / 100) {
                    drop(self.store.undo(Some(change.id), &by()));
                }
            }
        }
    }

    /// All that is read of the store, without the numbers of changes.
    fn state(&self) -> Vec<String> {
        let everything = FindQuery { withdrawn: true, ..FindQuery::default() };
        let mut state: Vec<String> = self
            .store
            .finds(&everything)
            .unwrap()
            .into_iter()
            .map(|mut find| {
                find.amended.iter_mut().for_each(|amended| amended.change = 0);
                find.amended.sort_by(|a, b| a.property.cmp(&b.property));
                // edits bear the time of the machine
                find.withdrawn = find.withdrawn.map(|_| now());
                let unnumbered = |basis: &str| match basis.strip_prefix("stated in amendment ") {
                    Some(_) => "stated".to_owned(),
                    None => basis.to_owned(),
                };
                for (_, basis) in &mut find.anchors {
                    *basis = unnumbered(basis);
                }
                let mut text = format!("{find:?}");
                for anchor in self.store.anchors(find.id).unwrap() {
                    let basis = unnumbered(&anchor.basis.to_string());
                    write!(text, "{:?} {:?} {} {basis}", anchor.kind, anchor.at, anchor.used)
                        .unwrap();
                }
                text
            })
            .collect();
        for outing in self.store.outings().unwrap() {
            let day = self.store.day(outing.id).unwrap();
            state.push(format!("{:?} {:?} {:?}", day.outing, day.cameras, day.sources));
            state.push(format!("{:?} {:?}", day.photos, day.conflicts));
        }
        state
    }
}

fn patch(day: usize, find: usize, what: usize, value: i32) -> Patch {
    let at = place(value * 9);
    let name = |number: usize| first(day).photos[number].photo.name();
    match what {
        0 => Patch::Text { property: TextProperty::Host, value: Some(format!("host {value}")) },
        1 => Patch::Position {
            latitude: at.latitude(),
            longitude: at.longitude(),
            within_m: f64::from(value + 1),
        },
        2 => Patch::Withdrawn(value % 2 == 0),
        3 => Patch::Determination(Determination {
            name: format!("Mycena {value}"),
            accepted: value % 3 > 0,
            ..Determination::default()
        }),
        4 => Patch::Photographs { add: vec![name((find + 1) % FINDS)], remove: vec![name(find)] },
        5 => Patch::Outing(first(1 - day).outing.id),
        _ => {
            let zone = jiff::tz::TimeZone::get("Australia/Hobart").unwrap();
            let clock = zone.to_datetime(at_second(i64::from(value) * 8));
            Patch::Time { clock, within: Seconds(1.0) }
        }
    }
}

/// Two stores, and the steps that each change of their journals stands for.
struct Desks {
    both: [Desk; 2],
    made: HashMap<Uuid, Vec<Step>>,
}

impl Desks {
    fn new() -> Self {
        Self { both: [Desk::new(), Desk::new()], made: HashMap::new() }
    }

    fn take(&mut self, at: usize, step: Step) -> Option<Merged> {
        let known: HashSet<Uuid> = self.changes(at).iter().map(|change| change.uuid).collect();
        let other = self.both[1 - at].path.clone();
        let merged = match step {
            Step::Merge => Some(self.both[at].store.merge(&other, &by()).unwrap()),
            step => {
                self.both[at].take(step);
                None
            }
        };
        for change in self.changes(at) {
            if !known.contains(&change.uuid) && !self.made.contains_key(&change.uuid) {
                let steps = match (step, change.kind) {
                    (Step::Merge, ChangeKind::Import) => self.steps_of(1 - at, &change),
                    _ => vec![step],
                };
                self.made.insert(change.uuid, steps);
            }
        }
        merged
    }

    fn changes(&self, at: usize) -> Vec<Change> {
        self.both[at].store.changes().unwrap()
    }

    /// The steps in force that made the outings which a merge added.
    fn steps_of(&self, at: usize, merged: &Change) -> Vec<Step> {
        let added: Vec<usize> = (0..2)
            .filter(|day| merged.outings.iter().any(|added| added.outing == first(*day).outing.id))
            .collect();
        let in_force = self.changes(at).into_iter().filter(|change| change.active);
        in_force
            .filter_map(|change| self.made.get(&change.uuid))
            .flatten()
            .filter(|step| step.of_outing().is_some_and(|day| added.contains(&day)))
            .copied()
            .collect()
    }

    /// A new store with what is in force in one of these: amendments on top of all imports, in the order in
    /// which they were made.
    fn replayed(&self, at: usize) -> Desk {
        let mut again = Desk::new();
        let order = order_of_changes(&self.both[at].path);
        let mut changes = self.changes(at);
        changes.retain(|change| change.active && change.kind != ChangeKind::Undo);
        let amends =
            |change: &Change| matches!(change.kind, ChangeKind::Amendment | ChangeKind::Gis);
        changes.sort_by_key(|change| (amends(change), &order[&change.id], change.uuid));
        for change in &changes {
            for step in &self.made[&change.uuid] {
                again.take(*step);
            }
        }
        again
    }
}

fn order_of_changes(path: &Path) -> HashMap<i64, String> {
    let connection = rusqlite::Connection::open(path).unwrap();
    let mut statement = connection.prepare("SELECT id, order_time FROM journal").unwrap();
    let rows = statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?))).unwrap();
    rows.map(Result::unwrap).collect()
}

/// The amended values of each find.
fn amended(store: &Store) -> BTreeMap<Uuid, Vec<String>> {
    let everything = FindQuery { withdrawn: true, ..FindQuery::default() };
    let finds = store.finds(&everything).unwrap();
    let values = |find: &KeptFind| {
        let mut values: Vec<String> = find
            .amended
            .iter()
            .map(|amended| format!("{} {:?}", amended.property, amended.value))
            .collect();
        values.sort();
        values.extend(find.determinations.iter().map(|named| format!("{named:?}")));
        values
    };
    finds.iter().map(|find| (find.id, values(find))).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    #[test]
    fn any_history_is_its_journal_replayed(
        steps in prop::collection::vec((0_usize..2, step()), 1..20)
    ) {
        let mut desks = Desks::new();
        desks.take(0, Step::Import { day: 0, version: 0 });
        for (at, step) in steps {
            desks.take(at, step);
        }
        for at in 0..2 {
            desks.both[at].store.verify().unwrap();
            prop_assert_eq!(desks.replayed(at).state(), desks.both[at].state());
        }
        let mut conflicts = Vec::new();
        for at in 0..2 {
            conflicts.extend(desks.take(at, Step::Merge).unwrap().conflicts);
            prop_assert_eq!(desks.replayed(at).state(), desks.both[at].state());
            let again = desks.take(at, Step::Merge).unwrap();
            prop_assert_eq!((again.outings_added, again.changes_added), (0, 0));
        }
        let of_an_outing = |one: &MergeConflict| {
            matches!(
                one,
                MergeConflict::OutingDiffers { .. }
                    | MergeConflict::OutingRemoved { .. }
                    | MergeConflict::FindsInAnotherOuting { .. }
            )
        };
        if !conflicts.iter().any(of_an_outing) {
            let [a, b] = [0, 1].map(|at| amended(&desks.both[at].store));
            for (find, values) in a.iter().filter(|(find, _)| b.contains_key(find)) {
                prop_assert_eq!(values, &b[find]);
            }
        }
    }
}

//! After any sequence of imports, amendments, edits by other programs, removals and undos, the store is
//! what a new store becomes by the changes that are in force, in the order of the journal.

use std::collections::HashMap;
use std::fmt::Write as _;
use std::path::PathBuf;

use jiff::Timestamp;
use proptest::prelude::*;
use trug::model::{
    AmendedSubject, Authored, ChangeKind, Day, Determination, FileKind, Patch, TextProperty,
};
use trug::store::{FindQuery, Store};
use trug::units::Seconds;

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
                    let basis = unnumbered(&anchor.basis);
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

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    #[test]
    fn any_history_is_its_journal_replayed(steps in prop::collection::vec(step(), 1..14)) {
        let mut desk = Desk::new();
        let mut made: HashMap<i64, Step> = HashMap::new();
        desk.take(Step::Import { day: 0, version: 0 });
        made.insert(1, Step::Import { day: 0, version: 0 });
        for step in steps {
            let before = desk.store.changes().unwrap().len();
            desk.take(step);
            for change in desk.store.changes().unwrap().split_off(before) {
                made.insert(change.id, step);
            }
        }
        desk.store.verify().unwrap();
        let mut again = Desk::new();
        // amendments apply on top of all imports
        for on_top in [false, true] {
            for change in desk.store.changes().unwrap() {
                let amends = matches!(change.kind, ChangeKind::Amendment | ChangeKind::Gis);
                if change.active && change.kind != ChangeKind::Undo && amends == on_top {
                    again.take(made[&change.id]);
                }
            }
        }
        prop_assert_eq!(again.state(), desk.state());
    }
}

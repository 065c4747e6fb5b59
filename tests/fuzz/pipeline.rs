//! Fuzzes the whole program on a small day: files are read, joined, reported, stored and exported.
//! Every input is accounted for, and no value is impossible.

use std::fs;
use std::io::Cursor;
use std::path::Path;
use std::sync::OnceLock;

use rusqlite::Connection;
use rusqlite::types::Value;
use trug::ingest::folder::{self, Kind};
use trug::ingest::{photo, record, track};
use trug::join::{Options, join};
use trug::model::{Day, FileKind, Intake};
use trug::present::{csv, geojson, gpx as gpx_out, kml, summary};
use trug::store::{FindQuery, Store};
use trug::units::Timestamp;

use crate::readers;

/// Stands before the name of each file of a case.
const PART: &[u8] = b"\n--file ";

fn now() -> Timestamp {
    "2026-06-01T12:00:00Z".parse().unwrap()
}

/// Several files as one case.
pub(crate) fn bundle(files: &[(&str, Vec<u8>)]) -> Vec<u8> {
    files.iter().flat_map(|(name, bytes)| [PART, name.as_bytes(), b"\n", bytes].concat()).collect()
}

/// The files of a case with their names.
pub(crate) fn parts(case: &[u8]) -> Vec<(String, &[u8])> {
    let starts: Vec<usize> = case
        .windows(PART.len())
        .enumerate()
        .filter(|(_, w)| *w == PART)
        .map(|(at, _)| at)
        .collect();
    let ends = starts.iter().skip(1).copied().chain([case.len()]);
    starts
        .iter()
        .zip(ends)
        .take(24)
        .map(|(&start, end)| {
            let part = &case[start + PART.len()..end];
            let line = part.iter().position(|&byte| byte == b'\n').unwrap_or(part.len());
            let name = String::from_utf8_lossy(&part[..line]).into_owned();
            (name, part.get(line + 1..).unwrap_or_default())
        })
        .collect()
}

/// Reads the files as the folder reader does.
fn read(case: &[u8]) -> Intake {
    let mut intake = Intake::default();
    for (name, bytes) in parts(case) {
        let path = Path::new("day").join(name);
        let read = match folder::identify(bytes) {
            Some(Kind::Track) => {
                let format = track::format(bytes).unwrap_or(FileKind::Gpx);
                track::read_from(bytes, &path, format, None).map(|file| intake.tracks.push(file))
            }
            Some(Kind::Photo) => {
                photo::read_from(Cursor::new(bytes), &path).map(|photo| intake.photos.push(photo))
            }
            Some(Kind::Records) => {
                record::read_from(bytes, &path).map(|file| intake.records.push(file))
            }
            Some(Kind::Archive) | None => Ok(()),
        };
        intake.set_aside.extend(read.err());
    }
    intake
}

/// How much of each kind there is.
#[derive(Debug, PartialEq)]
struct Counts {
    fixes: usize,
    photos: usize,
    records: usize,
}

impl Counts {
    fn of_intake(intake: &Intake) -> Self {
        let tracks = intake.tracks.iter().flat_map(|file| &file.tracks);
        let segments = tracks.flat_map(|track| &track.segments);
        Self {
            fixes: segments.map(|segment| segment.fixes.len()).sum(),
            photos: intake.photos.len(),
            records: intake.records.iter().map(|file| file.records.len()).sum(),
        }
    }

    fn of_days(days: &[Day]) -> Self {
        let sum = |of: fn(&Day) -> usize| days.iter().map(of).sum();
        Self {
            fixes: sum(|day| day.fixes.len()),
            photos: sum(|day| day.photos.len()),
            records: sum(|day| day.finds.len()),
        }
    }
}

/// The day of a case.
pub(crate) fn day(case: &[u8]) {
    let intake = read(case);
    let read = Counts::of_intake(&intake);
    let days = join(intake, &Options::default());
    assert_eq!(Counts::of_days(&days), read, "something was lost or made up");
    days.iter().for_each(sound);
    let text = days.iter().map(summary::day).collect::<String>() + &summary::overview(&days);
    let object = summary::object(&days, &[], &[]).to_string();
    let has_odd_words = ["NaN", "nan", "inf"].iter().any(|word| {
        case.windows(word.len()).any(|bytes| bytes.eq_ignore_ascii_case(word.as_bytes()))
    });
    assert!(has_odd_words || !text.contains("NaN") && !text.contains("inf "), "{text}");
    assert!(has_odd_words || !object.contains("NaN"));
    // an outing without a date is reported and not stored
    let dated: Vec<Day> = days.into_iter().filter(|day| day.outing.dated().is_some()).collect();
    kept(&dated);
}

fn sound(day: &Day) {
    let is_sound = |radius: trug::units::Radius95| {
        let metres = radius.metres().0;
        metres.is_finite() && metres > 0.0
    };
    assert!(day.outing.start.zip(day.outing.end).is_none_or(|(start, end)| start <= end));
    assert!(day.track.is_sorted_by_key(|point| point.time));
    assert!(day.track.iter().all(|point| is_sound(point.radius)));
    assert!(day.stops.iter().all(|stop| stop.start <= stop.end && is_sound(stop.radius)));
    for find in &day.finds {
        assert!(find.place.as_ref().map_or(true, |place| is_sound(place.radius)));
        assert!(find.anchors.iter().all(|anchor| is_sound(anchor.radius)));
        assert!(find.when.is_none_or(|(_, half)| half.0.is_finite() && half.0 >= 0.0));
        assert!(find.photos.iter().all(|&photo| photo < day.photos.len()));
        assert!(find.source < day.sources.len());
    }
    for photo in &day.photos {
        assert!(photo.at.is_none_or(|(_, radius)| is_sound(radius)));
        assert!(photo.finds.iter().all(|&find| find < day.finds.len()));
    }
    for clock in &day.cameras {
        let ordered = clock.interval95.is_none_or(|(low, high)| low.0 <= high.0);
        assert!(ordered && clock.ahead.is_none_or(|ahead| ahead.0.is_finite()), "{clock:?}");
    }
    for conflict in &day.conflicts {
        assert!(conflict.finds.iter().all(|&find| find < day.finds.len()));
        assert!(conflict.chance.is_none_or(|chance| (0.0..=1.0).contains(&chance)));
    }
}

/// The days in a store: all of their finds come out again, and in every form.
fn kept(days: &[Day]) {
    let path = readers::path("day.gpkg");
    let _ = fs::remove_file(&path);
    let mut store = Store::create_or_open(&path).unwrap();
    store.import(days, now()).unwrap();
    let finds = store.finds(&FindQuery::default()).unwrap();
    let all: usize = days.iter().map(|day| day.finds.len()).sum();
    assert_eq!(finds.len(), all, "finds in the store");
    for day in days {
        assert_eq!(store.track(day.outing.id).unwrap().len(), day.track.len());
    }
    for text in [geojson::finds(&finds), kml::finds(&finds), gpx_out::finds(&finds)] {
        assert!(!text.is_empty());
    }
    assert!(csv::finds(&finds).lines().count() > all);
    let again = store.import(days, now()).unwrap();
    assert!(again.changed_nothing(), "the same days a second time");
}

/// An edited store: each seven bytes of a case are one edit of an intact one.
pub(crate) fn store(case: &[u8]) {
    let path = readers::path("edited.gpkg");
    let mut bytes = sound_store().clone();
    let (raw, statements): (Vec<&[u8]>, Vec<&[u8]>) =
        case.chunks_exact(7).take(40).partition(|edit| edit[0] % 4 == 0);
    for edit in raw {
        let at = u32::from_le_bytes([edit[1], edit[2], edit[3], edit[4]]) as usize % bytes.len();
        bytes[at] = edit[5];
    }
    fs::write(&path, bytes).unwrap();
    if let Ok(connection) = Connection::open(&path) {
        let _ = connection.execute_batch("PRAGMA synchronous = OFF; PRAGMA foreign_keys = OFF");
        for edit in statements {
            let _ = edited(&connection, edit);
        }
    }
    let Ok(mut store) = Store::open(&path) else { return };
    let outings = store.outings().unwrap_or_default();
    for outing in &outings {
        let _ = store.day(outing.id).map(|day| summary::day(&day));
        let _ = (store.track(outing.id), store.stops(outing.id));
    }
    if let Ok(finds) = store.finds(&FindQuery::default()) {
        let _ = (geojson::finds(&finds), csv::finds(&finds));
        let _ = finds.first().map(|find| store.history(find.id));
    }
    let _ = (store.sites(), store.site_members(), store.trailheads(), store.sensitivity_rules());
    let _ = store.tracks().map(Iterator::count);
    let _ = store.verify();
    let _ = store.import(&[], now());
}

/// Sets one column of one table, in all rows, to something that is not meant for it.
fn edited(connection: &Connection, edit: &[u8]) -> rusqlite::Result<usize> {
    let columns: Vec<(String, String)> = connection
        .prepare(
            "SELECT m.name, c.name FROM sqlite_master m, pragma_table_info(m.name) c \
             WHERE m.type = 'table' ORDER BY m.name, c.cid",
        )?
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?
        .collect::<rusqlite::Result<_>>()?;
    let (table, column) =
        &columns[usize::from(u16::from_le_bytes([edit[1], edit[2]])) % columns.len().max(1)];
    let value = match edit[3] % 10 {
        0 => Value::Null,
        1 => Value::Integer(-1),
        2 => Value::Integer(i64::MAX),
        3 => Value::Real(1e308),
        4 => Value::Real(f64::NAN),
        5 => Value::Text(String::new()),
        6 => Value::Text("2026-13-45T99:00:00Z".into()),
        7 => Value::Blob(vec![0xff; usize::from(edit[4]) * 64]),
        8 => Value::Blob(edit.repeat(9)),
        _ => Value::Text("\u{202e}x".repeat(usize::from(edit[4]))),
    };
    connection.execute(&format!("UPDATE \"{table}\" SET \"{column}\" = ?1"), [value])
}

/// A store with the day of the first seed.
fn sound_store() -> &'static Vec<u8> {
    static STORE: OnceLock<Vec<u8>> = OnceLock::new();
    STORE.get_or_init(|| {
        let path = readers::path("sound.gpkg");
        let days = join(read(&crate::targets::days()[0]), &Options::default());
        Store::create_or_open(&path).unwrap().import(&days, now()).unwrap();
        fs::read(&path).unwrap()
    })
}

//! Builds an artificial day with one of everything, for tests of storing and exporting days.

use jiff::Timestamp;
use jiff::tz::{Offset, TimeZone};
use trug::error::Error;
use trug::model::{
    Activity, Anchor, AnchorKind, Camera, CameraClock, ClockEvidence, ClockMethod, ClockPeak,
    Combination, Conflict, ConflictKind, ConflictSize, CoordinateReading, Day, Direction, Field,
    FileKind, Find, Fix, FixKind, JudgedFix, Located, Outing, PartKind, Photo, PhotoGps, PhotoRef,
    PlacedPhoto, RadiusPart, Record, RecordNumber, SourceFile, Stop, TimePrecision, TrackPoint,
    Unlocated, Verdict, WrittenCoordinates, WrittenTime, ZoneChoice, ZoneSource,
};
use trug::units::{Degrees, GpsHeight, LatLon, MagneticBearing, Metres, Radius95, Seconds};
use uuid::Uuid;

/// The instant of 2026-05-03 09:00 in the day's zone, and so many seconds on.
pub(crate) fn at_second(second: i64) -> Timestamp {
    let start: Timestamp = "2026-05-02T23:00:00Z".parse().unwrap();
    Timestamp::from_second(start.as_second() + second).unwrap()
}

pub(crate) fn radius(metres: f64) -> Radius95 {
    Radius95::new(Metres(metres)).unwrap()
}

pub(crate) fn source(name: &str, kind: FileKind, content: &str) -> SourceFile {
    SourceFile {
        path: format!("basket/{name}").into(),
        kind,
        bytes: content.len() as u64,
        hash: blake3::hash(content.as_bytes()).to_hex().to_string(),
    }
}

/// Where the collector of [`day`] was at a point of the way.
pub(crate) fn place(step: i32) -> LatLon {
    LatLon::new(-42.5 + f64::from(step) * 1e-5, 146.25 + f64::from(step % 13) * 1e-5).unwrap()
}

/// A day of a named collector with `count` finds, the last of them without a position.
pub(crate) fn day(collector: &str, date: &str, count: usize) -> Day {
    let id = Uuid::new_v5(&Uuid::NAMESPACE_OID, format!("{collector} {date}").as_bytes());
    let sources = vec![
        source("ridge.gpx", FileKind::Gpx, &format!("gpx {collector} {date}")),
        source("notes.csv", FileKind::Records, &format!("notes {collector} {date}")),
    ];
    let finds: Vec<Find> = (0..count).map(|n| find(collector, date, n, n + 1 == count)).collect();
    let track: Vec<TrackPoint> = (0..400).map(track_point).collect();
    Day {
        outing: Outing {
            id,
            date: date.parse().unwrap(),
            start: Some(track[0].time),
            end: Some(track[399].time),
            zone: ZoneChoice {
                zone: TimeZone::get("Australia/Hobart").unwrap(),
                name: "Australia/Hobart".into(),
                source: ZoneSource::Place,
            },
            collector: Some(collector.to_owned()),
        },
        fixes: (0..400).map(fix).collect(),
        stops: vec![Stop {
            start: at_second(100),
            end: at_second(190),
            at: place(100),
            radius: radius(5.25),
        }],
        cameras: vec![camera()],
        photos: (0..count).map(|n| photo(collector, date, n)).collect(),
        photo_groups: Vec::new(),
        associations: Vec::new(),
        conflicts: vec![Conflict {
            kind: ConflictKind::NumberOrder,
            size: ConflictSize::Time(Seconds(600.0)),
            chance: Some(0.002),
            finds: (0..count.min(2)).collect(),
            report: Error::input("TH-0001 was found after TH-0002").because("10 min").hint("look"),
        }],
        set_aside: vec![Error::input("a point was set aside").in_file("ridge.gpx").at_line(7)],
        remarks: vec![Error::input("TH-0000 has no host").hint("note the nearest tree")],
        sources,
        track,
        finds,
    }
}

fn fix(step: i32) -> JudgedFix {
    let fix = Fix {
        height: (step % 3 != 0).then_some(GpsHeight(Metres(812.5))),
        hdop: Some(0.9),
        satellites: Some(9),
        kind: (step % 2 == 0).then_some(FixKind::ThreeD),
        line: u32::try_from(step).unwrap() * 4 + 9,
        ..Fix::bare(place(step), (step != 17).then(|| at_second(i64::from(step))))
    };
    let verdict = if step == 17 { Verdict::Untimed } else { Verdict::Kept };
    JudgedFix { fix, source: 0, segment: u16::from(step > 200), verdict }
}

fn track_point(step: i32) -> TrackPoint {
    TrackPoint {
        time: at_second(i64::from(step)),
        at: place(step),
        height: Some(GpsHeight(Metres(812.0))),
        radius: radius(9.125),
        activity: if step % 100 < 50 { Activity::Walking } else { Activity::Searching },
        gap_after: step == 200,
    }
}

fn camera() -> CameraClock {
    CameraClock {
        camera: camera_name(),
        photos: 3,
        method: ClockMethod::Day,
        ahead: Some(Seconds(3581.0)),
        interval95: Some((Seconds(3570.0), Seconds(3592.0))),
        zone_part: Some(Seconds(3600.0)),
        error_part: Some(Seconds(-19.0)),
        drift_per_day: None,
        other_days: 2,
        alternatives: vec![ClockPeak { ahead: Seconds(-19.0), probability: 0.01 }],
        profile: vec![(Seconds(0.0), -12.5), (Seconds(60.0), -11.25)],
        basis: ClockEvidence::TakenAsRight.into(),
    }
}

fn camera_name() -> Camera {
    Camera { make: Some("Fernhollow".into()), model: Some("F2".into()), serial: None }
}

fn photo(collector: &str, date: &str, number: usize) -> PlacedPhoto {
    let name = format!("P{number:04}.JPG");
    let content = format!("photo {collector} {date} {number}");
    let step = i32::try_from(number).unwrap();
    PlacedPhoto {
        photo: Photo {
            source: source(&name, FileKind::Photo, &content),
            camera: camera_name(),
            taken: Some("2026-05-03T10:00:01.25".parse().unwrap()),
            offset: Some(Offset::constant(10)),
            gps: PhotoGps {
                direction: Some(Direction::Magnetic(MagneticBearing::new(Degrees(12.5)))),
                error: Some(Metres(8.0)),
                ..PhotoGps::default()
            },
            remarks: vec!["no next directory".into()],
            damaged: false,
        },
        camera: 0,
        when: Some(at_second(i64::from(step) * 10)),
        at: Some((place(step), radius(7.5))),
        finds: vec![number],
    }
}

fn find(collector: &str, date: &str, number: usize, unlocated: bool) -> Find {
    let step = i32::try_from(number).unwrap() * 10 % 400;
    let written = format!("TH-{number:04}");
    let parts = vec![
        RadiusPart { kind: PartKind::Receiver, size: Metres(8.0) },
        RadiusPart { kind: PartKind::Clock, size: Metres(3.5) },
    ];
    let located = Located {
        at: place(step),
        radius: radius(8.75),
        parts: parts.clone(),
        height: Some(GpsHeight(Metres(811.0))),
        combination: Combination::Agreed,
    };
    let why = Error::input(format!("{written} has no position")).because("no time").hint("add one");
    Find {
        id: Uuid::new_v5(&Uuid::NAMESPACE_OID, format!("{collector} {written} {date}").as_bytes()),
        record: record(&written, date, number),
        source: 1,
        when: Some((at_second(i64::from(step)), Seconds(15.0))),
        photos: vec![number],
        anchors: vec![Anchor {
            kind: AnchorKind::PhotoTime,
            at: place(step),
            radius: radius(8.75),
            parts,
            when: Some(at_second(i64::from(step))),
            used: true,
            basis: format!("photograph P{number:04}.JPG").into(),
        }],
        place: if unlocated { Err(Unlocated::from(why)) } else { Ok(located) },
    }
}

fn record(written: &str, date: &str, number: usize) -> Record {
    let names = ["Mycena interrupta (Berk.) Sacc.", "Cortinarius rotundisporus", "Hygrocybe sp."];
    Record {
        number: Some(RecordNumber(written.to_owned())),
        date: Some(date.parse().unwrap()),
        time: Some(WrittenTime {
            clock: "09:12:00".parse().unwrap(),
            precision: TimePrecision::FiveMinutes,
        }),
        place: Some("Quillback Spur".into()),
        substrate: Some("rotten log".into()),
        host: Some("Nothofagus cunninghamii".into()),
        habitat: Some("wet forest".into()),
        name: Some(names[number % 3].into()),
        container: Some("paper bag".into()),
        photos: vec![PhotoRef(format!("P{number:04}"))],
        coordinates: (number == 1).then(|| WrittenCoordinates {
            verbatim: "55G DN 38000 94000".into(),
            system: Some("MGRS".into()),
            readings: vec![CoordinateReading {
                at: place(10),
                manner: "MGRS, corner of a 1 m square".into(),
                precision: Metres(1.0),
                datum: Metres(0.0),
            }],
            slips: Vec::new(),
            stated_uncertainty: None,
            measured: false,
            stated_in: None,
        }),
        elevation: Some(Metres(810.0)),
        fields: [
            (Field::Smell, "of bleach".to_owned()),
            (Field::Notes, "a note, with comma\nand a second line".to_owned()),
            (Field::Other("weather".into()), "drizzle".to_owned()),
        ]
        .into(),
        line: number as u64 + 2,
        ..Record::default()
    }
}

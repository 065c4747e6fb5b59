//! Tests of the division of an intake: which outing each track, photograph and record belongs to.

use jiff::civil::DateTime;

use super::*;
use crate::model::{
    AssociationKind, FileKind, Fix, PhotoGps, PhotoRef, RecordFile, RecordNumber, Segment, Track,
    TrackFile,
};
use crate::units::{LatLon, Seconds, Timestamp};

const START: &str = "2026-05-02T00:00:00Z";

fn source(path: &str, kind: FileKind) -> SourceFile {
    SourceFile { path: path.into(), kind, bytes: 1, hash: format!("hash of {path}") }
}

fn start() -> Timestamp {
    START.parse().unwrap()
}

/// A walk to the east for so many minutes, a fix every 10 s, so far north of the usual way.
fn walk(minutes: u32, from: f64, north: f64) -> Vec<Fix> {
    let fix = |k: u32| {
        let second = f64::from(k) * 10.0;
        let latitude = -42.6 + north / 111_000.0;
        let at = LatLon::clamped(latitude, 146.0 + second * 1e-5);
        Fix::bare(at, Some(Seconds(from + second).after(start())))
    };
    (0..minutes * 6).map(fix).collect()
}

fn track(path: &str, runs: Vec<Vec<Fix>>) -> TrackFile {
    let segments = runs.into_iter().map(|fixes| Segment { fixes }).collect();
    TrackFile {
        source: source(path, FileKind::Gpx),
        creator: None,
        tracks: vec![Track { segments, ..Track::default() }],
        routes: Vec::new(),
        waypoints: Vec::new(),
        areas: 0,
        set_aside: Vec::new(),
        points_set_aside: 0,
        checksums_wrong: 0,
        zone_assumed: false,
        remarks: Vec::new(),
    }
}

fn photo(path: &str, taken: &str) -> Photo {
    Photo {
        source: source(path, FileKind::Photo),
        camera: crate::model::Camera::default(),
        taken: Some(taken.parse::<DateTime>().unwrap()),
        offset: None,
        gps: PhotoGps::default(),
        remarks: Vec::new(),
        damaged: false,
    }
}

fn record(number: &str, collector: Option<&str>, photo: &str) -> Record {
    Record {
        number: Some(RecordNumber(number.into())),
        date: Some(jiff::civil::date(2026, 5, 2)),
        collector: collector.map(Into::into),
        photos: vec![PhotoRef(photo.into())],
        ..Record::default()
    }
}

fn book(path: &str, records: Vec<Record>) -> RecordFile {
    RecordFile {
        source: source(path, FileKind::Records),
        records,
        set_aside: Vec::new(),
        remarks: Vec::new(),
    }
}

fn parted(tracks: Vec<TrackFile>, photos: Vec<Photo>, records: Vec<RecordFile>) -> Vec<Gathered> {
    part(Intake { tracks, photos, records, ..Intake::default() }, &Options::default()).0
}

/// Track files, photographs and numbers of an outing.
fn reported(outing: &Gathered) -> (Vec<String>, Vec<String>, Vec<String>) {
    let tracks = outing.sources.iter().filter(|file| file.kind == FileKind::Gpx);
    let numbers = outing.records.iter().filter_map(|filed| filed.record.number.clone());
    (
        tracks.map(SourceFile::name).collect(),
        outing.photos.iter().map(Photo::name).collect(),
        numbers.map(|number| number.0).collect(),
    )
}

fn strings<const N: usize>(names: [&str; N]) -> Vec<String> {
    names.map(str::to_owned).to_vec()
}

fn remarked(outing: &Gathered, text: &str) -> bool {
    outing.remarks.iter().any(|note| note.to_string().contains(text))
}

#[test]
fn same_camera_model_is_separated_by_folders() {
    let outings = parted(
        vec![
            track("d/ada/track.gpx", vec![walk(60, 0.0, 0.0)]),
            track("d/noel/track.gpx", vec![walk(60, 120.0, 400.0)]),
        ],
        vec![
            photo("d/ada/photos/P1.jpg", "2026-05-02T10:20:00"),
            photo("d/noel/P1.jpg", "2026-05-02T10:21:00"),
        ],
        vec![
            book("d/ada/book.csv", vec![record("A-1", None, "P1.jpg")]),
            book("d/noel/book.csv", vec![record("N-1", None, "P1.jpg")]),
        ],
    );
    assert_eq!(outings.len(), 2);
    for (outing, number) in outings.iter().zip(["A-1", "N-1"]) {
        let expected = (strings(["track.gpx"]), strings(["P1.jpg"]), strings([number]));
        assert_eq!(reported(outing), expected);
        assert_eq!(outing.runs.len(), 1);
        assert!(remarked(outing, "ada/track.gpx"), "{:?}", outing.remarks);
        assert!(remarked(outing, "are treated as tracks of two people"), "{:?}", outing.remarks);
        assert!(!remarked(outing, "nothing tells"), "{:?}", outing.remarks);
    }
    assert!(outings[0].photos[0].source.path.starts_with("d/ada"));
    assert!(outings[1].photos[0].source.path.starts_with("d/noel"));
}

#[test]
fn two_receivers_on_one_person_make_one_outing_with_a_note() {
    let outings = parted(
        vec![
            track("d/receiver.gpx", vec![walk(60, 0.0, 0.0)]),
            track("d/phone.gpx", vec![walk(40, 5.0, 20.0)]),
        ],
        vec![photo("d/P1.jpg", "2026-05-02T10:20:00")],
        vec![book("d/book.csv", vec![record("A-1", Some("Ada"), "P1")])],
    );
    assert_eq!(outings.len(), 1);
    assert_eq!(outings[0].runs.len(), 2);
    assert!(remarked(&outings[0], "receiver.gpx has more fixes and leads"));
}

#[test]
fn people_who_walk_together_are_separated_by_notebooks() {
    let outings = parted(
        vec![
            track("d/ada/a.gpx", vec![walk(60, 0.0, 0.0)]),
            track("d/noel/n.gpx", vec![walk(60, 5.0, 20.0)]),
        ],
        Vec::new(),
        vec![
            book("d/ada/book.csv", vec![record("A-1", Some("Ada Quillfeather"), "P1")]),
            book("d/noel/book.csv", vec![record("N-1", Some("Noël Brambletoft"), "P1")]),
        ],
    );
    assert_eq!(outings.len(), 2);
    assert_eq!(reported(&outings[1]).2, ["N-1"]);
}

#[test]
fn one_person_who_changes_the_receiver_stays_one() {
    let outings = parted(
        vec![
            track("d/a.gpx", vec![walk(60, 0.0, 0.0)]),
            track("d/b.gpx", vec![walk(60, 3_660.0, 500.0)]),
        ],
        Vec::new(),
        Vec::new(),
    );
    assert_eq!(outings.len(), 1);
    assert!(outings[0].remarks.is_empty(), "{:?}", outings[0].remarks);
}

#[test]
fn flat_folder_is_divided_by_collector_and_track_names() {
    let outings = parted(
        vec![
            track("d/ada.gpx", vec![walk(60, 0.0, 0.0)]),
            track("d/noel.gpx", vec![walk(50, 60.0, 400.0)]),
        ],
        vec![photo("d/P1.jpg", "2026-05-02T10:20:00")],
        vec![book(
            "d/book.csv",
            vec![
                record("A-1", Some("Ada Quillfeather"), ""),
                record("N-1", Some("Noël Brambletoft"), "P1"),
            ],
        )],
    );
    assert_eq!(reported(&outings[0]), (strings(["ada.gpx"]), vec![], strings(["A-1"])));
    assert_eq!(
        reported(&outings[1]),
        (strings(["noel.gpx"]), strings(["P1.jpg"]), strings(["N-1"]))
    );
}

#[test]
fn positions_in_photographs_assign_them_and_their_records() {
    let mut phone = photo("d/P1.jpg", "2026-05-02T10:10:00");
    phone.gps.at = walk(60, 0.0, 390.0).get(60).map(|fix| fix.at);
    phone.gps.time = Some(Seconds(600.0).after(start()));
    let outings = parted(
        vec![
            track("d/one.gpx", vec![walk(60, 0.0, 0.0)]),
            track("d/two.gpx", vec![walk(50, 60.0, 400.0)]),
        ],
        vec![phone],
        vec![book("d/book.csv", vec![record("N-1", None, "P1"), record("N-2", None, "")])],
    );
    assert_eq!(reported(&outings[0]), (strings(["one.gpx"]), vec![], vec![]));
    assert_eq!(
        reported(&outings[1]),
        (strings(["two.gpx"]), strings(["P1.jpg"]), strings(["N-1"]))
    );
    // one notebook of two people: nothing says whose record the other is
    let apart = outings.iter().find(|outing| outing.runs.is_empty()).unwrap();
    assert_eq!(reported(apart), (vec![], vec![], strings(["N-2"])));
}

#[test]
fn gps_times_are_of_the_local_date_at_their_position() {
    let mut phone = photo("d/P1.jpg", "2026-05-03T09:30:00");
    phone.taken = None;
    phone.gps.at = Some(LatLon::clamped(-42.6, 146.1));
    phone.gps.time = Some("2026-05-02T23:30:00Z".parse().unwrap());
    let mut unnamed = record("A-1", None, "");
    unnamed.date = Some(jiff::civil::date(2026, 5, 3));
    let outings = parted(vec![], vec![phone], vec![book("d/book.csv", vec![unnamed])]);
    assert_eq!(outings.len(), 1, "{:?}", outings.iter().map(reported).collect::<Vec<_>>());
}

#[test]
fn without_evidence_nothing_is_placed_and_a_note_is_given() {
    let outings = parted(
        vec![
            track("d/one.gpx", vec![walk(50, 0.0, 0.0)]),
            track("d/two.gpx", vec![walk(60, 60.0, 400.0)]),
        ],
        vec![photo("d/P1.jpg", "2026-05-02T10:20:00"), photo("d/P2.jpg", "2026-05-02T10:25:00")],
        vec![book("d/book.csv", vec![record("A-1", Some("Ada"), "P1")])],
    );
    assert_eq!(outings.len(), 3);
    let apart = outings.iter().find(|outing| outing.runs.is_empty()).unwrap();
    assert_eq!(reported(apart), (vec![], strings(["P1.jpg", "P2.jpg"]), strings(["A-1"])));
    let report = &apart.associations[0];
    assert_eq!(report.kind, AssociationKind::OwnerUnknown);
    assert_eq!((report.records, report.photographs), (1, 2));
    assert!((report.tracks[0].probability - 0.5).abs() < 0.1, "{report:?}");
    assert_eq!(apart.zone.name, "Australia/Hobart");
}

#[test]
fn two_tracks_of_one_file_have_outings_and_identities_of_their_own() {
    let tracks = vec![track("d/both.gpx", vec![walk(60, 0.0, 0.0), walk(60, 30.0, 400.0)])];
    let intake = Intake { tracks, ..Intake::default() };
    let ids = |intake: Intake| -> Vec<uuid::Uuid> {
        crate::join::join(intake, &Options::default()).iter().map(|day| day.outing.id).collect()
    };
    let first = ids(intake.clone());
    assert_eq!(first.len(), 2);
    assert_ne!(first[0], first[1]);
    assert_eq!(first, ids(intake));
}

#[test]
fn damaged_photograph_is_set_aside_and_incomplete_one_noted() {
    let mut cut = photo("d/P1.jpg", "2026-05-02T10:20:00");
    cut.damaged = true;
    cut.remarks.push("its header is damaged (Truncated IFD); what could be read was kept".into());
    let mut plain =
        [photo("d/P2.jpg", "2026-05-02T10:20:00"), photo("d/P3.jpg", "2026-05-02T10:21:00")];
    for photo in &mut plain {
        photo.remarks.push("its header holds no time".into());
    }
    let photos = [vec![cut], plain.to_vec()].concat();
    let outings = parted(vec![track("d/a.gpx", vec![walk(60, 0.0, 0.0)])], photos, Vec::new());
    assert_eq!(outings[0].set_aside.len(), 1);
    assert_eq!(outings[0].set_aside[0].what(), "P1.jpg was not read completely");
    assert!(remarked(&outings[0], "P2.jpg, P3.jpg have incomplete headers"));
}

/// A walk whose fixes have no times.
fn untimed() -> Vec<Fix> {
    walk(60, 0.0, 0.0).into_iter().map(|fix| Fix::bare(fix.at, None)).collect()
}

#[test]
fn a_track_without_times_belongs_to_the_records_beside_it() {
    let outings = parted(
        vec![track("d/walk.gpx", vec![untimed()])],
        vec![photo("d/P1.jpg", "2026-05-02T10:20:00")],
        vec![book("d/book.csv", vec![record("A-1", Some("Ada"), "P1")])],
    );
    assert_eq!(outings.len(), 1);
    let expected = (strings(["walk.gpx"]), strings(["P1.jpg"]), strings(["A-1"]));
    assert_eq!(reported(&outings[0]), expected);
    assert_eq!(outings[0].zone.name, "Australia/Hobart");
    assert!(remarked(&outings[0], "walk.gpx is a track without times"));
    assert!(remarked(&outings[0], "the records in its folder are of 2026-05-02"));
}

#[test]
fn a_track_without_times_beside_records_of_two_days_is_reported() {
    let other =
        Record { date: Some(jiff::civil::date(2026, 5, 9)), ..record("A-2", Some("Ada"), "") };
    let records = vec![book("d/book.csv", vec![record("A-1", Some("Ada"), ""), other])];
    let outings = parted(vec![track("d/walk.gpx", vec![untimed()])], Vec::new(), records);
    let said = |outing: &Gathered| remarked(outing, "the records in its folder are of 2 dates");
    assert_eq!(outings.iter().filter(|outing| said(outing)).count(), 1);
}

#[test]
fn a_date_that_cannot_be_read_is_of_no_outing() {
    let unread = |number: &str| {
        let mut own = record(number, None, "");
        own.date = None;
        own.photos.clear();
        own.fields
            .insert(crate::model::Field::Other(Record::UNREAD_DATE.into()), "31.9.2026".into());
        own
    };
    let dated = |number: &str| Record { photos: Vec::new(), ..record(number, None, "") };
    let blank = Record { date: None, ..dated("4") };
    for tracks in [vec![track("d/a.gpx", vec![walk(60, 0.0, 0.0)])], Vec::new()] {
        let tracked = !tracks.is_empty();
        let mut rows = vec![dated("1"), dated("2"), unread("3")];
        rows.extend((!tracked).then(|| blank.clone()));
        let rows = rows
            .into_iter()
            .map(|own| Record { date: own.date.map(|_| jiff::civil::date(2026, 5, 2)), ..own });
        let records = RecordFile {
            source: source("d/notes.csv", FileKind::Records),
            records: rows.collect(),
            set_aside: Vec::new(),
            remarks: Vec::new(),
        };
        let intake = Intake { tracks, records: vec![records], ..Intake::default() };
        let (outings, _) = part(intake, &Options::default());
        let home = |number: &str| {
            let has =
                |filed: &Filed| filed.record.number.as_ref().is_some_and(|own| own.0 == number);
            outings.iter().position(|outing| outing.records.iter().any(has))
        };
        assert_eq!(home("1"), home("2"), "{tracked}");
        assert_ne!(home("1"), home("3"), "{tracked}");
        if !tracked {
            assert_ne!(home("1"), home("4"));
        }
    }
}

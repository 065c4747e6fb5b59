//! Builds an artificial day for the tests of figures and pages: a loop with stops, a gap, rejected
//! fixes, a camera, one find without a position and one with a conflict. Layer: `present`.

use jiff::tz::TimeZone;
use jiff::{Timestamp, civil::date};
use uuid::Uuid;

use crate::earth::local::Plane;
use crate::error::Error;
use crate::model::{
    Activity, Anchor, AnchorKind, Camera, CameraClock, ClockBasis, ClockMethod, ClockPeak,
    Combination, Day, Field, FileKind, Find, Fix, JudgedFix, KeptFind, KeptPhoto, Located, Outing,
    PartKind, Photo, PhotoGps, PhotoRef, PlacedPhoto, RadiusPart, Record, RecordNumber, SourceFile,
    Stop, TrackPoint, Unlocated, Verdict, ZoneChoice, ZoneSource,
};
use crate::units::{GpsHeight, LatLon, Metres, Radius95, Seconds};

/// The day around a position.
pub(super) fn day_about(middle: LatLon) -> Day {
    let plane = Plane::about(middle);
    let track = track(&plane);
    let stops = stops(&track);
    let photos = photos(&stops);
    Day {
        outing: outing(&track),
        sources: vec![source("ridge.gpx", FileKind::Gpx)],
        fixes: fixes(&plane, &track),
        finds: finds(&plane, &stops),
        cameras: vec![camera()],
        track,
        stops,
        photos,
        photo_groups: Vec::new(),
        associations: Vec::new(),
        conflicts: Vec::new(),
        set_aside: Vec::new(),
        remarks: Vec::new(),
    }
}

/// The day in the south, where the sample days are.
pub(super) fn day() -> Day {
    day_about(LatLon::new(-42.615, 146.096).unwrap())
}

fn instant(seconds: u32) -> Timestamp {
    let start: Timestamp = "2026-05-01T23:05:00Z".parse().unwrap();
    Seconds(f64::from(seconds)).after(start)
}

fn source(name: &str, kind: FileKind) -> SourceFile {
    SourceFile { path: name.into(), kind, bytes: 1, hash: String::new() }
}

fn radius(metres: f64) -> Radius95 {
    Radius95::new(Metres(metres)).unwrap()
}

fn outing(track: &[TrackPoint]) -> Outing {
    Outing {
        id: Uuid::nil(),
        date: date(2026, 5, 2),
        start: track.first().map(|point| point.time),
        end: track.last().map(|point| point.time),
        zone: ZoneChoice {
            zone: TimeZone::fixed(jiff::tz::offset(10)),
            name: "Australia/Hobart".into(),
            source: ZoneSource::Place,
        },
        collector: Some("Noël Brambletoft-Peña".into()),
    }
}

/// Two hours round a loop, a point every ten seconds; five minutes in each quarter hour at a stop.
fn track(plane: &Plane) -> Vec<TrackPoint> {
    let mut along = 0.0_f64;
    (0..720_u32)
        .map(|step| {
            let activity = match step % 90 {
                0..40 => Activity::Walking,
                40..60 => Activity::Searching,
                _ => Activity::Stationary,
            };
            along += match activity {
                Activity::Walking => 0.019,
                Activity::Searching => 0.006,
                Activity::Stationary => 0.0,
            };
            let wobble = 14.0 * (f64::from(step) * 0.31).sin();
            let reach = if activity == Activity::Stationary { 0.0 } else { wobble };
            let (sine, cosine) = along.sin_cos();
            TrackPoint {
                time: instant(step * 10),
                at: plane.from_plane((330.0 + reach) * cosine, (190.0 + reach) * sine),
                height: Some(GpsHeight(Metres(430.0 + 25.0 * sine))),
                radius: radius(9.0),
                activity,
                gap_after: step == 300,
            }
        })
        .filter(|point| !(instant(3_010)..instant(3_500)).contains(&point.time))
        .collect()
}

fn fixes(plane: &Plane, track: &[TrackPoint]) -> Vec<JudgedFix> {
    track
        .iter()
        .enumerate()
        .map(|(index, point)| {
            let (east, north) = plane.to_plane(point.at);
            let turn = index as f64 * 0.07;
            let aside = index % 97 == 50;
            let thrown = if aside { 90.0 } else { 7.0 };
            let at = plane.from_plane(east + thrown * turn.sin(), north + thrown * turn.cos());
            JudgedFix {
                fix: Fix::bare(at, Some(point.time)),
                source: 0,
                segment: u16::from(point.time >= instant(3_000)),
                verdict: if aside { Verdict::Jump } else { Verdict::Kept },
            }
        })
        .collect()
}

fn stops(track: &[TrackPoint]) -> Vec<Stop> {
    track
        .chunk_by(|a, b| a.activity == b.activity)
        .filter(|run| run[0].activity == Activity::Stationary)
        .map(|run| Stop {
            start: run[0].time,
            end: run[run.len() - 1].time,
            at: run[0].at,
            radius: radius(8.0),
        })
        .collect()
}

fn photos(stops: &[Stop]) -> Vec<PlacedPhoto> {
    let mut photos = Vec::new();
    for (index, stop) in stops.iter().enumerate() {
        for shot in 0..3 {
            let when = Seconds(30.0 + 40.0 * f64::from(shot)).after(stop.start);
            let name = format!("P{}.jpg", 1001 + photos.len());
            photos.push(PlacedPhoto {
                photo: Photo {
                    source: source(&name, FileKind::Photo),
                    camera: camera().camera,
                    taken: None,
                    offset: None,
                    gps: PhotoGps::default(),
                    remarks: Vec::new(),
                    damaged: false,
                },
                camera: 0,
                when: Some(when),
                at: Some((stop.at, stop.radius)),
                finds: vec![index],
            });
        }
    }
    photos
}

fn finds(plane: &Plane, stops: &[Stop]) -> Vec<Find> {
    let mut finds: Vec<Find> = stops
        .iter()
        .enumerate()
        .map(|(index, stop)| {
            let (east, north) = plane.to_plane(stop.at);
            let at = plane.from_plane(east + 3.0, north - 2.0);
            let anchor = |kind, at, used| Anchor {
                kind,
                at,
                radius: radius(10.0),
                parts: Vec::new(),
                when: Some(stop.start),
                used,
                basis: "photographs".to_owned().into(),
            };
            let mut anchors = vec![anchor(AnchorKind::PhotoTime, at, true)];
            if index == 2 {
                let elsewhere = plane.from_plane(east + 120.0, north + 60.0);
                anchors.push(anchor(AnchorKind::Waypoint, elsewhere, false));
            }
            let place = Located {
                at,
                radius: radius(8.0 + 3.0 * index as f64),
                parts: vec![RadiusPart { kind: PartKind::Receiver, size: Metres(7.5) }],
                height: Some(GpsHeight(Metres(431.0))),
                combination: Combination::Single,
            };
            find(index, anchors, Ok(place))
        })
        .collect();
    let why =
        Error::input("NBP 0230 has no position").because("no time, no photograph, no coordinates");
    finds.push(find(finds.len(), Vec::new(), Err(why.into())));
    finds
}

fn find(index: usize, anchors: Vec<Anchor>, place: Result<Located, Unlocated>) -> Find {
    let photo = 1001 + 3 * index;
    Find {
        id: Uuid::from_u128(index as u128 + 1),
        record: Record {
            number: Some(RecordNumber(format!("NBP {:04}", 212 + index))),
            name: Some("Galerina hypnorum (Schrank) Kühner".into()),
            place: Some("Lantern Flat".into()),
            photos: vec![PhotoRef(format!("P{photo}"))],
            line: index as u64 + 2,
            ..Record::default()
        },
        source: 0,
        when: place
            .is_ok()
            .then(|| (Seconds(600.0 * index as f64).after(instant(0)), Seconds(60.0))),
        photos: if place.is_ok() { vec![3 * index, 3 * index + 1, 3 * index + 2] } else { vec![] },
        anchors,
        place,
    }
}

/// A stored find with every field that a label can show.
pub(crate) fn kept_find(number: &str) -> KeptFind {
    let fields = [
        (Field::Colour, "cap clear blue, disc at the foot"),
        (Field::Smell, "faint, of radish"),
        (Field::SporePrint, "white"),
        (Field::Quantity, "5 fruit bodies"),
        (Field::IdentifiedBy, "Iren Marrowby"),
        (Field::Notes, "gills and foot stained blue;\nfive more on the next trunk"),
    ];
    KeptFind {
        id: Uuid::from_u128(0x7f3a_92c1_0000_4000_8000_0123_4567_89ab),
        outing: Uuid::nil(),
        date: date(2026, 5, 2),
        when: Some((instant(600), Seconds(30.0))),
        zone: "Australia/Hobart".into(),
        zone_assumed: false,
        collector: Some("Noël Brambletoft-Peña".into()),
        record: Record {
            number: Some(RecordNumber(number.into())),
            name: Some("Mycena interrupta (Berk.) Sacc.".into()),
            place: Some("Wren Gully".into()),
            substrate: Some("dead wood, well rotted".into()),
            host: Some("Nothofagus cunninghamii".into()),
            habitat: Some("cool temperate rainforest, gully".into()),
            container: Some("closed plastic box".into()),
            fields: fields.into_iter().map(|(key, words)| (key, words.to_owned())).collect(),
            ..Record::default()
        },
        place: Some(Located {
            at: LatLon::new(-42.61487, 146.09372).unwrap(),
            radius: radius(9.4),
            parts: vec![RadiusPart { kind: PartKind::Receiver, size: Metres(8.8) }],
            height: Some(GpsHeight(Metres(441.2))),
            combination: Combination::Single,
        }),
        why_unlocated: None,
        anchors: vec![(AnchorKind::PhotoTime, "photographs P1004 to P1007".into())],
        photos: vec![KeptPhoto { path: "day/P1004.jpg".into(), hash: String::new(), when: None }],
        conflicts: Vec::new(),
        revision: 1,
        withdrawn: None,
        as_imported: None,
        amended: Vec::new(),
        determinations: Vec::new(),
        checked: None,
        ground: None,
        generalised: None,
    }
}

fn camera() -> CameraClock {
    let best = 3_731.0;
    let likelihood = |ahead: f64| {
        let near = -0.5 * ((ahead - best) / 3.4_f64).powi(2);
        let alternative = -0.5 * ((ahead - 140.0) / 6.0_f64).powi(2) - 6.5;
        near.max(alternative).max(-48.0 - 4.0 * (ahead / 5_000.0).sin())
    };
    let coarse = (-504..=504).map(|step| f64::from(step) * 100.0);
    let fine = (-120..=120).map(|step| best + f64::from(step) * 0.5);
    let mut profile: Vec<(Seconds, f64)> =
        coarse.chain(fine).map(|ahead| (Seconds(ahead), likelihood(ahead))).collect();
    profile.sort_by(|a, b| a.0.0.total_cmp(&b.0.0));
    CameraClock {
        camera: Camera {
            make: Some("Tarnlight".into()),
            model: Some("Tarnlight TL-40".into()),
            serial: Some("0A3377".into()),
        },
        photos: 24,
        method: ClockMethod::Day,
        ahead: Some(Seconds(best)),
        interval95: Some((Seconds(3_724.0), Seconds(3_738.0))),
        zone_part: Some(Seconds(3_600.0)),
        error_part: Some(Seconds(131.0)),
        drift_per_day: None,
        other_days: 0,
        alternatives: vec![ClockPeak { ahead: Seconds(140.0), probability: 0.002 }],
        profile,
        basis: ClockBasis::Words("24 photographs at 8 stops; 8 written times agree".into()),
    }
}

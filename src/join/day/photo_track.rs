//! Makes a sparse track of the positions that the photographs of one camera carry, for finds whose time no other
//! track covers. Layer: `join`.

use std::collections::{BTreeMap, BTreeSet};

use crate::model::{AnchorBasis, AnchorKind, Association, Camera, Fix, PartKind, Photo};
use crate::units::{LatLon, Metres, Radius95, Timestamp};

use super::super::clean::Run;
use super::super::estimated_track::EstimatedTrack;
use super::super::locate::{Draft, Moments, TrackModel, from_times, stated_radius};
use super::Scene;
use super::cameras::{SetCamera, reading};

/// A position whose 95 % radius is larger is not a fix of a satellite receiver, metres.
const COARSEST: f64 = 100.0;
/// A camera's clock places its photographs on the track where it is known this well, seconds (one standard deviation).
const CLOCK: f64 = 30.0;
/// Positions hours apart show less of the path walked than there was: no less than this, metres a second (that of a
/// day of which nothing is known).
const PACE: f64 = 0.5;

/// Who stops and then walks is not where an even pace has them: so far for each second to the nearer position, one
/// standard deviation per axis, metres (assumption; see `docs/reading-tracks.md`).
const UNEVEN: f64 = 0.25;

/// The positions of the photographs of one camera, as a track.
pub(crate) struct PhotoTrack {
    /// The camera.
    pub(crate) camera: String,
    /// How many positions.
    pub(crate) positions: usize,
    track: EstimatedTrack,
}

/// A position of a photograph at a time, and its 95 % radius in metres.
type Position = (Timestamp, LatLon, f64);

impl PhotoTrack {
    /// The track of the only camera with positions; `None` where several cameras or collectors are there, since
    /// nothing says whose positions they are.
    pub(super) fn of(scene: &Scene, cameras: &[SetCamera]) -> Option<Self> {
        let gathered = scene.gathered;
        let collectors = gathered.records.iter().filter_map(|one| one.record.collector.as_deref());
        let refused = gathered.associations.iter().any(Association::is_refusal);
        if refused || collectors.collect::<BTreeSet<&str>>().len() > 1 {
            return None;
        }
        let mut of_cameras: BTreeMap<&Camera, Vec<Position>> = BTreeMap::new();
        for (index, photo) in gathered.photos.iter().enumerate() {
            let position = position(scene, cameras, index, photo);
            of_cameras.entry(&photo.camera).or_default().extend(position);
        }
        of_cameras.retain(|_, positions| !positions.is_empty());
        let only = of_cameras.len() == 1;
        let (camera, positions) = of_cameras.pop_first().filter(|_| only)?;
        Self::of_positions(scene, camera.to_string(), &without_repeats(positions))
    }

    fn of_positions(scene: &Scene, camera: String, positions: &[Position]) -> Option<Self> {
        if positions.len() < 2 {
            return None;
        }
        let fixes = positions.iter().map(|&(time, at, _)| Fix::bare(at, Some(time))).collect();
        let whole = scene.estimated_track;
        let about = whole.plane.from_plane(0.0, 0.0);
        let mut track = EstimatedTrack::of(&[Run { source: 0, fixes }], whole.origin, about);
        let squares: f64 = positions.iter().map(|(_, _, radius)| radius * radius).sum();
        let usual = (squares / positions.len() as f64).sqrt();
        // two receivers that disagree widen a track by half of their distance
        track.disagrees_by(2.0 * usual / Radius95::PER_SIGMA);
        Some(Self { camera, positions: positions.len(), track })
    }

    /// The first and the last instant of the positions.
    pub(super) fn span(&self) -> Option<(Timestamp, Timestamp)> {
        self.track.span()
    }

    /// The anchor of a time between two of the positions.
    pub(super) fn draft(
        &self,
        kind: AnchorKind,
        moments: &Moments,
        time_part: PartKind,
        stand_off: Metres,
        basis: &AnchorBasis,
    ) -> Option<Draft> {
        let frames = &self.track.frames.all;
        let (first, last) = (frames.first()?.time, frames.last()?.time);
        let within = |moment: &(f64, f64, f64)| first <= moment.0 && moment.1 <= last;
        if !moments.iter().all(within) {
            return None;
        }
        let model = self.track.track_model();
        let model = TrackModel { pace: model.pace.max(PACE), ..model };
        let basis = basis.clone().between_positions_of(&self.camera);
        let draft = from_times(model, kind, moments, time_part, stand_off, basis)?;
        let away = self.nearest(draft.when?);
        Some(draft.since_moved(Metres(UNEVEN * away)))
    }

    /// Seconds from a time to the nearest position.
    fn nearest(&self, time: f64) -> f64 {
        let apart = self.track.frames.all.iter().map(|frame| (frame.time - time).abs());
        apart.fold(f64::INFINITY, f64::min)
    }
}

/// The position of a photograph at its GPS time, else at the time of a camera whose clock is known.
fn position(scene: &Scene, cameras: &[SetCamera], index: usize, photo: &Photo) -> Option<Position> {
    let at = photo.gps.at?;
    let radius = stated_radius(&photo.gps);
    let by_clock = || {
        let camera = cameras.iter().find(|camera| camera.photos.contains(&index))?;
        let offset = camera.offset()?;
        let known = camera.spread(offset) <= CLOCK;
        known.then_some(scene.estimated_track.origin.instant(reading(scene, index)? - offset))
    };
    let time = photo.gps.time.or_else(by_clock)?;
    (radius <= COARSEST).then_some((time, at, radius))
}

/// In order of time, each position once: exactly the same one again was not determined again.
fn without_repeats(mut positions: Vec<Position>) -> Vec<Position> {
    positions.sort_by_key(|(time, _, _)| *time);
    positions.dedup_by_key(|(_, at, _)| *at);
    positions.dedup_by_key(|(time, _, _)| *time);
    positions
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::earth::geodesic;
    use crate::join::{Options, join};
    use crate::model::{
        FileKind, Find, Intake, PhotoGps, Record, RecordFile, RecordNumber, SourceFile,
        TimePrecision, WrittenTime,
    };

    fn source(path: &str, kind: FileKind) -> SourceFile {
        SourceFile { path: path.into(), kind, bytes: 1, hash: format!("hash of {path}") }
    }

    /// Where a walk to the north at 0.5 m/s is, so many minutes after 07:00 UTC.
    fn walked(minute: f64) -> LatLon {
        LatLon::clamped(47.9 + 30.0 * minute / 111_200.0, 8.1)
    }

    fn photo(camera: &str, minute: i8, at: LatLon, error: Option<f64>) -> Photo {
        let taken = jiff::civil::date(2026, 10, 17).at(9 + minute / 60, minute % 60, 0, 0);
        let time = jiff::civil::date(2026, 10, 17).at(7 + minute / 60, minute % 60, 0, 0);
        let time = crate::units::ClockOffset::as_if_utc(time);
        let gps = PhotoGps {
            at: Some(at),
            time: Some(time),
            error: error.map(Metres),
            ..PhotoGps::default()
        };
        Photo {
            source: source(&format!("day/{camera}{minute:03}.jpg"), FileKind::Photo),
            camera: Camera { model: Some(camera.to_owned()), ..Camera::default() },
            taken: Some(taken),
            offset: None,
            gps,
            remarks: Vec::new(),
            damaged: false,
        }
    }

    /// The finds of a day with records at these minutes after 09:00 local time.
    fn located(photos: Vec<Photo>, records: &[(i8, Option<&str>)]) -> Vec<Find> {
        let record = |&(minute, collector): &(i8, Option<&str>)| Record {
            number: Some(RecordNumber(format!("F {minute}"))),
            date: Some(jiff::civil::date(2026, 10, 17)),
            time: Some(WrittenTime {
                clock: jiff::civil::time(9 + minute / 60, minute % 60, 30, 0),
                precision: TimePrecision::Second,
            }),
            collector: collector.map(str::to_owned),
            ..Record::default()
        };
        let book = RecordFile {
            source: source("day/notes.csv", FileKind::Records),
            records: records.iter().map(record).collect(),
            set_aside: Vec::new(),
            remarks: Vec::new(),
        };
        let intake = Intake { photos, records: vec![book], ..Intake::default() };
        join(intake, &Options::default()).into_iter().flat_map(|day| day.finds).collect()
    }

    fn each(step: usize, error: Option<f64>) -> Vec<Photo> {
        (0..=60)
            .step_by(step)
            .map(|minute| photo("QX5", minute, walked(f64::from(minute)), error))
            .collect()
    }

    #[test]
    fn finds_lie_between_positions_of_photographs() {
        let asked = [(4, None), (17, None), (41, None)];
        let mut radii = Vec::new();
        for (step, error) in [(1, None), (1, Some(40.0)), (15, None)] {
            for (find, (minute, _)) in located(each(step, error), &asked).iter().zip(asked) {
                let place = find.place.as_ref().unwrap();
                let off = geodesic::distance(place.at, walked(f64::from(minute) + 0.5));
                assert!(off <= place.radius.metres(), "{step} {minute}: {off} {:?}", place.radius);
                radii.push(place.radius.metres().0);
            }
        }
        // a position of an unstated error has 30 m; a larger error and longer intervals widen the circle
        assert!(radii[..3].iter().all(|radius| (29.0..60.0).contains(radius)), "{radii:?}");
        assert!(radii[3..6].iter().all(|radius| *radius > 80.0), "{radii:?}");
        assert!(radii[6..].iter().all(|radius| *radius > 70.0), "{radii:?}");
    }

    #[test]
    fn times_outside_coarse_positions_and_positions_of_several_people_place_nothing() {
        let none = |finds: Vec<Find>| finds.iter().all(|find| find.place.is_err());
        assert!(none(located(each(1, None), &[(62, None)])));
        assert!(none(located(each(1, Some(60.0)), &[(17, None)])));
        assert!(none(located(each(1, None), &[(17, Some("Ada Voss")), (20, Some("Noel Bram"))])));
        let mut two = each(1, None);
        two.extend((0..=60).map(|minute| photo("Other", minute, walked(f64::from(minute)), None)));
        assert!(none(located(two, &[(17, None)])));
    }

    #[test]
    fn a_position_that_repeats_counts_once() {
        let at = |east: f64| LatLon::clamped(47.9, 8.1 + east);
        let time = |second: i64| Timestamp::from_second(second).unwrap();
        let positions = vec![
            (time(120), at(0.0), 30.0),
            (time(0), at(0.0), 30.0),
            (time(240), at(0.1), 30.0),
            (time(240), at(0.2), 30.0),
            (time(300), at(0.0), 30.0),
        ];
        let times = without_repeats(positions).into_iter().map(|(time, _, _)| time.as_second());
        assert_eq!(times.collect::<Vec<_>>(), [0, 240, 300]);
    }
}

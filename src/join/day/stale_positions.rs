//! How far the collector had gone since the position that a photograph carries was determined: its GPS time is
//! older than the photograph, or earlier photographs bear exactly the same position. Layer: `join`.

use crate::model::Photo;

use super::Scene;
use super::cameras::{SetCamera, reading};

/// A position that is no older than this is of the photograph, seconds.
const FRESH: f64 = 60.0;
/// How fast a collector gets away from a place that no track shows, metres per second (common practice).
const PACE: f64 = 0.5;
/// The farthest that is allowed for, metres.
const FARTHEST: f64 = 20_000.0;

/// Metres from where the position was determined to where the photograph was taken; `None` for a position of
/// that moment. Where the camera's offset is unknown, its own times show how long one position was repeated.
pub(super) fn moved(scene: &Scene, cameras: &[SetCamera], photo: usize) -> Option<f64> {
    let camera = cameras.iter().find(|camera| camera.photos.contains(&photo))?;
    let taken = reading(scene, photo)?;
    let known = &scene.gathered.photos[photo];
    let offset = camera.offset();
    let of_gps = known.gps.time.zip(offset);
    let of_gps = of_gps.map(|(time, offset)| scene.estimated_track.origin.seconds(time) + offset);
    let first = of_gps.into_iter().chain(first_shown(scene, camera, known));
    let since = first.fold(taken, f64::min);
    let age = taken - since;
    (age > FRESH).then(|| {
        let track = scene.estimated_track;
        let by_track =
            offset.and_then(|ahead| track.at(taken - ahead).zip(track.at(since - ahead)));
        let walked = by_track.map_or(PACE * age, |(here, there)| {
            (here.east - there.east).hypot(here.north - there.north)
        });
        walked.min(FARTHEST)
    })
}

/// The reading of the first photograph of the camera with exactly this position.
fn first_shown(scene: &Scene, camera: &SetCamera, known: &Photo) -> Option<f64> {
    let same = |other: &&usize| scene.gathered.photos[**other].gps.at == known.gps.at;
    let times = camera.photos.iter().filter(same).filter_map(|&other| reading(scene, other));
    times.min_by(f64::total_cmp)
}

#[cfg(test)]
mod tests {
    use crate::join::{Options, join};
    use crate::model::{
        Camera, FileKind, Intake, Photo, PhotoGps, PhotoRef, Record, RecordFile, RecordNumber,
        SourceFile,
    };
    use crate::units::LatLon;

    /// Photographs of one place by their headers, so many minutes after each other; nothing shows the offset of
    /// the camera.
    fn radii(minutes: [i8; 3]) -> Vec<f64> {
        let date = jiff::civil::date(2026, 10, 17);
        let source = |path: &str, kind: FileKind| SourceFile {
            path: path.into(),
            kind,
            bytes: 1,
            hash: format!("hash of {path}"),
        };
        let photo = |minute: &i8| Photo {
            source: source(&format!("P{minute}.jpg"), FileKind::Photo),
            camera: Camera::default(),
            taken: Some(date.at(9, *minute, 0, 0)),
            offset: None,
            gps: PhotoGps { at: LatLon::new(47.9, 8.1).ok(), ..PhotoGps::default() },
            remarks: Vec::new(),
            damaged: false,
        };
        let record = |minute: &i8| Record {
            number: Some(RecordNumber(format!("A {minute}"))),
            date: Some(date),
            photos: vec![PhotoRef(format!("P{minute}.jpg"))],
            ..Record::default()
        };
        let records = RecordFile {
            records: minutes.iter().map(record).collect(),
            source: source("n.csv", FileKind::Records),
            set_aside: Vec::new(),
            remarks: Vec::new(),
        };
        let photos = minutes.iter().map(photo).collect();
        let intake = Intake { photos, records: vec![records], ..Intake::default() };
        let days = join(intake, &Options::default());
        let finds = days.iter().flat_map(|day| &day.finds);
        finds.map(|find| find.place.as_ref().unwrap().radius.metres().0).collect()
    }

    #[test]
    fn a_position_that_later_photographs_repeat_gets_a_larger_radius_without_a_clock() {
        let radii = radii([0, 10, 50]);
        assert!(radii[0] < 60.0 && radii[1] > 500.0 && radii[2] > 3.0 * radii[1], "{radii:?}");
    }
}

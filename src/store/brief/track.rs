//! Packs and unpacks a thinned track. Times to the millisecond, places to a centimetre, lengths to
//! a millimetre; heights and radii to a decimetre. Refuses a blob that it did not write. Layer:
//! `store`.

use jiff::Timestamp;
use rusqlite::Connection;
use uuid::Uuid;

use super::keep::METHOD;
use super::thin::thinned;
use crate::error::{Result, RowDamage, Unpacked};
use crate::model::{Activity, TrackPoint};
use crate::store::columns::{ColumnReader, ColumnWriter, content};
use crate::store::fault::{Attempt, Fault};
use crate::store::words::Cell;
use crate::units::{GpsHeight, LatLon, Metres, Radius95};

const FORM: u128 = 1;
const DEGREE_STEPS: f64 = 1e7;
/// The code of an unknown height, in decimetres.
const NO_HEIGHT: i64 = -1_000_000;
const ACTIVITIES: [Activity; 3] = [Activity::Walking, Activity::Searching, Activity::Stationary];
const GAP: i64 = 4;

/// A track by its turning points.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct BriefTrack {
    /// Points of the full track, in order of time.
    pub points: Vec<TrackPoint>,
    /// The length of the full track from each to the next; zero for the last.
    pub lengths: Vec<Metres>,
}

/// A packed track summary, which any thread can unpack.
#[derive(Clone, Debug)]
pub struct PackedBriefTrack {
    /// Its outing.
    pub outing: Uuid,
    row: i64,
    packed: Vec<u8>,
    path: std::path::PathBuf,
}

impl PackedBriefTrack {
    /// The track.
    ///
    /// # Errors
    /// When the bytes are not what trug wrote.
    pub fn unpack(&self) -> Result<BriefTrack> {
        unpack(&self.packed).ok_or_else(|| {
            Fault::damaged("brief_ways", self.row, RowDamage::Packed { content: Unpacked::Points })
                .tell(&self.path)
        })
    }
}

pub(super) fn keys(connection: &Connection) -> Attempt<Vec<(i64, Uuid)>> {
    let mut statement = connection.prepare_cached(
        "SELECT o.id, o.uuid FROM outings o JOIN brief_ways b ON b.outing_id = o.id AND b.method = ?1
         ORDER BY o.date, o.start_time, o.uuid",
    )?;
    let mut rows = statement.query([METHOD])?;
    let mut keys = Vec::new();
    while let Some(row) = rows.next()? {
        let key = row.get(0)?;
        keys.push((key, Cell { table: "outings", row: key }.uuid(&row.get::<_, String>(1)?)?));
    }
    Ok(keys)
}

pub(super) fn read(connection: &Connection, key: i64, outing: Uuid) -> Attempt<PackedBriefTrack> {
    let (row, packed) = connection
        .prepare_cached("SELECT id, packed FROM brief_ways WHERE outing_id = ?1")?
        .query_row([key], |row| Ok((row.get(0)?, row.get(1)?)))?;
    let path = connection.path().unwrap_or_default().into();
    Ok(PackedBriefTrack { outing, row, packed, path })
}

/// Thins and packs a full track.
pub(super) fn pack(points: &[TrackPoint]) -> Vec<u8> {
    let thin = thinned(points);
    let kept = || thin.places.iter().map(|place| &points[*place]);
    let mut writer = ColumnWriter::default();
    writer.unsigned(FORM);
    writer.unsigned(thin.places.len() as u128);
    writer.steps(kept().map(|point| point.time.as_millisecond()));
    writer.steps(kept().map(|point| steps(point.at.latitude(), DEGREE_STEPS)));
    writer.steps(kept().map(|point| steps(point.at.longitude(), DEGREE_STEPS)));
    writer.steps(thin.lengths.iter().map(|length| steps(*length, 1e3)));
    writer.steps(kept().map(|point| steps(point.radius.metres().0.max(0.1), 10.0)));
    writer.steps(kept().map(|point| point.height.map_or(NO_HEIGHT, |h| steps(h.0.0, 10.0))));
    writer.steps(kept().map(|point| {
        let activity = match point.activity {
            Activity::Walking => 0,
            Activity::Searching => 1,
            Activity::Stationary => 2,
        };
        activity + if point.gap_after { GAP } else { 0 }
    }));
    writer.finish()
}

#[allow(clippy::cast_possible_truncation, reason = "numbers of the Earth's size")]
fn steps(number: f64, to_one: f64) -> i64 {
    (number * to_one).round() as i64
}

fn unpack(blob: &[u8]) -> Option<BriefTrack> {
    let mut reader = ColumnReader::new(content(blob)?);
    if reader.unsigned()? != FORM {
        return None;
    }
    let count = usize::try_from(reader.unsigned()?).ok()?;
    let times = reader.steps(count)?;
    let latitudes = reader.steps(count)?;
    let longitudes = reader.steps(count)?;
    let lengths = reader.steps(count)?;
    let radii = reader.steps(count)?;
    let heights = reader.steps(count)?;
    let activities = reader.steps(count)?;
    let point = |row: usize| {
        let (latitude, longitude) = (latitudes[row] as f64, longitudes[row] as f64);
        let height = (heights[row] != NO_HEIGHT).then(|| heights[row] as f64 / 10.0);
        Some(TrackPoint {
            time: Timestamp::from_millisecond(times[row]).ok()?,
            at: LatLon::new(latitude / DEGREE_STEPS, longitude / DEGREE_STEPS).ok()?,
            height: height.map(|height| GpsHeight(Metres(height))),
            radius: Radius95::new(Metres(radii[row] as f64 / 10.0))?,
            activity: *ACTIVITIES.get(usize::try_from(activities[row] % GAP).ok()?)?,
            gap_after: activities[row] >= GAP,
        })
    };
    let points: Vec<TrackPoint> = (0..count).map(point).collect::<Option<_>>()?;
    let lengths = lengths.into_iter().map(|length| Metres(length as f64 / 1e3)).collect();
    Some(BriefTrack { points, lengths })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn way() -> Vec<TrackPoint> {
        (0..300_i64)
            .map(|second| TrackPoint {
                time: Timestamp::from_millisecond(1_780_000_000_000 + second * 1500).unwrap(),
                at: LatLon::clamped(-42.1 + (second as f64 / 9.0).sin() / 4e3, 180.0),
                height: (second > 5).then_some(GpsHeight(Metres(-12.26 + second as f64 / 7.0))),
                radius: Radius95::new(Metres(6.543)).unwrap(),
                activity: ACTIVITIES[usize::try_from(second / 40).unwrap() % 3],
                gap_after: second == 100,
            })
            .collect()
    }

    #[test]
    fn track_summary_is_read_back() {
        let full = way();
        let brief = unpack(&pack(&full)).unwrap();
        assert_eq!(brief.points.len(), brief.lengths.len());
        assert!(brief.points.len() > 10 && brief.points.len() < 280, "{}", brief.points.len());
        for point in &brief.points {
            let before = full.iter().find(|other| other.time == point.time).unwrap();
            assert!((before.at.latitude() - point.at.latitude()).abs() <= 0.51e-7);
            assert_eq!((before.activity, before.gap_after), (point.activity, point.gap_after));
            let heights = before.height.zip(point.height);
            assert!(heights.is_none_or(|(a, b)| (a.0.0 - b.0.0).abs() < 0.051));
            assert_eq!(before.height.is_some(), point.height.is_some());
        }
        assert_eq!(unpack(&pack(&[])), Some(BriefTrack::default()));
    }

    proptest! {
        #[test]
        fn damaged_blob_does_not_panic(place in 0_usize..4000, byte in any::<u8>()) {
            let mut blob = pack(&way());
            let place = place % blob.len();
            blob[place] = byte;
            let _ = unpack(&blob);
            blob.truncate(place);
            prop_assert_eq!(unpack(&blob), None);
        }
    }
}

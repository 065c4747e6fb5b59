//! Whether a track stays in one place while its records and photographs do not: a receiver that was left behind, or
//! that shows one position without a signal. Layer: `join`.

use super::fit;
use super::note_times::ONE_STOP;
use super::{Material, TrackView};
use crate::units::ClockOffset;

/// All positions of the track lie within this distance of their middle, metres (project choice: the error of a
/// receiver indoors; somebody who searches a garden walks farther).
const WITHIN: f64 = 20.0;
/// The track, and the time from the first to the last find, last so long at least, seconds.
const TRACK_LASTS: f64 = 3_600.0;
const FINDS_LAST: f64 = 1_800.0;
/// From so many moments of finds on (project choice).
const MOMENTS: usize = 3;
/// Positions of the track that are compared.
const POSITIONS: usize = 200;

/// Whether the finds were made over a time in which the track stays in one place.
pub(super) fn is_left_behind(material: &Material, track: &TrackView) -> bool {
    let origin = track.estimated_track.origin;
    let (start, end) = (origin.seconds(track.span.0), origin.seconds(track.span.1));
    end - start >= TRACK_LASTS && has_moments(material, track) && stays(track, start, end)
}

fn stays(track: &TrackView, start: f64, end: f64) -> bool {
    let at = |k: usize| start + (end - start) * k as f64 / POSITIONS as f64;
    let places: Vec<(f64, f64)> = (0..=POSITIONS)
        .filter_map(|k| track.estimated_track.at(at(k)))
        .map(|there| (there.east, there.north))
        .collect();
    let count = places.len().max(1) as f64;
    let east = places.iter().map(|place| place.0).sum::<f64>() / count;
    let north = places.iter().map(|place| place.1).sum::<f64>() / count;
    places.iter().all(|place| (place.0 - east).hypot(place.1 - north) <= WITHIN)
}

/// Whether written times, or photographs of a camera, are several over some time.
fn has_moments(material: &Material, track: &TrackView) -> bool {
    let origin = track.estimated_track.origin;
    let reads = material.records.iter().filter_map(|record| fit::read(record, track));
    let written = several(reads.map(|read| origin.seconds(read.instant)).collect());
    let taken = |session: &&[crate::model::Photo]| {
        let readings = session.iter().filter_map(|photo| photo.taken);
        several(readings.map(|at| origin.seconds(ClockOffset::as_if_utc(at))).collect())
    };
    written || material.sessions.iter().any(taken)
}

/// Whether there are so many moments apart by more than a stop, over such a time.
fn several(mut moments: Vec<f64>) -> bool {
    moments.sort_by(f64::total_cmp);
    moments.dedup_by(|later, kept| *later - *kept < ONE_STOP);
    let lasts = moments.first().zip(moments.last()).map_or(0.0, |(first, last)| last - first);
    moments.len() >= MOMENTS && lasts >= FINDS_LAST
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_few_photographs_of_one_stop_are_one_moment() {
        assert!(several(vec![0.0, 900.0, 2_000.0]));
        assert!(!several(vec![0.0, 20.0, 2_000.0]));
        assert!(!several(vec![0.0, 600.0, 1_200.0]));
        assert!(!several(Vec::new()));
    }
}

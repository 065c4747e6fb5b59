//! Chooses the reading of written coordinates and its error bound. If more than one reading is possible,
//! only the day's track decides, and only if exactly one reading lies near it. Layer: `join`.

use crate::earth::geodesic;
use crate::earth::local::Plane;
use crate::model::{
    AnchorBasis, AnchorKind, CoordinateReading, PartKind, RadiusPart, TrackPoint,
    WrittenCoordinates,
};
use crate::units::{LatLon, Metres, Radius95};

use super::super::receiver::Estimate;
use super::anchor::{Draft, GPS_UNRECORDED, Single, single};

/// A reading this near to the track may be meant, metres; more where its own bounds are wider.
const NEAR: f64 = 1_000.0;

/// The result of interpreting written coordinates.
#[derive(Clone, Debug)]
pub(crate) enum Decided {
    /// One reading is used.
    Clear(CoordinateReading),
    /// The track selected one of several readings, or a corrected writing error.
    Chosen {
        reading: CoordinateReading,
        /// Whether it is a corrected writing error.
        slip: bool,
        /// Every reading with its distance from the track.
        distances: Vec<(CoordinateReading, Option<Metres>)>,
    },
    /// Nothing decides, or nothing fits.
    Refused(Vec<(CoordinateReading, Option<Metres>)>),
}

/// Decides which reading is meant.
pub(crate) fn decide(written: &WrittenCoordinates, track: &[TrackPoint]) -> Option<Decided> {
    let measured = |readings: &[CoordinateReading]| -> Vec<(CoordinateReading, Option<Metres>)> {
        readings.iter().map(|reading| (reading.clone(), off_track(reading.at, track))).collect()
    };
    let (readings, slips) = (measured(&written.readings), measured(&written.slips));
    // a stated measured position does not need to agree with the track
    if let ([(only, _)], true) = (readings.as_slice(), written.measured) {
        return Some(Decided::Clear(only.clone()));
    }
    let near = |all: &[(CoordinateReading, Option<Metres>)]| -> Vec<CoordinateReading> {
        all.iter()
            .filter(|(reading, away)| is_near(reading, *away))
            .map(|(r, _)| r.clone())
            .collect()
    };
    let (near_readings, near_slips) = (near(&readings), near(&slips));
    let all: Vec<_> = readings.iter().chain(&slips).cloned().collect();
    match (readings.len(), near_readings.len(), near_slips.len()) {
        (0, _, 0) if slips.is_empty() => None,
        (1, 1, _) => Some(Decided::Clear(near_readings.into_iter().next()?)),
        (_, 1, _) => Some(Decided::Chosen {
            reading: near_readings.into_iter().next()?,
            slip: false,
            distances: all,
        }),
        (_, 0, 1) => Some(Decided::Chosen {
            reading: near_slips.into_iter().next()?,
            slip: true,
            distances: all,
        }),
        // no track to compare it with
        (1, ..) if track.is_empty() || slips.is_empty() => {
            Some(Decided::Clear(readings.into_iter().next()?.0))
        }
        _ => Some(Decided::Refused(all)),
    }
}

fn is_near(reading: &CoordinateReading, away: Option<Metres>) -> bool {
    away.is_some_and(|away| away.0 <= NEAR + reading.precision.0 + reading.datum.0)
}

/// The distance from the track's nearest point; `None` without a track.
pub(crate) fn off_track(place: LatLon, track: &[TrackPoint]) -> Option<Metres> {
    // every twentieth point finds the neighbourhood, then each of it is tried
    const STRIDE: usize = 20;
    let distance = |k: usize| geodesic::distance(track[k].at, place).0;
    let about =
        (0..track.len()).step_by(STRIDE).min_by(|&a, &b| distance(a).total_cmp(&distance(b)))?;
    let (from, to) = (about.saturating_sub(STRIDE), (about + STRIDE).min(track.len() - 1));
    (from..=to).map(distance).min_by(f64::total_cmp).map(Metres)
}

/// The anchor of a reading. Its figures and its datum bound it; the receiver that it was read from
/// errs as the day's does, or as an unrecorded one.
pub(crate) fn from_reading(
    written: &WrittenCoordinates,
    reading: &CoordinateReading,
    plane: &Plane,
    receiver: &Estimate,
    has_track: bool,
) -> Draft {
    let (radius, shared) = match written.stated_uncertainty {
        Some(stated) => (stated.0.max(0.1), 0.0),
        None if has_track => (Radius95::PER_SIGMA * receiver.one_fix().sqrt(), 0.5),
        None => (GPS_UNRECORDED, 0.0),
    };
    let mut draft = single(
        Single {
            kind: AnchorKind::Coordinates,
            at: reading.at,
            variance: (radius / Radius95::PER_SIGMA).powi(2),
            shared,
            stand_off: Metres(0.0),
            when: None,
            basis: AnchorBasis::Coordinates {
                verbatim: written.verbatim.clone(),
                manner: reading.manner.clone(),
            },
        },
        plane,
    );
    for (kind, size) in
        [(PartKind::CoordinatePrecision, reading.precision), (PartKind::Datum, reading.datum)]
    {
        // an uncertainty stated for measured coordinates holds the datum
        let stated = written.measured && written.stated_uncertainty.is_some();
        if size.0 > 0.0 && !(stated && kind == PartKind::Datum) {
            draft.bounded += size.0;
            draft.parts.push(RadiusPart { kind, size });
        }
    }
    draft
}

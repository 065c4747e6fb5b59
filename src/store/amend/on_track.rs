//! Estimates a position on an outing's finished track at corrected times: after a time, the photographs
//! or the camera's clock of a find were amended. Refuses times in gaps and outside the track.
//! Layer: `store`.

use jiff::Timestamp;

use crate::earth::geodesic;
use crate::earth::local::Plane;
use crate::model::{Combination, Located, PartKind, RadiusPart, TrackPoint};
use crate::units::{GpsHeight, LatLon, Metres, Radius95, Seconds};

/// Instants are sampled this often over the 95 % interval of a time.
const SAMPLES: i32 = 20;
/// A time this close to the first or last fix counts as on the track, seconds (common practice: a
/// receiver is switched on at the first stop and off at the last).
const BEYOND: f64 = 30.0;
/// A gap shorter than this is bridged, seconds: of the order of the intervals at which receivers record
/// to save power (common practice).
const SHORT_GAP: f64 = 60.0;

/// Distance between collector and find at the 95 % level, metres (common practice: at arm's length).
const STAND_OFF: f64 = 2.0;

/// A time with half the width of its 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Moment {
    /// The middle.
    pub(super) at: Timestamp,
    /// Half the width.
    pub(super) within: Seconds,
}

/// Why the track has no position at these times.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum NotOnTrack {
    /// The outing has no track.
    NoTrack,
    /// Before its first or after its last fix.
    Outside {
        /// The first fix.
        first: Timestamp,
        /// The last one.
        last: Timestamp,
    },
    /// In a gap of the track.
    Gap {
        /// The last fix before it.
        from: Timestamp,
        /// The first fix after it.
        to: Timestamp,
    },
}

/// The position at these moments, all at one place, with what makes its radius.
///
/// # Accuracy
/// The radius adds in quadrature the largest 95 % radius of the track points used, the 95 % quantile
/// of the distances walked within the intervals of the times, and the distance between collector and
/// find. It treats the times as uniform in their intervals, so that it is rather too large than too
/// small. Tests compare it with a walk of known truth.
///
/// # Errors
/// When a moment is not covered by the track.
pub(super) fn on_track(
    track: &[TrackPoint],
    moments: &[Moment],
    time_part: PartKind,
) -> Result<Located, NotOnTrack> {
    let mut samples = Vec::new();
    let (mut receiver, mut height) = (0.0_f64, None);
    for moment in moments {
        for step in -SAMPLES..=SAMPLES {
            let part = f64::from(step) / f64::from(SAMPLES);
            let instant = Seconds(moment.within.0 * part).after(moment.at);
            let on = at(track, instant, step == 0)?;
            receiver = receiver.max(on.radius);
            height = height.or(on.height);
            samples.push(on.place);
        }
    }
    let Some(first) = samples.first() else { return Err(NotOnTrack::NoTrack) };
    let plane = Plane::about(*first);
    let points: Vec<(f64, f64)> = samples.iter().map(|place| plane.to_plane(*place)).collect();
    let count = points.len() as f64;
    let middle = points.iter().fold((0.0, 0.0), |sum, point| (sum.0 + point.0, sum.1 + point.1));
    let middle = (middle.0 / count, middle.1 / count);
    let mut away: Vec<f64> =
        points.iter().map(|point| (point.0 - middle.0).hypot(point.1 - middle.1)).collect();
    away.sort_by(f64::total_cmp);
    let spread = away.get(away.len() * 95 / 100).copied().unwrap_or(0.0);
    let stand_off = STAND_OFF;
    let radius = (receiver.powi(2) + spread.powi(2) + stand_off.powi(2)).sqrt();
    let mut parts = vec![
        RadiusPart { kind: PartKind::Receiver, size: Metres(receiver) },
        RadiusPart { kind: time_part, size: Metres(spread) },
        RadiusPart { kind: PartKind::StandOff, size: Metres(stand_off) },
    ];
    parts.retain(|part| part.size.0 >= 0.05);
    parts.sort_by(|a, b| b.size.0.total_cmp(&a.size.0));
    Ok(Located {
        at: plane.from_plane(middle.0, middle.1),
        radius: Radius95::new(Metres(radius)).unwrap_or(Radius95::ONE_METRE),
        parts,
        height,
        combination: Combination::Single,
    })
}

/// The fastest that a collector goes on average over a gap, metres per second (common practice: brisk
/// walking).
const BRISK: f64 = 1.6;

/// A place on the track.
struct Sample {
    place: LatLon,
    /// The larger 95 % radius of the two fixes about it; in a gap with the distance from its edge.
    radius: f64,
    height: Option<GpsHeight>,
}

impl Sample {
    fn of(point: &TrackPoint) -> Self {
        Self { place: point.at, radius: point.radius.metres().0, height: point.height }
    }
}

/// The place on the track at an instant. The middle of an interval must be on the track; what else of
/// it lies beyond the ends is held there.
fn at(track: &[TrackPoint], instant: Timestamp, middle: bool) -> Result<Sample, NotOnTrack> {
    let (Some(first), Some(last)) = (track.first(), track.last()) else {
        return Err(NotOnTrack::NoTrack);
    };
    let early = Seconds::between(instant, first.time).0;
    let late = Seconds::between(last.time, instant).0;
    if middle && early.max(late) > BEYOND {
        return Err(NotOnTrack::Outside { first: first.time, last: last.time });
    }
    let after = track.partition_point(|point| point.time <= instant);
    let Some(before) = after.checked_sub(1).and_then(|before| track.get(before)) else {
        return Ok(Sample::of(first));
    };
    let Some(next) = track.get(after) else { return Ok(Sample::of(last)) };
    let lasts = Seconds::between(before.time, next.time).0;
    let since = Seconds::between(before.time, instant).0;
    let gap = before.gap_after && lasts > SHORT_GAP;
    if gap && middle {
        return Err(NotOnTrack::Gap { from: before.time, to: next.time });
    }
    let reach = if gap { BRISK * since.min(lasts - since) } else { 0.0 };
    let part = if lasts > 0.0 { since / lasts } else { 0.0 };
    let radius = before.radius.metres().0.max(next.radius.metres().0);
    Ok(Sample {
        place: geodesic::interpolate(before.at, next.at, part),
        radius: radius + reach,
        height: before.height,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::Activity;

    fn second(second: i64) -> Timestamp {
        Timestamp::from_second(1_780_000_000 + second).unwrap()
    }

    fn place(east: f64) -> LatLon {
        Plane::about(LatLon::clamped(-42.5, 146.25)).from_plane(east, 0.0)
    }

    /// East at 1 m/s, with a gap from 200 s to 400 s.
    fn walk() -> Vec<TrackPoint> {
        let times = (0..=200).step_by(5).chain((400..=600).step_by(5));
        times
            .map(|time| TrackPoint {
                time: second(time),
                at: place(time as f64),
                height: None,
                radius: Radius95::new(Metres(6.0)).unwrap(),
                activity: Activity::Walking,
                gap_after: time == 200,
            })
            .collect()
    }

    fn moment(at: i64, within: f64) -> [Moment; 1] {
        [Moment { at: second(at), within: Seconds(within) }]
    }

    #[test]
    fn position_is_that_of_the_time_with_the_distance_walked() {
        let found = on_track(&walk(), &moment(102, 30.0), PartKind::TimeRounding).unwrap();
        assert!(geodesic::distance(found.at, place(102.0)).0 < 0.01);
        // 95 % of a uniform 60 m
        let spread = found.parts[0].size.0;
        assert!((27.0..=30.0).contains(&spread), "{spread}");
        assert!(found.radius.metres().0 > spread);
        assert_eq!(found.parts[0].kind, PartKind::TimeRounding);
    }

    #[test]
    fn circle_holds_95_percent_of_the_possible_positions() {
        let found = on_track(&walk(), &moment(102, 30.0), PartKind::Clock).unwrap();
        let inside = (-30..=30)
            .filter(|off| {
                let truth = place(f64::from(102 + off));
                geodesic::distance(found.at, truth).0 <= found.radius.metres().0
            })
            .count();
        assert!(inside >= 58, "{inside} of 61");
    }

    #[test]
    fn gaps_and_times_outside_are_refused() {
        let gap = on_track(&walk(), &moment(300, 10.0), PartKind::Clock).unwrap_err();
        assert_eq!(gap, NotOnTrack::Gap { from: second(200), to: second(400) });
        let late = on_track(&walk(), &moment(700, 10.0), PartKind::Clock).unwrap_err();
        assert_eq!(late, NotOnTrack::Outside { first: second(0), last: second(600) });
        let none = on_track(&[], &moment(0, 1.0), PartKind::Clock).unwrap_err();
        assert_eq!(none, NotOnTrack::NoTrack);
        assert!(on_track(&walk(), &[], PartKind::Clock).is_err());
        assert!(on_track(&walk(), &moment(610, 60.0), PartKind::Clock).is_ok());
    }

    #[test]
    fn extreme_times_do_not_panic() {
        for at in [Timestamp::MIN, Timestamp::MAX] {
            let moments = [Moment { at, within: Seconds(f64::MAX) }];
            assert!(on_track(&walk(), &moments, PartKind::Clock).is_err());
        }
    }
}

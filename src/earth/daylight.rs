//! Computes intervals of day, civil twilight and dark between two instants at a place, independent
//! of the local date. Terrain on the horizon, cloud and canopy are not modelled. Layer: `earth`.
//!
//! A day's plan needs the light over a span of time, not over a date: the way out may pass midnight, and in summer at
//! high latitudes no part of the night is dark. [`super::sun::light`] answers for a date instead.

use serde::Serialize;
use solar_positioning::time::JulianDate;
use solar_positioning::{Horizon, SolarEvents, SolarPositions};

use super::sun::{instant, julian, location, odd, slowing};
use crate::error::Result;
use crate::units::{LatLon, Seconds, TimeZone, Timestamp};

/// Crossings separated by less than this are merged.
const SHORTEST: Seconds = Seconds(1.5);

/// The light, by the height of the sun; darker compares as less.
///
/// The order is that of brightness, so that `light < Illumination::Day` asks whether it is twilight or darker. Under a
/// closed canopy it is dark well before the end of civil twilight; by how much is not modelled.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Illumination {
    /// The sun's centre is more than 6 degrees below the horizon.
    Dark,
    /// The sun is down, its centre at most 6 degrees below the horizon.
    CivilTwilight,
    /// The sun's upper edge is above a level horizon at sea level, refraction included.
    Day,
}

/// A period with constant light.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Interval {
    /// The light.
    pub light: Illumination,
    /// Its beginning.
    pub from: Timestamp,
    /// Its end.
    pub to: Timestamp,
}

impl Interval {
    /// How long it lasts.
    #[must_use]
    pub fn length(&self) -> Seconds {
        Seconds::between(self.from, self.to)
    }

    /// The part of it between two instants.
    ///
    /// `None` where they have no instant in common, or touch only.
    #[must_use]
    pub fn within(&self, from: Timestamp, to: Timestamp) -> Option<Self> {
        let part = Self { from: self.from.max(from), to: self.to.min(to), ..*self };
        (part.from < part.to).then_some(part)
    }
}

/// The light between two instants, without gaps and without equal neighbours.
///
/// The first one begins at `from`, the last one ends at `to`; empty where `to` is not after `from`. A polar day or
/// night is one interval.
///
/// # Accuracy
/// That of [`super::sun::light`]. Where the sun grazes a height, a period of less than a minute may
/// be missing or spurious: the height is then within 0.01 degree of the limit.
///
/// # Errors
/// When the year is outside of -500 to 3000.
///
/// # Examples
/// ```
/// use trug::earth::daylight::{self, Illumination};
/// use trug::units::LatLon;
///
/// let place = LatLon::new(-42.88, 147.33)?;
/// let light = daylight::intervals(place, "2026-05-02T02:00:00Z".parse()?, "2026-05-02T12:00:00Z".parse()?)?;
/// let kinds: Vec<Illumination> = light.iter().map(|interval| interval.light).collect();
/// assert_eq!(kinds, [Illumination::Day, Illumination::CivilTwilight, Illumination::Dark]);
/// // sunset, about ten past five in the afternoon there
/// assert!(light[0].to.to_string().starts_with("2026-05-02T07:1"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn intervals(place: LatLon, from: Timestamp, to: Timestamp) -> Result<Vec<Interval>> {
    let delta = slowing(TimeZone::UTC.to_datetime(from).date())?;
    let mut bounds = vec![from, to];
    for horizon in [Horizon::SunriseSunset, Horizon::CivilTwilight] {
        let found = SolarEvents::new()
            .for_interval_from_julian(julian(from), julian(to), location(place), delta, horizon)
            .map_err(|reason| odd(place, &reason))?;
        bounds.extend(found.rises.iter().chain(&found.sets).map(|passage| instant(*passage)));
    }
    bounds.retain(|bound| (from..=to).contains(bound));
    bounds.sort();
    let mut intervals: Vec<Interval> = Vec::new();
    for ends in bounds.windows(2) {
        let length = Seconds::between(ends[0], ends[1]);
        match intervals.last_mut() {
            Some(last) if length.0 < SHORTEST.0 => last.to = ends[1],
            None if length.0 <= 0.0 => {}
            _ => {
                let light = light_at(place, Seconds(length.0 / 2.0).after(ends[0]), delta)?;
                join(&mut intervals, Interval { light, from: ends[0], to: ends[1] });
            }
        }
    }
    Ok(intervals)
}

fn join(intervals: &mut Vec<Interval>, next: Interval) {
    match intervals.last_mut() {
        Some(last) if last.light == next.light => last.to = next.to,
        _ => intervals.push(next),
    }
}

fn light_at(place: LatLon, at: Timestamp, delta: f64) -> Result<Illumination> {
    let time = JulianDate::new(julian(at), delta).map_err(|reason| odd(place, &reason))?;
    let height = SolarPositions::new()
        .at_from_julian(time, location(place), 0.0, None)
        .map_err(|reason| odd(place, &reason))?
        .elevation_angle();
    Ok(if height > Horizon::SunriseSunset.elevation_angle() {
        Illumination::Day
    } else if height > Horizon::CivilTwilight.elevation_angle() {
        Illumination::CivilTwilight
    } else {
        Illumination::Dark
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lights(latitude: f64, longitude: f64, from: &str, hours: f64) -> Vec<Illumination> {
        let from: Timestamp = from.parse().unwrap();
        let to = Seconds(hours * 3_600.0).after(from);
        let found = intervals(LatLon::new(latitude, longitude).unwrap(), from, to).unwrap();
        assert_eq!((found[0].from, found.last().unwrap().to), (from, to));
        assert!(found.windows(2).all(|pair| pair[0].to == pair[1].from));
        found.iter().map(|interval| interval.light).collect()
    }

    #[test]
    fn a_night_lies_between_two_twilights_on_either_side_of_the_date_line() {
        use Illumination::{CivilTwilight, Dark, Day};
        for longitude in [0.0, 146.0, 179.999, -179.999, -75.0] {
            let noon = Seconds(-longitude * 240.0).after("2026-05-16T12:00:00Z".parse().unwrap());
            assert_eq!(
                lights(-42.6, longitude, &noon.to_string(), 24.0),
                [Day, CivilTwilight, Dark, CivilTwilight, Day]
            );
        }
    }

    #[test]
    fn polar_day_polar_night_and_white_nights() {
        use Illumination::{CivilTwilight, Dark, Day};
        assert_eq!(lights(78.2, 15.6, "2026-06-21T00:00:00Z", 48.0), [Day]);
        assert_eq!(lights(78.2, 15.6, "2026-12-21T00:00:00Z", 48.0), [Dark]);
        assert_eq!(lights(69.65, 18.95, "2026-12-20T23:00:00Z", 24.0), [Dark, CivilTwilight, Dark]);
        assert_eq!(lights(61.0, 25.0, "2026-06-21T10:00:00Z", 24.0), [Day, CivilTwilight, Day]);
        assert_eq!(lights(90.0, 0.0, "2026-09-28T00:00:00Z", 24.0), [CivilTwilight]);
        assert_eq!(lights(-90.0, 0.0, "2026-12-21T00:00:00Z", 72.0), [Day]);
    }
}

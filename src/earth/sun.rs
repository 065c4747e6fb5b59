//! Computes sunrise, sunset, twilight and the position of the sun. Polar day and polar night are
//! distinct results. Terrain on the horizon and cloud are not modelled. Layer: `earth`.
//!
//! The crate `solar-positioning` computes the positions; this module asks it about the solar day that belongs to a
//! local date, so that dawn, noon and dusk are always those of one day, also where the local date and the solar day
//! are far apart (time zones at their edges, daylight saving).

use jiff::civil::Date;
use serde::Serialize;
use solar_positioning::time::JulianDate;
use solar_positioning::{
    Horizon, Location, RefractionCorrection, SolarEvents, SolarPositions, delta_t,
};

use crate::error::{Error, Result};
use crate::units::{Degrees, LatLon, Metres, Seconds, TimeZone, Timestamp, TrueBearing};

/// Julian date of the Unix epoch.
const EPOCH: f64 = 2_440_587.5;
const SECONDS_PER_DAY: f64 = 86_400.0;

/// The time at which the sun crosses a height, or why it does not.
///
/// A missing sunset is an answer, not a failure: the height of the sun at noon distinguishes polar day and polar
/// night.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "state", content = "at")]
pub enum Passage {
    /// At this instant.
    At(Timestamp),
    /// It stays above: for sunset that is polar day, for civil dusk a white night.
    StaysAbove,
    /// It stays below: for sunset that is polar night.
    StaysBelow,
}

impl Passage {
    /// The instant, where there is one.
    #[must_use]
    pub fn instant(self) -> Option<Timestamp> {
        match self {
            Self::At(instant) => Some(instant),
            Self::StaysAbove | Self::StaysBelow => None,
        }
    }
}

/// The light of one day: the hours about the solar noon that belongs to a local date.
///
/// Every moment is for a level horizon at sea level. From a summit the sun sets some minutes later, in a valley long
/// before.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Light {
    /// The beginning of civil twilight: the centre of the sun 6 degrees below the horizon.
    pub civil_dawn: Passage,
    /// The sun's upper edge on a level horizon at sea level, refraction included.
    pub sunrise: Passage,
    /// The sun at its highest.
    pub noon: Timestamp,
    /// As sunrise.
    pub sunset: Passage,
    /// The end of civil twilight; under trees it is dark well before.
    pub civil_dusk: Passage,
}

/// The light at a place on a local date.
///
/// The zone only says which solar day the date means: the one whose noon is nearest to local midday.
///
/// # Accuracy
/// 60 s against the tables of the US Naval Observatory, which print minutes; 1 s against the JPL
/// ephemeris DE440 in temperate latitudes. Refraction near the horizon varies: expect a minute or
/// two, more towards the poles.
///
/// # Errors
/// When the year is outside of -500 to 3000.
///
/// # Examples
/// ```
/// use trug::earth::sun::{self, Passage};
/// use trug::units::{LatLon, TimeZone};
///
/// let day = jiff::civil::date(2026, 6, 21);
/// let light = sun::light(LatLon::new(63.43, 10.40)?, day, &TimeZone::get("Europe/Oslo")?)?;
/// let sunset = light.sunset.instant().ok_or("no sunset")?;
/// assert!(sunset > light.noon);
/// // at midsummer so far north civil twilight lasts all night
/// assert_eq!(light.civil_dusk, Passage::StaysAbove);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # References
/// Reda & Andreas 2004, Solar position algorithm for solar radiation applications, Solar Energy 76,
/// 577-589, doi:10.1016/j.solener.2003.12.003; Espenak & Meeus for the length of the day.
pub fn light(place: LatLon, day: Date, zone: &TimeZone) -> Result<Light> {
    let midday = zone
        .to_ambiguous_timestamp(day.at(12, 0, 0, 0))
        .compatible()
        .map_err(|reason| odd(place, &reason))?;
    light_about(place, midday)
}

/// The light of the solar day that an instant lies in, from midnight to midnight by the sun.
///
/// Needs no zone: where an instant is known this is the safer question. Accuracy and references are those of [`light`].
///
/// # Errors
/// When the year is outside of -500 to 3000.
pub fn light_about(place: LatLon, midday: Timestamp) -> Result<Light> {
    let delta = slowing(TimeZone::UTC.to_datetime(midday).date())?;
    let noon = noon_about(place, julian(midday), delta)?;
    let sky = Sky { place, noon, delta };
    Ok(Light {
        civil_dawn: sky.rise(Horizon::CivilTwilight)?,
        sunrise: sky.rise(Horizon::SunriseSunset)?,
        noon: instant(noon),
        sunset: sky.set(Horizon::SunriseSunset)?,
        civil_dusk: sky.set(Horizon::CivilTwilight)?,
    })
}

/// The bearing of the sun and its height above the horizon, standard refraction included.
///
/// `height` is that of the observer above the sea; it matters little.
///
/// # Accuracy
/// 0.00001 degree in azimuth and 0.005 in height (other air) against the case that NREL published
/// with the algorithm.
///
/// # Errors
/// When the year is outside of -500 to 3000.
///
/// # Examples
/// ```
/// use trug::earth::sun;
/// use trug::units::{LatLon, Metres};
///
/// let (bearing, height) =
///     sun::position(LatLon::new(-42.88, 147.33)?, Metres(50.0), "2026-05-02T02:00:00Z".parse()?)?;
/// // about noon in the south the sun stands in the north
/// assert!(bearing.degrees().0 < 15.0 || bearing.degrees().0 > 345.0);
/// assert!((30.0..35.0).contains(&height.0));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn position(place: LatLon, height: Metres, at: Timestamp) -> Result<(TrueBearing, Degrees)> {
    let delta = slowing(TimeZone::UTC.to_datetime(at).date())?;
    position_with(place, height, at, Seconds(delta))
}

fn position_with(
    place: LatLon,
    height: Metres,
    at: Timestamp,
    delta: Seconds,
) -> Result<(TrueBearing, Degrees)> {
    let time = JulianDate::new(julian(at), delta.0).map_err(|reason| odd(place, &reason))?;
    let refraction = Some(RefractionCorrection::standard());
    let found = SolarPositions::new()
        .at_from_julian(time, location(place), height.0, refraction)
        .map_err(|reason| odd(place, &reason))?;
    Ok((TrueBearing::new(Degrees(found.azimuth())), Degrees(found.elevation_angle())))
}

/// One solar day.
struct Sky {
    place: LatLon,
    noon: f64,
    delta: f64,
}

impl Sky {
    fn rise(&self, horizon: Horizon) -> Result<Passage> {
        let found = SolarEvents::new()
            .for_interval_from_julian(
                self.noon - 0.5,
                self.noon,
                location(self.place),
                self.delta,
                horizon,
            )
            .map_err(|reason| odd(self.place, &reason))?;
        self.or_state(found.rises.last().copied(), horizon)
    }

    fn set(&self, horizon: Horizon) -> Result<Passage> {
        let found = SolarEvents::new()
            .next_set_from_julian(
                self.noon,
                self.noon + 0.5,
                location(self.place),
                self.delta,
                horizon,
            )
            .map_err(|reason| odd(self.place, &reason))?;
        self.or_state(found, horizon)
    }

    /// Without a crossing within half a day of noon, the height at noon decides which it is.
    fn or_state(&self, passage: Option<f64>, horizon: Horizon) -> Result<Passage> {
        if let Some(passage) = passage {
            return Ok(Passage::At(instant(passage)));
        }
        let time =
            JulianDate::new(self.noon, self.delta).map_err(|reason| odd(self.place, &reason))?;
        let height = SolarPositions::new()
            .at_from_julian(time, location(self.place), 0.0, None)
            .map_err(|reason| odd(self.place, &reason))?
            .elevation_angle();
        if height > horizon.elevation_angle() {
            return Ok(Passage::StaysAbove);
        }
        Ok(Passage::StaysBelow)
    }
}

/// The upper transit nearest to an instant.
fn noon_about(place: LatLon, midday: f64, delta: f64) -> Result<f64> {
    let events = SolarEvents::new();
    let mut nearest: Option<f64> = None;
    let mut from = midday - 0.6;
    let until = midday + 0.6;
    while from < until {
        let next = events
            .next_transit_from_julian(from, until, place.longitude(), delta)
            .map_err(|reason| odd(place, &reason))?;
        let Some(transit) = next else { break };
        if nearest.is_none_or(|known| (transit - midday).abs() < (known - midday).abs()) {
            nearest = Some(transit);
        }
        from = transit + 0.01;
    }
    nearest.ok_or_else(|| odd(place, &"the sun does not cross the meridian"))
}

/// Delta T: the lag of the Earth's rotation behind uniform time, seconds.
pub(super) fn slowing(day: Date) -> Result<f64> {
    let month = u32::try_from(day.month()).unwrap_or(1);
    delta_t::estimate_from_date(i32::from(day.year()), month).map_err(|reason| {
        Error::input(format!(
            "sunrise and sunset on {day} cannot be \
         computed"
        ))
        .because(reason.to_string())
    })
}

pub(super) fn location(place: LatLon) -> Location {
    Location { latitude: place.latitude(), longitude: place.longitude() }
}

pub(super) fn odd(place: LatLon, reason: &dyn std::fmt::Display) -> Error {
    Error::input(format!(
        "sunrise and sunset at {place} cannot be \
     computed"
    ))
    .because(reason.to_string())
}

/// The Julian date (UT) of an instant.
pub(super) fn julian(instant: Timestamp) -> f64 {
    Seconds::between(Timestamp::UNIX_EPOCH, instant).0 / SECONDS_PER_DAY + EPOCH
}

/// Rounded to the second, since refraction varies by more.
pub(super) fn instant(julian: f64) -> Timestamp {
    Seconds(((julian - EPOCH) * SECONDS_PER_DAY).round()).after(Timestamp::UNIX_EPOCH)
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn place(latitude: f64, longitude: f64) -> LatLon {
        LatLon::new(latitude, longitude).unwrap()
    }

    #[test]
    fn the_case_published_with_the_algorithm() {
        // Reda & Andreas, NREL/TP-560-34302, appendix: zenith 50.111622, azimuth 194.340241 for
        // 1830.14 m and delta T 67 s; it takes 820 mbar and 11 C, the standard air here is denser
        let at = "2003-10-17T19:30:30Z".parse().unwrap();
        let golden = place(39.742_476, -105.178_6);
        let (azimuth, height) = position_with(golden, Metres(1_830.14), at, Seconds(67.0)).unwrap();
        assert!((azimuth.degrees().0 - 194.340_241).abs() < 1e-5, "{azimuth:?}");
        assert!((height.0 - (90.0 - 50.111_622)).abs() < 0.005, "{height:?}");
    }

    #[test]
    fn polar_day_and_night_are_reported_apart() {
        let svalbard = place(78.22, 15.63);
        let june = light(svalbard, date(2026, 6, 21), &TimeZone::UTC).unwrap();
        assert_eq!((june.sunset, june.sunrise), (Passage::StaysAbove, Passage::StaysAbove));
        let december = light(svalbard, date(2026, 12, 21), &TimeZone::UTC).unwrap();
        assert_eq!(december.sunset, Passage::StaysBelow);
        assert_eq!(december.civil_dusk, Passage::StaysBelow);
        let white = light(place(60.2, 24.9), date(2026, 6, 21), &TimeZone::UTC).unwrap();
        assert!(white.sunset.instant().is_some());
    }

    #[test]
    fn the_evening_belongs_to_its_own_day_in_any_zone() {
        let hobart = TimeZone::get("Australia/Hobart").unwrap();
        let light = light(place(-42.9, 147.3), date(2026, 5, 3), &hobart).unwrap();
        let dusk = hobart.to_datetime(light.civil_dusk.instant().unwrap());
        let sunset = hobart.to_datetime(light.sunset.instant().unwrap());
        assert_eq!((dusk.date(), sunset.date()), (date(2026, 5, 3), date(2026, 5, 3)));
        assert!(sunset.hour() == 17 && dusk > sunset, "{sunset} {dusk}");
    }

    #[test]
    fn noon_is_found_whatever_the_hour_of_the_clock() {
        // a transit may lie at the very end of the hours that are searched
        for minute in (0..1_440).step_by(7) {
            let at =
                Seconds(f64::from(minute) * 60.0).after("2026-05-16T00:00:00Z".parse().unwrap());
            for longitude in [-179.9, 0.0, 145.0, 146.0] {
                let light = light_about(place(-42.0, longitude), at).unwrap();
                assert!(Seconds::between(light.noon, at).abs().0 < 43_260.0, "{at} {longitude}");
            }
        }
    }

    #[test]
    fn extreme_dates_and_positions_are_handled() {
        for day in [date(-9999, 1, 1), date(9999, 12, 31)] {
            assert!(light(place(10.0, 10.0), day, &TimeZone::UTC).is_err());
        }
        for (latitude, longitude) in [(90.0, 0.0), (-90.0, 180.0), (0.0, 180.0), (66.5, -179.9)] {
            assert!(light(place(latitude, longitude), date(2026, 3, 20), &TimeZone::UTC).is_ok());
        }
    }
}

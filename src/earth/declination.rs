//! Computes the magnetic declination at a place and date by the World Magnetic Model 2025. Refuses
//! dates outside its validity, since the error of an expired model grows each year. Local anomalies
//! are in no global model. Layer: `earth`.
//!
//! The model describes the field of the Earth's core. Rocks, power lines and what a person carries add to it, by
//! degrees in places; a bearing that has to be right is checked against a landmark.

use jiff::civil::{Date, date};
use world_magnetic_model::GeomagneticField;
use world_magnetic_model::time;
use world_magnetic_model::uom::si::angle::degree;
use world_magnetic_model::uom::si::f32::{Angle, Length};
use world_magnetic_model::uom::si::length::meter;
use world_magnetic_model::uom::si::magnetic_flux_density::nanotesla;

use crate::error::{Error, Result};
use crate::units::{Declination, Degrees, LatLon, MagneticModel, SeaLevelHeight};

/// The first day of the model.
///
/// Earlier dates are refused: this edition of the model says nothing of them.
pub const FIRST_DAY: Date = date(2025, 1, 1);
/// Its last day.
///
/// From 2030 on [`at`] and [`field`] refuse, and the user has to state the declination. The next edition replaces it.
pub const LAST_DAY: Date = date(2029, 12, 31);

/// The magnetic field at a place, as it affects a compass.
///
/// Two of the components are enough for a compass: the direction of the needle and the strength that turns it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Field {
    /// The angle from true to magnetic north.
    pub declination: Declination,
    /// The horizontal component, nanotesla.
    pub horizontal: f64,
}

/// The reliability of a compass.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Compass {
    /// Reliable.
    Good,
    /// Horizontal component below 6,000 nT: the needle is slow and unreliable.
    Sluggish,
    /// Below 2,000 nT: a compass is unusable.
    Useless,
}

impl Field {
    /// The reliability of a compass here.
    ///
    /// # References
    /// World Magnetic Model 2025, technical report, caution and blackout zones.
    #[must_use]
    pub fn compass(&self) -> Compass {
        match self.horizontal {
            strength if strength < 2_000.0 => Compass::Useless,
            strength if strength < 6_000.0 => Compass::Sluggish,
            _ => Compass::Good,
        }
    }
}

/// The declination at sea level.
///
/// # Accuracy
/// 0.006 degree against the 100 test values published with the model. The error of the model is the
/// value's own `uncertainty`: one standard deviation, sqrt(0.26^2 + (5417/H)^2) degrees with H in
/// nanotesla.
///
/// # Errors
/// When the day is not in 2025 to 2029.
///
/// # Examples
/// ```
/// use trug::{earth::declination, units::LatLon};
/// // published with the model: 14.91 degrees there in the middle of 2025, 8 km up
/// let declination = declination::at(LatLon::new(-52.0, -75.0)?, jiff::civil::date(2025, 7, 2))?;
/// assert!((declination.east.0 - 14.91).abs() < 0.05);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # References
/// NOAA NCEI and British Geological Survey, The US/UK World Magnetic Model for 2025-2030, technical
/// report, section 3.4, doi:10.25923/srtm-4h92 (declination error model).
pub fn at(place: LatLon, day: Date) -> Result<Declination> {
    field(place, SeaLevelHeight(crate::units::Metres(0.0)), day).map(|field| field.declination)
}

/// The declination at a place near that of another one: by the model where that came from it, since
/// near a pole declination changes by degrees within a kilometre; a stated declination is kept.
///
/// Outside of the validity of the model the known value is returned unchanged. The date is that of the known value.
#[must_use]
pub fn nearby(known: &Declination, place: LatLon) -> Declination {
    match known.model {
        MagneticModel::Wmm2025 => at(place, known.date).unwrap_or(*known),
        MagneticModel::Stated => *known,
    }
}

/// The field at a height; within a kilometre or two the height hardly matters.
///
/// # Errors
/// When the day is not in 2025 to 2029 or the height not in -1 to 850 km.
///
/// # Examples
/// ```
/// use trug::earth::declination::{self, Compass};
/// use trug::units::{LatLon, Metres, SeaLevelHeight};
///
/// let sea = SeaLevelHeight(Metres(0.0));
/// let day = jiff::civil::date(2026, 5, 2);
/// let forest = declination::field(LatLon::new(-42.9, 146.1)?, sea, day)?;
/// assert_eq!(forest.compass(), Compass::Good);
/// // the magnetic pole is in the Arctic Ocean: no compass there
/// let pole = declination::field(LatLon::new(86.0, 140.0)?, sea, day)?;
/// assert_eq!(pole.compass(), Compass::Useless);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[allow(clippy::cast_possible_truncation, reason = "the model computes in 32 bits")]
pub fn field(place: LatLon, height: SeaLevelHeight, day: Date) -> Result<Field> {
    if !(FIRST_DAY..=LAST_DAY).contains(&day) {
        return Err(Error::input(format!("the declination on {day} is not known"))
            .because(format!(
                "the World Magnetic Model 2025 is valid from {FIRST_DAY} to \
             {LAST_DAY}"
            ))
            .hint("take it from a current map and give it with --declination, east positive"));
    }
    let odd = |reason: String| {
        Error::input(format!("the declination at {place} is not known")).because(reason)
    };
    let of_year = u16::try_from(day.day_of_year()).unwrap_or(1);
    let on = time::Date::from_ordinal_date(i32::from(day.year()), of_year)
        .map_err(|reason| odd(reason.to_string()))?;
    let model = GeomagneticField::new(
        Length::new::<meter>(height.0.0 as f32),
        Angle::new::<degree>(place.latitude() as f32),
        Angle::new::<degree>(place.longitude() as f32),
        on,
    )
    .map_err(|reason| odd(reason.to_string()))?;
    let horizontal = f64::from(model.h().get::<nanotesla>());
    let declination = Declination {
        east: Degrees(f64::from(model.declination().get::<degree>())).shortest_turn(),
        uncertainty: uncertainty(horizontal),
        model: MagneticModel::Wmm2025,
        date: day,
        place,
    };
    Ok(Field { declination, horizontal })
}

fn uncertainty(horizontal: f64) -> Degrees {
    Degrees(0.26_f64.hypot(5_417.0 / horizontal.max(1.0)).min(180.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_outside_of_the_model_is_refused() {
        let place = LatLon::new(50.0, 8.0).unwrap();
        for day in [date(2024, 12, 31), date(2030, 1, 1), date(-9999, 1, 1), date(9999, 12, 31)] {
            let error = at(place, day).unwrap_err().to_string();
            assert!(error.contains("2029-12-31"), "{error}");
        }
        assert!(at(place, FIRST_DAY).is_ok() && at(place, LAST_DAY).is_ok());
    }

    #[test]
    fn poles_and_date_line_have_a_value() {
        for (latitude, longitude) in [(90.0, 0.0), (-90.0, 12.0), (0.0, 180.0), (-17.0, -179.9)] {
            let place = LatLon::new(latitude, longitude).unwrap();
            assert!(at(place, date(2026, 5, 1)).unwrap().east.0.is_finite());
        }
    }

    #[test]
    fn near_the_magnetic_pole_the_compass_is_unusable() {
        let height = SeaLevelHeight(crate::units::Metres(0.0));
        let compass = |latitude, longitude| {
            let place = LatLon::new(latitude, longitude).unwrap();
            field(place, height, date(2026, 5, 1)).unwrap().compass()
        };
        assert_eq!(compass(-64.0, 136.0), Compass::Useless);
        assert_eq!(compass(-42.0, 146.0), Compass::Good);
        assert!(uncertainty(20_000.0).0 > 0.26 && uncertainty(0.0).0 <= 180.0);
    }
}

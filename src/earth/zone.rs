//! Looks up the time zone of a position offline, from time zone boundaries. Positions at sea have
//! no result, since field records do not follow nautical zones. Layer: `earth`.
//!
//! Used where neither the user nor a photograph states the zone: the boundaries are packed into the library, the rules
//! (daylight saving, changes over the years) come from the IANA time zone database through `jiff`.

use std::sync::LazyLock;

use tzf_rs::EmbeddedFinder;

use crate::units::{LatLon, TimeZone};

static BOUNDARIES: LazyLock<EmbeddedFinder> = LazyLock::new(EmbeddedFinder::new);

/// The name of the zone in the IANA list and its rules; `None` at sea, and where the rules do not
/// know the name.
///
/// The first call unpacks the boundaries. Near a border check what clocks there show: local practice and the map differ
/// in places.
///
/// # Accuracy
/// Boundaries are simplified: within some hundreds of metres of one the neighbour may be named.
///
/// # Examples
/// ```
/// use trug::{earth::zone, units::LatLon};
/// let (name, _) = zone::at(LatLon::new(-42.88, 147.33)?).ok_or("no zone")?;
/// assert_eq!(name, "Australia/Hobart");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn at(place: LatLon) -> Option<(String, TimeZone)> {
    let name = BOUNDARIES.get_tz_name(place.longitude(), place.latitude());
    if name.is_empty() || name.starts_with("Etc/") {
        return None;
    }
    Some((name.to_owned(), TimeZone::get(name).ok()?))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn name(latitude: f64, longitude: f64) -> Option<String> {
        at(LatLon::new(latitude, longitude).unwrap()).map(|(name, _)| name)
    }

    #[test]
    fn positions_on_land_have_a_zone() {
        assert_eq!(name(-42.88, 147.33).as_deref(), Some("Australia/Hobart"));
        assert_eq!(name(60.17, 24.94).as_deref(), Some("Europe/Helsinki"));
        assert_eq!(name(-16.85, 179.97).as_deref(), Some("Pacific/Fiji"));
        assert_eq!(name(-16.85, -179.97).as_deref(), Some("Pacific/Fiji"));
    }

    #[test]
    fn no_zone_at_sea_and_at_extreme_positions() {
        assert_eq!(name(-40.0, -120.0), None);
        for (latitude, longitude) in [(90.0, 0.0), (-90.0, 180.0), (0.0, 180.0), (0.0, 0.0)] {
            let _ = name(latitude, longitude);
        }
        assert_eq!(name(0.0, 0.0), None);
    }
}

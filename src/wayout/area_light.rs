//! Computes the light that holds everywhere in an area: at each instant that of the darkest of its places, so
//! that no place of the area is darker than stated. Layer: `wayout`.

use crate::earth::daylight::{Illumination, Interval, intervals};
use crate::error::Result;
use crate::units::{LatLon, Seconds, Timestamp};

/// The light of the darkest of these places between two instants, without gaps.
///
/// # Errors
/// When the year is outside of -500 to 3000.
pub fn darkest(places: &[LatLon], from: Timestamp, to: Timestamp) -> Result<Vec<Interval>> {
    let lights = places
        .iter()
        .map(|place| intervals(*place, from, to))
        .collect::<Result<Vec<Vec<Interval>>>>()?;
    let mut bounds: Vec<Timestamp> =
        lights.iter().flatten().flat_map(|part| [part.from, part.to]).collect();
    bounds.sort();
    bounds.dedup();
    let mut joined: Vec<Interval> = Vec::new();
    for ends in bounds.windows(2) {
        let middle = Seconds(Seconds::between(ends[0], ends[1]).0 / 2.0).after(ends[0]);
        let light = lights.iter().map(|light| at(light, middle)).min();
        let light = light.unwrap_or(Illumination::Dark);
        match joined.last_mut() {
            Some(last) if last.light == light => last.to = ends[1],
            _ => joined.push(Interval { light, from: ends[0], to: ends[1] }),
        }
    }
    Ok(joined)
}

fn at(light: &[Interval], instant: Timestamp) -> Illumination {
    light
        .iter()
        .find(|part| part.from <= instant && instant < part.to)
        .map_or(Illumination::Dark, |part| part.light)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_place_of_the_area_is_darker_than_stated() {
        let (from, to): (Timestamp, Timestamp) =
            ("2026-05-15T00:00:00Z".parse().unwrap(), "2026-05-20T00:00:00Z".parse().unwrap());
        let place = |latitude, longitude| LatLon::new(latitude, longitude).unwrap();
        let places = [place(-42.6, 146.0), place(-42.7, 146.2), place(-42.5, 145.9)];
        let light = darkest(&places, from, to).unwrap();
        assert_eq!(light.first().unwrap().from, from);
        assert_eq!(light.last().unwrap().to, to);
        assert!(light.windows(2).all(|pair| pair[0].to == pair[1].from));
        for one in places {
            let own = intervals(one, from, to).unwrap();
            for minute in 0..7_200_u32 {
                let instant = Seconds(f64::from(minute) * 60.0 + 7.0).after(from);
                assert!(at(&light, instant) <= at(&own, instant), "{instant}");
            }
        }
    }
}

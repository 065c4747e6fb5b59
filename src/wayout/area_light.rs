//! Computes the light that holds everywhere in an area: at each instant that of the darkest of its places, so
//! that no place of the area is darker than stated. Layer: `wayout`.

use crate::earth::daylight::{Illumination, Interval, intervals};
use crate::error::Result;
use crate::units::{LatLon, Seconds, Timestamp};

/// The light of the darkest of these places between two instants, without gaps, in whole minutes: that of a
/// minute is the darkest of it. Clocks show minutes; a sunrise is so never shown before it is, a sunset never
/// after it.
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
    Ok(in_whole_minutes(&joined))
}

const MINUTE: i64 = 60;

/// The same light, as dark in each minute as it is at any time of it.
fn in_whole_minutes(light: &[Interval]) -> Vec<Interval> {
    let (Some(first), Some(last)) = (light.first(), light.last()) else { return Vec::new() };
    let minute = |instant: Timestamp| instant.as_second().div_euclid(MINUTE);
    let (begin, end) = (minute(first.from), last_minute(last.to));
    let place = |minute: i64| usize::try_from(minute - begin).unwrap_or(0);
    let mut minutes = vec![Illumination::Day; place(end) + 1];
    for part in light {
        for one in &mut minutes[place(minute(part.from))..=place(last_minute(part.to))] {
            *one = part.light.min(*one);
        }
    }
    let mut rounded: Vec<Interval> = Vec::new();
    for (offset, light) in (begin..).zip(minutes) {
        let from = Timestamp::from_second(offset * MINUTE).unwrap_or(first.from).max(first.from);
        let to = Timestamp::from_second((offset + 1) * MINUTE).unwrap_or(last.to).min(last.to);
        match rounded.last_mut() {
            Some(before) if before.light == light => before.to = to,
            _ => rounded.push(Interval { light, from, to }),
        }
    }
    rounded
}

/// The minute that holds the last moment before an instant.
fn last_minute(end: Timestamp) -> i64 {
    let whole = end.as_second().rem_euclid(MINUTE) == 0 && end.subsec_nanosecond() == 0;
    end.as_second().div_euclid(MINUTE) - i64::from(whole)
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

    #[test]
    fn changes_are_whole_minutes_and_on_the_dark_side() {
        let from: Timestamp = "2026-05-15T00:00:17Z".parse().unwrap();
        let place = LatLon::new(-42.6, 146.0).unwrap();
        let to = Seconds(200_000.0).after(from);
        let (own, light) =
            (intervals(place, from, to).unwrap(), darkest(&[place], from, to).unwrap());
        assert_eq!((own.len(), light[0].from, light.last().unwrap().to), (light.len(), from, to));
        for (exact, shown) in own.iter().zip(&light).skip(1) {
            let lighter = exact.light > at(&own, Seconds(-1.0).after(exact.from));
            let late = Seconds::between(exact.from, shown.from).0;
            assert_eq!(shown.from.as_second() % 60, 0);
            assert!(if lighter {
                (0.0..60.0).contains(&late)
            } else {
                (-60.0..=0.0).contains(&late)
            });
        }
    }

    #[test]
    fn light_of_less_than_a_minute_is_not_light() {
        use Illumination::{CivilTwilight, Dark, Day};
        let part = |light, from: i64, to: i64| {
            let at = |second| Timestamp::from_second(second).unwrap();
            Interval { light, from: at(from), to: at(to) }
        };
        let rounded = |parts: &[Interval]| -> Vec<(Illumination, i64, i64)> {
            let all = in_whole_minutes(parts);
            all.iter().map(|it| (it.light, it.from.as_second(), it.to.as_second())).collect()
        };
        let peak = [part(Dark, 0, 70), part(CivilTwilight, 70, 130), part(Dark, 130, 300)];
        assert_eq!(rounded(&peak), [(Dark, 0, 300)]);
        let noon = [part(CivilTwilight, 5, 90), part(Day, 90, 100), part(CivilTwilight, 100, 299)];
        assert_eq!(rounded(&noon), [(CivilTwilight, 5, 299)]);
        let steep = [part(Day, 0, 61), part(CivilTwilight, 61, 62), part(Dark, 62, 300)];
        assert_eq!(rounded(&steep), [(Day, 0, 60), (Dark, 60, 300)]);
        assert!(in_whole_minutes(&[]).is_empty());
    }
}

//! Sources: `data/sun_usno.csv` (US Naval Observatory) and `data/sun_jpl.csv` (JPL DE440s).

use jiff::civil::Date;
use jiff::tz;
use trug::earth::sun::{self, Light, Passage};
use trug::units::{LatLon, Seconds, TimeZone, Timestamp};

use super::{number, rows};

/// The light of the solar days that can reach into a UTC date.
fn days(place: LatLon, date: Date) -> Vec<Light> {
    // the sun's own zone, so that noon is near twelve
    let zone = TimeZone::fixed(tz::offset((place.longitude() / 15.0).round() as i8));
    [date.yesterday().unwrap(), date, date.tomorrow().unwrap()]
        .into_iter()
        .map(|day| sun::light(place, day, &zone).unwrap())
        .collect()
}

/// Whether one of the passages is this instant within so many seconds; how far off it was.
fn nearest(passages: &[Passage], instant: Timestamp) -> f64 {
    passages
        .iter()
        .filter_map(|passage| passage.instant())
        .map(|found| Seconds::between(instant, found).abs().0)
        .fold(f64::INFINITY, f64::min)
}

#[test]
fn hours_are_those_of_the_naval_observatory() {
    let table = rows("sun_usno.csv");
    assert!(table.len() > 300, "{}", table.len());
    let mut worst: f64 = 0.0;
    for row in &table {
        let date: Date = row[0].parse().unwrap();
        let place = LatLon::new(number(row, 1), number(row, 2)).unwrap();
        let civil = &row[6] == "civil";
        let days = days(place, date);
        let rises: Vec<_> =
            days.iter().map(|d| if civil { d.civil_dawn } else { d.sunrise }).collect();
        let sets: Vec<_> =
            days.iter().map(|d| if civil { d.civil_dusk } else { d.sunset }).collect();
        match &row[3] {
            "ALL_DAY" => assert_eq!(
                (rises[1], sets[1]),
                (Passage::StaysAbove, Passage::StaysAbove),
                "{row:?}"
            ),
            "ALL_NIGHT" => assert_eq!(
                (rises[1], sets[1]),
                (Passage::StaysBelow, Passage::StaysBelow),
                "{row:?}"
            ),
            _ => {
                for (time, passages) in [(&row[4], &rises), (&row[5], &sets)] {
                    if time.is_empty() {
                        continue;
                    }
                    let expected: Timestamp = format!("{date}T{time}:00Z").parse().unwrap();
                    let off = nearest(passages, expected);
                    worst = worst.max(off);
                    // minutes are printed: 30 s of rounding, and as much for the poles' flat paths
                    assert!(off <= 60.0, "{row:?} {off}");
                }
            }
        }
    }
    assert!(worst > 5.0, "a table of minutes cannot be met so well: {worst}");
}

#[test]
fn hours_are_those_of_the_jpl_ephemeris() {
    let table = rows("sun_jpl.csv");
    assert!(table.len() >= 28, "{}", table.len());
    let mut checked = 0;
    for row in table.iter().filter(|row| number(row, 2).abs() < 70.0) {
        let date: Date = row[0][..10].parse().unwrap();
        let place = LatLon::new(number(row, 2), number(row, 3)).unwrap();
        let civil = number(row, 4) < -1.0;
        let days = days(place, date);
        let rises: Vec<_> =
            days.iter().map(|d| if civil { d.civil_dawn } else { d.sunrise }).collect();
        let sets: Vec<_> =
            days.iter().map(|d| if civil { d.civil_dusk } else { d.sunset }).collect();
        for (times, passages) in [(&row[5], &rises), (&row[6], &sets)] {
            for time in times.split(';').filter(|time| !time.is_empty()) {
                let off = nearest(passages, time.parse().unwrap());
                // delta T is fixed there, and trug rounds to whole seconds; near the polar circle
                // the sun crosses the horizon at a low angle
                let allowed = if place.latitude().abs() > 60.0 { 20.0 } else { 1.5 };
                assert!(off <= allowed, "{row:?} {off}");
                checked += 1;
            }
        }
    }
    assert!(checked >= 15, "{checked}");
}

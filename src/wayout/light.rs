//! Is there light enough? Arrival against sunset and the end of civil twilight, the latest time to
//! turn back, and a verdict in words. Layer: `wayout`.

use serde::Serialize;

use crate::earth::sun::{Light, Passage};
use crate::units::{Seconds, TimeZone, Timestamp};

/// Kept in reserve: a quarter of the way, but no less than the least.
const RESERVE_SHARE: f64 = 0.25;
/// The least reserve.
pub const LEAST_RESERVE: Seconds = Seconds(1_200.0);

/// Longer than this no way out takes.
const A_DAY: Seconds = Seconds(86_400.0);

/// Whether to set out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Advice {
    /// Back before sunset with a reserve.
    Comfortable,
    /// Back before the end of civil twilight, without the reserve.
    Tight,
    /// Not before dark.
    DoNotSetOut,
}

/// A verdict on one way at one time.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Verdict {
    /// In a word.
    pub advice: Advice,
    /// When one would be there.
    pub arrival: Timestamp,
    /// The latest time to set out so that the reserve is kept; `None` where the sun does not set, or
    /// where there is no light at all.
    pub turn_back_by: Option<Timestamp>,
    /// In words.
    pub words: String,
}

/// The verdict on a way of this length, set out on now.
#[must_use]
pub fn verdict(now: Timestamp, way: Seconds, light: &Light, zone: &TimeZone) -> Verdict {
    let reserve = reserve(way);
    let arrival = way.after(now);
    let with_reserve = (way + reserve).after(now);
    let clock = |instant| clock(instant, zone);
    let (advice, words) = match (light.sunset, light.civil_dusk) {
        _ if way.0 > A_DAY.0 => (
            Advice::DoNotSetOut,
            "more than a day by the rules of walking: this is no way on foot".to_owned(),
        ),
        (Passage::StaysAbove, _) => {
            (Advice::Comfortable, "the sun does not set today: light is no limit".to_owned())
        }
        (Passage::StaysBelow, Passage::StaysBelow) => {
            (Advice::DoNotSetOut, "polar night: there is no daylight at all today".to_owned())
        }
        (Passage::At(sunset), _) if with_reserve <= sunset => (
            Advice::Comfortable,
            format!(
                "there about {}, {} before sunset",
                clock(arrival),
                span(Seconds::between(arrival, sunset))
            ),
        ),
        (_, Passage::StaysAbove) => (
            Advice::Tight,
            format!("there about {} in the twilight of a white night", clock(arrival)),
        ),
        (_, Passage::At(dusk)) if arrival <= dusk && now < dusk => (
            Advice::Tight,
            format!(
                "there about {}, {} before the end of twilight: no reserve, and under trees it is dark sooner",
                clock(arrival),
                span(Seconds::between(arrival, dusk))
            ),
        ),
        (_, Passage::At(dusk)) if now >= dusk => (
            Advice::DoNotSetOut,
            format!("it has been dark since {}: stay where you are", clock(dusk)),
        ),
        (_, Passage::At(dusk)) => (
            Advice::DoNotSetOut,
            format!(
                "there only about {}, {} after it is dark: stay where you are",
                clock(arrival),
                span(Seconds::between(dusk, arrival))
            ),
        ),
        (Passage::At(sunset), Passage::StaysBelow) => (
            Advice::DoNotSetOut,
            format!("there only about {}, after sunset at {}", clock(arrival), clock(sunset)),
        ),
    };
    Verdict { advice, arrival, turn_back_by: turn_back_by(way, light), words }
}

/// The latest time to set out on a way of this length: the reserve before sunset; where the sun does
/// not rise, before the end of twilight.
#[must_use]
pub fn turn_back_by(way: Seconds, light: &Light) -> Option<Timestamp> {
    let end = match (light.sunset, light.civil_dusk) {
        (Passage::At(sunset), _) => sunset,
        (Passage::StaysBelow, Passage::At(dusk)) => dusk,
        _ => return None,
    };
    Some((-(way + reserve(way))).after(end))
}

/// The latest time to set out on the local clock, or why there is none.
#[must_use]
pub fn turn_back_words(by: Option<Timestamp>, light: &Light, zone: &TimeZone) -> String {
    match (by, light.sunset) {
        (Some(by), _) => clock(by, zone),
        (None, Passage::StaysAbove) => "any time: it stays light".to_owned(),
        (None, _) => "no time: there is no light".to_owned(),
    }
}

fn reserve(way: Seconds) -> Seconds {
    Seconds((way.0 * RESERVE_SHARE).max(LEAST_RESERVE.0))
}

/// Hours and minutes on the local clock.
#[must_use]
pub fn clock(instant: Timestamp, zone: &TimeZone) -> String {
    let time = zone.to_datetime(instant).time();
    format!("{:02}:{:02}", time.hour(), time.minute())
}

/// A span to the minute, as people say it: `48 min`, `2 h 05 min`; from two days on in days.
#[must_use]
pub fn span(span: Seconds) -> String {
    let minutes = (span.0.abs() / 60.0).round();
    if minutes < 60.0 {
        format!("{minutes:.0} min")
    } else if minutes < 2.0 * 1_440.0 {
        format!("{:.0} h {:02.0} min", (minutes / 60.0).floor(), minutes % 60.0)
    } else {
        format!("{:.0} days", (minutes / 1_440.0).floor())
    }
}

/// A passage on the local clock, or in words that it does not come.
#[must_use]
pub fn passage(passage: Passage, zone: &TimeZone) -> String {
    match passage {
        Passage::At(instant) => clock(instant, zone),
        Passage::StaysAbove => "not today (stays light)".to_owned(),
        Passage::StaysBelow => "not today (stays dark)".to_owned(),
    }
}

impl Advice {
    /// In words, for people.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Comfortable => "comfortable",
            Self::Tight => "tight",
            Self::DoNotSetOut => "do not set out",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(time: &str) -> Timestamp {
        format!("2026-05-03T{time}:00Z").parse().unwrap()
    }

    fn light(sunset: Passage, dusk: Passage) -> Light {
        Light { civil_dawn: dusk, sunrise: sunset, noon: at("12:00"), sunset, civil_dusk: dusk }
    }

    fn said(now: &str, minutes: f64, light: &Light) -> (Advice, String) {
        let told = verdict(at(now), Seconds(minutes * 60.0), light, &TimeZone::UTC);
        (told.advice, told.words)
    }

    #[test]
    fn the_verdict_follows_the_light() {
        let day = light(Passage::At(at("17:00")), Passage::At(at("17:30")));
        assert_eq!(said("15:00", 60.0, &day).0, Advice::Comfortable);
        assert_eq!(said("15:50", 60.0, &day).0, Advice::Tight);
        assert_eq!(said("16:20", 60.0, &day).0, Advice::Tight);
        assert_eq!(said("16:40", 60.0, &day).0, Advice::DoNotSetOut);
        let (advice, words) = said("18:00", 5.0, &day);
        assert!(advice == Advice::DoNotSetOut && words.contains("dark since 17:30"), "{words}");
    }

    #[test]
    fn the_turn_back_time_keeps_a_reserve() {
        let day = light(Passage::At(at("17:00")), Passage::At(at("17:30")));
        assert_eq!(turn_back_by(Seconds(7_200.0), &day), Some(at("14:30")));
        assert_eq!(turn_back_by(Seconds(600.0), &day), Some(at("16:30")));
    }

    #[test]
    fn polar_day_and_polar_night_are_said_plainly() {
        let white = light(Passage::StaysAbove, Passage::StaysAbove);
        assert_eq!(said("23:00", 300.0, &white).0, Advice::Comfortable);
        assert_eq!(turn_back_by(Seconds(60.0), &white), None);
        let night = light(Passage::StaysBelow, Passage::StaysBelow);
        let (advice, words) = said("12:00", 5.0, &night);
        assert!(advice == Advice::DoNotSetOut && words.contains("polar night"));
        assert!(turn_back_words(None, &white, &TimeZone::UTC).contains("any time"));
        assert!(turn_back_words(None, &night, &TimeZone::UTC).contains("no light"));
        let (advice, words) = said("12:00", 1_500.0, &white);
        assert!(advice == Advice::DoNotSetOut && words.contains("no way on foot"), "{words}");
        let dim = light(Passage::StaysBelow, Passage::At(at("13:00")));
        assert_eq!(said("12:00", 30.0, &dim).0, Advice::Tight);
        let bright = light(Passage::At(at("23:00")), Passage::StaysAbove);
        assert_eq!(said("22:50", 60.0, &bright).0, Advice::Tight);
    }
}

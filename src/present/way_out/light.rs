//! Formats the daylight of a way out: verdict with its reason, latest start, light ahead, kind of day.
//! Layer: `present`.

use super::findings;
use crate::earth::daylight::Illumination;
use crate::units::{Seconds, TimeZone, Timestamp};
use crate::wayout::daylight::{A_DAY, Change, DayKind, Daylight};
use crate::wayout::light::{
    LatestStart, Reason, Verdict, Waiting, clock, clock_on, minute_after, span,
};
use crate::wayout::report::Ranked;

/// Verdict and reason in a line.
pub(crate) fn headline(best: &Ranked, zone: &TimeZone) -> String {
    format!("{}: {}", findings::advice(best.verdict.advice).to_uppercase(), words(best, zone))
}

/// The reason, the effect of waiting, and whether the route crosses closed ground.
pub(super) fn words(best: &Ranked, zone: &TimeZone) -> String {
    let verdict = &best.verdict;
    let mut words = reason(verdict, zone);
    if let Some(waiting) = verdict.waiting {
        words.push_str("; ");
        words.push_str(&waited(waiting, verdict.start, zone));
    }
    if best.way.crosses_closed {
        words.push_str("; BUT ACROSS CLOSED GROUND");
    }
    words
}

/// The reason, led by the light of the start where that is twilight.
fn reason(verdict: &Verdict, zone: &TimeZone) -> String {
    let words = why(verdict, zone);
    let said = matches!(verdict.reason, Reason::MorningTwilight { .. } | Reason::TooLong);
    if said || verdict.starts_in != Illumination::CivilTwilight {
        return words;
    }
    format!("sets out in twilight: {words}")
}

fn why(verdict: &Verdict, zone: &TimeZone) -> String {
    let at = |instant| clock_on(instant, verdict.start, zone);
    let arrival = at(minute_after(verdict.arrival));
    let before = |instant| span(Seconds::between(verdict.arrival, instant));
    match verdict.reason {
        Reason::BeforeSunset { sunset } => {
            format!("arrival about {arrival}, {} before sunset", before(sunset))
        }
        Reason::NoSunset => {
            format!("arrival about {arrival}; the sun stays up for the next 24 hours and longer")
        }
        Reason::MorningTwilight { sunrise } => {
            format!(
                "arrival about {arrival}; it is still twilight, the sun rises at {}",
                at(sunrise)
            )
        }
        Reason::BeforeDark { dark_from } => format!(
            "arrival about {arrival}, {} before the end of twilight: no reserve; darker earlier under trees",
            before(dark_from)
        ),
        Reason::TwilightAllNight => format!(
            "arrival about {arrival}, partly in twilight: it does not get dark in the open, but under trees"
        ),
        Reason::DarkOnTheWay { dark_from } => format!(
            "arrival only about {arrival}, but dark from {}: stay where you are",
            at(dark_from)
        ),
        Reason::DarkNow { since: Some(since) } => {
            format!("it has been dark since {}: stay where you are", at(since))
        }
        Reason::DarkNow { since: None } => "it is dark: stay where you are".to_owned(),
        Reason::PolarNight => {
            "polar night, no daylight and no civil twilight within 24 hours: stay where you are"
                .to_owned()
        }
        Reason::TooLong => "more than one day on foot: not feasible".to_owned(),
    }
}

fn waited(waiting: Waiting, now: Timestamp, zone: &TimeZone) -> String {
    let at = |instant| clock_on(instant, now, zone);
    match waiting {
        Waiting::Enough { first_light, latest: Some(latest) } => format!(
            "first light at {}, then light enough if you set out by {}",
            at(first_light),
            at(latest)
        ),
        Waiting::Enough { first_light, latest: None } => {
            format!("first light at {}, then it does not get dark again", at(first_light))
        }
        Waiting::TooShort { first_light, light, needed } => format!(
            "first light at {}, but only {} of light for a walk of {} with its reserve: waiting is not sufficient, call for help",
            at(first_light),
            span(light),
            span(needed)
        ),
        Waiting::NoLight => "no light within 24 hours: call for help".to_owned(),
    }
}

/// The latest start, marked where it is in twilight, or the reason why there is none.
pub(crate) fn latest_start_in(
    latest: LatestStart,
    light: Option<Illumination>,
    now: Timestamp,
    zone: &TimeZone,
) -> String {
    let words = latest_start(latest, now, zone);
    match light {
        Some(Illumination::CivilTwilight) => format!("{words}, in twilight"),
        _ => words,
    }
}

/// The latest start, or the reason why there is none.
pub(crate) fn latest_start(latest: LatestStart, now: Timestamp, zone: &TimeZone) -> String {
    let at = |instant| clock_on(instant, now, zone);
    match latest {
        LatestStart::At { by, not_before: None } => at(by),
        LatestStart::At { by, not_before: Some(from) } => {
            format!("{}, and not before first light at {}", at(by), at(from))
        }
        LatestStart::AnyTime => "any time: it does not get dark".to_owned(),
        LatestStart::Passed { was } => format!("passed: it was {}", at(was)),
        LatestStart::LightTooShort { light, needed } => {
            format!("no time: {} of light, {} needed with the reserve", span(light), span(needed))
        }
        LatestStart::NoLight => "no time: there is no light within 24 hours".to_owned(),
        LatestStart::TooLong => "no time: the walk takes longer than a day".to_owned(),
    }
}

/// The light now and its changes within a day: `day; sunset 17:02, dark from 17:31, ...`.
pub(crate) fn ahead(light: &Daylight, zone: &TimeZone) -> String {
    let now = match light.at(light.moment) {
        Illumination::Day => "day now",
        Illumination::CivilTwilight => "civil twilight now",
        Illumination::Dark => "DARK now",
    };
    format!("{now}; {}", changes(light, light.moment, zone))
}

/// The changes of the 24 hours about noon of a day.
pub(crate) fn of_day(light: &Daylight, zone: &TimeZone) -> String {
    changes(light, Seconds(-A_DAY.0 / 2.0).after(light.moment), zone)
}

fn changes(light: &Daylight, from: Timestamp, zone: &TimeZone) -> String {
    let changes: Vec<String> = light.changes(from, A_DAY).map(|it| change(it, zone)).collect();
    match (kind(light.kind), changes.is_empty()) {
        (None, true) => "no change within 24 hours".to_owned(),
        (None, false) => changes.join(", "),
        (Some(kind), true) => kind.to_owned(),
        (Some(kind), false) => format!("{}; {kind}", changes.join(", ")),
    }
}

fn change(change: Change, zone: &TimeZone) -> String {
    let at = clock(change.at, zone);
    match (change.before, change.after) {
        (_, Illumination::Dark) => format!("end of civil twilight {at}"),
        (Illumination::Day, _) => format!("sunset {at}"),
        (_, Illumination::Day) => format!("sunrise {at}"),
        _ => format!("first light {at}"),
    }
}

/// The kind of a day without day or night.
pub(crate) fn kind(kind: DayKind) -> Option<&'static str> {
    match kind {
        DayKind::DayAndNight => None,
        DayKind::WhiteNight => Some("white night: civil twilight until the sun rises"),
        DayKind::PolarDay => Some("polar day: the sun does not set"),
        DayKind::PolarNightWithTwilight => Some("polar night: the sun does not rise"),
        DayKind::TwilightOnly => Some("the sun does not rise, civil twilight all day and night"),
        DayKind::PolarNight => Some("polar night: no daylight and no civil twilight"),
    }
}

/// Two short lines for a card: the next sunset or sunrise, and the time of darkness.
pub(super) fn corner(light: &Daylight, zone: &TimeZone) -> (String, String) {
    let now = light.moment;
    let sun = light
        .changes(now, A_DAY)
        .find(|it| Illumination::Day == it.before.max(it.after))
        .map(|it| change(it, zone));
    let sun = sun.unwrap_or_else(|| {
        match light.kind {
            DayKind::PolarDay => "POLAR DAY",
            DayKind::PolarNight | DayKind::PolarNightWithTwilight => "POLAR NIGHT",
            _ => "no sunrise",
        }
        .to_owned()
    });
    let dark = if light.at(now) == Illumination::Dark {
        light.first_light(now).map_or_else(
            || "dark all day".to_owned(),
            |at| format!("dark until {}", clock(at, zone)),
        )
    } else {
        light
            .dark_from(now)
            .map_or_else(|| "no dark".to_owned(), |at| format!("dark {}", clock(at, zone)))
    };
    (sun, dark)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_start_in_twilight_is_said_and_so_is_a_latest_start_in_it() {
        let words = |latitude: f64, longitude: f64, now: &str, minutes: f64| {
            let now: Timestamp = now.parse().unwrap();
            let place = crate::units::LatLon::new(latitude, longitude).unwrap();
            let light = Daylight::about(place, now).unwrap();
            let verdict = crate::wayout::light::verdict(now, Seconds(minutes * 60.0), &light);
            let (by, lit) = (verdict.latest_start, verdict.latest_start_in);
            (reason(&verdict, &TimeZone::UTC), latest_start_in(by, lit, now, &TimeZone::UTC))
        };
        // sunset there is at 07:02 UTC, the end of civil twilight at 07:32
        let (evening, _) = words(-42.62, 146.09, "2026-05-16T07:08:00Z", 5.0);
        assert!(evening.starts_with("sets out in twilight: arrival about 07:13"), "{evening}");
        let (late, _) = words(-42.62, 146.09, "2026-05-16T07:08:00Z", 60.0);
        assert!(late.starts_with("sets out in twilight: arrival only about"), "{late}");
        let (day, _) = words(-42.62, 146.09, "2026-05-16T05:00:00Z", 30.0);
        assert!(!day.contains("twilight"), "{day}");
        // the sun does not rise there in December
        let (polar, latest) = words(69.65, 18.95, "2026-12-15T09:30:00Z", 20.0);
        assert!(polar.starts_with("sets out in twilight"), "{polar}");
        assert!(latest.ends_with(", in twilight"), "{latest}");
    }
}

//! Determines whether there is enough light for a walk: verdict with reason, latest time to set
//! out, and whether waiting helps, from the light along the walk and a reserve. Layer: `wayout`.
//!
//! The walk is taken at the careful pace; the reserve after it stands for a slower one.
//!
//! | verdict | when |
//! |---|---|
//! | comfortable | all of the walk and of its reserve is by day |
//! | tight | none of the walk is in the dark, but twilight or dark falls into it or its reserve |
//! | do not set out | some of the walk is in the dark, or it takes longer than a day |
//!
//! The reserve is a quarter of the walk, 20 minutes at the least (common practice). Under trees it is dark well
//! before the end of civil twilight: *tight* is meant as a warning.

use serde::Serialize;

use super::daylight::{A_DAY, Daylight, Shares};
use crate::earth::daylight::Illumination;
use crate::units::{Seconds, TimeZone, Timestamp};

/// The reserve: a quarter of the walk, but at least the minimum (common practice).
const RESERVE_SHARE: f64 = 0.25;
/// The minimum reserve.
///
/// Twenty minutes (common practice): a fall, a wrong turn or a lost compass costs so much on a short walk as well.
pub const LEAST_RESERVE: Seconds = Seconds(1_200.0);

/// Whether to set out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Advice {
    /// All of the walk and of its reserve is by day.
    Comfortable,
    /// None of the walk is in the dark, but twilight or dark falls into it or its reserve.
    Tight,
    /// Some of the walk is in the dark, or it is longer than a day.
    DoNotSetOut,
}

/// What decides the verdict.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum Reason {
    /// Arrives before sunset, including the reserve.
    BeforeSunset {
        /// The sunset.
        sunset: Timestamp,
    },
    /// The sun stays up for a day and longer.
    NoSunset,
    /// Starts in morning twilight and ends by day.
    MorningTwilight {
        /// The sunrise.
        sunrise: Timestamp,
    },
    /// Arrives before dark, with part of the reserve after sunset.
    BeforeDark {
        /// The end of civil twilight.
        dark_from: Timestamp,
    },
    /// Partly in twilight that lasts all night.
    TwilightAllNight,
    /// It gets dark during the walk.
    DarkOnTheWay {
        /// When.
        dark_from: Timestamp,
    },
    /// It is dark at the moment of setting out.
    DarkNow {
        /// Since when.
        since: Option<Timestamp>,
    },
    /// There is no light within a day.
    PolarNight,
    /// The walk takes longer than a day.
    TooLong,
}

/// The result of waiting for light.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
pub enum Waiting {
    /// The next light is enough for the walk.
    Enough {
        /// When it begins.
        first_light: Timestamp,
        /// The latest time to set out in it; `None` where it does not end.
        latest: Option<Timestamp>,
    },
    /// The next light is shorter than the walk with its reserve.
    TooShort {
        /// When it begins.
        first_light: Timestamp,
        /// From first light to the end of the day.
        #[serde(rename = "light_s")]
        light: Seconds,
        /// The walk with its reserve.
        #[serde(rename = "needed_s")]
        needed: Seconds,
    },
    /// No light comes within a day.
    NoLight,
}

/// The latest time to set out so that the walk and its reserve end by day; where the sun does not
/// rise, before it is dark.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
pub enum LatestStart {
    /// At this time, which is still to come.
    At {
        /// The latest time.
        by: Timestamp,
        /// It is dark until then.
        not_before: Option<Timestamp>,
    },
    /// It stays light for longer than the walk can take.
    AnyTime,
    /// It has passed.
    Passed {
        /// The latest time.
        was: Timestamp,
    },
    /// The next light is shorter than the walk with its reserve.
    LightTooShort {
        /// The light.
        #[serde(rename = "light_s")]
        light: Seconds,
        /// The walk with its reserve.
        #[serde(rename = "needed_s")]
        needed: Seconds,
    },
    /// There is no light within a day.
    NoLight,
    /// The walk takes longer than a day.
    TooLong,
}

/// A verdict on one walk at one time.
///
/// Holds for one duration. The arrival is the walk without its reserve; whoever promises a time to somebody at home
/// adds the reserve.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Verdict {
    /// In a word.
    pub advice: Advice,
    /// What decides it.
    pub reason: Reason,
    /// The time of departure.
    pub start: Timestamp,
    /// The light at the time of departure.
    pub starts_in: Illumination,
    /// The time of arrival.
    pub arrival: Timestamp,
    /// The light along the walk and its reserve.
    pub light: Shares,
    /// The latest time to set out.
    pub latest_start: LatestStart,
    /// The light at that time, where it is still to come.
    pub latest_start_in: Option<Illumination>,
    /// Where the walk would be in the dark: the result of waiting.
    pub waiting: Option<Waiting>,
}

/// The verdict on a walk of this duration that starts now.
///
/// Never optimistic where it cannot know: a walk that is negative, not a number or longer than a day gets *do not
/// set out*, and light that is not known counts as dark.
///
/// # Examples
/// ```
/// use trug::units::{LatLon, Seconds, Timestamp};
/// use trug::wayout::light::verdict;
/// use trug::wayout::{Advice, Daylight};
///
/// let now: Timestamp = "2026-05-16T05:20:00Z".parse()?;
/// // it is dark at 17:33 on the clock there, two hours and 13 minutes from now
/// let light = Daylight::about(LatLon::new(-42.6189, 146.0912)?, now)?;
/// assert_eq!(verdict(now, Seconds(1_500.0), &light).advice, Advice::Comfortable);
/// assert_eq!(verdict(now, Seconds(7_200.0), &light).advice, Advice::Tight);
/// let late = verdict(now, Seconds(9_000.0), &light);
/// assert_eq!(late.advice, Advice::DoNotSetOut);
/// assert!(late.waiting.is_some());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn verdict(now: Timestamp, walk: Seconds, light: &Daylight) -> Verdict {
    let arrival = walk.after(now);
    let slow_arrival = (walk + reserve(walk)).after(now);
    let (advice, reason) = judged(now, arrival, slow_arrival, light)
        .filter(|_| on_foot(walk))
        .unwrap_or((Advice::DoNotSetOut, Reason::TooLong));
    let dark = advice == Advice::DoNotSetOut && reason != Reason::TooLong;
    let latest_start = latest_start(now, walk, light);
    Verdict {
        advice,
        reason,
        start: now,
        starts_in: light.at(now),
        arrival,
        light: light.shares(now, slow_arrival),
        latest_start,
        latest_start_in: latest_start.by().map(|by| light.at(by)),
        waiting: dark.then(|| waiting(now, walk, light)),
    }
}

/// Whether the duration is plausible for a walk.
fn on_foot(walk: Seconds) -> bool {
    (0.0..=A_DAY.0).contains(&walk.0)
}

fn judged(
    now: Timestamp,
    arrival: Timestamp,
    slow_arrival: Timestamp,
    light: &Daylight,
) -> Option<(Advice, Reason)> {
    if light.at(now) == Illumination::Dark {
        let none = light.first_light(now).is_none();
        let since = light.dark_since(now);
        let reason = if none { Reason::PolarNight } else { Reason::DarkNow { since } };
        return Some((Advice::DoNotSetOut, reason));
    }
    let dark_from = light.dark_from(now);
    Some(match light.darkest(now, slow_arrival) {
        Illumination::Day => (Advice::Comfortable, by_day(slow_arrival, light)),
        _ if light.darkest(now, arrival) == Illumination::Dark => {
            (Advice::DoNotSetOut, Reason::DarkOnTheWay { dark_from: dark_from? })
        }
        darkest => (Advice::Tight, tight(now, slow_arrival, darkest, light)),
    })
}

fn by_day(slow_arrival: Timestamp, light: &Daylight) -> Reason {
    // changes are of whole minutes: one may be at the very end of the walk
    light
        .changes(Seconds(-1.0).after(slow_arrival), A_DAY)
        .find(|change| change.before == Illumination::Day)
        .map_or(Reason::NoSunset, |change| Reason::BeforeSunset { sunset: change.at })
}

fn tight(
    now: Timestamp,
    slow_arrival: Timestamp,
    darkest: Illumination,
    light: &Daylight,
) -> Reason {
    let until = Seconds::between(now, slow_arrival);
    let changes: Vec<_> = light.changes(now, until).collect();
    if let ([only], Illumination::CivilTwilight) = (changes.as_slice(), darkest)
        && only.after == Illumination::Day
    {
        return Reason::MorningTwilight { sunrise: only.at };
    }
    match light.dark_from(now) {
        Some(dark_from) => Reason::BeforeDark { dark_from },
        None => Reason::TwilightAllNight,
    }
}

/// The result of waiting for the next light.
fn waiting(now: Timestamp, walk: Seconds, light: &Daylight) -> Waiting {
    let Some(first_light) = light.first_light(now) else { return Waiting::NoLight };
    match latest_start(first_light, walk, light) {
        LatestStart::At { by, .. } => Waiting::Enough { first_light, latest: Some(by) },
        LatestStart::AnyTime => Waiting::Enough { first_light, latest: None },
        LatestStart::LightTooShort { light, needed } => {
            Waiting::TooShort { first_light, light, needed }
        }
        LatestStart::Passed { was } => Waiting::TooShort {
            first_light,
            light: Seconds::between(first_light, (walk + reserve(walk)).after(was)),
            needed: walk + reserve(walk),
        },
        LatestStart::NoLight | LatestStart::TooLong => Waiting::NoLight,
    }
}

/// The latest time to set out on a walk of this length.
///
/// The end of the light less the walk and its reserve. The light is daylight; where the sun does not rise it is
/// civil twilight.
#[must_use]
pub fn latest_start(now: Timestamp, walk: Seconds, light: &Daylight) -> LatestStart {
    if !on_foot(walk) {
        return LatestStart::TooLong;
    }
    let Some(window) = light.window(now) else { return LatestStart::NoLight };
    if window.open && window.from <= now {
        return LatestStart::AnyTime;
    }
    let needed = walk + reserve(walk);
    let by = (-needed).after(window.to);
    let dark_until = (window.from > now).then_some(window.from);
    if by >= window.from.max(now) {
        LatestStart::At { by, not_before: dark_until }
    } else if dark_until.is_none() && by >= window.from {
        LatestStart::Passed { was: by }
    } else {
        let light = Seconds::between(window.from.max(now), window.to);
        LatestStart::LightTooShort { light, needed }
    }
}

/// A time for searching: the light that holds the moment or comes next within a day, with the least
/// reserve before its end. `None` where there is no such light.
#[must_use]
pub fn searching(now: Timestamp, light: &Daylight) -> Option<(Timestamp, Option<Timestamp>)> {
    let window = light.window(now)?;
    let from = window.day_from.max(now);
    if window.open {
        return Some((from, None));
    }
    let until = (-LEAST_RESERVE).after(window.to);
    (from < until).then_some((from, Some(until)))
}

impl LatestStart {
    /// The time, where there is one to come.
    #[must_use]
    pub fn by(self) -> Option<Timestamp> {
        match self {
            Self::At { by, .. } => Some(by),
            _ => None,
        }
    }
}

fn reserve(walk: Seconds) -> Seconds {
    Seconds((walk.0 * RESERVE_SHARE).max(LEAST_RESERVE.0))
}

/// Hours and minutes on the local clock.
#[must_use]
pub fn clock(instant: Timestamp, zone: &TimeZone) -> String {
    let time = zone.to_datetime(instant).time();
    format!("{:02}:{:02}", time.hour(), time.minute())
}

/// The same rounded up to the minute, for what must not be promised too early, such as an arrival.
#[must_use]
pub fn clock_after(instant: Timestamp, zone: &TimeZone) -> String {
    clock(minute_after(instant), zone)
}

/// The end of the minute that an instant lies in; a whole minute stays.
///
/// For every time that must not be promised too early.
#[must_use]
pub fn minute_after(instant: Timestamp) -> Timestamp {
    let begun = i64::from(instant.subsec_nanosecond() > 0) + instant.as_second();
    let whole = begun.div_euclid(60) + i64::from(begun.rem_euclid(60) > 0);
    Timestamp::from_second(whole * 60).unwrap_or(instant)
}

/// The same, with the date where it is another one than that of the moment.
#[must_use]
pub fn clock_on(instant: Timestamp, moment: Timestamp, zone: &TimeZone) -> String {
    let local = zone.to_datetime(instant);
    if local.date() == zone.to_datetime(moment).date() {
        return clock(instant, zone);
    }
    format!("{} on {}", clock(instant, zone), local.strftime("%-d %B"))
}

/// A duration to the minute: `48 min`, `2 h 05 min`; from two days on in days.
#[must_use]
pub fn span(span: Seconds) -> String {
    span.to_minutes()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::LatLon;

    fn asked(latitude: f64, longitude: f64, now: &str, minutes: f64) -> Verdict {
        let now: Timestamp = now.parse().unwrap();
        let light = Daylight::about(LatLon::new(latitude, longitude).unwrap(), now).unwrap();
        verdict(now, Seconds(minutes * 60.0), &light)
    }

    /// A forest at 42.6 degrees south on 16 May: first light 06:47, sunrise 07:20, sunset 17:02,
    /// end of civil twilight 17:32 at UTC+10.
    fn forest(time: &str, minutes: f64) -> Verdict {
        asked(-42.62, 146.09, &format!("2026-05-16T{time}:00+10:00"), minutes)
    }

    fn at(verdict: &Verdict) -> Option<String> {
        let zone = TimeZone::fixed(jiff::tz::offset(10));
        verdict.latest_start.by().map(|by| clock_on(by, verdict.start, &zone))
    }

    #[test]
    fn light_is_bounded_on_both_sides() {
        for (time, minutes, advice) in [
            ("02:00", 60.0, Advice::DoNotSetOut),
            ("05:30", 60.0, Advice::DoNotSetOut),
            ("06:55", 60.0, Advice::Tight),
            ("07:25", 60.0, Advice::Comfortable),
            ("15:00", 60.0, Advice::Comfortable),
            ("15:50", 60.0, Advice::Tight),
            ("16:40", 60.0, Advice::DoNotSetOut),
            ("18:00", 5.0, Advice::DoNotSetOut),
            ("23:59", 5.0, Advice::DoNotSetOut),
            ("12:00", 1_000.0, Advice::DoNotSetOut),
            ("12:00", 1_500.0, Advice::DoNotSetOut),
        ] {
            assert_eq!(forest(time, minutes).advice, advice, "{time} {minutes}");
        }
    }

    #[test]
    fn before_dawn_the_light_to_wait_for_is_named() {
        let early = forest("02:00", 60.0);
        assert!(matches!(early.reason, Reason::DarkNow { since: Some(_) }), "{early:?}");
        let Some(Waiting::Enough { first_light, latest: Some(latest) }) = early.waiting else {
            panic!("{early:?}")
        };
        assert!(
            first_light < latest && Seconds::between(early.start, first_light).0 < 5.0 * 3_600.0
        );
        assert_eq!(
            early.latest_start,
            LatestStart::At { by: latest, not_before: Some(first_light) }
        );
        let dawn = forest("06:55", 60.0);
        assert!(matches!(dawn.reason, Reason::MorningTwilight { .. }), "{dawn:?}");
    }

    #[test]
    fn the_latest_start_lies_ahead_or_says_why_there_is_none() {
        assert_eq!(at(&forest("09:00", 120.0)).as_deref(), Some("14:32"));
        assert_eq!(at(&forest("09:00", 10.0)).as_deref(), Some("16:32"));
        assert!(matches!(forest("15:00", 120.0).latest_start, LatestStart::Passed { .. }));
        assert_eq!(at(&forest("20:00", 120.0)).as_deref(), Some("14:31 on 17 May"));
        assert!(matches!(forest("09:00", 700.0).latest_start, LatestStart::LightTooShort { .. }));
        assert_eq!(forest("09:00", 1_500.0).latest_start, LatestStart::TooLong);
        let long = forest("20:00", 700.0);
        assert!(matches!(long.waiting, Some(Waiting::TooShort { .. })), "{long:?}");
    }

    #[test]
    fn polar_day_polar_night_and_white_nights_are_reasons_of_their_own() {
        let day = asked(78.2, 15.6, "2026-06-21T23:00:00Z", 300.0);
        assert_eq!((day.advice, day.reason), (Advice::Comfortable, Reason::NoSunset));
        assert_eq!(day.latest_start, LatestStart::AnyTime);
        let night = asked(78.2, 15.6, "2026-12-21T11:00:00Z", 5.0);
        assert_eq!((night.advice, night.reason), (Advice::DoNotSetOut, Reason::PolarNight));
        assert_eq!(
            (night.latest_start, night.waiting),
            (LatestStart::NoLight, Some(Waiting::NoLight))
        );
        let noon = asked(69.65, 18.95, "2026-12-21T10:00:00Z", 30.0);
        assert!(noon.advice == Advice::Tight && matches!(noon.reason, Reason::BeforeDark { .. }));
        assert!(noon.latest_start.by().is_some_and(|by| by > noon.start));
        let white = asked(61.0, 25.0, "2026-06-21T22:00:00Z", 30.0);
        assert_eq!((white.advice, white.reason), (Advice::Tight, Reason::TwilightAllNight));
        let pole = asked(90.0, 0.0, "2026-09-28T00:00:00Z", 60.0);
        assert_eq!((pole.advice, pole.reason), (Advice::Tight, Reason::TwilightAllNight));
    }

    #[test]
    fn invalid_durations_are_not_walks() {
        for minutes in [f64::NAN, f64::INFINITY, -1.0, 1e300] {
            let verdict = forest("12:00", minutes);
            assert_eq!((verdict.advice, verdict.reason), (Advice::DoNotSetOut, Reason::TooLong));
        }
    }

    #[test]
    fn a_round_is_searched_by_day() {
        let searching = |latitude, now: &str| {
            let now: Timestamp = now.parse().unwrap();
            let place = LatLon::new(latitude, 146.09).unwrap();
            searching(now, &Daylight::about(place, now).unwrap())
        };
        let (from, until) = searching(-42.62, "2026-05-16T03:00:00+10:00").unwrap();
        let zone = TimeZone::fixed(jiff::tz::offset(10));
        assert_eq!(
            (clock(from, &zone), clock(until.unwrap(), &zone)),
            ("07:21".into(), "16:42".into())
        );
        assert_eq!(searching(89.0, "2026-12-16T03:00:00Z"), None);
        assert!(searching(-89.0, "2026-12-16T03:00:00Z").unwrap().1.is_none());
    }
}

//! Words the findings about clocks, times and zones. Layer: `present`.

use jiff::civil::{Date, Time};

use super::{beside, listed, worded};
use crate::error::Error;
use crate::model::{
    Camera, ClockChange, ClockNote, FindReference, TimesKind, TimesNote, ZoneNote, ZoneReason,
};
use crate::units::Seconds;

const SET_IT: &str = "set --camera-clock, or name a photograph of a clock";

impl From<ClockNote> for Error {
    fn from(note: ClockNote) -> Self {
        let (what, why, hint) = words(&note);
        worded(&note, what, why, hint)
    }
}

fn words(note: &ClockNote) -> (String, String, &'static str) {
    match note {
        ClockNote::ClockUnknown { camera, basis } => {
            (format!("the clock offset of {camera} is unknown"), basis.to_string(), SET_IT)
        }
        ClockNote::ClockInAnotherZone { camera, ahead, date, zone, error, basis } => (
            in_another_zone(camera, *ahead, *date),
            format!("{}; estimated from {basis}", parts(*date, *zone, *error)),
            "the corrected time is used; set the camera clock before the next outing",
        ),
        ClockNote::GpsTimesConflict { camera, times, by_gps, ahead, basis } => {
            let times =
                if *times == 1 { "GPS time".to_owned() } else { format!("{times} GPS times") };
            (
                format!("{camera}: GPS times and camera clock conflict"),
                format!(
                    "by the {times} in its photographs it is {} the local time; the estimate used is {} it, \
                     from {basis}",
                    beside(*by_gps),
                    beside(*ahead),
                ),
                SET_IT,
            )
        }
        ClockNote::ClockPhotographMissing { photograph, date } => (
            format!("{photograph} is not among the photographs of {}", day(*date)),
            "its time is needed to set the camera clock".to_owned(),
            "check the name after --camera-clock",
        ),
        ClockNote::ClockSet { camera, by, last, first } => {
            let by = by.map_or_else(|| "set".to_owned(), put);
            (
                format!("the clock of {camera} was {by} during the day"),
                format!(
                    "the written times step between {last} and {first}; each part has its own clock offset"
                ),
                "photograph the receiver's clock after setting a camera clock",
            )
        }
        ClockNote::WatchSet { last, first } => (
            format!("the written times step between {last} and {first}"),
            "the photographs on both sides match the stops with the same clock offset".to_owned(),
            "check whether the watch used for the notebook was set during the day",
        ),
    }
}

fn in_another_zone(camera: &Camera, ahead: Seconds, date: Seconds) -> String {
    match wrong_date(date) {
        Some(date) => format!("{camera}: {date}"),
        None => format!("{camera} is {} the local time", beside(ahead)),
    }
}

/// `put back by 1 h 00 min`.
fn put(by: Seconds) -> String {
    let direction = if by.0 < 0.0 { "back" } else { "forward" };
    format!("put {direction} by {}", by.abs())
}

impl From<TimesNote> for Error {
    fn from(note: TimesNote) -> Self {
        let (what, why, hint) = of_times(&note);
        worded(&note, what, why, hint)
    }
}

fn of_times(note: &TimesNote) -> (String, String, &'static str) {
    match note {
        TimesNote::NotebookApart { ahead, alike, of } => {
            let beside = if ahead.0 < 0.0 { "behind" } else { "ahead of" };
            (
                format!("the notebook is about {} {beside} the photographs", ahead.to_minutes()),
                format!(
                    "{alike} of {of} written times differ by this much from the corrected times of their \
                     photographs"
                ),
                "check the watch and the time zone; use --zone, or --camera-clock if the photographs are wrong",
            )
        }
        TimesNote::OutsideTrack { times, finds, begins, ends, beyond } => {
            outside(*times, finds, (*begins, *ends), *beyond)
        }
        TimesNote::OtherDays { photographs, dates } => {
            let what = if *photographs == 1 { "photograph is" } else { "photographs are" };
            (
                format!("{photographs} {what} dated {}", listed(dates)),
                "in no time zone are they on the day of the track; they are not used for the clock"
                    .to_owned(),
                "they may be from other days; otherwise the camera's date was changed in between",
            )
        }
        TimesNote::ChangeOfClocks { find, time, change, zone } => {
            change_of_clocks(find, *time, *change, zone)
        }
    }
}

fn outside(
    times: TimesKind,
    finds: &[FindReference],
    (begins, ends): (Time, Time),
    beyond: Seconds,
) -> (String, String, &'static str) {
    let what = match times {
        TimesKind::Photographs => "the photograph times",
        TimesKind::Written => "the written times",
    };
    (
        format!("{what} of {} lie outside the track", listed(finds)),
        format!(
            "it runs from {} to {}; within {beyond} of its ends a find has a large radius, farther outside \
             the track no position is estimated",
            begins.strftime("%H:%M:%S"),
            ends.strftime("%H:%M:%S"),
        ),
        "check whether the receiver was switched off early or a clock is wrong",
    )
}

const TWICE: &str = "clocks were put back, so that time occurred twice";

fn change_of_clocks(
    find: &FindReference,
    time: Time,
    change: ClockChange,
    zone: &str,
) -> (String, String, &'static str) {
    let (why, choice) = match change {
        ClockChange::Skipped => {
            ("clocks were put forward past that time", "it is read in the time before the change")
        }
        ClockChange::Twice => (TWICE, "the occurrence within the track is used, else the first"),
        ClockChange::FirstOfTwo => (TWICE, "by the order of the records the first is meant"),
        ClockChange::SecondOfTwo => (TWICE, "by the order of the records the second is meant"),
        ClockChange::EitherOfTwo => {
            (TWICE, "nothing shows which is meant; a position by this time allows for both")
        }
    };
    (
        format!("{find} is timed {}", time.strftime("%H:%M")),
        format!("{why} in {zone}; {choice}"),
        "add the time in UTC on such days",
    )
}

/// `the date is 3 days ahead`; nothing where it is right.
pub(crate) fn wrong_date(ahead: Seconds) -> Option<String> {
    let days = ahead.0 / 86_400.0;
    let side = if days > 0.0 { "ahead" } else { "behind" };
    let unit = if days.abs() < 1.5 { "day" } else { "days" };
    (days.abs() > 0.5).then(|| format!("the date is {:.0} {unit} {side}", days.abs()))
}

/// How the difference divides into a zone and an error of the clock.
fn parts(date: Seconds, zone: Seconds, error: Seconds) -> String {
    match (wrong_date(date).is_some(), zone.0.abs() >= 450.0) {
        (true, false) => format!("apart from that it is {} the local time", beside(error)),
        (true, true) => format!("zone or summer time accounts for {zone}, clock error for {error}"),
        (false, _) => {
            format!("zone or summer time accounts for {zone} of it, clock error for {error}")
        }
    }
}

pub(super) fn day(date: Option<Date>) -> String {
    date.map_or_else(|| "no known date".to_owned(), |date| date.to_string())
}

impl From<ZoneNote> for Error {
    fn from(note: ZoneNote) -> Self {
        match &note {
            ZoneNote::ZoneFarFromPlace { zone, offset, place, place_offset } => worded(
                &note,
                format!("local times are read in {zone}, as stated"),
                format!(
                    "local time at the track ({place}) is {place_offset}, the stated zone is {offset}"
                ),
                "omit --zone if the notebook uses local time",
            ),
            ZoneNote::ZonesDiffer { zone, photographs_offset, place, place_offset, reason } => {
                let local = place_offset.as_deref().unwrap_or("another");
                worded(
                    &note,
                    format!("local times are read in {zone}"),
                    format!(
                        "the photographs state {photographs_offset}, local time at the track ({place}) is \
                         {local}; {}",
                        decided(*reason)
                    ),
                    "set --zone if that is wrong",
                )
            }
        }
    }
}

fn decided(reason: ZoneReason) -> &'static str {
    match reason {
        ZoneReason::TimesApart => "written and photograph times differ by as much as the zones",
        ZoneReason::TimesAgree => "the written times agree with the photographs",
        ZoneReason::WithinTrack => {
            "the written times lie within the track only in the zone of the place"
        }
        ZoneReason::Precedence => "the photographs take precedence over the place",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::ClockBasis;

    fn reported(date: f64, zone: f64) -> String {
        let note = ClockNote::ClockInAnotherZone {
            camera: Camera::default(),
            ahead: Seconds(date + zone + 53.0),
            date: Seconds(date),
            zone: Seconds(zone),
            error: Seconds(53.0),
            basis: ClockBasis::Words("the day".to_owned()),
        };
        Error::from(note).to_string()
    }

    #[test]
    fn wrong_date_is_not_reported_as_a_zone() {
        let days = reported(3.0 * 86_400.0, 0.0);
        assert!(days.contains("the date is 3 days ahead"), "{days}");
        let rest = "apart from that it is 53 s ahead of the local time; estimated from the day";
        assert!(days.contains(rest), "{days}");
        let both = reported(-86_400.0, 3_600.0);
        assert!(both.contains("the date is 1 day behind"), "{both}");
        assert!(both.contains("zone or summer time accounts for 1 h 00 min, clock error for 53 s"));
        let zone = reported(0.0, 3_600.0);
        assert!(zone.contains("is 1 h 01 min ahead of the local time"), "{zone}");
        assert!(zone.contains("zone or summer time accounts for 1 h 00 min of it"), "{zone}");
    }

    #[test]
    fn json_holds_code_values_and_words() {
        let note = ClockNote::WatchSet { last: "A1".into(), first: "A2".into() };
        let json = serde_json::to_value(Error::from(note)).unwrap();
        assert_eq!((&json["code"], &json["last"]), (&"watch-set".into(), &"A1".into()));
        assert_eq!(json["what"], "the written times step between A1 and A2");
    }
}

//! Spans of seconds, and the one bridge from a camera's wall clock to an instant. Layer: `units`.

use std::fmt;
use std::ops::{Add, Neg, Sub};

use jiff::civil::DateTime;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use serde::{Deserialize, Serialize};

/// A span of time in seconds, signed.
///
/// Elapsed time, never a time of day: no zone, no leap seconds (as [`Timestamp`] counts none). Sub-second parts
/// are kept.
///
/// # Examples
/// ```
/// use trug::units::{Seconds, Timestamp};
///
/// let shutter: Timestamp = "2026-05-02T03:10:00Z".parse()?;
/// let later = Seconds(125.0).after(shutter);
/// assert_eq!(Seconds::between(shutter, later), Seconds(125.0));
/// assert_eq!(Seconds(125.0).to_string(), "2 min 05 s");
/// assert_eq!(Seconds(125.0).to_minutes(), "2 min");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Seconds(pub f64);

impl Seconds {
    /// From one instant to a later one.
    ///
    /// Negative when `to` is the earlier one.
    #[must_use]
    pub fn between(from: Timestamp, to: Timestamp) -> Self {
        Self(to.duration_since(from).as_secs_f64())
    }

    /// The instant this much after another; held at the ends of the calendar.
    ///
    /// A negative span goes back. NaN counts as no time at all and returns the instant unchanged.
    #[must_use]
    pub fn after(self, instant: Timestamp) -> Timestamp {
        let span = SignedDuration::try_from_secs_f64(self.0).unwrap_or(if self.0.is_nan() {
            SignedDuration::ZERO
        } else if self.0 > 0.0 {
            SignedDuration::MAX
        } else {
            SignedDuration::MIN
        });
        instant.saturating_add(span).unwrap_or(instant)
    }

    /// The span to the minute, without its sign: `48 min`, `2 h 05 min`; from two days on in days.
    ///
    /// For figures that do not deserve seconds: gaps, stays, the time until dark. Rounds to the nearest minute below
    /// two days and down to whole days from there on.
    #[must_use]
    pub fn to_minutes(self) -> String {
        let minutes = (self.0.abs() / 60.0).round();
        if minutes < 60.0 {
            format!("{minutes:.0} min")
        } else if minutes < 2.0 * 1_440.0 {
            format!("{:.0} h {:02.0} min", (minutes / 60.0).floor(), minutes % 60.0)
        } else {
            format!("{:.0} days", (minutes / 1_440.0).floor())
        }
    }

    /// The span without its sign.
    #[must_use]
    pub fn abs(self) -> Self {
        Self(self.0.abs())
    }
}

impl Add for Seconds {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl Sub for Seconds {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }
}

impl Neg for Seconds {
    type Output = Self;
    fn neg(self) -> Self {
        Self(-self.0)
    }
}

impl fmt::Display for Seconds {
    /// `45 s`, `3 min 20 s`, `1 h 02 min`, with a minus sign where it is negative.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.0 < -0.5 { "-" } else { "" };
        let whole = self.0.abs().round();
        let (minutes, seconds) = ((whole / 60.0).floor(), whole % 60.0);
        let nearest = (whole / 60.0).round();
        let text = if whole < 60.0 {
            format!("{sign}{whole:.0} s")
        } else if whole < 3600.0 {
            format!("{sign}{minutes:.0} min {seconds:02.0} s")
        } else {
            format!("{sign}{:.0} h {:02.0} min", (nearest / 60.0).floor(), nearest % 60.0)
        };
        f.pad(&text)
    }
}

/// How far a camera's wall clock is ahead of UTC, with how well that is known.
///
/// A camera on the right local time in a zone of +10:00 is 36,000 s ahead. The only way from what a
/// camera wrote to an instant.
///
/// A camera's clock has an error and a zone, and its photographs tell neither. Both are in this one difference;
/// [`CameraClock`](crate::model::CameraClock) reports them apart. `sigma` flows into the position of every find
/// that rests on the time of a photograph: at walking pace ten seconds are some ten metres.
///
/// # Examples
/// ```
/// use trug::units::{ClockOffset, Seconds, WallClock};
///
/// // set to +10:00, and 62 s ahead of it
/// let clock = ClockOffset { ahead_of_utc: Seconds(36_062.0), sigma: Seconds(4.0) };
/// let reading: WallClock = "2026-05-02T13:11:02".parse()?;
/// assert_eq!(clock.instant(reading).to_string(), "2026-05-02T03:10:00Z");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct ClockOffset {
    /// The camera's reading less UTC.
    pub ahead_of_utc: Seconds,
    /// One standard deviation of that difference.
    pub sigma: Seconds,
}

impl ClockOffset {
    /// The instant at which the camera's clock showed this reading.
    ///
    /// Plain subtraction, without the rules of any zone, so that no fold or gap of local time can arise; a camera
    /// whose reading steps during an outing needs an offset for each part. Held at the ends of the calendar.
    #[must_use]
    pub fn instant(self, reading: DateTime) -> Timestamp {
        (-self.ahead_of_utc).after(Self::as_if_utc(reading))
    }

    /// The reading taken as if it were UTC: a number line to compare one camera's readings on.
    ///
    /// Differences between two such values are the seconds between two readings. The value itself is no instant at
    /// which anything happened.
    #[must_use]
    pub fn as_if_utc(reading: DateTime) -> Timestamp {
        TimeZone::UTC
            .to_ambiguous_timestamp(reading)
            .compatible()
            .unwrap_or(if reading.year() < 0 { Timestamp::MIN } else { Timestamp::MAX })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn camera_ahead_of_utc_gives_an_earlier_instant() {
        let offset = ClockOffset { ahead_of_utc: Seconds(36_000.0), sigma: Seconds(1.0) };
        let instant = offset.instant(date(2026, 5, 3).at(14, 0, 0, 0));
        assert_eq!(instant.to_string(), "2026-05-03T04:00:00Z");
    }

    #[test]
    fn the_ends_of_the_calendar_do_not_panic() {
        let offset = ClockOffset { ahead_of_utc: Seconds(1e18), sigma: Seconds(1.0) };
        let _ = offset.instant(DateTime::MAX);
        let _ = offset.instant(DateTime::MIN);
    }

    #[test]
    fn durations_are_formatted_with_units() {
        assert_eq!(Seconds(-45.2).to_string(), "-45 s");
        assert_eq!(Seconds(200.0).to_string(), "3 min 20 s");
        assert_eq!(Seconds(3_720.0).to_string(), "1 h 02 min");
        assert_eq!(Seconds(-0.2).to_string(), "0 s");
        // to the nearest minute, not down to it
        assert_eq!(Seconds(3_718.0).to_string(), "1 h 02 min");
        assert_eq!(Seconds(-86_377.0).to_string(), "-24 h 00 min");
        assert_eq!(Seconds(3_599.6).to_string(), "1 h 00 min");
        assert_eq!(Seconds(3_599.4).to_string(), "59 min 59 s");
    }
}

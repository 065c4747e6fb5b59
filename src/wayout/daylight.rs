//! Computes the light around an instant at a place, or that of the darkest of several: current state, next
//! changes and the intervals light enough for walking. Works from the instant, never from the local date.
//! Layer: `wayout`.
//!
//! Everything counts in whole minutes, each as dark as its darkest moment, so that text, card, page and verdict
//! agree and err towards the dark.

use serde::Serialize;

use super::area_light::darkest;
use crate::earth::daylight::{Illumination, Interval};
use crate::earth::sun::{self, Light};
use crate::error::Result;
use crate::units::{LatLon, Seconds, Timestamp};

/// Half a day before and after the instant decide the type of day.
const HALF_A_DAY: Seconds = Seconds(43_200.0);
/// The light is computed for so long after the instant: the longest walk with its reserve (30 h)
/// and the day after it.
const AHEAD: Seconds = Seconds(259_200.0);
/// The longest wait that is considered.
pub const A_DAY: Seconds = Seconds(86_400.0);

/// Which lights the 24 hours about the moment hold.
///
/// Decided by the lights that occur in the 24 hours, so that it also holds where sunset and the local date have
/// nothing to do with each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum DayKind {
    /// Day, twilight and dark.
    DayAndNight,
    /// The sun sets, civil twilight lasts until it rises again.
    WhiteNight,
    /// The sun does not set.
    PolarDay,
    /// The sun does not rise; civil twilight for some hours.
    PolarNightWithTwilight,
    /// The sun does not rise, and it does not get dark either.
    TwilightOnly,
    /// Neither daylight nor civil twilight.
    PolarNight,
}

/// The light around an instant.
///
/// Knows the light from half a day before the moment to three days after it; what lies outside counts as dark.
///
/// # Examples
/// ```
/// use trug::earth::daylight::Illumination;
/// use trug::units::{LatLon, Seconds, Timestamp};
/// use trug::wayout::Daylight;
///
/// let now: Timestamp = "2026-05-16T05:20:00Z".parse()?;
/// let light = Daylight::about(LatLon::new(-42.6189, 146.0912)?, now)?;
/// assert_eq!(light.at(now), Illumination::Day);
/// // 17:33 on the clock there
/// let dark = light.dark_from(now).ok_or("no dark")?;
/// assert_eq!(dark.to_string(), "2026-05-16T07:33:00Z");
/// let shares = light.shares(now, Seconds(7_200.0).after(now));
/// assert!(shares.dark.0 < shares.twilight.0 && shares.twilight.0 < shares.day.0);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Daylight {
    /// The moment.
    pub moment: Timestamp,
    /// Which lights the 24 hours about it hold.
    pub kind: DayKind,
    /// The passages of the solar day that the moment lies in.
    pub sun: Light,
    /// From half a day before the moment to three days after it.
    intervals: Vec<Interval>,
}

/// A change of the light.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Change {
    /// When.
    pub at: Timestamp,
    /// The light before.
    pub before: Illumination,
    /// The light after.
    pub after: Illumination,
}

/// The time of a walk by light.
///
/// The three add up to the whole time that was asked for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Shares {
    /// By day.
    #[serde(rename = "day_s")]
    pub day: Seconds,
    /// In civil twilight.
    #[serde(rename = "civil_twilight_s")]
    pub twilight: Seconds,
    /// In the dark, or where the light is not known.
    #[serde(rename = "dark_s")]
    pub dark: Seconds,
}

/// A period with enough light for walking.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Window {
    /// Before it is dark. A walk that begins in the dawn of a day is possible.
    pub from: Timestamp,
    /// When the day of it begins; the same as `from` where the sun does not rise.
    pub day_from: Timestamp,
    /// When the day ends; where the sun does not rise, when civil twilight ends.
    pub to: Timestamp,
    /// Whether it lasts longer than the light is known.
    pub open: bool,
}

impl Daylight {
    /// The light around this instant.
    ///
    /// Accuracy and references are those of [`earth::sun`](crate::earth::sun); terrain, cloud and canopy are not
    /// modelled.
    ///
    /// # Errors
    /// When the year is outside of -500 to 3000.
    pub fn about(place: LatLon, moment: Timestamp) -> Result<Self> {
        Self::between(place, &[], moment)
    }

    /// The light around this instant that holds at a place and at these others: at each instant that of the
    /// darkest of them. The passages of the solar day are those of the first place. For a walk, its two ends
    /// are enough: along a great circle the sun is lowest at one of them.
    ///
    /// # Errors
    /// When the year is outside of -500 to 3000.
    pub fn between(place: LatLon, others: &[LatLon], moment: Timestamp) -> Result<Self> {
        let places: Vec<LatLon> = std::iter::once(place).chain(others.iter().copied()).collect();
        let (from, to) = ((-HALF_A_DAY).after(moment), AHEAD.after(moment));
        let sun = sun::light_about(place, moment)?;
        Ok(Self::of(moment, sun, darkest(&places, from, to)?))
    }

    fn of(moment: Timestamp, sun: Light, intervals: Vec<Interval>) -> Self {
        let (from, to) = ((-HALF_A_DAY).after(moment), HALF_A_DAY.after(moment));
        let holds = |light| {
            intervals.iter().any(|part| part.light == light && part.within(from, to).is_some())
        };
        let lights = (
            holds(Illumination::Day),
            holds(Illumination::CivilTwilight),
            holds(Illumination::Dark),
        );
        let kind = match lights {
            (true, false, false) => DayKind::PolarDay,
            (true, true, false) => DayKind::WhiteNight,
            (true, _, true) => DayKind::DayAndNight,
            (false, true, false) => DayKind::TwilightOnly,
            (false, true, true) => DayKind::PolarNightWithTwilight,
            (false, false, _) => DayKind::PolarNight,
        };
        Self { moment, kind, sun, intervals }
    }

    /// The light at an instant; dark where unknown.
    #[must_use]
    pub fn at(&self, instant: Timestamp) -> Illumination {
        self.intervals
            .iter()
            .find(|part| part.from <= instant && instant < part.to)
            .map_or(Illumination::Dark, |part| part.light)
    }

    /// The light between two instants.
    #[must_use]
    pub fn along(&self, from: Timestamp, to: Timestamp) -> Vec<Interval> {
        self.intervals.iter().filter_map(|part| part.within(from, to)).collect()
    }

    /// The time between two instants by light.
    #[must_use]
    pub fn shares(&self, from: Timestamp, to: Timestamp) -> Shares {
        let parts = self.along(from, to);
        let length = |light| {
            let lengths =
                parts.iter().filter(|part| part.light == light).map(|part| part.length().0);
            lengths.fold(0.0, |all, length| all + length)
        };
        let (day, twilight) = (length(Illumination::Day), length(Illumination::CivilTwilight));
        let dark = (Seconds::between(from, to).0 - day - twilight).max(0.0);
        Shares { day: Seconds(day), twilight: Seconds(twilight), dark: Seconds(dark) }
    }

    /// The darkest light between two instants.
    #[must_use]
    pub fn darkest(&self, from: Timestamp, to: Timestamp) -> Illumination {
        let known = self.intervals.last().is_some_and(|last| to <= last.to)
            && self.intervals.first().is_some_and(|first| first.from <= from);
        let along = self.along(from, to).iter().map(|part| part.light).min();
        along
            .filter(|_| known)
            .unwrap_or_else(|| if known { self.at(from) } else { Illumination::Dark })
    }

    /// The changes of the light after an instant and within so long.
    pub fn changes(&self, after: Timestamp, within: Seconds) -> impl Iterator<Item = Change> {
        let until = within.after(after);
        self.intervals
            .windows(2)
            .map(|pair| Change { at: pair[1].from, before: pair[0].light, after: pair[1].light })
            .filter(move |change| after < change.at && change.at <= until)
    }

    /// When it gets dark after an instant, within a day.
    #[must_use]
    pub fn dark_from(&self, after: Timestamp) -> Option<Timestamp> {
        self.changes(after, A_DAY)
            .find(|change| change.after == Illumination::Dark)
            .map(|change| change.at)
    }

    /// When it stops being dark after an instant, within a day.
    #[must_use]
    pub fn first_light(&self, after: Timestamp) -> Option<Timestamp> {
        self.changes(after, A_DAY)
            .find(|change| change.before == Illumination::Dark)
            .map(|change| change.at)
    }

    /// Since when it has been dark at an instant, where known.
    #[must_use]
    pub fn dark_since(&self, instant: Timestamp) -> Option<Timestamp> {
        let index = self.intervals.iter().position(|part| instant < part.to)?;
        let part = self.intervals.get(index)?;
        (index > 0 && part.light == Illumination::Dark).then_some(part.from)
    }

    /// The period of light that contains an instant, or the next that begins within a day:
    /// daylight, or twilight where no day begins within a day.
    ///
    /// What a walk has to fit into. `None` where no light comes within a day.
    #[must_use]
    pub fn window(&self, now: Timestamp) -> Option<Window> {
        let soon =
            |part: &&Interval| part.to > now && Seconds::between(now, part.from).0 <= A_DAY.0;
        let best =
            [Illumination::Day, Illumination::CivilTwilight].into_iter().find_map(|light| {
                self.intervals.iter().filter(|part| part.light == light).find(soon)
            })?;
        let end = self.intervals.last().map_or(best.to, |last| last.to);
        let bright = self.intervals.iter().rev().skip_while(|part| part.from > best.from);
        let from = bright
            .take_while(|part| part.light > Illumination::Dark)
            .last()
            .map_or(best.from, |part| part.from);
        Some(Window { from, day_from: best.from, to: best.to, open: best.to >= end })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn light_between_places_is_that_of_the_darkest() {
        let place = |latitude, longitude| LatLon::new(latitude, longitude).unwrap();
        let now: Timestamp = "2026-06-21T12:00:00Z".parse().unwrap();
        let (north, south) = (place(66.5, 25.0), place(65.0, 25.0));
        let both = Daylight::between(north, &[south], now).unwrap();
        let alone = [north, south].map(|place| Daylight::about(place, now).unwrap());
        assert_eq!((alone[0].kind, both.kind), (DayKind::PolarDay, DayKind::WhiteNight));
        assert_eq!(both.sun, alone[0].sun);
        for minute in 0..4_000_u32 {
            let at = Seconds(f64::from(minute) * 60.0 + 7.0).after(now);
            assert_eq!(both.at(at), alone[0].at(at).min(alone[1].at(at)), "{at}");
        }
    }
}

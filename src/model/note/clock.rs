//! Findings about the clocks of cameras, the times of a notebook and the zone in which they are read. Layer:
//! `model`.

use jiff::civil::{Date, Time};
use serde::Serialize;

use super::{ClockBasis, FindReference};
use crate::model::Camera;
use crate::units::Seconds;

/// A finding about a clock.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum ClockNote {
    /// The offset of a camera's clock is not known.
    ClockUnknown {
        /// The camera.
        camera: Camera,
        /// What would settle it.
        basis: ClockBasis,
    },
    /// A camera is in another zone, or its date is wrong; its times are corrected.
    ClockInAnotherZone {
        /// The camera.
        camera: Camera,
        /// Its reading less local time.
        #[serde(rename = "ahead_s")]
        ahead: Seconds,
        /// The whole days of this.
        #[serde(rename = "date_ahead_s")]
        date: Seconds,
        /// The part that is a zone or summer time.
        #[serde(rename = "zone_part_s")]
        zone: Seconds,
        /// The rest.
        #[serde(rename = "error_part_s")]
        error: Seconds,
        /// What the estimate rests on.
        basis: ClockBasis,
    },
    /// The GPS times in photographs cannot belong to the clock as it is estimated.
    GpsTimesConflict {
        /// The camera.
        camera: Camera,
        /// The number of GPS times.
        times: usize,
        /// Its reading less local time by them.
        #[serde(rename = "by_gps_s")]
        by_gps: Seconds,
        /// The same as it is estimated.
        #[serde(rename = "ahead_s")]
        ahead: Seconds,
        /// What the estimate rests on.
        basis: ClockBasis,
    },
    /// The photograph of a clock that was named is not there.
    ClockPhotographMissing {
        /// Its name.
        photograph: String,
        /// The date of the outing.
        date: Option<Date>,
    },
    /// A camera's clock was set during the day.
    ClockSet {
        /// The camera.
        camera: Camera,
        /// By how much, where both offsets are known.
        #[serde(rename = "by_s")]
        by: Option<Seconds>,
        /// The last photograph before.
        last: String,
        /// The first one after.
        first: String,
    },
    /// The watch of the notebook was probably set during the day.
    WatchSet {
        /// The last photograph before.
        last: String,
        /// The first one after.
        first: String,
    },
}

/// A finding about the times of finds and photographs.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum TimesNote {
    /// The written times are as a whole apart from the photographs.
    NotebookApart {
        /// The written times less those of the photographs.
        #[serde(rename = "ahead_s")]
        ahead: Seconds,
        /// How many written times are so far apart.
        alike: usize,
        /// Of how many.
        of: usize,
    },
    /// Times of finds lie outside the track.
    OutsideTrack {
        /// Which times.
        times: TimesKind,
        /// The finds.
        finds: Vec<FindReference>,
        /// The local time at which the track begins.
        begins: Time,
        /// The local time at which it ends.
        ends: Time,
        /// How far outside the track a position is still estimated.
        #[serde(rename = "beyond_s")]
        beyond: Seconds,
    },
    /// Photographs are of other days.
    OtherDays {
        /// How many.
        photographs: usize,
        /// Their dates.
        dates: Vec<Date>,
    },
    /// A written time is one that a change of clocks skips or repeats.
    ChangeOfClocks {
        /// The find.
        find: FindReference,
        /// The written time.
        time: Time,
        /// Which.
        change: ClockChange,
        /// The name of the zone.
        zone: String,
    },
}

/// Which times of finds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum TimesKind {
    /// Those of their photographs.
    Photographs,
    /// Those that are written.
    Written,
}

/// How a change of clocks makes a local time doubtful.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum ClockChange {
    /// Clocks were put forward past it.
    Skipped,
    /// Clocks were put back, and it occurred twice, of which one is within the track.
    Twice,
    /// It occurred twice, and the order of the records shows that the first is meant.
    FirstOfTwo,
    /// It occurred twice, and the order of the records shows that the second is meant.
    SecondOfTwo,
    /// It occurred twice, and nothing shows which is meant.
    EitherOfTwo,
}

/// A finding about the zone of a notebook.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum ZoneNote {
    /// The stated zone is hours from that of the place.
    ZoneFarFromPlace {
        /// The stated zone.
        zone: String,
        /// Its offset.
        offset: String,
        /// The zone at the track.
        place: String,
        /// Its offset.
        place_offset: String,
    },
    /// Photographs and place claim different zones.
    ZonesDiffer {
        /// The zone that is used.
        zone: String,
        /// The offset that the photographs state.
        photographs_offset: String,
        /// The zone at the track.
        place: String,
        /// Its offset; `None` where no time is known.
        place_offset: Option<String>,
        /// What decided.
        reason: ZoneReason,
    },
}

/// What decided between the zone of the photographs and that of the place.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum ZoneReason {
    /// Written times and photographs are apart by as much as the zones.
    TimesApart,
    /// The written times agree with the photographs.
    TimesAgree,
    /// The written times lie within the track only in the zone of the place.
    WithinTrack,
    /// Nothing else: photographs take precedence.
    Precedence,
}

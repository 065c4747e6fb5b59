//! Estimates the position and uncertainty of each find from tracks, photographs and field records: cleans
//! and smooths tracks, estimates camera clock offsets, combines positions and detects conflicts. Pure: no
//! clock, no disk, no printing. No input makes it fail as a whole: what cannot be determined is reported
//! for each find. Layer: `join`.
//!
//! Order of computation: `outings` and `zone` divide and date the inputs; `clean` judges the
//! fixes; `frame`, `activity`, `linger`, `receiver` and `smooth` estimate the track and the stops; `clock`
//! estimates camera offsets; `locate` places the finds; `conflict` and `note` report problems. The
//! method and its accuracy are in `docs/position.md`.

mod activity;
mod association;
mod clean;
mod clock;
mod conflict;
mod day;
mod drift;
mod elevations;
mod estimated_track;
mod frame;
mod future;
mod kalman;
mod linger;
mod locate;
mod moment;
mod note;
mod notebook_clock;
mod outings;
mod receiver;
mod repeated_hour;
mod rollover;
#[cfg(test)]
mod scatter;
mod smooth;
mod stray;
mod times;
mod waypoint_names;
mod written;
mod zone;

pub use elevations::GroundHeights;
pub use future::note_future_dates;

use crate::error::Error;
use crate::model::{Day, Intake, PhotoRef, ZoneChoice};
use crate::units::{Metres, Seconds, Timestamp};

/// Settings from the user that the files do not contain.
#[derive(Clone, Debug)]
pub struct Options {
    /// The zone of the notebook's times; `None` to determine it.
    pub zone: Option<ZoneChoice>,
    /// Known camera clock offsets.
    pub camera_clock: CameraClockOption,
    /// The collector, for records that do not name one.
    pub collector: Option<String>,
    /// The usual distance between the collector and the find, at the 95 % level.
    pub stand_off: Metres,
}

/// Camera clock setting from the user.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum CameraClockOption {
    /// Estimate from the day.
    Auto,
    /// They are correct.
    None,
    /// They are ahead of the local time by this much.
    Ahead(Seconds),
    /// This photograph was taken at this instant (it shows a clock); the other cameras as with
    /// [`CameraClockOption::Auto`].
    Shown {
        /// The photograph's name.
        photo: String,
        /// The instant that it shows.
        instant: Timestamp,
    },
}

impl Options {
    /// Default distance between the collector and the find: within 2 m, 95 times
    /// of 100 (common practice: at arm's length, kneeling).
    pub const STAND_OFF: Metres = Metres(2.0);
}

impl Default for Options {
    fn default() -> Self {
        Self {
            zone: None,
            camera_clock: CameraClockOption::Auto,
            collector: None,
            stand_off: Self::STAND_OFF,
        }
    }
}

/// Computes one day for each outing from all inputs, in order of time.
///
/// # Accuracy
/// On simulated days with known truth the 95 % circles contain the truth in 96 to 97 of 100 finds, by
/// condition in 91 to 100; 88 where an error stays until it jumps or a phone has a bias of some metres.
/// `docs/position.md` has the tables, `tests/position` measures them.
#[must_use]
pub fn join(intake: Intake, options: &Options) -> Vec<Day> {
    join_and_report(intake, options).0
}

/// As [`join`], with notes on the files if they give no outing; otherwise notes are part of the outings.
#[must_use]
pub fn join_and_report(intake: Intake, options: &Options) -> (Vec<Day>, Vec<Error>) {
    join_on_ground(intake, options, &elevations::unknown)
}

/// As [`join_and_report`], with heights of the ground, which are asked for only if a table leaves the unit or the
/// marks of its elevations open.
#[must_use]
pub fn join_on_ground(
    intake: Intake,
    options: &Options,
    ground: &GroundHeights,
) -> (Vec<Day>, Vec<Error>) {
    let (gathered, of_no_outing) = outings::part(intake, options);
    let mut partial_days: Vec<day::PartialDay> =
        gathered.into_iter().map(|gathered| day::begin(gathered, options)).collect();
    drift::update(&mut partial_days);
    let numbers = note::Numbers::of(partial_days.iter().flat_map(day::PartialDay::records));
    let finish = |day: day::PartialDay| day.finish(options, &numbers);
    let mut days: Vec<Day> = partial_days.into_iter().map(finish).collect();
    make_ids_unique(&mut days);
    elevations::decide(&mut days, ground);
    (days, of_no_outing)
}

/// Whether a written name, `1004` or `IMG_1004.JPG`, refers to the photograph of this name.
#[must_use]
pub fn names_photo(asked: &str, name: &str) -> bool {
    written::names(&PhotoRef(asked.to_owned()), name)
}

/// Gives parties of one file, collector and date different identifiers. Their order, by start time, is
/// the same in every import.
fn make_ids_unique(days: &mut [Day]) {
    let mut seen = std::collections::HashSet::new();
    for day in days {
        while !seen.insert(day.outing.id) {
            day.outing.id = uuid::Uuid::new_v5(&day.outing.id, b"another party");
        }
    }
}

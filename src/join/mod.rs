//! Estimates the position and uncertainty of each find from tracks, photographs and field records: cleans
//! and smooths tracks, estimates camera clock offsets, combines positions and detects conflicts. Pure: no
//! clock, no disk, no printing. No input makes it fail as a whole: what cannot be determined is reported
//! for each find. Layer: `join`.
//!
//! The way of a day through it: `outings` and `zone` part and date the intake; `clean` judges the
//! fixes; `frame`, `activity`, `linger`, `receiver` and `smooth` make the way and the stops; `clock` sets the
//! cameras; `locate` places the finds; `conflict` and `note` name what does not fit. The method
//! and what it reaches is reported in `docs/position.md`.

mod activity;
mod association;
mod clean;
mod clock;
mod conflict;
mod day;
mod drift;
mod estimated_track;
mod frame;
mod kalman;
mod linger;
mod locate;
mod moment;
mod note;
mod outings;
mod receiver;
mod rollover;
#[cfg(test)]
mod scatter;
mod smooth;
mod stray;
mod times;
mod written;
mod zone;

use crate::error::Error;
use crate::model::{Day, Intake, PhotoRef, ZoneChoice};
use crate::units::{Metres, Seconds, Timestamp};

/// What the user said that the files do not say.
#[derive(Clone, Debug)]
pub struct Options {
    /// The zone of the notebook's times; `None` to find out.
    pub zone: Option<ZoneChoice>,
    /// What is known of the cameras' clocks.
    pub camera_clock: CameraClockOption,
    /// Who collected, where the records do not say.
    pub collector: Option<String>,
    /// How far the collector usually stands from what is found, at the 95 % level.
    pub stand_off: Metres,
}

/// What the user says about the cameras' clocks.
#[derive(Clone, Debug, PartialEq)]
pub enum CameraClockOption {
    /// Find out from the day.
    Auto,
    /// They are right.
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
    /// How far the collector stands from what is found unless stated otherwise: within 2 m, 95 times
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

/// Joins everything that was read into one day for each outing, in order of time.
///
/// # Accuracy
/// On simulated days with known truth the stated 95 % circles hold the truth in 96 to 97 of 100 finds, by
/// condition in 91 to 100; 88 where an error stays until it leaps or a phone has a bias of some metres.
/// `docs/position.md` has the tables, `tests/position` measures them.
#[must_use]
pub fn join(intake: Intake, options: &Options) -> Vec<Day> {
    join_and_report(intake, options).0
}

/// As [`join`], with what is to be said of the files where no outing results from them; empty where one does,
/// since it is said with an outing then.
#[must_use]
pub fn join_and_report(intake: Intake, options: &Options) -> (Vec<Day>, Vec<Error>) {
    let (gathered, of_no_outing) = outings::part(intake, options);
    let mut partial_days: Vec<day::PartialDay> =
        gathered.into_iter().map(|gathered| day::begin(gathered, options)).collect();
    drift::update(&mut partial_days);
    let numbers = note::Numbers::of(partial_days.iter().flat_map(day::PartialDay::records));
    let finish = |day: day::PartialDay| day.finish(options, &numbers);
    let mut days: Vec<Day> = partial_days.into_iter().map(finish).collect();
    make_ids_unique(&mut days);
    (days, of_no_outing)
}

/// Whether what a person wrote, `1004` or `IMG_1004.JPG`, means the photograph of this name.
#[must_use]
pub fn names_photo(asked: &str, name: &str) -> bool {
    written::names(&PhotoRef(asked.to_owned()), name)
}

/// Parties of one file, collector and date still need identities of their own; their order, that of
/// the time at which they set out, does not change from one import to the next.
fn make_ids_unique(days: &mut [Day]) {
    let mut seen = std::collections::HashSet::new();
    for day in days {
        while !seen.insert(day.outing.id) {
            day.outing.id = uuid::Uuid::new_v5(&day.outing.id, b"another party");
        }
    }
}

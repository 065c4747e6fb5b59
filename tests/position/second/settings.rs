//! Defines the receivers of the second simulator.

use super::super::simulation::condition::{BASE, Condition};

/// One setting: a receiver, how often it logs, and the rest of the day.
#[derive(Clone, Copy, Debug)]
pub(super) struct Setting {
    pub(super) name: &'static str,
    pub(super) day: Condition,
    pub(super) law: Law,
    /// The error is the law's times this.
    pub(super) scale: f64,
    pub(super) output: Output,
}

/// How a receiver errs per axis: sizes in metres of four smoothed parts, of the time scales in
/// `errors::SCALES`.
#[derive(Clone, Copy, Debug)]
pub(super) struct Law {
    pub(super) parts: [f64; 4],
    /// Standard deviation of the logarithm of its wandering size.
    pub(super) uneven: f64,
    /// Excursions in an hour.
    pub(super) excursions: f64,
    /// Constant bias of a session, metres per axis.
    pub(super) bias: f64,
}

/// What the device shows of what it computes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Output {
    /// All of it.
    Plain,
    /// An error of one exponential scale of 120 s, normal, of the law's size: the control.
    Exponential,
    /// The position at which its owner stopped, off by 1 to 13 m again at each stop.
    Frozen,
    /// One new fix in fifty, repeated in between.
    Repeating,
}

// Sizes fitted to the logs of that number in receiver_steps.csv, per axis.
const OPEN_1: Law =
    Law { parts: [0.25, 0.86, 1.68, 0.55], uneven: 0.36, excursions: 0.0, bias: 0.0 };
const OPEN_6: Law =
    Law { parts: [0.22, 0.93, 0.27, 0.52], uneven: 0.36, excursions: 0.0, bias: 0.0 };
const HEAVY_3: Law =
    Law { parts: [1.25, 4.4, 0.91, 3.44], uneven: 0.6, excursions: 0.6, bias: 0.0 };
const OBSTRUCTED_4: Law =
    Law { parts: [0.85, 3.05, 1.77, 2.41], uneven: 0.67, excursions: 0.0, bias: 0.0 };
const OBSTRUCTED_8: Law =
    Law { parts: [0.75, 3.4, 0.0, 4.26], uneven: 0.5, excursions: 0.0, bias: 0.0 };
/// Phones in a wooded hill town: 3.2 m per axis, correlation 0.46 within 30 s, 0.2 to four minutes, 0.12
/// beyond twenty.
const PHONE: Law = Law { parts: [2.0, 2.0, 1.0, 0.5], uneven: 0.5, excursions: 0.1, bias: 1.1 };
/// The same with the biases seen on surveyed points under trees.
const BIASED: Law = Law { bias: 4.0, ..PHONE };

const fn setting(name: &'static str, interval: f64, law: Law) -> Setting {
    let day = Condition { name, interval, ahead: 52.0, jumps: 0, ..BASE };
    Setting { name, day, law, scale: 1.0, output: Output::Plain }
}

const fn scaled(setting: Setting, scale: f64) -> Setting {
    Setting { scale, ..setting }
}

const fn shown(setting: Setting, output: Output) -> Setting {
    Setting { output, ..setting }
}

/// All settings.
pub(super) const ALL: [Setting; 18] = [
    setting("open, 1 s", 1.0, OPEN_1),
    setting("open, 5 s", 5.0, OPEN_1),
    setting("open, 10 s", 10.0, OPEN_6),
    setting("open, 60 s", 60.0, OPEN_1),
    scaled(setting("open x 3, 1 s", 1.0, OPEN_1), 3.0),
    scaled(setting("open x 3, 5 s", 5.0, OPEN_1), 3.0),
    shown(scaled(setting("exponential control, 5 s", 5.0, OPEN_1), 3.0), Output::Exponential),
    setting("obstructed, 1 s", 1.0, OBSTRUCTED_4),
    setting("obstructed, 5 s", 5.0, OBSTRUCTED_8),
    setting("obstructed, 10 s", 10.0, OBSTRUCTED_4),
    setting("obstructed, 60 s", 60.0, OBSTRUCTED_8),
    setting("obstructed, heavy tails, 1 s", 1.0, HEAVY_3),
    setting("obstructed, heavy tails, 5 s", 5.0, HEAVY_3),
    setting("phone, 1 s", 1.0, PHONE),
    setting("phone, 5 s", 5.0, PHONE),
    setting("phone, biased, 5 s", 5.0, BIASED),
    shown(setting("phone, frozen, 1 s", 1.0, PHONE), Output::Frozen),
    shown(setting("phone, repeating, 1 s", 1.0, PHONE), Output::Repeating),
];

//! Simulates days with a second simulator, written independently of the first and of the engine, with other
//! distributions. It checks that coverage does not depend on one simulator.
//!
//! - Errors follow statistics of real static receivers (`tests/reference/data/receiver_steps.csv`):
//!   four parts per axis (seconds, tens of seconds, minutes, half an hour), each smoothed, so steps
//!   over 1 to 10 s grow almost in proportion to the lag; a size that wanders (kurtosis of the steps);
//!   rare excursions of tens of metres; for phones a constant bias and output that freezes.
//! - The collector walks straight legs from point to point, slows down before stopping, returns over
//!   the ground of the way out, and takes one long rest.
//!
//! # Seeds
//! Seeds 0 to 99 are for tuning; seeds 1000 and above are for testing only. The tables of
//! `docs/position.md` are made from testing seeds; no constant of the engine is chosen on them.

mod calibration;
mod errors;
mod settings;
mod steps;
mod walker;

use super::simulation::day::{SimulatedDay, assembled};
use super::simulation::random::Random;
use super::simulation::score::Score;
use settings::Setting;

/// The first seed for testing.
const TESTING: u64 = 1_000;

/// The day of a seed.
fn simulate(setting: &Setting, seed: u64) -> SimulatedDay {
    let letters =
        setting.name.bytes().fold(17_u64, |sum, byte| sum * 31 % 1_000_003 + u64::from(byte));
    let mut random = Random::new((seed + 1) * 1_000_003 + letters);
    let way = walker::walk(setting.day.finds, &mut random);
    let record = errors::record(setting, &way, &mut random);
    assembled(&setting.day, 0, way, record, &mut random)
}

/// The day of a seed of each setting, with its name.
pub(crate) fn one_day_each(seed: u64) -> impl Iterator<Item = (&'static str, SimulatedDay)> {
    settings::ALL.iter().map(move |setting| (setting.name, simulate(setting, seed)))
}

fn score(setting: &Setting, seeds: std::ops::Range<u64>) -> Score {
    let mut score = Score::default();
    for seed in seeds {
        score.add(setting.day.ahead, &simulate(setting, seed));
    }
    score
}

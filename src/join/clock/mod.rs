//! Estimates each camera's clock offset: the posterior within 14 hours, second by second, from all evidence
//! of the day: photographs are taken during stops; times written beside photographs; waypoints; GPS times
//! and positions in the photographs. If several alternatives remain it gives no offset and reports what
//! would settle it. Layer: `join`.

mod collector;
mod delay;
mod gps_times;
mod grid;
mod habit;
mod kept;
mod noise_level;
mod observations;
mod passages;
mod photographs;
mod posterior;
mod prior;
mod report;
mod stops;
mod walk;

pub(crate) use gps_times::GpsTimes;
pub(crate) use grid::REACH;
pub(crate) use observations::{Observation, ObservationSource};
pub(crate) use passages::Passages;
pub(crate) use posterior::{Nodes, Posterior};
pub(crate) use report::{Reported, Setting, Weighed, report};
pub(crate) use stops::groups;

use std::sync::OnceLock;

use super::activity::Activities;
use grid::Grid;
use habit::Habits;

/// The evidence for one camera's clock. Times are seconds since the day's origin; readings
/// are the camera's wall clock as if it were UTC.
pub(crate) struct Evidence<'a> {
    /// The readings of its photographs, in order.
    pub(crate) readings: &'a [f64],
    /// Its direct evidence.
    pub(crate) said: DirectEvidence,
    /// The activities of the day.
    pub(crate) activities: &'a Activities,
    /// When the collector may have arrived at a stop or left it.
    pub(crate) passages: &'a Passages,
    /// GPS positions of photographs against the track: log likelihood at an offset.
    pub(crate) positions: Option<&'a dyn Fn(f64) -> f64>,
}

/// Evidence for a camera's clock that does not depend on stops.
#[derive(Clone, Debug)]
pub(crate) struct DirectEvidence {
    /// The offset of the outing's zone from UTC, seconds.
    pub(crate) zone: f64,
    /// The offset from UTC that the camera states, seconds.
    pub(crate) claimed: Option<f64>,
    /// Each says directly how far the camera is ahead of UTC.
    pub(crate) observations: Vec<Observation>,
    /// The GPS times in its photographs.
    pub(crate) gps: GpsTimes,
    /// Whether there is a track to compare its photographs with.
    pub(crate) tracked: bool,
}

/// Computes the posterior of the offset, and the number of photograph groups used.
pub(crate) fn weigh(evidence: &Evidence) -> Posterior {
    let grid = Grid::over(evidence);
    let mut other = prior::over(&grid, evidence.said.zone, evidence.said.claimed);
    for observation in &evidence.said.observations {
        observation.add_to(&grid, &mut other);
    }
    evidence.said.gps.add_to(&grid, &mut other);
    if let Some(likelihood) = evidence.positions {
        grid.add_coarsely(&mut other, likelihood);
    }
    let (mut log, groups) =
        stops::over(&grid, evidence.readings, evidence.activities, stops::OFF_THE_TRACK);
    for (sum, part) in log.iter_mut().zip(&other) {
        *sum += part;
    }
    let habits = Habits::of(evidence.passages);
    let peaks = Posterior::of(grid.clone(), log.clone(), groups).peaks;
    // peaks of collectors who hardly move lie close together: each offset is looked at once
    let known: Vec<OnceLock<f64>> =
        std::iter::repeat_with(OnceLock::new).take(grid.count).collect();
    let finely = |k: usize| {
        let likelihood = || {
            let instants: Vec<f64> =
                evidence.readings.iter().map(|time| time - grid.offset(k)).collect();
            grid::sum_of(&photographs::log_likelihoods(&habits, &instants).map(|log| WORTH * log))
        };
        *known[k].get_or_init(likelihood)
    };
    for &(offset, _) in peaks.iter().filter(|peak| peak.1 > WEIGHTY) {
        grid.refine(&mut log, &other, offset, &finely);
    }
    Posterior::of(grid, log, groups)
}

/// The logarithm of how much more probable these readings are on a track than those of photographs
/// taken at any time, over what the clock may show: set like most clocks, but so many seconds of whole
/// days away. Also how many groups of photographs there are. A group beyond the track counts `beyond`.
pub(crate) fn fit(
    readings: &[f64],
    activities: &Activities,
    said: &DirectEvidence,
    away: f64,
    beyond: f64,
) -> (f64, usize) {
    let grid = Grid::about(said.zone + away);
    let mut clock = prior::over(&grid, said.zone, said.claimed);
    for observation in &said.observations {
        observation.add_to(&grid, &mut clock);
    }
    said.gps.add_to(&grid, &mut clock);
    let (stops, groups) = stops::over(&grid, readings, &widened(activities), beyond);
    let all = grid::sum_of(&clock);
    for (sum, log) in clock.iter_mut().zip(stops) {
        *sum += log;
    }
    (grid::sum_of(&clock) - all, groups)
}

/// The stops with some seconds about each: devices that smooth report arrivals and departures late,
/// and the question here is which stop, not which second.
fn widened(activities: &Activities) -> Activities {
    /// Seconds on either side.
    const ABOUT: usize = 20;
    Activities { course: activities.course.widened(ABOUT), ..Activities::clone(activities) }
}

/// Peaks with more of the probability than this are looked at finely.
const WEIGHTY: f64 = 0.02;
/// What one photograph of the fine evaluation is worth, estimated from simulated days: people are less regular
/// than any law of their habits.
const WORTH: f64 = 0.36;

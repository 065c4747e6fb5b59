//! How far is each camera's clock ahead? The posterior over plus and minus fourteen hours, second by
//! second, from everything the day offers: pictures are taken where the collector stands; times
//! written beside photographs; waypoints; GPS times and positions in the photographs themselves. It
//! declines, with what would settle it, rather than choose between rivals. Layer: `join`.

mod grid;
mod hints;
mod posterior;
mod prior;
mod report;
mod stands;

pub(crate) use hints::Hint;
pub(crate) use posterior::{Nodes, Posterior};
pub(crate) use report::{Setting, report};
pub(crate) use stands::groups;

use super::gait::Gaits;
use grid::Grid;

/// Everything that bears on one camera's clock. Times are seconds since the day's origin; readings
/// are the camera's wall clock as if it were UTC.
pub(crate) struct Evidence<'a> {
    /// The readings of its photographs, in order.
    pub(crate) readings: &'a [f64],
    /// What the outing's zone is ahead of UTC, seconds.
    pub(crate) zone: f64,
    /// What the camera itself claims to be ahead of UTC, seconds.
    pub(crate) claimed: Option<f64>,
    /// The gaits of the day.
    pub(crate) gaits: &'a Gaits,
    /// Written times and waypoints: each says directly how far the camera is ahead of UTC.
    pub(crate) hints: Vec<Hint>,
    /// The GPS times in its photographs.
    pub(crate) gps: Option<Hint>,
    /// GPS positions of photographs against the track: log likelihood at an offset.
    pub(crate) positions: Option<&'a dyn Fn(f64) -> f64>,
}

/// Weighs every offset, and says how many groups of pictures it had to go by.
pub(crate) fn weigh(evidence: &Evidence) -> Posterior {
    let grid = Grid::over(evidence);
    let mut log = prior::over(&grid, evidence.zone, evidence.claimed);
    let (from_stands, groups) = stands::over(&grid, evidence.readings, evidence.gaits);
    for (sum, part) in log.iter_mut().zip(&from_stands) {
        *sum += part;
    }
    for hint in evidence.hints.iter().chain(&evidence.gps) {
        hint.add_to(&grid, &mut log);
    }
    if let Some(likelihood) = evidence.positions {
        grid.add_coarsely(&mut log, likelihood);
    }
    Posterior::of(grid, log, groups)
}

//! Represents direct observations of a camera's offset: a time written beside a photograph, a waypoint
//! marked with it, another camera that shows the same find, the same camera on other days. Observations of
//! one kind share a habit (writing after the photograph, truncating seconds), so together they are no more
//! precise than the habit is known. Layer: `join`.

use super::super::moment::median;
use super::grid::Grid;

/// Where observations come from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum ObservationSource {
    /// Written times and waypoints.
    Notebook,
    /// Finds that another camera shows as well.
    OtherCamera,
    /// The same camera on other days.
    OtherDays,
}

/// Several observations of one kind, as one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Observation {
    pub(crate) source: ObservationSource,
    /// The offset that they name, seconds ahead of UTC.
    pub(crate) offset: f64,
    /// Their scale, seconds.
    pub(crate) scale: f64,
    /// How many.
    pub(crate) count: usize,
    /// The probability that they have nothing to do with it.
    pub(crate) idle: f64,
}

const FREEDOM: f64 = 4.0;

impl Observation {
    /// Several readings of one offset, each with a scatter of its own, under one habit.
    pub(crate) fn gathered(
        source: ObservationSource,
        offsets: &[f64],
        scatter: f64,
        habit: f64,
    ) -> Option<Self> {
        let mut sorted = offsets.to_vec();
        let middle = median(&mut sorted)?;
        let mut away: Vec<f64> = offsets.iter().map(|offset| (offset - middle).abs()).collect();
        let spread = (1.4826 * median(&mut away)?).max(scatter);
        let count = offsets.len();
        let scale = (1.5 * spread * spread / count as f64 + habit * habit).sqrt();
        let idle = if count >= 3 { 0.01 } else { 0.08 };
        Some(Self { source, offset: middle, scale, count, idle })
    }

    pub(super) fn add_to(&self, grid: &Grid, log: &mut [f64]) {
        let flat = self.idle / grid.count as f64;
        for (k, sum) in log.iter_mut().enumerate() {
            let away = (grid.offset(k) - self.offset) / self.scale;
            let core = 1.0 + away * away / FREEDOM;
            // Student's law with four degrees of freedom: 3/8 (1 + t^2/4)^(-5/2)
            let density = 0.375 / (self.scale * core * core * core.sqrt());
            *sum += ((1.0 - self.idle) * density + flat).ln();
        }
    }
}

//! Stores the plausible part of an offset posterior until the other days of the camera have been used.
//! Layer: `join`.

use super::grid::Grid;
use super::observations::Observation;
use super::posterior::Posterior;

/// Log likelihoods farther below the best than this are implausible.
const OUT: f64 = 30.0;

/// A compressed posterior.
#[derive(Clone, Debug)]
pub(crate) struct Kept {
    grid: Grid,
    groups: usize,
    /// Where each begins on the grid, and the log likelihoods from there on below the best.
    islands: Vec<(usize, Vec<f32>)>,
}

impl Kept {
    #[allow(clippy::cast_possible_truncation, reason = "within 30")]
    pub(super) fn of(posterior: &Posterior) -> Self {
        let top = posterior.log.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let mut islands: Vec<(usize, Vec<f32>)> = Vec::new();
        for (k, log) in posterior.log.iter().enumerate().filter(|(_, log)| top - *log < OUT) {
            match islands.last_mut() {
                Some((from, island)) if *from + island.len() == k => {
                    island.push((log - top) as f32);
                }
                _ => islands.push((k, vec![(log - top) as f32])),
            }
        }
        Self { grid: posterior.grid.clone(), groups: posterior.groups, islands }
    }

    /// The posterior with one more observation.
    pub(super) fn with(&self, observation: &Observation) -> Posterior {
        let mut log = vec![-1.5 * OUT; self.grid.count];
        for (from, island) in &self.islands {
            for (log, kept) in log[*from..].iter_mut().zip(island) {
                *log = f64::from(*kept);
            }
        }
        observation.add_to(&self.grid, &mut log);
        Posterior::of(self.grid.clone(), log, self.groups)
    }
}

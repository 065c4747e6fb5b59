//! What does one step cost? The sixteen moves of a grid, each with a table of milliseconds by the
//! difference of height, so that the search never computes an exponential. Layer: `wayout`.

use super::STEEPEST_STEP;
use crate::wayout::pace::{Footing, tobler};

/// Columns and rows of the sixteen moves: straight, diagonal, and as a knight moves.
const STEPS: [(i32, i32); 16] = [
    (1, 0),
    (-1, 0),
    (0, 1),
    (0, -1),
    (1, 1),
    (-1, 1),
    (1, -1),
    (-1, -1),
    (2, 1),
    (-2, 1),
    (2, -1),
    (-2, -1),
    (1, 2),
    (-1, 2),
    (1, -2),
    (-1, -2),
];

/// A move that nobody makes.
pub(super) const NEVER: u32 = u32::MAX / 2;

/// The moves of one field.
pub(super) struct Moves {
    pub(super) ways: [Way; 16],
    /// Differences of height that a table holds to each side.
    reach: i32,
    /// Milliseconds by kind of move, then by difference; off the path, then the same on a corridor.
    table: Vec<u32>,
    /// From an entry off the path to its fellow on a corridor.
    corridor: u32,
    /// The cheapest and the dearest possible move.
    pub(super) cheapest: u32,
    pub(super) dearest: u32,
}

/// One of the sixteen.
#[derive(Clone, Copy)]
pub(super) struct Way {
    /// Columns and rows.
    pub(super) step: (i32, i32),
    /// The same as places in the five columns and rows around a cell.
    pub(super) column: usize,
    pub(super) row: usize,
    /// For a knight's move: the two cells passed over.
    pub(super) passed: [(i32, i32); 2],
    /// The middle of its table.
    middle: i32,
    /// What it costs at the least, off the path.
    pub(super) least: u32,
}

impl Moves {
    pub(super) fn new(spacing: (f64, f64), quantum: f64) -> Self {
        let lengths = KINDS.map(|(across, along)| (across * spacing.0).hypot(along * spacing.1));
        let longest = lengths.iter().copied().fold(0.0, f64::max);
        let reach = whole(longest * STEEPEST_STEP / quantum);
        let entries = |footing| {
            lengths.into_iter().flat_map(move |length| {
                (-reach..=reach)
                    .map(move |steps| milliseconds(length, f64::from(steps) * quantum, footing))
            })
        };
        let mut table: Vec<u32> = entries(Footing::OffPath).collect();
        let corridor = u32::try_from(table.len()).unwrap_or(u32::MAX);
        table.extend(entries(Footing::Path));
        let possible = || table.iter().copied().filter(|cost| *cost < NEVER);
        let ways = STEPS.map(|step| Way::new(step, reach, &table));
        Self {
            ways,
            reach,
            corridor,
            cheapest: possible().min().unwrap_or(1).max(1),
            dearest: possible().max().unwrap_or(1),
            table,
        }
    }

    /// Milliseconds of a move over a difference of height.
    #[inline]
    pub(super) fn cost(&self, way: &Way, rise: i32, corridor: bool) -> u32 {
        if rise.unsigned_abs() > self.reach.unsigned_abs() {
            return NEVER;
        }
        #[allow(
            clippy::cast_sign_loss,
            reason = "the middle is farther from nought than the reach"
        )]
        let index = (way.middle + rise) as u32 + if corridor { self.corridor } else { 0 };
        self.table.get(index as usize).copied().unwrap_or(NEVER)
    }
}

impl Way {
    fn new((across, along): (i32, i32), reach: i32, table: &[u32]) -> Self {
        let beside_middle = |by: i32| usize::try_from(by + 2).unwrap_or(2);
        let kind = kind(across, along);
        let width = 2 * reach + 1;
        let first = usize::try_from(kind * width).unwrap_or(0);
        let entries = table.iter().skip(first).take(usize::try_from(width).unwrap_or(0));
        Self {
            step: (across, along),
            column: beside_middle(across),
            row: beside_middle(along),
            passed: [(across / 2, along / 2), beside(across, along)],
            middle: kind * width + reach,
            least: entries.copied().min().unwrap_or(1),
        }
    }
}

/// Columns and rows of the kinds of move: their tables are shared by all signs.
const KINDS: [(f64, f64); 5] = [(1.0, 0.0), (0.0, 1.0), (1.0, 1.0), (2.0, 1.0), (1.0, 2.0)];

fn kind(across: i32, along: i32) -> i32 {
    match (across.abs(), along.abs()) {
        (1, 0) => 0,
        (0, 1) => 1,
        (1, 1) => 2,
        (2, 1) => 3,
        _ => 4,
    }
}

/// Of a knight's move the cell passed over that is not half of it.
fn beside(across: i32, along: i32) -> (i32, i32) {
    match (across.abs(), along.abs()) {
        (2, 1) => (across / 2, along),
        (1, 2) => (across, along / 2),
        _ => (0, 0),
    }
}

/// Rounded up, so that no sum of moves is quicker than the straight line at full speed.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held in bounds")]
fn milliseconds(length: f64, rise: f64, footing: Footing) -> u32 {
    let slope = rise / length;
    if slope.abs() > STEEPEST_STEP {
        return NEVER;
    }
    (length / tobler(slope, footing).0 * 1e3).ceil().clamp(1.0, f64::from(NEVER)) as u32
}

#[allow(clippy::cast_possible_truncation, reason = "held in bounds")]
fn whole(steps: f64) -> i32 {
    steps.ceil().clamp(1.0, 100_000.0) as i32
}

//! Computes the cost of a move: tables of milliseconds by height difference for the sixteen moves
//! of a grid, so that the search evaluates no exponential. Layer: `wayout`.

use super::STEEPEST_STEP;
use crate::wayout::pace::{Surface, tobler};

/// Columns and rows of the sixteen moves: straight, diagonal, and as a knight moves.
pub(super) const STEPS: [(i32, i32); 16] = [
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

/// An impossible move: more than any route takes.
pub(super) const NEVER: u32 = (1 << 31) - 1;

/// Entries of a table: differences of height of half as many steps to each side.
pub(super) const ENTRIES: usize = 4_096;
/// The entry of no difference.
pub(super) const LEVEL: i32 = 2_048;

/// Milliseconds by difference of height, for each kind of move.
pub(super) type Table = [Box<Costs>; 5];
/// Those of one kind.
pub(super) type Costs = [u32; ENTRIES];
/// The entry of an impossible move.
const LAST: u32 = 4_095;

/// The moves of one field.
pub(super) struct Moves {
    pub(super) directions: [Direction; 16],
    pub(super) off_path: Table,
    on_corridor: Table,
    /// The cheapest move off the path and on a corridor, and the most expensive possible one.
    pub(super) cheapest: (u32, u32),
    pub(super) dearest: u32,
}

/// One of the sixteen directions.
#[derive(Clone, Copy)]
pub(super) struct Direction {
    /// Columns and rows.
    pub(super) step: (i32, i32),
    /// Its table.
    kind: usize,
    /// Whether it passes over two cells, and which.
    pub(super) is_knight: bool,
    pub(super) passed: [(i32, i32); 2],
}

impl Moves {
    pub(super) fn new(spacing: (f64, f64), quantum: f64) -> Self {
        let off_path = table(spacing, quantum, Surface::OffPath);
        let on_corridor = table(spacing, quantum, Surface::Path);
        let cheapest =
            |table: &Table| table.iter().flat_map(|costs| costs.iter()).copied().min().unwrap_or(1);
        let possible =
            off_path.iter().flat_map(|costs| costs.iter()).copied().filter(|cost| *cost < NEVER);
        Self {
            directions: STEPS.map(Direction::new),
            cheapest: (cheapest(&off_path), cheapest(&on_corridor)),
            dearest: possible.max().unwrap_or(1),
            off_path,
            on_corridor,
        }
    }

    /// Milliseconds of a move over a difference of height.
    #[inline]
    pub(super) fn cost(&self, direction: &Direction, rise: i32, corridor: bool) -> u32 {
        let table = if corridor { &self.on_corridor } else { &self.off_path };
        table.get(direction.kind).map_or(NEVER, |costs| costs[entry(rise)])
    }
}

/// The entry of a difference of height; one out of bounds falls on the last, which is impossible.
#[inline]
#[allow(clippy::cast_sign_loss, reason = "what is below the table wraps beyond its end")]
pub(super) fn entry(rise: i32) -> usize {
    ((rise + LEVEL) as u32).min(LAST) as usize
}

/// The coarsest step of height that is needed so that a table holds every possible move.
pub(super) fn least_quantum(spacing: (f64, f64)) -> f64 {
    2.0 * spacing.0.hypot(spacing.1) * STEEPEST_STEP / f64::from(LEVEL - 2)
}

fn table(spacing: (f64, f64), quantum: f64, surface: Surface) -> Table {
    KINDS.map(|(across, along)| {
        let length = (across * spacing.0).hypot(along * spacing.1);
        let mut costs = Box::new([NEVER; ENTRIES]);
        // the first and the last entry are where differences out of bounds fall
        for (rise, cost) in (-LEVEL..LEVEL).zip(costs.iter_mut()).skip(1).take(ENTRIES - 2) {
            *cost = milliseconds(length, f64::from(rise) * quantum, surface);
        }
        costs
    })
}

impl Direction {
    fn new((across, along): (i32, i32)) -> Self {
        Self {
            step: (across, along),
            kind: kind(across, along),
            is_knight: across.abs() + along.abs() == 3,
            passed: [(across / 2, along / 2), beside(across, along)],
        }
    }
}

/// Columns and rows of the kinds of move: their tables are shared by all signs.
const KINDS: [(f64, f64); 5] = [(1.0, 0.0), (0.0, 1.0), (1.0, 1.0), (2.0, 1.0), (1.0, 2.0)];

fn kind(across: i32, along: i32) -> usize {
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
fn milliseconds(length: f64, rise: f64, surface: Surface) -> u32 {
    let slope = rise / length;
    if slope.abs() > STEEPEST_STEP {
        return NEVER;
    }
    (length / tobler(slope, surface).0 * 1e3).ceil().clamp(1.0, f64::from(NEVER)) as u32
}

//! Finds the quickest route to one of several goals: search on the grid, straightening, and a check
//! whether a larger grid could contain a quicker one. Layer: `wayout`.

use super::layout::CellIndex;
use super::search::BEGIN;
use super::{FAR, Terrain, mark};
use crate::units::{MetresPerSecond, Seconds};
use crate::wayout::pace::{FASTEST, Surface, tobler};

/// The largest distance of an open cell from a closed start or goal, cells.
const NEARBY: i32 = 3;

/// A route across the grid.
#[derive(Clone, Debug, PartialEq)]
pub struct Walk {
    /// Which of the goals was reached.
    pub goal: usize,
    /// Its time by Tobler's function, straightened.
    pub duration: Seconds,
    /// Its time along the cells of the grid: never less than `duration`.
    pub on_grid: Seconds,
    /// Its corners as columns and rows of the field, the start first.
    pub corners: Vec<(f64, f64)>,
    /// The cells that were settled.
    pub expanded: usize,
    /// Whether a quicker route might lead outside the grid.
    pub may_leave: bool,
}

impl Terrain {
    /// The quickest route from a column and row to one of the goals; `None` where none exists:
    /// barriers or voids surround it, or a place lies outside.
    pub fn walk(&mut self, from: (f64, f64), goals: &[(f64, f64)]) -> Option<Walk> {
        let start = self.nearest_open(from)?;
        let open: Vec<(usize, CellIndex)> = goals
            .iter()
            .enumerate()
            .filter_map(|(goal, at)| Some((goal, self.nearest_open(*at)?)))
            .collect();
        if open.is_empty() {
            return None;
        }
        let cells: Vec<CellIndex> = open.iter().map(|goal| goal.1).collect();
        let expanded = self.search(start, &cells);
        let (goal, cell) = *open
            .iter()
            .filter(|(_, cell)| self.is_settled(*cell))
            .min_by_key(|(_, cell)| self.cost(*cell))?;
        let path = self.path(start, cell);
        let on_grid = f64::from(self.cost(cell) - BEGIN) / 1e3;
        let (straight, _) = self.straighten(&path);
        let (relaxed, least) = self.relax(&straight);
        let corners = self.merge(&relaxed, least);
        let merged: Option<f64> =
            corners.windows(2).map(|ends| self.straight(ends[0], ends[1], f64::INFINITY)).sum();
        let duration = Seconds(merged.unwrap_or(least.0).min(on_grid));
        let may_leave = self.may_leave(cell);
        Some(Walk { goal, duration, on_grid: Seconds(on_grid), corners, expanded, may_leave })
    }

    /// The milliseconds to every cell, in rows from the south, without a goal: the whole field.
    #[must_use]
    pub fn field(&mut self, from: (f64, f64)) -> Option<Vec<Option<u32>>> {
        let start = self.nearest_open(from)?;
        self.search(start, &[]);
        let reached = |cell| {
            let cost = self.cost(cell);
            (BEGIN..FAR).contains(&cost).then(|| cost - BEGIN)
        };
        Some(self.layout.cells().map(reached).collect())
    }

    /// Whether a route beyond the edge of the grid at full speed could be quicker.
    fn may_leave(&self, goal: CellIndex) -> bool {
        let lead = self.lead(goal);
        let cost = self.cost(goal);
        let (columns, rows) = self.size();
        let edge = (0..columns)
            .flat_map(|column| [(column, 0), (column, rows - 1)])
            .chain((0..rows).flat_map(|row| [(0, row), (columns - 1, row)]));
        edge.map(|(column, row)| CellIndex::inner(column, row)).any(|cell| {
            self.is_settled(cell) && f64::from(self.cost(cell)) + lead(cell) < f64::from(cost)
        })
    }

    /// Milliseconds from a cell to the goal at full speed.
    fn lead(&self, goal: CellIndex) -> impl Fn(CellIndex) -> f64 + use<> {
        let per_metre = 1e3 / self.top_speed().0;
        let (per_column, per_row) = (self.spacing.0 * per_metre, self.spacing.1 * per_metre);
        move |cell| {
            let across = f64::from(cell.column().abs_diff(goal.column())) * per_column;
            let along = f64::from(cell.row().abs_diff(goal.row())) * per_row;
            across.hypot(along)
        }
    }

    /// The highest possible speed on the grid.
    pub(super) fn top_speed(&self) -> MetresPerSecond {
        if self.has_corridors { FASTEST } else { tobler(-0.05, Surface::OffPath) }
    }

    pub(super) fn is_settled(&self, cell: CellIndex) -> bool {
        (BEGIN..self.settled).contains(&self.cost(cell))
    }

    /// The open cell nearest to a place, within a few cells.
    pub(super) fn nearest_open(&self, at: (f64, f64)) -> Option<CellIndex> {
        let middle = (at.0.round(), at.1.round());
        let mut best: Option<(f64, CellIndex)> = None;
        for across in -NEARBY..=NEARBY {
            for along in -NEARBY..=NEARBY {
                let place = (middle.0 + f64::from(across), middle.1 + f64::from(along));
                let off = (place.0 - at.0).hypot(place.1 - at.1);
                if self.is_open(place)
                    && best.is_none_or(|(least, _)| off < least)
                    && let Some(cell) = self.cell(place)
                {
                    best = Some((off, cell));
                }
            }
        }
        best.map(|(_, cell)| cell)
    }

    /// Backtracks from the goal: the predecessor is the cell whose cost plus the move equals the
    /// cost.
    fn path(&self, start: CellIndex, goal: CellIndex) -> Vec<(f64, f64)> {
        let mut path = vec![goal.place()];
        let mut cell = goal;
        while cell != start
            && let Some(before) = self.before(cell)
        {
            cell = before;
            path.push(cell.place());
        }
        path.reverse();
        path
    }

    pub(super) fn before(&self, cell: CellIndex) -> Option<CellIndex> {
        let (cost, height) = (self.cost(cell), self.open(cell)?);
        let corridor = self.mark(cell) & mark::CORRIDOR != 0;
        self.moves.directions.iter().find_map(|direction| {
            let from = cell.moved(-direction.step.0, -direction.step.1);
            let rise = i32::from(height) - i32::from(self.open(from)?);
            let quick = corridor && self.mark(from) & mark::CORRIDOR != 0;
            let came = self.cost(from) + self.moves.cost(direction, rise, quick);
            (came == cost && self.is_settled(from) && !self.leaps(from, direction)).then_some(from)
        })
    }
}

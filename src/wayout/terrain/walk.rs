//! The quickest walk to one of several goals: searched on the grid, straightened, and checked for
//! whether a larger field could hold a quicker one. Layer: `wayout`.

use super::layout::Spot;
use super::search::BEGIN;
use super::{FAR, Terrain, mark};
use crate::units::{MetresPerSecond, Seconds};
use crate::wayout::pace::{FASTEST, Footing, tobler};

/// How far from a closed start or goal an open cell is looked for, cells.
const NEARBY: i32 = 3;

/// A walk across the field.
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
    /// Whether a quicker walk might lead outside of the field.
    pub may_leave: bool,
}

impl Terrain {
    /// The quickest walk from a column and row to one of the goals; `None` where there is none: a
    /// barrier or a void is around, or a place lies outside.
    pub fn walk(&mut self, from: (f64, f64), goals: &[(f64, f64)]) -> Option<Walk> {
        let start = self.nearest_open(from)?;
        let open: Vec<(usize, Spot)> = goals
            .iter()
            .enumerate()
            .filter_map(|(goal, at)| Some((goal, self.nearest_open(*at)?)))
            .collect();
        if open.is_empty() {
            return None;
        }
        let spots: Vec<Spot> = open.iter().map(|goal| goal.1).collect();
        let expanded = self.search(start, &spots);
        let (goal, cell) = *open
            .iter()
            .filter(|(_, spot)| self.is_settled(*spot))
            .min_by_key(|(_, spot)| self.cost(*spot))?;
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
        let reached = |spot| {
            let cost = self.cost(spot);
            (BEGIN..FAR).contains(&cost).then(|| cost - BEGIN)
        };
        Some(self.layout.spots().map(reached).collect())
    }

    /// Whether a walk over the edge of the field and straight on at full speed could be quicker.
    fn may_leave(&self, goal: Spot) -> bool {
        let lead = self.lead(goal);
        let cost = self.cost(goal);
        let (columns, rows) = self.size();
        let edge = (0..columns)
            .flat_map(|column| [(column, 0), (column, rows - 1)])
            .chain((0..rows).flat_map(|row| [(0, row), (columns - 1, row)]));
        edge.map(|(column, row)| Spot::inner(column, row)).any(|spot| {
            self.is_settled(spot) && f64::from(self.cost(spot)) + lead(spot) < f64::from(cost)
        })
    }

    /// Milliseconds from a cell to the goal at full speed.
    fn lead(&self, goal: Spot) -> impl Fn(Spot) -> f64 + use<> {
        let per_metre = 1e3 / self.top_speed().0;
        let (per_column, per_row) = (self.spacing.0 * per_metre, self.spacing.1 * per_metre);
        move |spot| {
            let across = f64::from(spot.column().abs_diff(goal.column())) * per_column;
            let along = f64::from(spot.row().abs_diff(goal.row())) * per_row;
            across.hypot(along)
        }
    }

    /// Nobody is quicker anywhere on the field.
    pub(super) fn top_speed(&self) -> MetresPerSecond {
        if self.has_corridors { FASTEST } else { tobler(-0.05, Footing::OffPath) }
    }

    pub(super) fn is_settled(&self, spot: Spot) -> bool {
        (BEGIN..self.settled).contains(&self.cost(spot))
    }

    /// The open cell nearest to a place, within a few cells.
    fn nearest_open(&self, at: (f64, f64)) -> Option<Spot> {
        let middle = (at.0.round(), at.1.round());
        let mut best: Option<(f64, Spot)> = None;
        for across in -NEARBY..=NEARBY {
            for along in -NEARBY..=NEARBY {
                let place = (middle.0 + f64::from(across), middle.1 + f64::from(along));
                let off = (place.0 - at.0).hypot(place.1 - at.1);
                if self.is_open(place)
                    && best.is_none_or(|(least, _)| off < least)
                    && let Some(spot) = self.spot(place)
                {
                    best = Some((off, spot));
                }
            }
        }
        best.map(|(_, spot)| spot)
    }

    /// Back from the goal: a cell was reached from the one over which its cost comes out.
    fn path(&self, start: Spot, goal: Spot) -> Vec<(f64, f64)> {
        let mut path = vec![goal.place()];
        let mut spot = goal;
        while spot != start
            && let Some(before) = self.before(spot)
        {
            spot = before;
            path.push(spot.place());
        }
        path.reverse();
        path
    }

    fn before(&self, spot: Spot) -> Option<Spot> {
        let (cost, height) = (self.cost(spot), self.open(spot)?);
        let corridor = self.mark(spot) & mark::CORRIDOR != 0;
        self.moves.ways.iter().find_map(|way| {
            let from = spot.moved(-way.step.0, -way.step.1);
            let rise = i32::from(height) - i32::from(self.open(from)?);
            let quick = corridor && self.mark(from) & mark::CORRIDOR != 0;
            let came = self.cost(from) + self.moves.cost(way, rise, quick);
            (came == cost && self.is_settled(from) && !self.leaps(from, way)).then_some(from)
        })
    }
}

//! The search itself: the quickest way over the cells to the nearest of several goals, led by the
//! straight line at full speed, which never overrates, so that the answer is exact. Layer: `wayout`.

use super::layout::{MARGIN, Spot};
use super::moves::{NEVER, Way};
use super::queue::Queue;
use super::{Cell, FAR, Terrain, Walk, mark};
use crate::units::Seconds;
use crate::wayout::pace::{FASTEST, Footing, tobler};

/// How far from a closed start or goal an open cell is looked for, cells.
const NEARBY: i32 = 3;

impl Terrain {
    /// The quickest walk from a column and row to one of the goals; `None` where there is none: a
    /// barrier or a void is around, or a place lies outside.
    pub fn walk(&mut self, from: (f64, f64), goals: &[(f64, f64)]) -> Option<Walk> {
        self.clear();
        let start = self.nearest_open(from)?;
        let open: Vec<(usize, Spot)> = goals
            .iter()
            .enumerate()
            .filter_map(|(goal, at)| Some((goal, self.nearest_open(*at)?)))
            .collect();
        let (reached, expanded) = self.search(start, &open)?;
        let (goal, cell) = *open.get(reached)?;
        let path = self.path(start, cell);
        let on_grid = self.cell(cell).map_or(0.0, |cell| f64::from(cell.cost) / 1e3);
        let (straight, _) = self.straighten(&path);
        let (corners, relaxed) = self.relax(&straight);
        let duration = Seconds(relaxed.0.min(on_grid));
        let may_leave = self.may_leave(cell);
        Some(Walk { goal, duration, on_grid: Seconds(on_grid), corners, expanded, may_leave })
    }

    /// The milliseconds to every cell, in rows from the south, without a goal: the whole field.
    #[must_use]
    pub fn field(&mut self, from: (f64, f64)) -> Option<Vec<Option<u32>>> {
        self.clear();
        let start = self.nearest_open(from)?;
        self.search(start, &[]);
        let cost =
            |cell: &Cell| (cell.cost != FAR && cell.mark & mark::BARRIER == 0).then_some(cell.cost);
        Some(self.layout.spots().filter_map(|spot| self.cell(spot)).map(cost).collect())
    }

    fn search(&mut self, start: Spot, goals: &[(usize, Spot)]) -> Option<(usize, usize)> {
        let lead = Lead::new(self, start, goals);
        let at_start = lead.rest(start);
        // a lead can make a move that leads away dearer by as much as it leads back
        let mut queue = Queue::new(self.moves.cheapest, self.moves.dearest * 2 + 2, at_start);
        self.cells.get_mut(self.layout.index(start))?.cost = 0;
        queue.put(at_start, start);
        let mut found: Option<(usize, u32)> = None;
        let mut expanded = 0;
        while let Some((bucket, spot)) = queue.next() {
            if found.is_some_and(|(_, cost)| bucket > queue.bucket(cost)) {
                break;
            }
            let Some(cell) = self.cells.get_mut(self.layout.index(spot)) else { continue };
            if cell.mark & mark::EXPANDED != 0 {
                continue;
            }
            cell.mark |= mark::EXPANDED;
            let here = *cell;
            expanded += 1;
            if let Some(goal) = goals.iter().position(|goal| goal.1 == spot)
                && found.is_none_or(|(_, cost)| here.cost < cost)
            {
                found = Some((goal, here.cost));
            }
            if here.mark & (mark::NEAR | mark::CORRIDOR) == 0 {
                self.expand::<false>(spot, here, &lead, &mut queue);
            } else {
                self.expand::<true>(spot, here, &lead, &mut queue);
            }
        }
        if goals.is_empty() { Some((0, expanded)) } else { found.map(|(goal, _)| (goal, expanded)) }
    }

    /// Offers the sixteen neighbours a way over this cell. With `SPECIAL` a barrier is near or this
    /// is a corridor.
    #[inline]
    fn expand<const SPECIAL: bool>(
        &mut self,
        spot: Spot,
        here: Cell,
        lead: &Lead,
        queue: &mut Queue,
    ) {
        let Some((columns, rows)) = self.layout.around(spot) else { return };
        let corridor = SPECIAL && here.mark & mark::CORRIDOR != 0;
        let near = SPECIAL && here.mark & mark::NEAR != 0;
        for (number, way) in self.moves.ways.iter().enumerate() {
            let there = (columns[way.column] + rows[way.row]) as usize;
            let Some(cell) = self.cells.get(there) else { continue };
            let least = if corridor { here.cost } else { here.cost.saturating_add(way.least) };
            if cell.cost <= least {
                continue;
            }
            let quick = corridor && cell.mark & mark::CORRIDOR != 0;
            let rise = i32::from(cell.height) - i32::from(here.height);
            let cost = here.cost.saturating_add(self.moves.cost(way, rise, quick));
            if cost >= cell.cost.min(NEVER) || (near && number >= 8 && self.leaps(spot, way)) {
                continue;
            }
            let before = *cell;
            let Some(cell) = self.cells.get_mut(there) else { continue };
            cell.cost = cost;
            #[allow(clippy::cast_possible_truncation, reason = "one of sixteen")]
            let reached_by = number as u8;
            cell.mark = before.mark & !(mark::MOVE | mark::EXPANDED) | reached_by;
            let next = spot.moved(way.step.0, way.step.1);
            let rest = lead.rest(next);
            // one that already waits in the same bucket need not stand there twice
            let waits = before.cost != FAR
                && before.mark & mark::EXPANDED == 0
                && queue.bucket(before.cost.saturating_add(rest)) == queue.bucket(cost + rest);
            if !waits {
                queue.put(cost + rest, next);
            }
        }
    }

    /// Whether a walk over the edge of the field and straight on at full speed could be quicker.
    fn may_leave(&self, goal: Spot) -> bool {
        let lead = Lead::to(self, &[(0, goal)]);
        let Some(cost) = self.cell(goal).map(|cell| cell.cost) else { return true };
        let (columns, rows) = self.size();
        let edge = (0..columns)
            .flat_map(|column| [(column, 0), (column, rows - 1)])
            .chain((0..rows).flat_map(|row| [(0, row), (columns - 1, row)]));
        edge.map(|(column, row)| Spot::inner(column, row)).any(|spot| {
            self.cell(spot).is_some_and(|cell| {
                cell.mark & mark::EXPANDED != 0 && cell.cost.saturating_add(lead.rest(spot)) < cost
            })
        })
    }

    /// Whether a knight's move passes over a barrier.
    fn leaps(&self, spot: Spot, way: &Way) -> bool {
        way.passed.iter().any(|(across, along)| self.open(spot.moved(*across, *along)).is_none())
    }

    /// Nothing reached yet; what lies near a barrier is marked.
    fn clear(&mut self) {
        for cell in &mut self.cells {
            cell.mark &= mark::BARRIER | mark::CORRIDOR;
            cell.cost = if cell.mark & mark::BARRIER == 0 { FAR } else { 0 };
        }
        let (columns, rows) = self.size();
        let edge = |index: usize, count: usize| index < MARGIN || index + MARGIN >= count;
        for spot in self.layout.spots() {
            let (column, row) = (spot.column() as usize - MARGIN, spot.row() as usize - MARGIN);
            if self.cell(spot).is_some_and(|cell| cell.mark & mark::BARRIER != 0) {
                self.mark_around(spot);
            } else if edge(column, columns) || edge(row, rows) {
                self.mark_near(spot);
            }
        }
    }

    fn mark_around(&mut self, spot: Spot) {
        for across in -2..=2 {
            for along in -2..=2 {
                self.mark_near(spot.moved(across, along));
            }
        }
    }

    fn mark_near(&mut self, spot: Spot) {
        if let Some(cell) = self.cells.get_mut(self.layout.index(spot)) {
            cell.mark |= mark::NEAR;
        }
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

    /// Back along the moves.
    fn path(&self, start: Spot, goal: Spot) -> Vec<(f64, f64)> {
        let mut path = vec![goal.place()];
        let mut spot = goal;
        while spot != start && path.len() <= self.cells.len() {
            let Some(cell) = self.cell(spot) else { break };
            let step = self.moves.ways[usize::from(cell.mark & mark::MOVE)].step;
            spot = spot.moved(-step.0, -step.1);
            path.push(spot.place());
        }
        path.reverse();
        path
    }
}

/// A goal farther away than this share of the field's diagonal makes a search look at nearly every
/// cell anyway; then being led costs more than it saves.
const WORTH_LEADING: f64 = 0.5;

/// What is left at the least: the straight line to the nearest goal at full speed.
struct Lead {
    goals: Vec<(u32, u32)>,
    per_column: f32,
    per_row: f32,
}

impl Lead {
    fn new(terrain: &Terrain, start: Spot, goals: &[(usize, Spot)]) -> Self {
        let (wide, high) = terrain.size();
        let worth = WORTH_LEADING * (wide as f64).hypot(high as f64);
        let far = |goal: &(usize, Spot)| {
            let (from, to) = (start.place(), goal.1.place());
            (from.0 - to.0).hypot(from.1 - to.1)
        };
        Self::to(terrain, if goals.iter().any(|goal| far(goal) > worth) { &[] } else { goals })
    }

    #[allow(clippy::cast_possible_truncation, reason = "milliseconds of one cell")]
    fn to(terrain: &Terrain, goals: &[(usize, Spot)]) -> Self {
        let speed = if terrain.has_corridors { FASTEST } else { tobler(-0.05, Footing::OffPath) };
        // a millionth less, so that rounding in 32 bits never overrates
        let per_metre = 1e3 / speed.0 * (1.0 - 1e-6);
        Self {
            goals: goals.iter().map(|goal| (goal.1.column(), goal.1.row())).collect(),
            per_column: (terrain.spacing.0 * per_metre) as f32,
            per_row: (terrain.spacing.1 * per_metre) as f32,
        }
    }

    #[inline]
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "rounded down")]
    fn rest(&self, spot: Spot) -> u32 {
        if self.goals.is_empty() {
            return 0;
        }
        let mut least = f32::INFINITY;
        for goal in &self.goals {
            let across = spot.column().abs_diff(goal.0) as f32 * self.per_column;
            let along = spot.row().abs_diff(goal.1) as f32 * self.per_row;
            least = least.min(across * across + along * along);
        }
        least.sqrt() as u32
    }
}

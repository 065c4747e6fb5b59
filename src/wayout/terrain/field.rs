//! Computes the least time from every cell of a grid to the nearest of several goals, and the move that begins
//! the quickest route. Layer: `wayout`.

use super::layout::CellIndex;
use super::moves::STEPS;
use super::search::BEGIN;
use super::{FAR, Terrain};

/// No move: a goal, a barrier, or a cell that no route leaves.
pub const NOWHERE: u8 = 255;

/// The field towards goals, row by row from the south.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Inward {
    /// Milliseconds to the nearest goal; `None` where no route leads there.
    pub times: Vec<Option<u32>>,
    /// The first move of the route, an index into [`Terrain::steps`]; [`NOWHERE`] where there is none.
    pub moves: Vec<u8>,
    /// The goal that the route leads to; 255 where there is none.
    pub goals: Vec<u8>,
}

impl Terrain {
    /// Columns and rows of the sixteen moves.
    #[must_use]
    pub fn steps() -> [(i32, i32); 16] {
        STEPS
    }

    /// The field towards the goals, of which the first 254 count.
    ///
    /// The search runs outward from each goal, so the grid must hold the heights with their sign changed: the
    /// slope of a move outward on it is then the slope of the move inward on the ground.
    #[must_use]
    pub fn inward(&mut self, goals: &[(f64, f64)]) -> Inward {
        let cells: Vec<CellIndex> = self.layout.cells().collect();
        let mut field = Inward {
            times: vec![None; cells.len()],
            moves: vec![NOWHERE; cells.len()],
            goals: vec![NOWHERE; cells.len()],
        };
        for (goal, place) in (0..NOWHERE).zip(goals) {
            let Some(start) = self.nearest_open(*place) else { continue };
            self.search(start, &[]);
            for (index, cell) in cells.iter().enumerate() {
                self.improve(&mut field, index, *cell, goal);
            }
        }
        field
    }

    fn improve(&self, field: &mut Inward, index: usize, cell: CellIndex, goal: u8) {
        let cost = self.cost(cell);
        if !(BEGIN..FAR).contains(&cost) {
            return;
        }
        let time = cost - BEGIN;
        let (Some(known), Some(first), Some(leads)) =
            (field.times.get_mut(index), field.moves.get_mut(index), field.goals.get_mut(index))
        else {
            return;
        };
        if known.is_some_and(|known| known <= time) {
            return;
        }
        *known = Some(time);
        *leads = goal;
        *first = self.before(cell).map_or(NOWHERE, |next| step_between(cell, next));
    }
}

/// The move from a cell to another.
fn step_between(cell: CellIndex, next: CellIndex) -> u8 {
    let is_it = |(across, along): &(i32, i32)| cell.moved(*across, *along) == next;
    (0..NOWHERE).zip(STEPS).find(|(_, step)| is_it(step)).map_or(NOWHERE, |(index, _)| index)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A slope that rises to the east with some unevenness.
    fn heights(columns: u32, rows: u32) -> Vec<f32> {
        (0..rows)
            .flat_map(|row| {
                (0..columns).map(move |column| {
                    let (x, y) = (f64::from(column), f64::from(row));
                    #[allow(clippy::cast_possible_truncation, reason = "heights of a test")]
                    let height = (x * 4.0 + 9.0 * (y * 0.7).sin() + 7.0 * (x * 0.4).cos()) as f32;
                    height
                })
            })
            .collect()
    }

    #[test]
    fn field_equals_the_walk_from_each_cell() {
        let (columns, rows) = (30, 20);
        let heights = heights(30, 20);
        let turned: Vec<f32> = heights.iter().map(|height| -height).collect();
        let ring = vec![(10.0, 4.0), (14.0, 4.0), (14.0, 15.0), (10.0, 15.0)];
        let goals = [(2.0, 3.0), (27.0, 16.0)];
        let mut outward = Terrain::new(columns, rows, (25.0, 25.0), &turned);
        outward.close_area(std::slice::from_ref(&ring));
        let field = outward.inward(&goals);
        let mut ground = Terrain::new(columns, rows, (25.0, 25.0), &heights);
        ground.close_area(&[ring]);
        for (column, row) in [(5, 10), (20, 3), (17, 10), (9, 9), (29, 19), (0, 0)] {
            let walk = ground.walk((f64::from(column), f64::from(row)), &goals).unwrap();
            let index = usize::try_from(row).unwrap() * columns + usize::try_from(column).unwrap();
            let time = f64::from(field.times[index].unwrap()) / 1e3;
            // heights are kept in steps of a tenth of a metre, which round to the other side here
            assert!((time / walk.on_grid.0 - 1.0).abs() < 0.005, "{time} {}", walk.on_grid.0);
            assert_eq!(usize::from(field.goals[index]), walk.goal);
        }
        assert_eq!(field.times[10 * columns + 12], None);
    }

    #[test]
    fn moves_lead_to_a_goal_and_never_gain_time() {
        let turned: Vec<f32> = heights(30, 20).iter().map(|height| -height).collect();
        let mut outward = Terrain::new(30, 20, (25.0, 25.0), &turned);
        let field = outward.inward(&[(2.0, 3.0)]);
        let mut at = (28_i32, 18_i32);
        let index = |at: (i32, i32)| usize::try_from(at.1 * 30 + at.0).unwrap();
        for _ in 0..100 {
            let step = field.moves[index(at)];
            if step == NOWHERE {
                break;
            }
            let next = Terrain::steps()[usize::from(step)];
            let next = (at.0 + next.0, at.1 + next.1);
            assert!(field.times[index(next)] < field.times[index(at)]);
            at = next;
        }
        assert_eq!(at, (2, 3));
    }
}

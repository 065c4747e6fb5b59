//! Straightens a path along sixteen directions, which is up to 2.7 % too long. Each shortcut is
//! timed over the ground it crosses; none crosses a barrier. Layer: `wayout`.

use super::{STEEPEST_STEP, Terrain, mark};
use crate::units::Seconds;
use crate::wayout::pace::{Surface, tobler};

/// The longest shortcut, cells of the path.
const FARTHEST: usize = 160;

impl Terrain {
    /// The quickest chain of straight lines between cells of the path, and its time.
    pub(super) fn straighten(&self, path: &[(f64, f64)]) -> (Vec<(f64, f64)>, Seconds) {
        let mut best = vec![(f64::INFINITY, 0_usize); path.len()];
        if let Some(first) = best.first_mut() {
            first.0 = 0.0;
        }
        for end in 1..path.len() {
            for back in steps_back(end) {
                let begin = end - back;
                let before = best[begin].0;
                if before >= best[end].0 {
                    continue;
                }
                if let Some(seconds) = self.straight(path[begin], path[end], best[end].0 - before)
                    && before + seconds < best[end].0
                {
                    best[end] = (before + seconds, begin);
                }
            }
        }
        let mut corners = Vec::new();
        let mut index = path.len().saturating_sub(1);
        while index > 0 {
            corners.push(path[index]);
            index = best[index].1;
        }
        corners.extend(path.first());
        corners.reverse();
        (corners, Seconds(best.last().map_or(0.0, |last| last.0)))
    }

    /// The path with corners moved while that saves time: a path that winds up a slope is not bound
    /// to cell centres.
    pub(super) fn relax(&self, corners: &[(f64, f64)]) -> (Vec<(f64, f64)>, Seconds) {
        let mut points = densified(corners);
        for reach in REACHES {
            for index in 1..points.len().saturating_sub(1) {
                self.move_about(&mut points, index, reach);
            }
        }
        self.straighten(&points)
    }

    /// The path without corners that save hardly any time, since a turn of two degrees cannot be
    /// followed by compass. All removed corners together cost no more than a small share of the
    /// time, and none crosses a barrier.
    pub(super) fn merge(&self, corners: &[(f64, f64)], least: Seconds) -> Vec<(f64, f64)> {
        let mut corners = corners.to_vec();
        let mut allowance = least.0 * SPARE;
        let time = |from, to| self.straight(from, to, f64::INFINITY);
        // the cost of removing the corner at this index
        let price = |corners: &[(f64, f64)], index: usize| {
            let [before, here, after] = corners.get(index - 1..index + 2)?.first_chunk::<3>()?;
            Some(time(*before, *after)? - time(*before, *here)? - time(*here, *after)?)
        };
        let mut prices: Vec<Option<f64>> = vec![None; corners.len()];
        let inner = 1..corners.len().saturating_sub(1);
        for index in inner {
            prices[index] = price(&corners, index);
        }
        loop {
            let known = prices.iter().enumerate().filter_map(|(at, price)| Some((at, (*price)?)));
            let cheapest = known.min_by(|a, b| a.1.total_cmp(&b.1));
            let Some((index, added)) = cheapest.filter(|(_, added)| *added <= allowance) else {
                return corners;
            };
            allowance -= added.max(0.0);
            corners.remove(index);
            prices.remove(index);
            for beside in [index - 1, index] {
                if (1..corners.len() - 1).contains(&beside) {
                    prices[beside] = price(&corners, beside);
                }
            }
        }
    }

    /// Moves one point to the best of eight places around it, if one is better.
    fn move_about(&self, points: &mut [(f64, f64)], index: usize, reach: f64) {
        let (before, after) = (points[index - 1], points[index + 1]);
        let time = |at: (f64, f64), limit: f64| {
            let first = self.straight(before, at, limit)?;
            Some(first + self.straight(at, after, limit - first)?)
        };
        let Some(mut least) = time(points[index], f64::INFINITY) else { return };
        let middle = points[index];
        for (across, along) in ABOUT {
            let at = (middle.0 + across * reach, middle.1 + along * reach);
            if let Some(seconds) = time(at, least)
                && seconds < least
            {
                least = seconds;
                points[index] = at;
            }
        }
    }

    /// The time of a straight line, if it stays below `limit`, crosses no barrier and nothing too
    /// steep; by steps of a cell.
    pub(super) fn straight(&self, from: (f64, f64), to: (f64, f64), limit: f64) -> Option<f64> {
        let (across, along) = (to.0 - from.0, to.1 - from.1);
        let length = (across * self.spacing.0).hypot(along * self.spacing.1);
        let steps = across.abs().max(along.abs()).ceil().max(1.0);
        let piece = length / steps;
        if piece == 0.0 {
            return Some(0.0);
        }
        if length / self.top_speed().0 > limit {
            return None;
        }
        let mut seconds = 0.0;
        let mut before = self.sample(from)?;
        let mut step = 1.0;
        while step <= steps {
            let share = step / steps;
            let here = self.sample((from.0 + across * share, from.1 + along * share))?;
            let slope = (here.0 - before.0) / piece;
            if slope.abs() > STEEPEST_STEP {
                return None;
            }
            let surface = if here.1 && before.1 { Surface::Path } else { Surface::OffPath };
            seconds += piece / tobler(slope, surface).0;
            if seconds > limit {
                return None;
            }
            before = here;
            step += 1.0;
        }
        Some(seconds)
    }

    /// Height, and whether the nearest cell is a corridor; `None` at a barrier.
    fn sample(&self, at: (f64, f64)) -> Option<(f64, bool)> {
        let corner = self.cell(at)?;
        let (right, up) = (at.0.fract(), at.1.fract());
        let beside = corner.moved(i32::from(right >= 0.5), i32::from(up >= 0.5));
        let nearest = self.open(beside)?;
        // at a void or barrier the nearest cell is used
        let height =
            |across, along| f64::from(self.open(corner.moved(across, along)).unwrap_or(nearest));
        let low = height(0, 0) * (1.0 - right) + height(1, 0) * right;
        let high = height(0, 1) * (1.0 - right) + height(1, 1) * right;
        let corridor = self.has_corridors && self.mark(beside) & mark::CORRIDOR != 0;
        Some(((low * (1.0 - up) + high * up) * self.quantum, corridor))
    }
}

/// The share of the time of a walk that fewer corners may cost.
const SPARE: f64 = 0.0025;
/// How far points are moved in turn, cells.
const REACHES: [f64; 12] = [2.0, 1.0, 2.0, 1.0, 0.5, 1.0, 0.5, 0.25, 1.0, 0.5, 0.25, 0.125];
/// Between two points of a walk that is being relaxed, cells.
const BETWEEN: f64 = 8.0;
/// The eight directions of a move.
const ABOUT: [(f64, f64); 8] = [
    (1.0, 0.0),
    (-1.0, 0.0),
    (0.0, 1.0),
    (0.0, -1.0),
    (0.7, 0.7),
    (-0.7, 0.7),
    (0.7, -0.7),
    (-0.7, -0.7),
];

/// The same corners with points between them, none farther apart than a few cells.
fn densified(corners: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut points = Vec::new();
    for pair in corners.windows(2) {
        let (across, along) = (pair[1].0 - pair[0].0, pair[1].1 - pair[0].1);
        let parts = (across.hypot(along) / BETWEEN).ceil().max(1.0);
        let mut part = 0.0;
        while part < parts {
            let share = part / parts;
            points.push((pair[0].0 + across * share, pair[0].1 + along * share));
            part += 1.0;
        }
    }
    points.extend(corners.last());
    points
}

/// One step back, two, three, then increasing steps up to the whole path.
fn steps_back(end: usize) -> impl Iterator<Item = usize> {
    let farthest = end.min(FARTHEST);
    let near = (1..=4).filter(move |back| *back < farthest);
    let doubling = std::iter::successors(Some(6), |back: &usize| Some(back * 3 / 2))
        .take_while(move |back| *back < farthest);
    near.chain(doubling).chain([farthest])
}

//! Maximises a likelihood of three parameters and computes profile-likelihood intervals. Newton
//! steps on numeric derivatives, damped where the Hessian is not positive definite.
//! Layer: `analyse`.
//!
//! # References
//! Marquardt 1963, An algorithm for least-squares estimation of nonlinear parameters, J. SIAM
//! 11:431 (the damping); Venzon & Moolgavkar 1988, A method for computing profile-likelihood-based
//! confidence intervals, Applied Statistics 37:87.

use crate::analyse::season::matrix::Cholesky;

/// A point: logit of presence, log of the hazard of a usual visit, power of the time.
pub(super) type Point = [f64; 3];

/// The bounds of the search. Beyond them probabilities differ from 0 and 1 by less than 6 in a
/// million.
pub(super) const LOW: Point = [-12.2, -12.2, 0.0];
pub(super) const HIGH: Point = [12.2, 2.5, 3.0];

/// The highest point found.
#[derive(Clone, Copy, Debug)]
pub(super) struct Summit {
    pub(super) at: Point,
    pub(super) height: f64,
}

/// The 97.5 % point of the normal: the root of the 95 % point of chi-square with one degree.
const REACH: f64 = 1.959_963_984_540_054;
/// Steps of the numeric derivatives.
const STEP: f64 = 1e-3;
/// No step of a climb is longer than this in any direction.
const STRIDE: f64 = 2.0;

/// Maximises from a start along the free parameters only.
pub(super) fn climb(f: &impl Fn(&Point) -> f64, start: Point, free: &[usize]) -> Summit {
    let mut summit = Summit { at: start, height: f(&start) };
    let mut damping = 1e-3;
    for _ in 0..60 {
        let slope = gradient(f, &summit.at, free);
        let inward = |(place, k): &(usize, &usize)| {
            let at = summit.at[**k];
            !(at <= LOW[**k] && slope[*place] < 0.0 || at >= HIGH[**k] && slope[*place] > 0.0)
        };
        let (places, active): (Vec<usize>, Vec<usize>) =
            free.iter().enumerate().filter(inward).map(|(place, k)| (place, *k)).unzip();
        if active.is_empty() {
            break;
        }
        let slope: Vec<f64> = places.iter().map(|place| slope[*place]).collect();
        let bend = bend(f, &summit, &active);
        let before = summit.height;
        while damping < 1e9 {
            if let Some(next) = step(f, &summit, &active, &slope, &bend, damping) {
                summit = next;
                damping = (damping / 10.0_f64).max(1e-9);
                break;
            }
            damping *= 8.0;
        }
        if summit.height - before < 1e-9 {
            break;
        }
    }
    summit
}

/// One damped step, if it increases the likelihood.
fn step(
    f: &impl Fn(&Point) -> f64,
    summit: &Summit,
    active: &[usize],
    slope: &[f64],
    bend: &[f64],
    damping: f64,
) -> Option<Summit> {
    let n = active.len();
    let mut matrix: Vec<f64> = bend.iter().map(|value| -value).collect();
    for k in 0..n {
        matrix[k * n + k] += damping * (1.0 + matrix[k * n + k].abs());
    }
    let step = Cholesky::of(&matrix, n)?.solve(slope);
    let mut at = summit.at;
    for (k, length) in active.iter().zip(&step) {
        at[*k] = (at[*k] + length.clamp(-STRIDE, STRIDE)).clamp(LOW[*k], HIGH[*k]);
    }
    let height = f(&at);
    (height > summit.height).then_some(Summit { at, height })
}

fn moved(at: &Point, moves: &[(usize, f64)]) -> Point {
    let mut at = *at;
    for (k, by) in moves {
        at[*k] += by;
    }
    at
}

fn gradient(f: &impl Fn(&Point) -> f64, at: &Point, free: &[usize]) -> Vec<f64> {
    let along =
        |k: &usize| (f(&moved(at, &[(*k, STEP)])) - f(&moved(at, &[(*k, -STEP)]))) / (2.0 * STEP);
    free.iter().map(along).collect()
}

/// The Hessian, row by row.
fn bend(f: &impl Fn(&Point) -> f64, summit: &Summit, active: &[usize]) -> Vec<f64> {
    let (at, n) = (&summit.at, active.len());
    let mut matrix = vec![0.0; n * n];
    for (row, a) in active.iter().enumerate() {
        for (column, b) in active.iter().enumerate().take(row + 1) {
            let g = |x: f64, y: f64| f(&moved(at, &[(*a, x * STEP), (*b, y * STEP)]));
            let second = if row == column {
                g(1.0, 0.0) - 2.0 * summit.height + g(-1.0, 0.0)
            } else {
                (g(1.0, 1.0) - g(1.0, -1.0) - g(-1.0, 1.0) + g(-1.0, -1.0)) / 4.0
            };
            matrix[row * n + column] = second / (STEP * STEP);
            matrix[column * n + row] = matrix[row * n + column];
        }
    }
    matrix
}

/// The ends of the values of one parameter that the likelihood ratio does not reject at 5 %, all
/// other free ones taken at their best; a bound of the search where the likelihood stays high that
/// far.
pub(super) fn interval(
    f: &impl Fn(&Point) -> f64,
    summit: &Summit,
    which: usize,
    free: &[usize],
) -> (f64, f64) {
    let others: Vec<usize> = free.iter().copied().filter(|k| *k != which).collect();
    let end = |outward: f64, limit: f64| {
        let mut warm = summit.at;
        let mut fallen = |value: f64| {
            warm[which] = value;
            let best = climb(f, warm, &others);
            warm = best.at;
            (2.0 * (summit.height - best.height).max(0.0)).sqrt() - REACH
        };
        let (mut inside, mut low) = (summit.at[which], -REACH);
        let mut stride = 0.25;
        let (mut outside, mut high) = loop {
            let value = (inside + outward * stride).clamp(LOW[which], HIGH[which]);
            let fell = fallen(value);
            if fell > 0.0 {
                break (value, fell);
            }
            if (value - limit).abs() < 1e-12 {
                return limit;
            }
            (inside, low) = (value, fell);
            stride *= 2.0;
        };
        // the root of the decrease is nearly linear, so that a bracketed secant converges quickly
        for _ in 0..30 {
            let middle = inside + (outside - inside) * (low / (low - high)).clamp(0.05, 0.95);
            let fell = fallen(middle);
            if fell.abs() < 1e-5 || (outside - inside).abs() < 1e-7 {
                return middle;
            }
            if fell > 0.0 {
                (outside, high) = (middle, fell);
            } else {
                (inside, low) = (middle, fell);
            }
        }
        f64::midpoint(inside, outside)
    };
    (end(-1.0, LOW[which]), end(1.0, HIGH[which]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quadratic_maximum_gives_normal_interval() {
        // a normal with standard deviations 0.5 and 1 about (1, -2), correlated by 0.6
        let f = |at: &Point| {
            let (x, y) = ((at[0] - 1.0) / 0.5, at[1] + 2.0);
            -(x * x - 1.2 * x * y + y * y) / (2.0 * (1.0 - 0.36))
        };
        let top = climb(&f, [4.0, 0.0, 0.0], &[0, 1]);
        assert!((top.at[0] - 1.0).abs() < 1e-4 && (top.at[1] + 2.0).abs() < 1e-4, "{top:?}");
        let (low, high) = interval(&f, &top, 0, &[0, 1]);
        assert!((low - 1.0 + 0.979_982).abs() < 1e-3 && (high - 1.0 - 0.979_982).abs() < 1e-3);
    }

    #[test]
    fn monotone_likelihood_is_followed_to_the_bound() {
        let f = |at: &Point| -(-at[0]).exp();
        let top = climb(&f, [0.0; 3], &[0]);
        assert!(top.height > -1e-5, "{top:?}");
        assert!(interval(&f, &top, 0, &[0]).1 >= HIGH[0]);
        let level = |_: &Point| 0.0;
        assert_eq!(interval(&level, &climb(&level, [0.0; 3], &[0]), 0, &[0]), (LOW[0], HIGH[0]));
    }
}

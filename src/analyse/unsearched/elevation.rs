//! Estimates the rate of finds by elevation of the ground, relative to that of the searched ground, and whether
//! elevation predicts finds at all. Layer: `analyse`.
//!
//! # Method
//! The logarithm of finds per hour searched is the season ([`crate::analyse::season`]) plus a smooth curve f of
//! elevation plus an effect of each square of ground; outings have gamma effects ([`Grouped`]), so a rich day is not
//! taken for a rich elevation. f is a cubic B-spline, held smooth and near zero by two penalties; all weights are those of
//! the highest restricted likelihood. Squares that share soil, trees and patches are no independent evidence of
//! elevation: their effects are normal, with a variance of their own.
//!
//! The rate of an elevation relative to the searched ground is exp f over the mean of exp f, each hour searched weighing
//! alike; season and outings cancel.
//!
//! - **Range.** Only elevations count that at least [`LEAST_OUTINGS`] outings and [`LEAST_SQUARES`] squares searched, the
//!   longest unbroken range of them. f is nowhere continued beyond it.
//! - **Has it earned its place?** Outings are left out in turn and predicted from the others, and so are squares of
//!   ground, by the season alone and with elevation, without the effects of squares, which new ground does not have. Only
//!   where the logarithmic score gains in both cases, elevation is used.
//! - **Intervals.** Half of an interval is the largest of that of the coefficients given the data, that of the jackknife
//!   over outings and that over squares, with Student's t.
//!
//! # References
//! Wood & Fasiolo 2017, A generalized Fellner-Schall method for smoothing parameter optimization, Biometrics 73:1071;
//! Marra & Wood 2011, Practical variable selection for generalized additive models, CSDA 55:2372; Roberts and others
//! 2017, Cross-validation strategies for data with temporal, spatial, hierarchical, or phylogenetic structure, Ecography
//! 40:913 (places left out as wholes); Efron & Tibshirani 1993, An Introduction to the Bootstrap, 11.5 (the jackknife).

use std::collections::{BTreeMap, BTreeSet};

use rayon::prelude::*;
use serde::Serialize;

use super::rows::{Row, STEP, Square, middle_of};
use crate::analyse::intervals::{Interval, Z95};
use crate::analyse::penalised::{Fit, Grouped, Observation, Penalty, Problem};
use crate::analyse::season::phase;
use crate::analyse::season::rate::{self, KNOTS};
use crate::analyse::statistics::student_quantile;
use crate::model::UnsearchedNote;
use crate::units::Metres;

/// The fewest outings with a find (as for the effect of weather; project choice).
pub const LEAST_WITH_FIND: usize = 10;
/// The fewest outings that searched an elevation, of that step and the two beside it (project choice).
pub const LEAST_OUTINGS: usize = 6;
/// The fewest squares of ground that were searched at an elevation, in the same steps (project choice).
pub const LEAST_SQUARES: usize = 3;
/// Hours from which an outing has searched an elevation: three minutes (project choice).
const LEAST_HOURS: f64 = 0.05;
/// The fewest squares of ground in all, and with a find (project choices).
const LEAST_GROUND: (usize, usize) = (8, 4);
/// The least range of elevation, metres (project choice).
const LEAST_RANGE: f64 = 100.0;
/// The largest share of finds at elevations that too few outings searched (project choice).
const CONFOUNDED: f64 = 0.25;
/// The metres of elevation that one coefficient stands for, at the least, and the numbers of coefficients.
const SPACING: f64 = 40.0;
const COEFFICIENTS: (usize, usize) = (6, 12);
/// The most parts that outings, or squares, are divided into to be left out.
const FOLDS: usize = 20;
/// The most effects of ground: beyond it four squares are one.
const MOST_GROUND: usize = 160;

/// What elevation adds to the prediction of what was left out.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Gain {
    /// The gain of the logarithmic score for each outing.
    pub per_outing: f64,
    /// The lower end of its 95 % interval, from the differences between the parts left out.
    pub low95: f64,
    /// The upper end.
    pub high95: f64,
    /// The parts that were left out in turn.
    pub parts: usize,
}

/// The rate by elevation, where elevation has earned its place.
#[derive(Clone, Debug)]
pub struct ByElevation {
    /// The first and the last step of the range.
    pub range: (i64, i64),
    /// Outings in the range, and those with a find.
    pub outings: usize,
    /// Outings with a find.
    pub outings_with_find: usize,
    /// Finds in the range.
    pub finds: usize,
    /// Finds outside of the range.
    pub finds_outside: usize,
    /// Squares of ground that were searched.
    pub squares: usize,
    /// Hours searched.
    pub hours: f64,
    /// What elevation adds to the prediction of outings.
    pub gain_outings: Option<Gain>,
    /// And of ground.
    pub gain_ground: Option<Gain>,
    fit: Fit,
    basis: Basis,
    /// The share of the hours at each step of the range.
    weights: Vec<f64>,
    without_outings: Vec<Vec<f64>>,
    without_ground: Vec<Vec<f64>>,
    rows: Vec<Row>,
}

/// What supports the rate of an elevation.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Support {
    /// Outings that searched it.
    pub outings: usize,
    /// Squares of ground.
    pub squares: usize,
    /// Hours.
    pub hours: f64,
    /// Finds.
    pub finds: usize,
}

/// The basis of the curve.
#[derive(Clone, Copy, Debug)]
struct Basis {
    low: f64,
    high: f64,
    count: usize,
}

impl Basis {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
    fn over((first, last): (i64, i64)) -> Self {
        let (low, high) = (first as f64 * STEP, (last + 1) as f64 * STEP);
        let pieces = ((high - low) / SPACING).round().clamp(1.0, 40.0) as usize;
        Self { low, high, count: (pieces + 3).clamp(COEFFICIENTS.0, COEFFICIENTS.1) }
    }

    /// The four functions that are not zero at an elevation.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
    fn at(&self, elevation: f64) -> [(usize, f64); 4] {
        let pieces = self.count - 3;
        let share = ((elevation - self.low) / (self.high - self.low)).clamp(0.0, 1.0);
        let place = share * pieces as f64;
        let first = (place.floor() as usize).min(pieces - 1);
        let u = place - first as f64;
        let v = 1.0 - u;
        [
            (first, v * v * v / 6.0),
            (first + 1, (3.0 * u * u * u - 6.0 * u * u + 4.0) / 6.0),
            (first + 2, (3.0 * v * v * v - 6.0 * v * v + 4.0) / 6.0),
            (first + 3, u * u * u / 6.0),
        ]
    }
}

/// Estimates the rate by elevation.
///
/// # Errors
/// When the data cannot determine it. Whether elevation has earned its place is [`ByElevation::refused`].
pub fn estimate(rows: &[Row]) -> Result<ByElevation, UnsearchedNote> {
    let rows: Vec<Row> = rows.iter().filter(|row| row.hours > 0.0).copied().collect();
    let range = determined_range(&rows)?;
    let inside: Vec<Row> =
        rows.iter().filter(|row| (range.0..=range.1).contains(&row.step)).copied().collect();
    let all: f64 = rows.iter().map(|row| row.finds).sum();
    let model = Model::of(&inside, range);
    let unknown =
        UnsearchedNote::UnsearchedNotPredictive { outings_better: false, ground_better: false };
    let season = model.problem(false).fit().ok_or(unknown)?;
    let full = model.problem(true);
    let fit = full.fit().ok_or(unknown)?;
    // parts of outings are spans of time, since neighbouring dates share weather; parts of ground are spread over the
    // squares: a part of neighbours could be all ground of an elevation
    let (spans, spread) = (|of: usize, parts, all| of * parts / all, |of, parts, _| of % parts);
    let outings = model.left_out((&model.unit, &spans), (&season, &fit));
    let ground = model.left_out((&model.ground, &spread), (&season, &fit));
    Ok(model.into_estimate(fit, all, &outings, &ground))
}

/// The range of elevation that the data can speak of.
fn determined_range(rows: &[Row]) -> Result<(i64, i64), UnsearchedNote> {
    let distinct = |pick: &dyn Fn(&Row) -> bool| {
        rows.iter().filter(|row| pick(row)).map(|row| row.unit).collect::<BTreeSet<_>>().len()
    };
    let few =
        |with_find| UnsearchedNote::UnsearchedFewOutings { with_find, least: LEAST_WITH_FIND };
    let with_find = distinct(&|row| row.finds > 0.0);
    if with_find < LEAST_WITH_FIND {
        return Err(few(with_find));
    }
    let range = searched_range(rows);
    let inside = |row: &Row| range.is_some_and(|(low, high)| (low..=high).contains(&row.step));
    let ends = range.map_or((Metres(0.0), Metres(0.0)), |(low, high)| {
        (Metres(low as f64 * STEP), Metres((high + 1) as f64 * STEP))
    });
    let finds = |pick: &dyn Fn(&Row) -> bool| -> f64 {
        rows.iter().filter(|row| pick(row)).map(|row| row.finds).sum()
    };
    let (outside, all) = (finds(&|row| !inside(row)), finds(&|_| true));
    if outside > CONFOUNDED * all {
        return Err(UnsearchedNote::UnsearchedConfounded {
            finds: count(outside),
            of: count(all),
            outings: distinct(&|row| !inside(row)),
            least: LEAST_OUTINGS,
            from: ends.0,
            to: ends.1,
        });
    }
    let with_find = distinct(&|row| row.finds > 0.0 && inside(row));
    if with_find < LEAST_WITH_FIND {
        return Err(few(with_find));
    }
    if ends.1.0 - ends.0.0 < LEAST_RANGE {
        let (from, to) = ends;
        return Err(UnsearchedNote::UnsearchedLevel { from, to, least: Metres(LEAST_RANGE) });
    }
    let ground = |pick: &dyn Fn(&Row) -> bool| {
        let kept = rows.iter().filter(|row| inside(row) && pick(row));
        kept.map(|row| row.square).collect::<BTreeSet<_>>().len()
    };
    let (squares, with_find) = (ground(&|_| true), ground(&|row| row.finds > 0.0));
    let (least, least_with_find) = LEAST_GROUND;
    if squares < least || with_find < least_with_find {
        return Err(UnsearchedNote::UnsearchedLittleGround {
            squares,
            with_find,
            least,
            least_with_find,
        });
    }
    range.ok_or(few(0))
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a count")]
fn count(number: f64) -> usize {
    number.round() as usize
}

/// The unbroken range of steps with most hours that enough outings and squares searched.
fn searched_range(rows: &[Row]) -> Option<(i64, i64)> {
    let mut of: BTreeMap<i64, Searched> = BTreeMap::new();
    for row in rows {
        let own = of.entry(row.step).or_default();
        *own.units.entry(row.unit).or_insert(0.0) += row.hours;
        *own.squares.entry(row.square).or_insert(0.0) += row.hours;
        own.hours += row.hours;
    }
    let enough = |step: i64| {
        let near = || (step - 1..=step + 1).filter_map(|step| of.get(&step));
        let (mut units, mut squares) = (BTreeMap::new(), BTreeMap::new());
        for own in near() {
            own.units.iter().for_each(|(unit, hours)| *units.entry(*unit).or_insert(0.0) += hours);
            let added = own.squares.iter();
            added.for_each(|(square, hours)| *squares.entry(*square).or_insert(0.0) += hours);
        }
        let many = |hours: &&f64| **hours >= LEAST_HOURS;
        units.values().filter(many).count() >= LEAST_OUTINGS
            && squares.values().filter(many).count() >= LEAST_SQUARES
    };
    // hours, first and last step of the longest range and of the one that is open
    let mut best: Option<(f64, i64, i64)> = None;
    let mut open: Option<(f64, i64, i64)> = None;
    for (step, own) in of.iter().filter(|(step, _)| enough(**step)) {
        open = match open {
            Some((hours, first, last)) if last + 1 == *step => {
                Some((hours + own.hours, first, *step))
            }
            _ => Some((own.hours, *step, *step)),
        };
        if open.zip(best).is_none_or(|(open, best)| open.0 > best.0) {
            best = open;
        }
    }
    best.map(|(_, first, last)| (first, last))
}

#[derive(Default)]
struct Searched {
    units: BTreeMap<usize, f64>,
    squares: BTreeMap<Square, f64>,
    hours: f64,
}

/// The rows with the numbers that the problem needs.
struct Model {
    rows: Vec<Row>,
    range: (i64, i64),
    basis: Basis,
    /// The outing of each row, in order of date from 0.
    unit: Vec<usize>,
    /// The ground of each row, from 0.
    ground: Vec<usize>,
}

/// The number of each key among all keys in order.
fn numbered<K: Ord + Copy>(keys: &[K]) -> Vec<usize> {
    let mut sorted = keys.to_vec();
    sorted.sort_unstable();
    sorted.dedup();
    keys.iter().map(|key| sorted.binary_search(key).unwrap_or(0)).collect()
}

fn most(numbers: &[usize]) -> usize {
    numbers.iter().max().map_or(0, |last| last + 1)
}

impl Model {
    fn of(rows: &[Row], range: (i64, i64)) -> Self {
        let units: Vec<_> = rows.iter().map(|row| (row.date, row.unit)).collect();
        let mut side = 1;
        let ground = loop {
            let squares: Vec<_> = rows
                .iter()
                .map(|row| (row.square.0.div_euclid(side), row.square.1.div_euclid(side)))
                .collect();
            let ground = numbered(&squares);
            if most(&ground) <= MOST_GROUND {
                break ground;
            }
            side *= 2;
        };
        let basis = Basis::over(range);
        Self { rows: rows.to_vec(), range, basis, unit: numbered(&units), ground }
    }

    /// The problem without elevation or with it: season, squares of ground, and the curve last.
    fn problem(&self, elevation: bool) -> Grouped {
        let squares = most(&self.ground);
        let first = KNOTS + squares;
        let observation = |(row, ground): (&Row, &usize)| {
            let mut columns = rate::basis(phase(row.date), KNOTS).to_vec();
            columns.push((KNOTS + ground, 1.0));
            if elevation {
                let curve = self.basis.at(middle_of(row.step));
                columns.extend(curve.map(|(column, value)| (first + column, value)));
            }
            Observation { row: columns, offset: row.hours.ln(), count: row.finds }
        };
        let observations = self.rows.iter().zip(&self.ground).map(observation).collect();
        let mut penalties = vec![Penalty::bends(0, KNOTS, true)];
        penalties.push(Penalty::ridge(KNOTS, squares).kept());
        let mut columns = first;
        if elevation {
            columns += self.basis.count;
            penalties.push(Penalty::bends(first, self.basis.count, false).kept());
            penalties.push(Penalty::lines(first, self.basis.count).kept());
        }
        let problem = Problem { observations, columns, penalties };
        Grouped { problem, group: self.unit.clone() }
    }

    /// The score of each part left out without elevation and with it, and the coefficients with elevation without it.
    fn left_out(
        &self,
        (of, divided): (&[usize], &(dyn Fn(usize, usize, usize) -> usize + Sync)),
        (season, fit): (&Fit, &Fit),
    ) -> Vec<LeftOut> {
        let parts = most(of).min(FOLDS);
        let count = most(of).max(1);
        let part_of = |row: usize| divided(of[row], parts, count);
        let (plain, full) = (self.problem(false), self.problem(true));
        let without_ground = |beta: &[f64]| {
            let mut beta = beta.to_vec();
            beta[KNOTS..KNOTS + most(&self.ground)].fill(0.0);
            beta
        };
        let between = season.scatter.per_outing;
        let one = |part: usize| {
            let kept = |row: usize| part_of(row) != part;
            let again = |problem: &Grouped, from: &Fit| {
                let trained = problem.only(kept);
                let any = trained.problem.observations.iter().any(|one| one.count > 0.0);
                any.then(|| trained.fit_with(from.scatter.per_outing, Some(from), 0)).flatten()
            };
            let score = |problem: &Grouped, fit: &Fit| {
                problem.only(|row| !kept(row)).likelihood(&without_ground(&fit.beta), between)
            };
            let (alone, with) = (again(&plain, season)?, again(&full, fit)?);
            let own = (0..of.len()).filter(|row| !kept(*row)).map(|row| self.unit[row]);
            Some(LeftOut {
                gain: score(&full, &with) - score(&plain, &alone),
                outings: own.collect::<BTreeSet<_>>().len(),
                beta: with.beta,
            })
        };
        (0..parts).into_par_iter().filter_map(one).collect()
    }

    fn into_estimate(
        self,
        fit: Fit,
        all_finds: f64,
        outings: &[LeftOut],
        ground: &[LeftOut],
    ) -> ByElevation {
        let first = KNOTS + most(&self.ground);
        let steps = usize::try_from(self.range.1 - self.range.0 + 1).unwrap_or(1);
        let mut weights = vec![0.0; steps];
        let hours: f64 = self.rows.iter().map(|row| row.hours).sum();
        for row in &self.rows {
            weights[usize::try_from(row.step - self.range.0).unwrap_or(0)] += row.hours / hours;
        }
        let curve = |left: &LeftOut| left.beta[first..].to_vec();
        let with_find: BTreeSet<usize> =
            self.rows.iter().filter(|row| row.finds > 0.0).map(|row| row.unit).collect();
        let finds: f64 = self.rows.iter().map(|row| row.finds).sum();
        ByElevation {
            range: self.range,
            outings: most(&self.unit),
            outings_with_find: with_find.len(),
            finds: count(finds),
            finds_outside: count(all_finds - finds),
            squares: self.rows.iter().map(|row| row.square).collect::<BTreeSet<_>>().len(),
            hours,
            gain_outings: gain(outings),
            gain_ground: gain(ground),
            basis: self.basis,
            weights,
            without_outings: outings.iter().map(curve).collect(),
            without_ground: ground.iter().map(curve).collect(),
            fit,
            rows: self.rows,
        }
    }
}

/// What was left out.
struct LeftOut {
    gain: f64,
    outings: usize,
    beta: Vec<f64>,
}

/// The gain over all parts, with a t interval over them; none with fewer than three.
fn gain(parts: &[LeftOut]) -> Option<Gain> {
    let n = parts.len() as f64;
    let outings: usize = parts.iter().map(|part| part.outings).sum();
    if parts.len() < 3 || outings == 0 {
        return None;
    }
    let per_outing = parts.iter().map(|part| part.gain).sum::<f64>() / outings as f64;
    let squares: f64 =
        parts.iter().map(|part| (part.gain - per_outing * part.outings as f64).powi(2)).sum();
    let error = (squares * n / (n - 1.0)).sqrt() / outings as f64;
    let wide = student_quantile(n - 1.0, 0.975) * error;
    let (low95, high95) = (per_outing - wide, per_outing + wide);
    Some(Gain { per_outing, low95, high95, parts: parts.len() })
}

impl ByElevation {
    /// Why elevation is not used; none where it has earned its place.
    #[must_use]
    pub fn refused(&self) -> Option<UnsearchedNote> {
        let clear = |gain: Option<Gain>| gain.is_some_and(|gain| gain.low95 > 0.0);
        let (outings_better, ground_better) = (clear(self.gain_outings), clear(self.gain_ground));
        let refused = !(outings_better && ground_better);
        refused.then_some(UnsearchedNote::UnsearchedNotPredictive { outings_better, ground_better })
    }

    /// The elevations of the range, metres.
    #[must_use]
    pub fn ends(&self) -> (Metres, Metres) {
        (Metres(self.range.0 as f64 * STEP), Metres((self.range.1 + 1) as f64 * STEP))
    }

    /// The rate of ground with these shares at steps of elevation, relative to that of the searched ground; none where
    /// a step is outside of the range.
    #[must_use]
    pub fn relative(&self, shares: &[(i64, f64)]) -> Option<Interval> {
        if shares.is_empty() || !shares.iter().all(|(step, _)| self.holds(*step)) {
            return None;
        }
        let first = self.fit.beta.len() - self.basis.count;
        let curve = &self.fit.beta[first..];
        let log = self.log_relative(curve, shares);
        let (_, error) = self.fit.combined(&self.gradient(curve, shares, first));
        let jackknife = |without: &[Vec<f64>]| {
            let values: Vec<f64> =
                without.iter().map(|curve| self.log_relative(curve, shares)).collect();
            half_width(&values)
        };
        let over_outings = jackknife(&self.without_outings);
        let over_ground = jackknife(&self.without_ground);
        let wide = (Z95 * error).max(over_outings).max(over_ground);
        Some(Interval { value: log.exp(), low95: (log - wide).exp(), high95: (log + wide).exp() })
    }

    /// Whether a step is within the range.
    #[must_use]
    pub fn holds(&self, step: i64) -> bool {
        (self.range.0..=self.range.1).contains(&step)
    }

    /// What was searched and found at these steps.
    #[must_use]
    pub fn support(&self, (low, high): (i64, i64)) -> Support {
        let own: Vec<&Row> =
            self.rows.iter().filter(|row| (low..=high).contains(&row.step)).collect();
        Support {
            outings: own.iter().map(|row| row.unit).collect::<BTreeSet<_>>().len(),
            squares: own.iter().map(|row| row.square).collect::<BTreeSet<_>>().len(),
            hours: own.iter().map(|row| row.hours).sum(),
            finds: count(own.iter().map(|row| row.finds).sum()),
        }
    }

    fn value(&self, curve: &[f64], elevation: f64) -> f64 {
        self.basis.at(elevation).iter().map(|(column, value)| value * curve[*column]).sum()
    }

    fn log_relative(&self, curve: &[f64], shares: &[(i64, f64)]) -> f64 {
        let own: f64 = shares
            .iter()
            .map(|(step, share)| share * self.value(curve, middle_of(*step)).exp())
            .sum();
        let searched: f64 = (self.range.0..)
            .zip(&self.weights)
            .map(|(step, weight)| weight * self.value(curve, middle_of(step)).exp())
            .sum();
        (own / searched).ln()
    }

    /// The derivative of the logarithm by the coefficients.
    fn gradient(&self, curve: &[f64], shares: &[(i64, f64)], first: usize) -> Vec<(usize, f64)> {
        let mut by = vec![0.0; self.basis.count];
        let mut add = |parts: &mut dyn Iterator<Item = (i64, f64)>, sign: f64| {
            let parts: Vec<(i64, f64)> = parts
                .map(|(step, share)| (step, share * self.value(curve, middle_of(step)).exp()))
                .collect();
            let sum: f64 = parts.iter().map(|(_, part)| part).sum();
            for (step, part) in parts {
                for (column, value) in self.basis.at(middle_of(step)) {
                    by[column] += sign * part / sum * value;
                }
            }
        };
        add(&mut shares.iter().copied(), 1.0);
        add(&mut (self.range.0..).zip(self.weights.iter().copied()), -1.0);
        by.into_iter().enumerate().map(|(column, value)| (first + column, value)).collect()
    }
}

/// Half of the 95 % interval of the jackknife; 0 for fewer than three values.
fn half_width(values: &[f64]) -> f64 {
    let count = values.len() as f64;
    if values.len() < 3 {
        return 0.0;
    }
    let mean = values.iter().sum::<f64>() / count;
    let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
    student_quantile(count - 1.0, 0.975) * ((count - 1.0) / count * squares).sqrt()
}

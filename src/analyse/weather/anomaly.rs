//! Takes the usual course of the year out of a daily series: what is left is weather, not season.
//! Layer: `analyse`.
//!
//! # Method
//! The usual value of a day of the year is a constant with two harmonics, by least squares over all days
//! with a value; harmonics carry a slight ridge, so that a series of a few months has no wild summer.

use std::f64::consts::PI;

use jiff::ToSpan;
use jiff::civil::Date;

use crate::analyse::season::matrix::Cholesky;
use crate::analyse::season::phase;

/// A constant and two harmonics.
const TERMS: usize = 5;

/// A daily series less its usual course.
#[derive(Clone, Debug, Default)]
pub(super) struct Anomalies {
    first: Option<Date>,
    values: Vec<Option<f64>>,
}

impl Anomalies {
    /// From one value for each day since the first.
    pub(super) fn of(first: Option<Date>, values: Vec<Option<f64>>) -> Self {
        let Some(start) = first else { return Self::default() };
        let rows: Vec<[f64; TERMS]> = (0..values.len()).map(|place| row(start, place)).collect();
        let Some(usual) = least_squares(&rows, &values) else { return Self::default() };
        let values = values
            .into_iter()
            .zip(&rows)
            .map(|(value, row)| Some(value? - inner(row, &usual)))
            .collect();
        Self { first, values }
    }

    /// The value of a day.
    pub(super) fn on(&self, date: Date) -> Option<f64> {
        let place = usize::try_from((date - self.first?).get_days()).ok()?;
        self.values.get(place).copied().flatten()
    }

    /// The values of a day and of those before it, the nearest first; those that are missing are as
    /// usual, 0. With the number that are known.
    pub(super) fn before(&self, date: Date, days: usize) -> (Vec<f64>, usize) {
        let place = self.first.map(|first| i64::from((date - first).get_days()));
        let mut known = 0;
        let values = (0..days)
            .map(|lag| {
                let at = place? - i64::try_from(lag).ok()?;
                let value = self.values.get(usize::try_from(at).ok()?).copied().flatten();
                known += usize::from(value.is_some());
                value
            })
            .map(|value| value.unwrap_or(0.0))
            .collect();
        (values, known)
    }

    /// The first and the last year with a value.
    pub(super) fn years(&self) -> Option<(i16, i16)> {
        let first = self.first?;
        let date = |place: usize| first.checked_add(i64::try_from(place).ok()?.days()).ok();
        let from = self.values.iter().position(Option::is_some)?;
        let until = self.values.iter().rposition(Option::is_some)?;
        Some((date(from)?.year(), date(until)?.year()))
    }
}

fn row(first: Date, place: usize) -> [f64; TERMS] {
    let date = first.saturating_add(i64::try_from(place).unwrap_or(0).days());
    let turn = 2.0 * PI * phase(date);
    [1.0, turn.cos(), turn.sin(), (2.0 * turn).cos(), (2.0 * turn).sin()]
}

fn inner(row: &[f64; TERMS], usual: &[f64]) -> f64 {
    row.iter().zip(usual).map(|(a, b)| a * b).sum()
}

fn least_squares(rows: &[[f64; TERMS]], values: &[Option<f64>]) -> Option<Vec<f64>> {
    let mut matrix = vec![0.0; TERMS * TERMS];
    let mut right = vec![0.0; TERMS];
    let mut count = 0.0;
    for (row, value) in rows.iter().zip(values) {
        let Some(value) = value else { continue };
        count += 1.0;
        for i in 0..TERMS {
            right[i] += row[i] * value;
            for j in 0..TERMS {
                matrix[i * TERMS + j] += row[i] * row[j];
            }
        }
    }
    // the constant is free
    (1..TERMS).for_each(|i| matrix[i * TERMS + i] += 0.001 * count);
    Cholesky::of(&matrix, TERMS).map(|factor| factor.solve(&right))
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn the_course_of_the_year_is_taken_out_and_gaps_are_as_usual() {
        let first = date(2020, 1, 1);
        let usual = |place: usize| 10.0 - 8.0 * (2.0 * PI * place as f64 / 365.25).cos();
        let mut values: Vec<Option<f64>> = (0..1_461).map(|place| Some(usual(place))).collect();
        values[500] = Some(usual(500) + 5.0);
        values[499] = None;
        let anomalies = Anomalies::of(Some(first), values);
        let day = first + 500.days();
        assert!((anomalies.on(day).unwrap() - 5.0).abs() < 0.1);
        let (before, known) = anomalies.before(day, 3);
        assert!((before[0] - 5.0).abs() < 0.1 && before[1] == 0.0 && known == 2, "{before:?}");
        assert_eq!(anomalies.years(), Some((2020, 2023)));
        let (outside, known) = anomalies.before(date(2019, 1, 1), 2);
        assert_eq!((outside, known), (vec![0.0, 0.0], 0));
    }
}

//! Holds the rows of a design as runs of neighbouring columns, so that the information is summed run by run.
//! Layer: `analyse`.

use super::Observation;

/// A run of neighbouring columns of one row.
#[derive(Clone, Copy, Debug)]
struct Run {
    /// Its first column.
    column: usize,
    /// Where its values are.
    begin: usize,
    end: usize,
}

/// The rows of a design.
#[derive(Clone, Debug, Default)]
pub(super) struct Design {
    values: Vec<f64>,
    runs: Vec<Run>,
    /// Where the runs of each row end.
    ends: Vec<usize>,
}

impl Design {
    pub(super) fn of(observations: &[Observation]) -> Self {
        let mut design = Self::default();
        let mut row: Vec<(usize, f64)> = Vec::new();
        for one in observations {
            row.clone_from(&one.row);
            row.sort_by_key(|(column, _)| *column);
            let first = design.runs.len();
            for (column, value) in &row {
                let here = design.values.len();
                design.values.push(*value);
                match design.runs[first..].last_mut() {
                    Some(run) if run.column + run.end - run.begin == *column => run.end += 1,
                    _ => design.runs.push(Run { column: *column, begin: here, end: here + 1 }),
                }
            }
            design.ends.push(design.runs.len());
        }
        design
    }

    /// Adds `pull` times a row to the gradient, and `hold` times the row with itself to the matrix, on and
    /// above its diagonal.
    pub(super) fn add(
        &self,
        row: usize,
        (pull, hold): (f64, f64),
        gradient: &mut [f64],
        matrix: &mut [f64],
    ) {
        let columns = gradient.len();
        let first = row.checked_sub(1).map_or(0, |before| self.ends[before]);
        let runs = &self.runs[first..self.ends[row]];
        for (place, run) in runs.iter().enumerate() {
            for (away, value) in self.values[run.begin..run.end].iter().enumerate() {
                let i = run.column + away;
                gradient[i] += value * pull;
                let own = value * hold;
                let line = &mut matrix[i * columns..(i + 1) * columns];
                add_to(&mut line[i..], own, &self.values[run.begin + away..run.end]);
                for other in &runs[place + 1..] {
                    add_to(&mut line[other.column..], own, &self.values[other.begin..other.end]);
                }
            }
        }
    }
}

fn add_to(sums: &mut [f64], own: f64, values: &[f64]) {
    for (sum, value) in sums.iter_mut().zip(values) {
        *sum += own * value;
    }
}

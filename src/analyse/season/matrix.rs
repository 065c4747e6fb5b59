//! Solves small dense symmetric linear systems. Layer: `analyse`.

/// The lower triangle L of a symmetric positive matrix L Lᵀ, row by row.
#[derive(Clone, Debug)]
pub struct Cholesky {
    lower: Vec<f64>,
    size: usize,
}

impl Cholesky {
    /// Factors a matrix given row by row; `None` when it is not positive.
    #[must_use]
    pub fn of(matrix: &[f64], size: usize) -> Option<Self> {
        let mut lower = matrix.to_vec();
        for row in 0..size {
            for column in 0..=row {
                let inner: f64 =
                    (0..column).map(|k| lower[row * size + k] * lower[column * size + k]).sum();
                let left = lower[row * size + column] - inner;
                lower[row * size + column] = if row == column {
                    if !(left.is_finite() && left > 0.0) {
                        return None;
                    }
                    left.sqrt()
                } else {
                    left / lower[column * size + column]
                };
            }
        }
        Some(Self { lower, size })
    }

    /// Solves for one right-hand side.
    #[must_use]
    pub fn solve(&self, right: &[f64]) -> Vec<f64> {
        let (l, n) = (&self.lower, self.size);
        let mut x = right.to_vec();
        for row in 0..n {
            let inner: f64 = (0..row).map(|k| l[row * n + k] * x[k]).sum();
            x[row] = (x[row] - inner) / l[row * n + row];
        }
        for row in (0..n).rev() {
            let inner: f64 = (row + 1..n).map(|k| l[k * n + row] * x[k]).sum();
            x[row] = (x[row] - inner) / l[row * n + row];
        }
        x
    }

    /// The factor L times a vector: of standard normal values, one with this matrix as covariance.
    #[must_use]
    pub fn times(&self, vector: &[f64]) -> Vec<f64> {
        let row = |row: usize| &self.lower[row * self.size..=row * self.size + row];
        (0..self.size)
            .map(|at| row(at).iter().zip(vector).map(|(entry, value)| entry * value).sum())
            .collect()
    }

    /// The logarithm of the determinant.
    #[must_use]
    pub fn log_determinant(&self) -> f64 {
        (0..self.size).map(|i| 2.0 * self.lower[i * self.size + i].ln()).sum()
    }

    /// The inverse, row by row: all unit vectors are solved for together, whole rows at a time.
    #[must_use]
    pub fn inverse(&self) -> Vec<f64> {
        let (l, n) = (&self.lower, self.size);
        let mut inverse = vec![0.0; n * n];
        for row in 0..n {
            let (before, own) = inverse.split_at_mut(row * n);
            let own = &mut own[..=row];
            own[row] = 1.0;
            for (k, known) in before.chunks_exact(n).enumerate() {
                subtract(own, l[row * n + k], &known[..=k]);
            }
            divide(own, l[row * n + row]);
        }
        for row in (0..n).rev() {
            let (own, after) = inverse.split_at_mut((row + 1) * n);
            let own = &mut own[row * n..];
            for (k, known) in after.chunks_exact(n).enumerate() {
                subtract(own, l[(row + 1 + k) * n + row], known);
            }
            divide(own, l[row * n + row]);
        }
        inverse
    }
}

fn divide(row: &mut [f64], by: f64) {
    for entry in row {
        *entry /= by;
    }
}

/// Subtracts a multiple of a row from as many entries of another.
fn subtract(from: &mut [f64], factor: f64, row: &[f64]) {
    for (entry, value) in from.iter_mut().zip(row) {
        *entry -= factor * value;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_small_system_is_solved() {
        let factor = Cholesky::of(&[4.0, 2.0, 2.0, 3.0], 2).unwrap();
        let x = factor.solve(&[2.0, 5.0]);
        assert!((x[0] + 0.5).abs() < 1e-14 && (x[1] - 2.0).abs() < 1e-14);
        assert!((factor.log_determinant() - 8.0_f64.ln()).abs() < 1e-14);
        assert!((factor.inverse()[0] - 0.375).abs() < 1e-14);
        // a larger one times its inverse is one
        let n = 9_usize;
        let matrix: Vec<f64> = (0..n * n)
            .map(|at| {
                1.0 / (1.0 + (at % n).abs_diff(at / n) as f64) + f64::from(u8::from(at % 10 == 0))
            })
            .collect();
        let inverse = Cholesky::of(&matrix, n).unwrap().inverse();
        for (at, expected) in (0..n * n).map(|at| (at, f64::from(u8::from(at % 10 == 0)))) {
            let sum: f64 = (0..n).map(|k| matrix[at / n * n + k] * inverse[k * n + at % n]).sum();
            assert!((sum - expected).abs() < 1e-13, "{at}: {sum}");
        }
        assert!(Cholesky::of(&[1.0, 2.0, 2.0, 1.0], 2).is_none());
    }
}

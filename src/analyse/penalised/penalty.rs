//! Quadratic penalties: second differences, their null space, and ridges. Layer: `analyse`.

/// A penalty β'Sβ on consecutive coefficients.
#[derive(Clone, Debug, PartialEq)]
pub struct Penalty {
    /// Its first column.
    pub first: usize,
    /// How many columns.
    pub size: usize,
    /// The rank of S.
    pub rank: f64,
    /// Whether its variance is kept from vanishing.
    pub kept: bool,
    matrix: Vec<f64>,
}

impl Penalty {
    /// The sum of squares: independent coefficients of one variance.
    #[must_use]
    pub fn ridge(first: usize, size: usize) -> Self {
        let mut matrix = vec![0.0; size * size];
        (0..size).for_each(|i| matrix[i * size + i] = 1.0);
        Self { first, size, rank: size as f64, kept: false, matrix }
    }

    /// The squares of second differences; cyclic ones close the circle.
    #[must_use]
    pub fn bends(first: usize, size: usize, cyclic: bool) -> Self {
        let mut matrix = vec![0.0; size * size];
        let count = if cyclic { size } else { size - 2 };
        for start in 0..count {
            let row = [(start, 1.0), ((start + 1) % size, -2.0), ((start + 2) % size, 1.0)];
            for (i, a) in row {
                for (j, b) in row {
                    matrix[i * size + j] += a * b;
                }
            }
        }
        let rank = if cyclic { size - 1 } else { size - 2 } as f64;
        Self { first, size, rank, kept: false, matrix }
    }

    /// What second differences leave free, straight lines: their squared length (Marra & Wood 2011,
    /// Practical variable selection for generalized additive models, CSDA 55:2372).
    #[must_use]
    pub fn lines(first: usize, size: usize) -> Self {
        let n = size as f64;
        let spread: f64 = (0..size).map(|i| centred(i, size).powi(2)).sum();
        let matrix = (0..size * size)
            .map(|at| 1.0 / n + centred(at / size, size) * centred(at % size, size) / spread)
            .collect();
        Self { first, size, rank: 2.0, kept: false, matrix }
    }

    /// The same with a weak prior on the standard deviation of its coefficients, in proportion to it: an
    /// estimate of exactly zero would make intervals that are too short (Chung, Rabe-Hesketh, Dorie, Gelman
    /// & Liu 2013, A nondegenerate penalized likelihood estimator for variance parameters in multilevel
    /// models, Psychometrika 78:685).
    #[must_use]
    pub fn kept(mut self) -> Self {
        self.kept = true;
        self
    }

    /// An entry of S.
    #[must_use]
    pub fn entry(&self, i: usize, j: usize) -> f64 {
        self.matrix[i * self.size + j]
    }

    /// The trace of V S, of a square matrix with this many columns.
    pub(super) fn trace(&self, covariance: &[f64], columns: usize) -> f64 {
        let mut sum = 0.0;
        for i in 0..self.size {
            for j in 0..self.size {
                sum += self.entry(i, j) * covariance[(self.first + j) * columns + self.first + i];
            }
        }
        sum
    }

    /// β'Sβ.
    pub(super) fn size_of(&self, beta: &[f64]) -> f64 {
        let own = &beta[self.first..self.first + self.size];
        let mut sum = 0.0;
        for (i, a) in own.iter().enumerate() {
            for (j, b) in own.iter().enumerate() {
                sum += self.entry(i, j) * a * b;
            }
        }
        sum
    }

    /// Adds its part to the information and to the gradient.
    pub(super) fn add(&self, lambda: f64, beta: &[f64], matrix: &mut [f64], gradient: &mut [f64]) {
        let columns = gradient.len();
        for i in 0..self.size {
            for j in 0..self.size {
                let entry = lambda * self.entry(i, j);
                matrix[(self.first + i) * columns + self.first + j] += entry;
                gradient[self.first + i] -= entry * beta[self.first + j];
            }
        }
    }
}

fn centred(place: usize, size: usize) -> f64 {
    place as f64 - (size as f64 - 1.0) / 2.0
}

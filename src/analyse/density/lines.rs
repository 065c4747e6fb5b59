//! Accumulates the contributions of a million points on the rows of a grid, in parallel and with
//! neighbouring rows in the cache. The order of additions is fixed, so that every machine gets the
//! same sums. Layer: `analyse`.

use rayon::prelude::*;

use super::kernel::Mass;

/// A point on a grid: the first row and column of its kernel, its position within its cell, and its
/// weight. Compact, since a million of them are sorted.
#[derive(Clone, Copy, Default)]
pub(super) struct Placed {
    pub(super) line: u32,
    pub(super) column: u32,
    pub(super) across: f32,
    pub(super) up: f32,
    pub(super) weight: f32,
}

/// A grid as rows of equal length, and how many rows and columns the kernel of a point covers.
pub(super) struct Lines {
    pub(super) count: usize,
    pub(super) length: usize,
    pub(super) touched: usize,
}

/// Points sorted together, so that they stay in the cache.
const CHUNK: usize = 32_768;
/// Values that stay in the cache in any order of points.
const CACHED: usize = 100_000;
/// The number of copies filled in parallel.
const COPIES: usize = 8;
/// The most bands of rows; independent of the number of cores.
const BANDS: usize = 64;

impl Lines {
    /// The sum of what `add` writes for each point onto the rows of its kernel. Points without a
    /// place, off the grid or of infinite weight are left out.
    pub(super) fn add_all(
        &self,
        masses: &[Mass],
        place: impl Fn(&Mass) -> Option<Placed> + Sync,
        add: impl Fn(&mut [f64], &Placed) + Sync,
    ) -> Vec<f64> {
        let mut total = vec![0.0; self.count * self.length];
        let place = |mass: &Mass| place(mass).filter(|placed| self.holds(placed));
        let add_to = |lines: &mut [f64], base: usize, placed: &Placed| {
            let here = (placed.line as usize - base) * self.length;
            add(&mut lines[here..][..self.touched * self.length], placed);
        };
        if masses.len() <= CHUNK || total.len() < CACHED {
            let one = |masses: &[Mass]| {
                let mut sum = vec![0.0; total.len()];
                masses.iter().filter_map(place).for_each(|placed| add_to(&mut sum, 0, &placed));
                sum
            };
            let copies = if masses.len() <= CHUNK { 1 } else { COPIES };
            let sums: Vec<Vec<f64>> =
                masses.par_chunks(masses.len().div_ceil(copies).max(1)).map(one).collect();
            for (place, total) in total.iter_mut().enumerate() {
                *total = sums.iter().map(|sum| sum[place]).sum();
            }
            return total;
        }
        // a point reaches at most into the next band: every second band can be processed in
        // parallel
        let band = self.touched.max(self.count.div_ceil(BANDS));
        let ordered: Vec<Ordered> =
            masses.par_chunks(CHUNK).map(|chunk| Ordered::of(chunk, band, place)).collect();
        for turn in 0..2 {
            let begin = (turn * band * self.length).min(total.len());
            total[begin..].par_chunks_mut(2 * band * self.length).enumerate().for_each(
                |(pair, lines)| {
                    let own = 2 * pair + turn;
                    for placed in ordered.iter().flat_map(|chunk| chunk.of_band(own)) {
                        add_to(lines, own * band, placed);
                    }
                },
            );
        }
        total
    }

    fn holds(&self, placed: &Placed) -> bool {
        placed.line as usize + self.touched <= self.count
            && placed.column as usize + self.touched <= self.length
            && placed.weight.is_finite()
    }
}

/// Points in the order of their bands.
struct Ordered {
    points: Vec<Placed>,
    /// Where the points of each band begin; one more for the end.
    begins: [usize; BANDS + 1],
}

impl Ordered {
    fn of(masses: &[Mass], band: usize, place: impl Fn(&Mass) -> Option<Placed>) -> Self {
        let points: Vec<Placed> = masses.iter().filter_map(place).collect();
        let band_of = |placed: &Placed| (placed.line as usize / band).min(BANDS - 1);
        let bands: Vec<u8> =
            points.iter().map(|placed| u8::try_from(band_of(placed)).unwrap_or(u8::MAX)).collect();
        let mut begins = [0; BANDS + 1];
        for band in &bands {
            begins[usize::from(*band) + 1] += 1;
        }
        for band in 0..BANDS {
            begins[band + 1] += begins[band];
        }
        let mut next = begins;
        let mut ordered = vec![Placed::default(); points.len()];
        for (placed, band) in points.iter().zip(bands) {
            let next = &mut next[usize::from(band)];
            ordered[*next] = *placed;
            *next += 1;
        }
        Self { points: ordered, begins }
    }

    fn of_band(&self, band: usize) -> &[Placed] {
        if band < BANDS { &self.points[self.begins[band]..self.begins[band + 1]] } else { &[] }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analyse::statistics::Rng;

    #[test]
    fn many_points_in_parts_add_up_as_they_do_one_by_one() {
        let mut rng = Rng::new(12);
        let lines = Lines { count: 500, length: 300, touched: 3 };
        let masses: Vec<Mass> = (0..2 * CHUNK + 1_000)
            .map(|_| Mass { x: 600.0 * rng.uniform() - 50.0, y: rng.uniform(), weight: 1.0 })
            .collect();
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked")]
        let place = |mass: &Mass| {
            (mass.x >= 0.0).then_some(Placed {
                line: mass.x as u32,
                column: (mass.y * 300.0) as u32,
                across: 0.0,
                up: mass.y as f32,
                weight: 1.0,
            })
        };
        let add = |here: &mut [f64], placed: &Placed| {
            for (place, line) in here.chunks_exact_mut(300).enumerate() {
                line[placed.column as usize] += f64::from(placed.up) * (place + 1) as f64;
            }
        };
        let together = lines.add_all(&masses, place, add);
        let mut apart = vec![0.0; 150_000];
        for few in masses.chunks(1_000) {
            for (sum, value) in apart.iter_mut().zip(lines.add_all(few, place, add)) {
                *sum += value;
            }
        }
        assert!(apart.iter().sum::<f64>() > 1e5);
        for (a, b) in together.iter().zip(&apart) {
            assert!((a - b).abs() < 1e-9 * b.abs().max(1.0), "{a} {b}");
        }
    }
}

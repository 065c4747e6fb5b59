//! Adding up what a million points leave on the lines of a grid, by all cores and with neighbours in
//! the cache. The order of additions is fixed, so that every machine gets the same sums.
//! Layer: `analyse`.

use rayon::prelude::*;

use super::kernel::Mass;

/// A grid as lines of equal length, and how many of them one point touches.
pub(super) struct Lines {
    pub(super) count: usize,
    pub(super) length: usize,
    pub(super) touched: usize,
}

/// Points below which nothing is gained by parting them.
const FEW: usize = 20_000;
/// Values that stay in the cache in whatever order the points come.
const CACHED: usize = 200_000;
/// So many copies of those are filled side by side.
const COPIES: usize = 8;
/// Bands of lines at the most; a fixed number, whatever the cores.
const BANDS: usize = 64;

impl Lines {
    /// The sum of what `add` puts for each point onto the lines that it touches: they begin with the
    /// one that `first` tells. Points of infinite weight, off the lines, or of which `first` knows none,
    /// are left out.
    pub(super) fn add_all(
        &self,
        masses: &[Mass],
        first: impl Fn(&Mass) -> Option<usize> + Sync,
        add: impl Fn(&mut [f64], &Mass) + Sync,
    ) -> Vec<f64> {
        let mut total = vec![0.0; self.count * self.length];
        let first = |mass: &Mass| {
            let line = first(mass).filter(|line| line + self.touched <= self.count);
            line.filter(|_| mass.weight.is_finite())
        };
        let add_to = |lines: &mut [f64], base: usize, masses: &[Mass]| {
            for mass in masses {
                if let Some(line) = first(mass) {
                    let here = (line - base) * self.length;
                    add(&mut lines[here..][..self.touched * self.length], mass);
                }
            }
        };
        if masses.len() < FEW {
            add_to(&mut total, 0, masses);
            return total;
        }
        if total.len() < CACHED {
            let one = |masses: &[Mass]| {
                let mut sum = vec![0.0; total.len()];
                add_to(&mut sum, 0, masses);
                sum
            };
            let sums: Vec<Vec<f64>> =
                masses.par_chunks(masses.len().div_ceil(COPIES)).map(one).collect();
            for (place, total) in total.iter_mut().enumerate() {
                *total = sums.iter().map(|sum| sum[place]).sum();
            }
            return total;
        }
        // a point reaches no farther than into the next band: every second one can go at once
        let band = self.touched.max(self.count.div_ceil(BANDS));
        let ordered = Ordered::of(masses, |mass| first(mass).map(|line| line / band));
        for turn in 0..2 {
            let begin = (turn * band * self.length).min(total.len());
            total[begin..].par_chunks_mut(2 * band * self.length).enumerate().for_each(
                |(pair, lines)| {
                    let own = 2 * pair + turn;
                    add_to(lines, own * band, ordered.of_band(own));
                },
            );
        }
        total
    }
}

/// Points in the order of their bands.
struct Ordered {
    masses: Vec<Mass>,
    /// Where the points of each band begin; one more for the end.
    begins: [usize; BANDS + 1],
}

impl Ordered {
    fn of(masses: &[Mass], band: impl Fn(&Mass) -> Option<usize> + Sync) -> Self {
        let bands: Vec<u8> = masses
            .par_iter()
            .map(|mass| band(mass).and_then(|band| u8::try_from(band).ok()).unwrap_or(u8::MAX))
            .collect();
        let mut begins = [0; BANDS + 1];
        for band in bands.iter().map(|band| usize::from(*band)).filter(|band| *band < BANDS) {
            begins[band + 1] += 1;
        }
        for band in 0..BANDS {
            begins[band + 1] += begins[band];
        }
        let mut next = begins;
        let mut ordered = vec![Mass { x: 0.0, y: 0.0, weight: 0.0 }; begins[BANDS]];
        for (mass, band) in masses.iter().zip(bands) {
            if usize::from(band) < BANDS {
                ordered[next[usize::from(band)]] = *mass;
                next[usize::from(band)] += 1;
            }
        }
        Self { masses: ordered, begins }
    }

    fn of_band(&self, band: usize) -> &[Mass] {
        if band < BANDS { &self.masses[self.begins[band]..self.begins[band + 1]] } else { &[] }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analyse::chance::Dice;

    #[test]
    fn many_points_in_parts_add_up_as_they_do_one_by_one() {
        let mut dice = Dice::new(12);
        let lines = Lines { count: 50, length: 7, touched: 3 };
        let masses: Vec<Mass> = (0..FEW + 1_000)
            .map(|_| Mass { x: 60.0 * dice.uniform() - 5.0, y: dice.uniform(), weight: 1.0 })
            .collect();
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked")]
        let first = |mass: &Mass| (mass.x >= 0.0).then_some(mass.x as usize);
        let add = |here: &mut [f64], mass: &Mass| {
            for (place, value) in here.iter_mut().enumerate() {
                *value += mass.y * place as f64;
            }
        };
        let together = lines.add_all(&masses, first, add);
        let mut apart = vec![0.0; 350];
        for few in masses.chunks(1_000) {
            for (sum, value) in apart.iter_mut().zip(lines.add_all(few, first, add)) {
                *sum += value;
            }
        }
        assert!(apart.iter().sum::<f64>() > 1e3);
        for (a, b) in together.iter().zip(&apart) {
            assert!((a - b).abs() < 1e-9 * b.abs().max(1.0), "{a} {b}");
        }
    }
}

//! Computes the posterior of a camera's offset: its best value, 95 % interval, alternatives, and a few
//! weighted values that represent it when positions are computed. Layer: `join`.

use super::grid::Grid;

/// Peaks nearer to each other than this are one, seconds.
const ONE_PEAK: f64 = 90.0;
/// The smallest uncertainty of an offset, seconds: the ends of stops lag in devices that smooth.
const FLOOR: f64 = 1.3;

/// Weighted offsets, seconds ahead of UTC.
pub(crate) type Nodes = Vec<(f64, f64)>;

/// Probabilities of the offsets of a grid.
#[derive(Clone, Debug)]
pub(crate) struct Posterior {
    pub(super) grid: Grid,
    chance: Vec<f64>,
    pub(super) log: Vec<f64>,
    /// How many groups of photographs it rests on.
    pub(crate) groups: usize,
    /// Peaks with the probability about each, best first.
    pub(crate) peaks: Vec<(f64, f64)>,
}

impl Posterior {
    pub(super) fn of(grid: Grid, log: Vec<f64>, groups: usize) -> Self {
        let top = log.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let raw: Vec<f64> = log.iter().map(|value| (value - top).exp()).collect();
        let mut chance = blurred(&raw);
        let total: f64 = chance.iter().sum();
        for p in &mut chance {
            *p /= total;
        }
        let mut posterior = Self { grid, chance, log, groups, peaks: Vec::new() };
        posterior.peaks = posterior.find_peaks();
        posterior
    }

    fn find_peaks(&self) -> Vec<(f64, f64)> {
        const MOST: usize = 8;
        let mut left = self.chance.clone();
        let mut peaks = Vec::new();
        for _ in 0..MOST {
            let Some(best) = (0..left.len()).max_by(|&a, &b| left[a].total_cmp(&left[b])) else {
                break;
            };
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "constant")]
            let reach = ONE_PEAK as usize;
            let (from, to) = (best.saturating_sub(reach), (best + reach + 1).min(left.len()));
            let mass: f64 = left[from..to].iter().sum();
            if mass < 1e-4 {
                break;
            }
            let mean: f64 = (from..to).map(|k| left[k] * self.grid.offset(k)).sum::<f64>() / mass;
            peaks.push((mean, mass));
            left[from..to].fill(0.0);
        }
        peaks.sort_by(|a, b| b.1.total_cmp(&a.1));
        peaks
    }

    /// Peaks beside the best with a summit of their own; what is left beside a wide peak is none.
    pub(super) fn alternatives(&self) -> impl Iterator<Item = &(f64, f64)> {
        self.peaks.iter().skip(1).filter(|peak| peak.1 > 1e-3 && self.has_summit(peak.0))
    }

    fn has_summit(&self, about: f64) -> bool {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
        let place = |offset: f64| {
            (offset - self.grid.from).clamp(0.0, self.grid.count as f64 - 1.0) as usize
        };
        let (from, to) = (place(about - ONE_PEAK), place(about + ONE_PEAK));
        (from..=to)
            .max_by(|&a, &b| self.chance[a].total_cmp(&self.chance[b]))
            .is_some_and(|top| top != from && top != to)
    }

    /// The middle of the best peak and of what lies near it.
    pub(crate) fn best(&self) -> f64 {
        let Some(&(peak, _)) = self.peaks.first() else { return self.grid.from };
        self.quantile_about(peak, 0.5)
    }

    /// The offset below which this share of the probability about a peak lies.
    fn quantile_about(&self, peak: f64, share: f64) -> f64 {
        let place = (peak - self.grid.from).clamp(0.0, self.grid.count as f64 - 1.0);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
        let (centre, reach) = (place as usize, (2.0 * ONE_PEAK) as usize);
        let (from, to) = (centre.saturating_sub(reach), (centre + reach + 1).min(self.grid.count));
        self.quantile_in(from, to, share)
    }

    fn quantile_in(&self, from: usize, to: usize, share: f64) -> f64 {
        let wanted = share * self.chance[from..to].iter().sum::<f64>();
        let mut sum = 0.0;
        for k in from..to {
            let next = sum + self.chance[k];
            if next >= wanted && self.chance[k] > 0.0 {
                return self.grid.offset(k) - 0.5 + (wanted - sum) / self.chance[k];
            }
            sum = next;
        }
        self.grid.offset(to.saturating_sub(1))
    }

    /// The ends of the interval that holds 95 % of everything.
    pub(crate) fn interval95(&self) -> (f64, f64) {
        let all = (0, self.grid.count);
        (self.quantile_in(all.0, all.1, 0.025), self.quantile_in(all.0, all.1, 0.975))
    }

    /// A few values that represent the whole: five about each peak that matters.
    pub(crate) fn nodes(&self) -> Nodes {
        const SHARES: [(f64, f64); 5] =
            [(0.03, 0.1), (0.2, 0.25), (0.5, 0.3), (0.8, 0.25), (0.97, 0.1)];
        let mass: f64 = self.peaks.iter().take(4).map(|peak| peak.1).sum();
        if mass < 0.97 {
            return self.even_nodes();
        }
        let mut nodes = Nodes::new();
        for &(peak, mass) in self.peaks.iter().take_while(|peak| peak.1 > 0.02).take(4) {
            nodes.extend(
                SHARES.map(|(share, weight)| (self.quantile_about(peak, share), mass * weight)),
            );
        }
        let total: f64 = nodes.iter().map(|node| node.1).sum();
        for node in &mut nodes {
            node.1 /= total;
        }
        nodes
    }

    /// Values evenly over the probability, for a posterior without clear peaks.
    fn even_nodes(&self) -> Nodes {
        const COUNT: u32 = 25;
        (0..COUNT)
            .map(|k| {
                let share = (f64::from(k) + 0.5) / f64::from(COUNT);
                (self.quantile_in(0, self.grid.count, share), 1.0 / f64::from(COUNT))
            })
            .collect()
    }

    /// The log likelihood for a figure, against offsets: every two minutes, and every second about the
    /// best and wherever anything comes near it; where too much does, every few seconds.
    pub(crate) fn profile(&self) -> Vec<(f64, f64)> {
        const COARSE: usize = 120;
        const ABOUT: f64 = 240.0;
        /// Farther below the best than this, a likelihood cannot be seen in a figure.
        const SEEN: f64 = 8.0;
        /// So many fine steps besides those about the best.
        const MOST: usize = 3_000;
        let best = self.best();
        let top = self.log.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let steps: Vec<(usize, usize)> = (0..self.grid.count)
            .step_by(COARSE)
            .map(|from| (from, (from + COARSE).min(self.grid.count)))
            .collect();
        let about = |step: &(usize, usize)| {
            let middle = f64::midpoint(self.grid.offset(step.0), self.grid.offset(step.1));
            (middle - best).abs() < ABOUT
        };
        let seen =
            |&(from, to): &(usize, usize)| self.log[from..to].iter().any(|log| top - log < SEEN);
        let near = steps.iter().filter(|step| !about(step) && seen(step)).count() * COARSE;
        let mut profile = Vec::new();
        for step in steps {
            let stride = match () {
                () if about(&step) => 1,
                () if seen(&step) => near.div_ceil(MOST),
                () => COARSE,
            };
            // of each stride the highest value, so that no narrow alternative is lost
            profile.extend((step.0..step.1).step_by(stride).map(|from| {
                let to = (from + stride).min(step.1);
                let high = (from..to).max_by(|&a, &b| self.log[a].total_cmp(&self.log[b]));
                let high = high.unwrap_or(from);
                (self.grid.offset(high), self.log[high] - top)
            }));
        }
        profile
    }
}

/// Smears by the least uncertainty.
fn blurred(raw: &[f64]) -> Vec<f64> {
    const REACH: usize = 4;
    let kernel: Vec<f64> = (0..=REACH).map(|d| (-0.5 * (d as f64 / FLOOR).powi(2)).exp()).collect();
    (0..raw.len())
        .map(|k| {
            let (from, to) = (k.saturating_sub(REACH), (k + REACH).min(raw.len() - 1));
            (from..=to).map(|j| raw[j] * kernel[j.abs_diff(k)]).sum()
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn posterior(log: impl Fn(f64) -> f64) -> Posterior {
        let grid = Grid { from: -2_000.0, count: 4_001 };
        let log = (0..grid.count).map(|k| log(grid.offset(k))).collect();
        Posterior::of(grid, log, 5)
    }

    fn bell(offset: f64, middle: f64, width: f64) -> f64 {
        -0.5 * ((offset - middle) / width).powi(2)
    }

    #[test]
    fn flanks_of_a_wide_peak_are_no_alternatives() {
        let wide = posterior(|offset| bell(offset, 40.0, 100.0));
        assert_eq!(wide.alternatives().count(), 0);
        assert!((wide.best() - 40.0).abs() < 1.0);
        let (low, high) = wide.interval95();
        assert!((high - low - 392.0).abs() < 4.0, "{low} {high}");
    }

    #[test]
    fn second_peak_is_an_alternative() {
        let two = posterior(|offset| {
            super::super::grid::sum_of(&[bell(offset, 0.0, 8.0), bell(offset, 400.0, 8.0) - 2.0])
        });
        let alternatives: Vec<_> = two.alternatives().collect();
        assert_eq!(alternatives.len(), 1);
        assert!(
            (alternatives[0].0 - 400.0).abs() < 2.0 && (alternatives[0].1 - 0.119).abs() < 0.01
        );
    }

    const COUNT: usize = 102_601;

    fn over_all(log: &dyn Fn(f64) -> f64) -> Posterior {
        let grid = Grid { from: -51_300.0, count: COUNT };
        let log = (0..COUNT).map(|k| log(grid.offset(k))).collect();
        Posterior::of(grid, log, 1)
    }

    #[test]
    fn alternative_ten_minutes_away_has_the_same_resolution_as_the_best() {
        let peak = |x: f64, at: f64| -0.5 * ((x - at) / 9.0).powi(2);
        let profile = over_all(&|x| peak(x, 0.0).max(peak(x, 615.0) - 1.0).max(-50.0)).profile();
        for middle in [0.0, 615.0] {
            let near = profile.iter().filter(|(x, _)| (x - middle).abs() <= 30.0).count();
            assert_eq!(near, 61, "{middle}");
        }
        assert!(profile.windows(2).all(|pair| pair[0].0 < pair[1].0));
        assert!(profile.len() < 2_000, "{}", profile.len());
    }

    #[test]
    fn flat_posterior_gives_a_bounded_profile_with_every_peak() {
        let log = |x: f64| if (x % 900.0).abs() < 1.0 { -1.0 } else { -6.0 };
        let profile = over_all(&log).profile();
        assert!(profile.len() < 5_000, "{}", profile.len());
        assert_eq!(profile.iter().filter(|(_, log)| *log == 0.0).count(), 115);
    }
}

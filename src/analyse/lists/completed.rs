//! Draws outings from the estimated complete assemblage, so that estimates without a formula for their
//! variance get one: coverage, second jackknife, ICE. Layer: `analyse`.
//!
//! # References
//! Chao and others 2014, Rarefaction and extrapolation with Hill numbers, Ecol. Monogr. 84:45, appendix G
//! (the estimated assemblage: found species with adjusted detection, the others equally rare).

use super::incidence::Incidences;
use super::richness::{chao2, ice, jackknife2, sample_coverage};
use crate::analyse::statistics::Rng;

const DRAWS: usize = 200;
/// Expected counts above this vary too little to matter for uniques and duplicates.
const MANY: f64 = 60.0;

/// Standard errors.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Spreads {
    pub(super) coverage: f64,
    pub(super) jackknife2: f64,
    pub(super) ice: f64,
}

impl Spreads {
    pub(super) fn of(found: &Incidences) -> Self {
        let detection = detection(found);
        let mut rng = Rng::new(0x05be_c1e5);
        let (mut coverage, mut second, mut ices) = (Vec::new(), Vec::new(), Vec::new());
        for _ in 0..DRAWS {
            let (drawn, covered) = draw(found, &detection, &mut rng);
            coverage.push(sample_coverage(&drawn) - covered);
            second.push(jackknife2(&drawn));
            ices.extend(ice(&drawn));
        }
        Self { coverage: spread(&coverage), jackknife2: spread(&second), ice: spread(&ices) }
    }
}

/// The chance that an outing finds each species, those not found included.
fn detection(found: &Incidences) -> Vec<f64> {
    let m = found.units as f64;
    let missed = found.total() / m * (1.0 - sample_coverage(found));
    let share = |count: u32| f64::from(count) / m;
    let again = |count: u32| share(count) * (1.0 - share(count)).powf(m);
    let sum: f64 = found.of_species.iter().map(|count| again(*count)).sum();
    let weight = if sum > 0.0 { (missed / sum).min(1.0) } else { 0.0 };
    let mut detection: Vec<f64> =
        found.of_species.iter().map(|count| share(*count) - weight * again(*count)).collect();
    let unseen = (chao2(found, false).value - found.observed()).ceil();
    if unseen > 0.0 {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a count")]
        detection.extend(std::iter::repeat_n((missed / unseen).min(1.0), unseen as usize));
    }
    detection
}

/// Outings of the assemblage, and the share of its incidences that belong to species they found: the error
/// of an estimated coverage is its difference from that.
fn draw(found: &Incidences, detection: &[f64], rng: &mut Rng) -> (Incidences, f64) {
    let (mut of_species, mut covered, mut all) = (Vec::new(), 0.0, 0.0);
    for chance in detection {
        let count = binomial(found.units, *chance, rng);
        all += chance;
        if count > 0 {
            covered += chance;
            of_species.push(count);
        }
    }
    let drawn = Incidences {
        units: found.units,
        of_species,
        uniques_of_unit: Vec::new(),
        infrequent_units: found.infrequent_units,
    };
    (drawn, if all > 0.0 { covered / all } else { 1.0 })
}

/// A binomial count, from one success to the next.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held in range")]
fn binomial(trials: usize, chance: f64, rng: &mut Rng) -> u32 {
    let mean = trials as f64 * chance;
    if mean > MANY || chance > 0.95 {
        let spread = (mean * (1.0 - chance)).max(0.0).sqrt();
        return (mean + spread * rng.normal()).round().clamp(0.0, trials as f64) as u32;
    }
    if chance <= 0.0 {
        return 0;
    }
    let (mut at, mut count) = (0.0, 0);
    loop {
        at += ((1.0 - rng.uniform()).ln() / (1.0 - chance).ln()).floor() + 1.0;
        if at > trials as f64 {
            return count;
        }
        count += 1;
    }
}

fn spread(values: &[f64]) -> f64 {
    let count = values.len() as f64;
    if count < 2.0 {
        return 0.0;
    }
    let mean = values.iter().sum::<f64>() / count;
    (values.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / (count - 1.0)).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn binomial_counts_have_their_mean_and_variance() {
        let mut rng = Rng::new(5);
        for (trials, chance) in [(40, 0.05), (300, 0.4), (20, 0.97)] {
            let counts: Vec<f64> =
                (0..20_000).map(|_| f64::from(binomial(trials, chance, &mut rng))).collect();
            let mean = counts.iter().sum::<f64>() / 2e4;
            let expected = trials as f64 * chance;
            assert!((mean / expected - 1.0).abs() < 0.02, "{trials} {chance}: {mean}");
            let variance = expected * (1.0 - chance);
            assert!((spread(&counts).powi(2) / variance - 1.0).abs() < 0.25, "{trials} {chance}");
        }
        assert_eq!(binomial(10, 0.0, &mut rng), 0);
    }
}

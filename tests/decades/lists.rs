//! Lists of simulated communities: species with known chances of being found on an outing.

use trug::analyse::lists::richness::sample_coverage;
use trug::analyse::lists::{Incidences, Richness, accumulation};
use trug::analyse::statistics::Rng;

const SPECIES: usize = 120;

/// The chance that an outing finds each species: log-normal about a median, held below one.
fn community(median: f64, spread: f64, rng: &mut Rng) -> Vec<f64> {
    (0..SPECIES).map(|_| (median * (spread * rng.normal()).exp()).min(0.95)).collect()
}

fn outings(community: &[f64], count: usize, rng: &mut Rng) -> (Incidences, Vec<bool>) {
    let mut found = vec![false; SPECIES];
    let units: Vec<Vec<usize>> = (0..count)
        .map(|_| {
            let unit: Vec<usize> =
                (0..SPECIES).filter(|species| rng.uniform() < community[*species]).collect();
            for species in &unit {
                found[*species] = true;
            }
            unit
        })
        .collect();
    (Incidences::of(&units, SPECIES), found)
}

#[derive(Debug, Default)]
struct Sums {
    runs: f64,
    observed: f64,
    /// Means of Chao2, jackknife 1 and 2, and ICE.
    means: [f64; 4],
    /// How often their intervals hold the truth, and the interval of coverage its own.
    held: [f64; 5],
    /// How often the lower end of Chao2 exceeds the truth.
    above: f64,
    /// How often the band at half of the outings holds the expected number.
    band: f64,
}

fn run(median: f64, spread: f64, count: usize, runs: u64, seed: u64) -> Sums {
    let mut sums = Sums::default();
    for number in 0..runs {
        let mut rng = Rng::new(seed + number);
        let chances = community(median, spread, &mut rng);
        let (found, which) = outings(&chances, count, &mut rng);
        let Some(richness) = Richness::of(&found) else { continue };
        let truth = SPECIES as f64;
        // species are whole: ends of intervals are taken outwards
        let hit =
            |low: f64, high: f64, truth: f64| f64::from(u8::from(low <= truth && truth <= high));
        sums.runs += 1.0;
        sums.observed += found.observed();
        let estimates = [
            Some(richness.chao2),
            Some(richness.jackknife1),
            Some(richness.jackknife2),
            richness.ice,
        ];
        for (place, estimate) in estimates.into_iter().enumerate() {
            let Some(estimate) = estimate else { continue };
            sums.means[place] += estimate.value;
            sums.held[place] += hit(estimate.low95.floor(), estimate.high95.ceil(), truth);
        }
        let seen: f64 = chances.iter().zip(&which).filter(|(_, seen)| **seen).map(|(p, _)| p).sum();
        let coverage = seen / chances.iter().sum::<f64>();
        sums.held[4] += hit(richness.coverage.low95, richness.coverage.high95, coverage);
        sums.above += f64::from(u8::from(richness.chao2.low95.floor() > truth));
        let curve = accumulation(&found, richness.chao2.value, None);
        let half = curve.iter().find(|point| point.outings == count / 2).unwrap();
        let expected: f64 =
            chances.iter().map(|p| 1.0 - (1.0 - p).powi(i32::try_from(count / 2).unwrap())).sum();
        sums.band += hit(half.low95, half.high95, expected);
    }
    sums
}

#[test]
fn estimates_of_simulated_communities_are_bounds() {
    let even = run(0.05, 0.5, 40, 60, 1_000);
    let chao2 = even.means[0] / even.runs;
    assert!((0.93..=1.03).contains(&(chao2 / SPECIES as f64)), "{chao2} of {SPECIES}");
    assert!(even.held[0] / even.runs >= 0.85, "{even:?}");
    let uneven = run(0.02, 1.5, 40, 60, 2_000);
    let (found, chao2) = (uneven.observed / uneven.runs, uneven.means[0] / uneven.runs);
    assert!(found < chao2 && chao2 < SPECIES as f64, "a lower bound: {found} {chao2}");
    for sums in [even, uneven] {
        assert!(sums.above / sums.runs <= 0.05, "{sums:?}");
        assert!(sums.held[4] / sums.runs >= 0.8, "coverage: {sums:?}");
        assert!(sums.band / sums.runs >= 0.9, "band: {sums:?}");
    }
}

#[test]
fn coverage_of_a_complete_list_is_one() {
    let mut rng = Rng::new(4);
    let (found, _) = outings(&[0.9; SPECIES], 30, &mut rng);
    assert!(sample_coverage(&found) > 0.9999);
}

#[test]
#[ignore = "minutes; its numbers are in docs/lists.md"]
fn report_of_lists() {
    for (median, spread) in [(0.05, 0.5), (0.02, 1.5), (0.01, 2.0)] {
        for count in [10, 40, 160] {
            let sums = run(median, spread, count, 200, 10_000);
            let mean = |sum: f64| sum / sums.runs;
            let share = |sum: f64| 100.0 * sum / sums.runs;
            println!(
                "median {median}, spread {spread}, {count} outings: found {:.0}; Chao2 {:.0}, jackknife {:.0} {:.0}, \
                 ICE {:.0}; held {:.0} {:.0} {:.0} {:.0}, coverage {:.0}; low end above the truth {:.1}; band {:.0}",
                mean(sums.observed),
                mean(sums.means[0]),
                mean(sums.means[1]),
                mean(sums.means[2]),
                mean(sums.means[3]),
                share(sums.held[0]),
                share(sums.held[1]),
                share(sums.held[2]),
                share(sums.held[3]),
                share(sums.held[4]),
                share(sums.above),
                share(sums.band)
            );
        }
    }
}

//! Tests of the clustering: what is separated, chaining, simulated sites with known truth.
//! Layer: `analyse`.

use super::*;
use crate::analyse::statistics::Rng;

/// A reading at so many metres north and east of a place, with a radius.
fn reading(north: f64, east: f64, radius: f64) -> Reading {
    let latitude = -42.0 + north / 111_080.0;
    let longitude = 146.0 + east / 82_850.0;
    let at = LatLon::clamped(latitude, longitude);
    Reading { at, radius: Radius95::new(Metres(radius)).unwrap() }
}

fn groups(labels: &[u32]) -> usize {
    labels.iter().collect::<std::collections::BTreeSet<_>>().len()
}

/// The adjusted Rand index (Hubert & Arabie 1985, Comparing partitions, J. Classification 2:193).
fn adjusted_rand(a: &[u32], b: &[u32]) -> f64 {
    use std::collections::BTreeMap;
    let pairs = |n: f64| n * (n - 1.0) / 2.0;
    let (mut both, mut of_a, mut of_b) = (BTreeMap::new(), BTreeMap::new(), BTreeMap::new());
    for (x, y) in a.iter().zip(b) {
        *both.entry((x, y)).or_insert(0.0) += 1.0;
        *of_a.entry(x).or_insert(0.0) += 1.0;
        *of_b.entry(y).or_insert(0.0) += 1.0;
    }
    let sum = |counts: Vec<f64>| counts.into_iter().map(pairs).sum::<f64>();
    let (a_pairs, b_pairs) = (sum(of_a.into_values().collect()), sum(of_b.into_values().collect()));
    let expected = a_pairs * b_pairs / pairs(a.len() as f64);
    let most = f64::midpoint(a_pairs, b_pairs);
    if most == expected {
        return 1.0;
    }
    (sum(both.into_values().collect()) - expected) / (most - expected)
}

#[test]
fn radii_of_30_m_merge_at_20_m_and_radii_of_4_m_do_not() {
    let coarse = [reading(0.0, 0.0, 30.0), reading(20.0, 0.0, 30.0)];
    let fine = [reading(0.0, 0.0, 4.0), reading(20.0, 0.0, 4.0)];
    assert_eq!(groups(&group(&coarse, Rule::default())), 1);
    assert_eq!(groups(&group(&fine, Rule::default())), 2);
}

#[test]
fn finds_along_a_trail_are_not_one_site() {
    let line: Vec<Reading> = (0..600).map(|i| reading(f64::from(i) * 2.0, 0.0, 5.0)).collect();
    let labels = group(&line, Rule::default());
    for label in 0..u32::try_from(groups(&labels)).unwrap() {
        let along: Vec<f64> = (0..600)
            .filter(|i| labels[*i] == label)
            .map(|i| 2.0 * f64::from(u32::try_from(i).unwrap()))
            .collect();
        let length =
            along.iter().copied().fold(0.0, f64::max) - along.iter().copied().fold(1e9, f64::min);
        // twice the largest radius of the members
        let widest =
            2.0 * Tests::new(0.01).farthest2(600).sqrt() * 5.0_f64.hypot(3.0) / Radius95::PER_SIGMA;
        assert!(length <= widest, "{length} m > {widest} m");
    }
    assert!(groups(&labels) >= 60, "{}", groups(&labels));
}

#[test]
fn zero_and_one_find_are_handled() {
    assert!(group(&[], Rule::default()).is_empty());
    assert_eq!(group(&[reading(0.0, 0.0, 8.0)], Rule::default()), [0]);
    let same = vec![reading(0.0, 0.0, 8.0); 500];
    assert_eq!(groups(&group(&same, Rule::default())), 1);
}

#[test]
fn sites_do_not_depend_on_the_order_of_finds() {
    let mut rng = Rng::new(3);
    let readings: Vec<Reading> = (0..400)
        .map(|_| reading(300.0 * rng.uniform(), 300.0 * rng.uniform(), 4.0 + 10.0 * rng.uniform()))
        .collect();
    let forward = group(&readings, Rule::default());
    let backward: Vec<Reading> = readings.iter().rev().copied().collect();
    let mut again = group(&backward, Rule::default());
    again.reverse();
    assert!((adjusted_rand(&forward, &again) - 1.0).abs() < 1e-12);
}

/// Sites at least three radii apart, each found 1 to 40 times.
fn simulated(
    rng: &mut Rng,
    radius: f64,
    mixed: f64,
    truth_factor: f64,
) -> (Vec<Reading>, Vec<u32>) {
    let side = 3.0 * radius * 12.0;
    let mut sites: Vec<(f64, f64)> = Vec::new();
    for _ in 0..4_000 {
        let site = (side * rng.uniform(), side * rng.uniform());
        if sites.iter().all(|s| (s.0 - site.0).hypot(s.1 - site.1) >= 3.0 * radius) {
            sites.push(site);
        }
    }
    let (mut readings, mut truth) = (Vec::new(), Vec::new());
    for (label, site) in sites.iter().enumerate() {
        for _ in 0..=rng.below(40) {
            let own = radius * (1.0 - mixed * rng.uniform());
            let sigma = own * truth_factor / Radius95::PER_SIGMA;
            let (north, east) = (site.0 + sigma * rng.normal(), site.1 + sigma * rng.normal());
            readings.push(reading(north, east, own));
            truth.push(u32::try_from(label).unwrap());
        }
    }
    (readings, truth)
}

#[test]
fn sites_three_radii_apart_are_separated() {
    let mut rng = Rng::new(11);
    for (radius, mixed, factor, floor) in [
        (4.0, 0.0, 1.0, 0.97),
        (8.0, 0.0, 1.0, 0.97),
        (8.0, 0.6, 1.0, 0.97),
        (15.0, 0.0, 1.0, 0.97),
        (30.0, 0.5, 1.0, 0.97),
        // radii stated too small or too large by a quarter
        (8.0, 0.3, 1.25, 0.90),
        (8.0, 0.3, 0.75, 0.97),
    ] {
        let (readings, truth) = simulated(&mut rng, radius, mixed, factor);
        let index = adjusted_rand(&group(&readings, Rule::default()), &truth);
        assert!(index >= floor, "radius {radius}, mixed {mixed}, factor {factor}: {index}");
    }
}

//! Completeness of lists and associations in strata against R: package vegan on its example of tropical
//! trees, and exact conditional tests. The data files name their sources; a maker in `tests/outside`
//! writes them.

use std::collections::BTreeMap;

use trug::analyse::hosts::strata::{Exact, Stratum, pooled};
use trug::analyse::lists::richness::{chao2, chao2_error, jackknife1, jackknife2};
use trug::analyse::lists::{Incidences, Richness, accumulation, shared};

/// The values of a kind by key.
fn values(file: &'static str, kind: &str) -> Vec<(&'static str, &'static str)> {
    file.lines()
        .filter_map(|line| {
            let mut parts = line.splitn(3, ',');
            (parts.next()? == kind).then_some(())?;
            Some((parts.next()?, parts.next()?))
        })
        .collect()
}

const BCI: &str = include_str!("data/vegan_bci.csv");
const TABLES: &str = include_str!("data/stratified_tables.csv");

fn counts(kind: &str) -> Vec<(u32, usize)> {
    let of = |(key, value): (&str, &str)| (key.parse().unwrap(), value.parse().unwrap());
    values(BCI, kind).into_iter().map(of).collect()
}

/// 225 species in 50 plots, by their incidences.
fn trees() -> Incidences {
    let repeated =
        |(key, count): &(u32, usize)| std::iter::repeat_n(*key, *count).collect::<Vec<_>>();
    Incidences {
        units: 50,
        of_species: counts("species_in_plots").iter().flat_map(repeated).collect(),
        uniques_of_unit: counts("plots_with_uniques").iter().flat_map(repeated).collect(),
        infrequent_units: 50,
    }
}

fn close(ours: f64, theirs: f64, what: &str) {
    assert!((ours / theirs - 1.0).abs() < 1e-9, "{what}: {ours} {theirs}");
}

#[test]
fn richness_is_that_of_vegan() {
    let trees = trees();
    let theirs: BTreeMap<&str, f64> = values(BCI, "specpool")
        .into_iter()
        .map(|(key, value)| (key, value.parse().unwrap()))
        .collect();
    assert_eq!(trees.observed(), theirs["Species"]);
    close(chao2(&trees, false).value, theirs["chao"], "Chao2");
    close(chao2_error(&trees), theirs["chao.se"], "error of Chao2");
    close(jackknife1(&trees).value, theirs["jack1"], "jackknife 1");
    // vegan subtracts the uniques over m; the jackknife itself, leaving out each plot, their square over m
    let squares: f64 = trees.uniques_of_unit.iter().map(|n| f64::from(*n).powi(2)).sum();
    close((0.98 * (squares - 21.0 / 50.0)).sqrt(), theirs["jack1.se"], "what vegan subtracts");
    let mean = 21.0 / 50.0;
    let apart: f64 = trees.uniques_of_unit.iter().map(|n| (f64::from(*n) - mean).powi(2)).sum();
    let half = jackknife1(&trees).high95 - jackknife1(&trees).value;
    // Student's t with 49 degrees of freedom, from printed tables
    assert!((half / (0.98 * apart).sqrt() - 2.0096).abs() < 5e-4, "{half}");
    close(jackknife2(&trees), theirs["jack2"], "jackknife 2");
    let all = Richness::of(&trees).unwrap();
    assert!(all.chao2.low95 > 225.0 && all.chao2.value < all.chao2_classic.value, "{all:?}");
    assert!(all.coverage.value > 0.99 && all.coverage.low95 < all.coverage.value, "{all:?}");
}

#[test]
fn accumulation_is_that_of_vegan() {
    let complete = chao2(&trees(), false).value;
    let curve = accumulation(&trees(), complete, None);
    for (kind, ours) in [
        ("exact_richness", curve.iter().map(|point| point.species).collect::<Vec<f64>>()),
        ("exact_sd_unconditional_chao", curve.iter().map(|point| point.error).collect()),
    ] {
        let theirs = values(BCI, kind);
        assert_eq!((theirs.len(), ours.len()), (50, 50));
        for (ours, (plots, theirs)) in ours.iter().zip(theirs) {
            close(*ours, theirs.parse().unwrap(), &format!("{kind} of {plots}"));
        }
    }
}

#[test]
fn similarity_is_that_of_vegan() {
    let of = |kind: &str, key: &str| -> f64 {
        values(BCI, kind).into_iter().find(|(k, _)| *k == key).unwrap().1.parse().unwrap()
    };
    let (first, second, both) =
        (of("first_20", "species"), of("last_30", "species"), of("pair", "shared"));
    let count = |from: f64, to: f64| -> Vec<u32> {
        let whole =
            (0..225).map(|place| u32::from(f64::from(place) >= from && f64::from(place) < to));
        whole.collect()
    };
    let ours = shared(&count(0.0, first), &count(first - both, first - both + second), (20, 30));
    close(ours.sorensen, 1.0 - of("pair", "sorensen_distance"), "Sørensen");
    close(ours.jaccard, 1.0 - of("pair", "jaccard_distance"), "Jaccard");
}

#[test]
fn stratified_tests_are_those_of_r() {
    let mut names: Vec<&str> = TABLES
        .lines()
        .filter(|line| line.contains(",table,"))
        .filter_map(|l| l.split(',').next())
        .collect();
    names.dedup();
    assert_eq!(names.len(), 6);
    for name in names {
        let rows = values(TABLES, name);
        let strata: Vec<Stratum> = rows
            .iter()
            .filter(|(what, _)| *what == "table")
            .map(|(_, cells)| {
                let cells: Vec<u32> = cells.split(' ').map(|cell| cell.parse().unwrap()).collect();
                let [a, b, c, d] = cells[..] else { panic!("{name}: {cells:?}") };
                Stratum { all: a + b + c + d, taxon: a + b, host: a + c, both: a }
            })
            .collect();
        let value = |what: &str| -> f64 {
            rows.iter().find(|(key, _)| *key == what).unwrap().1.parse().unwrap()
        };
        let exact = Exact::of(&strata);
        let (more, less) = exact.one_sided(1.0);
        let (ours, rough) = (exact.tested(1.0), pooled(&strata));
        for (what, ours) in [
            ("exact_odds_ratio", ours.odds.value),
            ("exact_low95", ours.odds.low95),
            ("exact_high95", ours.odds.high95),
            ("exact_p_greater", more),
            ("exact_p_less", less),
            ("pooled_odds_ratio", rough.odds.value),
            ("pooled_low95", rough.odds.low95),
            ("pooled_high95", rough.odds.high95),
            ("pooled_p", rough.p_value),
        ] {
            // R solves for the odds ratio or its inverse, whichever is below one, to about 1e-4
            let theirs = value(what);
            let solved = what.starts_with("exact") && !what.contains("_p_");
            let near = if solved {
                let small = |odds: f64| if odds > 1.0 { 1.0 / odds } else { odds };
                (small(ours) - small(theirs)).abs() < 1.5e-4
            } else {
                (ours / theirs - 1.0).abs() < 1e-7
            };
            assert!(near, "{name} {what}: {ours} {theirs}");
        }
    }
}

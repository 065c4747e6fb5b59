//! Circular statistics, the bandwidth rule and the kernel sum against values of other libraries.

use trug::analyse::density::bandwidth::rule_in_one_dimension;
use trug::analyse::density::kernel::{Grid, Mass, sum};
use trug::analyse::season::circular;

/// The rows of a kind, its name aside.
fn rows(kind: &str) -> Vec<Vec<f64>> {
    include_str!("data/circular_and_kernel.csv")
        .lines()
        .filter_map(|line| line.strip_prefix(kind)?.strip_prefix(','))
        .map(|rest| rest.split(',').map(|word| word.parse().unwrap()).collect())
        .collect()
}

#[test]
fn the_circular_mean_of_arrival_times_is_that_of_scipy() {
    let shares: Vec<f64> = rows("hour").iter().map(|row| row[0] / 24.0).collect();
    assert_eq!(shares.len(), 254);
    let ours = circular::mean(&shares).unwrap();
    let theirs = &rows("circular")[0];
    assert!((ours.mean - theirs[0]).abs() < 1e-9, "{ours:?} {theirs:?}");
    assert!((ours.resultant - theirs[1]).abs() < 1e-9, "{ours:?} {theirs:?}");
}

/// Eight directions of a textbook example that libraries of circular statistics hold; the figures
/// are computed by the published formulae.
#[test]
fn the_rayleigh_probability_is_that_of_the_example() {
    let angles = [45.0, 55.0, 81.0, 96.0, 110.0, 117.0, 132.0, 154.0];
    let ours = circular::mean(&angles.map(|angle| angle / 360.0)).unwrap();
    assert!((ours.mean * 360.0 - 98.99).abs() < 0.01, "{ours:?}");
    assert!((ours.resultant - 0.8252).abs() < 1e-4, "{ours:?}");
    assert!((ours.rayleigh - 0.0019).abs() < 1e-4, "{ours:?}");
}

/// Both take the lesser of standard deviation and interquartile range; statsmodels divides the
/// range by 1.349, trug by Silverman's 1.34: a relative difference of 0.7 % where the range is the
/// lesser.
#[test]
fn the_rule_in_one_dimension_is_that_of_statsmodels() {
    let mut hours: Vec<f64> = rows("hour").iter().map(|row| row[0]).collect();
    hours.sort_unstable_by(f64::total_cmp);
    let (ours, theirs) = (rule_in_one_dimension(&hours), rows("silverman")[0][0]);
    assert!((ours / theirs - 1.0).abs() < 0.007, "{ours} {theirs}");
}

#[test]
fn the_kernel_sum_is_that_of_scikit_learn() {
    let masses: Vec<Mass> =
        rows("point").iter().map(|row| Mass { x: row[0], y: row[1], weight: 1.0 }).collect();
    assert_eq!(masses.len(), 50);
    let grid = Grid { west: -200.0, south: -200.0, cell: 10.0, columns: 60, rows: 60 };
    for bandwidth in [4.0, 12.0, 30.0, 90.0] {
        let ours = sum(&masses, &grid, bandwidth);
        let peak = ours.iter().copied().fold(0.0, f64::max);
        for row in rows("sum").iter().filter(|row| row[0] == bandwidth) {
            let value = ours[grid.index(row[1], row[2]).unwrap()];
            assert!((value - row[3]).abs() < 1e-4 * peak, "{bandwidth}: {value:e} {:e}", row[3]);
        }
    }
}

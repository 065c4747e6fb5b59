//! Measures speed and accuracy of the kernel density: seconds and the error against the exact sum
//! for a million finds on 1024 x 1024 cells at several bandwidths, or at those given. With a folder
//! as argument it only writes the points, for `benches/density.py` and `KDEpy.FFTKDE`.

#![allow(clippy::print_stdout, clippy::unwrap_used, missing_docs)]

use std::time::Instant;

use trug::analyse::density::kernel::{Grid, Mass, sum};
use trug::analyse::statistics::Rng;

const SIDE: usize = 1024;

fn finds(count: usize) -> Vec<Mass> {
    let mut rng = Rng::new(9);
    let mut masses = Vec::with_capacity(count);
    while masses.len() < count {
        let (x, y) = (1024.0 * rng.uniform(), 1024.0 * rng.uniform());
        for _ in 0..=rng.below(400) {
            let (x, y) = (x + 15.0 * rng.normal(), y + 15.0 * rng.normal());
            if (0.0..1024.0).contains(&x) && (0.0..1024.0).contains(&y) {
                masses.push(Mass { x, y, weight: 1.0 });
            }
        }
    }
    masses.truncate(count);
    masses
}

/// The largest error at random places and at the peak, relative to the peak.
fn error(masses: &[Mass], grid: &Grid, values: &[f64], h: f64) -> f64 {
    let mut rng = Rng::new(10);
    let peak = (0..values.len()).max_by(|a, b| values[*a].total_cmp(&values[*b])).unwrap();
    let places = std::iter::once(peak).chain((0..150).map(|_| rng.below(values.len())));
    places
        .map(|place| {
            let (x, y) = (grid.x(place % SIDE), grid.y(place / SIDE));
            let exact: f64 = masses
                .iter()
                .map(|m| (-0.5 * ((x - m.x).powi(2) + (y - m.y).powi(2)) / (h * h)).exp())
                .sum();
            (values[place] - exact / (2.0 * std::f64::consts::PI * h * h)).abs() / values[peak]
        })
        .fold(0.0, f64::max)
}

fn main() {
    let words: Vec<String> = std::env::args().skip(1).filter(|w| !w.starts_with('-')).collect();
    let masses = finds(1_000_000);
    let mut asked: Vec<f64> = words.iter().filter_map(|word| word.parse().ok()).collect();
    if let Some(folder) = words.iter().find(|word| word.parse::<f64>().is_err()) {
        let rows: Vec<String> = masses.iter().map(|m| format!("{},{}", m.x, m.y)).collect();
        std::fs::write(format!("{folder}/points.csv"), rows.join("\n")).unwrap();
        return;
    }
    if asked.is_empty() {
        asked = vec![0.5, 1.0, 1.3, 1.5, 3.0, 8.0, 10.0, 30.0, 100.0];
    }
    let grid = Grid { west: 0.0, south: 0.0, cell: 1.0, columns: SIDE, rows: SIDE };
    println!("{:>10} {:>10} {:>14}", "cells", "seconds", "error of peak");
    for h in asked {
        let mut best = f64::INFINITY;
        let mut values = Vec::new();
        for _ in 0..3 {
            let start = Instant::now();
            values = sum(&masses, &grid, h);
            best = best.min(start.elapsed().as_secs_f64());
        }
        println!("{h:>10} {best:>10.4} {:>14.1e}", error(&masses, &grid, &values, h));
    }
}

//! Measures clustering of up to a million finds into sites: wall-clock and total processor seconds,
//! minimum and median of five runs. With a folder as argument it also writes `points-N.csv`
//! (latitude, longitude, radius) and `times-N.csv` (both seconds of each run), so that
//! `benches/sites.py` can run `sklearn.cluster.DBSCAN` on the same points.

#![allow(clippy::print_stdout, clippy::unwrap_used, missing_docs)]

#[path = "shared/processor.rs"]
mod processor;

use std::time::Instant;

use trug::analyse::clustering::{Reading, Rule, group};
use trug::analyse::statistics::Rng;
use trug::units::{LatLon, Metres, Radius95};

/// Sites scattered over a wood, each found about 25 times with circles of 4 to 12 m.
fn finds(count: usize) -> Vec<Reading> {
    let mut rng = Rng::new(42);
    let side = (count as f64 / 25.0).sqrt() * 60.0;
    let mut readings = Vec::with_capacity(count);
    while readings.len() < count {
        let (x, y) = (side * rng.uniform(), side * rng.uniform());
        for _ in 0..=rng.below(49) {
            let radius = 4.0 + 8.0 * rng.uniform();
            let sigma = radius / Radius95::PER_SIGMA;
            let (north, east) = (y + sigma * rng.normal(), x + sigma * rng.normal());
            readings.push(Reading {
                at: LatLon::clamped(-42.0 + north / 111_080.0, 146.0 + east / 82_850.0),
                radius: Radius95::new(Metres(radius)).unwrap(),
            });
        }
    }
    readings.truncate(count);
    readings
}

/// Least and median.
fn reported(runs: &[(f64, f64)], part: fn(&(f64, f64)) -> f64) -> (f64, f64) {
    let mut seconds: Vec<f64> = runs.iter().map(part).collect();
    seconds.sort_by(f64::total_cmp);
    (seconds[0], seconds[seconds.len() / 2])
}

fn main() {
    const RUNS: usize = 5;
    let folder = std::env::args().nth(1).filter(|word| !word.starts_with('-'));
    println!("                      seconds             processor seconds");
    println!(
        "{:>10} {:>10} {:>9} {:>9} {:>9} {:>9}",
        "finds", "sites", "least", "median", "least", "median"
    );
    for count in [10_000, 100_000, 1_000_000] {
        let readings = finds(count);
        let mut sites = 0;
        let runs: Vec<(f64, f64)> = (0..RUNS)
            .map(|_| {
                let (start, spent) = (Instant::now(), processor::seconds());
                let labels = group(&readings, Rule::default());
                sites = labels.iter().max().map_or(0, |last| last + 1);
                (start.elapsed().as_secs_f64(), processor::seconds() - spent)
            })
            .collect();
        let ((wall, wall_median), (cpu, cpu_median)) =
            (reported(&runs, |run| run.0), reported(&runs, |run| run.1));
        println!(
            "{count:>10} {sites:>10} {wall:>9.4} {wall_median:>9.4} {cpu:>9.4} {cpu_median:>9.4}"
        );
        if let Some(folder) = &folder {
            let point = |r: &Reading| {
                format!("{},{},{}", r.at.latitude(), r.at.longitude(), r.radius.metres().0)
            };
            let lines = |lines: Vec<String>| lines.join("\n");
            let points = lines(readings.iter().map(point).collect());
            let times = lines(runs.iter().map(|(wall, cpu)| format!("{wall},{cpu}")).collect());
            std::fs::write(format!("{folder}/points-{count}.csv"), points).unwrap();
            std::fs::write(format!("{folder}/times-{count}.csv"), times).unwrap();
        }
    }
}

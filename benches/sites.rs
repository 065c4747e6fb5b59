//! How fast are finds grouped into sites? Prints seconds for up to a million finds; with a folder
//! as argument it also writes `points-N.csv` (latitude, longitude, radius) there, so that
//! `benches/sites.py` can put the same points before `sklearn.cluster.DBSCAN`.

#![allow(clippy::print_stdout, clippy::unwrap_used, missing_docs)]

use std::time::Instant;

use trug::analyse::chance::Dice;
use trug::analyse::linkage::{Reading, Rule, group};
use trug::units::{LatLon, Metres, Radius95};

/// Sites scattered over a wood, each found about 25 times with circles of 4 to 12 m.
fn finds(count: usize) -> Vec<Reading> {
    let mut dice = Dice::new(42);
    let side = (count as f64 / 25.0).sqrt() * 60.0;
    let mut readings = Vec::with_capacity(count);
    while readings.len() < count {
        let (x, y) = (side * dice.uniform(), side * dice.uniform());
        for _ in 0..=dice.below(49) {
            let radius = 4.0 + 8.0 * dice.uniform();
            let sigma = radius / Radius95::PER_SIGMA;
            let (north, east) = (y + sigma * dice.normal(), x + sigma * dice.normal());
            readings.push(Reading {
                at: LatLon::clamped(-42.0 + north / 111_080.0, 146.0 + east / 82_850.0),
                radius: Radius95::new(Metres(radius)).unwrap(),
            });
        }
    }
    readings.truncate(count);
    readings
}

fn main() {
    println!("{:>10} {:>10} {:>10} {:>12}", "finds", "sites", "seconds", "us per find");
    for count in [10_000, 100_000, 1_000_000] {
        let readings = finds(count);
        if let Some(folder) = std::env::args().nth(1).filter(|word| !word.starts_with('-')) {
            let row = |r: &Reading| {
                format!("{},{},{}", r.at.latitude(), r.at.longitude(), r.radius.metres().0)
            };
            let rows = readings.iter().map(row).collect::<Vec<_>>().join("\n");
            std::fs::write(format!("{folder}/points-{count}.csv"), rows).unwrap();
        }
        let mut best = f64::INFINITY;
        let mut sites = 0;
        for _ in 0..3 {
            let start = Instant::now();
            let labels = group(&readings, Rule::default());
            best = best.min(start.elapsed().as_secs_f64());
            sites = labels.iter().max().map_or(0, |last| last + 1);
        }
        println!("{count:>10} {sites:>10} {best:>10.4} {:>12.3}", best / count as f64 * 1e6);
    }
}

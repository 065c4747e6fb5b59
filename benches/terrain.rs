//! Measures the search across a full tile of 3601 x 3601 cells and across a window of 10 km, beside
//! `skimage.graph.MCP_Geometric` on the same grid in the same run (`benches/terrain.py`, started
//! from here when a Python with scikit-image is found). Both use one thread; times are processor
//! times. Prints a table with ratios.

#![allow(clippy::print_stdout, clippy::cast_possible_truncation, clippy::unwrap_used)]

use std::io::Write;
use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

use trug::wayout::terrain::Terrain;

const SIDE: usize = 3_601;
const SPACING: f64 = 30.0;
/// Cells on a side of a window for a route of 10 km: the straight line and half of it on each side.
const WINDOW: usize = 667;

fn main() {
    let heights = land();
    println!("walk across land of {SIDE} x {SIDE} cells of {SPACING} m, corner to corner\n");
    let far = (SIDE - 21) as f64;
    let whole = best_of(3, || {
        let mut terrain = Terrain::new(SIDE, SIDE, (SPACING, SPACING), &heights);
        let begun = Moment::now();
        let walk = terrain.walk((20.0, 20.0), &[(far, far)]).unwrap();
        (begun.elapsed(), walk.expanded)
    });
    row("trug, 16 neighbours, by direction", whole, "cells settled");
    let field = best_of(2, || {
        let mut terrain = Terrain::new(SIDE, SIDE, (SPACING, SPACING), &heights);
        let begun = Moment::now();
        let reached = terrain.field((20.0, 20.0)).unwrap();
        (begun.elapsed(), reached.iter().flatten().count())
    });
    row("trug, the same to all cells", field, "cells reached");
    let window = window(&heights);
    let short = best_of(10, || {
        let begun = Moment::now();
        let mut terrain = Terrain::new(WINDOW, WINDOW, (SPACING, SPACING), &window);
        let walk = terrain.walk((167.0, 333.0), &[(500.0, 333.0)]).unwrap();
        (begun.elapsed(), walk.expanded)
    });
    row("trug, 10 km, its field set up included", short, "cells settled");
    println!("\n{} bytes a cell for heights, costs and marks", Terrain::bytes_per_cell());
    let own = (heights.len() * 4) >> 20;
    println!("peak memory of this process: {} (the bench's own heights: {own} MiB)\n", peak());
    beside(&heights, whole.0, field.0);
}

/// The processor time of this thread; wall-clock time where the system does not report it.
enum Moment {
    Processor(Duration),
    Clock(Instant),
}

impl Moment {
    fn now() -> Self {
        let reported = std::fs::read_to_string("/proc/thread-self/schedstat").unwrap_or_default();
        match reported.split(' ').next().and_then(|first| first.parse().ok()) {
            Some(nanoseconds) => Self::Processor(Duration::from_nanos(nanoseconds)),
            None => Self::Clock(Instant::now()),
        }
    }

    fn elapsed(&self) -> Duration {
        match (self, Self::now()) {
            (Self::Processor(begun), Self::Processor(now)) => now.saturating_sub(*begun),
            (Self::Clock(begun), _) => begun.elapsed(),
            _ => Duration::ZERO,
        }
    }
}

fn row(what: &str, (took, count): (Duration, usize), of: &str) {
    println!("{what:<44} {:>9.1} ms   {count} {of}", took.as_secs_f64() * 1e3);
}

/// Ridges of several sizes from a seeded generator, with the roughness of real hills.
fn land() -> Vec<f32> {
    let mut seed = 20_260_503_u64;
    let mut random = || {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (seed >> 33) as f64 / f64::from(1_u32 << 31)
    };
    let waves: Vec<[f64; 4]> = (0..24)
        .map(|i| {
            let length = 18_000.0 / 1.3_f64.powi(i);
            let turn = random() * std::f64::consts::TAU;
            let wave = std::f64::consts::TAU / length;
            [wave * turn.cos(), wave * turn.sin(), random() * 6.0, length * 0.022]
        })
        .collect();
    let mut heights = Vec::with_capacity(SIDE * SIDE);
    for row in 0..SIDE {
        for column in 0..SIDE {
            let (x, y) = (column as f64 * SPACING, row as f64 * SPACING);
            let sum: f64 =
                waves.iter().map(|[a, b, phase, size]| size * (a * x + b * y + phase).sin()).sum();
            heights.push((800.0 + sum).round() as f32);
        }
    }
    heights
}

fn window(heights: &[f32]) -> Vec<f32> {
    (1_000..1_000 + WINDOW)
        .flat_map(|row| heights[row * SIDE + 1_000..][..WINDOW].iter().copied())
        .collect()
}

fn best_of(times: usize, mut work: impl FnMut() -> (Duration, usize)) -> (Duration, usize) {
    (0..times).map(|_| work()).min_by_key(|(took, _)| *took).unwrap()
}

fn peak() -> String {
    std::fs::read_to_string("/proc/self/status")
        .ok()
        .and_then(|status| {
            Some(status.lines().find(|line| line.starts_with("VmHWM"))?[6..].trim().to_owned())
        })
        .unwrap_or_else(|| "not known here".to_owned())
}

/// Runs the named library on the same elevations and prints the ratios.
fn beside(heights: &[f32], whole: Duration, field: Duration) {
    let path = std::env::temp_dir().join(format!("trug-bench-{}.f32", std::process::id()));
    let bytes: Vec<u8> = heights.iter().flat_map(|height| height.to_le_bytes()).collect();
    std::fs::File::create(&path).and_then(|mut file| file.write_all(&bytes)).unwrap();
    let python = [".venv/bin/python", "python3"].into_iter().find(|python| {
        let asked = Command::new(python).args(["-c", "import skimage"]).output();
        asked.is_ok_and(|reported| reported.status.success())
    });
    match python {
        Some(python) => compare(python, &path, whole, field),
        None => {
            println!("no Python with scikit-image: pip install -r tests/outside/requirements.txt");
        }
    }
    std::fs::remove_file(&path).unwrap();
}

fn compare(python: &str, path: &Path, whole: Duration, field: Duration) {
    let reported = Command::new(python)
        .arg("benches/terrain.py")
        .arg(path)
        .arg(SIDE.to_string())
        .output()
        .unwrap();
    let text = String::from_utf8_lossy(&reported.stdout).into_owned();
    print!("{text}{}", String::from_utf8_lossy(&reported.stderr));
    for (label, ours) in [("seconds to the goal: ", whole), ("seconds to all cells: ", field)] {
        let theirs = text.lines().find_map(|line| line.strip_prefix(label)?.parse::<f64>().ok());
        if let Some(theirs) = theirs {
            println!("ratio, {label}trug is {:.1} times as fast", theirs / ours.as_secs_f64());
        }
    }
}

//! Compares the steps of simulated errors with those of real receivers, over 1 s to half an hour, in
//! `tests/reference/data/receiver_steps.csv`.

use super::super::simulation::random::Random;
use super::errors::errors;
use super::settings::{ALL, Setting};

const LAGS: [usize; 10] = [1, 2, 5, 10, 30, 60, 120, 300, 600, 1_800];

/// Sizes per axis over many hours: of the error, of its steps, and the kurtosis of the steps over 10 s.
fn statistics(setting: &Setting) -> (f64, [f64; 10], f64) {
    let mut random = Random::new(4_711);
    let hours: Vec<Vec<(f64, f64)>> =
        (0..12).map(|_| errors(&setting.law, 1.0, 5 * 3_600, &mut random)).collect();
    let axes = |pair: &(f64, f64)| [pair.0, pair.1];
    let moment = |lag: usize, power: i32| {
        let step = |run: &Vec<(f64, f64)>| -> (f64, f64) {
            let pairs = run.iter().zip(run.iter().skip(lag));
            let powers = pairs.flat_map(|(a, b)| {
                let (a, b) = (axes(a), axes(b));
                [(b[0] - a[0]).powi(power), (b[1] - a[1]).powi(power)]
            });
            powers.fold((0.0, 0.0), |(sum, count), value| (sum + value, count + 1.0))
        };
        let total = hours.iter().map(step).fold((0.0, 0.0), |a, b| (a.0 + b.0, a.1 + b.1));
        total.0 / total.1
    };
    let all = || hours.iter().flatten().flat_map(axes);
    let size = (all().map(|x| x * x).sum::<f64>() / all().count() as f64).sqrt();
    (size, LAGS.map(|lag| moment(lag, 2).sqrt()), moment(10, 4) / moment(10, 2).powi(2))
}

/// The sizes, steps and kurtosis of a log.
fn published(log: &str) -> Vec<f64> {
    let table = include_str!("../../reference/data/receiver_steps.csv");
    let row = table.lines().find(|row| row.split(',').next() == Some(log)).unwrap();
    row.split(',').skip(2).map(|part| part.parse().unwrap()).collect()
}

#[test]
fn simulated_errors_match_real_receivers() {
    // steps agree to a quarter, the size to a fifth, and the tails are as heavy to a factor of two
    for (log, name) in [
        ("1", "open, 1 s"),
        ("6", "open, 10 s"),
        ("4", "obstructed, 1 s"),
        ("8", "obstructed, 5 s"),
        ("3", "obstructed, heavy tails, 1 s"),
    ] {
        let setting = ALL.iter().find(|setting| setting.name == name).unwrap();
        let (size, steps, kurtosis) = statistics(setting);
        let row = published(log);
        assert!((size / row[0] - 1.0).abs() < 0.2, "{name}: size {size:.2} of {}", row[0]);
        for (lag, (step, real)) in LAGS.iter().zip(steps.iter().zip(&row[1..])) {
            let ratio = step / real;
            assert!((0.75..1.25).contains(&ratio), "{name}: {lag} s, {step:.2} of {real}");
        }
        let tails = kurtosis / row[11];
        // one excursion decides about the kurtosis of hundreds of log 3
        let least = if log == "3" { 0.1 } else { 0.5 };
        assert!((least..2.0).contains(&tails), "{name}: kurtosis {kurtosis:.0} of {}", row[11]);
    }
}

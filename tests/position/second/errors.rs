//! Simulates the error of a real receiver: smoothed components of four time scales, a variable size,
//! excursions, a bias.

use std::f64::consts::TAU;

use super::super::simulation::random::Random;
use super::super::simulation::receiver::{Record, Recorded};
use super::super::simulation::walker::Way;
use super::settings::{Law, Output, Setting};

/// For each part how long it lasts and by how much it is smoothed, seconds: exponential noise through a
/// first-order filter.
pub(super) const SCALES: [(f64, f64); 4] =
    [(6.0, 3.0), (40.0, 15.0), (150.0, 40.0), (1_200.0, 60.0)];

/// Records a walk.
pub(super) fn record(setting: &Setting, way: &Way, random: &mut Random) -> Record {
    let seconds = way.seconds() as usize;
    let mut shown = match setting.output {
        Output::Exponential => exponential(setting, seconds, random),
        _ => errors(&setting.law, setting.scale, seconds, random),
    };
    for (k, place) in shown.iter_mut().enumerate() {
        *place = (place.0 + way.east[k], place.1 + way.north[k]);
    }
    if setting.output == Output::Frozen {
        freeze(way, &mut shown, random);
    }
    let gap_start = random.between(1_500.0, seconds as f64 - 2_500.0);
    let gaps = vec![(gap_start, gap_start + random.between(90.0, 400.0))];
    let mut fixes: Vec<Recorded> = Vec::new();
    let mut time = random.between(0.0, setting.day.interval).floor();
    let mut held = None;
    while time < seconds as f64 {
        if !gaps.iter().any(|gap| (gap.0..gap.1).contains(&time)) {
            let fresh = shown[time as usize];
            if setting.output != Output::Repeating
                || held.is_none()
                || fixes.len().is_multiple_of(50)
            {
                held = Some(fresh);
            }
            let (east, north) = held.unwrap_or(fresh);
            fixes.push((time, east, north, random.between(0.9, 3.5) as f32));
        }
        time += setting.day.interval;
    }
    let spoilt = vec![false; fixes.len()];
    Record { fixes, spoilt, gaps }
}

/// Errors at every second, both axes.
pub(super) fn errors(
    law: &Law,
    scale: f64,
    seconds: usize,
    random: &mut Random,
) -> Vec<(f64, f64)> {
    let size = size(law.uneven, seconds, random);
    let bias = (law.bias * random.normal(), law.bias * random.normal());
    let mut axis = || {
        let mut sum = vec![0.0; seconds + 1];
        for (part, &(lasts, smoothed)) in law.parts.iter().zip(&SCALES) {
            // what lasts half an hour is of the sky, not of the canopy overhead: even
            let uneven = lasts < 1_000.0;
            let noise = smoothed_noise(*part, lasts, smoothed, seconds, random);
            for ((sum, noise), size) in sum.iter_mut().zip(noise).zip(&size) {
                *sum += noise * if uneven { *size } else { 1.0 };
            }
        }
        sum
    };
    let (east, north) = (axis(), axis());
    let mut errors: Vec<(f64, f64)> = east
        .into_iter()
        .zip(north)
        .map(|(x, y)| (scale * (x + bias.0), scale * (y + bias.1)))
        .collect();
    excursions(law.excursions, &mut errors, random);
    errors
}

/// The size as it wanders over minutes, mean square one.
fn size(uneven: f64, seconds: usize, random: &mut Random) -> Vec<f64> {
    let logs = smoothed_noise(uneven, 300.0, 60.0, seconds, random);
    logs.into_iter().map(|log| (log - uneven * uneven).exp()).collect()
}

fn smoothed_noise(
    size: f64,
    lasts: f64,
    smoothed: f64,
    seconds: usize,
    random: &mut Random,
) -> Vec<f64> {
    /// Filters of a few seconds need shorter steps than one.
    const PARTS: usize = 4;
    let tick = 1.0 / PARTS as f64;
    let (keep, follow) = ((-tick / lasts).exp(), 1.0 - (-tick / smoothed).exp());
    // a first-order filter leaves a / (a + b) of the variance of noise that lasts a
    let drive = size * ((lasts + smoothed) / lasts).sqrt();
    let mut state = drive * random.normal();
    let mut output = state * lasts / (lasts + smoothed);
    let warm = (3.0 * (lasts + smoothed)) as usize;
    let mut kept = Vec::with_capacity(seconds + 1);
    for k in 0..=seconds + warm {
        for _ in 0..PARTS {
            state = keep * state + drive * (1.0 - keep * keep).sqrt() * random.normal();
            output += follow * (state - output);
        }
        if k >= warm {
            kept.push(output);
        }
    }
    kept
}

/// A reflection takes over for half a minute: out within seconds, back more slowly.
fn excursions(per_hour: f64, errors: &mut [(f64, f64)], random: &mut Random) {
    if per_hour <= 0.0 {
        return;
    }
    let mut start = random.exponential(3_600.0 / per_hour);
    while start < errors.len() as f64 {
        let (far, angle) = (30.0 * (random.unit() * 1.3).exp(), random.between(0.0, TAU));
        let (rise, fall) = (random.between(2.0, 6.0), random.between(10.0, 40.0));
        for (since, error) in errors[start as usize..].iter_mut().enumerate().take(240) {
            let since = since as f64;
            let share = (1.0 - (-since / rise).exp()) * (-since / fall).exp() * (1.0 + rise / fall);
            error.0 += far * share * angle.sin();
            error.1 += far * share * angle.cos();
        }
        start += random.exponential(3_600.0 / per_hour);
    }
}

fn exponential(setting: &Setting, seconds: usize, random: &mut Random) -> Vec<(f64, f64)> {
    let size = setting.scale * setting.law.parts.iter().map(|part| part * part).sum::<f64>().sqrt();
    let keep = (-1.0_f64 / 120.0).exp();
    let mut axis = || {
        let mut state = size * random.normal();
        let step = |_| {
            state = keep * state + size * (1.0 - keep * keep).sqrt() * random.normal();
            state
        };
        (0..=seconds).map(step).collect::<Vec<f64>>()
    };
    let (east, north) = (axis(), axis());
    east.into_iter().zip(north).collect()
}

/// While its owner stands the device shows one place, 1 to 13 m off; seconds after he goes it follows.
fn freeze(way: &Way, shown: &mut [(f64, f64)], random: &mut Random) {
    for stop in &way.stops {
        let (far, angle) = ((random.unit() * 13.0_f64.ln()).exp(), random.between(0.0, TAU));
        let place = (stop.east + far * angle.sin(), stop.north + far * angle.cos());
        let (from, to) = (stop.start as usize + 3, (stop.end as usize + 2).min(shown.len()));
        shown[from..to].fill(place);
        // it slides to that place and away from it
        for k in 1..=8_usize {
            let share = 1.0 - k as f64 / 9.0;
            let slide = |at: (f64, f64)| {
                (at.0 + share * (place.0 - at.0) * 0.8, at.1 + share * (place.1 - at.1) * 0.8)
            };
            if let Some(before) = from.checked_sub(k) {
                shown[before] = slide(shown[before]);
            }
            if to + k < shown.len() {
                shown[to + k - 1] = slide(shown[to + k - 1]);
            }
        }
    }
}

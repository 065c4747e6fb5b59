//! Simulates the fixes of a receiver along a track.

use std::f64::consts::TAU;

use super::condition::{Condition, Kind};
use super::random::Random;
use super::walker::Way;

/// A recorded fix: seconds, metres east and north, dilution of precision.
pub(crate) type Recorded = (f64, f64, f64, f32);

/// What a receiver recorded, and the truth of it.
pub(crate) struct Record {
    pub(crate) fixes: Vec<Recorded>,
    /// Which fixes jumped away.
    pub(crate) spoilt: Vec<bool>,
    /// Gaps, from and to, seconds.
    pub(crate) gaps: Vec<(f64, f64)>,
}

/// Records a way.
pub(crate) fn record(condition: &Condition, way: &Way, random: &mut Random) -> Record {
    let seconds = way.seconds() as usize;
    let mut shown = errors(condition, seconds, random);
    for (k, error) in shown.iter_mut().enumerate() {
        error.0 += way.east[k];
        error.1 += way.north[k];
    }
    if condition.receiver == Kind::Holding {
        hold(way, &mut shown);
    }
    if condition.receiver == Kind::Smoothing {
        smooth(&mut shown);
    }
    let gaps: Vec<(f64, f64)> = (0..condition.gaps)
        .map(|_| {
            let stop = &way.stops[random.whole(1, way.stops.len() as i64 - 2) as usize];
            let anywhere = random.between(600.0, seconds as f64 - 1_200.0);
            // half of them where something was found
            let about = stop.start - random.between(0.0, 200.0);
            let start = if random.chance(0.5) { about } else { anywhere };
            (start, start + random.between(120.0, 420.0))
        })
        .collect();
    let mut fixes = Vec::new();
    let mut time = 0.0;
    while time <= seconds as f64 - 1.0 {
        let in_gap = gaps.iter().any(|gap| (gap.0..gap.1).contains(&time));
        if !in_gap {
            let (east, north) = shown[time as usize];
            let hdop = random.between(0.8, 4.0) as f32;
            fixes.push((time, east, north, hdop));
        }
        time += condition.interval;
    }
    let spoilt = jumps(condition, &mut fixes, random);
    Record { fixes, spoilt, gaps }
}

/// Errors at every second.
fn errors(condition: &Condition, seconds: usize, random: &mut Random) -> Vec<(f64, f64)> {
    let east = axis(condition, seconds, random);
    let north = axis(condition, seconds, random);
    east.into_iter().zip(north).collect()
}

fn axis(condition: &Condition, seconds: usize, random: &mut Random) -> Vec<f64> {
    let (sigma, memory) = (condition.sigma, random.between(90.0, 150.0));
    match condition.receiver {
        Kind::Plain | Kind::Holding => lasting(sigma, memory, seconds, random),
        Kind::Changing | Kind::Smoothing => changing(sigma, seconds, random),
        Kind::Kicks => kicks(sigma, memory, seconds, random),
        Kind::HeavyTails => {
            let mut errors = lasting(sigma, memory, seconds, random);
            for error in &mut errors {
                *error += 2.5 * random.student(2.4);
            }
            errors
        }
        Kind::HeavySteps => heavy_steps(sigma, memory, seconds, random),
        Kind::TwoScales => {
            let slow = lasting(0.75 * sigma, random.between(200.0, 400.0), seconds, random);
            let quick = lasting(0.66 * sigma, random.between(20.0, 50.0), seconds, random);
            slow.into_iter().zip(quick).map(|(slow, quick)| slow + quick).collect()
        }
        Kind::Volatile => {
            let sizes = lasting(0.5, 300.0, seconds, random);
            let errors = lasting(sigma, memory, seconds, random);
            // the mean square of a log-normal size is taken out
            errors.into_iter().zip(sizes).map(|(error, size)| error * (size - 0.25).exp()).collect()
        }
    }
}

/// One error that lasts, every second.
fn lasting(sigma: f64, memory: f64, seconds: usize, random: &mut Random) -> Vec<f64> {
    let keep = (-1.0 / memory).exp();
    let mut state = sigma * random.normal();
    (0..=seconds)
        .map(|_| {
            state = keep * state + sigma * (1.0 - keep * keep).sqrt() * random.normal();
            state
        })
        .collect()
}

/// One error that lasts, its steps of Student's law with so few degrees of freedom that the largest
/// of a day are as large as the error itself.
fn heavy_steps(sigma: f64, memory: f64, seconds: usize, random: &mut Random) -> Vec<f64> {
    let keep = (-1.0 / memory).exp();
    let mut state = sigma * random.normal();
    (0..=seconds)
        .map(|_| {
            let step = sigma * (1.0 - keep * keep).sqrt() * random.student(2.4);
            state = keep * state + step.clamp(-2.0 * sigma, 2.0 * sigma);
            state
        })
        .collect()
}

/// Two errors whose size and memory change with the canopy, kicked by heavy tails.
fn changing(sigma: f64, seconds: usize, random: &mut Random) -> Vec<f64> {
    let (mut slow, mut quick) = (sigma * random.normal(), 0.0);
    let (mut size, mut memory) = (1.0, random.between(90.0, 150.0));
    let step = |state: f64, sigma: f64, memory: f64, random: &mut Random| {
        let keep = (-1.0 / memory).exp();
        keep * state + sigma * (1.0 - keep * keep).sqrt() * random.student(5.0)
    };
    (0..=seconds)
        .map(|k| {
            if k % 600 == 0 {
                size = random.between(0.6, 1.4);
                memory = random.between(90.0, 150.0);
            }
            slow = step(slow, 0.92 * size * sigma, memory, random);
            quick = step(quick, 0.3 * sigma, 25.0, random);
            slow + quick + 0.4 * random.student(3.0)
        })
        .collect()
}

/// An error that stays until it jumps; jumps take a second or two.
fn kicks(sigma: f64, memory: f64, seconds: usize, random: &mut Random) -> Vec<f64> {
    let (mut aim, mut state) = (sigma * random.normal(), 0.0);
    (0..=seconds)
        .map(|k| {
            if random.chance(1.0 / memory) {
                aim = sigma * random.normal();
            }
            state = if k == 0 { aim } else { 0.4 * state + 0.6 * aim };
            state + 0.4 * random.normal()
        })
        .collect()
}

/// A device that goes on showing the place at which its owner stopped.
fn hold(way: &Way, shown: &mut [(f64, f64)]) {
    for stop in &way.stops {
        let (from, to) = (stop.start as usize + 4, stop.end as usize);
        for k in from..to.min(shown.len()) {
            shown[k] = shown[from];
        }
    }
}

/// A device that shows a running mean of what it computes, six seconds behind.
fn smooth(shown: &mut [(f64, f64)]) {
    let keep = (-1.0_f64 / 6.0).exp();
    let mut mean = shown[0];
    for place in shown.iter_mut() {
        mean.0 = keep * mean.0 + (1.0 - keep) * place.0;
        mean.1 = keep * mean.1 + (1.0 - keep) * place.1;
        *place = mean;
    }
}

fn jumps(condition: &Condition, fixes: &mut [Recorded], random: &mut Random) -> Vec<bool> {
    let mut spoilt = vec![false; fixes.len()];
    for _ in 0..condition.jumps {
        let from = random.whole(5, fixes.len() as i64 - 12) as usize;
        // occasionally a reflection holds for half a minute
        let most = ((30.0 / condition.interval) as i64).clamp(1, 6);
        let count = if random.chance(0.6) { 1 } else { random.whole(1, most) as usize };
        let (far, angle) = (random.between(30.0, 250.0), random.between(0.0, TAU));
        spoilt[from..from + count].fill(true);
        for fix in &mut fixes[from..from + count] {
            fix.1 += far * angle.sin() + 3.0 * random.normal();
            fix.2 += far * angle.cos() + 3.0 * random.normal();
        }
    }
    spoilt
}

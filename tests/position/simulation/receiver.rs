//! What the receiver makes of the way.

use std::f64::consts::TAU;

use super::condition::{Condition, Kind};
use super::random::Random;
use super::walker::Way;

/// A recorded fix: seconds, metres east and north, dilution of precision.
pub(crate) type Recorded = (f64, f64, f64, f32);

/// Records a way.
pub(crate) fn record(condition: &Condition, way: &Way, random: &mut Random) -> Vec<Recorded> {
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
            let start = random.between(600.0, seconds as f64 - 1_200.0);
            (start, start + random.between(120.0, 420.0))
        })
        .collect();
    let mut fixes = Vec::new();
    let mut time = 0.0;
    while time <= seconds as f64 - 1.0 {
        let silent = gaps.iter().any(|gap| (gap.0..gap.1).contains(&time));
        if !silent {
            let (east, north) = shown[time as usize];
            let hdop = random.between(0.8, 4.0) as f32;
            fixes.push((time, east, north, hdop));
        }
        time += condition.interval;
    }
    jumps(condition, &mut fixes, random);
    fixes
}

/// Errors at every second.
fn errors(condition: &Condition, seconds: usize, random: &mut Random) -> Vec<(f64, f64)> {
    let mut errors = Vec::with_capacity(seconds + 1);
    let changing = matches!(condition.receiver, Kind::Changing | Kind::Smoothing);
    let mut slow = (condition.sigma * random.normal(), condition.sigma * random.normal());
    let mut quick = (0.0, 0.0);
    let (mut size, mut memory) = (1.0, random.between(90.0, 150.0));
    for k in 0..=seconds {
        if changing && k % 600 == 0 {
            size = random.between(0.6, 1.4);
            memory = random.between(90.0, 150.0);
        }
        let sigma = condition.sigma * if changing { 0.92 * size } else { 1.0 };
        let kick = |state: f64, sigma: f64, tau: f64, random: &mut Random| {
            let keep = (-1.0 / tau).exp();
            let noise = if changing { random.student(5.0) } else { random.normal() };
            keep * state + sigma * (1.0 - keep * keep).sqrt() * noise
        };
        slow = (kick(slow.0, sigma, memory, random), kick(slow.1, sigma, memory, random));
        let mut error = slow;
        if changing {
            let small = 0.3 * condition.sigma;
            quick = (kick(quick.0, small, 25.0, random), kick(quick.1, small, 25.0, random));
            error.0 += quick.0 + 0.4 * random.student(3.0);
            error.1 += quick.1 + 0.4 * random.student(3.0);
        }
        errors.push(error);
    }
    errors
}

/// A device that goes on showing the place at which its owner stopped.
fn hold(way: &Way, shown: &mut [(f64, f64)]) {
    for stand in &way.stands {
        let (from, to) = (stand.start as usize + 4, stand.end as usize);
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

fn jumps(condition: &Condition, fixes: &mut [Recorded], random: &mut Random) {
    for _ in 0..condition.jumps {
        let from = random.whole(5, fixes.len() as i64 - 12) as usize;
        // now and then a reflection holds for half a minute
        let most = ((30.0 / condition.interval) as i64).clamp(1, 6);
        let count = if random.chance(0.6) { 1 } else { random.whole(1, most) as usize };
        let (far, angle) = (random.between(30.0, 250.0), random.between(0.0, TAU));
        for fix in &mut fixes[from..from + count] {
            fix.1 += far * angle.sin() + 3.0 * random.normal();
            fix.2 += far * angle.cos() + 3.0 * random.normal();
        }
    }
}

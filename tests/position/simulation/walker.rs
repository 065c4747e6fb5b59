//! Simulates the true position of the collector, second by second: walks that bend, searches to and fro,
//! stops with small movements.

use std::f64::consts::TAU;

use super::condition::Condition;
use super::random::Random;

/// A true stand.
#[derive(Clone, Debug)]
pub(crate) struct TrueStand {
    pub(crate) start: f64,
    pub(crate) end: f64,
    pub(crate) east: f64,
    pub(crate) north: f64,
    /// Whether something was found and photographed.
    pub(crate) find: bool,
}

/// The true way: metres east and north at every second.
pub(crate) struct Way {
    pub(crate) east: Vec<f64>,
    pub(crate) north: Vec<f64>,
    /// Whether the ground was searched at that second.
    pub(crate) searched: Vec<bool>,
    pub(crate) stops: Vec<TrueStand>,
}

impl Way {
    pub(crate) fn seconds(&self) -> f64 {
        self.east.len() as f64 - 1.0
    }
}

/// Walks a day.
pub(crate) fn walk(condition: &Condition, random: &mut Random) -> Way {
    let mut way =
        Way { east: vec![0.0], north: vec![0.0], searched: vec![false], stops: Vec::new() };
    let mut heading = random.between(0.0, TAU);
    leg(&mut way, random, &mut heading, 300.0);
    for _ in 0..condition.finds {
        let long = random.between(60.0, 420.0);
        leg(&mut way, random, &mut heading, long);
        // somebody who looks about without stopping, or stops for breath
        if random.chance(0.5) {
            let spell = random.between(20.0, 180.0);
            search(&mut way, random, &mut heading, spell);
        }
        if random.chance(0.25) {
            let spell = random.between(20.0, 120.0);
            stop(&mut way, random, spell, false);
            let long = random.between(20.0, 90.0);
            leg(&mut way, random, &mut heading, long);
        }
        let spell = random.between(40.0, 100.0) + random.exponential(60.0).min(200.0);
        stop(&mut way, random, spell, true);
    }
    leg(&mut way, random, &mut heading, 400.0);
    way
}

fn step(way: &mut Way, east: f64, north: f64, searched: bool) {
    let (x, y) = (way.east[way.east.len() - 1], way.north[way.north.len() - 1]);
    way.east.push(x + east);
    way.north.push(y + north);
    way.searched.push(searched);
}

fn leg(way: &mut Way, random: &mut Random, heading: &mut f64, seconds: f64) {
    let pace = random.between(0.6, 1.3);
    *heading += random.between(-1.2, 1.2);
    let mut speed = pace;
    for _ in 0..seconds as usize {
        *heading += 0.06 * random.normal();
        speed += 0.1 * (pace - speed) + 0.05 * random.normal();
        let speed = speed.clamp(0.1, 1.8);
        step(way, speed * heading.sin(), speed * heading.cos(), false);
    }
}

fn search(way: &mut Way, random: &mut Random, heading: &mut f64, seconds: f64) {
    // some turn about on one spot, some comb the ground slowly onward, some wind between the trees,
    // slowly or briskly
    let (turning, winding, slowest, pace) = match random.whole(0, 3) {
        0 => (0.12, 0.0, 0.0, 0.5),
        1 => (0.02, 0.0, 0.0, 0.6),
        2 => (0.0, 0.22, 0.0, 0.7),
        _ => (0.03, 0.3, 0.4, 0.9),
    };
    for _ in 0..seconds as usize {
        if random.chance(turning) {
            *heading = random.between(0.0, TAU);
        }
        *heading += winding * random.normal();
        let speed = random.between(slowest, pace);
        step(way, speed * heading.sin(), speed * heading.cos(), true);
    }
}

fn stop(way: &mut Way, random: &mut Random, seconds: f64, find: bool) {
    let start = way.seconds();
    let (east, north) = (way.east[way.east.len() - 1], way.north[way.north.len() - 1]);
    let (mut x, mut y) = (0.0, 0.0);
    // some stand still, some go round what they found
    let shift = if random.chance(0.5) { 0.35 } else { 0.8 };
    for _ in 0..seconds as usize {
        if random.chance(0.05) {
            (x, y) = (shift * random.normal(), shift * random.normal());
        }
        way.east.push(east + x);
        way.north.push(north + y);
        way.searched.push(false);
    }
    way.stops.push(TrueStand { start, end: way.seconds(), east, north, find });
}

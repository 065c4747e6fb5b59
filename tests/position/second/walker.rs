//! Simulates a walk of straight legs from point to point: out and back along one line of points, slower
//! before every stop, one long rest.

use std::f64::consts::TAU;

use super::super::simulation::random::Random;
use super::super::simulation::walker::{TrueStand, Way};

/// Walks a day with so many finds.
pub(super) fn walk(finds: u32, random: &mut Random) -> Way {
    let mut walker = Walker {
        way: Way { east: vec![0.0], north: vec![0.0], searched: vec![false], stops: Vec::new() },
        pace: (0.95_f64.ln() + 0.2 * random.normal()).exp(),
    };
    let mut points = vec![(0.0, 0.0)];
    let mut heading = random.between(0.0, TAU);
    walker.leg((200.0 * heading.sin(), 200.0 * heading.cos()), random);
    points.push(walker.here());
    let out = finds - finds / 3;
    for find in 0..out {
        heading += 0.6 * random.normal();
        let long = 30.0 + random.exponential(140.0).min(500.0);
        let (x, y) = walker.here();
        walker.leg((x + long * heading.sin(), y + long * heading.cos()), random);
        points.push(walker.here());
        walker.find(random);
        if find == out / 2 {
            walker.stop(random.between(600.0, 1_300.0), false, random);
        }
    }
    // back over the points of the way out, with the rest of the finds beside them
    let mut left = finds / 3;
    let every = (points.len() / (left as usize + 1)).max(1);
    for (k, &(x, y)) in points.iter().rev().enumerate() {
        walker.leg((x + 1.0 * random.normal(), y + 1.0 * random.normal()), random);
        if left > 0 && k % every == every - 1 {
            let (aside, angle) = (random.between(5.0, 25.0), random.between(0.0, TAU));
            walker.leg((x + aside * angle.sin(), y + aside * angle.cos()), random);
            walker.find(random);
            left -= 1;
        }
    }
    walker.leg((50.0, 50.0), random);
    walker.way
}

struct Walker {
    way: Way,
    pace: f64,
}

impl Walker {
    fn here(&self) -> (f64, f64) {
        (self.way.east[self.way.east.len() - 1], self.way.north[self.way.north.len() - 1])
    }

    fn step(&mut self, to: (f64, f64), searched: bool) {
        self.way.east.push(to.0);
        self.way.north.push(to.1);
        self.way.searched.push(searched);
    }

    /// Straight to a point, around what stands in between, slower over the last metres.
    fn leg(&mut self, to: (f64, f64), random: &mut Random) {
        let pace = self.pace * (0.15 * random.normal()).exp();
        let mut sideways = 0.0;
        for _ in 0..3_000 {
            let (x, y) = self.here();
            let (east, north) = (to.0 - x, to.1 - y);
            let left = east.hypot(north);
            if left < 1.0 {
                break;
            }
            sideways = 0.9 * sideways + 0.12 * random.normal();
            let speed = pace * (left / 10.0).clamp(0.3, 1.0) * random.between(0.85, 1.15);
            let (along, across) = (speed.min(left) / left, speed * sideways / left);
            self.step(
                (x + along * east - across * north, y + along * north + across * east),
                false,
            );
        }
    }

    /// Looks about in a small loop half of the time, then stands at what was found.
    fn find(&mut self, random: &mut Random) {
        if random.chance(0.5) {
            let (x, y) = self.here();
            let (wide, lasts) = (random.between(2.0, 7.0), random.between(25.0, 90.0));
            let turn = random.between(0.0, TAU);
            for k in 0..lasts as usize {
                let angle = turn + TAU * k as f64 / lasts;
                let east = x + wide * (angle.sin() - turn.sin());
                let north = y + wide * (angle.cos() - turn.cos());
                self.step((east, north), true);
            }
        }
        let lasts = (80.0_f64.ln() + 0.5 * random.normal()).exp().clamp(30.0, 400.0);
        self.stop(lasts, true, random);
    }

    fn stop(&mut self, seconds: f64, find: bool, random: &mut Random) {
        let start = self.way.seconds();
        let (east, north) = self.here();
        let (mut x, mut y) = (0.0, 0.0);
        for _ in 0..seconds as usize {
            x += -0.05 * x + 0.06 * random.normal();
            y += -0.05 * y + 0.06 * random.normal();
            self.step((east + x, north + y), false);
        }
        self.way.stops.push(TrueStand { start, end: self.way.seconds(), east, north, find });
    }
}

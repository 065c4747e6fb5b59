//! Simulates the true track of a collector second by second: walking to a place, searching around
//! it, stopping at a find.

use std::f64::consts::TAU;

use crate::ground::PlanePoint;
use crate::rng::Rng;

/// The true track.
pub(crate) struct TrueTrack {
    /// One spot for each second since the start.
    pub(crate) spots: Vec<PlanePoint>,
    /// The stops, in order.
    pub(crate) stops: Vec<Stop>,
}

/// A stop at a find.
#[derive(Clone, Copy)]
pub(crate) struct Stop {
    /// Index into the sites.
    pub(crate) site: usize,
    /// Seconds since the start.
    pub(crate) from: usize,
    /// Seconds since the start.
    pub(crate) until: usize,
    /// The position of the fungus, within about 1.5 m of the collector.
    pub(crate) find: PlanePoint,
}

impl TrueTrack {
    pub(crate) fn begin(at: PlanePoint) -> Self {
        Self { spots: vec![at], stops: Vec::new() }
    }

    pub(crate) fn seconds(&self) -> usize {
        self.spots.len()
    }

    fn here(&self) -> PlanePoint {
        self.spots[self.spots.len() - 1]
    }

    /// Walks to within a few metres, weaving between trees.
    pub(crate) fn walk(&mut self, target: PlanePoint, metres_per_second: f64, rng: &mut Rng) {
        let mut weave = 0.0;
        while self.here().distance(target) > 4.0 {
            let here = self.here();
            let straight = (target.north - here.north).atan2(target.east - here.east);
            weave = 0.96 * weave + rng.normal(0.12);
            let step = metres_per_second * rng.between(0.75, 1.2);
            self.spots.push(here.moved(straight + weave.clamp(-1.2, 1.2), step));
        }
    }

    /// Moves slowly back and forth around a place, with short halts.
    pub(crate) fn search(&mut self, about: PlanePoint, seconds: usize, rng: &mut Rng) {
        let end = self.seconds() + seconds;
        while self.seconds() < end {
            let next = about.moved(rng.between(0.0, TAU), rng.between(4.0, 16.0));
            while self.here().distance(next) > 0.6 && self.seconds() < end {
                let here = self.here();
                let straight = (next.north - here.north).atan2(next.east - here.east);
                let step = rng.between(0.15, 0.6).min(here.distance(next));
                self.spots.push(here.moved(straight + rng.normal(0.25), step));
            }
            let halt = rng.between(2.0, 12.0);
            self.rest(halt as usize, 0.05, rng);
        }
    }

    /// Steps up to a find and stays there.
    pub(crate) fn stop(&mut self, site: usize, find: PlanePoint, seconds: usize, rng: &mut Rng) {
        let knees = find.moved(rng.between(0.0, TAU), rng.between(0.4, 1.6));
        while self.here().distance(knees) > 0.8 {
            let here = self.here();
            let straight = (knees.north - here.north).atan2(knees.east - here.east);
            self.spots.push(here.moved(straight, here.distance(knees).min(0.7)));
        }
        let from = self.seconds();
        self.rest(seconds, 0.12, rng);
        self.stops.push(Stop { site, from, until: self.seconds(), find });
    }

    /// Stays in place with small movements.
    pub(crate) fn rest(&mut self, seconds: usize, sway: f64, rng: &mut Rng) {
        let middle = self.here();
        for _ in 0..seconds {
            let here = self.here();
            self.spots.push(PlanePoint::new(
                middle.east + 0.9 * (here.east - middle.east) + rng.normal(sway),
                middle.north + 0.9 * (here.north - middle.north) + rng.normal(sway),
            ));
        }
    }
}

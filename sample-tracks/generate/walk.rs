//! Simulates the true track of a collector second by second: walking to a place, searching around
//! it, stopping at a find.

use std::f64::consts::TAU;

use crate::ground::Spot;
use crate::rng::Chance;

/// The true way.
pub(crate) struct Way {
    /// One spot for each second since the start.
    pub(crate) spots: Vec<Spot>,
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
    /// Where the fungus is: an arm's length or two from the knees of the collector.
    pub(crate) find: Spot,
}

impl Way {
    pub(crate) fn begin(at: Spot) -> Self {
        Self { spots: vec![at], stops: Vec::new() }
    }

    pub(crate) fn seconds(&self) -> usize {
        self.spots.len()
    }

    fn here(&self) -> Spot {
        self.spots[self.spots.len() - 1]
    }

    /// Walks to within a few metres, weaving between trees.
    pub(crate) fn walk(&mut self, target: Spot, metres_per_second: f64, chance: &mut Chance) {
        let mut weave = 0.0;
        while self.here().distance(target) > 4.0 {
            let here = self.here();
            let straight = (target.north - here.north).atan2(target.east - here.east);
            weave = 0.96 * weave + chance.normal(0.12);
            let step = metres_per_second * chance.between(0.75, 1.2);
            self.spots.push(here.moved(straight + weave.clamp(-1.2, 1.2), step));
        }
    }

    /// Moves slowly to and fro about a place, with short halts.
    pub(crate) fn search(&mut self, about: Spot, seconds: usize, chance: &mut Chance) {
        let end = self.seconds() + seconds;
        while self.seconds() < end {
            let next = about.moved(chance.between(0.0, TAU), chance.between(4.0, 16.0));
            while self.here().distance(next) > 0.6 && self.seconds() < end {
                let here = self.here();
                let straight = (next.north - here.north).atan2(next.east - here.east);
                let step = chance.between(0.15, 0.6).min(here.distance(next));
                self.spots.push(here.moved(straight + chance.normal(0.25), step));
            }
            let halt = chance.between(2.0, 12.0);
            self.rest(halt as usize, 0.05, chance);
        }
    }

    /// Steps up to a find and stays there.
    pub(crate) fn stop(&mut self, site: usize, find: Spot, seconds: usize, chance: &mut Chance) {
        let knees = find.moved(chance.between(0.0, TAU), chance.between(0.4, 1.6));
        while self.here().distance(knees) > 0.8 {
            let here = self.here();
            let straight = (knees.north - here.north).atan2(knees.east - here.east);
            self.spots.push(here.moved(straight, here.distance(knees).min(0.7)));
        }
        let from = self.seconds();
        self.rest(seconds, 0.12, chance);
        self.stops.push(Stop { site, from, until: self.seconds(), find });
    }

    /// Stays, shifting weight.
    pub(crate) fn rest(&mut self, seconds: usize, sway: f64, chance: &mut Chance) {
        let middle = self.here();
        for _ in 0..seconds {
            let here = self.here();
            self.spots.push(Spot::new(
                middle.east + 0.9 * (here.east - middle.east) + chance.normal(sway),
                middle.north + 0.9 * (here.north - middle.north) + chance.normal(sway),
            ));
        }
    }
}

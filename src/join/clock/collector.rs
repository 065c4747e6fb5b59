//! Estimates how the collector photographs: at any time in a stop or in the middle of it, the first
//! photograph soon after arrival, the last soon before departure, or both; arriving directly or searching,
//! leaving directly or searching. All hypotheses are evaluated over the day and weighted by their
//! likelihood. Layer: `join`.

use std::sync::LazyLock;

use super::delay::{DELAYS, FIRST_SETTLED};
use super::grid::sum_of;
use super::habit::{Each, MANNERS, Stationary};

/// The odds of a stop with photographs against one without, times those of a photograph being the last
/// of its stop.
const PICTURED: f64 = 2.0;
/// The probability that another photograph follows in a stop.
const ANOTHER: f64 = 0.5;

/// A hypothesis on the collector's habits.
pub(super) struct Collector {
    /// Its probability.
    share: f64,
    /// Its types of stop: probability, delay before and delay after the photographs.
    stops: Vec<(f64, usize, usize)>,
}

/// The delays that count as soon, and those of which a stop may have any.
const SOON: std::ops::Range<usize> = 0..4;
const ANY: std::ops::Range<usize> = 1..FIRST_SETTLED;
/// Those that keep photographs to the middle of a stop.
const MIDDLE: std::ops::Range<usize> = FIRST_SETTLED..DELAYS;

static COLLECTORS: LazyLock<Vec<Collector>> = LazyLock::new(|| {
    /// Against one for the collector whose photographs may fall anywhere in a stop. A habit shifts the
    /// offset by what it supposes, so a rarer one asks for better evidence.
    const HABITUAL: f64 = 0.3;
    const KEEPS_TO_THE_MIDDLE: f64 = 0.05;
    let any = |of: &dyn Fn(usize) -> (usize, usize)| {
        let share = 1.0 / ANY.len() as f64;
        ANY.map(|delay| (share, of(delay).0, of(delay).1)).collect()
    };
    let habitual = |stops| Collector { share: HABITUAL, stops };
    let mut all = vec![Collector { share: 1.0, stops: any(&|delay| (delay, delay)) }];
    all.push(Collector {
        share: KEEPS_TO_THE_MIDDLE,
        stops: MIDDLE.map(|delay| (1.0 / MIDDLE.len() as f64, delay, delay)).collect(),
    });
    for soon in SOON {
        all.push(habitual(any(&|delay| (soon, delay))));
        all.push(habitual(any(&|delay| (delay, soon))));
        all.extend(SOON.map(|late| habitual(vec![(1.0, soon, late)])));
    }
    all
});

/// The observations at the time of a photograph.
pub(super) struct Moment {
    /// Stationary through the step in which it lies.
    pub(super) stopped: f64,
    /// The rate of photographs taken while not stationary.
    pub(super) elsewhere: f64,
    /// As the first of its stop, for each mode of arrival.
    pub(super) opened: Each<Stationary>,
    /// As the last of its stop, for each mode of departure.
    pub(super) closed: Each<Stationary>,
    /// As one more of the stop of the photograph before, if that was on the track.
    pub(super) since: Option<Since>,
}

/// From one photograph to the next in one stop.
pub(super) struct Since {
    /// The density of another photograph after so long.
    more: f64,
    /// If it is another step: stationary through the rest of the earlier one, and from there.
    through: Option<(f64, f64)>,
}

/// How many modes of arrival and departure.
pub(super) const BOTH: usize = MANNERS * MANNERS;

/// The sum over all assignments of the photographs so far to stops, for every mode of arrival and departure
/// and every collector hypothesis.
pub(super) struct AssignmentSums([Vec<Sum>; BOTH]);

impl AssignmentSums {
    pub(super) fn new() -> Self {
        let sum = |kind: &Collector| Sum {
            log: kind.share.ln(),
            scale: 1.0,
            idle: 1.0,
            open: vec![(0.0, 0.0); kind.stops.len()],
        };
        Self(std::array::from_fn(|_| COLLECTORS.iter().map(sum).collect()))
    }

    /// A photograph at a time without information from the track.
    pub(super) fn pass(&mut self, rate: f64) {
        for sum in self.0.iter_mut().flatten() {
            sum.scaled(rate * sum.idle);
            sum.idle = 1.0;
            sum.open.fill((0.0, 0.0));
        }
    }

    /// A photograph at a time covered by the track.
    pub(super) fn update(&mut self, moment: &Moment) {
        for (manner, sums) in self.0.iter_mut().enumerate() {
            let opened = &moment.opened[manner / MANNERS];
            let closed = &moment.closed[manner % MANNERS];
            for (sum, kind) in sums.iter_mut().zip(COLLECTORS.iter()) {
                sum.update(kind, moment, opened, closed);
            }
        }
    }

    /// The log likelihood of all photographs, for each mode of arrival and departure.
    pub(super) fn log_likelihoods(&self) -> [f64; BOTH] {
        self.0.each_ref().map(|sums| {
            let ends: Vec<f64> = sums.iter().map(Sum::log_likelihood).collect();
            sum_of(&ends)
        })
    }
}

/// The smallest likelihood.
const LEAST: f64 = 1e-300;

/// The sum for one kind of collector.
struct Sum {
    log: f64,
    /// What is not yet in the logarithm.
    scale: f64,
    /// Not in a stop with photographs.
    idle: f64,
    /// In one, for each type of stop: since before the step of the last photograph, and since within it.
    open: Vec<(f64, f64)>,
}

impl Sum {
    fn update(
        &mut self,
        kind: &Collector,
        moment: &Moment,
        opened: &Stationary,
        closed: &Stationary,
    ) {
        let (mut idle, mut total) = (self.idle * moment.elsewhere, 0.0);
        let partial_days = PICTURED * self.idle;
        for (open, &(share, early, late)) in self.open.iter_mut().zip(&kind.stops) {
            let (long, fresh) =
                moment.since.as_ref().map_or((0.0, 0.0), |since| since.carry(*open));
            let long = long + partial_days * share * opened[early].0;
            let fresh = fresh + partial_days * share * opened[early].1;
            let (until, within) = closed[late];
            idle += (1.0 - ANOTHER) * (long * (moment.stopped * until + within) + fresh * until);
            total += long * moment.stopped + fresh;
            *open = (long, fresh);
        }
        let scale = (total + idle).max(LEAST);
        self.scaled(scale);
        let inverse = 1.0 / scale;
        self.idle = idle * inverse;
        for open in &mut self.open {
            *open = (open.0 * inverse, open.1 * inverse);
        }
    }

    /// Multiplies by a factor; logarithms are expensive.
    fn scaled(&mut self, factor: f64) {
        const FAR: f64 = 1e-100;
        let factor = factor.max(LEAST);
        if !(FAR..1.0 / FAR).contains(&factor) || !(FAR..1.0 / FAR).contains(&self.scale) {
            self.log += self.scale.ln() + factor.ln();
            self.scale = 1.0;
        } else {
            self.scale *= factor;
        }
    }

    fn log_likelihood(&self) -> f64 {
        self.log + self.scale.ln() + self.idle.max(LEAST).ln()
    }
}

impl Since {
    /// So many seconds after the photograph before. Photographs of one stop follow each other within half a
    /// minute, or within some minutes.
    pub(super) fn of(seconds: f64, through: Option<(f64, f64)>) -> Self {
        let law = |mean: f64| (-seconds / mean).exp() / mean;
        Self { more: ANOTHER * 0.5 * (law(30.0) + law(150.0)), through }
    }

    /// The densities of a stop since before, and since within, the step of the previous photograph.
    fn carry(&self, (long, fresh): (f64, f64)) -> (f64, f64) {
        match self.through {
            Some((rest, between)) => ((long * rest + fresh) * between * self.more, 0.0),
            None => (long * self.more, fresh * self.more),
        }
    }
}

//! Simulates a receiver on a true track: autocorrelated error, larger under closed canopy, a slow
//! component, start-up scatter, jumps, a frozen stretch, gaps.

use std::f64::consts::TAU;

use crate::ground::PlanePoint;
use crate::rng::Rng;
use crate::walk::TrueTrack;

/// Settings and faults of the receiver. Times are seconds since the start.
#[derive(Clone, Default)]
pub(crate) struct Receiver {
    /// Seconds between fixes.
    pub(crate) every: usize,
    /// One standard deviation per axis in the open, metres.
    pub(crate) sigma: f64,
    /// Autocorrelation time of the error, seconds.
    pub(crate) memory: f64,
    /// Stretches without a fix.
    pub(crate) gaps: Vec<(usize, usize)>,
    /// Position jumps: from, until, metres.
    pub(crate) jumps: Vec<(usize, usize, f64)>,
    /// A stretch in which the last fix is repeated.
    pub(crate) frozen: Option<(usize, usize)>,
    /// Whether it was switched on at the car park just before leaving.
    pub(crate) cold_start: bool,
}

/// One recorded fix.
#[derive(Clone, Copy)]
pub(crate) struct Recorded {
    pub(crate) second: usize,
    pub(crate) at: PlanePoint,
    pub(crate) height: f64,
    pub(crate) hdop: f64,
    pub(crate) satellites: u8,
    /// Whether the recording begins again here.
    pub(crate) after_gap: bool,
}

impl Receiver {
    pub(crate) fn record(&self, way: &TrueTrack, rng: &mut Rng) -> Vec<Recorded> {
        let mut fixes: Vec<Recorded> = Vec::new();
        let mut wander = Wander::start(self, rng);
        let mut throw = PlanePoint::new(0.0, 0.0);
        let mut lost = false;
        for (second, &truth) in way.spots.iter().enumerate() {
            wander.step(self, truth.canopy(), rng);
            if second % self.every != 0 {
                continue;
            }
            if self.gaps.iter().any(|&(from, until)| (from..until).contains(&second)) {
                lost = true;
                continue;
            }
            let jump = self.jumps.iter().find(|(from, until, _)| (*from..*until).contains(&second));
            throw = match jump {
                Some(_) if throw.east != 0.0 => throw,
                Some((_, _, metres)) => {
                    PlanePoint::new(0.0, 0.0).moved(rng.between(0.0, TAU), *metres)
                }
                None => PlanePoint::new(0.0, 0.0),
            };
            let settling =
                if self.cold_start { 38.0 * (-(second as f64) / 25.0).exp() } else { 0.0 };
            let at = PlanePoint::new(
                truth.east + wander.east() + throw.east + rng.normal(0.4) + settling,
                truth.north + wander.north() + throw.north + rng.normal(0.4) - 0.6 * settling,
            );
            let mut fix = Recorded {
                second,
                at,
                height: truth.height() + wander.height(),
                hdop: 0.9 * truth.canopy() + rng.between(0.0, 0.7) + settling / 9.0,
                satellites: (13.0 - 3.0 * truth.canopy() + rng.between(-2.0, 2.0)) as u8,
                after_gap: lost,
            };
            if self.frozen.is_some_and(|(from, until)| (from..until).contains(&second))
                && let Some(last) = fixes.last()
            {
                fix = Recorded { second, after_gap: false, ..*last };
            }
            lost = false;
            fixes.push(fix);
        }
        fixes
    }
}

/// An autocorrelated error: a fast and a slow component on each axis, and one for the height.
struct Wander {
    quick: [f64; 3],
    slow: [f64; 3],
}

impl Wander {
    fn start(receiver: &Receiver, rng: &mut Rng) -> Self {
        let mut draw = |share: f64| [(); 3].map(|()| rng.normal(share * receiver.sigma));
        Self { quick: draw(0.9), slow: draw(0.44) }
    }

    fn step(&mut self, receiver: &Receiver, canopy: f64, rng: &mut Rng) {
        for (part, share, memory) in
            [(&mut self.quick, 0.9, receiver.memory), (&mut self.slow, 0.44, 900.0)]
        {
            let keep = (-1.0 / memory).exp();
            let kick = share * receiver.sigma * canopy * (1.0 - keep * keep).sqrt();
            for axis in part {
                // occasional multipath
                let pull = if rng.even() < 0.01 { 4.0 } else { 0.9 };
                *axis = keep * *axis + rng.normal(pull * kick);
            }
        }
    }

    fn east(&self) -> f64 {
        self.quick[0] + self.slow[0]
    }

    fn north(&self) -> f64 {
        self.quick[1] + self.slow[1]
    }

    fn height(&self) -> f64 {
        1.6 * (self.quick[2] + self.slow[2])
    }
}

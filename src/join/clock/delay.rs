//! Models the delay from arrival at a stop to the first photograph and from the last photograph to
//! departure, and the progress of a delay. A memoryless delay ends at a constant rate after a short
//! preparation; a regular one has a typical length. Layer: `join`.

/// Loose delays: their mean lengths, seconds.
const LOOSE: [f64; 6] = [3.0, 7.0, 15.0, 31.0, 63.0, 127.0];
/// Settled delays: their mean lengths, seconds.
const SETTLED: [f64; 4] = [15.0, 31.0, 63.0, 127.0];
/// How many delays are tried: first the loose, then the settled ones.
pub(super) const DELAYS: usize = LOOSE.len() + SETTLED.len();
/// Where the settled ones begin.
pub(super) const FIRST_SETTLED: usize = LOOSE.len();
/// A settled delay is a sum of so many loose ones.
const PARTS: f64 = 3.0;
/// Nobody takes a photograph in the moment of arriving or leaves in that of a photograph: a first part of
/// each loose delay, on average, seconds (common practice).
const READY: f64 = 4.2;
/// The probability of being in a stop with photographs when nothing is known of the track.
const UNKNOWN: f64 = 0.15;

/// What so many seconds do to every delay.
pub(super) struct Lapse {
    /// Not being ready stays.
    unready: f64,
    /// A loose delay goes on, being ready; and one that was not ready becomes it.
    left: [f64; LOOSE.len()],
    readied: [f64; LOOSE.len()],
    /// A settled delay stays in its part, goes on to the next, goes on by two.
    parts: [[f64; 3]; SETTLED.len()],
}

impl Lapse {
    pub(super) fn of(seconds: f64) -> Self {
        let unready = (-seconds / READY).exp();
        let left = LOOSE.map(|mean| (-seconds / mean).exp());
        Self {
            unready,
            left,
            readied: std::array::from_fn(|habit| {
                LOOSE[habit] / (LOOSE[habit] - READY) * (left[habit] - unready)
            }),
            parts: SETTLED.map(|mean| {
                let passed = PARTS * seconds / mean;
                let stays = (-passed).exp();
                [stays, stays * passed, stays * 0.5 * passed * passed]
            }),
        }
    }

    /// The density of each delay that began so long ago to end now.
    pub(super) fn ends(&self) -> [f64; DELAYS] {
        std::array::from_fn(|habit| match habit.checked_sub(LOOSE.len()) {
            None => self.readied[habit] / LOOSE[habit],
            Some(settled) => PARTS / SETTLED[settled] * self.parts[settled][2],
        })
    }
}

/// Standing, by how far each delay has gone.
#[derive(Clone, Copy)]
pub(super) struct Delay {
    /// Not yet ready.
    fresh: f64,
    /// Ready, for each loose delay.
    ready: [f64; LOOSE.len()],
    /// In each part of each settled delay.
    parts: [[f64; 3]; SETTLED.len()],
}

impl Delay {
    /// Where the track gives no information: of each delay its mean length times `scale` of it.
    pub(super) fn unknown(scale: impl Fn(f64) -> f64) -> Self {
        Self {
            fresh: 0.0,
            ready: LOOSE.map(|mean| UNKNOWN * scale(mean)),
            parts: SETTLED.map(|mean| [UNKNOWN * scale(mean) / PARTS; 3]),
        }
    }

    /// The density of each delay to end so much later.
    pub(super) fn ends_after(&self, lapse: &Lapse) -> [f64; DELAYS] {
        std::array::from_fn(|habit| match habit.checked_sub(LOOSE.len()) {
            None => {
                let gone = self.ready[habit] * lapse.left[habit];
                (gone + self.fresh * lapse.readied[habit]) / LOOSE[habit]
            }
            Some(settled) => {
                PARTS / SETTLED[settled] * advanced(&self.parts[settled], &lapse.parts[settled])[2]
            }
        })
    }

    /// After a lapse with this probability of being stationary throughout.
    pub(super) fn through(&self, lapse: &Lapse, stopped: f64) -> Self {
        Self {
            fresh: self.fresh * lapse.unready * stopped,
            ready: std::array::from_fn(|habit| {
                let readied = self.fresh * lapse.readied[habit];
                (self.ready[habit] * lapse.left[habit] + readied) * stopped
            }),
            parts: std::array::from_fn(|habit| {
                advanced(&self.parts[habit], &lapse.parts[habit]).map(|part| part * stopped)
            }),
        }
    }

    /// Adds those whose delay began so long ago.
    pub(super) fn begin(&mut self, weight: f64, lapse: &Lapse) {
        self.fresh += weight * lapse.unready;
        for (ready, readied) in self.ready.iter_mut().zip(lapse.readied) {
            *ready += weight * readied;
        }
        for (parts, new) in self.parts.iter_mut().zip(lapse.parts) {
            for (part, new) in parts.iter_mut().zip(new) {
                *part += weight * new;
            }
        }
    }
}

/// The parts of a settled delay after a lapse.
fn advanced(&[first, second, third]: &[f64; 3], &[stays, next, over]: &[f64; 3]) -> [f64; 3] {
    [stays * first, stays * second + next * first, stays * third + next * second + over * first]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn delay_has_its_mean_length_and_ends() {
        for (habit, mean) in LOOSE.iter().map(|mean| mean + READY).chain(SETTLED).enumerate() {
            let densities = (0..200_000).map(|n| {
                let time = 0.01 * f64::from(n);
                (time, Lapse::of(time).ends()[habit])
            });
            let (mass, first) = densities.fold((0.0, 0.0), |sum, (time, density)| {
                (sum.0 + 0.01 * density, sum.1 + 0.01 * density * time)
            });
            assert!((mass - 1.0).abs() < 1e-3, "{habit}: {mass}");
            // the mean of a sum of exponential laws
            assert!((first - mean).abs() < 0.1, "{habit}: {first} for {mean}");
        }
    }

    #[test]
    fn two_lapses_equal_one_of_their_total_length() {
        let mut partial_days = Delay { fresh: 0.0, ready: [0.0; 6], parts: [[0.0; 3]; 4] };
        partial_days.begin(1.0, &Lapse::of(2.0));
        let later = partial_days.through(&Lapse::of(9.0), 1.0).ends_after(&Lapse::of(14.0));
        for (later, at_once) in later.iter().zip(Lapse::of(25.0).ends()) {
            assert!((later - at_once).abs() < 1e-15, "{later} {at_once}");
        }
    }
}

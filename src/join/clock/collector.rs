//! What kind of photographer is the collector? Pictures spread over the stand or kept to its middle,
//! the first soon after arriving, the last soon before leaving, or both: each is reckoned through the day beside the
//! others, and the day tells. Layer: `join`.

use std::sync::LazyLock;

use super::habit::{DELAYS, FIRST_SETTLED, Standing};

/// The odds of a stand with pictures against one without, times those of a picture being the last
/// of its stand.
const PICTURED: f64 = 2.0;
/// The probability that another picture follows in a stand.
const ANOTHER: f64 = 0.5;

/// A kind of collector.
pub(super) struct Collector {
    /// Its probability.
    share: f64,
    /// What a stand of his may be like: probability, delay before and delay after the pictures.
    stands: Vec<(f64, usize, usize)>,
}

/// The delays that count as soon, and those of which a stand may have any.
const SOON: std::ops::Range<usize> = 0..4;
const ANY: std::ops::Range<usize> = 1..FIRST_SETTLED;
/// Those that keep pictures to the middle of a stand.
const MIDDLE: std::ops::Range<usize> = FIRST_SETTLED..DELAYS;

static COLLECTORS: LazyLock<Vec<Collector>> = LazyLock::new(|| {
    /// Against one for the collector whose pictures may fall anywhere in a stand. A habit shifts the
    /// offset by what it supposes, so a rarer one asks for better evidence.
    const HABITUAL: f64 = 0.3;
    const KEEPS_TO_THE_MIDDLE: f64 = 0.05;
    let any = |of: &dyn Fn(usize) -> (usize, usize)| {
        let share = 1.0 / ANY.len() as f64;
        ANY.map(|delay| (share, of(delay).0, of(delay).1)).collect()
    };
    let habitual = |stands| Collector { share: HABITUAL, stands };
    let mut all = vec![Collector { share: 1.0, stands: any(&|delay| (delay, delay)) }];
    all.push(Collector {
        share: KEEPS_TO_THE_MIDDLE,
        stands: MIDDLE.map(|delay| (1.0 / MIDDLE.len() as f64, delay, delay)).collect(),
    });
    for soon in SOON {
        all.push(habitual(any(&|delay| (soon, delay))));
        all.push(habitual(any(&|delay| (delay, soon))));
        all.extend(SOON.map(|late| habitual(vec![(1.0, soon, late)])));
    }
    all
});

/// What the moment of a picture has to say.
pub(super) struct Moment {
    /// Standing through the step in which it lies.
    pub(super) stood: f64,
    /// The rate of pictures taken otherwise than standing.
    pub(super) elsewhere: f64,
    /// As the first of its stand.
    pub(super) opened: Standing,
    /// As the last of its stand.
    pub(super) closed: Standing,
    /// As one more of the stand of the picture before, if that was on the track.
    pub(super) since: Option<Since>,
}

/// From one picture to the next in one stand.
pub(super) struct Since {
    /// Seconds.
    pub(super) seconds: f64,
    /// Where it is not the same step: standing through the rest of the earlier one, and from there.
    pub(super) through: Option<(f64, f64)>,
}

/// The sum over all ways of giving the pictures so far to stands, for every kind of collector.
pub(super) struct Reckoning(Vec<Sum>);

impl Reckoning {
    pub(super) fn new() -> Self {
        let sum = |kind: &Collector| Sum {
            log: kind.share.ln(),
            idle: 1.0,
            open: vec![(0.0, 0.0); kind.stands.len()],
        };
        Self(COLLECTORS.iter().map(sum).collect())
    }

    /// A picture at a moment of which the track says nothing.
    pub(super) fn pass(&mut self, rate: f64) {
        for sum in &mut self.0 {
            sum.log += (rate * sum.idle).max(LEAST).ln();
            sum.idle = 1.0;
            sum.open.fill((0.0, 0.0));
        }
    }

    /// A picture on the track.
    pub(super) fn hear(&mut self, moment: &Moment) {
        for (sum, kind) in self.0.iter_mut().zip(COLLECTORS.iter()) {
            sum.hear(kind, moment);
        }
    }

    /// The log likelihood of all pictures.
    pub(super) fn log_likelihood(&self) -> f64 {
        let ends: Vec<f64> = self.0.iter().map(|sum| sum.log + sum.idle.max(LEAST).ln()).collect();
        let top = ends.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        top + ends.iter().map(|end| (end - top).exp()).sum::<f64>().ln()
    }
}

/// No likelihood is nothing.
const LEAST: f64 = 1e-300;

/// The sum for one kind of collector.
struct Sum {
    log: f64,
    /// Not in a stand with pictures.
    idle: f64,
    /// In one, for each sort of it: since before the step of the last picture, and since within it.
    open: Vec<(f64, f64)>,
}

impl Sum {
    fn hear(&mut self, kind: &Collector, moment: &Moment) {
        let (mut idle, mut total) = (self.idle * moment.elsewhere, 0.0);
        for (open, &(share, early, late)) in self.open.iter_mut().zip(&kind.stands) {
            let (long, fresh) =
                moment.since.as_ref().map_or((0.0, 0.0), |since| since.carry(*open));
            let begun = PICTURED * self.idle * share;
            let long = long + begun * moment.opened[early].0;
            let fresh = fresh + begun * moment.opened[early].1;
            let (until, within) = moment.closed[late];
            idle += (1.0 - ANOTHER) * (long * (moment.stood * until + within) + fresh * until);
            total += long * moment.stood + fresh;
            *open = (long, fresh);
        }
        let scale = (total + idle).max(LEAST);
        self.log += scale.ln();
        self.idle = idle / scale;
        for open in &mut self.open {
            *open = (open.0 / scale, open.1 / scale);
        }
    }
}

impl Since {
    /// What becomes of standing since before, and since within, the step of the picture before.
    fn carry(&self, (long, fresh): (f64, f64)) -> (f64, f64) {
        let more = ANOTHER * self.density();
        match self.through {
            Some((rest, between)) => ((long * rest + fresh) * between * more, 0.0),
            None => (long * more, fresh * more),
        }
    }

    /// Pictures of one stand follow each other within half a minute, or within some minutes.
    fn density(&self) -> f64 {
        let law = |mean: f64| (-self.seconds / mean).exp() / mean;
        0.5 * (law(30.0) + law(150.0))
    }
}

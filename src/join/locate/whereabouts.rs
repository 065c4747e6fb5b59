//! Where was the collector at a given time, all fixes about it considered? A mixture of circles:
//! every plausible coming to and leaving of a stand is tried, each with its likelihood, and going
//! through without standing as well. So the uncertain ends of a stand, sparse fixes and gaps widen
//! the answer by themselves. Outside the stand that is tried, people move as the gaits tell: a stop
//! just before it is a stop of its own and no reason to stretch the stand. Layer: `join`.

use super::super::frame::{Frame, Frames};
use super::super::gait::Gaits;
use super::super::kalman::{Belief, Motion, Receiver, Transition};
use super::super::receiver::Estimate;
use super::super::smooth::{GATE, GOING, STANDING, mixed};
use super::circle::Circle;
use super::gap::{self, Edge, Unseen};
use super::meet::meet;

/// The track as far as positions need it.
#[derive(Clone, Copy)]
pub(crate) struct Ground<'a> {
    pub(crate) frames: &'a Frames,
    pub(crate) gaits: &'a Gaits,
    pub(crate) receiver: &'a Estimate,
}

/// Fixes before a stand that still bear on it, seconds.
const APPROACH: f64 = 150.0;
/// A stand lasts so long on average, seconds.
const STAND_LASTS: f64 = 110.0;
/// The longest stand that is looked for, seconds.
const LONGEST: f64 = 1_500.0;
/// So many seconds of surely going end the search for a stand's end.
const SURELY_GOING: f64 = 45.0;
/// A step longer than this may hold a whole stand, so its gait is left open, seconds.
const OPEN_STEP: f64 = 25.0;
/// Beyond the ends of the track by more than this nothing is said, seconds.
pub(crate) const BEYOND: f64 = 900.0;

/// A belief at the asked time from the fixes on one side, with its log weight.
type Side = Vec<(f64, Belief)>;

/// Where the collector was.
#[derive(Clone, Debug, Default)]
pub(crate) struct Whereabouts {
    /// A mixture; weights add up to one. Empty beyond the ends of the track.
    pub(crate) circles: Vec<Circle>,
    /// Of the variance within the circles what comes from moving unseen.
    pub(crate) travelled: f64,
}

/// Where the collector was who did something from `first` to `last`, seconds since the day's origin,
/// at one place. `standing` is the probability that people stand for such a thing.
pub(crate) fn whereabouts(ground: Ground, first: f64, last: f64, standing: f64) -> Whereabouts {
    let all = &ground.frames.all;
    let (Some(start), Some(end)) = (all.first(), all.last()) else {
        return Whereabouts::default();
    };
    if last > end.time + BEYOND || first < start.time - BEYOND {
        return Whereabouts::default();
    }
    let split = all.partition_point(|frame| frame.time <= first);
    let centre = nearest(all, split, first);
    let before = Half::new(ground, all[..split].iter().rev(), centre, first, first);
    let after = Half::new(ground, all[split..].iter(), centre, first, last);
    let edges = [
        before.edge(split.checked_sub(1), 0.0),
        after.edge((split < all.len()).then_some(split), last - first),
    ];
    let (share, unseen) = unseen_circles(ground, edges);
    let mut seen = Vec::new();
    if share < 1.0 {
        seen = seen_circles(ground, &before, &after, standing);
    }
    together(seen, unseen, share, centre)
}

/// What the fixes say together, stood or went.
fn seen_circles(ground: Ground, before: &Half, after: &Half, standing: f64) -> Vec<Circle> {
    let receiver = &ground.receiver.receiver;
    let stood = join(&before.stood(), &after.stood(), STANDING.speed, receiver);
    let went = join(&before.went(), &after.went(), GOING.speed, receiver);
    let mut circles = Vec::with_capacity(stood.len() + 1);
    for (share, found) in [(standing, stood), (1.0 - standing, went)] {
        circles.extend(found.into_iter().map(|(weight, circle)| (weight + share.ln(), circle)));
    }
    normalised(circles)
}

/// The answer of a gap or of an end of the track, and the share that it deserves.
fn unseen_circles(ground: Ground, edges: [Option<Edge>; 2]) -> (f64, Vec<Unseen>) {
    match edges {
        // what was done reached into the fixes
        [_, Some(after)] if after.away <= 0.0 => (0.0, Vec::new()),
        [Some(before), Some(after)] => match gap::share_between(before.away + after.away) {
            share if share > 0.0 => (share, gap::between(ground, &before, &after)),
            _ => (0.0, Vec::new()),
        },
        [Some(edge), None] | [None, Some(edge)] => match gap::share_beyond(edge.away) {
            share if share > 0.0 => (share, gap::beyond(ground, &edge, edges[0].is_some())),
            _ => (0.0, Vec::new()),
        },
        [None, None] => (0.0, Vec::new()),
    }
}

/// Both answers as one mixture, back on the plane.
fn together(
    mut circles: Vec<Circle>,
    unseen: Vec<Unseen>,
    share: f64,
    centre: (f64, f64),
) -> Whereabouts {
    let mut travelled = 0.0;
    for circle in &mut circles {
        circle.weight *= 1.0 - share;
    }
    for Unseen { circle, travelled: part } in unseen {
        let weight = share * circle.weight;
        travelled += weight * part;
        circles.push(Circle { weight, ..circle });
    }
    for circle in &mut circles {
        circle.east += centre.0;
        circle.north += centre.1;
    }
    Whereabouts { circles, travelled }
}

fn nearest(all: &[Frame], split: usize, time: f64) -> (f64, f64) {
    let gap = |k: &usize| (all[*k].time - time).abs();
    let (below, above) = (split.saturating_sub(1), split.min(all.len() - 1));
    let k = if gap(&below) <= gap(&above) { below } else { above };
    (all[k].east, all[k].north)
}

/// The fixes on one side of a time, told from far to near.
struct Half {
    receiver: Receiver,
    /// Seconds before the asked time (negative) and the frame about the centre, in order.
    frames: Vec<(f64, Frame)>,
    /// For each frame how people move on the way to it, unless the stand that is tried holds it.
    motions: Vec<Motion>,
    /// A stand must reach at least this far from the asked time, seconds.
    least: f64,
}

impl Half {
    fn new<'f>(
        ground: Ground,
        near_first: impl Iterator<Item = &'f Frame>,
        centre: (f64, f64),
        asked: f64,
        through: f64,
    ) -> Self {
        let least = (through - asked).abs();
        let (mut frames, mut motions) = (Vec::new(), Vec::new());
        let mut going = 0.0;
        let mut last = 0.0;
        let mut left = f64::INFINITY;
        for frame in near_first {
            let away = (frame.time - asked).abs();
            if away > left && frames.len() > 1 {
                break;
            }
            let odds = ground.gaits.standing(frame.time).unwrap_or(0.5);
            if away > least {
                going += (1.0 - odds) * (away - last);
            }
            if (going > SURELY_GOING || away > LONGEST) && left.is_infinite() {
                left = away + APPROACH;
            }
            last = away;
            let frame =
                Frame { east: frame.east - centre.0, north: frame.north - centre.1, ..*frame };
            frames.push((-away, frame));
            motions.push(mixed(odds, 0.0));
        }
        frames.reverse();
        motions.reverse();
        Self { receiver: ground.receiver.receiver, frames, motions, least }
    }

    fn white2(&self, frame: &Frame) -> f64 {
        self.receiver.white.powi(2) / (frame.count * frame.trust)
    }

    /// How people move on the way to frame `k`, unless the stand that is tried holds it.
    fn motion(&self, k: usize, dt: f64) -> &Motion {
        if dt > OPEN_STEP { &GOING } else { &self.motions[k] }
    }

    /// The belief that the way makes of each frame, with the log likelihood so far.
    fn gone(&self) -> Vec<(f64, Belief)> {
        let mut beliefs: Vec<(f64, Belief)> = Vec::with_capacity(self.frames.len());
        for (k, (time, frame)) in self.frames.iter().enumerate() {
            let (log, before) = match beliefs.last() {
                None => (0.0, start(frame, &self.receiver)),
                Some((log, belief)) => {
                    let dt = time - self.frames[k - 1].0;
                    (*log, belief.predicted(&self.transition(dt, self.motion(k, dt))))
                }
            };
            beliefs.push(self.hear(log, &before, frame));
        }
        beliefs
    }

    fn transition(&self, dt: f64, motion: &Motion) -> Transition {
        Transition::over(dt, motion, &self.receiver)
    }

    fn hear(&self, log: f64, before: &Belief, frame: &Frame) -> (f64, Belief) {
        let white2 = self.white2(frame);
        let mut before = *before;
        let mut seen = before.innovation((frame.east, frame.north), white2);
        let surprise = seen.chi_square() / GATE;
        if surprise > 1.0 {
            // the error has leapt, and stays; what no leap explains is a stray fix
            let unexplained = seen.variance * (surprise - 1.0);
            let leap = unexplained.min(self.receiver.sigma.powi(2));
            before.cov.ee += leap;
            seen = before.innovation((frame.east, frame.north), white2 + unexplained - leap);
        }
        (log + seen.log_density(), before.updated(&seen))
    }

    /// What is known at the frame nearest to the asked time; what was done lasted so long beyond it.
    fn edge(&self, frame: Option<usize>, lasted: f64) -> Option<Edge> {
        let (frame, (_, belief)) = (frame?, *self.gone().last()?);
        let away = -self.frames[self.frames.len() - 1].0 - lasted;
        Some(Edge { away, belief, frame })
    }

    /// Going right up to the asked time.
    fn went(&self) -> Side {
        let Some(&(log, belief)) = self.gone().last() else { return Vec::new() };
        let dt = -self.frames[self.frames.len() - 1].0;
        vec![(log, belief.predicted(&self.transition(dt, &GOING)))]
    }

    /// Coming to stand at each of many times, and standing from then on.
    fn stood(&self) -> Side {
        let gone = self.gone();
        let Some(last) = self.frames.len().checked_sub(1) else { return Vec::new() };
        let mut side: Side = Vec::new();
        let mut total = 0.0;
        let mut away = self.least;
        let mut k = last;
        let oldest = -self.frames[0].0;
        loop {
            let width = (0.08 * away).clamp(2.5, 30.0);
            // the frame before this time; the oldest hypothesis has stood ever since the first
            while k > 0 && -self.frames[k].0 < away {
                k -= 1;
            }
            let prior = width * (-away / STAND_LASTS).exp();
            total += prior;
            side.push(self.stand_from(&gone, k, away, prior.ln()));
            away += width;
            if away > oldest + width || away > LONGEST || self.ended(away) {
                break;
            }
        }
        for (log, _) in &mut side {
            *log -= total.ln();
        }
        side
    }

    /// Whether a stand of this length would reach far into sure going.
    fn ended(&self, away: f64) -> bool {
        let oldest = -self.frames[0].0;
        oldest > APPROACH && away > oldest - APPROACH + 30.0 && away > self.least + 60.0
    }

    /// Going up to `away` seconds from the asked time, after frame `k`, and standing then.
    fn stand_from(&self, gone: &[(f64, Belief)], k: usize, away: f64, prior: f64) -> (f64, Belief) {
        let (mut log, mut belief) = gone[k];
        let mut now = self.frames[k].0;
        if -away > now {
            let dt = -away - now;
            belief = belief.predicted(&self.transition(dt, &GOING));
            now = -away;
        }
        belief = at_rest(&belief);
        let since = now;
        for (time, frame) in self.frames[k + 1..].iter().filter(|(time, _)| *time > since) {
            let before = belief.predicted(&self.transition(time - now, &STANDING));
            (log, belief) = self.hear(log, &before, frame);
            now = *time;
        }
        (log + prior, belief.predicted(&self.transition(-now, &STANDING)))
    }
}

fn start(frame: &Frame, receiver: &Receiver) -> Belief {
    Belief::first((frame.east, frame.north), 1e3, &GOING, receiver)
}

/// The velocity gone, all else kept.
fn at_rest(belief: &Belief) -> Belief {
    let mut rest = *belief;
    rest.east[1] = 0.0;
    rest.north[1] = 0.0;
    rest.cov.vv = STANDING.speed * STANDING.speed;
    rest.cov.xv = 0.0;
    rest.cov.ve = 0.0;
    rest
}

/// Both sides together, pair by pair.
fn join(before: &Side, after: &Side, speed: f64, receiver: &Receiver) -> Vec<(f64, Circle)> {
    let alone = |side: &Side| {
        side.iter().map(|(log, belief)| (*log, Circle::of(belief))).collect::<Vec<_>>()
    };
    match (before.is_empty(), after.is_empty()) {
        (true, _) => return alone(after),
        (_, true) => return alone(before),
        _ => {}
    }
    let (before, after) = (likely(before), likely(after));
    let mut pairs = Vec::with_capacity(before.len() * after.len());
    for (log_before, left) in &before {
        for (log_after, right) in &after {
            let (log, circle) = meet(left, right, speed, receiver);
            pairs.push((log_before + log_after + log, circle));
        }
    }
    pairs
}

/// The hypotheses that are not hopeless beside the best of their side. A stand's two ends meet in
/// one place, so the bar is low.
fn likely(side: &Side) -> Side {
    let top = side.iter().map(|entry| entry.0).fold(f64::NEG_INFINITY, f64::max);
    side.iter().filter(|entry| entry.0 > top - 12.0).copied().collect()
}

fn normalised(mut circles: Vec<(f64, Circle)>) -> Vec<Circle> {
    let top = circles.iter().map(|entry| entry.0).fold(f64::NEG_INFINITY, f64::max);
    circles.retain(|entry| entry.0 > top - 8.0);
    let total: f64 = circles.iter().map(|entry| (entry.0 - top).exp()).sum();
    let weighed =
        |(log, circle): (f64, Circle)| Circle { weight: (log - top).exp() / total, ..circle };
    circles.into_iter().map(weighed).collect()
}

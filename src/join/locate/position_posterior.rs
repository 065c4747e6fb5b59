//! Estimates the collector's position at a given time from all fixes around it, as a mixture of circular
//! normal components: stopped or walking according to the fixes on both sides; in gaps and beyond the ends
//! of the track from the movement model fitted to the day. Layer: `join`.

use super::super::activity::Activities;
use super::super::frame::{Frame, Frames};
use super::super::kalman::Receiver;
use super::super::receiver::Estimate;
use super::super::smooth::{GOING, STANDING};
use super::circle::Circle;
use super::gap::{self, Unseen};
use super::half::{Half, Side};
use super::meet::meet;

/// The track as far as positions need it.
#[derive(Clone, Copy)]
pub(crate) struct TrackModel<'a> {
    pub(crate) frames: &'a Frames,
    pub(crate) activities: &'a Activities,
    pub(crate) receiver: &'a Estimate,
    /// Path length per second, stops included, metres.
    pub(crate) pace: f64,
}

/// No position is estimated farther than this outside the track, seconds.
pub(crate) const BEYOND: f64 = 900.0;

/// The posterior of the collector's position.
#[derive(Clone, Debug, Default)]
pub(crate) struct PositionPosterior {
    /// A mixture; weights add up to one. Empty beyond the ends of the track.
    pub(crate) circles: Vec<Circle>,
    /// The part of the variance within components that is due to movement without fixes.
    pub(crate) travelled: f64,
}

/// Where the collector was who did something from `first` to `last`, seconds since the day's origin,
/// at one place. `stationary` is the probability that people are stationary for it.
pub(crate) fn position_posterior(
    track_model: TrackModel,
    first: f64,
    last: f64,
    stationary: f64,
) -> PositionPosterior {
    let all = &track_model.frames.all;
    let (Some(start), Some(end)) = (all.first(), all.last()) else {
        return PositionPosterior::default();
    };
    if last > end.time + BEYOND || first < start.time - BEYOND {
        return PositionPosterior::default();
    }
    let split = all.partition_point(|frame| frame.time <= first);
    let centre = nearest(all, split, first);
    let before = Half::new(track_model, all[..split].iter().rev(), centre, first, first);
    let after = Half::new(track_model, all[split..].iter(), centre, first, last);
    let edges = [
        before.edge(split.checked_sub(1), 0.0),
        after.edge((split < all.len()).then_some(split), last - first),
    ];
    let (share, unseen) = gap::answer(track_model, edges);
    let mut seen = Vec::new();
    if share < 1.0 {
        seen = seen_circles(track_model, &before, &after, stationary);
    }
    together(seen, unseen, share, centre)
}

/// The components from the fixes on both sides, stopped or walking.
fn seen_circles(
    track_model: TrackModel,
    before: &Half,
    after: &Half,
    stationary: f64,
) -> Vec<Circle> {
    let receiver = &track_model.receiver.receiver;
    let stopped = join(&before.stopped(), &after.stopped(), STANDING.speed, receiver);
    let went = join(&before.went(), &after.went(), GOING.speed, receiver);
    let mut circles = Vec::with_capacity(stopped.len() + 1);
    for (share, found) in [(stationary, stopped), (1.0 - stationary, went)] {
        circles.extend(found.into_iter().map(|(weight, circle)| (weight + share.ln(), circle)));
    }
    normalised(circles)
}

/// Both estimates as one mixture, on the plane.
fn together(
    mut circles: Vec<Circle>,
    unseen: Vec<Unseen>,
    share: f64,
    centre: (f64, f64),
) -> PositionPosterior {
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
    PositionPosterior { circles, travelled }
}

fn nearest(all: &[Frame], split: usize, time: f64) -> (f64, f64) {
    let gap = |k: &usize| (all[*k].time - time).abs();
    let (below, above) = (split.saturating_sub(1), split.min(all.len() - 1));
    let k = if gap(&below) <= gap(&above) { below } else { above };
    (all[k].east, all[k].north)
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

/// The hypotheses of non-negligible weight relative to the best of their side. A stop's two ends meet in
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

//! Estimates the time spent at finds: from arrival to leaving of the stop that holds each find.
//! Layer: `analyse`.
//!
//! # Method
//! A stop is a run of stationary track; runs with less than ten seconds and four metres between
//! them are one: bridging more would take slow search between halts for time at a find. A find belongs to the stop that holds its time, or to the nearest within two
//! minutes, since notes are written to the minute and after the fact. The stop is extended over
//! the track before and after it that stays within two metres of its middle: a find is
//! photographed from more than one side. A find whose time falls at no stop was handled in less
//! time than a stop needs to be detected; nothing is taken out for it.
//!
//! # References
//! Holling 1959, Some characteristics of simple types of predation and parasitism, The Canadian
//! Entomologist 91:385 (handling time: what is found per hour out saturates because each find
//! takes time; from memory).

use jiff::Timestamp;

use crate::analyse::spatial_index::Ecef;
use crate::analyse::statistics::quantile;
use crate::analyse::walk::Walk;
use crate::model::Activity;
use crate::units::Seconds;

/// From arrival to leaving.
pub type Interval = (Timestamp, Timestamp);

/// Runs of stationary track this near in time and space are one stop.
const APART: Seconds = Seconds(10.0);
/// Metres.
const ASIDE: f64 = 4.0;
/// How far the time of a find may lie from its stop.
const OFF: Seconds = Seconds(120.0);
/// How far from the middle of a stop a find is handled, metres.
const ABOUT: f64 = 2.0;
/// Fixes this far apart blur arrival and leaving, seconds (project choice).
const SPARSE: f64 = 10.0;
/// The share of pieces of a track that are shorter than its interval between fixes: turning points are
/// farther apart.
const SHORTEST: f64 = 0.1;

/// A run of stationary track: indices of its first and last piece.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Halt {
    pub(super) first: usize,
    pub(super) last: usize,
    pub(super) from: Timestamp,
    pub(super) to: Timestamp,
}

/// The stops of a track, in order of time.
pub(super) fn halts(walk: &Walk) -> Vec<Halt> {
    let mut halts: Vec<Halt> = Vec::new();
    for place in 0..walk.points.len() {
        let Some(piece) = walk.piece(place) else { continue };
        if piece.activity() != Activity::Stationary {
            continue;
        }
        let joins = halts.last().is_some_and(|halt| {
            Seconds::between(halt.to, piece.from.time) <= APART
                && (halt.last..place).all(|between| walk.piece(between).is_some())
                && distance(walk, halt.last + 1, place) <= ASIDE
        });
        match halts.last_mut() {
            Some(halt) if joins => (halt.last, halt.to) = (place, piece.to.time),
            _ => halts.push(Halt {
                first: place,
                last: place,
                from: piece.from.time,
                to: piece.to.time,
            }),
        }
    }
    halts
}

/// By how much arrival is later and leaving earlier than a track of sparse fixes shows: the collector
/// came at some time between two fixes, in the mean half of the interval after the first. Zero for fixes
/// less than ten seconds apart.
pub(super) fn blur(walk: &Walk) -> Seconds {
    let mut times: Vec<f64> =
        walk.pieces().map(|piece| piece.time().0).filter(|time| *time > 0.0).collect();
    times.sort_unstable_by(f64::total_cmp);
    let interval = quantile(&times, SHORTEST).unwrap_or(0.0);
    Seconds(if interval >= SPARSE { interval / 2.0 } else { 0.0 })
}

/// An interval without its blurred ends; at least half of it is left.
pub(super) fn sharpened((from, to): Interval, blur: Seconds) -> Interval {
    let cut = blur.0.min(Seconds::between(from, to).0 / 4.0).max(0.0);
    (Seconds(cut).after(from), Seconds(-cut).after(to))
}

fn distance(walk: &Walk, from: usize, to: usize) -> f64 {
    Ecef::of(walk.points[from].at).distance(Ecef::of(walk.points[to].at)).0
}

/// The intervals spent at finds made at these times, in order and disjoint.
pub(super) fn intervals(walk: &Walk, halts: &[Halt], finds: &[Timestamp]) -> Vec<Interval> {
    let mut holding: Vec<usize> = finds.iter().filter_map(|when| halt_of(halts, *when)).collect();
    holding.sort_unstable();
    holding.dedup();
    let mut intervals: Vec<Interval> = Vec::new();
    for (from, to) in holding.into_iter().map(|halt| extended(walk, &halts[halt])) {
        match intervals.last_mut() {
            Some(last) if from <= last.1 => last.1 = last.1.max(to),
            _ => intervals.push((from, to)),
        }
    }
    intervals
}

/// The stop that holds a time, or the nearest to it.
fn halt_of(halts: &[Halt], when: Timestamp) -> Option<usize> {
    let after = halts.partition_point(|halt| halt.to < when);
    let away = |halt: &Halt| {
        Seconds::between(when, halt.from).0.max(Seconds::between(halt.to, when).0).max(0.0)
    };
    [after.checked_sub(1), Some(after)]
        .into_iter()
        .flatten()
        .filter(|place| halts.get(*place).is_some_and(|halt| away(halt) <= OFF.0))
        .min_by(|a, b| away(&halts[*a]).total_cmp(&away(&halts[*b])))
}

/// The interval of a stop with the track about it.
fn extended(walk: &Walk, halt: &Halt) -> Interval {
    let spots: Vec<Ecef> =
        walk.points[halt.first..=halt.last + 1].iter().map(|point| Ecef::of(point.at)).collect();
    let middle = spots[spots.len() / 2];
    let near = |place: usize| middle.distance(Ecef::of(walk.points[place].at)).0 <= ABOUT;
    let (mut first, mut last) = (halt.first, halt.last + 1);
    while first > 0 && walk.piece(first - 1).is_some() && near(first - 1) {
        first -= 1;
    }
    while walk.piece(last).is_some() && near(last + 1) {
        last += 1;
    }
    (walk.points[first].time, walk.points[last].time)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analyse::effort::judge::judged;
    use crate::analyse::effort::manner::Manner;
    use crate::analyse::effort::paths::RegularPaths;
    use crate::model::TrackPoint;
    use crate::units::{LatLon, Metres, Radius95};
    use uuid::Uuid;

    /// Ten fixes of walking, six at one place, ten of walking, so many seconds apart.
    fn walk(apart: i64) -> Walk {
        let point = |index: i64| {
            let east = index.min(10) + (index - 15).max(0);
            TrackPoint {
                time: Timestamp::from_second(1_800_000_000 + apart * index).unwrap(),
                at: LatLon::clamped(-42.0, 146.0 + 3e-4 * east as f64),
                height: None,
                radius: Radius95::new(Metres(8.0)).unwrap(),
                activity: if (10..15).contains(&index) {
                    Activity::Stationary
                } else {
                    Activity::Walking
                },
                gap_after: false,
            }
        };
        let date = jiff::civil::date(2027, 1, 15);
        Walk::straight(Uuid::nil(), date, (0..26).map(point).collect())
    }

    #[test]
    fn sparse_fixes_leave_the_way_to_a_find_and_from_it_to_the_search() {
        for (apart, at_find, beside) in [(5, 25.0, 0.0), (24, 96.0, 24.0)] {
            let walk = walk(apart);
            let found = Timestamp::from_second(1_800_000_000 + apart * 12).unwrap();
            let judged = judged(walk, &[found], &RegularPaths::default());
            let spent = |counts: fn(Manner) -> bool| -> f64 {
                let own = judged.walk.pieces().filter(|piece| piece.manner.is_some_and(counts));
                own.filter(|piece| piece.activity() == Activity::Stationary)
                    .map(|piece| piece.time().0)
                    .sum()
            };
            assert!((spent(|manner| manner == Manner::Handling) - at_find).abs() < 1e-6, "{apart}");
            assert!((spent(|manner| manner.class().is_some()) - beside).abs() < 1e-6, "{apart}");
        }
    }
}

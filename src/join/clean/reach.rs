//! Detects fixes that cannot be reached on foot: the fixes form stretches joined by possible steps, and the
//! heaviest chain of stretches that a walker can have followed is kept. A single fix and a whole minute at
//! a wrong place are treated alike. Layer: `join`.
//!
//! The speed limit is that of Austin et al. 2003 (A three-stage algorithm for filtering erroneous
//! Argos satellite locations, Marine Mammal Science 19:371-383) set for people on foot; where speed
//! and heading persist over many fixes it is a vehicle, and let through.

use crate::model::Verdict;

use super::super::moment::median;
use super::{Candidate, size};

/// Fast descent on foot, metres a second.
const WALKING_LIMIT: f64 = 2.6;
/// The fastest vehicle of a collector, metres a second (common practice).
const DRIVING_LIMIT: f64 = 45.0;
/// After so long a gap a drive between two woods is more probable than an error, seconds.
const GAP: f64 = 180.0;
/// How many earlier stretches a stretch can follow upon.
const LOOK_BACK: usize = 24;
/// Stretches in the first seconds are the receiver settling.
const START_UP: f64 = 120.0;

/// A stretch of fixes joined by possible steps: from, to (excluded).
type Stretch = (usize, usize);

/// A verdict for each candidate, in order.
pub(super) fn find(candidates: &[Candidate]) -> Vec<Option<Verdict>> {
    let mut verdicts = vec![None; candidates.len()];
    let slack = slack(candidates);
    let stretches = stretches(candidates, slack);
    if stretches.len() < 2 {
        return verdicts;
    }
    let kept = heaviest_chain(candidates, &stretches, slack);
    for (&(from, to), _) in stretches.iter().zip(&kept).filter(|(_, kept)| !**kept) {
        let early = candidates[to - 1].time - candidates[0].time < START_UP;
        verdicts[from..to].fill(Some(match to - from {
            _ if early => Verdict::StartUp,
            1..=3 => Verdict::Spike,
            _ => Verdict::Jump,
        }));
    }
    verdicts
}

/// How far apart two fixes may be by error alone, from the noise of neighbouring fixes.
fn slack(candidates: &[Candidate]) -> f64 {
    let mut bends: Vec<f64> = candidates
        .windows(3)
        .map(|three| {
            let east = three[0].east - 2.0 * three[1].east + three[2].east;
            let north = three[0].north - 2.0 * three[1].north + three[2].north;
            east.hypot(north)
        })
        .collect();
    // a bend holds two steps
    (6.0 * size(&mut bends) / std::f64::consts::SQRT_2).clamp(8.0, 40.0)
}

fn reachable(a: &Candidate, b: &Candidate, slack: f64) -> bool {
    a.distance(b) <= slack + WALKING_LIMIT * (b.time - a.time)
}

fn stretches(candidates: &[Candidate], slack: f64) -> Vec<Stretch> {
    let mut stretches = Vec::new();
    let mut from = 0;
    for k in 1..=candidates.len() {
        let broken = k == candidates.len()
            || !(reachable(&candidates[k - 1], &candidates[k], slack) || drives(candidates, k));
        if broken {
            stretches.push((from, k));
            from = k;
        }
    }
    stretches.retain(|(from, to)| from < to);
    stretches
}

/// Whether the step to fix `k` is part of a steady drive: the ten fixes before, about or after it.
fn drives(candidates: &[Candidate], k: usize) -> bool {
    let intervals = [(9, 1), (5, 5), (1, 9)];
    intervals.into_iter().any(|(before, after)| {
        let (from, to) = (k.saturating_sub(before), (k + after).min(candidates.len()));
        is_drive(&candidates[from..to])
    })
}

/// Whether nearly all of the track leads onward, most steps are fast and none faster than a vehicle.
fn is_drive(interval: &[Candidate]) -> bool {
    if interval.len() < 8 {
        return false;
    }
    let mut estimated_track = 0.0;
    let mut fast = 0;
    for pair in interval.windows(2) {
        let (length, dt) = (pair[0].distance(&pair[1]), pair[1].time - pair[0].time);
        if length > DRIVING_LIMIT * dt {
            return false;
        }
        estimated_track += length;
        fast += usize::from(length > WALKING_LIMIT * dt);
    }
    fast * 10 >= 7 * (interval.len() - 1)
        && interval[0].distance(&interval[interval.len() - 1]) > 0.7 * estimated_track
}

/// Which stretches the heaviest chain holds. The weight is the number of fixes; an impossible step
/// costs more than any error is long.
fn heaviest_chain(candidates: &[Candidate], stretches: &[Stretch], slack: f64) -> Vec<bool> {
    let mut steps: Vec<f64> = candidates.windows(2).map(|w| w[1].time - w[0].time).collect();
    let interval = median(&mut steps).unwrap_or(1.0).max(0.1);
    let dear = (180.0 / interval).clamp(3.0, 180.0);
    // steps of some metres are receiver noise, a jump of a hundred is not
    let per_metre = (0.6 / interval).max(0.1);
    let mut best: Vec<(f64, Option<usize>)> = Vec::with_capacity(stretches.len());
    // the best chain that ends before the look-back, for a fresh start
    let mut champion: Option<usize> = None;
    for (k, &(from, to)) in stretches.iter().enumerate() {
        let oldest = k.saturating_sub(LOOK_BACK);
        if oldest > 0 {
            let left = oldest - 1;
            champion = champion.map_or(Some(left), |old| {
                Some(if best[left].0 > best[old].0 { left } else { old })
            });
        }
        let start = &candidates[from];
        let follow = |j: usize| -> f64 {
            let end = &candidates[stretches[j].1 - 1];
            let dt = start.time - end.time;
            if reachable(end, start, slack) {
                0.0
            } else if dt > GAP && end.distance(start) < DRIVING_LIMIT * dt {
                2.0
            } else {
                let excess = end.distance(start) - slack - WALKING_LIMIT * dt;
                (excess * per_metre).min(dear)
            }
        };
        let mut choice = (0.0, None);
        for j in (oldest..k).rev().chain(champion) {
            let weight = best[j].0 - follow(j);
            if weight > choice.0 {
                choice = (weight, Some(j));
            }
        }
        best.push((choice.0 + (to - from) as f64, choice.1));
    }
    trace(&best)
}

fn trace(best: &[(f64, Option<usize>)]) -> Vec<bool> {
    let mut kept = vec![false; best.len()];
    let mut at = (0..best.len()).max_by(|&a, &b| best[a].0.total_cmp(&best[b].0).then(b.cmp(&a)));
    while let Some(k) = at {
        kept[k] = true;
        at = best[k].1;
    }
    kept
}

//! Detects a receiver that has lost its signal and repeats its last position, then jumps. A receiver that
//! holds still while its owner is stationary is not affected: it continues from the same position. On a
//! device that updates its position only occasionally and repeats it while its owner walks on, the
//! repetitions carry no information. Layer: `join`.

use crate::model::Verdict;

use super::Candidate;

/// Shorter repetition is no freeze, seconds.
const LEAST_SPAN: f64 = 15.0;
/// A freeze ends with a jump of at least this many metres.
const LEAST_LEAP: f64 = 20.0;
/// And of this speed at least, taken over one interval, metres a second.
const LEAP_SPEED: f64 = 3.0;

/// A device that repeats every position for a while, however its owner moves, freezes so often at least;
/// one that merely holds still with its owner hardly ever ends with a jump.
const FREEZES: usize = 8;
/// And so large a share of its longer repetitions are freezes.
const OFTEN: f64 = 0.4;

/// A verdict for each candidate, in order.
pub(super) fn find(candidates: &[Candidate]) -> Vec<Option<Verdict>> {
    let mut verdicts = vec![None; candidates.len()];
    let runs = repetitions(candidates);
    let long = runs.iter().filter(|run| is_long(candidates, **run)).count();
    let frozen = runs.iter().filter(|run| is_frozen(candidates, **run)).count();
    let repeats = frozen >= FREEZES && frozen as f64 >= OFTEN * long as f64;
    for (first, end) in runs {
        if repeats || is_frozen(candidates, (first, end)) {
            // the first of them was still a fix
            verdicts[first + 1..end].fill(Some(Verdict::Frozen));
        }
    }
    verdicts
}

/// Runs of one and the same position: from the first to behind the last.
fn repetitions(candidates: &[Candidate]) -> Vec<(usize, usize)> {
    let mut runs = Vec::new();
    let mut first = 0;
    while first < candidates.len() {
        let mut end = first + 1;
        while end < candidates.len() && candidates[end].distance(&candidates[first]) < 1e-3 {
            end += 1;
        }
        if end - first > 1 {
            runs.push((first, end));
        }
        first = end;
    }
    runs
}

fn is_long(candidates: &[Candidate], (first, end): (usize, usize)) -> bool {
    end - first >= 3 && candidates[end - 1].time - candidates[first].time >= LEAST_SPAN
}

fn is_frozen(candidates: &[Candidate], (first, end): (usize, usize)) -> bool {
    let Some(next) = candidates.get(end) else { return false };
    if !is_long(candidates, (first, end)) {
        return false;
    }
    let last = &candidates[end - 1];
    let leap = last.distance(next);
    leap > LEAST_LEAP && leap > LEAP_SPEED * (next.time - last.time)
}

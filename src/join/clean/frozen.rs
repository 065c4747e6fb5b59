//! A receiver that has lost its signal and repeats its last position: the same figures over and
//! over, then far away at once. One that merely holds still while its owner does is left alone: it
//! goes on from where it stood. Layer: `join`.

use crate::model::Verdict;

use super::Candidate;

/// Shorter repetition is no freeze, seconds.
const LEAST_SPAN: f64 = 15.0;
/// A freeze ends with a leap of this many metres at least.
const LEAST_LEAP: f64 = 20.0;
/// And of this speed at least, taken over one interval, metres a second.
const LEAP_SPEED: f64 = 3.0;

/// A verdict for each candidate, in order.
pub(super) fn find(candidates: &[Candidate]) -> Vec<Option<Verdict>> {
    let mut verdicts = vec![None; candidates.len()];
    let mut first = 0;
    while first < candidates.len() {
        let mut end = first + 1;
        while end < candidates.len() && candidates[end].distance(&candidates[first]) < 1e-3 {
            end += 1;
        }
        if is_frozen(candidates, first, end) {
            // the first of them was still a fix
            verdicts[first + 1..end].fill(Some(Verdict::Frozen));
        }
        first = end;
    }
    verdicts
}

fn is_frozen(candidates: &[Candidate], first: usize, end: usize) -> bool {
    let Some(next) = candidates.get(end) else { return false };
    let last = &candidates[end - 1];
    if end - first < 3 || last.time - candidates[first].time < LEAST_SPAN {
        return false;
    }
    let leap = last.distance(next);
    leap > LEAST_LEAP && leap > LEAP_SPEED * (next.time - last.time)
}

//! Detects times that run backward within one run of a file, and steps of the receiver's clock. The
//! smallest set of fixes whose removal puts the times in order is set aside; a run in reverse order is
//! reversed. Equal times are not judged here. Layer: `join`.

use crate::model::{JudgedFix, Verdict};
use crate::units::{Seconds, Timestamp};

/// A fix this far out of order is a step of the clock rather than a late line, seconds.
const CLOCK_STEP: f64 = 60.0;

/// Judges one run in the order of its file.
pub(super) fn judge(run: &mut [JudgedFix]) {
    let times = |run: &[JudgedFix]| -> Vec<(usize, Timestamp)> {
        let kept = run.iter().enumerate().filter(|(_, fix)| fix.verdict == Verdict::Kept);
        kept.filter_map(|(index, fix)| Some((index, fix.fix.time?))).collect()
    };
    let timed = times(run);
    if timed.windows(2).all(|pair| pair[0].1 <= pair[1].1) {
        return;
    }
    let mut timed = timed;
    let mut in_order = longest_ordered(&timed);
    if count(&in_order) * 2 < timed.len() {
        let reversed: Vec<(usize, Timestamp)> = timed.iter().rev().copied().collect();
        let backward = longest_ordered(&reversed);
        if count(&backward) > count(&in_order) {
            (timed, in_order) = (reversed, backward);
        }
    }
    let mut before: Option<Timestamp> = None;
    for (place, &(index, time)) in timed.iter().enumerate() {
        if in_order[place] {
            before = Some(time);
            continue;
        }
        let after = timed[place..].iter().zip(&in_order[place..]).find(|(_, kept)| **kept);
        // the same time once more is a duplicate, which is judged later
        let again = timed[place + 1..].iter().take(2).any(|next| next.1 == time);
        if before == Some(time) || again {
            continue;
        }
        let early = before.map_or(0.0, |before| Seconds::between(time, before).0);
        let late = after.map_or(0.0, |(next, _)| Seconds::between(next.1, time).0);
        let step = early.max(late) > CLOCK_STEP;
        run[index].verdict = if step { Verdict::ClockStep } else { Verdict::Backward };
    }
}

fn count(kept: &[bool]) -> usize {
    kept.iter().filter(|kept| **kept).count()
}

/// Which of the times belong to the longest subsequence that always runs forward.
///
/// # References
/// Schensted 1961, Longest increasing and decreasing subsequences, Canadian Journal of Mathematics
/// 13:179-191 (from memory).
fn longest_ordered(timed: &[(usize, Timestamp)]) -> Vec<bool> {
    let mut tails: Vec<usize> = Vec::new();
    let mut previous = vec![usize::MAX; timed.len()];
    for (place, &(_, time)) in timed.iter().enumerate() {
        let rank = tails.partition_point(|&tail| timed[tail].1 < time);
        if rank > 0 {
            previous[place] = tails[rank - 1];
        }
        if rank == tails.len() {
            tails.push(place);
        } else {
            tails[rank] = place;
        }
    }
    let mut kept = vec![false; timed.len()];
    let mut at = tails.last().copied().unwrap_or(usize::MAX);
    while at != usize::MAX {
        kept[at] = true;
        at = previous[at];
    }
    kept
}

//! Merges two receivers carried together: the one with more fixes leads, the other fills its gaps. Their
//! errors differ, so mixing them fix by fix would look like walking to and fro. Layer: `join`.

use std::collections::BTreeMap;

use crate::model::{JudgedFix, Verdict};

use super::super::moment::{Origin, median};

/// Sets aside fixes of lesser receivers where a leading one was recording.
pub(super) fn set_aside(judged: &mut [JudgedFix], origin: Origin) {
    let mut counts: BTreeMap<u16, usize> = BTreeMap::new();
    for fix in judged.iter().filter(|fix| fix.verdict == Verdict::Kept) {
        *counts.entry(fix.source).or_default() += 1;
    }
    if counts.len() < 2 {
        return;
    }
    let mut ranked: Vec<(u16, usize)> = counts.into_iter().collect();
    ranked.sort_by_key(|&(source, count)| (std::cmp::Reverse(count), source));
    let mut covered: Vec<f64> = Vec::new();
    for (source, _) in ranked {
        let mut own = Vec::new();
        let reach = gap_of(&covered);
        for fix in judged.iter_mut() {
            let (Verdict::Kept, Some(time)) = (fix.verdict, fix.fix.time) else { continue };
            if fix.source != source {
                continue;
            }
            let time = origin.seconds(time);
            if is_covered(&covered, time, reach) {
                fix.verdict = Verdict::SecondReceiver;
            } else {
                own.push(time);
            }
        }
        covered.extend(own);
        covered.sort_by(f64::total_cmp);
    }
}

/// Beyond which interval a receiver was not recording, seconds.
fn gap_of(times: &[f64]) -> f64 {
    let mut steps: Vec<f64> = times.windows(2).map(|pair| pair[1] - pair[0]).collect();
    (4.0 * median(&mut steps).unwrap_or(0.0)).max(45.0)
}

fn is_covered(covered: &[f64], time: f64, reach: f64) -> bool {
    let after = covered.partition_point(|&other| other < time);
    match (after.checked_sub(1).map(|k| covered[k]), covered.get(after)) {
        (Some(before), Some(&next)) => next - before <= reach,
        _ => false,
    }
}

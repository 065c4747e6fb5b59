//! Detects single spikes that are just within walking speed: both neighbours, and the two fixes beyond
//! them, agree with each other far better than with the fix. Layer: `join`.

use crate::model::Verdict;

use super::{Candidate, size};

/// A spike deviates by this multiple of the size of the day's bends.
const TIMES_ORDINARY: f64 = 9.4;
/// And at least by this many metres.
const LEAST: f64 = 12.0;

/// A verdict for each candidate, in order.
pub(super) fn find(candidates: &[Candidate]) -> Vec<Option<Verdict>> {
    let mut verdicts = vec![None; candidates.len()];
    let mut ordinary: Vec<f64> =
        candidates.windows(3).map(|three| off_the_line(&three[0], &three[1], &three[2])).collect();
    let limit = (TIMES_ORDINARY * size(&mut ordinary)).max(LEAST);
    for k in 2..candidates.len().saturating_sub(2) {
        if is_dash(&candidates[k - 1], &candidates[k], &candidates[k + 1]) {
            verdicts[k] = Some(Verdict::Spike);
            continue;
        }
        let near = off_the_line(&candidates[k - 1], &candidates[k], &candidates[k + 1]);
        if near < limit {
            continue;
        }
        let far = off_the_line(&candidates[k - 2], &candidates[k], &candidates[k + 2]);
        let alike = candidates[k - 1].distance(&candidates[k + 1]);
        if far > limit && alike < 0.7 * near {
            verdicts[k] = Some(Verdict::Spike);
        }
    }
    verdicts
}

/// Whether a fix requires running out and straight back.
fn is_dash(before: &Candidate, fix: &Candidate, after: &Candidate) -> bool {
    /// The limit for running through a wood with a sharp turn, metres a second (common practice).
    const HURRY: f64 = 1.2;
    /// What two fixes may differ by error alone, metres.
    const SLACK: f64 = 18.0;
    let (out, back) = (before.distance(fix), fix.distance(after));
    let hurried = |estimated_track: f64, dt: f64| estimated_track > SLACK + HURRY * dt;
    let returned = before.distance(after) < 0.5 * out.min(back);
    returned && hurried(out, fix.time - before.time) && hurried(back, after.time - fix.time)
}

/// How far a fix lies from where its neighbours say it should be at its time.
fn off_the_line(before: &Candidate, fix: &Candidate, after: &Candidate) -> f64 {
    let share = (fix.time - before.time) / (after.time - before.time);
    let east = before.east + share * (after.east - before.east);
    let north = before.north + share * (after.north - before.north);
    (fix.east - east).hypot(fix.north - north)
}

//! Detects positions that a device repeats: after it has lost its signal, until it jumps or to the end; and on a
//! device that determines its position more rarely than it logs, whether its owner walks or not. There a repetition
//! is no fix. A receiver that holds still while its owner is stationary is not affected: it continues from the same
//! position, and shows a new one at every fix while its owner walks. Layer: `join`.

use crate::model::Verdict;

use super::super::moment::median;
use super::Candidate;

/// Shorter repetition is no freeze, seconds.
const LEAST_SPAN: f64 = 15.0;
/// A freeze ends with a jump of at least this many metres.
const LEAST_LEAP: f64 = 20.0;
/// And of this speed at least, taken over one interval, metres a second.
const LEAP_SPEED: f64 = 3.0;

/// Positions this near to each other, for as long as this, before a leap or to the end of the track, are repeated as
/// well: metres and seconds. The error of a receiver that works wanders farther within that time (project choice).
const NEARLY: f64 = 1.5;
const NEARLY_SPAN: f64 = 300.0;
const UNTIL_THE_END: f64 = 1_200.0;
/// Fewer fixes than this show no repetition.
const NEARLY_FIXES: usize = 20;

/// Positions on either side of one that show whether the device repeats there.
const BESIDE: usize = 10;
/// The share of them that are shown more than once on a device that repeats; one that holds still at stops shows
/// most of its positions once.
const REPEATED: f64 = 0.7;
/// A device that determines its position as often as this is none that repeats, seconds.
const OFTEN: f64 = 5.0;
/// From one position to the next, on the median, metres: less is a position written with few digits.
const LEAST_STEP: f64 = 3.0;
/// Who walks goes no faster, metres a second.
const WALKING: f64 = 1.6;

/// One position, as long as it is shown: the first candidate, and the one behind the last.
#[derive(Clone, Copy, Debug)]
struct Shown {
    first: usize,
    end: usize,
}

impl Shown {
    fn is_repeated(self) -> bool {
        self.end - self.first > 1
    }

    /// Until the next position, or the last repetition; seconds.
    fn lasts(self, candidates: &[Candidate]) -> f64 {
        let until = candidates.get(self.end).unwrap_or(&candidates[self.end - 1]);
        until.time - candidates[self.first].time
    }

    /// How far the next position is, metres; and the seconds from the last repetition to it.
    fn leap(self, candidates: &[Candidate]) -> Option<(f64, f64)> {
        let (last, next) = (&candidates[self.end - 1], candidates.get(self.end)?);
        Some((last.distance(next), next.time - last.time))
    }

    fn is_frozen(self, candidates: &[Candidate]) -> bool {
        let long = candidates[self.end - 1].time - candidates[self.first].time >= LEAST_SPAN;
        self.end - self.first >= 3 && long && self.is_left_by_leap(candidates)
    }

    /// Whether the next position is farther away than anybody walks until then.
    fn is_left_by_leap(self, candidates: &[Candidate]) -> bool {
        let jumps = |(leap, interval)| leap > LEAST_LEAP && leap > LEAP_SPEED * interval;
        self.leap(candidates).is_some_and(jumps)
    }
}

/// A verdict for each candidate, in order.
pub(super) fn find(candidates: &[Candidate]) -> Vec<Option<Verdict>> {
    let mut verdicts = vec![None; candidates.len()];
    let positions = positions(candidates);
    let usual = usual_intervals(candidates, &positions);
    for (&shown, usual) in positions.iter().zip(usual) {
        let fixes = match usual {
            Some(usual) if !leaps_too_far(shown, candidates, usual) => {
                new_again(shown, candidates, usual)
            }
            Some(_) => vec![shown.first],
            None if shown.is_frozen(candidates) => vec![shown.first],
            None => continue,
        };
        verdicts[shown.first..shown.end].fill(Some(Verdict::Frozen));
        for fix in fixes {
            verdicts[fix] = None;
        }
    }
    for lost in nearly_repeated(candidates) {
        verdicts[lost.first + 1..lost.end].fill(Some(Verdict::Frozen));
    }
    verdicts
}

/// The stretches without a signal in which the device shows nearly one position.
fn nearly_repeated(candidates: &[Candidate]) -> impl Iterator<Item = Shown> {
    let is_lost = |shown: &Shown| {
        let lasts = candidates[shown.end - 1].time - candidates[shown.first].time;
        let is_last = shown.end == candidates.len();
        let span = if is_last { UNTIL_THE_END } else { NEARLY_SPAN };
        let ends = is_last || shown.is_left_by_leap(candidates);
        shown.end - shown.first >= NEARLY_FIXES && lasts >= span && ends
    };
    nearly(candidates).into_iter().filter(is_lost)
}

/// The candidates in stretches that stay near the middle of their first ones.
fn nearly(candidates: &[Candidate]) -> Vec<Shown> {
    let mut stretches = Vec::new();
    let mut first = 0;
    while first < candidates.len() {
        let head = &candidates[first..(first + NEARLY_FIXES).min(candidates.len())];
        let mean = |of: fn(&Candidate) -> f64| head.iter().map(of).sum::<f64>() / head.len() as f64;
        let middle = Candidate { east: mean(|c| c.east), north: mean(|c| c.north), ..head[0] };
        let near = |other: &&Candidate| other.distance(&middle) < NEARLY;
        let end = first + candidates[first..].iter().take_while(near).count().max(1);
        stretches.push(Shown { first, end });
        first = end;
    }
    stretches
}

fn positions(candidates: &[Candidate]) -> Vec<Shown> {
    let mut positions = Vec::new();
    let mut first = 0;
    while first < candidates.len() {
        let same = |other: &&Candidate| other.distance(&candidates[first]) < 1e-3;
        let end = first + candidates[first..].iter().take_while(same).count().max(1);
        positions.push(Shown { first, end });
        first = end;
    }
    positions
}

/// For each position the usual time between two new ones, where the device repeats each.
fn usual_intervals(candidates: &[Candidate], positions: &[Shown]) -> Vec<Option<f64>> {
    let mut repeated = vec![0_usize];
    for shown in positions {
        repeated.push(repeated[repeated.len() - 1] + usize::from(shown.is_repeated()));
    }
    let at = |k: usize| {
        let (from, to) = (k.saturating_sub(BESIDE), (k + BESIDE + 1).min(positions.len()));
        let count = repeated[to] - repeated[from];
        if count < BESIDE || (count as f64) < REPEATED * (to - from) as f64 {
            return None;
        }
        let near = positions[from..to].iter().filter(|shown| shown.is_repeated());
        let mut lasting: Vec<f64> = near.map(|shown| shown.lasts(candidates)).collect();
        median(&mut lasting).filter(|usual| *usual > OFTEN)
    };
    let usual: Vec<Option<f64>> = (0..positions.len()).map(at).collect();
    let of_repeated = positions.iter().zip(&usual).filter(|(_, usual)| usual.is_some());
    let mut leaps: Vec<f64> =
        of_repeated.filter_map(|(shown, _)| Some(shown.leap(candidates)?.0)).collect();
    if median(&mut leaps).is_some_and(|leap| leap >= LEAST_STEP) {
        usual
    } else {
        vec![None; positions.len()]
    }
}

/// Whether the next position is farther than anybody walks in the time that the device usually takes: the signal
/// was lost.
fn leaps_too_far(shown: Shown, candidates: &[Candidate], usual: f64) -> bool {
    let walked = LEAST_LEAP + WALKING * 2.0 * usual;
    shown.leap(candidates).is_some_and(|(leap, _)| leap > walked)
}

/// The first of the repetitions, and again one where the device must have determined its position again, at the
/// same place: it is shown for longer than twice the usual time.
fn new_again(shown: Shown, candidates: &[Candidate], usual: f64) -> Vec<usize> {
    let mut fixes = vec![shown.first];
    let until = candidates[shown.first].time + shown.lasts(candidates);
    let mut last = candidates[shown.first].time;
    for (k, candidate) in candidates[..shown.end].iter().enumerate().skip(shown.first + 1) {
        if candidate.time >= last + 2.0 * usual && candidate.time <= until - usual {
            fixes.push(k);
            last = candidate.time;
        }
    }
    fixes
}

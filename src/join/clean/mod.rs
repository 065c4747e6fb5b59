//! Assigns a verdict with its reason to each fix; none is deleted: times out of order, clock steps, a
//! second receiver, frozen positions, jumps, spikes, start-up scatter. Only what is physically impossible
//! on foot (or, where speed and heading persist, in a vehicle) is set aside. Layer: `join`.

mod frozen;
mod order;
mod reach;
mod receivers;
mod spike;

use crate::earth::local::Plane;
use crate::model::{Fix, FixKind, JudgedFix, Verdict};

use super::moment::Origin;

/// An unbroken run of fixes from one file, in the order of the file.
#[derive(Clone, Debug, Default)]
pub(crate) struct Run {
    /// Index of the file among the day's sources.
    pub(crate) source: u16,
    /// As recorded.
    pub(crate) fixes: Vec<Fix>,
}

/// A fix that is not yet set aside.
#[derive(Clone, Copy, Debug)]
pub(super) struct Candidate {
    /// Index into the judged fixes.
    pub(super) index: usize,
    pub(super) time: f64,
    pub(super) east: f64,
    pub(super) north: f64,
}

impl Candidate {
    pub(super) fn distance(&self, other: &Self) -> f64 {
        (self.east - other.east).hypot(self.north - other.north)
    }
}

/// Judges every fix of an outing. In order of time; fixes without one stop at the end.
pub(crate) fn judge(runs: &[Run], plane: &Plane, origin: Origin) -> Vec<JudgedFix> {
    let mut judged = first_verdicts(runs);
    // stable, so that equal times keep the order of the files
    judged.sort_by_key(|fix| (fix.fix.time.is_none(), fix.fix.time));
    receivers::set_aside(&mut judged, origin);
    duplicates(&mut judged);
    let mut candidates = candidates(&judged, plane, origin);
    strike(&mut judged, &mut candidates, frozen::find);
    strike(&mut judged, &mut candidates, reach::find);
    strike(&mut judged, &mut candidates, spike::find);
    judged
}

/// Verdicts from each fix alone and from the order of its file.
fn first_verdicts(runs: &[Run]) -> Vec<JudgedFix> {
    let mut judged = Vec::with_capacity(runs.iter().map(|run| run.fixes.len()).sum());
    for (segment, run) in runs.iter().enumerate() {
        let segment = u16::try_from(segment).unwrap_or(u16::MAX);
        let start = judged.len();
        judged.extend(run.fixes.iter().map(|&fix| JudgedFix {
            fix,
            source: run.source,
            segment,
            verdict: match (fix.time, fix.kind) {
                (None, _) => Verdict::Untimed,
                (_, Some(FixKind::None)) => Verdict::NoFix,
                _ => Verdict::Kept,
            },
        }));
        order::judge(&mut judged[start..]);
    }
    judged
}

fn duplicates(judged: &mut [JudgedFix]) {
    let mut last = None;
    for fix in judged.iter_mut().filter(|fix| fix.verdict == Verdict::Kept) {
        if last == fix.fix.time {
            fix.verdict = Verdict::Duplicate;
        }
        last = fix.fix.time;
    }
}

fn candidates(judged: &[JudgedFix], plane: &Plane, origin: Origin) -> Vec<Candidate> {
    let kept = judged.iter().enumerate().filter(|(_, fix)| fix.verdict == Verdict::Kept);
    kept.filter_map(|(index, fix)| {
        let (east, north) = plane.to_plane(fix.fix.at);
        Some(Candidate { index, time: origin.seconds(fix.fix.time?), east, north })
    })
    .collect()
}

/// The size of lengths whose two axes are normal, as one standard deviation per axis: by the middle
/// length and by the one that a tenth exceeds, whichever tells of more, so that a day of heavy tails
/// is judged by its own. Jumps are fewer than that tenth. Zero if empty; reorders what it is given.
fn size(lengths: &mut [f64]) -> f64 {
    /// The median and the 90 % quantile of a Rayleigh distribution.
    const LAW: [(usize, f64); 2] = [(5, 1.177), (9, 2.146)];
    let count = lengths.len();
    let by = |(tenths, law): (usize, f64)| {
        let rank = (count * tenths / 10).min(count - 1);
        *lengths.select_nth_unstable_by(rank, f64::total_cmp).1 / law
    };
    if count == 0 { 0.0 } else { LAW.map(by).into_iter().fold(0.0, f64::max) }
}

/// Applies one kind of test and continues with the remaining fixes.
fn strike(
    judged: &mut [JudgedFix],
    candidates: &mut Vec<Candidate>,
    judgement: fn(&[Candidate]) -> Vec<Option<Verdict>>,
) {
    let verdicts = judgement(candidates);
    let mut verdict = verdicts.iter();
    candidates.retain(|candidate| match verdict.next() {
        Some(Some(why)) => {
            judged[candidate.index].verdict = *why;
            false
        }
        _ => true,
    });
}

#[cfg(test)]
mod tests;

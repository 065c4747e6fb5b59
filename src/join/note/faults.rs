//! Reports receiver faults that set aside a run of fixes: when, for how long, and which finds are affected.
//! One note per kind of fault, described by its longest interval; single bad fixes are only counted. Layer:
//! `join`.

use crate::model::{
    FaultInterval, Find, FindReference, JudgedFix, ReceiverFault, TrackNote, Verdict,
};
use crate::units::{Seconds, Timestamp};

use super::super::clean::Run;
use super::super::day::Scene;
use super::super::moment::median;
use super::local;

/// Fewer consecutive fixes are not reported
const MANY: usize = 5;
/// Or a few that last so long, seconds.
const LONG: (usize, f64) = (3, 60.0);

/// A device that repeats positions does so this often at least, and so large a share of its fixes are repetitions.
const REPEATING: (usize, f64) = (10, 0.4);
/// A position that it shows for this multiple of the usual time is a loss of signal.
const LOSS: f64 = 4.0;

/// The kind of receiver fault.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    Clock,
    Repeats,
    Frozen,
    Astray,
    Settling,
    NoFix,
    Untimed,
}

const KINDS: [Kind; 7] = [
    Kind::Clock,
    Kind::Repeats,
    Kind::Frozen,
    Kind::Astray,
    Kind::Settling,
    Kind::NoFix,
    Kind::Untimed,
];

/// A run of fixes set aside for one kind of fault.
#[derive(Clone, Debug)]
struct Interval {
    kind: Kind,
    count: usize,
    /// Times of the day without fixes to go by, right ones where the clock was wrong.
    from: Timestamp,
    until: Timestamp,
    clock: Option<Step>,
}

/// What the receiver's clock did.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Step {
    /// A whole run of fixes is so far ahead of the others of the file, seconds.
    Ahead(f64),
    /// From one fix to the next it was set back, and only the fixes that then overlap are set aside.
    Back(f64),
}

pub(super) fn reported(scene: &Scene, finds: &[Find]) -> Vec<TrackNote> {
    if scene.track.is_empty() {
        return Vec::new();
    }
    let runs = in_file_order(&scene.gathered.runs, &scene.estimated_track.fixes);
    let mut intervals: Vec<Interval> = runs.iter().flat_map(|fixes| intervals(fixes)).collect();
    let repeating = repeating(&runs);
    if let Some(repeating) = &repeating {
        intervals.retain(|interval| !repeating.explains(interval));
    }
    let of_kind = |kind: Kind| -> Vec<&Interval> {
        intervals.iter().filter(|interval| interval.kind == kind).collect()
    };
    let of_kinds = KINDS.into_iter().filter_map(|kind| note(scene, finds, &of_kind(kind)));
    repeating.map(|repeating| repeating.note(scene)).into_iter().chain(of_kinds).collect()
}

/// A device that shows each position for a while, whether its owner walks or not.
#[derive(Clone, Debug, PartialEq)]
struct Repeating {
    /// From one new position to the next, on the median, seconds.
    each: f64,
    repetitions: usize,
    from: Timestamp,
    until: Timestamp,
}

impl Repeating {
    /// Whether an interval is one of its repetitions, and no longer loss of signal.
    fn explains(&self, interval: &Interval) -> bool {
        let lasting = Seconds::between(interval.from, interval.until).0;
        interval.kind == Kind::Frozen && lasting < LOSS * self.each
    }

    fn note(&self, scene: &Scene) -> TrackNote {
        TrackNote::ReceiverFault(FaultInterval {
            fault: ReceiverFault::Repeating { each: Seconds(self.each) },
            fixes: self.repetitions,
            from: local(scene, self.from),
            until: local(scene, self.until),
            lasting: Seconds::between(self.from, self.until),
            intervals: 1,
            fixes_in_all: self.repetitions,
            finds: Vec::new(),
        })
    }
}

/// Whether repetitions are a large share of the fixes.
fn repeating(runs: &[Vec<JudgedFix>]) -> Option<Repeating> {
    let kept = runs.iter().flatten().filter(|fix| fix.verdict == Verdict::Kept).count();
    let repeated = || runs.iter().flatten().filter(|fix| fix.verdict == Verdict::Frozen);
    let repetitions = repeated().count();
    if (repetitions as f64) < REPEATING.1 * (kept + repetitions) as f64 {
        return None;
    }
    let mut lasting: Vec<f64> = runs.iter().flat_map(|fixes| repeated_for(fixes)).collect();
    let times = || repeated().filter_map(|fix| fix.fix.time);
    let (from, until) = (times().min()?, times().max()?);
    let each = median(&mut lasting).filter(|_| lasting.len() >= REPEATING.0)?;
    Some(Repeating { each, repetitions, from, until })
}

/// For each kept fix that is repeated, the seconds until the next kept one.
fn repeated_for(fixes: &[JudgedFix]) -> Vec<f64> {
    let used = |fix: &&JudgedFix| matches!(fix.verdict, Verdict::Kept | Verdict::Frozen);
    let used: Vec<&JudgedFix> = fixes.iter().filter(used).collect();
    let kept: Vec<usize> = (0..used.len()).filter(|&k| used[k].verdict == Verdict::Kept).collect();
    let lasting = |pair: &[usize]| {
        let times = used[pair[0]].fix.time.zip(used[pair[1]].fix.time);
        times.filter(|_| pair[1] > pair[0] + 1).map(|(a, b)| Seconds::between(a, b).0)
    };
    kept.windows(2).filter_map(lasting).collect()
}

fn kind_of(verdict: Verdict) -> Option<Kind> {
    match verdict {
        Verdict::ClockStep | Verdict::Backward => Some(Kind::Clock),
        Verdict::Duplicate => Some(Kind::Repeats),
        Verdict::Frozen => Some(Kind::Frozen),
        Verdict::Jump | Verdict::Spike => Some(Kind::Astray),
        Verdict::StartUp => Some(Kind::Settling),
        Verdict::NoFix => Some(Kind::NoFix),
        Verdict::Untimed => Some(Kind::Untimed),
        // another receiver recorded that time; stray times are reported by file
        Verdict::Kept | Verdict::SecondReceiver | Verdict::StrayTime => None,
    }
}

/// The judged fixes of each run as its file has them: judging put them in order of time, in which a
/// interval of wrong times is divided.
fn in_file_order(runs: &[Run], judged: &[JudgedFix]) -> Vec<Vec<JudgedFix>> {
    let mut by_run: Vec<Vec<JudgedFix>> = vec![Vec::new(); runs.len()];
    for fix in judged {
        if let Some(own) = by_run.get_mut(usize::from(fix.segment)) {
            own.push(*fix);
        }
    }
    for (run, own) in runs.iter().zip(&mut by_run) {
        let mut order: Vec<usize> = (0..run.fixes.len()).collect();
        order.sort_by_key(|&k| (run.fixes[k].time.is_none(), run.fixes[k].time));
        let mut numbered: Vec<(usize, JudgedFix)> =
            order.into_iter().zip(own.iter().copied()).collect();
        numbered.sort_by_key(|(place, _)| *place);
        *own = numbered.into_iter().map(|(_, fix)| fix).collect();
    }
    by_run
}

/// The noticeable intervals of one run.
fn intervals(fixes: &[JudgedFix]) -> Vec<Interval> {
    let mut intervals = Vec::new();
    let mut first = 0;
    for alike in fixes.chunk_by(|a, b| kind_of(a.verdict) == kind_of(b.verdict)) {
        let end = first + alike.len();
        if let Some(kind) = kind_of(alike[0].verdict) {
            intervals.extend(interval(fixes, first, end, kind));
        }
        first = end;
    }
    intervals
}

fn interval(fixes: &[JudgedFix], first: usize, end: usize, kind: Kind) -> Option<Interval> {
    let own = || fixes[first..end].iter().filter_map(|fix| fix.fix.time);
    let before = fixes[..first].iter().rev().find_map(|fix| fix.fix.time);
    let after = fixes[end..].iter().find_map(|fix| fix.fix.time);
    let from = own().next().or(before).or(after)?;
    let last = own().next_back().or(after).or(before)?;
    let count = end - first;
    let lasting = Seconds::between(from, last).0;
    if count < MANY && (count < LONG.0 || lasting < LONG.1) {
        return None;
    }
    let until = after.unwrap_or(last);
    let mut interval = Interval { kind, count, from, until, clock: None };
    if kind == Kind::Clock {
        let clock = step(usual(fixes), (before, from), (last, after));
        let ahead = if let Step::Ahead(ahead) = clock { ahead } else { 0.0 };
        let set_right = |time: Timestamp| Seconds(-ahead).after(time);
        (interval.from, interval.until) = (set_right(from), set_right(last));
        interval.clock = Some(clock);
    }
    Some(interval)
}

/// The ordinary interval of a run, seconds.
fn usual(fixes: &[JudgedFix]) -> f64 {
    let times: Vec<Timestamp> = fixes.iter().filter_map(|fix| fix.fix.time).collect();
    let mut steps: Vec<f64> =
        times.windows(2).map(|pair| Seconds::between(pair[0], pair[1]).0).collect();
    median(&mut steps).unwrap_or(0.0).max(0.0)
}

/// What the clock did, from the steps into and out of an interval.
fn step(
    usual: f64,
    (before, from): (Option<Timestamp>, Timestamp),
    (last, after): (Timestamp, Option<Timestamp>),
) -> Step {
    let into = before.map(|before| Seconds::between(before, from).0 - usual);
    let out = after.map(|after| Seconds::between(last, after).0 - usual);
    match (into, out) {
        (Some(into), Some(out)) if (into + out).abs() <= (0.2 * into.abs()).max(2.0 * usual) => {
            Step::Ahead(into)
        }
        (Some(into), Some(out)) => Step::Back(-into.min(out)),
        (None, Some(out)) => Step::Ahead(-out),
        (Some(into), None) => Step::Ahead(into),
        (None, None) => Step::Ahead(0.0),
    }
}

/// The note on all intervals of one kind.
fn note(scene: &Scene, finds: &[Find], intervals: &[&Interval]) -> Option<TrackNote> {
    let longest = intervals.iter().max_by_key(|interval| interval.count)?;
    let touched = |find: &&Find| {
        find.when.is_some_and(|(when, _)| {
            intervals.iter().any(|interval| (interval.from..=interval.until).contains(&when))
        })
    };
    Some(TrackNote::ReceiverFault(FaultInterval {
        fault: fault(longest),
        fixes: longest.count,
        from: local(scene, longest.from),
        until: local(scene, longest.until),
        lasting: Seconds::between(longest.from, longest.until),
        intervals: intervals.len(),
        fixes_in_all: intervals.iter().map(|interval| interval.count).sum(),
        finds: finds.iter().filter(touched).map(|find| FindReference::of(&find.record)).collect(),
    }))
}

fn fault(interval: &Interval) -> ReceiverFault {
    match interval.kind {
        Kind::Clock => match interval.clock {
            Some(Step::Back(by)) => ReceiverFault::ClockSetBack { by: Seconds(by) },
            Some(Step::Ahead(ahead)) => ReceiverFault::ClockAhead { ahead: Seconds(ahead) },
            None => ReceiverFault::ClockAhead { ahead: Seconds(0.0) },
        },
        Kind::Repeats => ReceiverFault::SameTime,
        Kind::Frozen => ReceiverFault::Frozen,
        Kind::Astray => ReceiverFault::Implausible,
        Kind::Settling => ReceiverFault::Settling,
        Kind::NoFix => ReceiverFault::NoFix,
        Kind::Untimed => ReceiverFault::Untimed,
    }
}

#[cfg(test)]
mod tests {
    use super::super::super::moment::Origin;
    use super::*;
    use crate::earth::local::Plane;
    use crate::model::Fix;
    use crate::units::LatLon;

    /// A walk of so many fixes, one each 5 s, each at the second and place that are said of it.
    fn judged(count: u32, said: impl Fn(u32) -> (f64, f64)) -> Vec<Vec<JudgedFix>> {
        let start: Timestamp = "2026-05-12T00:00:00Z".parse().unwrap();
        let plane = Plane::about(LatLon::clamped(-42.6, 146.1));
        let fix = |k: u32| {
            let (second, east) = said(k);
            Fix::bare(plane.from_plane(east, 0.0), Some(Seconds(second).after(start)))
        };
        let runs = [Run { source: 0, fixes: (0..count).map(fix).collect() }];
        let judged = super::super::super::clean::judge(&runs, &plane, Origin(start));
        in_file_order(&runs, &judged)
    }

    fn reported(count: u32, said: impl Fn(u32) -> (f64, f64)) -> Vec<Interval> {
        judged(count, said).iter().flat_map(|fixes| intervals(fixes)).collect()
    }

    fn second(k: u32) -> f64 {
        f64::from(k) * 5.0
    }

    fn only(intervals: &[Interval]) -> &Interval {
        assert_eq!(intervals.len(), 1, "{intervals:?}");
        &intervals[0]
    }

    #[test]
    fn good_walk_and_single_bad_fixes_give_no_note() {
        assert!(reported(500, |k| (second(k), second(k))).is_empty());
        let one_late = |k| (second(k) - if k == 250 { 60.0 } else { 0.0 }, second(k));
        assert!(reported(500, one_late).is_empty());
    }

    #[test]
    fn an_hour_ahead_at_the_start_is_reported_with_the_right_times() {
        let intervals =
            reported(500, |k| (second(k) + if k < 100 { 3_600.0 } else { 0.0 }, second(k)));
        let interval = only(&intervals);
        assert_eq!((interval.kind, interval.count), (Kind::Clock, 100));
        assert_eq!(interval.clock, Some(Step::Ahead(3_600.0)));
        assert_eq!(interval.from.to_string(), "2026-05-12T00:00:00Z");
        assert_eq!(interval.until.to_string(), "2026-05-12T00:08:15Z");
    }

    #[test]
    fn forty_seconds_set_back_are_reported() {
        let intervals =
            reported(500, |k| (second(k) + if k < 200 { 40.0 } else { 0.0 }, second(k)));
        let interval = only(&intervals);
        assert_eq!((interval.kind, interval.count), (Kind::Clock, 8));
        assert_eq!(interval.clock, Some(Step::Back(40.0)));
    }

    #[test]
    fn a_day_ahead_in_the_middle_is_reported() {
        let ahead = |k| if (250..270).contains(&k) { 86_400.0 } else { 0.0 };
        let intervals = reported(500, |k| (second(k) + ahead(k), second(k)));
        let interval = only(&intervals);
        assert_eq!((interval.count, interval.clock), (20, Some(Step::Ahead(86_400.0))));
        assert_eq!(interval.from.to_string(), "2026-05-12T00:20:50Z");
    }

    #[test]
    fn a_frozen_receiver_is_reported_from_when_to_when() {
        let frozen = |k| second(if (100..160).contains(&k) { 100 } else { k });
        let intervals = reported(500, |k| (second(k), frozen(k)));
        let interval = only(&intervals);
        assert_eq!((interval.kind, interval.count), (Kind::Frozen, 59));
        assert_eq!(Seconds::between(interval.from, interval.until), Seconds(295.0));
    }

    #[test]
    fn a_device_that_repeats_is_reported_once_with_its_interval() {
        let runs = judged(1_000, |k| (second(k), second(k / 4 * 4)));
        let repeating = repeating(&runs).unwrap();
        assert_eq!((repeating.each, repeating.repetitions), (20.0, 750));
        let intervals: Vec<Interval> = runs.iter().flat_map(|fixes| intervals(fixes)).collect();
        assert!(intervals.iter().all(|interval| repeating.explains(interval)));
        assert_eq!(super::repeating(&judged(1_000, |k| (second(k), second(k)))), None);
    }
}

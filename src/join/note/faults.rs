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
    let intervals: Vec<Interval> =
        in_file_order(&scene.gathered.runs, &scene.estimated_track.fixes)
            .iter()
            .flat_map(|f| intervals(f))
            .collect();
    let of_kind = |kind: Kind| -> Vec<&Interval> {
        intervals.iter().filter(|interval| interval.kind == kind).collect()
    };
    KINDS.into_iter().filter_map(|kind| note(scene, finds, &of_kind(kind))).collect()
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
    fn reported(count: u32, said: impl Fn(u32) -> (f64, f64)) -> Vec<Interval> {
        let start: Timestamp = "2026-05-12T00:00:00Z".parse().unwrap();
        let plane = Plane::about(LatLon::clamped(-42.6, 146.1));
        let fix = |k: u32| {
            let (second, east) = said(k);
            Fix::bare(plane.from_plane(east, 0.0), Some(Seconds(second).after(start)))
        };
        let runs = [Run { source: 0, fixes: (0..count).map(fix).collect() }];
        let judged = super::super::super::clean::judge(&runs, &plane, Origin(start));
        in_file_order(&runs, &judged).iter().flat_map(|fixes| intervals(fixes)).collect()
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
}

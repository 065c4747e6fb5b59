//! Computes the likelihood of all photographs at given instants, summed over every assignment of
//! photographs to stops. A stop begins before its first photograph and ends after its last by delays that
//! are a habit of the collector, estimated together with the offset. A few photographs are taken while
//! walking, more while searching. Layer: `join`.

use super::collector::{AssignmentSums, BOTH, Moment, Since};
use super::habit::Habits;

/// The share of photographs that are not taken while stationary.
const ELSEWHERE: f64 = 0.12;
/// Outside the track a photograph is so much rarer than at any time of it: the receiver may have been
/// off.
const OFF_THE_TRACK: f64 = 0.1;

/// The log likelihood of photographs at these instants, in order, for each mode of arrival and departure.
pub(super) fn log_likelihoods(habits: &Habits, instants: &[f64]) -> [f64; BOTH] {
    let steps = &habits.passages.steps;
    let (Some(first), Some(last)) = (steps.first(), steps.last()) else { return [0.0; BOTH] };
    let usual = instants.len() as f64 / (last.start + last.dt - first.start);
    let mut sums_so_far = AssignmentSums::new();
    let mut before: Option<(usize, f64)> = None;
    for &instant in instants {
        let place = steps.partition_point(|step| step.start <= instant).checked_sub(1);
        let inside = place.filter(|&k| instant < steps[k].start + steps[k].dt);
        let Some(k) = inside.filter(|&k| !steps[k].is_gap) else {
            sums_so_far.pass(if inside.is_some() { usual } else { OFF_THE_TRACK * usual });
            before = None;
            continue;
        };
        let through = |last: usize| (steps[last].stopped, habits.stopped(last, k));
        let since =
            before.map(|(last, time)| Since::of(instant - time, (last < k).then(|| through(last))));
        sums_so_far.update(&Moment {
            stopped: steps[k].stopped,
            elsewhere: ELSEWHERE * usual * f64::midpoint(1.0, habits.searching(k)),
            opened: habits.opened(k, instant),
            closed: habits.closed(k, instant),
            since,
        });
        before = Some((k, instant));
    }
    sums_so_far.log_likelihoods()
}

#[cfg(test)]
mod tests {
    use super::super::super::activity;
    use super::super::super::frame::{Frames, PlaneFix};
    use super::super::grid::sum_of;
    use super::super::passages::{Passages, Point};
    use super::*;

    /// Of all modes together.
    fn log_likelihood(habits: &Habits, instants: &[f64]) -> f64 {
        sum_of(&log_likelihoods(habits, instants))
    }

    /// Walks for a hundred seconds and stops for a hundred, ten times; with a little periodic noise.
    fn day() -> Vec<Point> {
        let mut east = 0.0;
        (0..2_000_u32)
            .map(|second| {
                east += if second % 200 < 100 { 1.0 } else { 0.0 };
                let unrest = f64::from(second * 7_919 % 101) / 101.0 - 0.5;
                (f64::from(second), east + unrest, 0.8 * unrest)
            })
            .collect()
    }

    fn passages(points: &[Point]) -> Passages {
        let fixes: Vec<PlaneFix> = points
            .iter()
            .map(|&(time, east, north)| PlaneFix { time, east, north, trust: 1.0 })
            .collect();
        let frames = Frames::gather(&fixes, 3.0);
        Passages::of(points, &activity::estimate(&frames), frames.gap)
    }

    #[test]
    fn photographs_in_the_middle_of_stops_are_most_likely() {
        let passages = passages(&day());
        let habits = Habits::of(&passages);
        let at = |offset: f64| {
            let instants: Vec<f64> =
                (0..10).map(|n| 150.0 + 200.0 * f64::from(n) - offset).collect();
            log_likelihood(&habits, &instants)
        };
        for away in [20.0, 40.0] {
            assert!((at(away) - at(-away)).abs() < 1.5, "{away}: {} {}", at(away), at(-away));
        }
        for away in [58.0, 75.0, 100.0] {
            assert!(at(0.0) > at(away) + 10.0 && at(0.0) > at(-away) + 10.0, "{away}");
        }
    }

    /// A moment of a stop from its beginning and end.
    type Of = fn(&(f64, f64)) -> f64;

    /// Walks for a hundred seconds and stops for longer each time.
    fn longer_and_longer() -> (Vec<Point>, Vec<(f64, f64)>) {
        let stops: Vec<(f64, f64)> = (0..15)
            .scan(0.0, |time, n| {
                let came = *time + 100.0;
                *time = came + 60.0 + 12.0 * f64::from(n);
                Some((came, *time))
            })
            .collect();
        let mut east = 0.0;
        let points = (0..3_700_u32)
            .map(|second| {
                let time = f64::from(second);
                let stops = stops.iter().any(|&(came, left)| (came..left).contains(&time));
                east += if stops { 0.0 } else { 1.0 };
                let unrest = f64::from(second * 7_919 % 101) / 101.0 - 0.5;
                (time, east + unrest, 0.8 * unrest)
            })
            .collect();
        (points, stops)
    }

    #[test]
    fn photographing_habit_is_estimated_from_the_day() {
        let (points, stops) = longer_and_longer();
        let passages = passages(&points);
        let habits = Habits::of(&passages);
        let kinds: [(&str, Of); 3] = [
            ("soon after arrival", |(came, _)| came + 6.0),
            ("soon before departure", |(_, left)| left - 6.0),
            ("in the middle", |(came, left)| f64::midpoint(*came, *left)),
        ];
        for (kind, moment) in kinds {
            let at = |offset: f64| {
                let instants: Vec<f64> = stops.iter().map(|stop| moment(stop) - offset).collect();
                log_likelihood(&habits, &instants)
            };
            let best =
                (-60_i32..=60).max_by(|&a, &b| at(f64::from(a)).total_cmp(&at(f64::from(b))));
            assert!(best.is_some_and(|best| best.abs() <= 5), "{kind}: {best:?}");
        }
    }

    #[test]
    fn no_data_give_a_flat_likelihood() {
        let passages = passages(&[]);
        assert!((log_likelihood(&Habits::of(&passages), &[5.0, 6.0]) - 9_f64.ln()).abs() < 1e-12);
        let one = [(0.0, 0.0, 0.0), (1.0, 0.0, 0.0)];
        let passages = super::tests::passages(&one);
        for instants in [vec![], vec![0.5], vec![-1e9, 0.5, 1e9], vec![0.5; 50]] {
            assert!(log_likelihood(&Habits::of(&passages), &instants).is_finite());
        }
    }
}

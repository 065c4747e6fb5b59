//! Where in their stands do the pictures fall? The likelihood of all pictures at given instants,
//! summed over every way of giving them to stands. A stand begins before its first picture and ends
//! after its last by delays that are a habit of the collector, learnt together with the offset. Now
//! and then a picture is taken on the way, more often in search. Layer: `join`.

use super::collector::{Moment, Reckoning, Since};
use super::habit::Habits;

/// The share of pictures that are not taken standing.
const ELSEWHERE: f64 = 0.12;
/// Outside the track a picture is so much rarer than at any time of it: the receiver may have been
/// off.
const OFF_THE_TRACK: f64 = 0.1;

/// The log likelihood of pictures at these instants, in order.
pub(super) fn log_likelihood(habits: &Habits, instants: &[f64]) -> f64 {
    let steps = &habits.passages.steps;
    let (Some(first), Some(last)) = (steps.first(), steps.last()) else { return 0.0 };
    let usual = instants.len() as f64 / (last.start + last.dt - first.start);
    let mut reckoning = Reckoning::new();
    let mut before: Option<(usize, f64)> = None;
    for &instant in instants {
        let place = steps.partition_point(|step| step.start <= instant).checked_sub(1);
        let inside = place.filter(|&k| instant < steps[k].start + steps[k].dt);
        let Some(k) = inside.filter(|&k| !steps[k].silent) else {
            reckoning.pass(if inside.is_some() { usual } else { OFF_THE_TRACK * usual });
            before = None;
            continue;
        };
        let through = |last: usize| (steps[last].stood, habits.stood(last, k));
        let since = before.map(|(last, time)| Since {
            seconds: instant - time,
            through: (last < k).then(|| through(last)),
        });
        reckoning.hear(&Moment {
            stood: steps[k].stood,
            elsewhere: ELSEWHERE * usual * f64::midpoint(1.0, habits.searching(k)),
            opened: habits.opened(k, instant),
            closed: habits.closed(k, instant),
            since,
        });
        before = Some((k, instant));
    }
    reckoning.log_likelihood()
}

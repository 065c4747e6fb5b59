//! Converts a written time into the moments that it may mean: rounded or cut off, by a watch that may be off.
//! Layer: `join`.

use crate::units::Seconds;

use super::super::locate::Moments;
use super::super::notebook_clock::Watch;
use super::Scene;

/// What a written time may mean. A step of a second: a device's clock, occasionally a watch that is
/// some seconds off. A longer step: from half of it before (rounded) to the whole of it after (cut
/// off), soft at both ends, sooner while stationary than while walking.
pub(super) fn written_moments(scene: &Scene, written: f64, step: f64) -> Moments {
    const SOFT: f64 = 25.0;
    const NODES: u32 = 11;
    if step <= 1.0 {
        return to_the_second(written);
    }
    let (from, to) = (written - step / 2.0 - SOFT, written + step + SOFT);
    (0..NODES)
        .map(|k| {
            let time = from + (f64::from(k) + 0.5) / f64::from(NODES) * (to - from);
            let edge = ((time - from).min(to - time) / (2.0 * SOFT)).min(1.0);
            let stationary = scene.estimated_track.activities.stationary(time).unwrap_or(0.4);
            (time, time, edge * (0.1 + stationary))
        })
        .collect()
}

/// The same with a watch that may be off.
pub(super) fn of_watch(scene: &Scene, written: f64, step: f64, watch: &Watch) -> Moments {
    /// Moments of so many equal shares are enough.
    const SHARES: f64 = 40.0;
    let mut all: Moments = Vec::new();
    for (ahead, probability) in watch.parts() {
        let moments = written_moments(scene, written - ahead, step);
        let total: f64 = moments.iter().map(|moment| moment.2).sum();
        all.extend(moments.iter().map(|m| (m.0, m.1, probability * m.2 / total.max(1e-9))));
    }
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    let share = all.iter().map(|moment| moment.2).sum::<f64>() / SHARES;
    let mut gathered: Moments = Vec::new();
    let (mut sum, mut mass) = (0.0, 0.0);
    for (time, _, weight) in all {
        (sum, mass) = (sum + weight * time, mass + weight);
        if mass >= share {
            gathered.push((sum / mass, sum / mass, mass));
            (sum, mass) = (0.0, 0.0);
        }
    }
    if mass > 0.0 {
        gathered.push((sum / mass, sum / mass, mass));
    }
    gathered
}

/// Nine times of ten within a second or two, else within ten (common practice: a telephone keeps
/// the time of its network; a wrist watch set by hand is some seconds off).
fn to_the_second(written: f64) -> Moments {
    const OFFSETS: [(f64, f64); 9] = [
        (-9.0, 0.008),
        (-4.5, 0.03),
        (-2.0, 0.08),
        (-1.0, 0.222),
        (0.0, 0.32),
        (1.0, 0.222),
        (2.0, 0.08),
        (4.5, 0.03),
        (9.0, 0.008),
    ];
    OFFSETS.map(|(off, weight)| (written + off, written + off, weight)).to_vec()
}

/// Half of the 95 % interval of a written time.
pub(super) fn written_within(step: Seconds) -> Seconds {
    const TO_THE_SECOND: f64 = 3.0;
    if step.0 <= 1.0 { Seconds(TO_THE_SECOND) } else { Seconds(step.0.max(30.0)) }
}

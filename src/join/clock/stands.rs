//! Pictures fall into stands. For each group of pictures taken close together, how much likelier is
//! it at each offset that the collector stood through all of them than through a like group at any
//! time of the day? Pictures of one stand count as one witness. Layer: `join`.

use super::super::gait::Gaits;
use super::grid::Grid;

/// Pictures nearer to each other than this were taken from one stand, seconds.
const ONE_STAND: f64 = 45.0;
/// The longest group, seconds.
const LONGEST_GROUP: f64 = 300.0;
/// The share of groups that are not of one stand: taken on the way, or from two.
const ON_THE_WAY: f64 = 0.12;
/// Outside the track pictures are rarer, but not absent: the receiver may have been off.
const OFF_THE_TRACK: f32 = 0.03;
/// What one witness is worth, learnt from simulated days: errors of neighbouring stands are not
/// quite independent.
const WORTH: f64 = 0.8;

/// The log likelihood at each offset, and how many groups there were.
pub(super) fn over(grid: &Grid, readings: &[f64], gaits: &Gaits) -> (Vec<f64>, usize) {
    let mut log = vec![0.0; grid.count];
    let known: Vec<f64> =
        gaits.seconds.iter().filter(|p| !p.is_nan()).map(|p| f64::from(*p)).collect();
    let groups = groups(readings);
    if known.is_empty() {
        return (log, groups.len());
    }
    let usual = known.iter().sum::<f64>() / known.len() as f64;
    #[allow(clippy::cast_possible_truncation, reason = "a probability")]
    let standing: Vec<f32> =
        gaits.seconds.iter().map(|p| if p.is_nan() { usual as f32 } else { *p }).collect();
    let mut through = vec![0.0_f32; grid.count];
    for group in &groups {
        hear(grid, group, &standing, gaits.from, &mut through);
        let at_any_time = usual_through(&standing, group);
        for (sum, stood) in log.iter_mut().zip(&through) {
            let on_track = f64::from(*stood) / at_any_time;
            *sum += WORTH * ((1.0 - ON_THE_WAY) * on_track + ON_THE_WAY * 0.5).ln();
        }
    }
    (log, groups.len())
}

/// Readings as groups taken from one stand.
pub(crate) fn groups(readings: &[f64]) -> Vec<Vec<f64>> {
    let mut groups: Vec<Vec<f64>> = Vec::new();
    for &reading in readings {
        match groups.last_mut() {
            Some(group)
                if reading - group[group.len() - 1] < ONE_STAND
                    && reading - group[0] < LONGEST_GROUP =>
            {
                group.push(reading);
            }
            _ => groups.push(vec![reading]),
        }
    }
    groups
}

/// At each offset, the probability that the collector stood at every picture of the group.
fn hear(grid: &Grid, group: &[f64], standing: &[f32], from: f64, through: &mut [f32]) {
    through.fill(1.0);
    let pictures = 1 + group.len().saturating_sub(1).min(11);
    for n in 0..pictures {
        // the first, the last and some between say what all of a large group say
        let reading = group[n * (group.len() - 1) / (pictures - 1).max(1)];
        // the second at offset k is `latest - k`
        let latest = (reading - grid.from - from).floor();
        for_each_second(latest, standing, through);
    }
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held in range")]
fn for_each_second(latest: f64, standing: &[f32], through: &mut [f32]) {
    let count = through.len();
    let first = (latest - (standing.len() as f64 - 1.0)).clamp(0.0, count as f64) as usize;
    let end = (latest + 1.0).clamp(first as f64, count as f64) as usize;
    let lower = |part: &mut [f32]| part.iter_mut().for_each(|p| *p = p.min(OFF_THE_TRACK));
    lower(&mut through[..first]);
    lower(&mut through[end..]);
    if first == end {
        return;
    }
    let top = (latest - first as f64) as usize;
    let seconds = &standing[top + 1 - (end - first)..=top];
    for (p, stood) in through[first..end].iter_mut().zip(seconds.iter().rev()) {
        *p = p.min(*stood);
    }
}

/// The probability of standing through such a group at any time of the day.
fn usual_through(standing: &[f32], group: &[f64]) -> f64 {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "up to 300 s")]
    let span = (group[group.len() - 1] - group[0]).max(0.0) as usize;
    let (mut sum, mut count) = (0.0, 0.0);
    let mut k = 0;
    while k + span < standing.len() {
        let ends = standing[k].min(standing[k + span]).min(standing[k + span / 2]);
        sum += f64::from(ends);
        count += 1.0;
        k += 7;
    }
    if count == 0.0 { 0.2 } else { (sum / count).max(0.02) }
}

//! Detects a camera clock that was set during the day: its written times differ from photograph times by
//! one amount up to some find and by another amount after it, so its photographs need two clock offsets.
//! Layer: `join`.

use super::super::CameraClockOption;
use super::super::moment::median;
use super::Scene;
use super::direct_evidence::mean_reading;

/// Fewer finds on either side give no information.
const FEWEST: usize = 3;
/// Times are written to the minute and late; a smaller step is no setting, seconds.
const LEAST: f64 = 180.0;
/// Finds of one side agree to so much, seconds, or to this share of the step.
const ALIKE: f64 = 90.0;
const ALIKE_SHARE: f64 = 0.2;

/// A find with a written time and photographs of the camera.
struct Pair {
    /// Seconds since the day's origin.
    written: f64,
    /// What the camera is ahead of UTC by it, seconds.
    ahead: f64,
    photos: Vec<usize>,
}

/// The photographs of a camera, parted where its clock was set, in the order of the day. A clock that
/// the user stated to be correct was not set.
pub(super) fn parted(scene: &Scene, photos: Vec<usize>) -> Vec<Vec<usize>> {
    use CameraClockOption::{Ahead, Auto, None as Right, Shown};
    match scene.options.camera_clock {
        Ahead(_) | Right => return vec![photos],
        Auto | Shown { .. } => {}
    }
    let pairs = pairs(scene, &photos);
    let Some(from) = step(&pairs) else { return vec![photos] };
    // photographs without a find go with their neighbours by name
    let mut named: Vec<(String, usize)> =
        photos.iter().map(|&photo| (scene.gathered.photos[photo].name(), photo)).collect();
    named.sort();
    let side = |photo: usize| pairs.iter().position(|pair| pair.photos.contains(&photo));
    let known: Vec<Option<bool>> =
        named.iter().map(|(_, photo)| side(*photo).map(|pair| pair >= from)).collect();
    let nearest = |place: usize| {
        let known = known.iter().enumerate().filter_map(|(k, late)| Some((k, (*late)?)));
        known.min_by_key(|(k, _)| k.abs_diff(place)).is_some_and(|(_, late)| late)
    };
    let (mut early, mut late) = (Vec::new(), Vec::new());
    for (place, (_, photo)) in named.iter().enumerate() {
        if nearest(place) { late.push(*photo) } else { early.push(*photo) }
    }
    early.sort_unstable();
    late.sort_unstable();
    vec![early, late]
}

fn pairs(scene: &Scene, photos: &[usize]) -> Vec<Pair> {
    let records = scene.gathered.records.iter().zip(&scene.claims.photos);
    let mut pairs: Vec<Pair> = records
        .filter_map(|(filed, claimed)| {
            let read = scene.written(filed)?;
            let written = scene.estimated_track.origin.seconds(read.instant);
            let ahead = mean_reading(scene, claimed, photos)? - written;
            let of_camera = claimed.iter().copied().filter(|photo| photos.contains(photo));
            Some(Pair { written, ahead, photos: of_camera.collect() })
        })
        .collect();
    pairs.sort_by(|a, b| a.written.total_cmp(&b.written));
    pairs
}

/// Where the pairs step from one level to another; `None` where they keep to one.
fn step(pairs: &[Pair]) -> Option<usize> {
    let level = |side: &[Pair]| {
        let mut ahead: Vec<f64> = side.iter().map(|pair| pair.ahead).collect();
        median(&mut ahead)
    };
    let spread = |side: &[Pair], level: f64| -> f64 {
        side.iter().map(|pair| (pair.ahead - level).abs()).sum()
    };
    let parts = (FEWEST..(pairs.len() + 1).saturating_sub(FEWEST)).filter_map(|from| {
        let (early, late) = pairs.split_at(from);
        let levels = (level(early)?, level(late)?);
        Some((from, levels, spread(early, levels.0) + spread(late, levels.1)))
    });
    let (from, (before, after), _) = parts.min_by(|a, b| a.2.total_cmp(&b.2))?;
    let size = (before - after).abs();
    let alike = |side: &[Pair], level: f64| {
        let reach = ALIKE.max(ALIKE_SHARE * size);
        let near = side.iter().filter(|pair| (pair.ahead - level).abs() <= reach).count();
        4 * near >= 3 * side.len()
    };
    let (early, late) = pairs.split_at(from);
    (size >= LEAST && alike(early, before) && alike(late, after)).then_some(from)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(ahead: &[f64]) -> Vec<Pair> {
        let pair = |(k, ahead): (usize, &f64)| Pair {
            written: 600.0 * k as f64,
            ahead: *ahead,
            photos: vec![k],
        };
        ahead.iter().enumerate().map(pair).collect()
    }

    #[test]
    fn clock_set_during_the_day_gives_one_step() {
        let set = [3_640.0, 3_600.0, 3_590.0, 3_655.0, 20.0, 10.0, 55.0];
        assert_eq!(step(&day(&set)), Some(4));
        // by five minutes only, with one time written an hour late
        let by_five = [10.0, 50.0, 30.0, 20.0, -280.0, -250.0, -3_900.0, -240.0, -290.0];
        assert_eq!(step(&day(&by_five)), Some(4));
    }

    #[test]
    fn late_notes_outliers_and_few_finds_give_no_step() {
        assert_eq!(step(&day(&[10.0, 80.0, 40.0, 130.0, 5.0, 60.0, 150.0, 20.0])), None);
        assert_eq!(step(&day(&[10.0, 3_600.0, 40.0, 30.0, 3_650.0, 60.0, 15.0, 20.0])), None);
        assert_eq!(step(&day(&[10.0, 10.0, 3_600.0, 3_600.0])), None);
        assert_eq!(step(&[]), None);
        // a drift of the notebook, minute by minute
        let drifting: Vec<f64> = (0..12).map(|k| 60.0 * f64::from(k)).collect();
        assert_eq!(step(&day(&drifting)), None);
    }
}

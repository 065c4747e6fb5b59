//! Estimates how far the collector deviates from the straight line between two places, and from an
//! extrapolated heading. Pieces of the day's own track are withheld, the deviation at the fixes inside is
//! divided by the deviation expected for the duration and the chord, and this ratio is combined with that
//! of published walks. Layer: `join`.
//!
//! # References
//! The deviation vanishes at both ends as that of a Brownian bridge does (Horne, Garton, Krone &
//! Lewis 2007, Analyzing animal movements using Brownian bridges, Ecology 88:2354-2363, from memory);
//! its size grows with the time, as that of somebody does who follows a winding path, and not with the
//! root of it. `docs/position.md` has the fit.

use super::super::frame::{Frame, Frames};
use super::super::kalman::Receiver;

/// The scale of deviations as far as it is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Scale {
    /// The mean of its logarithm.
    pub(super) log: f64,
    /// The variance of that.
    pub(super) variance: f64,
}

/// Deviation from the chord, root mean square per axis at the middle of an interval whose chord is
/// short, over path walked: the mean and the standard deviation of its logarithm between the days
/// of published walks.
const BETWEEN: (f64, f64) = (-2.0, 0.35);
/// The same for the deviation from where the last two minutes pointed.
const BEYOND: (f64, f64) = (-0.87, 0.25);
/// The log ratios of the windows of one day differ by this (one standard deviation).
const WITHIN_DAY: f64 = 0.7;
/// Additional error of a ratio estimated at half or twice the length.
const PER_OCTAVE: f64 = 0.12;
/// Parts of a window at which deviations are looked at.
const PARTS: [f64; 5] = [0.2, 0.35, 0.5, 0.65, 0.8];
/// Windows of one length that are enough.
const ENOUGH: f64 = 80.0;
/// Path rate is taken over steps of this many seconds.
const PACE_STEP: f64 = 30.0;
/// Path rate of a day of which nothing is known, metres a second, and the seconds that this counts.
const PACE: (f64, f64) = (0.5, 600.0);
/// The heading is the mean movement over this many seconds.
pub(super) const MEMORY: f64 = 120.0;

/// The size of a deviation from the chord where the scale is one: the path walked in that time,
/// zero at both ends, and the less the nearer the chord comes to the path.
pub(super) fn between(lasts: f64, part: f64, chord: f64, pace: f64) -> f64 {
    const STRAIGHT: f64 = 0.3;
    let path = pace * lasts;
    let slack = (1.0 - (chord / path).powi(2)).max(0.0) + STRAIGHT * STRAIGHT;
    path * slack.powf(0.25) * (4.0 * part * (1.0 - part)).max(0.0).powf(0.75)
}

/// The share of the movement of the last two minutes that persists over this many seconds.
pub(super) fn kept(lasts: f64) -> f64 {
    0.75 * (-lasts / 1_800.0).exp()
}

/// Metres of path in a second, over all the day but its gaps.
pub(crate) fn pace(frames: &Frames) -> f64 {
    let (mut path, mut lasted) = (PACE.0 * PACE.1, PACE.1);
    let Some(mut from) = frames.all.first() else { return PACE.0 };
    for frame in &frames.all {
        let step = frame.time - from.time;
        if step >= PACE_STEP {
            if step <= frames.gap.max(2.0 * PACE_STEP) {
                path += apart(from, frame);
                lasted += step;
            }
            from = frame;
        }
    }
    path / lasted
}

/// The scale of the deviation from the chord of a gap that lasts so long.
pub(super) fn scale_between(frames: &Frames, receiver: &Receiver, lasts: f64, pace: f64) -> Scale {
    let levels = [0.25, 0.5, 1.0, 2.0].map(|part| (part * lasts).max(120.0));
    learn(frames, BETWEEN, lasts, &levels, |from, to| across(frames, receiver, (from, to), pace))
}

/// The scale of the deviation from where the last steps pointed, so long after them.
pub(super) fn scale_beyond(frames: &Frames, lasts: f64, pace: f64) -> Scale {
    let levels = [0.5, 1.0].map(|part| (part * lasts).max(60.0));
    learn(frames, BEYOND, lasts, &levels, |from, to| onward(frames, (from, to), pace))
}

/// Withholds windows of each length and weighs their ratios with the published ones.
fn learn(
    frames: &Frames,
    prior: (f64, f64),
    lasts: f64,
    levels: &[f64],
    square: impl Fn(usize, usize) -> Option<f64>,
) -> Scale {
    let mut weight = prior.1.powi(-2);
    let mut sum = weight * prior.0;
    let mut before = 0.0;
    for &level in levels {
        if level <= before {
            continue;
        }
        before = level;
        let Some((log, worth)) = of_length(frames, level, &square) else { continue };
        let octaves = (level / lasts).log2();
        let variance = WITHIN_DAY.powi(2) / worth + (PER_OCTAVE * octaves).powi(2) + 0.02;
        // the windows of all lengths are of one track
        let share = if octaves.abs() < 0.1 { 1.0 } else { 0.5 };
        weight += share / variance;
        sum += share / variance * log;
    }
    Scale { log: sum / weight, variance: 1.0 / weight }
}

/// The log scale that windows of this length show, and how many that do not overlap they are worth.
fn of_length(
    frames: &Frames,
    length: f64,
    square: impl Fn(usize, usize) -> Option<f64>,
) -> Option<(f64, f64)> {
    let (first, last) = (frames.all.first()?.time, frames.all.last()?.time);
    let stride = (0.25 * length).max((last - first) / ENOUGH);
    let (mut squares, mut count) = (0.0, 0.0);
    let mut start = first;
    while start + length <= last {
        let from = frames.all.partition_point(|frame| frame.time < start);
        let to = frames.all.partition_point(|frame| frame.time < frames.all[from].time + length);
        let fits = to < frames.all.len()
            && frames.all[to].time - frames.all[from].time <= 1.25 * length
            && frames.all[from].time - start <= 0.25 * length;
        if let Some(value) = fits.then(|| square(from, to)).flatten() {
            squares += value;
            count += 1.0;
        }
        start += stride;
    }
    let worth = count * stride.min(length) / length;
    (count > 0.0).then(|| (0.5 * (squares / count).max(1e-6).ln(), worth))
}

/// The mean square per axis of the deviations from the chord of one window, in units of what the
/// scale of one lets expect. The receiver's own share is taken off.
fn across(
    frames: &Frames,
    receiver: &Receiver,
    (from, to): (usize, usize),
    pace: f64,
) -> Option<f64> {
    let (a, b) = (&frames.all[from], &frames.all[to]);
    let lasts = b.time - a.time;
    let chord = apart(a, b);
    let (mut sum, mut count, mut used) = (0.0, 0.0, from);
    for part in PARTS {
        let at = nearest(frames, a.time + part * lasts);
        if at <= used || at >= to {
            continue;
        }
        used = at;
        let here = &frames.all[at];
        let share = (here.time - a.time) / lasts;
        let off2 = (here.east - a.east - share * (b.east - a.east)).powi(2)
            + (here.north - a.north - share * (b.north - a.north)).powi(2);
        let noise2 = 2.0 * receiver.sigma.powi(2) * bridge_noise(lasts, share, receiver.tau);
        let expected = between(lasts, share, chord, pace);
        sum += 0.5 * (off2 - noise2).max(0.5 * off2).max(4.0) / (expected * expected);
        count += 1.0;
    }
    (count > 0.0).then(|| sum / count)
}

/// The variance of an exponentially correlated error less its interpolation between two others, in
/// units of its own.
fn bridge_noise(lasts: f64, share: f64, tau: f64) -> f64 {
    let alike = |apart: f64| (-apart / tau).exp();
    let (near, far) = (1.0 - share, share);
    1.0 + near * near + far * far + 2.0 * near * far * alike(lasts)
        - 2.0 * near * alike(share * lasts)
        - 2.0 * far * alike(near * lasts)
}

/// The same for the end of one window against where the two minutes before it pointed.
fn onward(frames: &Frames, (from, to): (usize, usize), pace: f64) -> Option<f64> {
    let (a, b) = (&frames.all[from], &frames.all[to]);
    let lasts = b.time - a.time;
    let (east, north) = heading(frames, from, true)?;
    let on = kept(lasts) * lasts;
    let off2 = (b.east - a.east - on * east).powi(2) + (b.north - a.north - on * north).powi(2);
    Some(0.5 * off2.max(4.0) / (pace * lasts).powi(2))
}

/// The mean velocity over the two minutes that lead to a frame, or that follow it, looking back.
/// `None` where the track does not reach so far.
pub(super) fn heading(frames: &Frames, at: usize, leads_to: bool) -> Option<(f64, f64)> {
    let here = &frames.all[at];
    let sign = if leads_to { -1.0 } else { 1.0 };
    let there = &frames.all[nearest(frames, here.time + sign * MEMORY)];
    let lasted = (here.time - there.time).abs();
    let fits = (0.5 * MEMORY..2.0 * MEMORY).contains(&lasted);
    fits.then(|| ((here.east - there.east) / lasted, (here.north - there.north) / lasted))
}

/// The frame nearest to a time; there is one.
fn nearest(frames: &Frames, time: f64) -> usize {
    let after = frames.all.partition_point(|frame| frame.time < time);
    let gap = |k: usize| (frames.all[k].time - time).abs();
    let (below, above) = (after.saturating_sub(1), after.min(frames.all.len() - 1));
    if gap(below) <= gap(above) { below } else { above }
}

fn apart(a: &Frame, b: &Frame) -> f64 {
    (b.east - a.east).hypot(b.north - a.north)
}

#[cfg(test)]
mod tests {
    use super::*;

    const RECEIVER: Receiver = Receiver { sigma: 2.0, tau: 120.0, white: 0.5 };

    fn walk(seconds: u32, every: usize, place: impl Fn(f64) -> (f64, f64)) -> Frames {
        let frame = |time: f64| {
            let (east, north) = place(time);
            Frame { time, east, north, count: 1.0, trust: 1.0 }
        };
        let all = (0..seconds).step_by(every).map(|time| frame(f64::from(time))).collect();
        Frames { all, gap: 4.0 * every as f64, span: 3.0 }
    }

    fn straight(time: f64) -> (f64, f64) {
        (time, 0.0)
    }

    /// Round and round at the same pace.
    fn winding(time: f64) -> (f64, f64) {
        (100.0 * (time / 100.0).sin(), 100.0 * (time / 100.0).cos())
    }

    fn scale(frames: &Frames, lasts: f64) -> Scale {
        scale_between(frames, &RECEIVER, lasts, pace(frames))
    }

    #[test]
    fn scale_is_estimated_from_the_day() {
        let (straight, winding) = (walk(9_000, 5, straight), walk(9_000, 5, winding));
        let (little, much) = (scale(&straight, 300.0), scale(&winding, 300.0));
        assert!(little.log < BETWEEN.0 - 0.7, "{little:?}");
        assert!(much.log > BETWEEN.0 + 0.3, "{much:?}");
        assert!(much.log - little.log > 1.0, "{little:?} {much:?}");
        assert!(little.variance < 0.3 * BETWEEN.1.powi(2), "{little:?}");
    }

    #[test]
    fn short_track_keeps_the_published_scale() {
        for frames in [Frames::default(), walk(20, 5, straight)] {
            let scale = scale(&frames, 600.0);
            assert!((scale.log - BETWEEN.0).abs() < 1e-12, "{scale:?}");
            assert!((scale.variance - BETWEEN.1.powi(2)).abs() < 1e-12, "{scale:?}");
        }
    }

    #[test]
    fn scale_is_estimated_from_sparse_fixes() {
        let scale = scale(&walk(14_400, 300, straight), 300.0);
        assert!(scale.variance < 0.7 * BETWEEN.1.powi(2), "{scale:?}");
    }

    #[test]
    fn pace_equals_path_length_over_time() {
        // ten minutes at half a metre a second are taken for granted
        let expected = (0.5 * 600.0 + 8_970.0) / (600.0 + 8_970.0);
        let pace = pace(&walk(9_000, 5, straight));
        assert!((pace - expected).abs() < 0.005, "{pace} and not {expected}");
    }

    #[test]
    fn deviation_is_zero_at_both_ends_and_on_a_straight_path() {
        assert!(between(600.0, 0.0, 100.0, 1.0) < 1e-9 && between(600.0, 1.0, 100.0, 1.0) < 1e-9);
        assert!(between(600.0, 0.5, 600.0, 1.0) < 0.56 * between(600.0, 0.5, 0.0, 1.0));
    }

    #[test]
    fn heading_extrapolates_from_both_ends() {
        let frames = walk(1_000, 5, straight);
        let (on, _) = heading(&frames, 100, true).unwrap();
        let (back, _) = heading(&frames, 100, false).unwrap();
        assert!((on - 1.0).abs() < 1e-9 && (back + 1.0).abs() < 1e-9, "{on} {back}");
        assert!(heading(&frames, 2, true).is_none());
    }
}

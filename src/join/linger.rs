//! Detects where the track stays within a small area, as in a search at walking speed: the net distance
//! over each interval of nearly a minute is short. Arrivals and departures are excluded. Layer: `join`.

use super::frame::Frames;
use super::smooth::Smoothed;

/// Seconds over which the net distance is measured.
const SPELL: f64 = 50.0;
/// Net speed of a search, at most, metres a second (common practice:
/// passing through a wood is twice as fast).
const GETTING_ON: f64 = 0.55;

/// For each frame whether the net distance is short in the interval before it, around it and after it.
pub(super) fn lingering(frames: &Frames, smoothed: &[Smoothed]) -> Vec<bool> {
    let ahead = frames_at(frames, SPELL);
    let behind = frames_at(frames, -SPELL);
    let (half_ahead, half_behind) =
        (frames_at(frames, 0.5 * SPELL), frames_at(frames, -0.5 * SPELL));
    let led_on = |from: usize, to: usize| {
        let (a, b) = (&smoothed[from], &smoothed[to]);
        let lasted = frames.all[to].time - frames.all[from].time;
        (b.east - a.east).hypot(b.north - a.north) > GETTING_ON * lasted.max(0.5 * SPELL)
    };
    (0..smoothed.len())
        .map(|k| {
            // too few fixes show no winding
            half_behind[k] < k
                && k < half_ahead[k]
                && !(led_on(behind[k], k)
                    || led_on(k, ahead[k])
                    || led_on(half_behind[k], half_ahead[k]))
        })
        .collect()
}

/// For each frame the last one no later than so many seconds after it.
fn frames_at(frames: &Frames, after: f64) -> Vec<usize> {
    let mut at = 0;
    let place = |frame: &super::frame::Frame| {
        while at + 1 < frames.all.len() && frames.all[at + 1].time <= frame.time + after {
            at += 1;
        }
        at
    };
    frames.all.iter().map(place).collect()
}

#[cfg(test)]
mod tests {
    use super::super::frame::Frame;
    use super::*;

    /// Of a track at 0.7 m/s, a frame every three seconds: the share that lingers.
    fn share(turn_every: u32) -> f64 {
        let (mut east, mut north) = (0.0, 0.0);
        let mut frames = Frames { all: Vec::new(), gap: 60.0, span: 3.0 };
        let mut smoothed = Vec::new();
        for k in 0..400_u32 {
            let quarter = f64::from(k / turn_every % 4) * std::f64::consts::FRAC_PI_2;
            east += 2.1 * quarter.sin();
            north += 2.1 * quarter.cos();
            let time = 3.0 * f64::from(k);
            frames.all.push(Frame { time, east, north, count: 3.0, trust: 1.0 });
            smoothed.push(Smoothed { east, north, ..Smoothed::default() });
        }
        let lingering = lingering(&frames, &smoothed);
        lingering.iter().filter(|lingers| **lingers).count() as f64 / 400.0
    }

    #[test]
    fn winding_track_lingers_and_straight_track_does_not() {
        assert!(share(5) > 0.95, "{}", share(5));
        assert_eq!(share(1_000), 0.0);
    }

    #[test]
    fn no_frames_give_no_lingering() {
        assert!(lingering(&Frames::default(), &[]).is_empty());
    }
}

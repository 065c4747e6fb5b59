//! Averages kept fixes into frames: means over a few seconds on a local plane, in order of time. Dense
//! logging adds little information beyond these means, and all later steps take time proportional to the
//! number of frames. Layer: `join`.

use super::moment::median;

/// The mean of the fixes of a few seconds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Frame {
    /// Seconds since the day's origin.
    pub(crate) time: f64,
    /// Metres east of the plane's origin.
    pub(crate) east: f64,
    /// Metres north of it.
    pub(crate) north: f64,
    /// How many fixes.
    pub(crate) count: f64,
    /// A weight up to 1, reduced by the receiver's quality flags.
    pub(crate) trust: f64,
}

/// A fix on the plane.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct PlaneFix {
    /// Seconds since the day's origin.
    pub(crate) time: f64,
    /// Metres east of the plane's origin.
    pub(crate) east: f64,
    /// Metres north of it.
    pub(crate) north: f64,
    /// A weight up to 1.
    pub(crate) trust: f64,
}

/// The activity between fixes farther apart is unknown, however sparse the others are,
/// seconds (common practice).
const LONGEST_STEP: f64 = 1_800.0;

/// The frames of a day.
#[derive(Clone, Debug, Default)]
pub(crate) struct Frames {
    /// In order of time, times strictly ascending.
    pub(crate) all: Vec<Frame>,
    /// A longer interval than this is a gap, seconds.
    pub(crate) gap: f64,
    /// Over how many seconds a frame is the mean.
    pub(crate) span: f64,
}

impl Frames {
    /// Gathers fixes, in order of time, into means over `span` seconds (a single fix where they are
    /// sparser).
    pub(crate) fn gather(fixes: &[PlaneFix], span: f64) -> Self {
        let mut all: Vec<Frame> = Vec::with_capacity(fixes.len().min(1 << 20));
        let mut first = 0;
        while first < fixes.len() {
            let until = fixes[first].time + span - 0.05;
            let mut end = first + 1;
            while end < fixes.len() && fixes[end].time < until {
                end += 1;
            }
            all.push(mean(&fixes[first..end]));
            first = end;
        }
        let interval = ordinary_interval(&all);
        Self { all, gap: (4.0 * interval).clamp(45.0, LONGEST_STEP), span }
    }

    /// The index of the last frame at or before a time; `None` before the first.
    pub(crate) fn at_or_before(&self, time: f64) -> Option<usize> {
        self.all.partition_point(|frame| frame.time <= time).checked_sub(1)
    }

    /// For each frame whether it lies in one of the intervals.
    pub(crate) fn within(&self, intervals: &[(f64, f64)]) -> Vec<bool> {
        let mut inside = vec![false; self.all.len()];
        for &(from, to) in intervals {
            let start = self.all.partition_point(|frame| frame.time < from);
            let end = self.all.partition_point(|frame| frame.time <= to);
            if start < end {
                inside[start..end].fill(true);
            }
        }
        inside
    }

    /// Seconds from frame `k` to the next.
    pub(crate) fn step(&self, k: usize) -> f64 {
        self.all[k + 1].time - self.all[k].time
    }
}

fn mean(fixes: &[PlaneFix]) -> Frame {
    let count = fixes.len() as f64;
    let total: f64 = fixes.iter().map(|fix| fix.trust).sum();
    let weighted = |part: fn(&PlaneFix) -> f64| {
        fixes.iter().map(|fix| fix.trust * part(fix)).sum::<f64>() / total
    };
    Frame {
        time: weighted(|fix| fix.time),
        east: weighted(|fix| fix.east),
        north: weighted(|fix| fix.north),
        count,
        trust: total / count,
    }
}

fn ordinary_interval(frames: &[Frame]) -> f64 {
    let mut steps: Vec<f64> = frames.windows(2).map(|pair| pair[1].time - pair[0].time).collect();
    median(&mut steps).unwrap_or(1.0)
}

//! Estimates the track from recorded fixes: judged fixes, activities, receiver error, smoothed track,
//! stops. Layer: `join`.

use crate::earth::local::Plane;
use crate::model::{Activity, JudgedFix, Stop, TrackPoint, Verdict};
use crate::units::{GpsHeight, LatLon, Metres, Radius95, Timestamp};

use super::activity::{self, Activities};
use super::clean::{self, Run};
use super::frame::{Frames, PlaneFix};
use super::linger::lingering;
use super::locate::{self, TrackModel};
use super::moment::Origin;
use super::receiver::{self, Estimate};
use super::smooth::{self, Smoothed};

/// Fixes are gathered over so many seconds, more where the device smooths its output.
const FRAME: f64 = 3.0;
const LONGEST_FRAME: f64 = 12.0;
/// Neighbouring steps of a stop that agree more than this come from a device that smooths.
const ALIKE: f64 = 0.3;
/// A shorter pause is no stop, seconds.
const LEAST_STOP: f64 = 20.0;

/// The end of a stop is looked for no farther than this from its last frame, seconds: fixes that lie
/// hours apart show no end.
const FARTHEST_END: f64 = 3_600.0;

/// The track of one outing.
pub(crate) struct EstimatedTrack {
    pub(crate) origin: Origin,
    pub(crate) plane: Plane,
    pub(crate) fixes: Vec<JudgedFix>,
    pub(crate) frames: Frames,
    pub(crate) activities: Activities,
    pub(crate) receiver: Estimate,
    smoothed: Vec<Smoothed>,
    /// Variance per axis by which it may be off because another receiver of the walk disagrees.
    disagreement: f64,
}

impl EstimatedTrack {
    /// Judges and smooths the runs of an outing.
    pub(crate) fn of(runs: &[Run], origin: Origin, about: LatLon) -> Self {
        let plane = Plane::about(about);
        let fixes = clean::judge(runs, &plane, origin);
        let placed = on_plane(&fixes, &plane, origin);
        let (frames, activities) = framed(&placed);
        let receiver = receiver::estimate(&frames, &activities, &[]);
        let smoothed = smooth::smooth(&frames, &activities, &receiver.receiver);
        Self { origin, plane, fixes, frames, activities, receiver, smoothed, disagreement: 0.0 }
    }

    /// Adds fixes that were set aside for their times before the runs were judged; their runs are
    /// counted from `first`.
    pub(crate) fn add_strays(&mut self, strays: &[Run], first: usize) {
        for (number, run) in strays.iter().enumerate() {
            let segment = u16::try_from(first + number).unwrap_or(u16::MAX);
            self.fixes.extend(run.fixes.iter().map(|&fix| JudgedFix {
                fix,
                source: run.source,
                segment,
                verdict: Verdict::StrayTime,
            }));
        }
    }

    /// Widens it for another receiver of the walk, so many metres away: either may be right, so that 95 % circles
    /// hold both.
    pub(crate) fn disagrees_by(&mut self, metres: f64) {
        self.disagreement = (metres / 2.0).powi(2);
        self.receiver.disagreement = self.disagreement;
    }

    /// Estimates the activities again with the receiver's noise level in intervals at photographs.
    /// The photographs are not used otherwise, so that the cameras can be compared with the
    /// result. Returns whether anything changed.
    pub(crate) fn update(&mut self, intervals: &[(f64, f64)]) -> bool {
        let Some(ratio) = activity::noise_level(&self.frames, intervals) else { return false };
        self.activities = activity::estimate_with(&self.frames, ratio, &[]);
        true
    }

    /// Smooths again with the collector stationary at photographs.
    pub(crate) fn settle(&mut self, intervals: &[(f64, f64)]) {
        self.activities =
            activity::estimate_with(&self.frames, self.activities.noise_level, intervals);
        self.receiver = receiver::estimate(&self.frames, &self.activities, intervals);
        self.receiver.disagreement = self.disagreement;
        self.smoothed = smooth::smooth(&self.frames, &self.activities, &self.receiver.receiver);
    }

    /// The data from which positions are computed.
    pub(crate) fn track_model(&self) -> TrackModel<'_> {
        TrackModel {
            frames: &self.frames,
            activities: &self.activities,
            receiver: &self.receiver,
            pace: locate::pace(&self.frames),
        }
    }

    /// The kept fixes on the plane: seconds, metres east, metres north.
    pub(crate) fn points(&self) -> Vec<(f64, f64, f64)> {
        let placed = on_plane(&self.fixes, &self.plane, self.origin);
        placed.iter().map(|fix| (fix.time, fix.east, fix.north)).collect()
    }

    /// The smoothed position at a time, straight between frames; `None` outside the track.
    pub(crate) fn at(&self, time: f64) -> Option<Smoothed> {
        let k = self.frames.at_or_before(time)?;
        let here = self.smoothed[k];
        let Some(next) = self.smoothed.get(k + 1) else {
            return (time - self.frames.all[k].time < self.frames.gap).then_some(here);
        };
        let share = (time - self.frames.all[k].time) / self.frames.step(k);
        Some(between(&here, next, share))
    }

    /// The first and the last instant of the kept fixes.
    pub(crate) fn span(&self) -> Option<(Timestamp, Timestamp)> {
        let mut kept =
            self.fixes.iter().filter(|fix| fix.verdict == Verdict::Kept).filter_map(|f| f.fix.time);
        let first = kept.next()?;
        Some((first, kept.next_back().unwrap_or(first)))
    }

    /// One point for each kept fix.
    pub(crate) fn track(&self) -> Vec<TrackPoint> {
        let kept: Vec<&JudgedFix> =
            self.fixes.iter().filter(|fix| fix.verdict == Verdict::Kept).collect();
        let heights = smoothed_heights(&kept, self.origin);
        let lingers = lingering(&self.frames, &self.smoothed);
        let mut frame = 0;
        let mut points: Vec<TrackPoint> = Vec::with_capacity(kept.len());
        for (judged, height) in kept.iter().zip(heights) {
            let Some(time) = judged.fix.time else { continue };
            let seconds = self.origin.seconds(time);
            while frame + 1 < self.frames.all.len() && self.frames.all[frame + 1].time <= seconds {
                frame += 1;
            }
            if let Some(last) = points.last_mut() {
                let interval = seconds - self.origin.seconds(last.time);
                last.gap_after = interval > self.frames.gap;
            }
            points.push(self.point(judged, seconds, (frame, lingers[frame]), height));
        }
        points
    }

    fn point(
        &self,
        judged: &JudgedFix,
        seconds: f64,
        (frame, lingers): (usize, bool),
        height: Option<GpsHeight>,
    ) -> TrackPoint {
        let state = match self.smoothed.get(frame + 1) {
            Some(next) => {
                let share = (seconds - self.frames.all[frame].time) / self.frames.step(frame);
                between(&self.smoothed[frame], next, share.clamp(0.0, 1.0))
            }
            None => self.smoothed[frame],
        };
        let (stop, search) = (self.activities.stop[frame], self.activities.search[frame]);
        TrackPoint {
            time: judged.fix.time.unwrap_or(self.origin.0),
            at: self.plane.from_plane(state.east, state.north),
            height,
            radius: self.radius(state.variance),
            activity: if stop >= 0.5 {
                Activity::Stationary
            } else if lingers || search >= 1.0 - stop - search {
                Activity::Searching
            } else {
                Activity::Walking
            },
            gap_after: false,
        }
    }

    /// The 95 % radius of a variance per axis, with the uncertainty of the receiver's error size.
    fn radius(&self, variance: f64) -> Radius95 {
        let whole = variance + self.receiver.lasting + self.disagreement;
        let doubtful = whole.sqrt() * (1.0 + self.receiver.doubt.powi(2));
        radius95(doubtful * Radius95::PER_SIGMA)
    }

    /// The stops of the collector.
    pub(crate) fn stops(&self) -> Vec<Stop> {
        let mut stops = Vec::new();
        let mut first = None;
        for k in 0..=self.frames.all.len() {
            let stationary = self.activities.stop.get(k).is_some_and(|p| *p >= 0.5);
            let broken =
                k > 0 && k < self.frames.all.len() && self.frames.step(k - 1) > self.frames.gap;
            if let Some(from) = first.filter(|_| !stationary || broken) {
                stops.extend(self.stop(from, k - 1));
                first = None;
            }
            if stationary && first.is_none() {
                first = Some(k);
            }
        }
        stops
    }

    fn stop(&self, from: usize, to: usize) -> Option<Stop> {
        let (mut start, mut end) = (self.frames.all[from].time, self.frames.all[to].time);
        // the ends between frames, second by second
        let (earliest, latest) = (start - FARTHEST_END, end + FARTHEST_END);
        while start > earliest && self.activities.stationary(start - 1.0).is_some_and(|p| p >= 0.5)
        {
            start -= 1.0;
        }
        while end < latest && self.activities.stationary(end + 1.0).is_some_and(|p| p >= 0.5) {
            end += 1.0;
        }
        if end - start < LEAST_STOP {
            return None;
        }
        let middle = self.smoothed[usize::midpoint(from, to)];
        Some(Stop {
            start: self.origin.instant(start),
            end: self.origin.instant(end),
            at: self.plane.from_plane(middle.east, middle.north),
            radius: self.radius(middle.variance),
        })
    }
}

/// A radius of this many metres, at least a centimetre; NaN gives half the Earth's circumference.
pub(crate) fn radius95(metres: f64) -> Radius95 {
    const NEVER: f64 = 2.0e7;
    let held = if metres.is_finite() { metres.clamp(0.01, NEVER) } else { NEVER };
    Radius95::new(Metres(held)).unwrap_or(Radius95::ONE_METRE)
}

fn between(a: &Smoothed, b: &Smoothed, share: f64) -> Smoothed {
    let mix = |from: f64, to: f64| from + share * (to - from);
    Smoothed {
        east: mix(a.east, b.east),
        north: mix(a.north, b.north),
        east_speed: mix(a.east_speed, b.east_speed),
        north_speed: mix(a.north_speed, b.north_speed),
        variance: mix(a.variance, b.variance),
    }
}

fn on_plane(fixes: &[JudgedFix], plane: &Plane, origin: Origin) -> Vec<PlaneFix> {
    fixes
        .iter()
        .filter(|fix| fix.verdict == Verdict::Kept)
        .filter_map(|judged| {
            let (east, north) = plane.to_plane(judged.fix.at);
            let time = origin.seconds(judged.fix.time?);
            Some(PlaneFix { time, east, north, trust: trust(judged.fix.hdop) })
        })
        .collect()
}

/// Dilution of precision explains about a hundredth of the error under canopy (Ironside et al.
/// 2017), so even a bad one takes away little.
fn trust(hdop: Option<f32>) -> f64 {
    hdop.map_or(1.0, |hdop| 1.0 / (1.0 + 0.1 * (f64::from(hdop) - 2.0).clamp(0.0, 10.0)))
}

/// Frames long enough that the steps of a stop are not alike, and their activities.
fn framed(fixes: &[PlaneFix]) -> (Frames, Activities) {
    let mut span = FRAME;
    loop {
        let frames = Frames::gather(fixes, span);
        let activities = activity::estimate(&frames);
        if span >= LONGEST_FRAME || likeness(&frames, &activities) < ALIKE {
            return (frames, activities);
        }
        span *= 2.0;
    }
}

/// How much neighbouring steps of the stops are alike: a correlation.
fn likeness(frames: &Frames, activities: &Activities) -> f64 {
    let (mut product, mut square) = (0.0, 0.0);
    for k in 0..frames.all.len().saturating_sub(2) {
        let stopped = activities.stop[k..k + 3].iter().all(|p| *p > 0.7);
        if !stopped || frames.step(k) > 2.0 * FRAME || frames.step(k + 1) > 2.0 * FRAME {
            continue;
        }
        let step = |k: usize| {
            let (a, b) = (&frames.all[k], &frames.all[k + 1]);
            (b.east - a.east, b.north - a.north)
        };
        let (first, second) = (step(k), step(k + 1));
        product += first.0 * second.0 + first.1 * second.1;
        square += 0.5 * (first.0.powi(2) + first.1.powi(2) + second.0.powi(2) + second.1.powi(2));
    }
    if square > 0.0 { product / square } else { 0.0 }
}

/// Means of the heights within fifteen seconds either way.
fn smoothed_heights(kept: &[&JudgedFix], origin: Origin) -> Vec<Option<GpsHeight>> {
    const REACH: f64 = 15.0;
    let time = |k: usize| kept[k].fix.time.map_or(0.0, |time| origin.seconds(time));
    let height = |k: usize| kept[k].fix.height.map(|height| height.0.0);
    let (mut from, mut to, mut sum, mut count) = (0, 0, 0.0, 0_u32);
    let mut means = Vec::with_capacity(kept.len());
    for k in 0..kept.len() {
        while to < kept.len() && time(to) <= time(k) + REACH {
            if let Some(height) = height(to) {
                sum += height;
                count += 1;
            }
            to += 1;
        }
        while time(from) < time(k) - REACH {
            if let Some(height) = height(from) {
                sum -= height;
                count -= 1;
            }
            from += 1;
        }
        means.push((count > 0).then(|| GpsHeight(Metres(sum / f64::from(count)))));
    }
    means
}

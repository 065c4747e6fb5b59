//! Draws the height of the walk over its distance, with the activity below and each find as a button.
//! Layer: `present`.
//!
//! The heights are those of the receiver, averaged with a Gaussian weight over the distance walked.

use crate::earth::geodesic;
use crate::model::{Activity, Day, TrackPoint};
use crate::present::chart::{Axis, Panel};
use crate::present::day_map::layers;
use crate::present::markup::{Element, Elements};
use crate::present::style::{self, line, size};
use crate::present::summary::words;
use crate::present::svg::{self, Anchor, Frame, Letters, Point, Stroke};
use crate::units::{Seconds, Timestamp};

use super::activity::{self, Stripes};
use super::{map, scrolling};

const WIDE: f64 = 520.0;
const LEFT: f64 = 46.0;
const HIGH: f64 = 92.0;
/// The standard deviation of the average, kilometres, on a short walk.
const LEAST_SMOOTHING: f64 = 0.025;
/// The same as a share of a long walk.
const SMOOTHING: f64 = 1.0 / 150.0;
/// A find without a time is put where the track passes within this distance, kilometres.
const BESIDE: f64 = 0.1;

/// The profile, or a sentence that says why there is none: no track, or no heights in it.
pub(super) fn of(day: &Day) -> Element {
    let walk = Walk::of(&day.track);
    if walk.long() < 0.02 {
        return Element::new("p")
            .with_text("No height profile: there is no track to measure along.");
    }
    if day.track.iter().filter(|point| point.height.is_some()).count() < 2 {
        return Element::new("p").with_text("No height profile: the track has no heights.");
    }
    let spread = (SMOOTHING * walk.long()).max(LEAST_SMOOTHING);
    let runs = walk.smoothed(spread);
    let panel = Panel {
        frame: Frame::new(LEFT, 8.0, WIDE - LEFT - 10.0, HIGH),
        across: Axis::new(0.0, walk.long(), 8, "distance walked (km)"),
        up: heights(&runs),
    };
    let band = Frame::new(LEFT, panel.frame.bottom() + 28.0, panel.frame.wide, activity::BAND);
    let high = band.bottom() + 6.0;
    let drawing = Element::new("svg")
        .set("id", "profile")
        .set("viewBox", format_args!("0 0 {} {}", svg::short(WIDE), svg::short(high)))
        .set("font-family", style::FAMILY)
        .set("role", "group")
        .set("aria-label", "Height of the walk by distance, with each find as a button")
        .with(panel.axes())
        .with(curves(&panel, &runs))
        .with(gaps(&panel, &walk))
        .with(activities(&panel, &walk, band))
        .with(caption(band))
        .with_all(finds(day, &walk, &panel, &runs));
    let words = format!(
        "Heights are those of the receiver, averaged over about {:.0} m of the walk; dashed: gap in the track.",
        2.0 * spread * 1_000.0
    );
    Element::new("div")
        .with(scrolling("Height of the walk", drawing))
        .with(Element::new("p").set("class", "soft note").with_text(&words))
}

/// The track with the distance to each of its points, kilometres.
struct Walk<'a> {
    track: &'a [TrackPoint],
    along: Vec<f64>,
}

impl<'a> Walk<'a> {
    fn of(track: &'a [TrackPoint]) -> Self {
        let mut sum = 0.0;
        let mut along = Vec::with_capacity(track.len());
        along.extend(track.first().map(|_| 0.0));
        for pair in track.windows(2) {
            sum += geodesic::distance(pair[0].at, pair[1].at).0 / 1_000.0;
            along.push(sum);
        }
        Self { track, along }
    }

    fn long(&self) -> f64 {
        self.along.last().copied().unwrap_or(0.0)
    }

    /// The average height at equal distances, for each run without a gap.
    fn smoothed(&self, spread: f64) -> Vec<Vec<(f64, f64)>> {
        let step = (self.long() / 300.0).max(0.001);
        let mut runs = Vec::new();
        let mut start = 0;
        for (end, point) in self.track.iter().enumerate() {
            if point.gap_after || end + 1 == self.track.len() {
                runs.push(average(&self.heights(start..=end), spread, step));
                start = end + 1;
            }
        }
        runs.retain(|run: &Vec<(f64, f64)>| run.len() > 1);
        runs
    }

    fn heights(&self, range: std::ops::RangeInclusive<usize>) -> Vec<(f64, f64)> {
        range.filter_map(|index| Some((self.along[index], self.track[index].height?.0.0))).collect()
    }

    /// How far the collector had come at an instant of the track.
    fn at(&self, instant: Timestamp) -> Option<f64> {
        let after = self.track.partition_point(|point| point.time < instant);
        let last = self.track.len().checked_sub(1)?;
        let beyond = |point: &TrackPoint| Seconds::between(point.time, instant).0.abs() > 60.0;
        match after {
            0 => (!beyond(&self.track[0])).then_some(0.0),
            after if after > last => (!beyond(&self.track[last])).then_some(self.along[last]),
            after => {
                let (from, to) = (&self.track[after - 1], &self.track[after]);
                let span = Seconds::between(from.time, to.time).0.max(1e-9);
                let share = Seconds::between(from.time, instant).0 / span;
                Some(self.along[after - 1] + share * (self.along[after] - self.along[after - 1]))
            }
        }
    }
}

/// Weighted averages at equal steps; the weight falls to nothing at three standard deviations.
fn average(heights: &[(f64, f64)], spread: f64, step: f64) -> Vec<(f64, f64)> {
    let (Some(first), Some(last)) = (heights.first(), heights.last()) else { return Vec::new() };
    let count = ((last.0 - first.0) / step).ceil().max(1.0);
    let mut low = 0;
    let mut out = Vec::new();
    let mut place = 0.0;
    while place <= count {
        let here = first.0 + (last.0 - first.0) * place / count;
        while heights[low].0 < here - 3.0 * spread {
            low += 1;
        }
        let near = heights[low..].iter().take_while(|(along, _)| *along <= here + 3.0 * spread);
        let (sum, weights) = near.fold((0.0, 0.0), |(sum, weights), (along, height)| {
            let weight = (-0.5 * ((along - here) / spread).powi(2)).exp();
            (sum + weight * height, weights + weight)
        });
        if weights > 0.0 {
            out.push((here, sum / weights));
        }
        place += 1.0;
    }
    out
}

fn heights(runs: &[Vec<(f64, f64)>]) -> Axis {
    let all = runs.iter().flatten().map(|(_, height)| *height);
    let (low, high) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), height| {
        (low.min(height), high.max(height))
    });
    // a minimum range, so that a level walk is drawn level
    let middle = f64::midpoint(low, high);
    let half = (0.6 * (high - low)).max(15.0);
    Axis::new(middle - half, middle + half, 4, "GPS height (m)")
}

fn curves(panel: &Panel, runs: &[Vec<(f64, f64)>]) -> Elements {
    let stroke = Stroke::new(style::INK, line::CURVE);
    let mut drawn = Elements::default();
    for run in runs {
        let fill = panel.area(run.iter().copied()).washed(style::RAW, 0.18);
        drawn.push(fill);
        drawn.push(panel.curve(run.iter().copied(), stroke));
    }
    for pair in runs.windows(2) {
        if let (Some(from), Some(to)) = (pair[0].last(), pair[1].first()) {
            drawn.push(panel.curve([*from, *to], stroke.dashed(3.2, 2.6)));
        }
    }
    drawn
}

/// The ground crossed while nothing was recorded.
fn gaps(panel: &Panel, walk: &Walk<'_>) -> Elements {
    let pairs = walk.track.iter().zip(walk.along.windows(2)).filter(|(point, _)| point.gap_after);
    pairs.map(|(_, ends)| panel.stripe(ends[0], ends[1]).washed(style::FAINT, 0.5)).collect()
}

fn activities(panel: &Panel, walk: &Walk<'_>, band: Frame) -> Elements {
    let mut stripes = Stripes::default();
    let mut start = 0;
    let x = |index: usize| panel.at(walk.along[index], 0.0).x;
    for index in 1..walk.track.len() {
        let (before, here) = (&walk.track[index - 1], &walk.track[index]);
        let last = index + 1 == walk.track.len();
        if before.gap_after || here.activity != before.activity || last {
            let end = if before.gap_after { index - 1 } else { index };
            // standing takes no distance: it is drawn over time only
            if before.activity != Activity::Stationary {
                stripes.add(before.activity, x(start), x(end), band);
            }
            start = index;
        }
    }
    let edge = Stroke::new(style::SOFT_INK, line::FINE);
    let mut drawn = stripes.drawn();
    drawn.push(svg::rectangle(band).set("fill", "none").stroked(edge));
    drawn
}

fn caption(band: Frame) -> Element {
    let letters = Letters::new(size::SMALL).anchor(Anchor::End).colour(style::SOFT_INK);
    svg::text(Point::new(LEFT - 5.0, band.bottom() - 3.0), "activity", letters)
}

/// Finds on the curve, where the collector was at their times, else where the track passes nearest.
fn finds(day: &Day, walk: &Walk<'_>, panel: &Panel, runs: &[Vec<(f64, f64)>]) -> Vec<Element> {
    let mut placed: Vec<(f64, usize)> = day
        .finds
        .iter()
        .enumerate()
        .filter_map(|(index, find)| {
            let timed = find.when.and_then(|(when, _)| walk.at(when));
            Some((timed.or_else(|| nearest(walk, find.place.as_ref().ok()?.at))?, index))
        })
        .collect();
    placed.sort_by(|a, b| a.0.total_cmp(&b.0));
    let marks = placed.into_iter().filter_map(|(along, index)| {
        let height = height_at(runs, along)?;
        let label = format!(
            "{} after {along:.2} km, {height:.0} m{}",
            layers::number(&day.finds[index]),
            at_clock(day, index),
        );
        let mark = map::choice(index, &label);
        Some(svg::pin(panel.at(along, height), mark))
    });
    marks.collect()
}

fn nearest(walk: &Walk<'_>, place: crate::units::LatLon) -> Option<f64> {
    let distances = walk.track.iter().map(|point| geodesic::distance(point.at, place).0 / 1_000.0);
    let (index, distance) = distances
        .enumerate()
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .filter(|(_, far)| *far < BESIDE)?;
    (distance.is_finite()).then(|| walk.along[index])
}

/// The height of the curve; in a gap, of the line across it.
fn height_at(runs: &[Vec<(f64, f64)>], along: f64) -> Option<f64> {
    let flat: Vec<(f64, f64)> = runs.iter().flatten().copied().collect();
    let after = flat.partition_point(|(at, _)| *at < along);
    let (from, to) = (flat.get(after.saturating_sub(1))?, flat.get(after.min(flat.len() - 1))?);
    let share = if to.0 > from.0 { (along - from.0) / (to.0 - from.0) } else { 0.0 };
    Some(from.1 + share.clamp(0.0, 1.0) * (to.1 - from.1))
}

/// ` at 10:42`, nothing where no time is known.
fn at_clock(day: &Day, index: usize) -> String {
    let zone = &day.outing.zone.zone;
    day.finds[index]
        .when
        .map_or_else(String::new, |(when, _)| format!(" at {}", words::clock(when, zone)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::fixture;

    #[test]
    fn average_keeps_a_slope_and_quiets_noise() {
        let noisy: Vec<(f64, f64)> = (0..2_000)
            .map(|step| {
                let along = f64::from(step) * 0.001;
                let noise = if step % 2 == 0 { 6.0 } else { -6.0 };
                (along, 400.0 + 50.0 * along + noise)
            })
            .collect();
        let smooth = average(&noisy, 0.025, 0.01);
        for (along, height) in smooth.iter().filter(|(along, _)| (0.1..1.9).contains(along)) {
            assert!((height - 400.0 - 50.0 * along).abs() < 0.3, "{along}: {height}");
        }
        assert!(average(&[], 0.025, 0.01).is_empty());
    }

    #[test]
    fn every_timed_find_is_on_the_profile() {
        let day = fixture::day();
        let drawn = of(&day).to_string();
        assert_eq!(drawn.matches("data-find=").count(), 8);
        assert!(drawn.contains("NBP 0212 after 0.00 km, 43"), "{drawn}");
        assert!(drawn.contains("stroke-dasharray"), "the gap is dashed");
    }

    #[test]
    fn missing_heights_and_tracks_are_stated() {
        let mut day = fixture::day();
        for point in &mut day.track {
            point.height = None;
        }
        assert!(of(&day).to_string().contains("the track has no heights"));
        day.track.clear();
        assert!(of(&day).to_string().contains("there is no track"));
    }
}

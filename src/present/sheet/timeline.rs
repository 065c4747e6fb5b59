//! Draws the time line of a day: elevation above, activities below, finds as selectable marks. Layer:
//! `present`.

use jiff::tz::TimeZone;

use crate::model::{Activity, Day};
use crate::present::chart::{Axis, Panel};
use crate::present::day_map::layers;
use crate::present::markup::{Element, Elements};
use crate::present::style::{self, Colour, line, size};
use crate::present::summary::words;
use crate::present::svg::{self, Anchor, Frame, Letters, Point, Stroke};
use crate::units::{Seconds, Timestamp};

const WIDE: f64 = 680.0;
const LEFT: f64 = 50.0;
const TOP: f64 = 12.0;
const HIGH: f64 = 76.0;
const BAND: f64 = 13.0;

pub(super) fn of(day: &Day) -> Element {
    let (Some(start), Some(end)) = (day.outing.start, day.outing.end) else {
        return Element::new("p").with_text("No time line: no time is known on this day.");
    };
    let hours = Hours::of(start, end, &day.outing.zone.zone);
    let panel = Panel {
        frame: Frame::new(LEFT, TOP, WIDE - LEFT - 10.0, HIGH),
        across: hours.axis(),
        up: heights(day),
    };
    let band = Frame::new(LEFT, TOP + HIGH + 34.0, panel.frame.wide, BAND);
    let marks = band.bottom() + 16.0;
    let high = marks + 30.0;
    let drawing = Element::new("svg")
        .set("id", "timeline")
        .set("viewBox", format_args!("0 0 {} {}", svg::short(WIDE), svg::short(high)))
        .set("font-family", style::FAMILY)
        .set("role", "group")
        .set("aria-label", "Time line of the day: elevation of the track, walking, searching, stationary, and each find as a button")
        .with(panel.axes())
        .with(profile(day, &panel, &hours))
        .with(activities(day, &panel, &hours, band))
        .with_all(captions(band, marks))
        .with_all(finds(day, &panel, &hours, marks));
    Element::new("div")
        .set("class", "wide")
        .set("role", "region")
        .set("aria-label", "Time line")
        .set("tabindex", "0")
        .with(drawing)
}

/// Hours since the start of the day's first quarter.
struct Hours {
    start: Timestamp,
    end: f64,
    zone: TimeZone,
}

impl Hours {
    fn of(start: Timestamp, end: Timestamp, zone: &TimeZone) -> Self {
        let end = Seconds::between(start, end).0.max(600.0) / 3_600.0;
        Self { start, end, zone: zone.clone() }
    }

    fn since(&self, instant: Timestamp) -> f64 {
        Seconds::between(self.start, instant).0 / 3_600.0
    }

    /// Ticks at round local times.
    fn axis(&self) -> Axis {
        let step = [0.25, 0.5, 1.0, 2.0, 4.0, 12.0, 24.0]
            .into_iter()
            .find(|step| self.end / step <= 12.0)
            .unwrap_or(24.0 * (self.end / 240.0).ceil());
        let local = self.start.to_zoned_datetime(self.zone.clone());
        let past = f64::from(local.hour())
            + f64::from(local.minute()) / 60.0
            + f64::from(local.second()) / 3_600.0;
        let mut at = (past / step).ceil() * step - past;
        let mut ticks = Vec::new();
        while at <= self.end && ticks.len() < 40 {
            let instant = Seconds(at * 3_600.0).after(self.start);
            ticks.push((at, words::clock(instant, &self.zone)));
            at += step;
        }
        Axis { from: 0.0, to: self.end, title: "local time (h:min)".to_owned(), ticks }
    }
}

fn heights(day: &Day) -> Axis {
    let heights = day.track.iter().filter_map(|point| point.height).map(|height| height.0.0);
    let (low, high) = heights.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), height| {
        (low.min(height), high.max(height))
    });
    if low > high {
        return Axis { ticks: Vec::new(), ..Axis::new(0.0, 1.0, 1, "elevation unknown") };
    }
    // a minimum range, so that a level walk is drawn level
    let middle = f64::midpoint(low, high);
    let half = (0.55 * (high - low)).max(15.0);
    Axis::new(middle - half, middle + half, 4, "GPS elevation (m)")
}

/// The elevation of the track, split at gaps.
fn profile(day: &Day, panel: &Panel, hours: &Hours) -> Elements {
    let stroke = Stroke::new(style::INK, line::CURVE);
    let mut drawn = Elements::default();
    let mut run: Vec<(f64, f64)> = Vec::new();
    for point in &day.track {
        if let Some(height) = point.height {
            run.push((hours.since(point.time), height.0.0));
        }
        if point.gap_after || point.height.is_none() {
            drawn.extend(curve(panel, &mut run, stroke));
        }
    }
    drawn.extend(curve(panel, &mut run, stroke));
    drawn
}

fn curve(panel: &Panel, run: &mut Vec<(f64, f64)>, stroke: Stroke) -> Option<Element> {
    let run = std::mem::take(run);
    if run.len() < 2 {
        return None;
    }
    let mut shown: Vec<(f64, f64)> = Vec::new();
    let last = run.len() - 1;
    for (place, pair) in run.into_iter().enumerate() {
        let far = shown
            .last()
            .is_none_or(|(hours, _)| panel.at(pair.0, 0.0).x - panel.at(*hours, 0.0).x > 0.6);
        if far || place == last {
            shown.push(pair);
        }
    }
    Some(panel.curve(shown, stroke))
}

/// One stripe for each section of an activity; gaps are a dashed line.
fn activities(day: &Day, panel: &Panel, hours: &Hours, band: Frame) -> Elements {
    let mut drawn = Elements::default();
    let edge = Stroke::new(style::SOFT_INK, line::FINE);
    let x = |instant| panel.at(hours.since(instant), 0.0).x;
    let runs = day.track.chunk_by(|a, b| !a.gap_after && a.activity == b.activity);
    let mut before: Option<&[crate::model::TrackPoint]> = None;
    for run in runs {
        if let Some(last) = before.and_then(<[_]>::last) {
            let (from, to) = (x(last.time), x(run[0].time));
            if last.gap_after {
                let y = band.middle().y;
                let dashed = Stroke::new(style::WALK, line::CURVE).dashed(3.2, 2.6);
                drawn.push(svg::line(Point::new(from, y), Point::new(to, y), dashed));
            } else {
                drawn.push(stripe(last.activity, from, to, band));
            }
        }
        drawn.push(stripe(run[0].activity, x(run[0].time), x(run[run.len() - 1].time), band));
        before = Some(run);
    }
    drawn.push(svg::rectangle(band).set("fill", "none").stroked(edge));
    drawn
}

fn stripe(activity: Activity, from: f64, to: f64, band: Frame) -> Element {
    // heights differ too, so that activities are distinguishable without colour
    let (colour, share): (Colour, f64) = match activity {
        Activity::Walking => (style::WALK, 0.34),
        Activity::Searching => (style::SEARCH, 0.67),
        Activity::Stationary => (style::STOP, 1.0),
    };
    let high = share * band.high;
    svg::rectangle(Frame::new(from, band.bottom() - high, (to - from).max(0.0), high))
        .filled(colour)
}

fn captions(band: Frame, marks: f64) -> [Element; 2] {
    let letters = Letters::new(size::SMALL).anchor(Anchor::End).colour(style::SOFT_INK);
    [
        svg::text(Point::new(LEFT - 5.0, band.bottom() - 3.0), "activity", letters),
        svg::text(Point::new(LEFT - 5.0, marks + 2.0), "finds", letters),
    ]
}

/// Finds at their times; overlapping marks move to another row.
fn finds(day: &Day, panel: &Panel, hours: &Hours, top: f64) -> Vec<Element> {
    let mut ends = [f64::NEG_INFINITY; 3];
    let mut order: Vec<(f64, usize)> = day
        .finds
        .iter()
        .enumerate()
        .filter_map(|(index, find)| Some((hours.since(find.when?.0), index)))
        .filter(|(since, _)| (0.0..=hours.end).contains(since))
        .collect();
    order.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut drawn = Vec::new();
    for (since, index) in order {
        let find = &day.finds[index];
        let x = panel.at(since, 0.0).x;
        let row = ends.iter().position(|end| *end < x).unwrap_or(0);
        ends[row] = x + 12.0;
        let at = Point::new(x, top + 11.0 * row as f64);
        let name = find.record.name.as_deref().unwrap_or_default();
        let time = words::clock(find.when.map_or(hours.start, |(when, _)| when), &hours.zone);
        let label = format!("{} at {time} {name}", layers::number(find));
        let mark = svg::group()
            .set("class", "choice")
            .set("data-find", index)
            .set("role", "button")
            .set("tabindex", "0")
            .set("aria-label", label.trim())
            .set("aria-pressed", "false")
            .with(
                svg::circle(Point::default(), 8.0)
                    .set("fill", "transparent")
                    .set("class", "target"),
            )
            .with(layers::find_mark());
        drawn.push(svg::pin(at, mark));
    }
    drawn
}

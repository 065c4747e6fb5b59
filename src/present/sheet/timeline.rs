//! Draws the time line of a day: activities above, finds as selectable marks below. Layer: `present`.

use jiff::tz::TimeZone;

use crate::model::Day;
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
/// The distance between rows of finds, points.
const ROW: f64 = 11.0;
/// The most rows; further finds overlap.
const ROWS: usize = 12;

pub(super) fn of(day: &Day) -> Element {
    let (Some(start), Some(end)) = (day.outing.start, day.outing.end) else {
        return Element::new("p").with_text("No time line: no time is known on this day.");
    };
    let hours = Hours::of(start, end, &day.outing.zone.zone);
    let band = Frame::new(LEFT, 8.0, WIDE - LEFT - 10.0, activity::BAND);
    let rows = rows(day, &hours, band);
    let count = rows.iter().map(|row| row.row + 1).max().unwrap_or(1);
    let panel = Panel {
        frame: Frame { high: band.high + 8.0 + ROW * count as f64, ..band },
        across: hours.axis(),
        up: Axis::bare(0.0, 1.0),
    };
    let marks = band.bottom() + 10.0;
    let high = panel.frame.bottom() + 26.0;
    let drawing = Element::new("svg")
        .set("id", "timeline")
        .set("viewBox", format_args!("0 0 {} {}", svg::short(WIDE), svg::short(high)))
        .set("font-family", style::FAMILY)
        .set("role", "group")
        .set(
            "aria-label",
            "Time line of the day: walking, searching, stationary, and each find as a button",
        )
        .with(panel.axes())
        .with(activities(day, &panel, &hours, band))
        .with_all(captions(band, marks))
        .with_all(finds(day, &rows, &hours, marks));
    Element::new("div").with(scrolling("Time line", drawing))
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
        Axis { title: "local time (h:min)".to_owned(), ticks, ..Axis::bare(0.0, self.end) }
    }
}

/// One stripe for each section of an activity; gaps are a dashed line.
fn activities(day: &Day, panel: &Panel, hours: &Hours, band: Frame) -> Elements {
    let (mut drawn, mut stripes) = (Elements::default(), Stripes::default());
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
                stripes.add(last.activity, from, to, band);
            }
        }
        stripes.add(run[0].activity, x(run[0].time), x(run[run.len() - 1].time), band);
        before = Some(run);
    }
    drawn.push(stripes.drawn());
    drawn.push(svg::rectangle(band).set("fill", "none").stroked(edge));
    drawn
}

fn captions(band: Frame, marks: f64) -> [Element; 2] {
    let letters = Letters::new(size::SMALL).anchor(Anchor::End).colour(style::SOFT_INK);
    [
        svg::text(Point::new(LEFT - 5.0, band.bottom() - 3.0), "activity", letters),
        svg::text(Point::new(LEFT - 5.0, marks + 2.0), "finds", letters),
    ]
}

/// A find on the time line.
struct Mark {
    find: usize,
    x: f64,
    row: usize,
}

/// Finds at their times; overlapping marks move to another row.
fn rows(day: &Day, hours: &Hours, band: Frame) -> Vec<Mark> {
    let mut ends = [f64::NEG_INFINITY; ROWS];
    let mut order: Vec<(f64, usize)> = day
        .finds
        .iter()
        .enumerate()
        .filter_map(|(index, find)| Some((hours.since(find.when?.0), index)))
        .filter(|(since, _)| (0.0..=hours.end).contains(since))
        .collect();
    order.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut placed = Vec::new();
    for (since, find) in order {
        let x = band.corner.x + band.wide * since / hours.end;
        let free = ends.iter().position(|end| *end < x);
        // where all rows are taken, the one that becomes free first
        let row = free.unwrap_or_else(|| {
            let soonest = ends.iter().enumerate().min_by(|a, b| a.1.total_cmp(b.1));
            soonest.map_or(0, |(row, _)| row)
        });
        ends[row] = x + ROW;
        placed.push(Mark { find, x, row });
    }
    placed
}

fn finds(day: &Day, rows: &[Mark], hours: &Hours, top: f64) -> Vec<Element> {
    rows.iter()
        .map(|row| {
            let find = &day.finds[row.find];
            let name = find.record.name.as_deref().unwrap_or_default();
            let time = words::clock(find.when.map_or(hours.start, |(when, _)| when), &hours.zone);
            let label = format!("{} at {time} {name}", layers::number(find));
            let mark = map::choice(row.find, label.trim());
            svg::pin(Point::new(row.x, top + ROW * row.row as f64), mark)
        })
        .collect()
}

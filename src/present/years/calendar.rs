//! Draws all taxa through the year: a row for each taxon, a dot for each week, its area proportional to
//! the finds per hour searched. Layer: `present`.

use std::collections::BTreeMap;

use jiff::civil::Date;

use crate::present::markup::Elements;
use crate::present::style::{self, line, size};
use crate::present::svg::{self, Anchor, Frame, Letters, Point, Stroke};

/// A taxon with its finds in each of 53 weeks.
#[derive(Clone, Debug)]
pub struct CalendarRow {
    /// Its name.
    pub taxon: String,
    /// Finds by week of the year.
    pub finds: Vec<u32>,
}

/// Weeks of a year, the last one a day or two long.
const WEEKS: usize = 53;

/// The week of the year that a date falls in, from zero.
#[must_use]
pub fn week_of(date: Date) -> usize {
    usize::from(date.day_of_year().unsigned_abs().saturating_sub(1)) / 7
}

/// A row for each taxon of these finds, in order of fruiting, and the week in the middle of
/// the longest period without any find, where the chart begins.
#[must_use]
pub fn rows(finds: impl IntoIterator<Item = (String, Date)>) -> (Vec<CalendarRow>, usize) {
    let mut of_taxon: BTreeMap<String, Vec<u32>> = BTreeMap::new();
    for (taxon, date) in finds {
        of_taxon.entry(taxon).or_insert_with(|| vec![0; WEEKS])[week_of(date)] += 1;
    }
    let mut rows: Vec<CalendarRow> =
        of_taxon.into_iter().map(|(taxon, finds)| CalendarRow { taxon, finds }).collect();
    let first = longest_gap_week(&rows);
    rows.sort_by_key(|row| {
        let total: u32 = row.finds.iter().sum();
        let mut sum = 0;
        (0..WEEKS).find(|place| {
            sum += row.finds[(first + place) % WEEKS];
            2 * sum >= total
        })
    });
    (rows, first)
}

/// The middle week of the longest period without any find.
fn longest_gap_week(rows: &[CalendarRow]) -> usize {
    let quiet = |week: usize| rows.iter().all(|row| row.finds[week % WEEKS] == 0);
    (0..WEEKS)
        .map(|start| (start, (start..start + WEEKS).take_while(|week| quiet(*week)).count()))
        .max_by_key(|(start, length)| (*length, std::cmp::Reverse(*start)))
        .map_or(0, |(start, length)| (start + length / 2) % WEEKS)
}

const WIDE: f64 = 482.0;
const LEFT: f64 = 150.0;
const STEP: f64 = 13.0;

/// The chart; `hours` are those searched in each week, `first` is the week at its left.
#[must_use]
pub fn figure(rows: &[CalendarRow], hours: &[f64], first: usize) -> String {
    let high = 78.0 + STEP * rows.len() as f64;
    let frame = Frame::new(LEFT, 44.0, WIDE - LEFT - 14.0, STEP * rows.len() as f64);
    let mut drawing = svg::drawing(WIDE, high, "Calendar of all taxa")
        .with(svg::rectangle(Frame::new(0.0, 0.0, WIDE, high)).filled(style::PAPER))
        .with(svg::text(
            Point::new(14.0, 18.0),
            "Finds per hour searched, week by week",
            Letters::new(size::TITLE).face(crate::present::fonts::Face::Bold),
        ))
        .with(ground(frame, hours, first))
        .with(months(frame, first));
    let most = rows.iter().flat_map(|row| rates(row, hours)).fold(0.0, f64::max);
    for (index, row) in rows.iter().enumerate() {
        let y = frame.corner.y + STEP * (index as f64 + 0.5);
        drawing = drawing.with(row_of(row, hours, first, frame, y, most));
    }
    let key = format!(
        "the largest dot is {most:.1} finds per hour; grey: not searched; ring: finds without a track"
    );
    let at = Point::new(14.0, high - 10.0);
    drawing.with(svg::text(at, &key, Letters::new(size::SMALL).colour(style::SOFT_INK))).to_string()
}

fn rates<'a>(row: &'a CalendarRow, hours: &'a [f64]) -> impl Iterator<Item = f64> + 'a {
    row.finds.iter().zip(hours).map(|(finds, hours)| rate(*finds, *hours))
}

/// The rate; weeks with very little search are damped.
fn rate(finds: u32, hours: f64) -> f64 {
    if hours > 0.0 { f64::from(finds) / hours.max(0.5) } else { 0.0 }
}

fn x(frame: Frame, week: usize, first: usize) -> f64 {
    let place = (week + 53 - first) % 53;
    frame.corner.x + frame.wide * (place as f64 + 0.5) / 53.0
}

fn ground(frame: Frame, hours: &[f64], first: usize) -> Elements {
    let mut drawn = Elements::default();
    let wide = frame.wide / 53.0;
    for (week, _) in hours.iter().enumerate().filter(|(_, hours)| **hours <= 0.0) {
        let left = x(frame, week, first) - wide / 2.0;
        drawn.push(
            svg::rectangle(Frame::new(left, frame.corner.y, wide, frame.high))
                .filled(style::FAINT)
                .set("fill-opacity", 0.45),
        );
    }
    drawn.push(
        svg::rectangle(frame).set("fill", "none").stroked(Stroke::new(style::SOFT_INK, line::FINE)),
    );
    drawn
}

fn months(frame: Frame, first: usize) -> Elements {
    const NAMES: [&str; 12] =
        ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
    const WEEKS: [usize; 12] = [0, 4, 8, 13, 17, 21, 26, 30, 34, 39, 43, 48];
    let mut drawn = Elements::default();
    let letters = Letters::new(size::SMALL).colour(style::SOFT_INK).anchor(Anchor::Start);
    for (name, week) in NAMES.iter().zip(WEEKS) {
        let left = x(frame, week, first) - frame.wide / 106.0;
        let (top, foot) = (Point::new(left, frame.corner.y), Point::new(left, frame.bottom()));
        drawn.push(svg::line(top, foot, Stroke::new(style::FAINT, line::HAIR)));
        // keeps the label of a month at the right edge within the drawing
        let wide =
            crate::present::fonts::width(name, crate::present::fonts::Face::Regular, size::SMALL);
        let by = (frame.right() - wide - left).min(1.5);
        drawn.push(svg::text(top.plus(by, -4.0), name, letters));
    }
    drawn
}

fn row_of(
    row: &CalendarRow,
    hours: &[f64],
    first: usize,
    frame: Frame,
    y: f64,
    most: f64,
) -> Elements {
    let mut drawn = Elements::default();
    let letters = Letters::new(size::SMALL).anchor(Anchor::End);
    drawn.push(svg::text(
        Point::new(frame.corner.x - 5.0, y + 2.4),
        &short_name(&row.taxon),
        letters,
    ));
    for (week, finds) in row.finds.iter().enumerate().filter(|(_, finds)| **finds > 0) {
        let at = Point::new(x(frame, week, first), y);
        let hours = hours.get(week).copied().unwrap_or(0.0);
        if hours > 0.0 {
            let radius = (STEP / 2.0 - 0.6) * (rate(*finds, hours) / most.max(1e-9)).sqrt();
            drawn.push(
                svg::circle(at, radius.max(0.9)).filled(style::FIND).set("fill-opacity", 0.85),
            );
        } else {
            let stroke = Stroke::new(style::FIND, line::FINE);
            drawn.push(svg::circle(at, 2.0).set("fill", "none").stroked(stroke));
        }
    }
    drawn
}

/// Genus and epithet without authors, shortened to the column width.
fn short_name(name: &str) -> String {
    let words: Vec<&str> = name.split_whitespace().take(2).collect();
    let text = words.join(" ");
    if text.chars().count() > 34 {
        text.chars().take(33).chain(['\u{2026}']).collect()
    } else {
        text
    }
}

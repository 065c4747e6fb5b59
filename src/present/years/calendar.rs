//! Draws all taxa through the year: a row for each taxon, a dot for each week, its area proportional to
//! the finds per hour searched. Layer: `present`.

use std::collections::BTreeMap;

use jiff::civil::Date;

use crate::analyse::season::MONTHS;
use crate::present::chart::{self, Axis, Panel, WIDE, round_step};
use crate::present::fonts::{self, Face};
use crate::present::markup::Elements;
use crate::present::style::{self, line, size};
use crate::present::summary::words::counted;
use crate::present::svg::{self, Frame, Letters, Point, Stroke};

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

/// The height of a row.
const STEP: f64 = 13.0;
/// The widest name, points.
const NAMES: f64 = 128.0;

/// The weeks that are shown: those searched or with a find, one more on either side.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Weeks {
    first: usize,
    count: usize,
}

impl Weeks {
    /// `first` is a week without finds from which the year is counted.
    fn of(rows: &[CalendarRow], hours: &[f64], first: usize) -> Self {
        let seen = |place: &usize| {
            let week = (first + place) % WEEKS;
            hours.get(week).is_some_and(|hours| *hours > 0.0)
                || rows.iter().any(|row| row.finds[week] > 0)
        };
        let from = (0..WEEKS).find(seen).unwrap_or(0).saturating_sub(1);
        let to = (0..WEEKS).rfind(seen).unwrap_or(WEEKS - 1);
        Self { first: (first + from) % WEEKS, count: (to + 2 - from).min(WEEKS) }
    }

    /// The place of a week from the left; `None` for one that is not shown.
    fn place(self, week: usize) -> Option<f64> {
        let place = (week + WEEKS - self.first) % WEEKS;
        (place < self.count).then_some(place as f64)
    }

    /// The first of each month.
    fn axis(self) -> Axis {
        let first = |(name, day): &(&str, u16)| {
            let week = self.place(usize::from(day - 1) / 7)?;
            Some((week + f64::from((day - 1) % 7) / 7.0, (*name).to_owned()))
        };
        let mut axis = Axis::bare(0.0, self.count as f64);
        axis.ticks = MONTHS.iter().filter_map(first).collect();
        axis.ticks.sort_by(|a, b| a.0.total_cmp(&b.0));
        axis
    }
}

/// The chart; `hours` are those searched in each week, `first` is a week without finds from which the
/// year is counted.
#[must_use]
pub fn figure(rows: &[CalendarRow], hours: &[f64], first: usize) -> String {
    let weeks = Weeks::of(rows, hours, first);
    let finds: u32 = rows.iter().flat_map(|row| &row.finds).sum();
    let words = format!(
        "{} of {}, in the order in which half of their finds were made",
        counted(finds as usize, "find", "finds"),
        counted(rows.len(), "taxon", "taxa")
    );
    let mut drawn = Elements::default();
    let title = "Finds per hour searched, week by week";
    let top = chart::head(14.0, title, &words, &mut drawn) + 6.0;
    let up = Axis::names(rows.iter().map(|row| short_name(&row.taxon)));
    let left = 20.0 + up.longest();
    let frame = Frame::new(left, top, WIDE - left - 14.0, STEP * rows.len() as f64);
    let panel = Panel { frame, across: weeks.axis(), up };
    drawn.push(unsearched(hours, weeks, &panel));
    drawn.push(panel.axes());
    let most = rows.iter().flat_map(|row| rates(row, hours)).fold(0.0, f64::max);
    for (index, row) in rows.iter().enumerate() {
        drawn.push(dots(row, hours, weeks, &panel, panel.row(index), most));
    }
    drawn.push(key(most, Point::new(14.0, frame.bottom() + 26.0)));
    let description = description(rows, &words);
    chart::page(frame.bottom() + 54.0, "Calendar of all taxa", &description, &drawn)
}

/// What the chart says, for readers who do not see it.
fn description(rows: &[CalendarRow], words: &str) -> String {
    let names: Vec<String> = rows.iter().map(|row| short_name(&row.taxon)).collect();
    format!("{words}: {}.", names.join(", "))
}

fn rates<'a>(row: &'a CalendarRow, hours: &'a [f64]) -> impl Iterator<Item = f64> + 'a {
    row.finds.iter().zip(hours).map(|(finds, hours)| rate(*finds, *hours))
}

/// The rate; weeks with very little search are damped.
fn rate(finds: u32, hours: f64) -> f64 {
    if hours > 0.0 { f64::from(finds) / hours.max(0.5) } else { 0.0 }
}

/// The radius of a rate: areas are proportional to rates.
fn radius(rate: f64, most: f64) -> f64 {
    ((STEP / 2.0 - 0.6) * (rate / most.max(1e-9)).sqrt()).max(0.9)
}

fn unsearched(hours: &[f64], weeks: Weeks, panel: &Panel) -> Elements {
    let empty = hours.iter().enumerate().filter(|(_, hours)| **hours <= 0.0);
    let places = empty.filter_map(|(week, _)| weeks.place(week));
    places.map(|at| panel.stripe(at, at + 1.0).washed(style::FAINT, 0.45)).collect()
}

fn dots(
    row: &CalendarRow,
    hours: &[f64],
    weeks: Weeks,
    panel: &Panel,
    y: f64,
    most: f64,
) -> Elements {
    let mut drawn = Elements::default();
    for (week, finds) in row.finds.iter().enumerate().filter(|(_, finds)| **finds > 0) {
        let Some(place) = weeks.place(week) else { continue };
        let at = Point::new(panel.at(place + 0.5, 0.0).x, y);
        let hours = hours.get(week).copied().unwrap_or(0.0);
        if hours > 0.0 {
            let circle = svg::circle(at, radius(rate(*finds, hours), most));
            drawn.push(circle.washed(style::FIND, 0.85));
        } else {
            let stroke = Stroke::new(style::FIND, line::FINE);
            drawn.push(svg::circle(at, 2.0).set("fill", "none").stroked(stroke));
        }
    }
    drawn
}

/// What sizes, rings and grey mean.
fn key(most: f64, at: Point) -> Elements {
    let mut drawn = Elements::default();
    let letters = Letters::new(size::SMALL);
    let mut x = at.x;
    for share in [0.1, 0.4, 1.0].into_iter().filter(|_| most > 0.0) {
        let value = if share < 1.0 { round_step(0.7 * share * most) } else { most };
        let radius = radius(value, most);
        let dot = svg::circle(Point::new(x + radius, at.y), radius);
        drawn.push(dot.filled(style::FIND).set("fill-opacity", 0.85));
        let words = chart::number(value, usize::from(value < 10.0));
        drawn.push(svg::text(Point::new(x + 2.0 * radius + 3.0, at.y + 2.4), &words, letters));
        x += 2.0 * radius + 13.0 + fonts::width(&words, Face::Regular, letters.size);
    }
    let words = "finds per hour searched";
    drawn.push(svg::text(Point::new(x - 5.0, at.y + 2.4), words, letters));
    let below = at.plus(0.0, 16.0);
    let ring = svg::circle(below.plus(2.6, 0.0), 2.0).set("fill", "none");
    drawn.push(ring.stroked(Stroke::new(style::FIND, line::FINE)));
    drawn.push(svg::text(below.plus(9.0, 2.4), "find in a week without a track", letters));
    let grey = Frame::new(below.x + 150.0, below.y - 4.0, 9.0, 8.0);
    drawn.push(svg::rectangle(grey).washed(style::FAINT, 0.6));
    drawn.push(svg::text(Point::new(grey.right() + 4.0, below.y + 2.4), "not searched", letters));
    drawn
}

/// Genus and epithet without authors, shortened to the column width.
fn short_name(name: &str) -> String {
    let words: Vec<&str> = name.split_whitespace().take(2).collect();
    fonts::shortened(&words.join(" "), Face::Italic, size::SMALL, NAMES)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(taxon: &str, weeks: &[(usize, u32)]) -> CalendarRow {
        let mut finds = vec![0; WEEKS];
        for (week, count) in weeks {
            finds[*week] = *count;
        }
        CalendarRow { taxon: taxon.to_owned(), finds }
    }

    #[test]
    fn calendar_is_cropped_to_the_weeks_searched() {
        let rows = [row("Mycena interrupta", &[(16, 3), (20, 1)])];
        let mut hours = vec![0.0; WEEKS];
        hours[14..22].fill(2.0);
        let weeks = Weeks::of(&rows, &hours, 45);
        assert_eq!(weeks, Weeks { first: 13, count: 10 });
        let drawn = figure(&rows, &hours, 45);
        assert!(drawn.contains(">May</text>") && !drawn.contains(">Dec</text>"), "{drawn}");
        assert!(
            drawn.contains("font-style=\"italic\" text-anchor=\"end\">Mycena interrupta"),
            "{drawn}"
        );
        assert!(drawn.contains("4 finds of 1 taxon") && drawn.contains("<desc>"));
    }

    #[test]
    fn weeks_across_new_year_and_whole_years_are_kept() {
        let rows = [row("a", &[(51, 1), (2, 1)])];
        let weeks = Weeks::of(&rows, &vec![0.0; WEEKS], 26);
        assert_eq!(weeks, Weeks { first: 50, count: 7 });
        assert_eq!(Weeks::of(&[], &vec![1.0; WEEKS], 0).count, WEEKS);
        assert!(figure(&[row("b", &[(0, 1)])], &vec![0.0; WEEKS], 0).contains("1 find of 1 taxon"));
    }
}

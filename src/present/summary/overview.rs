//! Summarises several outings, one line each, followed by the problems. Layer: `present`.

use super::text::{bullet, conflicts, section};
use super::unlocated;
use super::words::{count, fates};
use crate::model::Day;
use crate::present::table::{Column, Table};

/// A line for each outing, followed by finds without a position, conflicts and rejected
/// inputs. Ends with a line break; no colour.
#[must_use]
pub fn overview(days: &[Day]) -> String {
    let mut table = Table::new([
        Column::left("date"),
        Column::left("collector"),
        Column::right("fixes"),
        Column::right("set aside"),
        Column::right("photos"),
        Column::right("finds"),
        Column::right("located"),
        Column::right("median radius"),
        Column::right("conflicts"),
    ]);
    for day in days {
        table.row(line(day));
    }
    let lists: String = days.iter().map(problems).collect();
    format!("{table}{lists}")
}

fn line(day: &Day) -> [String; 9] {
    let located = day.finds.iter().filter(|find| find.place.is_ok()).count();
    let count_or_blank = |number| if number == 0 { String::new() } else { count(number) };
    [
        dated(day),
        day.outing.collector.clone().unwrap_or_default(),
        count(day.fixes.len()),
        count_or_blank(fates(day).values().sum()),
        count_or_blank(day.photos.len()),
        count(day.finds.len()),
        count(located),
        median_radius(day).unwrap_or_default(),
        count_or_blank(day.conflicts.len()),
    ]
}

fn dated(day: &Day) -> String {
    day.outing.dated().map_or_else(|| "undated".to_owned(), |date| date.to_string())
}

fn median_radius(day: &Day) -> Option<String> {
    let mut radii: Vec<_> =
        day.finds.iter().filter_map(|find| Some(find.place.as_ref().ok()?.radius)).collect();
    radii.sort_by(|a, b| a.metres().0.total_cmp(&b.metres().0));
    radii.get(radii.len() / 2).map(ToString::to_string)
}

fn problems(day: &Day) -> String {
    let conflicts = conflicts(day);
    let others: String =
        conflicts.iter().chain(&day.set_aside).map(|error| bullet(error) + "\n").collect();
    let list = unlocated::list(day) + &others;
    match section(&dated(day), &list) {
        nothing if nothing.is_empty() => nothing,
        text => format!("\n{text}"),
    }
}

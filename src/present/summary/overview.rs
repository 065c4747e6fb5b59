//! Many outings at once: a line for each, then what did not fit. Layer: `present`.

use super::association;
use super::text::{bullet, section};
use super::unlocated;
use super::words::{count, fates};
use crate::model::Day;
use crate::present::table::{Column, Table};

/// A line for each outing, and under it what could not be located, contradicts itself or was set
/// aside. Ends with a line break; no colour.
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
        Column::right("middle radius"),
        Column::right("contradictions"),
    ]);
    for day in days {
        table.row(line(day));
    }
    let lists: String = days.iter().map(troubles).collect();
    let errors: String = days
        .iter()
        .flat_map(association::reports)
        .map(|error| bullet(&error) + "\n")
        .collect();
    let errors = section("Tracks and finds", &errors);
    let apart = if errors.is_empty() { "" } else { "\n" };
    format!("{errors}{apart}{table}{lists}")
}

fn line(day: &Day) -> [String; 9] {
    let located = day.finds.iter().filter(|find| find.place.is_ok()).count();
    let count_or_blank = |number| if number == 0 { String::new() } else { count(number) };
    [
        day.outing.date.to_string(),
        day.outing.collector.clone().unwrap_or_default(),
        count(day.fixes.len()),
        count_or_blank(fates(day).values().sum()),
        count_or_blank(day.photos.len()),
        count(day.finds.len()),
        count(located),
        middle_radius(day).unwrap_or_default(),
        count_or_blank(day.conflicts.len()),
    ]
}

fn middle_radius(day: &Day) -> Option<String> {
    let mut radii: Vec<_> =
        day.finds.iter().filter_map(|find| Some(find.place.as_ref().ok()?.radius)).collect();
    radii.sort_by(|a, b| a.metres().0.total_cmp(&b.metres().0));
    radii.get(radii.len() / 2).map(ToString::to_string)
}

fn troubles(day: &Day) -> String {
    let conflicts = day.conflicts.iter().map(|conflict| &conflict.report);
    let others: String =
        conflicts.chain(&day.set_aside).map(|error| bullet(error) + "\n").collect();
    let list = unlocated::list(day) + &others;
    match section(&day.outing.date.to_string(), &list) {
        nothing if nothing.is_empty() => nothing,
        text => format!("\n{text}"),
    }
}

//! Lists the groups of photographs of a day without records, with the position that a find in each has.
//! Layer: `present`.

use super::text::bullet;
use super::words::{anchor, clock, counted};
use crate::error::Error;
use crate::model::{Day, PhotoGroup};
use crate::present::table::{Column, Table};

/// Groups without a position that are named in full.
const NAMED: usize = 3;

/// The groups as a table; empty where there are none.
pub(super) fn list(day: &Day) -> String {
    if day.photo_groups.is_empty() {
        return String::new();
    }
    let located = day.photo_groups.iter().filter(|group| group.place.is_ok()).count();
    let mut text = format!(
        "\nPhoto groups: {} without a record, {located} with a position\n",
        day.photo_groups.len()
    );
    if located > 0 {
        text.push_str(&table(day).to_string());
    }
    let missing = day.photo_groups.iter().filter_map(|group| group.place.as_ref().err());
    for unlocated in missing.clone().take(NAMED) {
        text.push_str(&bullet(&Error::from(unlocated)));
        text.push('\n');
    }
    let more = missing.count().saturating_sub(NAMED);
    if more > 0 {
        let more = counted(more, "more group", "more groups");
        text.push_str("  - ");
        text.push_str(&more);
        text.push_str(" without a position\n");
    }
    text.push_str(
        "  hint: these are no finds yet. Write a table with the columns number, name and photos, one row \
         for each group, into the same folder and import it again\n",
    );
    text
}

fn table(day: &Day) -> Table {
    let mut table = Table::new([
        Column::left("photographs"),
        Column::left("time"),
        Column::right("latitude"),
        Column::right("longitude"),
        Column::right("95 % radius"),
        Column::left("located by"),
        Column::left("largest part"),
    ]);
    for group in &day.photo_groups {
        let Ok(place) = &group.place else { continue };
        let mut anchors: Vec<&str> = group.anchors.iter().map(|kind| anchor(*kind)).collect();
        anchors.dedup();
        table.row([
            names(day, group),
            group.when.map_or_else(String::new, |when| clock(when.0, &day.outing.zone.zone)),
            format!("{:.5}", place.at.latitude()),
            format!("{:.5}", place.at.longitude()),
            place.radius.to_string(),
            anchors.join(", "),
            place.parts.first().map_or("", |part| part.kind.words()).to_owned(),
        ]);
    }
    table
}

/// `P1001.jpg`, or `P1001.jpg to P1003.jpg (3)`.
pub(super) fn names(day: &Day, group: &PhotoGroup) -> String {
    let name = |index: &usize| day.photos.get(*index).map(|photo| photo.photo.name());
    let first = group.photos.first().and_then(name).unwrap_or_default();
    match group.photos.as_slice() {
        [_, .., last] => {
            let last = name(last).unwrap_or_default();
            format!("{first} to {last} ({})", group.photos.len())
        }
        _ => first,
    }
}

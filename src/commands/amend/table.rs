//! Applies a listing of finds that was edited in a spreadsheet: shows the differences first, applies them
//! with `--yes`. Layer: `commands`.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use uuid::Uuid;

use super::super::console::Console;
use super::super::day::latest_date;
use super::edited_listing::{Columns, Differences, EditedRow};
use super::patches;
use crate::error::{Error, Result};
use crate::ingest::record::listing::{self, Listing};
use crate::model::{AmendedSubject, KeptFind, Patch};
use crate::present::summary::words::counted;
use crate::store::{FindQuery, NumberQuery, Store};

const OFF_TRACK: &str = "check the digits and signs; if the position is right: trug amend NUMBER --off-track \
    --position \"LAT LON\" --within METRES";

/// The differences of a listing.
pub(super) struct Edited {
    /// In the order of the file.
    pub(super) amendments: Vec<(AmendedSubject, Patch)>,
    /// A line for each.
    pub(super) lines: Vec<String>,
    /// Rows that were set aside.
    pub(super) set_aside: Vec<Error>,
}

pub(super) fn read(store: &Store, path: &Path, console: &mut Console) -> Result<Edited> {
    let listing = listing::read(path)?;
    let headed = Columns::of(&listing.headings, &store.fields()?);
    let mut edited = Edited { amendments: Vec::new(), lines: Vec::new(), set_aside: Vec::new() };
    let (mut seen, mut columns) = (BTreeSet::new(), BTreeMap::<String, usize>::new());
    for (line, cells) in &listing.rows {
        let sheet = listing.sheet.as_deref();
        let aside = |error: Error| error.in_file(path).in_sheet(sheet).at_line(*line);
        if listing.faults.binary_search(line).is_ok() {
            edited.set_aside.push(aside(
                Error::input("a formula of the row has no value")
                    .because("what its cell held before is not known")
                    .hint("mend the formula, or write the value"),
            ));
            continue;
        }
        let find = match find_of(store, &listing, cells) {
            Ok(find) if seen.insert(find.id) => find,
            Ok(_) => {
                edited.set_aside.push(aside(
                    Error::input("a find is listed twice").because("only its first row is used"),
                ));
                continue;
            }
            Err(error) => {
                edited.set_aside.push(aside(error));
                continue;
            }
        };
        let today = latest_date();
        let row = EditedRow { find: &find, columns: &headed, cells, today };
        match differences_of(store, row) {
            Ok(found) => {
                for column in found.not_amendable {
                    *columns.entry(column).or_default() += 1;
                }
                for patch in found.patches {
                    edited.lines.push(line_of(&find, &patch));
                    edited.amendments.push((AmendedSubject::Find(find.id), patch));
                }
            }
            Err(error) => edited.set_aside.push(aside(error)),
        }
    }
    for (column, count) in columns {
        console.note(&format!(
            "Changes in column {column} are not applied ({}): it cannot be amended in a listing.",
            counted(count, "row", "rows")
        ));
    }
    Ok(edited)
}

/// The differences of a row; a position far from the outing's track is refused.
fn differences_of(store: &Store, row: EditedRow<'_>) -> Result<Differences> {
    let found = row.differences()?;
    for patch in &found.patches {
        if matches!(patch, Patch::Position { .. }) {
            patches::refuse_far(patch, store, row.find.outing)
                .map_err(|error| error.hint(OFF_TRACK))?;
        }
    }
    Ok(found)
}

/// The find by its identifier; in a listing that lost this column by number, date and collector.
fn find_of(store: &Store, listing: &Listing, cells: &[String]) -> Result<KeptFind> {
    let Some(text) = listing.identifier(cells) else {
        return find_by_number(store, listing, cells);
    };
    let text = text.trim();
    let id: Uuid = text.trim_start_matches("urn:uuid:").parse().map_err(|_| {
        Error::input("the row has no valid identifier of a find")
            .because(format!("\"{text}\" is not one"))
            .hint("new finds come in by trug import")
    })?;
    let query = FindQuery { id: Some(id), withdrawn: true, ..FindQuery::default() };
    store.finds(&query)?.into_iter().next().ok_or_else(|| {
        Error::input("the store has no such find")
            .because(format!("no find has the identifier {id}"))
    })
}

fn find_by_number(store: &Store, listing: &Listing, cells: &[String]) -> Result<KeptFind> {
    let cell = |word: &str| listing.cell_meaning(cells, word).map(str::trim).unwrap_or_default();
    let (number, date) = (cell("number").to_owned(), cell("date"));
    let unread = || {
        Error::input("the row cannot be matched with a find")
            .because(format!("its number is \"{number}\", its date \"{date}\""))
            .hint("fill in both, the date as 2026-05-03, or keep the column that identifies finds")
    };
    let [day] = listing::dates(date)[..] else { return Err(unread()) };
    let collector = Some(cell("collector").to_owned()).filter(|name| !name.is_empty());
    if number.is_empty() {
        return Err(unread());
    }
    let query = NumberQuery { number: number.clone(), day: Some(day), collector };
    let mut found = store.finds_of_number(&query)?;
    found.retain(|find| find.withdrawn.is_none());
    match found.len() {
        1 => Ok(found.remove(0)),
        0 => Err(Error::input(format!("the store has no find {number} of {day}"))
            .because("no find of that day, and of that collector where the row names one, has this number")
            .hint("to correct numbers, dates or collectors keep the column that identifies finds")),
        count => Err(Error::input(format!("{count} finds of {day} have the number {number}"))
            .because("the listing lacks the column that separates them")
            .hint("write the listing again with trug finds and keep all columns")),
    }
}

fn line_of(find: &KeptFind, patch: &Patch) -> String {
    let number = find.record.number.as_ref().map_or_else(|| find.id.to_string(), |n| n.0.clone());
    let nothing = || "nothing".to_owned();
    let record = &find.record;
    let (before, after) = match patch {
        Patch::Text { property, value } => (property.value(record), value.clone()),
        Patch::Collector(name) => (find.collector.clone(), Some(name.clone())),
        Patch::Determination(named) => (record.name.clone(), Some(named.full_name())),
        Patch::Position { latitude, longitude, within_m } => {
            let before = find.place.as_ref().map(|p| format!("{}, within {}", p.at, p.radius));
            (before, Some(format!("{latitude} {longitude}, within {within_m} m")))
        }
        Patch::Time { clock, .. } => {
            let before = record.time.map(|time| time.clock.to_string());
            (before, Some(clock.time().to_string()))
        }
        Patch::Unlocated => {
            let before = find.place.as_ref().map(|p| format!("{}, within {}", p.at, p.radius));
            (before, Some("not located".to_owned()))
        }
        _ => (None, None),
    };
    format!(
        "{number} {}: {} -> {}",
        patch.property(),
        before.unwrap_or_else(nothing),
        after.filter(|after| !after.is_empty()).unwrap_or_else(nothing)
    )
}
